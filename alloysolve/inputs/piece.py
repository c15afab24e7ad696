"""The piece under test: what it is said to be, and everything that was read from it.

The annotated fields of `Piece`, with the shortcuts of `KINDS`, are the one schema of a piece. A TOML file, JSON, batch
columns (with dots), command options (with dashes) and arguments all use the same names.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from inspect import Parameter, Signature
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from ..entry import NO, YES, Entry, entries, is_absent, join, read_value, shown, unknown, write_value
from ..errors import InputError
from ..measured import Measured
from ..readings.registry import KINDS, Reading, read_reading
from ..units import Quantity
from .bare import with_units
from .files import in_file, read_document, write_document
from .parts import DENSITY, Part, read_density, read_parts, write_measured
from .settings import WETTING, Settings

if TYPE_CHECKING:
    from ..published.load import Tables
    from ..published.wares import Inclusion

OF_WEIGHING = ("liquid_density", "water", "wetting")  # say nothing of a density that was not weighed here
HOLLOW_ALSO = (*((said, "possible") for said in (*YES, "maybe", "perhaps")), *((said, "") for said in NO))
SEARCHED = 'coins of a diameter and mass: alloysolve tables coins "22 mm 8 g"'
ONE_LENGTH_OF_A_COIN = f'write for example "38.1x2.6 mm", or leave it out; {SEARCHED}'
SHAPES = ("bar", "disc", "ring", "rod", "sphere", "tube")
ALIASES: Mapping[str, str] = MappingProxyType({"readings": "reading", "part": "parts"})

Values = tuple[Quantity, ...]


@dataclass(frozen=True, slots=True, init=False)
class Piece:
    """A piece and its readings, each kept as a number in the base unit together with the text that was given.

    Every argument may be left out. Quantities are given as text with a unit or as numbers in g, mm, degC,
    g/cm3; `density` also as `Measured`; the readings of `KINDS` also under their names:
    ``Piece(claim="silver 999", mass="31.18 g", displaced=[3.64, 3.63], magnet="none")``.

    Parameters
    ----------
    path : where the piece stands in a document, for errors (positional only).
    given : the values by name; ``alloysolve.inputs.schema.options()`` lists them with their help.

    Raises
    ------
    InputError
        For an unknown name (naming the nearest known one), a bad value, or values that contradict each other.

    >>> piece = Piece(claim="silver 999", mass="1 ozt", displaced=[3.64, "3,63 g"], bar=["50 mm", "28 mm", "2.6 mm"])
    >>> round(piece.mass.value, 4), piece.shape  # a troy ounce is 31.1034768 g
    (31.1035, ('bar', (50.0, 28.0, 2.6)))
    """

    claim: Annotated[
        str, Entry("text", "what the piece is said to be: silver 999, 18 ct yellow, silver dollar 1921")
    ] = ""
    mass: Annotated[Quantity | None, Entry("mass", "mass in air")] = None
    displaced: Annotated[Values, Entry("mass", "water pushed aside, one or several", many=True)] = ()
    in_water: Annotated[Values, Entry("mass", "mass in water, one or several", many=True)] = ()
    density: Annotated[Quantity | Measured | None, DENSITY] = None
    liquid_density: Annotated[
        Quantity | None, Entry("density", "density of the liquid where it is not water", limits=(0.5, 4.0))
    ] = None
    water: Annotated[Quantity | None, Entry("temperature", "temperature of the water")] = None
    wetting: Annotated[str, Entry("word", "how the piece was wetted", words=WETTING)] = ""
    scale_step: Annotated[Quantity | None, Entry("mass", "smallest step the scale shows")] = None
    count: Annotated[int, Entry("count", "number of like pieces weighed together")] = 1
    parts: Annotated[
        tuple[Part, ...], Entry("part", "stones and other parts: diamond 0.25 ct; steel spring 0.1 g", many=True)
    ] = ()
    bar: Annotated[Values, Entry("length", "a bar", sizes=("length", "width", "thickness"))] = ()
    disc: Annotated[
        Values, Entry("length", "a disc or coin", sizes=("diameter", "thickness"), fewer=ONE_LENGTH_OF_A_COIN)
    ] = ()
    ring: Annotated[Values, Entry("length", "a ring", sizes=("outer diameter", "inner diameter", "height"))] = ()
    rod: Annotated[Values, Entry("length", "a rod", sizes=("diameter", "length"))] = ()
    sphere: Annotated[Values, Entry("length", "a sphere", sizes=("diameter",))] = ()
    tube: Annotated[Values, Entry("length", "a tube", sizes=("outer diameter", "inner diameter", "length"))] = ()
    hollow: Annotated[str, Entry("word", "whether the piece may be hollow", words=("possible",), also=HOLLOW_ALSO)] = ""
    reading: Annotated[tuple[Reading, ...], Entry("reading", "readings with kind, value, place", many=True)] = ()
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
                values[key] = read_parts(value, place)
            elif key == "density":
                values[key] = read_density(value, place)
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
        """The readings other than weighing and dimensions."""
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
        """The values as they were given, by field; repeats in one text, readings as ``reading[0]``."""
        out = {}
        for name, value in self.to_dict().items():
            if name == "density" and isinstance(value, dict):
                out[name] = str(self.density)
            elif name in SHAPES and isinstance(value, list):
                out[name] = " x ".join(value)
            elif name not in KINDS and name != "reading":
                out[name] = ("; " if name == "parts" else " ").join(value) if isinstance(value, list) else str(value)
        return out | {f"reading[{i}]": reading.text for i, reading in enumerate(self.reading)}

    def to_dict(self) -> dict[str, Any]:
        """The piece in the types of JSON, with values as they were given; `from_dict` gives an equal piece."""
        shortcuts, listed = _shortcuts(self.reading)
        out: dict[str, Any] = {}
        for item in fields(self):
            value = getattr(self, item.name)
            if item.name == "reading":
                out |= {name: reading.text for name, reading in shortcuts.items()}
                out |= {"reading": [reading.to_dict() for reading in listed]} if listed else {}
            elif isinstance(value, Measured):
                out[item.name] = write_measured(value)
            elif item.name == "parts" and value:
                out[item.name] = [part.text for part in value]
            elif value != item.default:
                out[item.name] = write_value(value)
        return out

    def with_(self, **changes: Any) -> Piece:
        """This piece with other values: ``None`` removes one, and a reading is added to those there are.

        A shape, or a weighing of the other set-up, replaces the one there was. A reading that is there already is not
        added twice. ``magnet=None`` removes all readings of the magnet, ``reading=None`` all readings.
        """
        gone = {ALIASES.get(k, k) for k, v in changes.items() if is_absent(v)}
        changes = _nested(changes)
        kept = {item.name: getattr(self, item.name) for item in fields(self)}
        for alternatives in (SHAPES, ("displaced", "in_water")):
            if any(not is_absent(changes.get(name)) for name in alternatives):
                kept |= dict.fromkeys(alternatives)
        added = Piece(**{k: v for k, v in changes.items() if ALIASES.get(k, k) in (*KINDS, "reading")}).reading
        others = {k: v for k, v in changes.items() if ALIASES.get(k, k) not in (*KINDS, "reading")}
        kept |= {ALIASES.get(k, k): v for k, v in others.items()}
        left = () if "reading" in gone else tuple(r for r in self.reading if r.kind not in gone)
        kept["reading"] = (*left, *(r for r in added if r not in left))
        return Piece(**kept)

    def inclusions(self, tables: Tables) -> list[tuple[Quantity, Inclusion]]:
        """Mass and table row of every part; an unknown part is an error that names the nearest known one."""
        rows = {row.name: row for row in tables.rows("inclusions")}
        found = [part.inclusion(rows, "parts") for part in self.parts]
        return [(part.total(row.density_g_cm3), row) for part, row in zip(self.parts, found, strict=True)]


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


def read_piece(path: str | Path, settings: Settings | None = None) -> Piece:
    """A piece from a TOML file, or from a JSON file if its name ends in ``.json``.

    Parameters
    ----------
    path : the file.
    settings : of the shop, which may name the unit of its meter for bare numbers.

    Raises
    ------
    InputError
        For a file that cannot be read, with file and line; for a bad value, with its place inside the file.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder, "piece.toml")
    ...     _ = file.write_text('claim = "silver 999"')
    ...     read_piece(file).claim
    'silver 999'
    """
    given = read_document(path)
    if not given:
        raise InputError(str(path), "", "a piece file", 'write for example mass = "31.18 g"')
    with in_file(str(path)):
        return Piece.from_dict(given if settings is None else with_units(given, settings))


def save_piece(piece: Piece, path: str | Path) -> None:
    """Writes a piece file in one step; an existing TOML file keeps its comments and all that has not changed.

    Raises
    ------
    InputError
        For an existing file that is not a piece file, or a place that cannot be written.
    """
    old: dict[str, Any] = {}
    stored = [item.name for item in fields(Piece)]
    if os.path.exists(path):
        old, raw = read_piece(path).to_dict(), read_document(path)
        if len(raw.get("reading", [])) != len(old.get("reading", [])):
            stored.remove("reading")  # a reading that needs no table of its own moves to its shortcut
            old.pop("reading", None)
        if any(key not in (*stored, *old) for key in raw):
            old.pop("reading", None)  # a reading in a table of its own moves to the list
    write_document(path, old, piece.to_dict(), stored)


def _nested(given: Mapping[str, Any], path: str = "") -> dict[str, Any]:
    """Values with dashes and dots in keys resolved: ``conductivity.frequency``, ``reading.0.kind`` become tables."""
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
                raise unknown(join(path, f"{name}.{key}"), f"{name}.{key}", known_columns(), "a known field of a piece")
        value = out.get(name)
        if ALIASES.get(name, name) == "reading":
            listed = [] if is_absent(value) else value if isinstance(value, list | tuple) else [value]
            out[name] = [*listed, *_rows(table, join(path, name))]
        else:
            own = value if isinstance(value, Mapping) else {} if is_absent(value) else {"value": value}
            table = {**own, **table}
            # a batch column such as conductivity.frequency may be filled in although nothing was read
            keys = {"value", *(KINDS[name].instead if name in KINDS else ())}
            out[name] = None if all(is_absent(table.get(key)) for key in keys) else table
    return out


def known_columns() -> list[str]:
    """Columns that a list of pieces may have: every field of a piece, and those of readings with a dot."""
    return [*SCHEMA, *(f"{kind}.{key}" for kind, of in KINDS.items() for key in of.entries)]


def _rows(table: Mapping[str, Any], path: str) -> list[dict[str, Any]]:
    """A list of tables, from ``{"0.kind": ..., "0.value": ...}``; rows of blank cells are left out."""
    rows: dict[int, dict[str, Any]] = {}
    for key, value in table.items():
        index, _, name = key.partition(".")
        if not re.fullmatch(r"[0-9]{1,3}", index, re.ASCII) or not name:
            raise InputError(f"{path}.{key}", shown(value), "a number and a key", 'name it "reading.0.value"')
        if not is_absent(value):
            rows.setdefault(int(index), {})[name] = value
    return [rows[index] for index in sorted(rows)]


def _by_name(given: Mapping[str, Any], path: str) -> dict[str, Any]:
    """The values that are not empty, by name of the schema; unknown names are refused."""
    out: dict[str, Any] = {}
    for key, value in given.items():
        name = ALIASES.get(key, key)
        if name not in SCHEMA:
            raise unknown(join(path, key), key, SCHEMA, "a known field of a piece")
        if is_absent(value):
            continue
        if name in out:
            raise InputError(join(path, key), shown(value), f"{key} or {name}, not both", "take one of them out")
        out[name] = value
    return out


def _ordered(readings: Iterable[Reading]) -> list[Reading]:
    """Readings in the order of a piece file: shortcuts first, so that writing and reading change nothing."""
    shortcuts, listed = _shortcuts(list(readings))
    return [*shortcuts.values(), *listed]


def _shortcuts(readings: Iterable[Reading]) -> tuple[dict[str, Reading], list[Reading]]:
    """Readings that are the only one of their kind and have nothing but a value; and all others."""
    readings = list(readings)
    kinds = [reading.kind for reading in readings]
    plain = {r.kind: r for r in readings if kinds.count(r.kind) == 1 and set(r.to_dict()) == {"kind", "value"}}
    return {kind: plain[kind] for kind in KINDS if kind in plain}, [r for r in readings if r.kind not in plain]


def _check_together(piece: Piece, path: str) -> None:
    """Refuses values that contradict each other."""
    given = [name for name in SHAPES if getattr(piece, name)]
    if len(given) > 1:
        raise InputError(join(path, given[1]), " and ".join(given), "one shape", "keep the one that was measured")
    for name in ("ring", "tube"):
        sizes = getattr(piece, name)
        if sizes and sizes[1].value >= sizes[0].value:
            raise InputError(
                join(path, name),
                " x ".join(q.text for q in sizes),
                "an inner diameter below the outer one",
                f"give {', '.join(SCHEMA[name].sizes)} in this order",
            )
    for name in ("displaced", "in_water"):
        if getattr(piece, name) and piece.mass is None:
            raise InputError(join(path, "mass"), "", f"a mass in air beside {name}", "weigh the piece dry")
    for name in OF_WEIGHING:
        value = getattr(piece, name)
        if piece.density is not None and value:
            step = "leave it out, or give mass and displaced in place of the density"
            raise InputError(join(path, name), getattr(value, "text", value), "a weighing, not a density", step)
    if piece.water and piece.liquid_density:
        raise InputError(
            join(path, "water"),
            piece.water.text,
            "water or liquid_density, not both",
            "leave out the temperature: the density of the liquid is given",
        )
    if piece.displaced and piece.in_water:
        raise InputError(
            join(path, "in_water"),
            " ".join(q.text for q in piece.in_water),
            "displaced or in_water, not both",
            "keep the one that was read",
        )
