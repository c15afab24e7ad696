"""A claim and its alternatives compared with the readings of a piece, as normal scores."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Protocol

import numpy as np

from ..arrays import Array, Index, Mask
from ..integral.evidence import WEIGHING, Evidence, Scores
from ..pieces.candidates import Candidates
from ..readings.base import WILD
from ..readings.error_model import VolumeLikelihood
from ..readings.ratio import outside
from .alternatives import Alternatives

MOST_VOID = 0.75  # share of empty space beyond which a piece no longer counts as a hollow piece of its metal


class Comparison(Protocol):
    """A claim and its alternatives compared with the readings of a piece; nothing is computed before it is needed."""

    @property
    def claim_scores(self) -> Scores:
        """Normal score of every reading for each candidate as claimed."""

    def alternative_scores(self, without: Collection[str] = ()) -> Scores:
        """Score that each alternative, read without noise, would have under the claim, by all readings but some."""

    @property
    def usual(self) -> Mask:
        """Which candidates as claimed are of the usual alloys of the claim."""

    @property
    def prior(self) -> Array:
        """Prior share of each alternative."""

    @property
    def kinds(self) -> Index:
        """Number in `classes.KINDS` of each alternative."""

    @property
    def surface(self) -> Collection[str]:
        """Names of the readings that see the surface only."""

    def wild(self, name: str) -> float:
        """How often a reading is wild."""

    def score(self, name: str) -> Array:
        """Normal score of one reading, as it was taken, for each alternative."""


@dataclass
class Known:
    """Scores by the readings other than the weighing, which another weighing does not change.

    `claim` : of the claim. `between` : that alternatives, read without noise, would have under it. `others` : under
    the alternatives.
    """

    claim: Scores | None = None
    between: dict[str, Array] = field(default_factory=dict)
    others: dict[str, Array] = field(default_factory=dict)


@dataclass(frozen=True)
class PieceComparison:
    """The `Comparison` of a single piece, from its candidates.

    `usual` : which of those as claimed are of the usual alloys of the claim. `metal` : its precious metal, or "".
    """

    evidence: Evidence
    claim: Candidates
    usual: Mask
    others: Callable[[], Alternatives]
    may_be_hollow: bool
    metal: str = ""
    known: Known = field(default_factory=Known)

    @cached_property
    def claim_scores(self) -> Scores:
        """Normal score of every reading for each candidate as claimed."""
        if self.known.claim is None:
            self.known.claim = replace(self.evidence, volume=None).scores(self.claim)
        found, weighing = self.known.claim, replace(self.evidence, observed=())
        weighed = scores(weighing, self.claim, self.may_be_hollow)
        return Scores({**weighed, **found}, found.alike, found.told, found.measures)

    def alternative_scores(self, without: Collection[str] = ()) -> Scores:
        """Score that each alternative would have under the claim, by all readings but some."""
        used = self.evidence.only(*(name for name in self.evidence.names if name not in without))
        return alternative_scores(used, self.claim, self.others(), self.may_be_hollow, self.known.between)

    @property
    def prior(self) -> Array:
        """Prior share of each alternative."""
        return self.others().prior

    @cached_property
    def kinds(self) -> Index:
        """Number in `classes.KINDS` of each alternative."""
        return self.others().kinds(float(self.claim.v.mean()), self.metal)

    @property
    def surface(self) -> Collection[str]:
        """Names of the readings that see the surface only."""
        return self.evidence.surface

    def wild(self, name: str) -> float:
        """How often a reading is wild."""
        return next((o.wild for o in self.evidence.observed if o.name == name), WILD)

    def score(self, name: str) -> Array:
        """Normal score of one reading for each alternative."""
        candidates, volume = self.others().candidates, self.evidence.volume
        if name == WEIGHING and volume is not None:
            return volume.score_near(candidates.v, candidates.bodies.sigma[candidates.point])
        if name not in self.known.others:
            self.known.others[name] = next(o for o in self.evidence.observed if o.name == name).score(candidates)
        return self.known.others[name]

    def weighed(self, volume: VolumeLikelihood) -> PieceComparison:
        """The same comparison with another weighing; scores by the other readings are kept."""
        return replace(self, evidence=replace(self.evidence, volume=volume))


def scores(evidence: Evidence, claim: Candidates, may_be_hollow: bool) -> Scores:
    """Normal score of every reading for each candidate as claimed."""
    out = evidence.scores(claim)
    if evidence.volume is not None:
        out[WEIGHING] = without_space(out[WEIGHING], claim.v, evidence.volume.v, may_be_hollow)
    return out


def alternative_scores(
    evidence: Evidence,
    claim: Candidates,
    others: Alternatives,
    may_be_hollow: bool,
    known: dict[str, Array] | None = None,
) -> Scores:
    """Score that each alternative, read without noise, would have under the claim, by reading.

    `known` keeps the scores of readings other than the weighing for the next call with the same readings.
    """
    out = {}
    if evidence.volume is not None:
        relative = claim.bodies.sigma[claim.point]
        out[WEIGHING] = weighing_between(evidence.volume, claim.v, relative, others.candidates.v, may_be_hollow)
    known = {} if known is None else known
    for o in evidence.observed:
        if o.name not in known:
            known[o.name] = o.between(others.candidates, claim)
    return Scores(out | {o.name: known[o.name] for o in evidence.observed}, evidence.alike)


def without_space(z: Array, claim_v: Array, v: float, may_be_hollow: bool) -> Array:
    """Normal scores of a weighing that read `v` [cm3/g], 0 where empty space in a piece as claimed explains them."""
    return np.where(may_be_hollow & (z > 0) & empty_enough(claim_v, v), 0.0, z)


def weighing_between(
    reading: VolumeLikelihood, claim_v: Array, relative: Array, others_v: Array, may_be_hollow: bool
) -> Array:
    """Score that a weighing of each alternative would have under the claim, from specific volumes [cm3/g].

    The compositions of the claim are taken as one interval of volume, which can only make others look alike. `relative`
    is the model scatter of each.
    """
    apart, z = outside(others_v, claim_v), np.zeros(len(others_v))
    for side, end in ((apart > 0, int(np.argmax(claim_v))), (apart < 0, int(np.argmin(claim_v)))):
        at = np.flatnonzero(side)
        z[at] = reading.score_away(apart[at], float(relative[end]) * reading.v)
    explained = may_be_hollow & (apart > 0) & empty_enough(claim_v.max(), others_v)
    return np.where(explained, 0.0, z)


def empty_enough(solid_v: Array | float, v: Array | float) -> Mask:
    """Whether metal of one specific volume with some empty space, up to a limit, can make a piece of volume `v`.

    Empty space can explain that a piece is too light, never that it is too dense.
    """
    return np.asarray(1 - solid_v / v < MOST_VOID)
