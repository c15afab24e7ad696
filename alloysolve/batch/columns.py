"""What the columns of a list mean: fields of a piece, or columns of the shop's own that are carried through."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from ..entry import Entry, nearest, shown, unknown
from ..errors import InputError
from ..inputs.piece import ALIASES, SCHEMA, SHAPES, known_columns
from ..readings.registry import KINDS
from ..units import DIMENSIONS, parse

# what shops call a column, beside the names of fields
ALSO = {
    "weight": "mass",
    "mass_in_air": "mass",
    "weight_in_air": "mass",
    "mass_in_water": "in_water",
    "weight_in_water": "in_water",
    "water_displaced": "displaced",
    "water_pushed_aside": "displaced",
    "pushed_aside": "displaced",
    "said_to_be": "claim",
    "claimed": "claim",
    "claimed_as": "claim",
    "described_as": "claim",
}
WATER_OF_MASS = "displaced"  # the field of a head that says water with a unit of mass: "Water (g)"
# cells that say that nothing is known
NOTHING_KNOWN = frozenset(
    ("?", "-", "--", "–", "—", "n/a", "k. a.", "k.a.", "unknown", "unbekannt", "inconnu", "desconocido")
)
WATER_DEGC = (4.0, 40.0)  # a bare number beyond these under "water" is hardly a temperature; judgement
# what a list needs to be judged at all, each with the fields of which one will do
WEIGHED = ("displaced", "in_water", "density", *SHAPES)
NEEDED = {"claim": ("claim",), "mass": ("mass", "density"), "water": WEIGHED}
# spelling from which a head is taken for a slip and refused; below it stand "country" beside "count", "shelf", "price"
SLIP = 0.84
HEAD_WITHIN = 10  # rows among which the head is looked for, below a title
BARE = re.compile(r"[\d.,\s]*\d[\d.,\s]*")
THREE_DECIMALS = re.compile(r"(\d),(\d{3})(?!\d)")


@dataclass(frozen=True, slots=True)
class Column:
    """One column: the field it holds, or "" for one of the shop's own, and the unit that its head states."""

    head: str
    field: str = ""
    unit: str = ""

    def value(self, given: Any, decimal_comma: bool) -> Any:
        """A cell as a value of the field; `decimal_comma` says that a comma in a number is never a thousands mark."""
        if entry_of(self.field).dimension not in DIMENSIONS:
            return int(given) if isinstance(given, float) and given.is_integer() else given
        text = str(given).strip()
        if decimal_comma and isinstance(given, str) and "." not in text:
            text = THREE_DECIMALS.sub(r"\1.\2", text)
        if self.unit and BARE.fullmatch(text):
            return f"{text} {self.unit}"
        return text if isinstance(given, str) else given


def columns_of(heads: Sequence[Any], mapping: Mapping[str, str], place: str) -> list[Column]:
    """The columns of a list by their heads; `mapping` says which head a shop has for a field.

    Raises
    ------
    InputError
        For a head that is nearly the name of a field, for two columns of one name or one field, and if no column is
        known.
    """
    said = _mapped(mapping)
    names = [" ".join(str("" if head is None else head).split()) for head in heads]
    columns = [_column(head, said) or Column(head) for head in names]
    _check_once([c.head for c in columns], place, "every column once, but this head stands twice")
    for c in columns:
        _check_slip(c, {c.field for c in columns}, f"{place}: column")
    _check_once([c.field for c in columns], place, "one column for each field, but two stand for this one")
    if not any(c.field for c in columns):
        step = 'name yours under [columns] in the settings, e.g. mass = "Gewicht (g)"'
        raise InputError(
            f"{place}: columns",
            shown(", ".join(filter(None, names))),
            "claim, mass, displaced, density or another field",
            step,
        )
    return [c if c.head else Column(f"column {k}") for k, c in enumerate(columns, start=1)]


def field_of_key(key: str, mapping: Mapping[str, str]) -> str:
    """The field of a key of JSON, which may also be dotted; "" for one of the shop's own.

    Raises
    ------
    InputError
        For a key that is a slip for a field.
    """
    if key.replace("-", "_").partition(".")[0] in (*SCHEMA, *ALIASES):
        return key
    found = _column(key, _mapped(mapping)) or Column(key)
    _check_slip(found, (), "row")
    return found.field


def _check_slip(column: Column, taken: Collection[str], place: str) -> None:
    """Refuses an unknown head that is nearly that of a field which the list has not yet, with or without its unit."""
    if column.field or not column.head:
        return
    left = {plain: field for plain, field in _known().items() if field not in taken}
    name, unit = _split(column.head)
    close, end = _near(column.head, left), ""
    if not close and (bare := _near(name, left)) and _is_unit(unit, left[bare]):
        close, end = bare, f" ({unit})"
    if close:
        meant = close.replace("_", " ")
        meant = (meant.capitalize() if column.head[0].isupper() else meant) + end
        step = f'did you mean "{meant}"? Rename it, or name it under [columns] in the settings'
        raise InputError(place, shown(column.head), "a field of a piece, or a name unlike any of them", step)


def _near(head: str, known: Collection[str]) -> str:
    """The known spelling for which a head is a slip, if any: near it, or the same letters in another order."""
    plain = _plain(head)
    return nearest(plain, known, SLIP) or next((name for name in known if sorted(name) == sorted(plain)), "")


def lacking(fields: Collection[str]) -> tuple[str, ...]:
    """What no column of a list holds, by the keys of `NEEDED`; of a list without weights only that."""
    known = {field.partition(".")[0] for field in fields}
    found = tuple(what for what, fields in NEEDED.items() if known.isdisjoint(fields))
    return tuple(what for what in found if what != "water" or "mass" not in found)


def is_doubtful_water(column: Column, mapping: Mapping[str, str]) -> bool:
    """Whether a head only says "water", under which some write the water pushed aside."""
    return column.field == "water" and not column.unit and "water" not in mapping


def check_water(cell: Any, number: int, place: str) -> None:
    """Refuses a number under "water" that is hardly a temperature: it would be read as one in silence."""
    text = str(cell).strip().replace(",", ".")
    if not re.fullmatch(r"\d+(\.\d+)?", text) or WATER_DEGC[0] <= float(text) <= WATER_DEGC[1]:
        return
    raise InputError(
        f"{place}: column 'water', row {number}",
        shown(cell),
        "the temperature of the water",
        'water pushed aside, or its temperature? Name the column "water pushed aside" or "water (degC)"',
    )


def recognised(heads: Iterable[Any], mapping: Mapping[str, str]) -> int:
    """How many heads are known."""
    said = _mapped(mapping)
    return sum(_column(str(head), said) is not None for head in heads if head is not None)


def head_row(rows: Sequence[Sequence[Any]], mapping: Mapping[str, str]) -> int:
    """Which of the first rows is the head: the first that is not blank, unless a later one is clearly it."""
    filled = [k for k, row in enumerate(rows) if any(not blank(cell) for cell in row)]
    first = filled[0] if filled else 0
    if not filled or recognised(rows[first], mapping):
        return first
    return next((k for k in filled if recognised(rows[k], mapping) > 1), first)


def blank(cell: Any) -> bool:
    """Whether a cell is empty; frames write "not a number" into such cells."""
    return cell is None or cell != cell or (isinstance(cell, str) and not cell.strip())


def says_nothing(cell: Any) -> bool:
    """Whether a cell is empty, or says that what would stand there is not known."""
    return blank(cell) or (isinstance(cell, str) and " ".join(cell.split()).casefold() in NOTHING_KNOWN)


@cache
def entry_of(field: str) -> Entry:
    """How a value of a column is written."""
    kind, _, key = field.partition(".")
    return KINDS[kind].entries[key] if key else SCHEMA[field]


@cache
def _known() -> Mapping[str, str]:
    """Fields by their plain spellings."""
    return {**ALSO, **{_plain(name): name for name in known_columns()}}


def _plain(head: str) -> str:
    return re.sub(r"[\s_-]+", "_", head.strip().casefold())


def _mapped(mapping: Mapping[str, str]) -> dict[str, str]:
    """Fields by the heads that a shop has for them."""
    out: dict[str, str] = {}
    for field, head in mapping.items():
        if field not in known_columns():
            raise unknown("settings.columns", field, known_columns(), "a field of a piece")
        out[" ".join(head.split()).casefold()] = field
    return out


def _column(head: str, said: Mapping[str, str]) -> Column | None:
    """The column of a head that is known, by the settings or by its name; None for any other."""
    name, unit = _split(head)
    if head.casefold() in said:
        field = said[head.casefold()]
        return Column(head, field, unit if _is_unit(unit, field) else "")
    if _plain(head) in _known():
        return Column(head, _known()[_plain(head)])
    field = _known().get(_plain(name), "")
    if field == "water" and _is_unit(unit, WATER_OF_MASS):
        field = WATER_OF_MASS
    return Column(head, field, unit) if field and _is_unit(unit, field) else None


def _split(head: str) -> tuple[str, str]:
    """The name in a head and the unit at its end: "mass (g)", "mass [g]", "mass g"."""
    found = re.fullmatch(r"(.*\S)\s*[(\[]\s*(.+?)\s*[)\]]", head) or re.fullmatch(r"(.*[^\s,_])[\s,_]+(\S+)", head)
    return (found[1], found[2]) if found else (head, "")


def _is_unit(word: str, field: str) -> bool:
    """Whether a word is a unit of a field; "oz" is one too, since nobody may overlook that it is ambiguous."""
    dimension = entry_of(field).dimension
    if not word or dimension not in DIMENSIONS:
        return False
    try:
        parse(f"1 {word}", dimension, field)
    except InputError as e:
        return e.expected != DIMENSIONS[dimension].expected
    return True


def _check_once(names: Sequence[str], place: str, expected: str) -> None:
    twice = next((name for name in names if name and names.count(name) > 1), None)
    if twice is not None:
        raise InputError(f"{place}: column", shown(twice), expected, "rename one of them, or take it out")
