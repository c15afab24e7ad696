"""The answer as one versioned document: the plain data from which everything is made that people are shown.

A fresh answer and one read back from a record are the same `Document`, so whatever puts it into words or draws it says
the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from ..inference.decision import CONTRADICTED
from ..inputs.settings import owns
from ..plain import from_plain, to_plain, to_text
from .parts import (
    BlindSpot,
    Body,
    CandidateData,
    Caveat,
    ClaimData,
    Coded,
    CoinTypeData,
    Conflict,
    DensityData,
    FormData,
    NextReading,
    Prior,
    ReadingData,
    SystemData,
)
from .rows import AS_CLAIMED, FINER, LIKELY_FROM, SYSTEM, Amount, Row, What

SCHEMA: Literal["alloysolve.solution/1"] = "alloysolve.solution/1"
NO_CLAIM = "none"


@dataclass(frozen=True, slots=True)
class Document:
    """The whole answer.

    Attributes
    ----------
    inputs, settings : as they were given; tables : hash of each file. names : what families, layers and parts that the
        answer mentions are called in the tables that were used. rows : what people see of what fits.
    first_under_other_prior : the likeliest body under another prior, if that is another one; None also where a claim
        is not contradicted, as nobody is told then.
    coin_types : types of coins that the piece may be, where nothing is claimed or the claim is contradicted.
    precious : content of each precious metal over all that is believed at least 1 in 20.
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
    coin_types: tuple[CoinTypeData, ...]
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
        return to_text(self, indent)

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
        """Rows of pieces that do not meet the claim, or of all systems if there is none.

        What people call by one name stands together, the likeliest name first: three less fine alloys of 2 in 10 each
        come before one other metal of 3 in 10.
        """
        return tuple(sorted((r for r in self.rows if r.what == SYSTEM), key=lambda r: -self.share_together(r)))

    def share_together(self, row: Row) -> float:
        """Probability of all systems that people call like this row."""
        called = self._called(row)
        return sum(r.share for r in self.rows if r.what == SYSTEM and self._called(r) == called)

    def _called(self, row: Row) -> tuple[object, str]:
        inside = row.layer.part if row.layer and row.layer.built.inserted else ""
        if self.claim and self.claim.metal and row.metals[:1] == (self.claim.metal,):
            return self.claim.metal, inside  # all less fine alloys of the claimed metal
        return self.names.get(row.family) or row.metals, inside

    @property
    def first_system(self) -> Row | None:
        """The first of `beside_claim`; None if a piece as claimed, or a finer one, or something else is likelier."""
        if self.nothing_known or not self.beside_claim:
            return None
        first = self.beside_claim[0]
        least = LIKELY_FROM if self.code == CONTRADICTED else self.share_together(first)
        return None if self.claim is not None and self.share_meeting_claim > least else first

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

    def owns(self, kind: str) -> bool:
        """Whether the shop can take a reading of a kind."""
        return owns(self.settings["readings"].get("own", ()), kind)

    def reading(self, name: str) -> ReadingData | None:
        """A reading by its name."""
        return next((r for r in self.readings if r.name == name), None)

    def row(self, what: What) -> Row | None:
        """The first row of one kind."""
        return next((r for r in self.rows if r.what == what), None)
