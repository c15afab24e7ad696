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
from dataclasses import dataclass, fields
from functools import cache, cached_property
from pathlib import Path
from typing import Any, ClassVar, Literal, TypeVar

from ..errors import TableError

Composition = dict[str, float]  # symbol -> mass percent
Layers = dict[str, Composition]  # place in the piece ("core", "face") -> its composition
Limits = dict[str, tuple[float, float]]  # symbol -> lowest and highest mass percent
Mark = Literal["three digits", "coarse", "one decimal", "computed", "memory"]  # explained in tables/README.md
Tier = Literal["mint or law", "secondary"]
READ_MARKS: tuple[Mark, ...] = ("three digits", "coarse", "one decimal")  # read in a source that had not computed it


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure was read. `seen` is "yes", or "memory" for a figure that nobody looked up."""

    KEY: ClassVar = ("key",)
    key: str
    citation: str
    address: str
    seen: str


@dataclass(frozen=True, slots=True)
class Metal:
    """An element as a bulk solid at 20 degC; its density is the one with which the pair terms were fitted."""

    KEY: ClassVar = ("symbol",)
    symbol: str
    name: str
    density_g_cm3: float
    u_density_g_cm3: float
    temperature_degC: float
    molar_mass_g_mol: float
    resistivity_uohm_cm: float | None
    youngs_modulus_gpa: float | None
    poisson: float | None
    expansion_1e6_K: float | None
    magnetic: str  # class of magnet.csv: "none" or "strong"
    precious: bool
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class Grade:
    """One published alloy."""

    KEY: ClassVar = ("name",)
    name: str
    designation: str
    family: str
    composition: Composition
    density_g_cm3: float
    u_density_g_cm3: float
    conductivity_iacs: float | None
    u_conductivity_iacs: float | None
    temper: str
    mark: Mark
    composition_basis: str
    source: str
    source_conductivity: str
    caveat: str


@dataclass(frozen=True, slots=True)
class Family:
    """A composition region with a trade or standard name; the first metal of `limits` is the balance."""

    KEY: ClassVar = ("family",)
    family: str
    words: str  # what an answer calls it, e.g. "brass"
    system: str  # symbols, e.g. "Cu Zn"
    limits: Limits
    sigma_percent: float  # one standard scatter of published densities about the mixing law
    class_sigma_percent: float  # the scatter expected of its class, before any residual was seen
    porosity_percent: float  # mean one-sided deficit of density of castings and sintered metal
    iron: str  # "fcc" where the matrix is austenite, else ""
    magnetic: str  # class of magnet.csv
    none: str  # commonness by kind of claim: common, occasional, rare, never
    silver: str
    gold: str
    platinum: str
    palladium: str
    base: str
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class ClaimRegion:
    """The composition region that a claim of fineness means."""

    KEY: ClassVar = ("claim",)
    claim: str  # canonical words, e.g. "silver 925", "gold 18 ct yellow"
    metal: str  # symbol of the claimed metal
    colour: str
    also: str  # other names, separated by ";"
    limits: Limits
    sigma_percent: float
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class Pair:
    """Excess volume and resistivity terms of two metals (derived by make_pairs.py).

    A row with `beside` replaces the plain row of its pair if the composition holds at least
    `beside_percent` of that third metal.
    """

    KEY: ClassVar = ("first", "second", "beside")
    first: str
    second: str
    beside: str
    beside_percent: float
    miscibility: str
    excess_0_cm3_mol: float
    excess_1_cm3_mol: float
    u_excess_cm3_mol: float
    excess_lowest_percent: float | None  # fitted range of the second metal, mass percent
    excess_highest_percent: float | None
    excess_rms_percent: float | None
    excess_points: int
    resistivity_0_uohm_cm: float
    resistivity_1_uohm_cm: float
    resistivity_2_uohm_cm: float
    u_resistivity_uohm_cm: float
    two_phase_share: float  # a and w0 of the two-phase factor; 0 for solid solutions
    two_phase_percent: float
    resistivity_points: int
    source: str


@dataclass(frozen=True, slots=True)
class PairClass:
    """How far two metals mix when solid."""

    KEY: ClassVar = ("first", "second")
    first: str
    second: str
    miscibility: str
    note: str
    source: str


@dataclass(frozen=True, slots=True)
class PairDefault:
    """What is assumed for a pair that nobody has measured, by class of miscibility and groups of metals."""

    KEY: ClassVar = ("miscibility", "group", "other")
    miscibility: str
    group: str  # symbols, separated by spaces, that one metal of the pair must be among; "" for any
    other: str  # the same for the other metal; the first row that matches counts
    denser_percent: float  # density above the ideal rule at equal atomic shares
    u_denser_percent: float
    resistivity_uohm_cm: float  # Nordheim's C0
    u_resistivity_uohm_cm: float
    source: str


@dataclass(frozen=True, slots=True)
class EffectiveTerm:
    """An excess term that replaces the pair's own if enough of a third metal is present."""

    KEY: ClassVar = ("first", "second", "beside")
    first: str
    second: str
    beside: str
    from_percent: float
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class DensityPoint:
    """One published density of an alloy that is no grade, for the fit of the pair terms."""

    KEY: ClassVar = ("composition", "density_g_cm3", "source")
    composition: Composition
    density_g_cm3: float
    u_density_g_cm3: float
    iron: str
    mark: Mark
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class ResistivityPoint:
    """One published resistivity at 20 degC."""

    KEY: ClassVar = ("composition", "resistivity_uohm_cm", "source")
    composition: Composition
    resistivity_uohm_cm: float
    u_resistivity_uohm_cm: float
    mark: Mark
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class ClaimPrior:
    """What is expected before any reading, per kind of claim: a judgement that can be edited."""

    KEY: ClassVar = ("kind",)
    kind: str
    claim: float  # share of "the claim is true"
    less_fine: float  # the claimed metal, alloyed the same way, at a lower standard fineness
    homogeneous: float
    plated: float
    enriched: float  # share of the bare pieces of silver and gold alloys whose surface differs from the body
    clad: float
    cored: float
    assembled: float
    hollow: float
    pairs: float  # arbitrary pairs of metals
    triples: float
    other: float  # "something else"
    skins: Composition  # rows of skins.csv or metals with their shares
    source: str


@dataclass(frozen=True, slots=True)
class SkinMaterial:
    """A material of skins, faces and parts that is not a pure metal of metals.csv, or differs from it when plated."""

    KEY: ClassVar = ("name",)
    name: str
    words: str
    composition: Composition
    resistivity_uohm_cm: float | None  # None: by the rule for mixtures
    mu_r: float
    magnetic: str  # class of magnet.csv, of a layer thick enough to be felt
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class StrikeRow:
    """A thin layer under a skin, with the share of skins that have it, per kind of claim."""

    KEY: ClassVar = ("metal", "um")
    metal: str
    um: float  # one node of its thickness
    none: float
    silver: float
    gold: float
    platinum: float
    palladium: float
    base: float
    source: str


@dataclass(frozen=True, slots=True)
class CladStock:
    """Published clad stock: faces on both sides of a core."""

    KEY: ClassVar = ("name",)
    name: str
    words: str
    faces: str  # row of skins.csv
    core: str  # row of families.csv
    share: float  # of both faces together, by volume
    u_share: float
    source: str


@dataclass(frozen=True, slots=True)
class Span:
    """One part of the expected thickness of a skin [um], or of a share of empty space, uniform in the logarithm."""

    KEY: ClassVar = ("construction", "kind", "least")
    construction: str  # word of `pieces.candidates.CONSTRUCTIONS`
    kind: str  # row of claim_priors.csv
    share: float  # the parts of one construction and kind sum to 1
    least: float
    most: float
    source: str


@dataclass(frozen=True, slots=True)
class Time:
    """How long one kind of reading takes at a counter with everything at hand."""

    KEY: ClassVar = ("kind",)
    kind: str  # "weighing" or a kind of reading
    minutes: float
    source: str


@dataclass(frozen=True, slots=True)
class Insert:
    """What may lie in a shell or be joined to a body: its share of the volume, and its weight per kind of claim."""

    KEY: ClassVar = ("construction", "part")
    construction: str  # "cored" or "assembled"
    part: str  # symbol of metals.csv or row of skins.csv
    least: float
    most: float
    silver: float
    gold: float
    platinum: float
    palladium: float
    source: str


@dataclass(frozen=True, slots=True)
class Word:
    """The weight that stands for a word of commonness."""

    KEY: ClassVar = ("word",)
    word: str
    weight: float
    source: str


@dataclass(frozen=True, slots=True)
class MagnetRow:
    """How often a body of one class gives each answer to a hand magnet."""

    KEY: ClassVar = ("magnetic",)
    magnetic: str
    none: float
    weak: float
    strong: float
    source: str


@dataclass(frozen=True, slots=True)
class SurfaceClass:
    """A class of what lies outermost, and how often it gives each answer to the eye, the touchstone and acid.

    The first row whose limits hold counts; a row without limits stands for everything else.
    """

    KEY: ClassVar = ("surface",)
    surface: str
    holds: Limits  # a sum of metals is written "Ni+Pd"; metals that are not named are free
    copper_over: float | None  # least copper over silver and zinc together, mass over mass
    colour: Composition  # answers with their shares [percent]
    streak: Composition
    acid: Composition
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class Inclusion:
    """A stone or filler whose volume is subtracted."""

    KEY: ClassVar = ("name",)
    name: str
    density_g_cm3: float
    u_density_g_cm3: float
    do_not_wet: bool
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class CoinType:
    """A coin type from an official specification."""

    KEY: ClassVar = ("id",)
    id: str
    issuer: str
    coin: str
    years: str
    mass_g: float | None
    u_mass_g: float | None
    diameter_mm: float | None
    thickness_mm: float | None
    shape: str
    construction: str
    layers: Layers
    composition: Composition
    legal_tender: bool
    tier: Tier
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class Caution:
    """The share of a metal from which a caution applies, if any candidate holds as much."""

    KEY: ClassVar = ("code",)
    code: str
    metal: str
    from_percent: float
    source: str


@dataclass(frozen=True, slots=True)
class TemperatureSlope:
    """How the resistivity of a metal, and of alloys in which it is the host, changes with temperature near 20 degC."""

    KEY: ClassVar = ("metal",)
    metal: str
    slope_uohm_cm_K: float
    u_slope_uohm_cm_K: float  # for the alloys of this host
    source: str
    caveat: str


@dataclass(frozen=True, slots=True)
class Attenuation:
    """Total X-ray mass attenuation of an element at one energy (derived by make_attenuation.py)."""

    KEY: ClassVar = ("symbol", "energy_keV")
    symbol: str
    energy_keV: float  # two rows, at most 0.2 eV apart, at each absorption edge
    attenuation_cm2_g: float
    source: str


@dataclass(frozen=True, slots=True)
class Line:
    """The X-ray line by which an element is read, and the shell behind it (derived by make_attenuation.py)."""

    KEY: ClassVar = ("symbol",)
    symbol: str
    line: str
    energy_keV: float
    edge: str
    edge_keV: float
    source: str


@dataclass(frozen=True, slots=True)
class DiscFactor:
    """Factor K of a tone of a free disc (derived by make_disc_factors.py)."""

    KEY: ClassVar = ("mode", "poisson", "thickness_over_radius")
    mode: str  # nodal diameters, nodal circles: "2,0", "0,1", "3,0"
    poisson: float
    thickness_over_radius: float
    factor: float
    source: str


@dataclass(frozen=True, slots=True)
class Elastic:
    """Young's modulus and Poisson's ratio of a grade or a family at 20 degC."""

    KEY: ClassVar = ("of", "name")
    of: str  # "grade" or "family"
    name: str  # a row of grades.csv or families.csv
    youngs_modulus_gpa: float
    u_youngs_modulus_gpa: float
    poisson: float | None
    u_poisson: float | None
    condition: str
    source: str
    source_poisson: str
    caveat: str


@dataclass(frozen=True, slots=True)
class SoundSpeed:
    """Published speed of sound in a metal, a grade or a family."""

    KEY: ClassVar = ("of", "name")
    of: str  # "metal", "grade" or "family"
    name: str  # a symbol of metals.csv, or a row of grades.csv or families.csv
    speed_m_s: float  # of the pressure wave
    u_speed_m_s: float
    shear_m_s: float | None
    condition: str
    source: str
    caveat: str


RECORDS: dict[str, type] = {
    "SOURCES": Source,
    "metals": Metal,
    "grades": Grade,
    "families": Family,
    "claims": ClaimRegion,
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


def _convert(text: str, kind: Any) -> Any:
    if isinstance(kind, types.UnionType):  # float | None
        return None if text == "" else _convert(text, typing.get_args(kind)[0])
    if typing.get_origin(kind) is Literal:
        return {word: word for word in typing.get_args(kind)}[text]
    return _CONVERTERS[kind][0](text)


def _expected(kind: Any) -> str:
    if isinstance(kind, types.UnionType):
        return _expected(typing.get_args(kind)[0]) + " or nothing"
    if typing.get_origin(kind) is Literal:
        return "one of " + ", ".join(typing.get_args(kind))
    return _CONVERTERS[kind][1]


@cache
def _hints(record: Any) -> dict[str, Any]:
    hints = typing.get_type_hints(record)
    return {f.name: hints[f.name] for f in fields(record)}


def read_rows(path: Path, record: type[R]) -> list[R]:
    """All rows of one CSV file as records.

    Raises
    ------
    TableError
        For an unreadable file, a wrong header or a bad cell, with file, line, column and value.
    """
    hints = _hints(typing.cast(Any, record))
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as e:
        raise TableError(str(path), str(e), "a CSV file in UTF-8", "check the path and the file") from e
    lines = csv.reader(text.splitlines())
    header = next(lines, [])
    wrong = sorted(set(header) ^ set(hints))
    if wrong:
        raise TableError(
            f"{path.name}:1:{wrong[0]}", ",".join(header)[:60], f"the columns {', '.join(hints)}", "mend the header"
        )
    rows = []
    for cells in lines:
        if not cells:
            continue
        place = f"{path.name}:{lines.line_num}"
        if len(cells) != len(header):
            raise TableError(place, len(cells), f"{len(header)} cells", "quote cells that hold a comma")
        row = {}
        for column, cell in zip(header, cells, strict=True):
            try:
                row[column] = _convert(cell.strip(), hints[column])
            except (ValueError, KeyError) as e:
                raise TableError(f"{place}:{column}", cell, _expected(hints[column]), "mend the cell") from e
        rows.append(record(**row))
    return rows


def row_key(row: Any) -> tuple[str, ...]:
    """The values that make a row unique in its table."""
    return tuple(str(getattr(row, name)) for name in type(row).KEY)


class Tables:
    """The tables in use: the shipped ones, with rows replaced or added from files of the same names.

    Parameters
    ----------
    extra : CSV files, or folders of them, named like the shipped tables (``grades.csv``).

    >>> Tables().metals["Ag"].molar_mass_g_mol
    107.8682
    """

    def __init__(self, extra: Iterable[str | Path] = ()) -> None:
        self._extra: dict[str, list[Path]] = {}
        for given in map(Path, extra):
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
        self._rows: dict[str, dict[tuple[str, ...], Any]] = {}

    def files(self, name: str) -> list[Path]:
        """The files from which a table is read, the shipped one first."""
        return [folder() / f"{name}.csv", *self._extra.get(name, [])]

    def rows(self, name: str) -> list[Any]:
        """All records of a table, in file order."""
        if name not in self._rows:
            merged: dict[tuple[str, ...], Any] = {}
            for file in self.files(name):
                rows: list[Any] = read_rows(file, RECORDS[name])
                merged.update({row_key(row): row for row in rows})
            self._rows[name] = merged
        return list(self._rows[name].values())

    def hashes(self) -> dict[str, str]:
        """SHA-256 of every file in use, by table name; a table read from several files has one hash per file."""
        out = {}
        for name in RECORDS:
            for i, file in enumerate(self.files(name)):
                label = f"{name}.csv" if i == 0 else f"{name}.csv+{i}"
                out[label] = hashlib.sha256(file.read_bytes()).hexdigest()
        return out

    @cached_property
    def version(self) -> str:
        """What to cite: the first 12 hex digits of the SHA-256 of all files in use and their names."""
        every = "".join(f"{name} {digest}\n" for name, digest in sorted(self.hashes().items()))
        return hashlib.sha256(every.encode()).hexdigest()[:12]

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


@cache
def default_tables() -> Tables:
    """The shipped tables, loaded once."""
    return Tables()
