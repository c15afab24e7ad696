"""The decision on a claim for many pieces: the rule of `decision.py` over arrays that are made once per claim."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..advice.fineness import COARSE_STEP, FINE_STEP, first_stop, less_fine, not_shown
from ..inference.decision import (
    MOST_VOID,
    POINTS_TO,
    SPEAKS_AGAINST,
    Decision,
    critical_misfit,
    decide,
    misfit_of,
    misfit_probability,
)
from ..inference.evidence import WEIGHING
from ..inference.prior import claim_bodies, claim_candidates, prior_of
from ..inputs.claim import Claim
from ..pieces.candidates import Candidates
from ..pieces.shape import USUAL_RATIO, Form
from ..published.load import Tables
from ..readings.error_model import ratio_score
from ..readings.magnet import ObservedMagnet, magnetic_class_of
from .beliefs import THICKNESS_STEP, Meter, Reading, conductivity_like
from .kernels import ratio_curve, ratio_reach
from .table import RHO_LEVELS, V_LEVELS, level_of

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Scores = dict[str, Array]

V_CELL, RHO_CELL = 0.002, 0.03  # widths of the cells of ln(v) and ln(resistivity) that alternatives are gathered in
LIGHT = 1e-3  # share of the alternatives, in the lightest cells, that is left out
CONDUCTIVITY, MAGNET = "conductivity", "magnet"


@dataclass(frozen=True, eq=False)
class Claimed:
    """Candidates as claimed and what else they may be, as arrays.

    Attributes
    ----------
    v, sigma, value, model, magnetic : of pieces as claimed: specific volume, its relative scatter, conductivity [MS/m]
        at each frequency (frequencies, n), its relative scatter, class. other_v, other_rho : middles of cells of
        specific volume and ln(resistivity). v_cell, rho_cell, v_level, rho_level, other_magnetic, other_weight : of
        alternatives that share both cells: their numbers, levels of scatter, class, and prior, which sums to 1.
    """

    hollow: bool
    v: Array
    sigma: Array
    value: Array
    model: Array
    magnetic: Index
    other_v: Array
    other_rho: Array
    v_cell: Index
    rho_cell: Index
    v_level: Index
    rho_level: Index
    other_magnetic: Index
    other_weight: Array

    def decision(self, r: Reading, magnet: ObservedMagnet | None, false_alarm: float) -> Decision:
        """As `solve.judge` finds it; the share excluded is left out (nan) where nothing hangs on it."""
        by_reading = self._scores(r, magnet)
        clear = misfit_probability(by_reading) < false_alarm
        alone = [name for name in by_reading if misfit_probability(by_reading, name) > SPEAKS_AGAINST]
        if clear and (len(by_reading) == 1 or not alone):
            return decide(by_reading, lambda name: np.nan, false_alarm)
        found = self._between(r, magnet)

        def excluded(name: str) -> float:
            if name:
                return self._overruled(r, magnet, found, name, false_alarm)
            return self._excluded(found, self.other_weight, false_alarm)

        return decide(by_reading, excluded, false_alarm)

    def _scores(self, r: Reading, magnet: ObservedMagnet | None) -> Scores:
        z = r.weighed.score(self.v, self.sigma * self.v)
        explained = self.hollow & (z > 0) & (1 - self.v / r.weighed.v < MOST_VOID)
        out = {WEIGHING: np.where(explained, 0.0, z)}
        if r.resistivity is not None:
            away = np.log(100 / r.resistivity / self.value)
            best = np.abs(away / np.hypot(r.u_resistivity, self.model)).argmin(axis=0)
            at = np.arange(len(best))
            out[CONDUCTIVITY] = ratio_score(away[best, at], r.u_resistivity, self.model[best, at])
        if magnet is not None:
            out[MAGNET] = magnet.scores(magnet.answer)[self.magnetic]
        return out

    def _between(self, r: Reading, magnet: ObservedMagnet | None) -> Scores:
        """Scores the alternatives, read without noise, would have under the claim, as `alternative_scores`."""
        low, high = int(np.argmin(self.v)), int(np.argmax(self.v))
        over, under = self.other_v - self.v[high], self.v[low] - self.other_v
        z = np.zeros(len(self.other_v))
        lighter, denser = np.flatnonzero(over > 0), np.flatnonzero(under > 0)
        z[lighter] = r.weighed.score_at(over[lighter], self.sigma[high] * r.weighed.v)
        z[denser] = r.weighed.score_at(-under[denser], self.sigma[low] * r.weighed.v)
        if self.hollow:
            z[lighter] = np.where(1 - self.v[high] / self.other_v[lighter] < MOST_VOID, 0.0, z[lighter])
        out = {WEIGHING: z.take(self.v_cell)}
        if r.resistivity is not None:
            logs = np.log(100 / self.value)
            apart = np.maximum(self.other_rho - logs.max(), 0.0) + np.minimum(self.other_rho - logs.min(), 0.0)
            each = np.interp(apart, *ratio_curve(r.u_resistivity, float(self.model.max())))
            out[CONDUCTIVITY] = each.take(self.rho_cell)
        if magnet is not None:
            table = np.array([np.abs(magnet.scores(k)) for k in range(magnet.shares.shape[1])])
            under_claim = table[:, np.unique(self.magnetic)].min(axis=1)
            out[MAGNET] = under_claim[np.argmax(magnet.shares, axis=1)].take(self.other_magnetic)
        return out

    def _excluded(self, found: Scores, weight: Array, false_alarm: float, left_out: str = "") -> float:
        misfit, readings = misfit_of(found, left_out)
        whole = float(weight.sum())
        if not readings or whole <= 0:
            return 0.0
        return float(weight[misfit > critical_misfit(false_alarm, readings)].sum()) / whole

    def _overruled(
        self, r: Reading, magnet: ObservedMagnet | None, found: Scores, name: str, false_alarm: float
    ) -> float:
        """Of what a reading points to, the share that the others would have contradicted, as `decision.overruled`."""
        if name == WEIGHING:
            low, high = (x.take(self.v_level) for x in r.weighed.reach(POINTS_TO))
            away = (r.weighed.v - self.other_v).take(self.v_cell)
            near = (away > low) & (away < high)
        elif name == CONDUCTIVITY:
            assert r.resistivity is not None
            reach = ratio_reach(r.u_resistivity, POINTS_TO).take(self.rho_level)
            near = np.abs(self.other_rho - np.log(r.resistivity)).take(self.rho_cell) < reach
        else:
            assert magnet is not None
            near = np.abs(magnet.scores(magnet.answer)).take(self.other_magnetic) < POINTS_TO
        pointed = np.where(near, self.other_weight, 0.0)
        return self._excluded(found, pointed, false_alarm, name) if pointed.any() else 1.0


@lru_cache(maxsize=256)
def claimed_of(
    tables: Tables, claim: Claim, may_be_hollow: bool, prior: str, frequencies: tuple[float, ...], thickness: int
) -> Claimed | None:
    """The arrays of a claim for pieces of one class of thickness; None where the claim has no bodies of its own."""
    beliefs = prior_of(tables, claim, may_be_hollow, prior)
    t = float(THICKNESS_STEP**thickness)
    form = Form("disc", (USUAL_RATIO * t, t), measured=False)
    observed = conductivity_like(frequencies)
    claimed = claim_candidates(tables, claim, beliefs.claim_bodies, form, observed.shows)
    if claimed is None:
        return None
    value, model = (np.array(x) for x in zip(*observed.predictions(claimed), strict=True))
    others = beliefs.alternatives(form)
    cells = _gathered(
        others.candidates,
        others.prior,
        np.log(100 / observed.expected(others.candidates)),
        observed.predictions(others.candidates)[0][1],
    )
    return Claimed(
        may_be_hollow, claimed.v, claimed.bodies.sigma[claimed.point], value, model, magnetic_class_of(claimed), *cells
    )


def _gathered(
    candidates: Candidates, weight: Array, ln_rho: Array, model: Array
) -> tuple[Array, Array, Index, Index, Index, Index, Index, Array]:
    """Alternatives gathered in cells of specific volume, resistivity and class, with their mean scatter and weight."""
    magnetic, sigma = magnetic_class_of(candidates), candidates.bodies.sigma[candidates.point]
    v, v_cell = np.unique(np.rint(np.log(candidates.v) / V_CELL), return_inverse=True)
    rho, rho_cell = np.unique(np.rint(ln_rho / RHO_CELL), return_inverse=True)
    _, first, cell = np.unique((v_cell * len(rho) + rho_cell) * 3 + magnetic, return_index=True, return_inverse=True)
    whole = np.bincount(cell, weight)
    heavy = np.argsort(-whole)
    heavy = np.sort(heavy[: 1 + np.searchsorted(np.cumsum(whole[heavy]), (1 - LIGHT) * whole.sum())])
    of_v, of_rho = (np.bincount(cell, weight * x) / np.maximum(whole, 1e-300) for x in (sigma, model))
    first = np.asarray(first[heavy])
    weights, u_v, u_rho = whole[heavy], of_v[heavy], of_rho[heavy]
    return (
        np.exp(V_CELL * v),
        RHO_CELL * rho,
        v_cell[first],
        rho_cell[first],
        level_of(u_v, V_LEVELS),
        level_of(u_rho, RHO_LEVELS),
        magnetic[first],
        weights / weights.sum(),
    )


@dataclass(frozen=True, eq=False)
class LessFine:
    """Alloys of a claim, less and less fine: arrays (shares, alloys) at steps of `percent`."""

    percent: Array
    v: Array
    sigma: float
    value: Array
    model: Array

    def lowest(self, r: Reading, magnet: ObservedMagnet | None) -> float | None:
        """Least fineness [per mille] that these readings would have let pass, as `fineness.would_show_below`."""
        every = round(COARSE_STEP / FINE_STEP)
        stop = first_stop(self._pass(r, magnet, np.arange(0, len(self.percent), every)))
        if stop == 0:
            return None
        fine = np.arange((stop - 1) * every, min(stop * every, len(self.percent)))
        return 10 * float(self.percent[fine[first_stop(self._pass(r, magnet, fine)) - 1]])

    def _pass(self, r: Reading, magnet: ObservedMagnet | None, at: Index) -> NDArray[np.bool_]:
        v = self.v[at].ravel()
        by_reading = [r.weighed.score(v, self.sigma * v)]
        if r.resistivity is not None:
            away = np.log(100 / r.resistivity / self.value[at].ravel())
            by_reading.append(ratio_score(away, r.u_resistivity, self.model[at].ravel()))
        if magnet is not None:
            by_reading.append(np.full(len(v), magnet.scores(magnet.answer)[0]))
        return not_shown(by_reading, len(at))


@lru_cache(maxsize=128)
def less_fine_of(tables: Tables, claim: Claim, frequencies: tuple[float, ...]) -> LessFine | None:
    """The alloys of a claim of a precious metal; None for other claims."""
    bodies = claim_bodies(tables, claim) if claim.metal and claim.regions else None
    if bodies is None:
        return None
    percent = np.arange(claim.least, 5.0, -FINE_STEP)
    trial = less_fine(bodies, claim.metal, percent)
    form = Form("disc", (USUAL_RATIO, 1.0), measured=False)
    layers = prior_of(tables, claim, False, "default").layers
    value, model = conductivity_like(frequencies).predictions(Candidates.bare(trial, layers, form))[0]
    shape = (len(percent), -1)
    return LessFine(percent, trial.v.reshape(shape), float(trial.sigma[0]), value.reshape(shape), model.reshape(shape))


def thickness_class(thickness_um: float) -> int:
    """Class of thickness of a piece."""
    return Meter.of((1.0,), thickness_um, 0.0).thickness
