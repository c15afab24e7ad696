"""Readings of a piece as value objects, and how one value is written in a document.

An `Entry` says once how a value is written: its dimension, whether it repeats, its help text.
Pieces, readings and shop settings are all read through it, so files, JSON, batch columns, command
options and arguments cannot drift apart. A new reading is one class and one line of `KINDS`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import cache
from numbers import Real
from types import MappingProxyType
from typing import Any, get_type_hints
from unicodedata import category

from ..errors import InputError
from ..units import DIMENSIONS, IACS_MS_M, Quantity, parse, parse_many


@dataclass(frozen=True, slots=True)
class Entry:
    """How one value is written.

    Parameters
    ----------
    dimension : a dimension of `alloysolve.units`, or "text", "word", "flag", "count", "date",
        "part", "reading", "table".
    help : one line for people.
    many : several values may be given, as a list or as `units.parse_many` reads them.
    words : the words accepted where `dimension` is "word".
    sizes : names of the lengths of a shape, in order.
    limits : lowest and highest accepted value in the base unit.
    table : the dataclass a "table" is read into.
    required : whether its table is refused without it.
    """

    dimension: str
    help: str
    many: bool = False
    words: tuple[str, ...] = ()
    sizes: tuple[str, ...] = ()
    limits: tuple[float, float] | None = None
    table: type | None = None
    required: bool = False


@cache
def entries(record: type) -> Mapping[str, Entry]:
    """The entries of a dataclass by field name, in order: fields typed ``Annotated[type, Entry(...)]``."""
    hints = get_type_hints(record, include_extras=True)
    found = {name: getattr(hint, "__metadata__", (None,))[0] for name, hint in hints.items()}
    return MappingProxyType({name: item for name, item in found.items() if isinstance(item, Entry)})


def join(path: str, key: str) -> str:
    """The place of a key inside a document: ``join("reading[0]", "value")`` is ``"reading[0].value"``."""
    if not key or not key.isprintable() or len(key) > 60:  # a place must stay on its line
        key = repr(shown(key))
    return f"{path}.{key}" if path else key


def is_absent(given: Any) -> bool:
    """Whether a value says nothing: ``None``, blank text, an empty list or table."""
    if isinstance(given, str):
        return not given.strip()
    return given is None or (isinstance(given, list | tuple | dict) and not given)


def nearest(given: str, known: Iterable[str], least: float = 0.0) -> str:
    """The known word closest in spelling to `given`, or "" where none is as close as `least` (0 to 1)."""
    import difflib

    by_folded = {word.casefold(): word for word in known}
    found = difflib.get_close_matches(given.casefold()[:80], by_folded, 1, least)
    return by_folded[found[0]] if found else ""


def unknown(path: str, given: str, known: Iterable[str], what: str) -> InputError:
    """The error for a name that is not known; names the nearest known one."""
    return InputError(path, shown(given), what, f'the nearest known is "{nearest(given, known)}"')


def shown(given: object) -> object:
    """`given`, cut where it is too long for an error of one line."""
    text = given if isinstance(given, str) else repr(given)
    return given if len(text) <= 60 else text[:57] + "..."


def read_value(item: Entry, given: Any, path: str) -> Any:
    """One value of a document as the entry says: `Quantity`, text, bool, int, date, or tuples of them.

    Raises
    ------
    InputError
        With `path`, the value, what was expected and the next step.
    """
    if item.table is not None:
        return given if isinstance(given, item.table) else read_table(item.table, given, path)
    if item.sizes:
        return _sizes(item, given, path)
    if item.many:
        return tuple(_repeats(item, given, path))
    return _single(item, given, path)


def read_table(record: type, given: Any, path: str) -> Any:
    """A table of a document as a dataclass whose fields carry entries; unknown keys are refused."""
    known = entries(record)
    if not isinstance(given, Mapping):
        raise InputError(path, shown(given), "a table", f"write it with the keys {', '.join(known)}")
    values = {}
    for key, value in given.items():
        if key not in known:
            raise unknown(join(path, str(key)), str(key), known, "a known key")
        if not is_absent(value):
            values[key] = read_value(known[key], value, join(path, key))
    for name, item in known.items():
        if item.required and name not in values:
            raise InputError(join(path, name), "", item.help, "add it")
    return record(**values)


def write_value(value: Any) -> Any:
    """The inverse of `read_value`, in the types of JSON: quantities as they were read, dates in ISO 8601."""
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, tuple):
        single = len(value) == 1 and isinstance(value[0], Quantity)
        return value[0].text if single else [write_value(v) for v in value]
    if hasattr(value, "__dataclass_fields__"):
        return write_table(value)
    return value.isoformat() if isinstance(value, date) else value


def write_table(record: Any) -> dict[str, Any]:
    """The inverse of `read_table`; what says nothing is left out."""
    kind: type = type(record)
    values = {name: getattr(record, name) for name in entries(kind)}
    return {name: write_value(value) for name, value in values.items() if not is_absent(value)}


def _single(item: Entry, given: Any, path: str) -> Any:
    if item.dimension not in DIMENSIONS:
        return _READERS[item.dimension](item, given, path)
    dimension = DIMENSIONS[item.dimension]
    if isinstance(given, Quantity):
        if given.unit != dimension.base:
            raise InputError(path, given.text, dimension.expected, f"give it in {dimension.base}")
        quantity = given
    else:
        quantity = parse(given, item.dimension, path)
        if not isinstance(given, str):  # all digits, so that the text gives the same number again
            quantity = replace(quantity, text=f"{_plain(given)} {quantity.text.partition(' ')[2]}".rstrip())
    if item.limits and not item.limits[0] <= quantity.value <= item.limits[1]:
        low, high = item.limits
        raise InputError(path, quantity.text, f"{low:g} to {high:g} {dimension.base}".rstrip(),
                         "check the decimal mark and the unit")  # fmt: skip
    return quantity


def _plain(number: Any) -> str:
    return repr(float(number)).removesuffix(".0")


def _repeats(item: Entry, given: Any, path: str) -> list[Any]:
    if isinstance(given, list | tuple):
        return [_single(item, value, f"{path}[{i}]") for i, value in enumerate(given)]
    if hasattr(given, "tolist"):
        return _repeats(item, given.tolist(), path)
    if item.dimension in DIMENSIONS and isinstance(given, str):
        return list(parse_many(given, item.dimension, path))
    if isinstance(given, str):
        return [_single(item, text, path) for text in given.split(";") if text.strip()]
    return [_single(item, given, path)]


def _sizes(item: Entry, given: Any, path: str) -> tuple[Quantity, ...]:
    """Lengths as a list, or as ``"50x28x2.6 mm"`` where a last unit holds for all."""
    if isinstance(given, str):
        items: list[Any] = _split_sizes(given, path)
    else:
        items = list(given) if isinstance(given, list | tuple) or hasattr(given, "tolist") else [given]
    if len(items) != len(item.sizes):
        names = ", ".join(item.sizes)
        example = "x".join(("50", "28", "2.6")[: len(item.sizes)])
        raise InputError(path, shown(given), f"lengths in this order: {names}",
                         f'write for example "{example} mm"')  # fmt: skip
    one = Entry(item.dimension, item.help)
    return tuple(_single(one, value, f"{path}[{i}]") for i, value in enumerate(items))


def _split_sizes(given: str, path: str) -> list[str]:
    items = re.split(r"\s*[x×*]\s*", given.strip())
    bare = [bool(re.fullmatch(r"[\d.,]+", text)) for text in items]
    if bare[-1] and not all(bare):
        raise InputError(path, shown(given), "a unit on every length, or one after the last",
                         'write for example "50x28x2.6 mm"')  # fmt: skip
    unit = re.fullmatch(r"[\d.,]+\s*([^\d\s.,+-][^+]*)", items[-1])
    if unit is None:
        return items
    return [f"{text} {unit[1]}" if alone else text for text, alone in zip(items, bare, strict=True)]


def _text(item: Entry, given: Any, path: str) -> str:
    if isinstance(given, bool) or not isinstance(given, str | Real):
        raise InputError(path, shown(given), "text", "write it between quotes")
    text = str(given).strip()
    if any(category(c) in ("Cc", "Cs") and c not in "\n\t" for c in text):
        raise InputError(path, shown(text), "text without control characters", "type it again")
    return text


def _word(item: Entry, given: Any, path: str) -> str:
    expected = "one of " + ", ".join(f'"{word}"' for word in item.words)
    text = " ".join(_text(item, given, path).split())
    for word in item.words:
        if text.casefold() == word.casefold():
            return word
    close = nearest(text, item.words, 0.6)
    raise InputError(
        path, shown(text), expected, f'the nearest is "{close}"' if close else "use one of these words"
    )


def _flag(item: Entry, given: Any, path: str) -> bool:
    words = {"true": True, "yes": True, "false": False, "no": False}
    if isinstance(given, bool):
        return given
    if not isinstance(given, str) or given.strip().casefold() not in words:
        raise InputError(path, shown(given), "true or false", "write true, or leave it out")
    return words[given.strip().casefold()]


def _count(item: Entry, given: Any, path: str) -> int:
    text = str(given).strip() if isinstance(given, str | Real) else ""
    if isinstance(given, bool) or not re.fullmatch(r"0*[1-9][0-9]{0,5}(?:\.0)?", text, re.ASCII):
        raise InputError(path, shown(given), "a whole number from 1 to 999999", "write for example 20")
    return int(text.removesuffix(".0"))


def _date(item: Entry, given: Any, path: str) -> date:
    if isinstance(given, datetime):
        return given.date()
    if isinstance(given, date):
        return given
    try:
        return date.fromisoformat(str(given).strip())
    except ValueError as e:
        raise InputError(path, shown(given), "a date", "write it as year-month-day, 2026-03-12") from e


_READERS: Mapping[str, Callable[[Entry, Any, str], Any]] = MappingProxyType(
    {"text": _text, "word": _word, "flag": _flag, "count": _count, "date": _date}
)


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
