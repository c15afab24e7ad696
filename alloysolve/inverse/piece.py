"""The piece under test: what it is said to be, and everything that was read from it.

The annotated fields of `Piece`, with the shortcuts of `KINDS`, are the one schema of a piece: TOML file,
JSON, batch columns (dotted), command options (dashes) and arguments carry the same names.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from inspect import Parameter, Signature
from itertools import combinations
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from ..errors import InputError
from ..measured import Measured
from ..units import Quantity, parse
from .readings import (
    KINDS,
    Entry,
    Reading,
    entries,
    is_absent,
    join,
    read_reading,
    read_value,
    shown,
    unknown,
    write_value,
)
from .settings import WETTING, in_file, read_document, write_document

if TYPE_CHECKING:
    from ..access import Inclusion, Tables

SHAPES = ("bar", "disc", "ring", "rod", "sphere", "tube")
ALIASES: Mapping[str, str] = MappingProxyType({"readings": "reading", "part": "parts"})
LIMITS = (0.5, 25.0)  # g/cm3; osmium, the densest metal, has 22.6 (from memory)

Values = tuple[Quantity, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """A named part that is not the body: a stone, a spring.

    Parameters
    ----------
    name : as in the table of inclusions, further words allowed ("steel spring").
    mass : of the part.
    """

    name: str
    mass: Quantity

    @property
    def text(self) -> str:
        """The part as it was read."""
        return f"{self.name} {self.mass.text}"


@dataclass(frozen=True, slots=True, init=False)
class Piece:
    """A piece and its readings, each kept as a number in the base unit together with the text as read.

    Every argument may be left out. Quantities are given as text with a unit or as numbers in g, mm, degC,
    g/cm3; `density` also as `Measured`; the readings of `KINDS` also under their names:
    ``Piece(claim="silver 999", mass="31.18 g", displaced=[3.64, 3.63], magnet="none")``.

    Parameters
    ----------
    path : where the piece stands in a document, for errors (positional only).
    given : the values by name; ``alloysolve.inverse.piece.options()`` lists them with their help.

    Raises
    ------
    InputError
        For an unknown name (naming the nearest known one), a bad value, values that contradict each other.
    """

    claim: Annotated[str, Entry("text", "what the piece is said to be: silver 999, 18 ct yellow")] = ""
    mass: Annotated[Quantity | None, Entry("mass", "mass in air")] = None
    displaced: Annotated[Values, Entry("mass", "water pushed aside, one or several", many=True)] = ()
    in_water: Annotated[Values, Entry("mass", "mass in water, one or several", many=True)] = ()
    density: Annotated[
        Quantity | Measured | None, Entry("density", "density, where it was not weighed here", limits=LIMITS)
    ] = None
    liquid_density: Annotated[
        Quantity | None, Entry("density", "density of the liquid where it is not water", limits=(0.5, 4.0))
    ] = None
    water: Annotated[Quantity | None, Entry("temperature", "temperature of the water")] = None
    wetting: Annotated[str, Entry("word", "how the piece was wetted", words=WETTING)] = ""
    scale_step: Annotated[Quantity | None, Entry("mass", "smallest step the scale shows")] = None
    count: Annotated[int, Entry("count", "number of like pieces weighed together")] = 1
    parts: Annotated[
        tuple[Part, ...], Entry("part", "parts not of the body: diamond 0.25 carat", many=True)
    ] = ()
    bar: Annotated[Values, Entry("length", "a bar", sizes=("length", "width", "thickness"))] = ()
    disc: Annotated[Values, Entry("length", "a disc or coin", sizes=("diameter", "thickness"))] = ()
    ring: Annotated[
        Values, Entry("length", "a ring", sizes=("outer diameter", "inner diameter", "height"))
    ] = ()
    rod: Annotated[Values, Entry("length", "a rod", sizes=("diameter", "length"))] = ()
    sphere: Annotated[Values, Entry("length", "a sphere", sizes=("diameter",))] = ()
    tube: Annotated[
        Values, Entry("length", "a tube", sizes=("outer diameter", "inner diameter", "length"))
    ] = ()
    hollow: Annotated[str, Entry("word", "whether the piece may be hollow", words=("possible",))] = ""
    reading: Annotated[
        tuple[Reading, ...], Entry("reading", "readings with kind, value, place", many=True)
    ] = ()
    name: Annotated[str, Entry("text", "name or number of the piece")] = ""
    note: Annotated[str, Entry("text", "a note")] = ""
    proof: Annotated[bool, Entry("flag", "a proof coin, whose surface must not be touched")] = False
    current_money: Annotated[bool | None, Entry("flag", "the claim is current money")] = None

    __signature__: ClassVar[Signature]

    def __init__(self, path: str = "", /, **given: Any) -> None:
        values: dict[str, Any] = {}
        readings: list[Reading] = []
        for key, value in _by_name(given, path).items():
            place = join(path, key)
            if key in KINDS:
                readings.append(read_reading(value, place, kind=key))
            elif key == "reading":
                listed = value if isinstance(value, list | tuple) else [value]
                readings += [read_reading(item, f"{place}[{i}]") for i, item in enumerate(listed)]
            elif key == "parts":
                values[key] = _parts(value, place)
            elif key == "density":
                values[key] = _density(value, place)
            else:
                values[key] = read_value(SCHEMA[key], value, place)
        values["reading"] = tuple(_ordered(readings))
        for item in fields(self):
            object.__setattr__(self, item.name, values.get(item.name, item.default))
        _check_together(self, path)

    @classmethod
    def from_dict(cls, given: Mapping[str, Any], path: str = "") -> Piece:
        """A piece from a document; keys may also be dotted ("conductivity.frequency") or dashed ("in-water").

        Parameters
        ----------
        given : values by name, as in a piece file.
        path : where the document stands, for errors: ``"pieces[3]"``.
        """
        return cls(path, **_nested(given, path))

    @property
    def readings(self) -> tuple[Reading, ...]:
        """The readings beside weighing and dimensions."""
        return self.reading

    @property
    def shape(self) -> tuple[str, tuple[float, ...]] | None:
        """Name of the shape and its lengths in mm, in the order of the schema."""
        for name in SHAPES:
            if sizes := getattr(self, name):
                return name, tuple(q.value for q in sizes)
        return None

    @property
    def echo(self) -> dict[str, str]:
        """The values as they were read, by field; repeats in one text, readings as ``reading[0]``."""
        out = {}
        for name, value in self.to_dict().items():
            if name == "density" and isinstance(value, dict):
                out[name] = str(self.density)
            elif name in SHAPES and isinstance(value, list):
                out[name] = " x ".join(value)
            elif name not in KINDS and name != "reading":
                out[name] = (
                    ("; " if name == "parts" else " ").join(value) if isinstance(value, list) else str(value)
                )
        return out | {f"reading[{i}]": reading.text for i, reading in enumerate(self.reading)}

    def to_dict(self) -> dict[str, Any]:
        """The piece in the types of JSON, values as they were read; `from_dict` gives an equal piece."""
        shortcuts, listed = _shortcuts(self.reading)
        out: dict[str, Any] = {}
        for item in fields(self):
            value = getattr(self, item.name)
            if item.name == "reading":
                out |= {name: reading.text for name, reading in shortcuts.items()}
                out |= {"reading": [reading.to_dict() for reading in listed]} if listed else {}
            elif isinstance(value, Measured):
                out[item.name] = _written_measured(value)
            elif item.name == "parts" and value:
                out[item.name] = [part.text for part in value]
            elif value != item.default:
                out[item.name] = write_value(value)
        return out

    def with_(self, **changes: Any) -> Piece:
        """This piece with other values, ``None`` takes one away; a reading is added to those there are.

        A shape, or a weighing of the other set-up, replaces the one there was. A reading that is
        there already is not added twice.
        """
        changes = _nested(changes)
        kept = {item.name: getattr(self, item.name) for item in fields(self)}
        for alternatives in (SHAPES, ("displaced", "in_water")):
            if any(not is_absent(changes.get(name)) for name in alternatives):
                kept |= dict.fromkeys(alternatives)
        added = Piece(
            **{k: v for k, v in changes.items() if ALIASES.get(k, k) in (*KINDS, "reading")}
        ).reading
        others = {k: v for k, v in changes.items() if ALIASES.get(k, k) not in (*KINDS, "reading")}
        kept |= {ALIASES.get(k, k): v for k, v in others.items()}
        kept["reading"] = (*self.reading, *(r for r in added if r not in self.reading))
        return Piece(**kept)

    def inclusions(self, tables: Tables) -> list[tuple[Quantity, Inclusion]]:
        """Mass and table row of every part; an unknown part is an error that names the nearest known one."""
        rows = {row.name: row for row in tables.rows("inclusions")}
        return [(part.mass, rows[_inclusion(part, rows, f"parts[{i}]")]) for i, part in enumerate(self.parts)]


def _schema() -> dict[str, Entry]:
    """The fields of a piece, with one shortcut per kind of reading before the list of readings."""
    shortcuts = {kind: Entry("reading", of.help) for kind, of in KINDS.items()}
    out: dict[str, Entry] = {}
    for name, item in entries(Piece).items():
        out |= shortcuts | {name: item} if name == "reading" else {name: item}
    return out


SCHEMA: Mapping[str, Entry] = MappingProxyType(_schema())
Piece.__signature__ = Signature(
    [Parameter(name, Parameter.KEYWORD_ONLY, default=None, annotation=Any) for name in SCHEMA]
)


def options() -> dict[str, Entry]:
    """Command options by name ("--in-water"), with dimension and help."""
    return {f"--{name.replace('_', '-')}": item for name, item in SCHEMA.items()}


def read_piece(path: str | Path) -> Piece:
    """A piece from a TOML file, or a JSON file where its name ends in ``.json``.

    Raises
    ------
    InputError
        For a file that cannot be read, with file and line; for a bad value, with its place inside the file.
    """
    given = read_document(path)
    if not given:
        raise InputError(str(path), "", "a piece file", 'write for example mass = "31.18 g"')
    with in_file(str(path)):
        return Piece.from_dict(given)


def save_piece(piece: Piece, path: str | Path) -> None:
    """Write a piece file in one step; an existing TOML file keeps its comments and what has not changed.

    Raises
    ------
    InputError
        For an existing file that is not a piece file, or a place that cannot be written.
    """
    old: dict[str, Any] = {}
    stored = [item.name for item in fields(Piece)]
    if os.path.exists(path):
        old = read_piece(path).to_dict()
        if any(key not in (*stored, *old) for key in read_document(path)):
            old.pop("reading", None)  # a reading in a table of its own moves to the list
    write_document(path, old, piece.to_dict(), stored)


def _nested(given: Mapping[str, Any], path: str = "") -> dict[str, Any]:
    """Dashes and dots of keys resolved: ``conductivity.frequency``, ``reading.0.kind`` belong to tables."""
    out: dict[str, Any] = {}
    tables: dict[str, dict[str, Any]] = {}
    for key, value in given.items():
        name, _, rest = str(key).replace("-", "_").partition(".")
        group = tables.setdefault(name, {}) if rest else out
        if (rest or name) in group:
            raise InputError(join(path, str(key)), shown(value), "every value once", "take one of them out")
        group[rest or name] = value
    for name, table in tables.items():
        known = KINDS[name].entries if name in KINDS else table
        for key in table:
            if name not in (*KINDS, *ALIASES, "reading", "density") or key not in known:
                raise unknown(
                    join(path, f"{name}.{key}"), f"{name}.{key}", _dotted(), "a known field of a piece"
                )
        value = out.get(name)
        if ALIASES.get(name, name) == "reading":
            listed = [] if is_absent(value) else value if isinstance(value, list | tuple) else [value]
            out[name] = [*listed, *_rows(table, join(path, name))]
        else:
            own = value if isinstance(value, Mapping) else {} if is_absent(value) else {"value": value}
            table = {**own, **table}
            # a batch column such as conductivity.frequency may be filled where nothing was read
            out[name] = None if is_absent(table.get("value")) else table
    return out


def _dotted() -> list[str]:
    return [*SCHEMA, *(f"{kind}.{key}" for kind, of in KINDS.items() for key in of.entries)]


def _rows(table: Mapping[str, Any], path: str) -> list[dict[str, Any]]:
    """``{"0.kind": ..., "0.value": ...}`` as a list of tables; rows of blank cells are left out."""
    rows: dict[int, dict[str, Any]] = {}
    for key, value in table.items():
        index, _, name = key.partition(".")
        if not re.fullmatch(r"[0-9]{1,3}", index, re.ASCII) or not name:
            raise InputError(f"{path}.{key}", shown(value), "a number and a key", 'name it "reading.0.value"')
        if not is_absent(value):
            rows.setdefault(int(index), {})[name] = value
    return [rows[index] for index in sorted(rows)]


def _by_name(given: Mapping[str, Any], path: str) -> dict[str, Any]:
    """The values that say something, by name of the schema; unknown names are refused."""
    out: dict[str, Any] = {}
    for key, value in given.items():
        name = ALIASES.get(key, key)
        if name not in SCHEMA:
            raise unknown(join(path, key), key, SCHEMA, "a known field of a piece")
        if is_absent(value):
            continue
        if name in out:
            raise InputError(
                join(path, key), shown(value), f"{key} or {name}, not both", "take one of them out"
            )
        out[name] = value
    return out


def _ordered(readings: Iterable[Reading]) -> list[Reading]:
    """The order a piece file gives: shortcuts first, so that writing and reading changes nothing."""
    shortcuts, listed = _shortcuts(list(readings))
    return [*shortcuts.values(), *listed]


def _shortcuts(readings: Iterable[Reading]) -> tuple[dict[str, Reading], list[Reading]]:
    """Readings that are the only one of their kind and say nothing but a value; and the others."""
    readings = list(readings)
    kinds = [reading.kind for reading in readings]
    plain = {
        r.kind: r for r in readings if kinds.count(r.kind) == 1 and set(r.to_dict()) == {"kind", "value"}
    }
    return {kind: plain[kind] for kind in KINDS if kind in plain}, [
        r for r in readings if r.kind not in plain
    ]


def _parts(given: Any, path: str) -> tuple[Part, ...]:
    items = given.split(";") if isinstance(given, str) else given
    if not isinstance(items, list | tuple):
        raise InputError(path, shown(given), "a list of parts", 'write for example ["diamond 0.25 carat"]')
    return tuple(_part(item, f"{path}[{i}]") for i, item in enumerate(items))


def _part(given: Any, path: str) -> Part:
    if isinstance(given, Part):
        return given
    expected, step = "a name and a mass with its unit", 'write for example "diamond 0.25 carat"'
    word = r"[^\d\s.,+-]\S*"
    match = re.fullmatch(rf"({word}(?:\s+{word})*)\s+([+-]?[.,]?\d.*)", str(given).strip()[:200], re.DOTALL)
    if not isinstance(given, str) or match is None:
        raise InputError(path, shown(given), expected, step)
    mass = parse(match[2], "mass", path, carat=True)
    if mass.text != " ".join(match[2].split()):  # the unit was left out: stones are weighed in carat or in g
        raise InputError(path, shown(given), expected, step)
    return Part(" ".join(match[1].split()), mass)


def _inclusion(part: Part, known: Iterable[str], path: str) -> str:
    """Name in the table: the same name, else the longest one all of whose words the part's name has."""
    folded = {name.casefold(): name for name in known}
    words = set(part.name.casefold().split())
    found = [name for name in folded if name == part.name.casefold() or set(name.split()) <= words]
    if not found:
        raise unknown(path, part.name, folded.values(), "a part of the table of inclusions")
    return folded[max(found, key=lambda name: (name == part.name.casefold(), len(name)))]


def _density(given: Any, path: str) -> Quantity | Measured:
    """A density as text or number, as `Measured`, or as the table of one."""
    item = SCHEMA["density"]
    if isinstance(given, Measured):
        given = _written_measured(given)
    if not isinstance(given, Mapping):
        quantity: Quantity = read_value(item, given, path)
        return quantity
    known = ("value", "u", "unit", "low", "high", "dof")
    for key in given:
        if key not in known:
            raise unknown(join(path, str(key)), str(key), known, "a known key of a density")
    if given.get("unit", "g/cm3") != "g/cm3":
        raise InputError(join(path, "unit"), shown(given["unit"]), '"g/cm3"', "turn the density into g/cm3")
    value = read_value(item, given.get("value"), join(path, "value")).value
    numbers = {
        key: _number(given[key], join(path, key)) for key in known[1:] if key in given and key != "unit"
    }
    if "u" not in numbers:
        raise InputError(join(path, "u"), "", "one standard uncertainty in g/cm3", "add it")
    density = Measured(value, unit="g/cm3", **numbers)
    if not density.low <= value <= density.high:
        raise InputError(
            path, shown(f"{density.low} to {density.high}"), f"a range around {value}", "mend it"
        )
    return density


def _number(given: Any, path: str) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float) or not 0 <= given < float("inf"):
        raise InputError(path, shown(given), "a number from 0", "write for example 0.02")
    return float(given)


def _written_measured(density: Measured) -> dict[str, Any]:
    table = {name: getattr(density, name) for name in ("value", "u", "unit", "low", "high")}
    return table | ({"dof": density.dof} if density.dof != float("inf") else {})


def _check_together(piece: Piece, path: str) -> None:
    """Refuse values that contradict each other."""
    given = [name for name in SHAPES if getattr(piece, name)]
    if len(given) > 1:
        raise InputError(
            join(path, given[1]), " and ".join(given), "one shape", "keep the one that was measured"
        )
    for name in ("ring", "tube"):
        sizes = getattr(piece, name)
        if sizes and sizes[1].value >= sizes[0].value:
            raise InputError(join(path, name), " x ".join(q.text for q in sizes),
                             "an inner diameter below the outer one",
                             f"give {', '.join(SCHEMA[name].sizes)} in this order")  # fmt: skip
    for name in ("displaced", "in_water"):
        if getattr(piece, name) and piece.mass is None:
            raise InputError(join(path, "mass"), "", f"a mass in air beside {name}", "weigh the piece dry")
    if piece.displaced and piece.in_water:
        raise InputError(join(path, "in_water"), " ".join(q.text for q in piece.in_water),
                         "displaced or in_water, not both", "keep the one that was read")  # fmt: skip


def schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a piece as JSON, made from the one schema of the fields."""
    together = [SHAPES, ("displaced", "in_water")]
    pairs = [list(pair) for names in together for pair in combinations(names, 2)]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "piece",
        "type": "object",
        "properties": {name: _json_schema(name, item) for name, item in SCHEMA.items()},
        "additionalProperties": False,
        "dependentRequired": {"displaced": ["mass"], "in_water": ["mass"]},
        "allOf": [{"not": {"required": pair}} for pair in pairs],
    }


def _json_schema(name: str, item: Entry) -> dict[str, Any]:
    tables = {kind: _reading_schema(of.entries) for kind, of in KINDS.items()}
    if name in KINDS:
        return {"description": item.help, "anyOf": [_one(KINDS[name].entries["value"]), tables[name]]}
    if name == "reading":
        listed = [_reading_schema(of.entries, kind) for kind, of in KINDS.items()]
        return {"description": item.help, "type": "array", "items": {"anyOf": listed}}
    one = _one(item)
    if name == "density":
        numbers = {key: {"type": "number"} for key in ("value", "u", "low", "high", "dof")}
        table = {"type": "object", "properties": numbers | {"unit": {"const": "g/cm3"}}}
        one = {"anyOf": [one, table | {"required": ["value", "u"], "additionalProperties": False}]}
    if item.many or item.sizes:
        size = {"minItems": len(item.sizes), "maxItems": len(item.sizes)} if item.sizes else {"minItems": 1}
        one = {"anyOf": [one, {"type": "array", "items": one} | size]}
    return {"description": item.help} | one


def _one(item: Entry) -> dict[str, Any]:
    if item.words:
        return {"enum": list(item.words)}
    types: dict[str, dict[str, Any]] = {
        "flag": {"type": "boolean"},
        "count": {"type": "integer", "minimum": 1},
        "part": {"type": "string"},
        "text": {"type": "string"},
    }
    return types.get(item.dimension, {"type": ["string", "number"]})


def _reading_schema(keys: Mapping[str, Entry], kind: str = "") -> dict[str, Any]:
    properties = {key: {"description": item.help} | _one(item) for key, item in keys.items()}
    out = {"type": "object", "properties": properties, "required": ["value"], "additionalProperties": False}
    if kind:
        out |= {"properties": {"kind": {"const": kind}} | properties, "required": ["kind", "value"]}
    return out
