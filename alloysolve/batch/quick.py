"""The quick route of a batch, for pieces with a known density, perhaps a conductivity and a magnet, and nothing else.

Probabilities, ranges, precious content and decision come from tables made once per kind of claim
(`beliefs`, `claimed`); what only a full solve finds (next readings, blind spots) is not looked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..advice.findings import cautions
from ..advice.fineness import down_to, least_passing, not_shown
from ..advice.weighed import about_weighed
from ..arrays import Array, Index
from ..errors import AlloysolveError
from ..inference.commonness import NamedPrior
from ..inference.decision import CONTRADICTED, judge
from ..inference.groups import POINTS, points_passed
from ..inference.observe import evidence_of
from ..inference.posterior import LISTED_FROM, TRACE
from ..inference.weigh_piece import densities_of
from ..inputs.claim import Claim, allows_hollow, parse_claim
from ..inputs.piece import Piece
from ..inputs.settings import Settings
from ..measured import Measured
from ..published.load import Tables
from ..readings.conductivity import Conductivity
from ..readings.registry import named_readings
from ..weighing.weigh import Weighing
from .answers import BEST, QUICK, FoundSystem, answer_row
from .beliefs import SHARE_EDGES, SLOTS, Belief, Beliefs, Meter, RowReading, beliefs_of, thickness_class
from .claimed import RowComparison, claimed_of, less_fine_of
from .table import PRECIOUS_BINS

MOST_U, MOST_AIR = 0.08, 0.15  # relative, the largest that the tables serve for a density
MIDDLE = (SHARE_EDGES[1:] + SHARE_EDGES[:-1]) / 2
PRECIOUS_MIDDLE = np.concatenate([[0.0], (PRECIOUS_BINS[1:] + PRECIOUS_BINS[:-1]) / 2])
LEAST_U = 1e-4  # least u of a precious content, as a share of the mass


@dataclass(frozen=True)
class Asked:
    """One piece, ready for the quick route."""

    claim: Claim | None
    hollow: bool
    weighing: Weighing
    mass_g: float | None
    reading: RowReading
    meter: Meter

    @property
    def order(self) -> tuple[Any, ...]:
        """A key by which candidates that use the same rows of the same tables come together."""
        return (
            self.claim.kind if self.claim else "",
            self.meter.frequencies is None,
            self.meter.frequencies or (),
            self.meter.thickness,
            self.claim.text if self.claim else "",
            self.reading.weighed.v,
        )


class NotInTablesError(Exception):
    """What the tables of a batch do not know; the piece is left to a full solve."""


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


def is_simple(piece: Piece, claim: Claim | None) -> bool:
    """Whether the quick route can answer, as far as the kinds of readings tell."""
    if piece.shape is not None or (claim is not None and (claim.plated or claim.clad)):
        return False
    if claim is not None and claim.may_be_weighted:  # a filling is looked for only by a full solve
        return False
    if claim is not None and claim.coin and piece.mass:  # the mass of the type is a reading of its own
        return False
    named = named_readings(piece.readings)
    if not set(named) <= {"conductivity", "magnet"}:
        return False
    conductivity = named.get("conductivity")
    return not (isinstance(conductivity, Conductivity) and conductivity.temperature is not None)


def asked(piece: Piece, claim: Claim | None, weighing: Weighing, settings: Settings, tables: Tables) -> Asked | None:
    """A piece ready for the quick route; None if its density is too uncertain for the tables."""
    if weighing.u_v > MOST_U * weighing.v or weighing.bubble_v > MOST_AIR * weighing.v:
        return None
    reading = RowReading.of(evidence_of(piece, settings, tables, weighing, claim))
    if reading is None:
        return None
    meter = Meter.of(reading)
    mass = weighing.body_g or (piece.mass.value if piece.mass else None)
    return Asked(claim, allows_hollow(piece, claim), weighing, mass, reading, meter)


def quick_answers(
    candidates: Mapping[int, Piece], settings: Settings, tables: Tables, prior: NamedPrior
) -> dict[int, dict[str, Any]]:
    """Answers of those pieces that the quick route can answer, by their numbers.

    A piece that has an error, or readings that need a full solve, is left out; the full solve says what is wrong with
    it.
    """
    claims: dict[int, Claim | None] = {}
    for i, piece in candidates.items():
        with suppress(AlloysolveError):
            claim = parse_claim(piece.claim, tables) if piece.claim else None
            if is_simple(piece, claim):
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


def _answer(a: Asked, piece: Piece, settings: Settings, tables: Tables, prior: NamedPrior) -> dict[str, Any]:
    beliefs = beliefs_of(tables, a.claim, a.hollow, prior, a.meter)
    belief = beliefs.of(a.reading)
    precious = _precious(belief, beliefs.symbols, a.mass_g)
    decision = None
    if a.claim is not None:
        thickness = thickness_class(a.reading.thickness_um)
        claimed = claimed_of(tables, a.claim, a.hollow, prior, a.meter.frequencies or (), thickness)
        if claimed is not None:
            compared = RowComparison(claimed, a.reading)
            decision = judge(compared, RowBelieved(belief), settings.answers.false_alarm.value)
        if decision and decision.code != CONTRADICTED:
            alloys = less_fine_of(tables, a.claim, a.meter.frequencies or ())
            lowest = (
                least_passing(alloys.percent, lambda at: alloys.scores(at, a.reading), not_shown) if alloys else None
            )
            precious = down_to(precious, a.claim, decision, lowest, a.mass_g)
    codes = cautions(tables, piece, a.claim, decision, lambda metal, percent: belief.held[metal, percent])
    notes = about_weighed(piece, a.weighing, settings)
    systems = _systems(belief, beliefs)
    return answer_row(decision, notes, systems, belief.other, precious, belief.counted, codes, QUICK)


def _precious(belief: Belief, symbols: tuple[str, ...], mass_g: float | None) -> dict[str, Measured]:
    """95 % range of the content of each precious metal over all that is believed at least 1 in 20."""
    scale, unit = (mass_g, "g") if mass_g else (100.0, "%")
    weight = belief.precious.copy()
    weight[:, 0] = np.maximum(
        belief.counted - weight[:, 1:].sum(axis=1), 0.0
    )  # probability of the pieces with none of it
    ranges = PRECIOUS_MIDDLE[points_passed(np.cumsum(weight, axis=1))].tolist()
    out = {}
    for symbol, (low, likely, high) in zip(symbols, ranges, strict=True):
        if high >= TRACE:
            u = max((high - low) / 4, LEAST_U)
            out[symbol] = Measured(likely * scale, u * scale, unit, low * scale, high * scale)
    return out


def _systems(belief: Belief, beliefs: Beliefs) -> list[FoundSystem]:
    """The likeliest systems: metals, probability, ranges [percent]."""
    most = np.argpartition(-belief.system, BEST)[:BEST]
    most = most[belief.system[most] >= LISTED_FROM]
    most = most[np.lexsort((most, -belief.system[most]))]
    if not len(most):
        return []
    means, spans = (x.tolist() for x in _ranges(belief, beliefs, most))
    out: list[FoundSystem] = []
    for rank, k in enumerate(most.tolist()):
        slots = beliefs.slots[k].tolist()
        share = dict(zip(slots, means[rank], strict=True))
        span = dict(zip(slots, spans[rank], strict=True))
        metals = sorted(beliefs.systems[k], key=lambda m: -share.get(m, 0.0))
        ranges = {m: [100 * x for x in span[m]] for m in metals if m in span}
        out.append((metals, float(belief.system[k]), ranges))
    return out


def _ranges(belief: Belief, beliefs: Beliefs, systems: Index) -> tuple[Array, Array]:
    """Mean (systems, slots), and low, likely, high (systems, slots, 3), of mass fractions."""
    size, rank_of = len(MIDDLE), np.full(len(beliefs.systems), -1)
    rank_of[systems] = np.arange(len(systems))
    rank = rank_of.take(beliefs.system.take(belief.point))
    some = np.flatnonzero(rank >= 0)
    point, rank, weight = belief.point.take(some), rank.take(some), belief.weight.take(some)
    key = ((rank * SLOTS)[:, None] + np.arange(SLOTS)) * size + beliefs.cells[point]
    each = (
        np.bincount(key.ravel(), np.repeat(weight, SLOTS), len(systems) * SLOTS * size).reshape(-1, size).astype(float)
    )
    whole = each.sum(axis=1)
    # one running sum for all; every group begins where the one before ends
    along, before = np.cumsum(each), np.cumsum(whole) - whole
    wanted = before[:, None] + whole[:, None] * np.array(POINTS)
    first = np.arange(len(each))[:, None] * size
    passed = np.clip(np.searchsorted(along, wanted) - first, 0, size - 1)
    mean = each @ MIDDLE / np.maximum(whole, 1e-300)
    shape = (len(systems), SLOTS)
    return mean.reshape(shape), MIDDLE[passed].reshape(*shape, 3)
