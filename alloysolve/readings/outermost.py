"""What lies outermost, in words: its colour, the streak it leaves on a touchstone, what acid does to the streak."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from ..arrays import Array, Index, Mask
from ..entry import Entry, read_value
from .base import SURFACE, Answer, Circumstances, Kind, Reading, fields_of

if TYPE_CHECKING:
    from ..alloys.bodies import Bodies
    from ..alloys.law import MixingLaw
    from ..alloys.materials import Layers
    from ..pieces.candidates import Candidates
    from ..published.wares import SurfaceClass


SEES_UM = 1.0  # how much a rub removes, or a drop attacks before it is wiped off (common practice, no source)
WORDS = MappingProxyType(
    {
        "colour": ("yellow", "red", "white", "grey"),
        "streak": ("yellow", "red", "white", "grey", "none"),
        "acid": ("as gold", "as silver", "as neither", "not clear"),
    }
)
# how often "something else" gives each answer (judgement)
OTHERS = MappingProxyType(
    {
        "colour": (0.25, 0.15, 0.3, 0.3),
        "streak": (0.22, 0.13, 0.3, 0.3, 0.05),
        "acid": (0.1, 0.1, 0.65, 0.15),
    }
)
HELP = MappingProxyType(
    {
        "colour": "colour of the clean surface",
        "streak": "colour of its streak on a touchstone; a rub leaves a mark",
        "acid": "what acid did to its streak",
    }
)
# a streak leaves a mark; acid is put on a streak
ABOUT: Mapping[str, Mapping[str, Any]] = MappingProxyType(
    {"streak": {"marks": ("streak",)}, "acid": {"marks": ("streak", "acid"), "caution": "acid"}}
)


@dataclass(frozen=True, slots=True, init=False)
class SkinAnswer(Reading):
    """An answer in words that depends only on what lies outermost.

    Parameters
    ----------
    kind : "colour", "streak" or "acid". answer : one of `WORDS` of the kind.
    place : where on the piece.
    path : where the answer stands in a document, for errors.

    >>> SkinAnswer("streak", "White").answer
    'white'
    """

    kind: str
    answer: str
    place: str
    text: str = field(init=False)

    def __init__(self, kind: str, answer: str, place: str = "", *, path: str = "") -> None:
        word = read_value(Entry("word", HELP[kind], words=WORDS[kind]), answer, path or kind)
        self._set(kind=kind, answer=word, place=place, text=word)

    def to_dict(self) -> dict[str, Any]:
        """The table of a piece file that gives this reading."""
        return {"kind": self.kind, "value": self.answer} | ({"place": self.place} if self.place else {})

    def observed(self, name: str, about: Circumstances) -> ObservedSkin:
        """This reading with the classes of surfaces (surface_classes.csv)."""
        rows, words = about.tables.rows("surface_classes"), WORDS[self.kind]
        shares = np.array([[getattr(r, self.kind)[word] / 100 for word in words] for r in rows])
        return ObservedSkin(
            name,
            self.kind,
            self.place,
            self.text,
            words.index(self.answer),
            shares,
            np.array(OTHERS[self.kind]),
            words,
            tuple(rows),
        )


@dataclass(frozen=True, eq=False)
class ObservedSkin(Answer):
    """An answer that depends on the class of the skin, face or enriched surface of a piece, or else of its body.

    `words` : the answers. `rows` : the classes.
    """

    surface: ClassVar[bool] = True
    words: tuple[str, ...] = ()
    rows: tuple[SurfaceClass, ...] = ()
    shows = SURFACE
    _known: dict[int, tuple[Any, Index]] = field(default_factory=dict, repr=False)

    @property
    def shares_model(self) -> str:  # type: ignore[override]
        """Answers of one kind err together: the same lamp, stone or bottle of acid."""
        return self.kind

    def class_of(self, candidates: Candidates) -> Index:
        """Number of the class of what lies outermost."""
        body, material = (
            self._classes(candidates.bodies)[candidates.point],
            self._classes(candidates.layers)[candidates.skin],
        )
        return np.asarray(np.where(candidates.faced, material, body))

    def _classes(self, of: Bodies | Layers) -> Index:
        if id(of) not in self._known:
            self._known[id(of)] = (of, classes_of(self.rows, of.law, of.w))  # holds them, so that the id stays theirs
        return self._known[id(of)][1]

    def sees(self, candidates: Candidates) -> Array:
        """How deep it sees [um]: about 1 um."""
        return np.full(len(candidates), SEES_UM)


def classes_of(rows: Sequence[SurfaceClass], law: MixingLaw, w: Array) -> Index:
    """Number of the class of each composition, mass fractions (n, metals): the first row whose limits hold."""
    hold = [_holds(row, law, w) for row in rows]
    rest = next(k for k, row in enumerate(rows) if not row.holds)
    return np.select(hold, range(len(rows)), rest)


def _holds(row: SurfaceClass, law: MixingLaw, w: Array) -> Mask:
    """Whether compositions lie within the limits of a class; a row without limits never holds by itself."""
    out = np.full(len(w), bool(row.holds))
    for metals, (low, high) in row.holds.items():
        percent = 100 * w[:, [law.index[s] for s in metals.split("+")]].sum(axis=1)
        out &= (percent >= low - 1e-9) & (percent <= high + 1e-9)
    if row.copper_over is not None:
        copper, silver, zinc = (w[:, law.index[s]] for s in ("Cu", "Ag", "Zn"))
        out &= copper >= row.copper_over * (silver + zinc)
    return out


def _build(kind: str, table: dict[str, Any], path: str) -> Reading:
    return SkinAnswer(kind, table["value"], table.get("place", ""), path=path)


def _kind(name: str) -> Kind:
    """One of the three kinds. None is ever proposed: the first is seen at once, and the others harm the piece."""
    words = WORDS[name]
    entries = fields_of(value=Entry("word", HELP[name], words=words))
    return Kind(partial(_build, name), entries, f"{HELP[name]}: {', '.join(words)}", spot=True, **ABOUT.get(name, {}))


COLOUR, STREAK, ACID = (_kind(name) for name in ("colour", "streak", "acid"))
