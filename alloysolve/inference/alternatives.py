"""What a piece may be if it is not what is claimed: candidates that stand for all of the prior beside the claim."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.materials import Layers
from ..arrays import Array, Index
from ..integral.believed import Believed
from ..pieces.candidates import Candidates
from ..pieces.shape import Form
from .classes import KINDS, kinds_of

# Of 100 000 to 300 000 candidates that differ in body, layer and typical thickness, so many are drawn in all, and at
# least so many of each kind. Against all of them, the share excluded errs by 0.0003 and by at most 0.0015, that of a
# kind by 0.0007 and by at most 0.01 (root mean square and largest of 41 pieces with all and all but one reading).
DRAWN, OF_A_KIND = 48_000, 4_000


@dataclass(frozen=True)
class Alternatives:
    """What the piece may be if it is not what is claimed, and the prior share of each."""

    candidates: Candidates
    prior: Array
    _kinds: dict[tuple[float, str], Index] = field(default_factory=dict, repr=False, compare=False)

    def kinds(self, claim_v: float, metal: str) -> Index:
        """Number in `classes.KINDS` of each, beside a claim of a mean specific volume [cm3/g] and a metal."""
        if (claim_v, metal) not in self._kinds:
            self._kinds[claim_v, metal] = kinds_of(self.candidates, claim_v, metal)
        return self._kinds[claim_v, metal]


@dataclass(frozen=True)
class StandIns:
    """Candidates before the form of the piece is known; fields as in `Candidates`, and the prior share of each."""

    construction: Index
    point: Index
    skin: Index
    parameter: Array
    prior: Array

    def of_form(self, bodies: Bodies, layers: Layers, form: Form) -> Alternatives:
        """The candidates of one form."""
        arrays = (self.construction, self.point, self.skin, self.parameter)
        return Alternatives(Candidates(bodies, layers, form, *arrays), self.prior)


@dataclass(frozen=True)
class Every(StandIns):
    """All candidates; `kind` : number in `classes.KINDS` of each and one more, so that 0 stands for no kind."""

    kind: Index


def stand_ins(every: Every, drawn: int = DRAWN, of_a_kind: int = OF_A_KIND) -> StandIns:
    """Candidates drawn from all in equal steps of their shares, kind by kind.

    Within a kind they stand in order of construction, material and typical value, then of family and density, so that
    neighbours read alike and steps of belief draw from each of them its share. Nothing here is random.
    """
    share = np.bincount(every.kind, every.prior, len(KINDS) + 1)
    counts = np.maximum(drawn * share / (share.sum() or 1.0), of_a_kind)  # a claim may be certain
    order = np.argsort(every.kind, kind="stable")
    ends = np.searchsorted(every.kind[order], np.arange(len(KINDS) + 2))
    drawn_of = [_drawn(every.prior, order[a:z], n) for a, z, n in zip(ends[:-1], ends[1:], counts, strict=True)]
    at, weight = (np.concatenate(x) for x in zip(*drawn_of, strict=True))
    return StandIns(every.construction[at], every.point[at], every.skin[at], every.parameter[at], weight)


def _drawn(prior: Array, at: Index, count: float) -> tuple[Index, Array]:
    """About `count` of some candidates, in equal steps of their shares, and the share for which each stands."""
    if len(at) <= count:
        return at, prior[at]
    cumulated = np.cumsum(prior[at])
    step = cumulated[-1] / int(count)
    chosen = np.searchsorted(cumulated, (np.arange(int(count)) + 0.5) * step)
    chosen, times = np.unique(chosen, return_counts=True)  # what is common is met by several steps
    return at[chosen], times * step


def every_alternative(beside: Iterable[Believed], bodies: Bodies, layers: Layers, claim_v: float, metal: str) -> Every:
    """All that is not the claim, with a few values of the free parameter each, alike ones together.

    `beside` : shares of what is not as claimed. `claim_v` : mean specific volume of the claim [cm3/g]. `metal` : the
    precious metal of the claim.
    """
    form = Form("disc", (30.0, 2.0), measured=False)  # kinds are the same in any
    order, parts = _neighbours(bodies), []
    for b in beside:
        point = order[b.share[order] > 0]
        size = len(point)
        construction, skin = np.full(size, b.construction), np.full(size, b.skin)
        kind = kinds_of(Candidates(bodies, layers, form, construction, point, skin, np.zeros(size)), claim_v, metal) + 1
        parts += [(construction, point, skin, np.full(size, x), b.share[point] * share, kind) for x, share in b.typical]
    return Every(*(np.concatenate(x) for x in zip(*parts, strict=True)))


def _neighbours(bodies: Bodies) -> Index:
    """Points in order of the mean density of their family, each family from one end of its densities to the other.

    Every other family is passed in the opposite direction, so that nowhere the density jumps far.
    """
    mean = np.bincount(bodies.family, bodies.v * bodies.weight) / np.bincount(bodies.family, bodies.weight)
    place = np.argsort(np.argsort(mean, kind="stable"), kind="stable")[bodies.family]
    return np.lexsort((np.where(place % 2 == 1, -bodies.v, bodies.v), place))
