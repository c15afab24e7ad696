"""The fineness below which the readings of a piece would have shown it, and the one that a weighing could show."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from ..alloys.bodies import RESISTIVITY_SCATTER, Bodies
from ..alloys.law import properties
from ..alloys.materials import layers_of
from ..arrays import Array, Index, Mask
from ..inference.compare import scores
from ..inference.decision import CONTRADICTED, SPEAKS_AGAINST, Decision
from ..inference.misfit import p_of, p_of_reading
from ..inputs.claim import METAL_NAMES, Claim, parse_claim
from ..integral.evidence import Evidence, Scores
from ..measured import Measured
from ..pieces.candidates import Candidates
from ..pieces.shape import Form
from ..published.load import Tables
from ..readings.error_model import VolumeLikelihood
from ..weighing.weigh import Weighing

Passes = Callable[[Scores, int], Mask]  # scores of so many shares -> which of the shares the readings let pass

FINE, ALLOYED = 99.0, 98.0  # percent: from the first on it is sold as fine metal, at the second it is an alloy
COARSE_STEP, FINE_STEP = 4.0, 0.5  # percent, of the search


def contradicted_below(
    tables: Tables, claim: Claim | None, evidence: Evidence, decision: Decision | None
) -> float | None:
    """Fineness [per mille] below which the readings contradict a piece alloyed as claimed, as they would such a claim.

    It is None where that says nothing: without a density, the only reading that takes in all of the piece and changes
    steadily with its fineness, and below half of the claimed fineness, where nobody alloys the same way.
    """
    if claim is None or decision is None or decision.code == CONTRADICTED or evidence.volume is None:
        return None
    bodies = bodies_of_metal(tables, claim)
    if bodies is not None and claim.least >= FINE:  # what is less fine has the alloying metals and scatter of an alloy
        bodies = bodies_of_metal(tables, parse_claim(f"{METAL_NAMES[claim.metal]} {10 * ALLOYED:.0f}", tables))
    if bodies is None:
        return None
    alarm = decision.false_alarm
    found = _least(evidence, claim, bodies, lambda scores, shares: _best(scores, shares) >= alarm)
    return found if found is not None and 5 * claim.least <= found < 10 * claim.least else None


def speaks_against_below(tables: Tables, claim: Claim | None, evidence: Evidence) -> float | None:
    """Share of the claimed metal [per mille] below which the readings speak against it, alloyed as claimed.

    The alloying metals of the claim are scaled up together while its fineness falls. It is None if the claim has no
    fineness.
    """
    bodies = bodies_of_metal(tables, claim) if claim else None
    return _least(evidence, claim, bodies, not_shown) if claim and bodies is not None else None


def _least(evidence: Evidence, claim: Claim, bodies: Bodies, passes: Passes) -> float | None:
    percent = steps_of(claim)

    def scored(at: Index) -> Scores:
        trial = less_fine(bodies, claim.metal, percent[at])
        return scores(evidence, Candidates.bare(trial, evidence.layers, evidence.form), False)

    return least_passing(percent, scored, passes)


def bodies_of_metal(tables: Tables, claim: Claim) -> Bodies | None:
    """The compositions of a claim of a solid precious metal; None for other claims."""
    from ..inference.claimed import claim_bodies

    return claim_bodies(tables, claim) if claim.metal and claim.regions and not claim.plated else None


def steps_of(claim: Claim) -> Array:
    """Shares [percent] of the claimed metal that are tried, from the least that is claimed downwards."""
    return np.arange(claim.least, 5.0, -FINE_STEP)


def least_passing(percent: Array, scored: Callable[[Index], Scores], passes: Passes) -> float | None:
    """The last [per mille] of falling shares, coarse steps first, that the readings let pass; None where none do.

    `scored` gives the scores of the readings for the alloys of some of the shares, those of one share together;
    `passes` says of each share whether they let it pass.
    """

    def passing(at: Index) -> int:
        """How many of some shares pass before the first that does not."""
        passed = passes(scored(at), len(at))
        return len(at) if passed.all() else int(np.argmin(passed))

    every = round(COARSE_STEP / FINE_STEP)
    stop = passing(np.arange(0, len(percent), every))
    if stop == 0:
        return None
    fine = np.arange((stop - 1) * every, min(stop * every, len(percent)))
    return 10 * float(percent[fine[passing(fine) - 1]])


def less_fine(bodies: Bodies, metal: str, percent: Array) -> Bodies:
    """Alloys of the claim with its precious metal reduced to each share; those of one share stand together."""
    at = bodies.law.index[metal]
    rest = bodies.w.copy()
    rest[:, at] = 0.0
    alloyed = rest.sum(axis=1) > 1e-6
    if not alloyed.any():
        rest[:, bodies.law.index["Cu"]] = 1.0  # a fine metal is most often alloyed down with copper
        alloyed = np.ones(len(rest), dtype=bool)
    sigma = bodies.sigma[alloyed][::8]
    rest = rest[alloyed][::8] / rest[alloyed][::8].sum(axis=1, keepdims=True)
    w = rest[None, :, :] * (1 - percent / 100)[:, None, None]
    w[:, :, at] = percent[:, None] / 100
    w = w.reshape(-1, w.shape[2])
    p = properties(bodies.law, w)
    return replace(
        bodies,
        w=w,
        v=p.v,
        sigma=np.tile(sigma, len(percent)),
        resistivity=p.resistivity,
        u_resistivity=np.hypot(p.u_resistivity, RESISTIVITY_SCATTER),
        magnetic=np.zeros(len(w), dtype=np.intp),
        family=np.zeros(len(w), dtype=np.intp),
        grade=np.full(len(w), -1),
    )


def not_shown(by_reading: Scores, shares: int) -> Mask:
    """For each share, whether the best of its alloys would not speak against the claim."""
    p = p_of(by_reading).reshape(shares, -1)
    best = np.arange(shares) * p.shape[1] + p.argmax(axis=1)
    # each reading by itself too: one that agrees must not make room for another that does not
    alone = [p_of_reading(by_reading, name)[best] > SPEAKS_AGAINST for name in by_reading]
    return np.asarray(np.all([p.max(axis=1) > SPEAKS_AGAINST, *alone], axis=0))


def _best(by_reading: Scores, shares: int) -> Array:
    """For each share, the p of the best of its alloys."""
    return np.asarray(p_of(by_reading).reshape(shares, -1).max(axis=1))


def down_to(
    precious: Mapping[str, Measured],
    claim: Claim | None,
    decision: Decision | None,
    lowest: float | None,
    mass_g: float | None,
) -> dict[str, Measured]:
    """Contents whose range of the claimed metal reaches down to where the readings speak against less.

    What is thought likely may lie close together. What these readings allow, as long as they do not contradict the
    claim, reaches down to that fineness. `mass_g` : of the body, if contents are in grams.
    """
    if claim is None or decision is None or decision.code == CONTRADICTED:
        return dict(precious)
    if lowest is None or claim.metal not in precious:
        return dict(precious)
    m = precious[claim.metal]
    low = min(m.low, lowest / 1000 * (mass_g if m.unit == "g" and mass_g else 100.0))
    return {**precious, claim.metal: replace(m, low=low, u=max(m.u, (m.high - low) / 4))}


def fineness_seen(tables: Tables, claim: Claim, weighing: Weighing, form: Form) -> float | None:
    """Least fineness [per mille] that this weighing does not show, if it reads like a piece exactly as fine as claimed.

    Such a weighing would have shown any lower fineness. It is None if the claim names no alloyed precious metal.
    """
    bodies = bodies_of_metal(tables, claim)
    if bodies is None:
        return None
    share = bodies.w[:, bodies.law.index[claim.metal]]
    v = float(np.median(bodies.v[share <= np.quantile(share, 0.1)]))
    scale = v / float(weighing.v)
    air = float(weighing.bubble_v) * scale  # a sound piece reads too light by it on average
    reading = VolumeLikelihood(v + air, float(weighing.u_v) * scale, air)
    return speaks_against_below(tables, claim, Evidence(reading, (), form, layers_of(tables)))
