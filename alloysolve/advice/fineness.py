"""The least fineness that readings still let pass under a claim, and the least that a weighing could ever let pass."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..alloys.bodies import RESISTIVITY_SCATTER, Bodies
from ..alloys.materials import layers_of
from ..alloys.properties import properties
from ..inference.decision import SPEAKS_AGAINST, scores, tail_probability
from ..inference.evidence import Evidence
from ..inputs.claim import Claim
from ..pieces.candidates import Candidates
from ..pieces.shape import Form
from ..published.load import Tables
from ..readings.error_model import VolumeLikelihood
from ..weighing.weigh import Weighing

Array = NDArray[np.float64]

COARSE_STEP, FINE_STEP = 4.0, 0.5  # percent, of the search


def would_show_below(tables: Tables, claim: Claim | None, evidence: Evidence) -> float | None:
    """Least share of the claimed metal, alloyed as claimed, that these readings would still have let pass.

    The claim's alloying metals are scaled up together while its fineness falls; per mille.
    """
    if claim is None or not claim.metal or claim.plated or not claim.regions:
        return None
    from ..inference.prior import claim_bodies

    bodies = claim_bodies(tables, claim)
    if bodies is None:
        return None
    coarse = np.arange(claim.least, 5.0, -COARSE_STEP)
    stop = first_stop(_passing(bodies, claim.metal, evidence, coarse))
    if stop == 0:
        return None
    fine = np.arange(coarse[stop - 1], max(coarse[stop - 1] - COARSE_STEP, 5.0), -FINE_STEP)
    return 10 * float(fine[first_stop(_passing(bodies, claim.metal, evidence, fine)) - 1])


def first_stop(passes: NDArray[np.bool_]) -> int:
    """Number of leading True values."""
    return len(passes) if passes.all() else int(np.argmin(passes))


def less_fine(bodies: Bodies, metal: str, percent: Array) -> Bodies:
    """Alloys of the claim, its precious metal reduced to each share; those of one share stand together."""
    at = bodies.law.index[metal]
    rest = bodies.w.copy()
    rest[:, at] = 0.0
    alloyed = rest.sum(axis=1) > 1e-6
    if not alloyed.any():
        rest[:, bodies.law.index["Cu"]] = 1.0  # a fine metal is most often debased with copper
        alloyed = np.ones(len(rest), dtype=bool)
    rest = rest[alloyed][::8] / rest[alloyed][::8].sum(axis=1, keepdims=True)
    w = rest[None, :, :] * (1 - percent / 100)[:, None, None]
    w[:, :, at] = percent[:, None] / 100
    w = w.reshape(-1, w.shape[2])
    p = properties(bodies.law, w)
    return replace(
        bodies,
        w=w,
        v=p.v,
        sigma=np.full(len(w), float(bodies.sigma.mean())),
        resistivity=p.resistivity,
        u_resistivity=np.hypot(p.u_resistivity, RESISTIVITY_SCATTER),
        magnetic=np.zeros(len(w), dtype=np.intp),
        family=np.zeros(len(w), dtype=np.intp),
        grade=np.full(len(w), -1),
    )


def _passing(bodies: Bodies, metal: str, evidence: Evidence, percent: Array) -> NDArray[np.bool_]:
    """Whether any alloy of the claim, its precious metal reduced to each share, would not speak against the claim."""
    trial = less_fine(bodies, metal, percent)
    by_reading = scores(evidence, Candidates.bare(trial, evidence.layers, evidence.form), False)
    return not_shown(list(by_reading.values()), len(percent))


def not_shown(by_reading: list[Array], shares: int) -> NDArray[np.bool_]:
    """Of scores by reading over `debased` alloys: whether the best of each share would not speak against the claim."""
    squares = np.array([z**2 for z in by_reading]).reshape(len(by_reading), shares, -1)
    total = squares.sum(axis=0)
    # each reading by itself too: one that agrees must not make room for another that does not
    worst = np.take_along_axis(squares.max(axis=0), total.argmin(axis=1)[:, None], axis=1)[:, 0]
    alone = tail_probability(worst, 1) > SPEAKS_AGAINST
    return np.asarray((tail_probability(total.min(axis=1), len(by_reading)) > SPEAKS_AGAINST) & alone)


def fineness_seen(tables: Tables, claim: Claim, weighing: Weighing, form: Form) -> float | None:
    """Least fineness [per mille] that this weighing lets pass where it reads as a piece just as fine as claimed.

    What lies below it such a weighing would have shown; None where the claim names no alloyed precious metal.
    """
    from ..inference.prior import claim_bodies

    bodies = claim_bodies(tables, claim) if claim.metal else None
    if bodies is None or weighing.v is None:
        return None
    share = bodies.w[:, bodies.law.index[claim.metal]]
    v = float(np.median(bodies.v[share <= np.quantile(share, 0.1)]))
    scale = v / float(weighing.v)
    air = float(weighing.bubble_v) * scale  # a sound piece reads too light by it on average
    reading = VolumeLikelihood(v + air, float(weighing.u_v) * scale, air)
    return would_show_below(tables, claim, Evidence(reading, (), form, layers_of(tables)))
