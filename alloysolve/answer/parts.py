"""The parts of the document of an answer, as plain data; numbers are rounded as they are written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from .rows import ConstructionData, Span

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
class ClaimData:
    """The claim, the decision on it with its reasons, and what a piece as claimed would have read.

    Attributes
    ----------
    metal : symbol of the claimed precious metal, or "". least_percent : its least share, None without it.
    plated, hollow : whether the claim says so. colours : how many colours its alloys can have.
    coin : type and issuer, or "".
    misread_g : by how much the displaced mass is off the claim; None within it.
    """

    text: str
    kind: str
    metal: str
    least_percent: Number
    regions: tuple[str, ...]
    plated: bool
    hollow: bool
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
class ToneData:
    """A tone and its standard uncertainty [Hz]."""

    hz: float
    u_hz: float


@dataclass(frozen=True, slots=True)
class ReadingData:
    """One reading: what was read, how deep it looks into the first row, how it agrees with that row and with the claim.

    Attributes
    ----------
    text : as it was read. told : the number as a person is told it, without its unit. items : metals with their shares
        as they were printed. remark : key of a sentence to be said of this value beside a claim, or "".
    tones : all that were heard or typed, lowest first; None where none were. recording_sha256 : of the file in which
        they were heard, or None.
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
    tones: tuple[ToneData, ...] | None
    recording_sha256: str | None
    remark: str
    unit_shown: str
    as_claimed: tuple[float, float] | None
    answers_as_claimed: tuple[str, ...]
    told_as_claimed: tuple[float, float] | None
    told_on_first: float | None
    below_claim: bool
    sees: Literal["all of it", "the body", "a depth", "a part"]
    sees_um: float | None
    surface: bool
    sees_over: tuple[Over, ...]
    agrees: Agreement | None
    claim_agrees: Agreement | None
    score_under_claim: Number


@dataclass(frozen=True, slots=True)
class CandidateData(ConstructionData):
    """A construction with the metals of its system.

    `evidence` : likelihood of the readings averaged over its prior. `ranges` : low, likely, high mass percent of the
    metals of its body; of candidates below 1 in 200 there are none.
    """

    metals: tuple[str, ...]
    evidence: Number
    ranges: Mapping[str, Span]


@dataclass(frozen=True, slots=True)
class SystemData:
    """A metal system with its constructions; ranges are low, likely, high mass percent."""

    metals: tuple[str, ...]
    probability: float
    bayes_factor_against_next: Number
    alike_the_first: bool
    ranges: Mapping[str, Span]
    nearest_grades: tuple[str, ...]
    constructions: tuple[ConstructionData, ...]


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
    """A reading not yet taken: its worth, what it would show on the claim and on the likeliest other body.

    `owned` : whether the shop can take it; otherwise it can be had elsewhere. `decides` : whether it may settle the
    claim, show a fault or close a blind spot, and not only narrow what else fits.
    """

    kind: str
    owned: bool
    settles: Number
    shows_more: Number
    decides: bool
    narrows_precious: Number
    entropy_drop: Number
    unit: str
    claim: tuple[float, float] | str | None
    other: float | str | None
    metals: tuple[str, ...]
    family: str
    layer: str | None

    @property
    def worth(self) -> float:
        """One number for its usefulness: chance to settle the claim, share shown, nats."""
        return (self.settles or 0.0) + (self.shows_more or 0.0) + (self.entropy_drop or 0.0)


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
class CoinTypeData:
    """A coin type that has the mass, the metal and, if measured, the size of the piece.

    `made` : composition in percent by mass by place; of one metal, its only place is "whole". `others` : how many
    further types in the tables have the same metal, mass and size.
    """

    id: str
    issuer: str
    coin: str
    years: str
    construction: str
    made: Mapping[str, Mapping[str, float]]
    mass_g: Number
    diameter_mm: Number
    others: int


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
