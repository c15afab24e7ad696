"""Rows of the tables about metals and alloys: what was published of them, with units and sources."""

from __future__ import annotations

from typing import Literal, NamedTuple

Composition = dict[str, float]  # symbol -> mass percent
Layers = dict[str, Composition]  # place in the piece ("core", "face") -> its composition
Limits = dict[str, tuple[float, float]]  # symbol -> lowest and highest mass percent
Mark = Literal["three digits", "coarse", "one decimal", "computed", "memory"]  # explained in tables/README.md
Tier = Literal["mint or law", "secondary"]
READ_MARKS: tuple[Mark, ...] = ("three digits", "coarse", "one decimal")  # read in a source that had not computed it


class Source(NamedTuple):
    """Where a figure was read. `seen` is "yes", or "memory" for a figure that nobody looked up."""

    key: str
    citation: str
    address: str
    seen: str


class Formula(NamedTuple):
    """A published formula or rule that one step of an answer follows."""

    step: str  # "weighing", "mixing" or a kind of reading
    what: str
    source: str


class Metal(NamedTuple):
    """An element as a bulk solid at 20 degC; its density is the one with which the pair terms were fitted."""

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


class Grade(NamedTuple):
    """One published alloy."""

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


class Family(NamedTuple):
    """A composition region with a trade or standard name; the first metal of `limits` is the balance."""

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


class Pair(NamedTuple):
    """Excess volume and resistivity terms of two metals (derived by make_pairs.py).

    A row with `beside` replaces the plain row of its pair if the composition holds at least
    `beside_percent` of that third metal.
    """

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


class PairClass(NamedTuple):
    """How far two metals mix when solid."""

    first: str
    second: str
    miscibility: str
    note: str
    source: str


class PairDefault(NamedTuple):
    """What is assumed for a pair that nobody has measured, by class of miscibility and groups of metals."""

    miscibility: str
    group: str  # symbols, separated by spaces, that one metal of the pair must be among; "" for any
    other: str  # the same for the other metal; the first row that matches counts
    denser_percent: float  # density above the ideal rule at equal atomic shares
    u_denser_percent: float
    resistivity_uohm_cm: float  # Nordheim's C0
    u_resistivity_uohm_cm: float
    source: str


class EffectiveTerm(NamedTuple):
    """An excess term that replaces the pair's own if enough of a third metal is present."""

    first: str
    second: str
    beside: str
    from_percent: float
    source: str
    caveat: str


class DensityPoint(NamedTuple):
    """One published density of an alloy that is no grade, for the fit of the pair terms."""

    composition: Composition
    density_g_cm3: float
    u_density_g_cm3: float
    iron: str
    mark: Mark
    source: str
    caveat: str


class ResistivityPoint(NamedTuple):
    """One published resistivity at 20 degC."""

    composition: Composition
    resistivity_uohm_cm: float
    u_resistivity_uohm_cm: float
    mark: Mark
    source: str
    caveat: str


class TemperatureSlope(NamedTuple):
    """How the resistivity of a metal, and of alloys in which it is the host, changes with temperature near 20 degC."""

    metal: str
    slope_uohm_cm_K: float
    u_slope_uohm_cm_K: float  # for the alloys of this host
    source: str
    caveat: str


class Attenuation(NamedTuple):
    """Total X-ray mass attenuation of an element at one energy (derived by make_attenuation.py)."""

    symbol: str
    energy_keV: float  # two rows, at most 0.2 eV apart, at each absorption edge
    attenuation_cm2_g: float
    source: str


class Line(NamedTuple):
    """The X-ray line by which an element is read, and the shell behind it (derived by make_attenuation.py)."""

    symbol: str
    line: str
    energy_keV: float
    edge: str
    edge_keV: float
    source: str


class DiscFactor(NamedTuple):
    """Factor K of a tone of a free disc (derived by make_disc_factors.py)."""

    mode: str  # nodal diameters, nodal circles: "2,0", "0,1", "3,0"
    poisson: float
    thickness_over_radius: float
    factor: float
    source: str


class Elastic(NamedTuple):
    """Young's modulus and Poisson's ratio of a grade or a family at 20 degC."""

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


class SoundSpeed(NamedTuple):
    """Published speed of sound in a metal, a grade or a family."""

    of: str  # "metal", "grade" or "family"
    name: str  # a symbol of metals.csv, or a row of grades.csv or families.csv
    speed_m_s: float  # of the pressure wave
    u_speed_m_s: float
    shear_m_s: float | None
    condition: str
    source: str
    caveat: str
