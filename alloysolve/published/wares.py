"""Rows of the tables about pieces: claims, coins, skins, cores, stones, cautions, and what is expected of them."""

from __future__ import annotations

from typing import Literal, NamedTuple

from .metals import Composition, Layers, Limits, Tier


class ClaimRegion(NamedTuple):
    """The composition region that a claim of fineness means."""

    claim: str  # canonical words, e.g. "silver 925", "gold 18 ct yellow"
    metal: str  # symbol of the claimed metal
    colour: str
    also: str  # other names, separated by ";"
    limits: Limits
    sigma_percent: float
    source: str
    caveat: str


class ClaimWords(NamedTuple):
    """Words of claims that have one meaning."""

    role: str  # "precious metal", "base metal", "colour", "layer", "asked" and others
    means: str  # symbol, colour or issuer; of ambiguous words, what is expected in their place
    words: str  # words and phrases, separated by ";"
    families: str  # of a base metal, separated by ";"; "* bronze": all whose name contains the word
    layer: str  # what a layer of the metal is called, or of which material a word for a layer is, or ""
    body: str  # the words for the body that a word for a layer brings along, or ""
    bond: str  # of a word for a layer: "plated", "bonded" or "clad"
    least_um: float | None  # least thickness of a layer in fine metal
    source: str


class ClaimPrior(NamedTuple):
    """What is expected before any reading, per kind of claim: a judgement that can be edited."""

    kind: str
    claim: float  # share of "the claim is true"
    less_fine: float  # the claimed metal, alloyed the same way, at a lower standard fineness
    homogeneous: float
    plated: float
    enriched: float  # share of the bare pieces of silver and gold alloys whose surface differs from the body
    clad: float
    cored: float
    assembled: float
    weighted: float  # of ware that may be weighted, such as candlesticks; of all other pieces these are solid
    hollow: float
    pairs: float  # arbitrary pairs of metals
    triples: float
    other: float  # "something else"
    skins: Composition  # rows of skins.csv or metals with their shares
    source: str


class SkinMaterial(NamedTuple):
    """A material of skins, faces and parts that is not a pure metal of metals.csv, or differs from it when plated."""

    name: str
    words: str
    composition: Composition
    u_points: float | None  # scatter of its shares [percentage points], if it is made with no fixed composition
    density_g_cm3: float | None  # None: by the mixing law
    resistivity_uohm_cm: float | None  # None: by the rule for mixtures
    mu_r: float
    magnetic: str  # class of magnet.csv, of a layer thick enough to be felt
    most_um: float | None  # thickness beyond which nobody makes such a layer; None: as far as spans.csv goes
    over_strikes: bool  # whether a thin layer may lie under it, as under what is plated
    source: str
    caveat: str


class StrikeRow(NamedTuple):
    """A thin layer under a skin, with the share of skins that have it, per kind of claim."""

    metal: str
    um: float  # one node of its thickness
    none: float
    silver: float
    gold: float
    platinum: float
    palladium: float
    base: float
    source: str


class CladStock(NamedTuple):
    """Published clad stock: faces on both sides of a core."""

    name: str
    words: str
    faces: str  # row of skins.csv
    core: str  # row of families.csv
    share: float  # of both faces together, by volume
    u_share: float
    source: str


class Span(NamedTuple):
    """One part of the expected thickness of a skin [um], or of a share of empty space, uniform in the logarithm."""

    construction: str  # word of `pieces.constructions.CONSTRUCTIONS`
    kind: str  # row of claim_priors.csv
    share: float  # the parts of one construction and kind sum to 1
    least: float
    most: float
    source: str


class Time(NamedTuple):
    """How long one kind of reading takes at a counter with everything at hand."""

    kind: str  # "weighing" or a kind of reading
    minutes: float
    source: str


class Insert(NamedTuple):
    """What may lie in a shell or be joined to a body: its share of the volume, and its weight per kind of claim."""

    construction: str  # "cored" or "assembled"
    part: str  # symbol of metals.csv or row of skins.csv
    least: float
    most: float
    silver: float
    gold: float
    platinum: float
    palladium: float
    source: str


class Word(NamedTuple):
    """The weight that stands for a word of commonness."""

    word: str
    weight: float
    source: str


class MagnetRow(NamedTuple):
    """How often a body of one class, in a piece that is made in a certain way, gives each answer to a hand magnet."""

    magnetic: str
    made: str  # "in one", or "with parts" of which one may be of steel
    none: float
    weak: float
    strong: float
    source: str


class SurfaceClass(NamedTuple):
    """A class of what lies outermost, and how often it gives each answer to the eye, the touchstone and acid.

    The first row whose limits hold counts; a row without limits stands for everything else.
    """

    surface: str
    holds: Limits  # a sum of metals is written "Ni+Pd"; metals that are not named are free
    copper_over: float | None  # least copper over silver and zinc together, mass over mass
    colour: Composition  # answers with their shares [percent]
    streak: Composition
    acid: Composition
    source: str
    caveat: str


class TouchClass(NamedTuple):
    """A class of streaks, and how often it answers an acid of some carat, or looks beside a touch needle, so or so.

    The first row whose limits hold counts; a row without limits stands for everything else.
    """

    reading: Literal["acid", "needle"]
    surface: str
    holds: Limits  # this and the next as in surface_classes.csv
    copper_over: float | None
    from_ct: float | None  # least carat of the gold above that of the acid or needle; None: any
    to_ct: float | None  # and highest
    answers: Composition  # with their shares [percent]
    source: str
    caveat: str


class Inclusion(NamedTuple):
    """A stone or filler whose volume is subtracted."""

    name: str
    density_g_cm3: float
    u_density_g_cm3: float
    do_not_wet: bool
    source: str
    caveat: str


class CoinType(NamedTuple):
    """A coin type from an official specification."""

    id: str
    issuer: str
    coin: str
    years: str
    mass_g: float | None
    u_mass_g: float | None
    wear_percent: float  # mean loss of mass in circulation
    diameter_mm: float | None
    u_diameter_mm: float | None
    thickness_mm: float | None
    u_thickness_mm: float | None
    shape: str
    construction: str
    layers: Layers
    composition: Composition
    fineness_tolerance_percent: float | None  # greatest lawful deviation of the precious metal, percent by mass
    legal_tender: bool
    tier: Tier
    source: str
    caveat: str


class Caution(NamedTuple):
    """The share of a metal from which a caution applies, if any candidate holds as much."""

    code: str
    metal: str
    from_percent: float
    source: str
