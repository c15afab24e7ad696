"""How one value of a piece, a reading or the settings is written in a document.

An `Entry` says once how a value is written: its dimension, whether it repeats, its help text. Files,
JSON, batch columns, command options and arguments are all read through it, so they cannot drift apart.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from numbers import Real
from types import MappingProxyType
from typing import Any, get_type_hints
from unicodedata import category

from .errors import InputError
from .foreign import has_unit, is_array, is_missing, plain
from .units import DIMENSIONS, Quantity, parse, parse_many

LIKE = 0.6  # likeness of spelling (0 to 1) from which on a known word is proposed for an unknown one
# how people at a counter, and the lists they keep, answer with yes or no
YES, NO = ("yes", "ja", "oui", "sí", "si"), ("no", "nein", "non")
SOME = 12  # known words that an error lists where none is like the one given


@dataclass(frozen=True, slots=True)
class Entry:
    """How one value is written.

    Parameters
    ----------
    dimension : a dimension of `alloysolve.units`, or "text", "word", "flag", "count", "date",
        "part", "reading", "table", "names".
    help : one line for people.
    many : whether several values may be given, as a list or as `units.parse_many` reads them.
    words : the words accepted if `dimension` is "word". also : other ways to say one of them, with that word.
    sizes : names of the lengths of a shape, in order.
    limits : lowest and highest accepted value in the base unit.
    table : the dataclass into which a "table" is read.
    required : whether its table is refused without it.
    ask : usual units of which nobody can tell which is meant, so that a bare number is queried.
    fewer : what to do where fewer lengths than these are known.
    """

    dimension: str
    help: str
    many: bool = False
    words: tuple[str, ...] = ()
    sizes: tuple[str, ...] = ()
    limits: tuple[float, float] | None = None
    table: type | None = None
    required: bool = False
    also: tuple[tuple[str, str], ...] = ()
    ask: tuple[str, ...] = ()
    fewer: str = ""


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
    """Whether a value is empty: missing (`foreign.is_missing`), blank text, an empty table, a list of nothing else."""
    if isinstance(given, str):
        return not given.strip()
    if isinstance(given, list | tuple) or is_array(given):
        return all(not isinstance(item, Mapping) and is_absent(item) for item in plain(given))
    return is_missing(given) or (isinstance(given, Mapping) and not given)


def nearest(given: str, known: Iterable[str], least: float = LIKE) -> str:
    """The known word closest in spelling to `given`, or "" if none is as close as `least` (0 to 1)."""
    import difflib

    by_folded = {word.casefold(): word for word in known}
    found = difflib.get_close_matches(given.casefold()[:80], by_folded, 1, least)
    return by_folded[found[0]] if found else ""


def unknown(path: str, given: str, known: Collection[str], what: str) -> InputError:
    """The error for a name that is not known; it names the nearest known one, or some where none is like it."""
    close = nearest(given, known)
    some = ", ".join([*known][:SOME]) + (" ..." if len(known) > SOME else "")
    return InputError(path, shown(given), what, f'the nearest known is "{close}"' if close else f"known are {some}")


def chosen(given: Any, known: Collection[str], path: str, what: str) -> tuple[str, ...]:
    """Words of a list, or of one text in which commas separate them; each must be known and stand once.

    >>> chosen("pair", ("pair", "triple"), "sizes", "sizes")
    ('pair',)
    """
    words = given.split(",") if isinstance(given, str) else plain(given)
    if not isinstance(words, Iterable) or isinstance(words, Mapping):
        raise InputError(path, shown(given), f"a list of {what}", f'write for example ["{next(iter(known), "")}"]')
    out = tuple(word.strip() if isinstance(word, str) else word for word in words)
    for word in out:
        if word not in known:
            raise unknown(path, str(word), known, what)
    twice = [word for word in out if out.count(word) > 1]
    if twice:
        raise InputError(path, twice[0], "each of them once", "take one out")
    return out


def is_bare(given: object) -> bool:
    """Whether a value is a number, or text of a number, without a unit."""
    if isinstance(given, str):
        of_itself = re.sub(r"(?:\+-|\+/-|±)\s*[\d.,]+\s*%\s*$", "", given)  # an uncertainty in % gives no unit
        return re.fullmatch(r"(?=.*\d)(?:[\d.,+\-±\s]|(?<=\d)[eE])+", of_itself, re.ASCII) is not None
    return isinstance(given, Real) and not isinstance(given, bool)


def no_unit(path: str, given: object, units: Iterable[str], or_else: str = "") -> InputError:
    """The error for a bare number that may be in one of several units; it names all readings of it."""
    ways = " or ".join(f'"{str(given).strip()} {unit}"' for unit in units)
    return InputError(path, shown(given), "a number with its unit", f"write {ways}{or_else}")


def shown(given: object) -> object:
    """`given`, cut short if it is too long for an error of one line."""
    given = str(given) if has_unit(given) else given
    text = given if isinstance(given, str) else repr(given)
    return given if len(text) <= 60 else text[:57] + "..."


def read_value(item: Entry, given: Any, path: str) -> Any:
    """One value of a document as the entry says: `Quantity`, text, bool, int, date, or tuples of them.

    Raises
    ------
    InputError
        With `path`, the value, what was expected and the next step.
    """
    given = plain(given)
    if item.table is not None:
        return given if isinstance(given, item.table) else read_table(item.table, given, path)
    if item.sizes:
        return _sizes(item, given, path)
    if item.many:
        return tuple(_repeats(item, given, path))
    return _single(item, given, path)


def document(given: Any, path: str) -> Mapping[str, Any]:
    """Values by name, from a mapping or from a row of a frame."""
    if isinstance(given, Mapping):
        return given
    if not (hasattr(given, "keys") and hasattr(given, "items")):
        raise InputError(path, shown(given), "values by name", 'write for example {"mass": "31.18 g"}')
    return {str(key): value for key, value in given.items()}


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
    """The inverse of `read_table`; empty values are left out."""
    kind: type = type(record)
    values = {name: getattr(record, name) for name in entries(kind)}
    values |= {name: dict(values[name]) for name, item in entries(kind).items() if item.dimension == "names"}
    return {name: write_value(value) for name, value in values.items() if not is_absent(value)}


def _single(item: Entry, given: Any, path: str) -> Any:
    if item.dimension not in DIMENSIONS:
        return _READERS[item.dimension](item, given, path)
    dimension = DIMENSIONS[item.dimension]
    if item.ask and is_bare(given):
        raise no_unit(path, given, item.ask)
    if isinstance(given, Quantity):
        if given.unit != dimension.base:
            raise InputError(path, given.text, dimension.expected, f"give it in {dimension.base}")
        quantity = given
    else:
        quantity = parse(given, item.dimension, path)
    if item.limits and not item.limits[0] <= quantity.value <= item.limits[1]:
        low, high = item.limits
        raise InputError(
            path, quantity.text, f"{low:g} to {high:g} {dimension.base}".rstrip(), "check the decimal mark and the unit"
        )
    return quantity


def _repeats(item: Entry, given: Any, path: str) -> list[Any]:
    if isinstance(given, list | tuple):
        return [_single(item, value, f"{path}[{i}]") for i, value in enumerate(given) if not is_absent(value)]
    if item.dimension in DIMENSIONS and isinstance(given, str):
        return list(parse_many(given, item.dimension, path))
    if isinstance(given, str):
        return [_single(item, text, path) for text in given.split(";") if text.strip()]
    return [_single(item, given, path)]


def _sizes(item: Entry, given: Any, path: str) -> tuple[Quantity, ...]:
    """Lengths from a list, or from a text like ``"50x28x2.6 mm"``, in which the last unit holds for all."""
    if isinstance(given, str):
        items: list[Any] = _split_sizes(given, path)
    else:
        items = list(given) if isinstance(given, list | tuple) else [given]
    if len(items) != len(item.sizes):
        names = ", ".join(item.sizes)
        example = "x".join(("50", "28", "2.6")[: len(item.sizes)])
        few = len(items) < len(item.sizes)
        step = f'write for example "{example} mm"' + (", or leave it out" if few else "")
        raise InputError(path, shown(given), f"lengths in this order: {names}", (few and item.fewer) or step)
    one = Entry(item.dimension, item.help)
    return tuple(_single(one, value, f"{path}[{i}]") for i, value in enumerate(items))


def _split_sizes(given: str, path: str) -> list[str]:
    items = re.split(r"\s*[x×*]\s*", given.strip())
    bare = [bool(re.fullmatch(r"[\d.,]+", text)) for text in items]
    if bare[-1] and not all(bare):
        raise InputError(
            path, shown(given), "a unit on every length, or one after the last", 'write for example "50x28x2.6 mm"'
        )
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
    for said, word in (*zip(item.words, item.words, strict=True), *item.also):
        if text.casefold() == said.casefold():
            return word
    close = nearest(text, item.words)
    raise InputError(path, shown(text), expected, f'the nearest is "{close}"' if close else "use one of these words")


def _flag(item: Entry, given: Any, path: str) -> bool:
    words = dict.fromkeys(("true", *YES), True) | dict.fromkeys(("false", *NO), False)
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


def _names(item: Entry, given: Any, path: str) -> tuple[tuple[str, str], ...]:
    if not isinstance(given, Mapping):
        raise InputError(path, shown(given), "a table of names", 'write for example mass = "Gewicht (g)"')
    return tuple((str(key), _text(item, value, join(path, str(key)))) for key, value in given.items())


_READERS: Mapping[str, Callable[[Entry, Any, str], Any]] = MappingProxyType(
    {"text": _text, "word": _word, "flag": _flag, "count": _count, "date": _date, "names": _names}
)
