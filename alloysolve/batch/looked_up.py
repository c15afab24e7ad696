"""Rows looked up in tables: those with a density, perhaps a conductivity of the whole piece and a magnet, no more.

Probabilities, ranges, precious content and decision come from tables made once per kind of claim
(`beliefs`, `claimed`); next readings and blind spots are not looked for. All other rows are solved one by one.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ..advice.findings import cautions
from ..advice.fineness import down_to, least_passing, not_shown
from ..advice.weighed import about_weighed
from ..answer.collect import amounts
from ..answer.document import Document
from ..errors import AlloysolveError
from ..inference.commonness import NamedPrior
from ..inference.decision import CONTRADICTED, judge
from ..inference.observe import evidence_of
from ..inference.weigh_piece import densities_of
from ..inputs.claim import Claim, allows_hollow, parse_claim
from ..inputs.piece import Piece
from ..inputs.settings import Settings
from ..published.load import Tables
from ..readings.conductivity import Conductivity
from ..readings.registry import named_readings
from ..weighing.weigh import Weighing
from ..words.names import Names
from .answers import answer_row
from .beliefs import Belief, beliefs_of
from .claimed import RowComparison, claimed_of, less_fine_of
from .reading import RowReading
from .shown import claim_of, document_of, held_of, rows_of, systems_of, thinned_belief

MOST_U, MOST_AIR = 0.08, 0.15  # relative, the largest that the tables serve for a density


@dataclass(frozen=True)
class Asked:
    """One piece, ready to be looked up."""

    claim: Claim | None
    hollow: bool
    weighing: Weighing
    mass_g: float | None
    reading: RowReading

    @property
    def order(self) -> tuple[Any, ...]:
        """A key by which candidates that use the same rows of the same tables come together."""
        return (
            self.claim.kind if self.claim else "",
            self.reading.conductivity is None,
            self.claim.text if self.claim else "",
            self.reading.weighed.v,
        )


class NotInTablesError(Exception):
    """What the tables do not know; the piece is solved."""


@dataclass(frozen=True)
class RowBelieved:
    """What is believed of one row, as far as a decision may depend on it and the tables know it."""

    belief: Belief

    @property
    def share_meeting_solid(self) -> float:
        """Probability of solid pieces of the claimed metal."""
        return self.belief.solid

    @property
    def share_fitting_beside(self) -> float:
        """Never known here."""
        raise NotInTablesError


def is_covered(piece: Piece, claim: Claim | None) -> bool:
    """Whether the tables cover the claim and the readings of a piece, as far as their kinds tell."""
    if piece.shape is not None or (claim is not None and (claim.plated or claim.clad)):
        return False
    if claim is not None and claim.may_be_weighted:  # the tables know no fillings
        return False
    if claim is not None and claim.coin and piece.mass:  # the mass of the type is a reading of its own
        return False
    named = named_readings(piece.readings)
    if not set(named) <= {"conductivity", "magnet"}:
        return False
    conductivity = named.get("conductivity")
    # a meter sees to a depth: its tables would hold for one thickness of piece, and take longer than many solves
    return not isinstance(conductivity, Conductivity) or (
        conductivity.kind == "resistivity" and conductivity.temperature is None
    )


def asked(piece: Piece, claim: Claim | None, weighing: Weighing, settings: Settings, tables: Tables) -> Asked | None:
    """A piece ready to be looked up; None if its density is too uncertain for the tables."""
    if weighing.u_v > MOST_U * weighing.v or weighing.bubble_v > MOST_AIR * weighing.v:
        return None
    reading = RowReading.of(evidence_of(piece, settings, tables, weighing, claim))
    if reading is None:
        return None
    mass = weighing.body_g or (piece.mass.value if piece.mass else None)
    return Asked(claim, allows_hollow(piece, claim), weighing, mass, reading)


def looked_up_answers(
    candidates: Mapping[int, Piece], settings: Settings, tables: Tables, prior: NamedPrior
) -> dict[int, tuple[dict[str, Any], Document]]:
    """Answers of those pieces that the tables cover, by their numbers.

    A piece that has an error, or other readings, is left out; to solve it says what is wrong with it.
    """
    claims: dict[int, Claim | None] = {}
    for i, piece in candidates.items():
        with suppress(AlloysolveError):
            claim = parse_claim(piece.claim, tables) if piece.claim else None
            if is_covered(piece, claim):
                claims[i] = claim
    ready: dict[int, Asked] = {}
    for i, weighing in zip(claims, densities_of([candidates[i] for i in claims], settings, tables), strict=True):
        with suppress(AlloysolveError):
            if isinstance(weighing, Weighing):
                one = asked(candidates[i], claims[i], weighing, settings, tables)
                if one is not None:
                    ready[i] = one
    out = {}
    for i in sorted(ready, key=lambda i: ready[i].order):
        with suppress(AlloysolveError, NotInTablesError):
            out[i] = _answer(ready[i], candidates[i], settings, tables, prior)
    return out


def _answer(
    a: Asked, piece: Piece, settings: Settings, tables: Tables, prior: NamedPrior
) -> tuple[dict[str, Any], Document]:
    beliefs = beliefs_of(tables, a.claim, a.hollow, prior, a.reading.conductivity is not None)
    belief = beliefs.of(a.reading)
    held, decision = held_of(belief, beliefs, a.mass_g), None
    precious = held.whole
    if a.claim is not None:
        claimed = claimed_of(tables, a.claim, a.hollow, prior, a.reading.thickness_class)
        if claimed is not None:
            compared = RowComparison(claimed, a.reading)
            decision = judge(compared, RowBelieved(belief), settings.answers.false_alarm.value)
        if decision and decision.code != CONTRADICTED:
            alloys = less_fine_of(tables, a.claim)
            lowest = (
                least_passing(alloys.percent, lambda at: alloys.scores(at, a.reading), not_shown) if alloys else None
            )
            precious = down_to(precious, a.claim, decision, lowest, a.mass_g)
    few = thinned_belief(belief)
    found = document_of(
        belief,
        claim_of(a.claim, decision) if a.claim else None,
        rows_of(few, beliefs, a.claim, held),
        amounts(precious, held.share),
        cautions(tables, piece, a.claim, decision, lambda metal, percent: belief.held[metal, percent]),
        _names(tables),
    )
    return answer_row(found, decision, about_weighed(piece, a.weighing, settings), systems_of(few, beliefs)), found


@lru_cache(maxsize=4)
def _names(tables: Tables) -> Mapping[str, str]:
    """What families and parts are called."""
    return Names.of_tables(tables, None).words
