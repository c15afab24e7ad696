"""Readings of a piece as value objects. A new reading is one class and one line of `KINDS`."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from ..errors import InputError
from ..units import DIMENSIONS, IACS_MS_M, Quantity, parse
from .entries import (
    Entry,
    is_absent,
    join,
    read_value,
    shown,
    unknown,
)

LIMITS_MS_M = (0.17, 65.0)  # from below the poorest alloys of coins and jewels to above silver (62.9)


class Reading:
    """Base of all readings: what was read, with what, where on the piece.

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

    def to_dict(self) -> dict[str, str]:
        """The table of a piece file that gives this reading."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True, init=False)
class Conductivity(Reading):
    """Electrical conductivity of the piece, also where it was read as a resistivity.

    Parameters
    ----------
    value : a number in `unit`, or text such as ``"29.3 %IACS"``, ``"29.3 +- 0.5 %IACS"``, ``"6.2 uohm cm"``.
    u : one standard uncertainty: a number in the unit of `value`, or relative as ``"2 %"``.
    unit : unit of a bare number.
    frequency : of an eddy-current meter, in Hz or as text; None where it is not known.
    place : where on the piece.
    path : where the value stands in a document, for errors.

    Attributes
    ----------
    value, u, unit : in MS/m; `u` is None where none was given.
    frequency : in Hz, or None.
    kind : "conductivity" or "resistivity", as it was read.

    Raises
    ------
    InputError
        For a value, uncertainty or frequency that cannot be used.

    >>> round(Conductivity("100 %IACS").value, 9)  # 58 MS/m by definition, IEC 60028
    58.0
    """

    value: float
    u: float | None
    unit: str
    frequency: float | None
    place: str
    kind: str = field(init=False)
    text: str = field(init=False)
    frequency_text: str = field(init=False)

    def __init__(
        self,
        value: str | float | Quantity,
        u: str | float | None = None,
        unit: str = "%IACS",
        frequency: str | float | Quantity | None = None,
        place: str = "",
        *,
        path: str = "conductivity",
    ) -> None:
        table = path.removesuffix(".value")
        quantity = _with_unit(value.text if isinstance(value, Quantity) else value, unit, path)
        if not is_absent(u):
            quantity = _with_u(quantity, u, join(table, "u"))
        hertz = Quantity(math.nan, "Hz", "")
        if not is_absent(frequency):
            hertz = read_value(CONDUCTIVITY["frequency"], frequency, join(table, "frequency"))
        if not LIMITS_MS_M[0] <= quantity.value <= LIMITS_MS_M[1]:
            raise InputError(path, quantity.text, "0.3 to 112 %IACS (0.17 to 65 MS/m)",
                             "check the decimal mark and the unit")  # fmt: skip
        attributes = {
            "value": quantity.value,
            "u": quantity.u,
            "unit": quantity.unit,
            "frequency": hertz.value if hertz.text else None,
            "place": place,
            "kind": "resistivity" if _is_resistivity(quantity.text) else "conductivity",
            "text": quantity.text,
            "frequency_text": hertz.text,
        }
        for name, attribute in attributes.items():
            object.__setattr__(self, name, attribute)

    @property
    def iacs(self) -> float:
        """Conductivity in %IACS; 100 %IACS is 58 MS/m (IEC 60028)."""
        return self.value / (IACS_MS_M / 100)

    @property
    def resistivity(self) -> float:
        """Resistivity in uohm cm: 100 over the conductivity in MS/m."""
        return 100 / self.value

    def to_dict(self) -> dict[str, str]:
        """The table of a piece file that gives this reading."""
        table = {"kind": self.kind, "value": self.text, "frequency": self.frequency_text, "place": self.place}
        return {key: text for key, text in table.items() if text}


@dataclass(frozen=True, slots=True, init=False)
class Magnet(Reading):
    """What a strong hand magnet on a stick or thread does to the piece.

    Parameters
    ----------
    answer : "none", "weak" or "strong".
    place : where on the piece.
    path : where the answer stands in a document, for errors.
    """

    answer: str
    place: str
    kind: str = field(init=False)
    text: str = field(init=False)

    def __init__(self, answer: str, place: str = "", *, path: str = "magnet") -> None:
        word = read_value(MAGNET["value"], answer, path)
        for name, attribute in {"answer": word, "place": place, "kind": "magnet", "text": word}.items():
            object.__setattr__(self, name, attribute)

    def to_dict(self) -> dict[str, str]:
        """The table of a piece file that gives this reading."""
        return {"kind": self.kind, "value": self.answer} | ({"place": self.place} if self.place else {})


def _with_unit(given: Any, unit: str, path: str) -> Quantity:
    """A conductivity; a bare number, also one written as text, is in `unit`."""
    quantity: Quantity = read_value(CONDUCTIVITY["value"], given, path)
    bare = not isinstance(given, str) or re.fullmatch(r"[\d.,eE+\-±\s]+", given)
    if not bare or unit == "%IACS":
        return quantity
    return parse(quantity.text.replace("%IACS", unit), "conductivity", path)


def _with_u(quantity: Quantity, u: Any, path: str) -> Quantity:
    """`quantity` with its uncertainty written behind it, so that one text carries both."""
    if quantity.u is not None:
        raise InputError(path, shown(u), "one uncertainty", 'keep either the one behind "+-" or u')
    try:
        return parse(f"{quantity.text} +- {u}", "conductivity", path)
    except InputError as e:
        raise InputError(path, shown(u), "an uncertainty above zero, in the unit of the value or in %",
                         'write for example "2 %"') from e  # fmt: skip


def _is_resistivity(text: str) -> bool:
    try:
        parse(text, "resistivity", "")
    except InputError:
        return False
    return True


_PLACE = Entry("text", "where on the piece")
CONDUCTIVITY: Mapping[str, Entry] = MappingProxyType(
    {
        "value": Entry("conductivity", "the value with its unit: 29.3 %IACS, 17 MS/m or 6.2 uohm cm"),
        "u": Entry("text", "one standard uncertainty, in the unit of the value or relative in %"),
        "unit": Entry("text", "unit of a value that is a bare number"),
        "frequency": Entry("frequency", "of the meter; left out: from the settings, else unknown"),
        "place": _PLACE,
    }
)
MAGNET: Mapping[str, Entry] = MappingProxyType(
    {
        "value": Entry("word", "what a strong hand magnet does", words=("none", "weak", "strong")),
        "place": _PLACE,
    }
)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of reading: how it is built from the table of a piece file, and its keys.

    Parameters
    ----------
    build : takes the values of the table by key, and the path of "value", for errors.
    entries : the keys of the table beside "kind".
    help : one line for people.
    """

    build: Callable[[dict[str, Any], str], Reading]
    entries: Mapping[str, Entry]
    help: str


def _conductivity(table: dict[str, Any], path: str) -> Reading:
    return Conductivity(**table, path=path)


def _resistivity(table: dict[str, Any], path: str) -> Reading:
    reading = Conductivity(**{"unit": "uohm cm"} | table, path=path)
    if reading.kind != "resistivity":
        step = 'write for example "6.2 uohm cm", or name it conductivity'
        raise InputError(path, reading.text, DIMENSIONS["resistivity"].expected, step)
    return reading


def _magnet(table: dict[str, Any], path: str) -> Reading:
    return Magnet(table["value"], table.get("place", ""), path=path)


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "magnet": Kind(_magnet, MAGNET, "hand magnet: none, weak or strong"),
        "conductivity": Kind(_conductivity, CONDUCTIVITY, "electrical conductivity, 29.3 %IACS"),
        "resistivity": Kind(_resistivity, CONDUCTIVITY, "electrical resistivity, 6.2 uohm cm"),
    }
)


def read_reading(given: Any, path: str, kind: str = "") -> Reading:
    """A reading from the table of a piece file, or from the bare value where the kind is known.

    Parameters
    ----------
    given : a `Reading` (returned as it is), a table with "kind", "value" and other keys, or a bare value.
    path : where it stands, e.g. ``"reading[0]"``.
    kind : a key of `KINDS` where the place already says it.

    Raises
    ------
    InputError
        For an unknown kind or key, naming the nearest known one; for a missing or bad value.

    >>> read_reading({"kind": "magnet", "value": "none"}, "reading[0]")
    Magnet(answer='none', place='', kind='magnet', text='none')
    """
    if isinstance(given, Reading):
        return given
    if not isinstance(given, Mapping):
        if kind:
            return KINDS[kind].build({"value": given}, path)
        raise InputError(path, shown(given), "a table", "write [[reading]] with the lines kind and value")
    table = {str(key): value for key, value in given.items() if not is_absent(value)}
    kind = kind or " ".join(str(table.pop("kind", "")).split())
    if kind not in KINDS:
        if not kind:
            raise InputError(join(path, "kind"), "", "a kind of reading", f"one of {', '.join(KINDS)}")
        raise unknown(join(path, "kind"), kind, KINDS, "a known kind of reading")
    known = KINDS[kind].entries
    for key in table:
        if key not in known:
            raise unknown(join(path, key), key, known, "a known key of this reading")
    if "value" not in table:
        raise InputError(join(path, "value"), "", known["value"].help, "give the value that was read")
    for key in table:
        if known[key].dimension == "text":
            table[key] = read_value(known[key], table[key], join(path, key))
    return KINDS[kind].build(table, join(path, "value"))
