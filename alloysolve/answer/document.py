"""The answer as one versioned document: the plain data from which everything is made that people are shown.

A fresh answer and one read back from a record are the same `Document`, so whatever puts it into words or draws it says
the same.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from typing import Any, Literal

from ..inference.decision import CONTRADICTED
from ..plain import from_plain, to_plain
from .rows import AS_CLAIMED, FINER, SYSTEM, ConstructionData, Range, Row, What

SCHEMA: Literal["alloysolve.solution/1"] = "alloysolve.solution/1"
NO_CLAIM = "none"
AGREES = 1.96  # normal score up to which a reading agrees
Code = Literal["contradicted", "undecided", "not contradicted"]
Agreement = Literal["agrees", "strained", "no"]
Number = float | None  # None for what JSON has no number for: an infinity


@dataclass(frozen=True, slots=True)
class Coded:
    """A reason or finding: its code, and the values that its sentence needs."""

    code: str
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class BudgetPart:
    """One cause of the uncertainty of a density."""

    part: str
    size: Number
    unit: str
    one_sided: bool
    moves_density_percent: Number


@dataclass(frozen=True, slots=True)
class DensityData:
    """A density with its budget; masses in g, densities of liquid and air in g/cm3.

    `known_good_percent` : by how much a known-good piece corrected it.
    """

    value: float
    u: Number
    unit: str
    low: float
    high: float
    one_sided_percent: Number
    route: str
    mass_g: float | None
    body_g: float | None
    displaced_g: float | None
    liquid_g_cm3: float | None
    air_g_cm3: float | None
    known_good_percent: float | None
    budget: tuple[BudgetPart, ...]
    left_out_g: float | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CladStock:
    """What a clad coin is said to be made of."""

    faces: str
    core: str


@dataclass(frozen=True, slots=True)
class ClaimData:
    """The claim, the decision on it with its reasons, and what a piece as claimed would have read.

    Attributes
    ----------
    metal : symbol of the claimed precious metal, or "". plated, hollow : whether the claim says so. vermeil : plated
        silver, whose body is known. colours : how many colours its alloys can have. coin : type and issuer, or "".
    """

    text: str
    kind: str
    metal: str
    regions: tuple[str, ...]
    plated: bool
    vermeil: bool
    hollow: bool
    clad: CladStock | None
    colours: int
    coin: str
    decision: Code | None
    p: Number
    false_alarm: Number
    excluded: Number
    reasons: tuple[Coded, ...]
    density_g_cm3: tuple[float, float] | None
    would_displace_g: tuple[float, float] | None
    misread_g: float | None
    bubble_mm: float | None
    would_show_below_per_mille: float | None


@dataclass(frozen=True, slots=True)
class Over:
    """How deep [um] a reading of the surface sees over one core."""

    family: str
    metals: tuple[str, ...]
    um: float


@dataclass(frozen=True, slots=True)
class ReadingData:
    """One reading: what was read, how deep it looks into the first row, how it agrees with that row and with the claim.

    Attributes
    ----------
    text : as it was read. told : the number as a person is told it, without its unit. items : metals with their shares
        as they were printed. remark : key of a sentence to be said of this value beside a claim, or "".
    as_claimed : least and most that a piece as claimed would read, in `unit_shown`; answers_as_claimed : the same for a
        reading in words. told_as_claimed, told_on_first : in the unit of `told`, of a piece as claimed and of the first
        row. below_claim : whether a number below those of the claim was read.
    surface : whether it sees only what lies outermost; sees_over : how deep, by core.
    """

    name: str
    kind: str
    place: str
    text: str
    value: float | str | None
    u: Number
    unit: str | None
    told: str
    items: tuple[tuple[str, str], ...]
    remark: str
    unit_shown: str
    as_claimed: tuple[float, float] | None
    answers_as_claimed: tuple[str, ...]
    told_as_claimed: tuple[float, float] | None
    told_on_first: float | None
    below_claim: bool
    sees: Literal["all of it", "the body", "a depth"]
    sees_um: float | None
    surface: bool
    sees_over: tuple[Over, ...]
    agrees: Agreement | None
    claim_agrees: Agreement | None
    score_under_claim: Number


@dataclass(frozen=True, slots=True)
class CandidateData(ConstructionData):
    """A construction with the metals of its system."""

    metals: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SystemData:
    """A metal system with its constructions; ranges in mass percent."""

    metals: tuple[str, ...]
    probability: float
    bayes_factor_against_next: Number
    alike_the_first: bool
    ranges: Mapping[str, Range]
    nearest_grades: tuple[str, ...]
    constructions: tuple[ConstructionData, ...]


@dataclass(frozen=True, slots=True)
class Amount:
    """Content of a precious metal, in grams or percent."""

    low: float
    likely: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True)
class Alone:
    """What one reading alone would say."""

    reading: str
    metals: tuple[str, ...]
    family: str
    probability: Number
    as_claimed: Number


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two readings that nothing reconciles."""

    readings: tuple[str, ...]
    p: Number
    log_agreement: Number
    alone: tuple[Alone, Alone]


@dataclass(frozen=True, slots=True)
class NextReading:
    """A reading not yet taken: its worth, what it would show on the claim and on the likeliest other body."""

    kind: str
    owned: bool
    settles: Number
    shows_more: Number
    narrows_precious: Number
    entropy_drop: Number
    unit: str
    claim: tuple[float, float] | str | None
    other: float | str | None
    metals: tuple[str, ...]
    family: str


@dataclass(frozen=True, slots=True)
class BlindSpot:
    """A class of construction that the readings could not show: share of it shown, kinds of readings that would."""

    class_: str
    shown: Number
    closed_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Body:
    """A body by its family and metals."""

    family: str
    metals: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FormData:
    """Shape of the piece and its lengths [mm]; the usual proportions if it was not measured."""

    shape: str
    sizes: tuple[float, ...]
    measured: bool


@dataclass(frozen=True, slots=True)
class Caveat:
    """A caveat on the published density of a metal on which the answer rests."""

    metal: str
    text: str


@dataclass(frozen=True, slots=True)
class Prior:
    """Name of the prior, and a hash of the tables from which it is made."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Document:
    """The whole answer.

    Attributes
    ----------
    inputs, settings : as they were given; tables : hash of each file. names : what families, layers and parts that the
        answer mentions are called in the tables that were used. rows : what people see of what fits.
    first_under_other_prior : the likeliest body under another prior, if that is another one; None also where a claim
        is not contradicted, as nobody is told then.
    systems, candidates : all that fits, from 1 in 1000. something_else : share of what is in no table.
    """

    schema: Literal["alloysolve.solution/1"]
    version: str
    inputs: Mapping[str, Any]
    settings: Mapping[str, Any]
    prior: Prior
    tables: Mapping[str, str]
    names: Mapping[str, str]
    form: FormData
    density: DensityData | None
    claim: ClaimData | None
    rows: tuple[Row, ...]
    readings: tuple[ReadingData, ...]
    systems: tuple[SystemData, ...]
    something_else: float
    first_under_other_prior: Body | None
    candidates: tuple[CandidateData, ...]
    precious: Mapping[str, Amount]
    conflicts: tuple[Conflict, ...]
    next_readings: tuple[NextReading, ...]
    blind_spots: tuple[BlindSpot, ...]
    notes: tuple[Coded, ...]
    caveats: tuple[Caveat, ...]
    cautions: tuple[str, ...]

    @classmethod
    def from_dict(cls, given: Mapping[str, Any]) -> Document:
        """A document from what `to_dict` gives, or from JSON made of it; raises `MisfitError` for anything else."""
        found: Document = from_plain(cls, given)
        return found

    def to_dict(self) -> dict[str, Any]:
        """The document in the types of JSON."""
        found: dict[str, Any] = to_plain(self)
        return found

    def to_json(self, indent: int | None = 2) -> str:
        """The document as text, with keys in fixed order and no infinities."""
        return json.dumps(self.to_dict(), indent=indent, ensure_ascii=False, allow_nan=False)

    @property
    def code(self) -> str:
        """The decision on the claim, or `NO_CLAIM`."""
        return (self.claim.decision if self.claim else None) or NO_CLAIM

    @property
    def nothing_known(self) -> bool:
        """Whether something that is in no table is likelier than any system."""
        return not self.systems or self.something_else > self.systems[0].probability

    @property
    def share_meeting_claim(self) -> float:
        """Probability of pieces as claimed or finer."""
        return sum(r.share for r in self.rows if r.what in (AS_CLAIMED, FINER))

    @property
    def fits_claim(self) -> bool:
        """Whether a piece as claimed is what fits best."""
        return self.share_meeting_claim > 0.5 and self.code != CONTRADICTED

    @property
    def beside_claim(self) -> tuple[Row, ...]:
        """Rows of pieces that do not meet the claim, the likeliest first; of all systems if there is none."""
        return tuple(r for r in self.rows if r.what == SYSTEM)

    @property
    def may_be_hollow(self) -> bool:
        """Whether the piece or the claim allows empty space."""
        return bool(self.inputs.get("hollow") or (self.claim and self.claim.hollow))

    @property
    def weighings(self) -> int:
        """How many times it was weighed in a liquid."""
        given = self.inputs.get("displaced") or self.inputs.get("in_water") or ()
        return len(given) if isinstance(given, list | tuple) else 1

    @property
    def count(self) -> int:
        """Number of pieces of one kind that were weighed together."""
        return int(self.inputs.get("count") or 1)

    def reading(self, name: str) -> ReadingData | None:
        """A reading by its name."""
        return next((r for r in self.readings if r.name == name), None)

    def row(self, what: What) -> Row | None:
        """The first row of one kind."""
        return next((r for r in self.rows if r.what == what), None)


def package_version() -> str:
    """Version of the library."""
    try:
        return version("alloysolve")
    except PackageNotFoundError:  # a bare checkout
        return "0+checkout"


def significant(x: float, digits: int = 3) -> float | None:
    """`x` to some significant digits; None for infinities, which JSON does not have."""
    return float(f"{x:.{digits}g}") if math.isfinite(x) else None
