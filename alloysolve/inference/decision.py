"""The decision on a claim: p comes from misfit alone; beliefs enter only where the rule asks how much is excluded.

Misfit is the sum of squared normal scores of the readings for the best composition of the claim; its tail
probability is that of chi-square with as many degrees of freedom as readings.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..pieces.candidates import Candidates
from ..readings.base import score_of
from ..readings.error_model import VolumeLikelihood
from .evidence import WEIGHING, Evidence

Array = NDArray[np.float64]

CONTRADICTED, UNDECIDED, NOT_CONTRADICTED = "contradicted", "undecided", "not contradicted"
FALSE_ALARM = 1e-4
SPEAKS_AGAINST = 0.05  # p above which nothing speaks against the claim
SHARE_EXCLUDED = 0.9  # of what is not the claim, before "not contradicted" may be said
MOST_VOID = 0.75  # share of empty space beyond which a piece is no hollow piece of its metal
OTHERS_SPEAK = 0.9  # share of what one reading points to that the others must exclude before they may overrule it
POINTS_TO = 3.0  # normal score up to which a reading agrees with what it points to


@dataclass(frozen=True, slots=True)
class Reason:
    """A reason as a code with its values; words are made from it elsewhere."""

    code: str
    values: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Decision:
    """The decision with its reasons, which never travel apart.

    Attributes
    ----------
    code : "contradicted", "undecided" or "not contradicted". p : tail probability of the misfit.
    excluded : share of what is not the claim that these readings would have contradicted.
    false_alarm : the p below which a claim is contradicted. reasons : never empty.
    """

    code: str
    p: float
    excluded: float
    false_alarm: float
    reasons: tuple[Reason, ...]


@dataclass(frozen=True)
class Alternatives:
    """What the piece may be if it is not what is claimed, and the prior share of each."""

    candidates: Candidates
    prior: Array


def tail_probability(misfit: Array | float, readings: int) -> Array:
    """P(chi-square of `readings` degrees of freedom > misfit)."""
    from scipy.special import gammaincc

    return np.asarray(gammaincc(readings / 2, np.asarray(misfit) / 2))


def critical_misfit(p: float, readings: int) -> float:
    """The misfit whose tail probability is `p`."""
    from scipy.special import gammainccinv

    return float(2 * gammainccinv(readings / 2, p))


def scores(evidence: Evidence, claim: Candidates, may_be_hollow: bool) -> dict[str, Array]:
    """Normal score of every reading for every piece as claimed, by reading."""
    out = evidence.scores(claim)
    if evidence.volume is not None:
        z = out[WEIGHING]
        explained = may_be_hollow & (z > 0) & (1 - claim.v / evidence.volume.v < MOST_VOID)
        out[WEIGHING] = np.where(explained, 0.0, z)  # empty space explains too light, never too dense
    return out


def independent(by_reading: Mapping[str, Array], left_out: str = "") -> dict[str, Array]:
    """Scores of the readings that count one by one, one reading left out.

    Several conductivity readings of one piece share the scatter of the model, which does not average away: they
    count as one, the one that agrees least. So do several resonances.
    """
    used = {name: z for name, z in by_reading.items() if name != left_out}
    for kind in ("conductivity", "resonance", "sound_speed", "sliding_magnet"):
        alike = {name: z for name, z in used.items() if name.startswith(kind)}
        if len(alike) > 1:
            each = np.array(list(alike.values()))
            worst = np.take_along_axis(each, np.abs(each).argmax(axis=0)[None, :], axis=0)[0]
            used = {name: z for name, z in used.items() if name not in alike} | {kind: worst}
    return used


def best_misfit(by_reading: Mapping[str, Array], left_out: str = "") -> tuple[float, int]:
    """Least misfit over the compositions of the claim, and where."""
    total, _ = misfit_of(by_reading, left_out)
    where = int(np.argmin(total))
    return float(total[where]), where


def misfit_probability(by_reading: Mapping[str, Array], left_out: str = "") -> float:
    """Tail probability of the least misfit."""
    readings = len(independent(by_reading, left_out))
    return float(tail_probability(best_misfit(by_reading, left_out)[0], readings)) if readings else 1.0


def share_excluded(found: Mapping[str, Array], others: Alternatives, false_alarm: float, left_out: str = "") -> float:
    """The share from the scores of the alternatives by reading, one reading left out."""
    misfit, readings = misfit_of(found, left_out)
    if not readings or others.prior.sum() <= 0:
        return 0.0
    contradicted = misfit > critical_misfit(false_alarm, readings)
    return float(others.prior[contradicted].sum() / others.prior.sum())


def misfit_of(by_reading: Mapping[str, Array], left_out: str = "") -> tuple[Array, int]:
    """Sum of the squared scores of the readings that count one by one, and how many these are."""
    used = independent(by_reading, left_out)
    return np.asarray(np.sum([z**2 for z in used.values()], axis=0)), len(used)


def overruled(
    evidence: Evidence, found: Mapping[str, Array], others: Alternatives, false_alarm: float, name: str
) -> float:
    """The share of what one reading points to that the other readings would have contradicted.

    What it points to is what is not the claim and agrees with it. A reading of the surface alone cannot overrule one
    that sees further. Where nothing agrees with a reading, it points to nothing: 1.
    """
    deep = {n: z for n, z in found.items() if n not in evidence.surface}
    scored = evidence.only(name).scores(others.candidates)[name]
    pointed = Alternatives(others.candidates, np.where(np.abs(scored) < POINTS_TO, others.prior, 0.0))
    return share_excluded(deep, pointed, false_alarm, name) if pointed.prior.any() else 1.0


def alternative_scores(
    evidence: Evidence,
    claim: Candidates,
    others: Alternatives,
    may_be_hollow: bool,
    known: dict[str, Array] | None = None,
) -> dict[str, Array]:
    """Score each alternative, read without noise, would have had under the claim, by reading.

    `known` keeps the scores of readings other than the weighing for the next call with the same readings.
    """
    out = {}
    if evidence.volume is not None:
        out[WEIGHING] = _weighing_scores(evidence.volume, claim, others.candidates.v, may_be_hollow)
    known = {} if known is None else known
    for o in evidence.observed:
        if o.name not in known:
            known[o.name] = o.between(others.candidates, claim)
    return out | {o.name: known[o.name] for o in evidence.observed}


def _weighing_scores(reading: VolumeLikelihood, claim: Candidates, v: Array, may_be_hollow: bool) -> Array:
    """The claim's compositions are taken as one interval of volume, which can only make others look alike."""
    sigma = claim.bodies.sigma[claim.point]
    low, high = int(np.argmin(claim.v)), int(np.argmax(claim.v))
    over, under = v - claim.v[high], claim.v[low] - v
    lighter = score_of(over, reading.u, sigma[high] * reading.v, reading.bubble)
    denser = score_of(-under, reading.u, sigma[low] * reading.v, reading.bubble)
    if may_be_hollow:  # empty space explains too light, up to its limit
        lighter = np.where(1 - claim.v[high] / v < MOST_VOID, 0.0, lighter)
    return np.asarray(np.where(over > 0, lighter, 0.0) + np.where(under > 0, denser, 0.0))


def decide(
    by_reading: Mapping[str, Array], excluded: Callable[[str], float], false_alarm: float = FALSE_ALARM
) -> Decision:
    """The decision from the scores of the claim.

    `excluded` gives the share that all readings exclude ("") and `overruled` of one reading; it is asked only for
    what the decision hangs on.

    Contradicted needs p below `false_alarm` that no single reading alone is to blame for: when leaving one
    out lifts p above 0.05 and the others exclude nearly all that it points to, the readings disagree among themselves
    and nothing is decided. A reading that could not have spoken either way (magnet "none") cannot overrule the
    weighing, nor a weighing a tone that tungsten would have.
    """
    p, where = misfit_probability(by_reading), best_misfit(by_reading)[1]
    share = excluded("")
    each = {name: float(z[where]) for name, z in by_reading.items()}
    reasons = [Reason("readings", {"scores": each})]
    if p < false_alarm:
        for name in by_reading if len(by_reading) > 1 else []:
            without = misfit_probability(by_reading, name)
            if without > SPEAKS_AGAINST and excluded(name) >= OTHERS_SPEAK:
                reasons.append(Reason("one reading alone", {"reading": name, "p_without": without}))
                return Decision(UNDECIDED, p, share, false_alarm, tuple(reasons))
        worst = max(each, key=lambda name: abs(each[name]))
        reasons.append(Reason("misfit", {"reading": worst, "score": each[worst]}))
        return Decision(CONTRADICTED, p, share, false_alarm, tuple(reasons))
    if p > SPEAKS_AGAINST and share >= SHARE_EXCLUDED:
        reasons.append(Reason("agrees", {"excluded": share}))
        return Decision(NOT_CONTRADICTED, p, share, false_alarm, tuple(reasons))
    code = "strained" if p <= SPEAKS_AGAINST else "others fit too"
    reasons.append(Reason(code, {"p": p, "excluded": share}))
    return Decision(UNDECIDED, p, share, false_alarm, tuple(reasons))
