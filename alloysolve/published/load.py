"""The published tables as typed records: loaded on first use, checked, and extendable by path.

A table is a CSV file whose header names the fields of one record class below; an empty
cell is ``None`` if the field allows it. A bad row is a `TableError` that names
file, line, column and value. Rows given by path replace rows of the same key and add the others.
"""

from __future__ import annotations

import csv
import hashlib
import types
import typing
from collections.abc import Callable, Iterable, Mapping
from functools import cache, cached_property
from pathlib import Path
from typing import Any, Literal, TypeVar

from ..errors import InputError, TableError
from .metals import (
    Attenuation,
    Composition,
    DensityPoint,
    DiscFactor,
    EffectiveTerm,
    Elastic,
    Family,
    Formula,
    Grade,
    Layers,
    Limits,
    Line,
    Metal,
    Pair,
    PairClass,
    PairDefault,
    ResistivityPoint,
    SoundSpeed,
    Source,
    TemperatureSlope,
)
from .wares import (
    Caution,
    CladStock,
    ClaimPrior,
    ClaimRegion,
    ClaimWords,
    CoinType,
    Inclusion,
    Insert,
    MagnetRow,
    SkinMaterial,
    Span,
    StrikeRow,
    SurfaceClass,
    Time,
    TouchClass,
    Word,
)

RECORDS: dict[str, type] = {
    "SOURCES": Source,
    "formulas": Formula,
    "metals": Metal,
    "grades": Grade,
    "families": Family,
    "claims": ClaimRegion,
    "claim_words": ClaimWords,
    "pairs": Pair,
    "pair_classes": PairClass,
    "pair_defaults": PairDefault,
    "effective_terms": EffectiveTerm,
    "density_points": DensityPoint,
    "resistivity_points": ResistivityPoint,
    "claim_priors": ClaimPrior,
    "skins": SkinMaterial,
    "strikes": StrikeRow,
    "clad": CladStock,
    "inserts": Insert,
    "spans": Span,
    "times": Time,
    "commonness": Word,
    "magnet": MagnetRow,
    "surface_classes": SurfaceClass,
    "touch": TouchClass,
    "inclusions": Inclusion,
    "coins": CoinType,
    "cautions": Caution,
    "temperature": TemperatureSlope,
    "attenuation": Attenuation,
    "lines": Line,
    "disc_factors": DiscFactor,
    "elastic": Elastic,
    "sound_speeds": SoundSpeed,
}
# what makes a row unique in its table
KEYS: dict[str, tuple[str, ...]] = {
    "SOURCES": ("key",),
    "formulas": ("step", "what"),
    "metals": ("symbol",),
    "grades": ("name",),
    "families": ("family",),
    "claims": ("claim",),
    "claim_words": ("role", "means"),
    "pairs": ("first", "second", "beside"),
    "pair_classes": ("first", "second"),
    "pair_defaults": ("miscibility", "group", "other"),
    "effective_terms": ("first", "second", "beside"),
    "density_points": ("composition", "density_g_cm3", "source"),
    "resistivity_points": ("composition", "resistivity_uohm_cm", "source"),
    "claim_priors": ("kind",),
    "skins": ("name",),
    "strikes": ("metal", "um"),
    "clad": ("name",),
    "inserts": ("construction", "part"),
    "spans": ("construction", "kind", "least"),
    "times": ("kind",),
    "commonness": ("word",),
    "magnet": ("magnetic", "made"),
    "surface_classes": ("surface",),
    "touch": ("reading", "surface"),
    "inclusions": ("name",),
    "coins": ("id",),
    "cautions": ("code",),
    "temperature": ("metal",),
    "attenuation": ("symbol", "energy_keV"),
    "lines": ("symbol",),
    "disc_factors": ("mode", "poisson", "thickness_over_radius"),
    "elastic": ("of", "name"),
    "sound_speeds": ("of", "name"),
}

R = TypeVar("R")


def folder() -> Path:
    """The folder of the shipped tables: inside the package if it is installed, beside it in a checkout."""
    package = Path(__file__).parent.parent
    inside = package / "tables"
    return inside if inside.is_dir() else package.parent / "tables"


def parse_composition(text: str) -> Composition:
    """Mass percent by symbol, from a text like ``"Cu:70;Zn:30"``.

    >>> parse_composition("Cu:70;Zn:30")
    {'Cu': 70.0, 'Zn': 30.0}
    """
    out = {}
    for part in filter(None, text.split(";")):
        symbol, _, number = part.partition(":")
        out[symbol.strip()] = float(number)
    return out


def parse_layers(text: str) -> Layers:
    """``"face=Cu:75;Ni:25 | core=Cu:100"`` as the composition of each place in mass percent by symbol.

    >>> parse_layers("face=Cu:75;Ni:25 | core=Cu:100")
    {'face': {'Cu': 75.0, 'Ni': 25.0}, 'core': {'Cu': 100.0}}
    """
    out: Layers = {}
    for part in filter(None, text.split("|")):
        place, _, composition = part.partition("=")
        if place.strip() in out:
            raise ValueError(text)
        out[place.strip()] = parse_composition(composition)
    return out


def parse_limits(text: str) -> Limits:
    """Lowest and highest mass percent by symbol, from a text like ``"Cu:55-96;Zn:4-45"``.

    >>> parse_limits("Cu:55-96;Zn:4-45")
    {'Cu': (55.0, 96.0), 'Zn': (4.0, 45.0)}
    """
    out = {}
    for part in filter(None, text.split(";")):
        symbol, _, interval = part.partition(":")
        low, _, high = interval.partition("-")
        if not float(low) <= float(high) <= 100:
            raise ValueError(text)
        out[symbol.strip()] = (float(low), float(high))
    return out


def _flag(text: str) -> bool:
    return {"yes": True, "no": False}[text]


_CONVERTERS: dict[object, tuple[Callable[[str], Any], str]] = {
    str: (str, "text"),
    int: (int, "a whole number"),
    float: (float, "a number"),
    bool: (_flag, '"yes" or "no"'),
    Composition: (parse_composition, 'mass percent as "Cu:70;Zn:30"'),
    Layers: (parse_layers, 'compositions by place as "face=Cu:75;Ni:25 | core=Cu:100"'),
    Limits: (parse_limits, 'limits in mass percent as "Cu:55-96;Zn:4-45"'),
}


def _converter(kind: Any) -> Callable[[str], Any]:
    """What turns the text of a cell into a value of some type; it raises ValueError or KeyError if it cannot."""
    if isinstance(kind, types.UnionType):  # float | None
        some = _converter(typing.get_args(kind)[0])
        return lambda text: None if text == "" else some(text)
    if typing.get_origin(kind) is Literal:
        return {word: word for word in typing.get_args(kind)}.__getitem__
    return _CONVERTERS[kind][0]


def _expected(kind: Any) -> str:
    if isinstance(kind, types.UnionType):
        return _expected(typing.get_args(kind)[0]) + " or nothing"
    if typing.get_origin(kind) is Literal:
        return "one of " + ", ".join(typing.get_args(kind))
    return _CONVERTERS[kind][1]


@cache
def _hints(record: Any) -> dict[str, Any]:
    """The type of each field of a record."""
    return typing.get_type_hints(record)


def _unreadable(path: Path, error: Exception) -> TableError:
    return TableError(str(path), str(error), "a CSV file in UTF-8", "check the path and the file")


def rows_of(path: Path, text: bytes, record: type[R]) -> dict[int, R]:
    """All rows of one CSV file as records, by the number of their line.

    Raises
    ------
    TableError
        For bytes that are no text, a wrong header or a bad cell, with file, line, column and value.
    """
    hints = _hints(typing.cast(Any, record))
    try:
        lines = csv.reader(text.decode("utf-8-sig").splitlines())
    except UnicodeDecodeError as e:
        raise _unreadable(path, e) from e
    header = next(lines, [])
    _check_header(path, header, hints)
    found, numbers = [], []
    for cells in lines:
        if not cells:
            continue
        if len(cells) != len(header):
            place = f"{path.name}:{lines.line_num}"
            raise TableError(place, len(cells), f"{len(header)} cells", "quote cells that hold a comma")
        found.append(cells)
        numbers.append(lines.line_num)
    cells_of = dict(zip(header, zip(*found, strict=True), strict=False))  # no rows, no columns
    columns = [_values(path, numbers, column, cells_of.get(column, ()), hints[column]) for column in hints]
    return dict(zip(numbers, (record(*row) for row in zip(*columns, strict=True)), strict=True))


def _check_header(path: Path, header: list[str], known: Mapping[str, Any]) -> None:
    """Refuses a header that is not that of the shipped table."""
    said = ",".join(header)[:60]
    if len(header) == 1 and ";" in header[0]:
        raise TableError(f"{path.name}:1", said, "commas between the columns", "save it as CSV with commas")
    twice = [column for column in header if header.count(column) > 1]
    wrong = [f"no column {c!r}" for c in header if c not in known]
    wrong += [f"a column {c!r}" for c in known if c not in header]
    wrong += [f"one column {c!r}" for c in twice]
    if wrong:
        column = wrong[0].split("'")[1]
        step = "take the header of the shipped table; order does not matter"
        raise TableError(f"{path.name}:1:{column}", said, wrong[0], step)


def _values(path: Path, numbers: list[int], column: str, cells: tuple[str, ...], kind: Any) -> list[Any]:
    """The values of a column, from the text of its cells and the numbers of their lines."""
    convert = _converter(kind)
    try:
        return [convert(cell) for cell in map(str.strip, cells)]
    except (ValueError, KeyError):
        bad, error = next((n, e) for n, cell in enumerate(cells) if (e := _fault(convert, cell.strip())))
        place = f"{path.name}:{numbers[bad]}:{column}"
        raise TableError(place, cells[bad], _expected(kind), "mend the cell") from error


def _fault(convert: Callable[[str], Any], cell: str) -> Exception | None:
    try:
        convert(cell)
    except (ValueError, KeyError) as e:
        return e
    return None


class Tables:
    """The tables in use: the shipped ones, with rows replaced or added from files of the same names.

    Parameters
    ----------
    extra : CSV files, or folders of them, named like the shipped tables (``grades.csv``).

    >>> Tables().metals["Ag"].molar_mass_g_mol
    107.8682
    """

    def __init__(self, extra: str | Path | Iterable[str | Path] = ()) -> None:
        self._extra: dict[str, list[Path]] = {}
        self._rows: dict[str, dict[tuple[str, ...], Any]] = {}
        self._texts: dict[Path, bytes] = {}
        for given in map(Path, [extra] if isinstance(extra, str | Path) else extra):
            files = sorted(given.glob("*.csv")) if given.is_dir() else [given]
            for file in files:
                if file.stem not in RECORDS or not file.is_file():
                    raise TableError(
                        str(file),
                        file.name,
                        "one of " + ", ".join(f"{n}.csv" for n in RECORDS),
                        "name the file after the table it adds to",
                    )
                self._extra.setdefault(file.stem, []).append(file)
        added = ((name, self._text(file)) for name, files in sorted(self._extra.items()) for file in files)
        self._contents = (type(self), str(folder()), *added)

    def __eq__(self, other: object) -> bool:
        """Whether the contents of all files are the same, wherever they lie; of other classes, whether it is this one.

        What is kept of some tables is found by this, so that an edited file never gives what was made of the old one.
        """
        if type(self) is not Tables or not isinstance(other, Tables):
            return self is other
        return self._contents == other._contents

    def __hash__(self) -> int:
        return hash(self._contents) if type(self) is Tables else id(self)

    def files(self, name: str) -> list[Path]:
        """The files from which a table is read, the shipped one first."""
        return [folder() / f"{name}.csv", *self._extra.get(name, [])]

    def rows(self, name: str) -> list[Any]:
        """All records of a table, in file order."""
        if name not in self._rows:
            merged: dict[tuple[str, ...], Any] = {}
            for own, file in enumerate(self.files(name)):
                rows: dict[int, Any] = rows_of(file, self._text(file), RECORDS[name])
                if own:
                    self._check(name, file, rows)
                merged.update({tuple(str(getattr(row, column)) for column in KEYS[name]): row for row in rows.values()})
            self._rows[name] = merged
        return list(self._rows[name].values())

    def _check(self, name: str, file: Path, rows: Mapping[int, Any]) -> None:
        """Refuses rows of an own file that cannot be right; the shipped ones are tested."""
        from .checks import fault

        keys = cache(lambda table: {str(getattr(row, KEYS[table][0])) for row in self.rows(table)})
        for number, row in rows.items():
            if wrong := fault(name, row, keys):
                column, given, expected = wrong
                raise TableError(f"{file.name}:{number}:{column}", given, expected, "mend the cell")

    def hashes(self) -> dict[str, str]:
        """SHA-256 of every file in use, by table name; a table read from several files has one hash per file."""
        return dict(self._hashes)

    @cached_property
    def _hashes(self) -> dict[str, str]:
        out = {}
        for name in RECORDS:
            for i, file in enumerate(self.files(name)):
                label = f"{name}.csv" if i == 0 else f"{name}.csv+{i}"
                out[label] = hashlib.sha256(self._text(file)).hexdigest()
        return out

    def _text(self, file: Path) -> bytes:
        """The bytes of a file, read once, so that rows and hash are of the same bytes."""
        if file not in self._texts:
            try:
                self._texts[file] = file.read_bytes()
            except OSError as e:
                raise _unreadable(file, e) from e
        return self._texts[file]

    @cached_property
    def version(self) -> str:
        """What to cite: the first 12 hex digits of the SHA-256 of all files in use and their names."""
        return digest(self, RECORDS)[:12]

    @cached_property
    def metals(self) -> Mapping[str, Metal]:
        """Metals by symbol."""
        return {m.symbol: m for m in self.rows("metals")}

    @cached_property
    def grades(self) -> Mapping[str, Grade]:
        """Published alloys by name."""
        return {g.name: g for g in self.rows("grades")}

    @cached_property
    def families(self) -> Mapping[str, Family]:
        """Families by name."""
        return {f.family: f for f in self.rows("families")}

    @cached_property
    def claim_priors(self) -> Mapping[str, ClaimPrior]:
        """Prior beliefs, by kind of claim."""
        return {k.kind: k for k in self.rows("claim_priors")}


def digest(tables: Tables, names: Iterable[str]) -> str:
    """SHA-256 of all files of some tables and their names.

    A class with other rows than its files must say so in its hashes, or what is kept of the files is taken for its own.
    """
    kind = type(tables)
    if kind.rows is not Tables.rows and kind.hashes is Tables.hashes:
        raise TypeError(f"{kind.__name__} changes rows and not their hashes")
    some = sorted((label, each) for label, each in tables.hashes().items() if label.partition(".")[0] in names)
    return hashlib.sha256("".join(f"{label} {each}\n" for label, each in some).encode()).hexdigest()


def tables_in_use(given: Any) -> Tables:
    """Tables as they are, or the shipped ones if none are given."""
    if given is not None and not isinstance(given, Tables):
        raise InputError("tables", str(given)[:60], "Tables", "write Tables([path]) for files of your own")
    return default_tables() if given is None else given


@cache
def default_tables() -> Tables:
    """The shipped tables, loaded once."""
    return Tables()
