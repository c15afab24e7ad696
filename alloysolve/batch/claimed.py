"""A claim, its alternatives, and less fine alloys as arrays that are made once and serve many pieces."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from ..advice.fineness import bodies_of_metal, less_fine, steps_of
from ..arrays import Array, Index, Mask
from ..inference.claimed import claim_candidates
from ..inference.classes import KINDS, kinds_of
from ..inference.commonness import NamedPrior, usual_alloys
from ..inference.compare import weighing_between, without_space
from ..inference.prior import prior_of
from ..inputs.claim import Claim
from ..integral.evidence import WEIGHING, Scores
from ..pieces.candidates import Candidates
from ..pieces.shape import USUAL_RATIO, Form
from ..published.load import Tables
from ..readings.base import WILD
from ..readings.magnet import magnetic_class_of
from .reading import THICKNESS_STEP, RowReading, of_whole_piece

V_CELL, RHO_CELL = 0.001, 0.03  # widths of the cells of ln(v) and ln(resistivity) in which alternatives are gathered
LIGHT = 1e-3  # share of the alternatives of each kind, in the lightest cells, that is left out


@dataclass(frozen=True, eq=False)
class Claimed:
    """Candidates as claimed, as arrays.

    Attributes
    ----------
    v, sigma, magnetic, usual : specific volume [cm3/g], its relative scatter, magnetic class, whether of a usual alloy
        of the claim (n,).
    value, model : conductivity [MS/m] of the whole piece and its relative scatter (n,).
    """

    hollow: bool
    v: Array
    sigma: Array
    value: Array
    model: Array
    magnetic: Index
    usual: Mask
    others: Others


@dataclass(frozen=True, eq=False)
class Others:
    """Alternatives to a claim, gathered in cells of specific volume, conductivity, magnetic class and kind.

    Attributes
    ----------
    v, value : middles of the cells of specific volume [cm3/g] and of conductivity [MS/m].
    v_cell, value_cell, magnetic, kinds : of alternatives that share all four, the numbers of their cells, their class,
        and their number in `classes.KINDS`.
    sigma, model : their mean relative scatter of specific volume and conductivity. prior : their share.
    """

    v: Array
    value: Array
    v_cell: Index
    value_cell: Index
    magnetic: Index
    kinds: Index
    sigma: Array
    model: Array
    prior: Array


@dataclass(frozen=True, eq=False)
class RowComparison:
    """The `Comparison` of one row of a batch: its readings and the arrays of its claim."""

    claimed: Claimed
    read: RowReading
    surface: Collection[str] = ()

    @cached_property
    def claim_scores(self) -> Scores:
        """Normal score of every reading for each candidate as claimed."""
        c, r = self.claimed, self.read
        out = {WEIGHING: without_space(r.weighed.score(c.v, c.sigma), c.v, r.weighed.v, c.hollow)}
        if r.conductivity is not None:
            out[r.conductivity.name] = r.conductivity.score_predicted(c.value, c.model)
        if r.magnet is not None:
            out[r.magnet.name] = r.magnet.scores[c.magnetic, r.magnet.answer]
        told = {r.magnet.name: (r.magnet.shares, c.magnetic)} if r.magnet is not None else {}
        return Scores(out, told=told)

    def alternative_scores(self, without: Collection[str] = ()) -> Scores:
        """Score that each alternative would have under the claim, by all readings but some."""
        c, r, others = self.claimed, self.read, self.claimed.others
        out = {}
        if WEIGHING not in without:
            out[WEIGHING] = weighing_between(r.weighed, c.v, c.sigma, others.v, c.hollow).take(others.v_cell)
        if r.conductivity is not None and r.conductivity.name not in without:
            each = r.conductivity.between_predicted(others.value, c.value, c.model)
            out[r.conductivity.name] = each.take(others.value_cell)
        if r.magnet is not None and r.magnet.name not in without:
            out[r.magnet.name] = r.magnet.between_classes(others.magnetic, c.magnetic)
        return Scores(out)

    @property
    def usual(self) -> Mask:
        """Which candidates as claimed are of the usual alloys of the claim."""
        return self.claimed.usual

    @property
    def prior(self) -> Array:
        """Prior share of each alternative."""
        return self.claimed.others.prior

    @property
    def kinds(self) -> Index:
        """Number in `classes.KINDS` of each alternative."""
        return self.claimed.others.kinds

    def wild(self, name: str) -> float:
        """How often a reading is wild."""
        return next((o.wild for o in (self.read.conductivity, self.read.magnet) if o and o.name == name), WILD)

    def score(self, name: str) -> Array:
        """Normal score of one reading, as it was taken, for each alternative."""
        r, others = self.read, self.claimed.others
        if r.conductivity is not None and name == r.conductivity.name:
            return r.conductivity.score_predicted(others.value.take(others.value_cell), others.model)
        if r.magnet is not None and name == r.magnet.name:
            return np.asarray(r.magnet.scores[others.magnetic, r.magnet.answer])
        return r.weighed.score_near(others.v.take(others.v_cell), others.sigma)


@lru_cache(maxsize=256)
def claimed_of(tables: Tables, claim: Claim, may_be_hollow: bool, prior: NamedPrior, thickness: int) -> Claimed | None:
    """The arrays of a claim for pieces of one class of thickness; None if the claim has no bodies of its own."""
    beliefs = prior_of(tables, claim, may_be_hollow, prior)
    t = float(THICKNESS_STEP**thickness)
    form = Form("disc", (USUAL_RATIO * t, t), measured=False)
    observed = of_whole_piece()
    claimed = claim_candidates(tables, claim, beliefs.claim_bodies, form, observed.shows)
    if claimed is None:
        return None
    value, model = observed.predictions(claimed)[0]
    sigma, others = claimed.bodies.sigma[claimed.point], beliefs.alternatives(form)
    gathered = _gathered(
        others.candidates,
        others.prior,
        kinds_of(others.candidates, float(claimed.v.mean()), claim.metal),
        np.log(observed.expected(others.candidates)),
        observed.predictions(others.candidates)[0][1],
    )
    usual = usual_alloys(tables, claim, claimed.bodies)[claimed.point]
    return Claimed(may_be_hollow, claimed.v, sigma, value, model, magnetic_class_of(claimed), usual, gathered)


def _gathered(candidates: Candidates, weight: Array, kinds: Index, ln_value: Array, model: Array) -> Others:
    """Alternatives gathered in cells, without the lightest of each kind."""
    magnetic, sigma = magnetic_class_of(candidates), candidates.bodies.sigma[candidates.point]
    v, v_cell = np.unique(np.rint(np.log(candidates.v) / V_CELL), return_inverse=True)
    value, value_cell = np.unique(np.rint(ln_value / RHO_CELL), return_inverse=True)
    number = ((v_cell * len(value) + value_cell) * 3 + magnetic) * (len(KINDS) + 1) + kinds
    _, first, cell = np.unique(number, return_index=True, return_inverse=True)
    whole = np.asarray(np.bincount(cell, weight), dtype=float)
    heavy = np.sort(np.concatenate([_heavy(whole, np.flatnonzero(kinds[first] == k)) for k in np.unique(kinds)]))
    of_v, of_value = (np.bincount(cell, weight * x) / np.maximum(whole, 1e-300) for x in (sigma, model))
    first = np.asarray(first[heavy])
    return Others(
        np.exp(V_CELL * v),
        np.exp(RHO_CELL * value),
        v_cell[first],
        value_cell[first],
        magnetic[first],
        kinds[first],
        of_v[heavy],
        of_value[heavy],
        whole[heavy],
    )


def _heavy(whole: Array, mine: Index) -> Index:
    """Of some cells, all but the lightest."""
    heavy = mine[np.argsort(-whole[mine])]
    return heavy[: 1 + np.searchsorted(np.cumsum(whole[heavy]), (1 - LIGHT) * whole[mine].sum())]


@dataclass(frozen=True, eq=False)
class LessFine:
    """Alloys of a claim at falling fineness: arrays (shares, alloys) at steps of `percent`."""

    percent: Array
    v: Array
    sigma: float
    value: Array
    model: Array

    def scores(self, at: Index, r: RowReading) -> Scores:
        """Normal scores of the readings for the alloys of some shares."""
        v, told = self.v[at].ravel(), {}
        out = {WEIGHING: r.weighed.score(v, np.full(len(v), self.sigma))}
        if r.conductivity is not None:
            predicted = self.value[at].ravel(), self.model[at].ravel()
            out[r.conductivity.name] = r.conductivity.score_predicted(*predicted)
        if r.magnet is not None:
            out[r.magnet.name] = np.full(len(v), r.magnet.scores[0, r.magnet.answer])
            told[r.magnet.name] = (r.magnet.shares, np.zeros(len(v), dtype=np.intp))
        return Scores(out, told=told)


@lru_cache(maxsize=128)
def less_fine_of(tables: Tables, claim: Claim) -> LessFine | None:
    """The alloys of a claim of a precious metal; None for other claims."""
    bodies = bodies_of_metal(tables, claim)
    if bodies is None:
        return None
    percent = steps_of(claim)
    trial = less_fine(bodies, claim.metal, percent)
    form = Form("disc", (USUAL_RATIO, 1.0), measured=False)
    layers = prior_of(tables, claim, False).layers
    predicted = of_whole_piece().predictions(Candidates.bare(trial, layers, form))[0]
    v, value, model = (x.reshape(len(percent), -1) for x in (trial.v, *predicted))
    return LessFine(percent, v, float(trial.sigma[0]), value, model)
