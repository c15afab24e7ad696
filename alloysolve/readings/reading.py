"""A reading as a person gives it: its value as it was read, what kind it is of, and what it needs to know."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from ..arrays import Mask
from ..entry import Entry, is_absent

if TYPE_CHECKING:
    from ..alloys.bodies import Bodies
    from ..pieces.candidates import Candidates
    from ..pieces.shape import Form
    from ..published.load import Tables
    from ..published.wares import CoinType
    from ..units import Quantity
    from .base import Observed

PLACE = Entry("text", "where on the piece")
U_METER = 0.01  # relative, of a conductivity meter of which nothing else is said (common practice, no source)


class Reading:
    """Base of all readings: what was read, with what, and where on the piece.

    Attributes
    ----------
    kind : name in a piece file, a key of `KINDS`.
    text : the value as it was read, with its unit.
    place : where on the piece, or "".
    """

    __slots__ = ()
    kind: str
    text: str
    place: str

    def to_dict(self) -> dict[str, Any]:
        """The table of a piece file that gives this reading."""
        raise NotImplementedError

    def observed(self, name: str, about: Circumstances) -> Observed:
        """This reading, ready to be compared with candidates."""
        raise NotImplementedError

    @property
    def findings(self) -> tuple[tuple[str, Mapping[str, Any]], ...]:
        """What the value itself gives to note: codes with their values."""
        return ()

    def _set(self, **attributes: Any) -> None:
        if is_absent(attributes.get("place", "")):
            attributes |= {"place": ""}
        for name, attribute in attributes.items():
            object.__setattr__(self, name, attribute)


@dataclass(frozen=True)
class Circumstances:
    """What a reading needs to know besides its own value.

    Attributes
    ----------
    frequency_hz : of the shop's conductivity meter; None if it is not known. u_meter : relative standard
        uncertainty of that meter. lengths : lengths of the form as measured, in its order; empty if they were not.
    mass : of the whole piece; None if it was not weighed. taken : how many readings of each kind the piece has.
    surface_metal : the metal of which a surface as claimed shows most. in_one : whether the piece is a coin, bar or
        medal, without a clasp, spring or pin. listed : metals that the shop's X-ray instrument lists; empty if that
        is not known. coin : type that it is said to be; made_as_claimed : which candidates are made as that type is.
        known_bodies : gives the compositions of a
        known-good piece from what it is said to be; "" stands for the claim on the piece under test.
    """

    tables: Tables
    form: Form
    frequency_hz: float | None = None
    u_meter: float = U_METER
    lengths: tuple[Quantity, ...] = ()
    mass: Quantity | None = None
    taken: Mapping[str, int] = field(default_factory=dict)
    surface_metal: str = "Ag"
    in_one: bool = False
    coin: CoinType | None = None
    made_as_claimed: Callable[[Candidates], Mask] | None = None
    listed: tuple[str, ...] = ()
    known_bodies: Callable[[str], Bodies] | None = None


@dataclass(frozen=True)
class Kind:
    """One kind of reading: how it is built from the table of a piece file, its keys, and what others ask about it.

    Parameters
    ----------
    build : takes the values of the table by key, and the path of "value", for errors.
    entries : the keys of the table besides "kind".
    help : one line for people.
    trial : a reading of this kind that was not taken, to ask what it would show; None if there cannot be one.
    instead : keys that may be given in place of "value".
    quantity : the kind that measures the same, if there is one: both are named alike, and nobody takes both.
    sized : whether it needs the dimensions and the mass.
    spot : whether it is taken at one spot, so that it may read differently elsewhere.
    through : whether it sees the whole body and tells bodies apart, so that no depth is said to be unseen.
    latest : whether of several at one place the last one counts; they are named after all others.
    caution : code of the caution that it needs, or "".
    unusable : says of a form why such a reading tells nothing of it, as a code; "" if it does. Then it is not used.
    tables : tables that only readings of this kind use.
    marks : kinds of readings whose traces it leaves on the piece, in the order in which they come about.
    """

    build: Callable[[dict[str, Any], str], Reading]
    entries: Mapping[str, Entry]
    help: str
    trial: Callable[[Circumstances], Observed | None] | None = None
    instead: frozenset[str] = frozenset()
    quantity: str = ""
    sized: bool = False
    spot: bool = False
    through: bool = False
    latest: bool = False
    caution: str = ""
    marks: tuple[str, ...] = ()
    unusable: Callable[[Form, Tables], str] | None = None
    tables: tuple[str, ...] = ()


def fields_of(**entries: Entry) -> Mapping[str, Entry]:
    """The keys of one kind of reading; every kind has a place."""
    return MappingProxyType({**entries, "place": PLACE})
