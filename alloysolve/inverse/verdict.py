"""The verdict on a claim: p comes from misfit alone; beliefs enter only where the rule asks how much is excluded.

Misfit is the sum of squared normal scores of the readings for the best composition of the claim; its tail
probability is that of chi-square with as many degrees of freedom as readings.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .bodies import Bodies
from .constructions import Evidence
from .likelihood import VolumeLikelihood, mixture_score, resistivity_score

Array = NDArray[np.float64]

CONTRADICTED, UNDECIDED, NOT_CONTRADICTED = "contradicted", "undecided", "not contradicted"
FALSE_ALARM = 1e-4
SPEAKS_AGAINST = 0.05  # p above which nothing speaks against the claim
SHARE_EXCLUDED = 0.9  # of what is not the claim, before "not contradicted" may be said
MOST_VOID = 0.75  # share of empty space beyond which a piece is no hollow piece of its metal
OTHERS_SPEAK = 0.5  # share that the remaining readings must exclude before they may overrule one


@dataclass(frozen=True, slots=True)
class Reason:
    """A reason as a code with its values; words are made from it elsewhere."""

    code: str
    values: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict with its reasons, which never travel apart.

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
    """What the piece may be if it is not what is claimed, as it would read; arrays over alternatives."""

    v: Array
    resistivity: Array
    magnetic: NDArray[np.intp]
    prior: Array


def tail_probability(misfit: Array | float, readings: int) -> Array:
    """P(chi-square of `readings` degrees of freedom > misfit)."""
    from scipy.special import gammaincc

    return np.asarray(gammaincc(readings / 2, np.asarray(misfit) / 2))


def critical_misfit(p: float, readings: int) -> float:
    """The misfit whose tail probability is `p`."""
    from scipy.special import gammainccinv

    return float(2 * gammainccinv(readings / 2, p))


def scores(evidence: Evidence, claim: Bodies, may_be_hollow: bool) -> dict[str, Array]:
    """Normal score of every reading for every composition of the claim, by reading."""
    out = {}
    if evidence.volume is not None:
        z = evidence.volume.score(claim.v, claim.sigma)
        explained = may_be_hollow & (z > 0) & (1 - claim.v / evidence.volume.v < MOST_VOID)
        out["weighing"] = np.where(explained, 0.0, z)  # empty space explains too light, never too dense
    for k, (read, u) in enumerate(evidence.resistivity):
        out[reading_name(k)] = resistivity_score(read, u, claim.resistivity, claim.u_resistivity)
    if evidence.magnet:
        out["magnet"] = magnet_scores(evidence)[claim.magnetic]
    return out


def magnet_scores(evidence: Evidence) -> Array:
    """Score by class: how rare this or a stronger answer is, or this or a weaker one."""
    from scipy.special import ndtri

    column = ("none", "weak", "strong").index(evidence.magnet)
    out = []
    for name in ("none", "slight", "strong"):
        shares = evidence.magnet_table[name]
        at_least, at_most = sum(shares[column:]), sum(shares[: column + 1])
        rarest = min(at_least, at_most)
        out.append(0.0 if rarest >= 0.4 else float(-ndtri(rarest)) * (1 if at_least < at_most else -1))
    return np.array(out)


def independent(by_reading: Mapping[str, Array], left_out: str = "") -> dict[str, Array]:
    """Scores of the readings that count one by one, one reading left out.

    Several conductivity readings of one piece share the scatter of the model, which does not average away: they
    count as one, by the mean of their scores.
    """
    used = {name: z for name, z in by_reading.items() if name != left_out}
    electric = [z for name, z in used.items() if name.startswith("conductivity")]
    if len(electric) > 1:
        used = {name: z for name, z in used.items() if not name.startswith("conductivity")}
        used["conductivity"] = np.mean(electric, axis=0)
    return used


def best_misfit(by_reading: Mapping[str, Array], left_out: str = "") -> tuple[float, int]:
    """Least misfit over the compositions of the claim, and where."""
    total = np.sum([z**2 for z in independent(by_reading, left_out).values()], axis=0)
    where = int(np.argmin(total))
    return float(total[where]), where


def misfit_probability(by_reading: Mapping[str, Array], left_out: str = "") -> float:
    """Tail probability of the least misfit."""
    readings = len(independent(by_reading, left_out))
    return float(tail_probability(best_misfit(by_reading, left_out)[0], readings)) if readings else 1.0


def excluded_share(
    evidence: Evidence, claim: Bodies, others: Alternatives, may_be_hollow: bool, false_alarm: float, left_out: str = ""
) -> float:
    """Share (by prior) of alternatives that would have been contradicted had they been read without noise."""
    found = alternative_scores(evidence, claim, others, may_be_hollow)
    return share_excluded(found, others, false_alarm, left_out)


def share_excluded(found: Mapping[str, Array], others: Alternatives, false_alarm: float, left_out: str = "") -> float:
    """The share from the scores of the alternatives by reading, one reading left out."""
    used = independent(found, left_out)
    if not used or others.prior.sum() <= 0:
        return 0.0
    contradicted = np.sum([z**2 for z in used.values()], axis=0) > critical_misfit(false_alarm, len(used))
    return float(others.prior[contradicted].sum() / others.prior.sum())


def alternative_scores(
    evidence: Evidence, claim: Bodies, others: Alternatives, may_be_hollow: bool
) -> dict[str, Array]:
    """Score each alternative would have had under the claim, by reading.

    The claim's compositions are taken as one interval of volume and one of resistivity, which can only
    make an alternative look more like the claim.
    """
    out = {}
    if evidence.volume is not None:
        out["weighing"] = _weighing_scores(evidence.volume, claim, others.v, may_be_hollow)
    for k, (_, u) in enumerate(evidence.resistivity):
        logs, read = np.log(claim.resistivity), np.log(others.resistivity)
        apart = np.maximum(read - logs.max(), 0.0) + np.minimum(read - logs.min(), 0.0)
        out[reading_name(k)] = _score_of(apart, u, float(claim.u_resistivity.max()), 0.0)
    if evidence.magnet:
        out["magnet"] = np.where(others.magnetic == 2, _strong_score(evidence, claim), 0.0)
    return out


def _weighing_scores(reading: VolumeLikelihood, claim: Bodies, v: Array, may_be_hollow: bool) -> Array:
    low, high = int(np.argmin(claim.v)), int(np.argmax(claim.v))
    over, under = v - claim.v[high], claim.v[low] - v
    lighter = _score_of(over, reading.u, claim.sigma[high] * reading.v, reading.bubble)
    denser = _score_of(-under, reading.u, claim.sigma[low] * reading.v, reading.bubble)
    if may_be_hollow:  # empty space explains too light, up to its limit
        lighter = np.where(1 - claim.v[high] / v < MOST_VOID, 0.0, lighter)
    return np.asarray(np.where(over > 0, lighter, 0.0) + np.where(under > 0, denser, 0.0))


def _score_of(r: Array, u: float, model: float, bubble: float) -> Array:
    """Normal score as a function of the residual alone, by a table."""
    width = 12 * float(np.hypot(u, 2.3 * model))
    grid = np.linspace(-width, width + 20 * bubble, 600)
    return np.interp(r, grid, mixture_score(grid, u, np.asarray(model), bubble))


def reading_name(k: int) -> str:
    """Name of the k-th whole-piece conductivity reading among the scores."""
    return "conductivity" if k == 0 else f"conductivity {k + 1}"


def _strong_score(evidence: Evidence, claim: Bodies) -> float:
    """Score a strongly attracted piece would have had under the claim."""
    from dataclasses import replace

    return float(np.abs(magnet_scores(replace(evidence, magnet="strong"))[claim.magnetic]).min())


def decide(by_reading: Mapping[str, Array], excluded: Mapping[str, float], false_alarm: float = FALSE_ALARM) -> Verdict:
    """The verdict from the scores of the claim and the share excluded by all readings ("") and without each.

    Contradicted needs p below `false_alarm` that no single reading alone is to blame for: when leaving one
    out lifts p above 0.05 and the others by themselves exclude most of what is not the claim, the readings
    disagree among themselves and nothing is decided. A reading that could not have spoken either way
    (magnet "none") cannot overrule the weighing.
    """
    p, where = misfit_probability(by_reading), best_misfit(by_reading)[1]
    each = {name: float(z[where]) for name, z in by_reading.items()}
    reasons = [Reason("readings", {"scores": each})]
    if p < false_alarm:
        for name in by_reading if len(by_reading) > 1 else []:
            without = misfit_probability(by_reading, name)
            if without > SPEAKS_AGAINST and excluded[name] >= OTHERS_SPEAK:
                reasons.append(Reason("one reading alone", {"reading": name, "p_without": without}))
                return Verdict(UNDECIDED, p, excluded[""], false_alarm, tuple(reasons))
        worst = max(each, key=lambda name: abs(each[name]))
        reasons.append(Reason("misfit", {"reading": worst, "score": each[worst]}))
        return Verdict(CONTRADICTED, p, excluded[""], false_alarm, tuple(reasons))
    if p > SPEAKS_AGAINST and excluded[""] >= SHARE_EXCLUDED:
        reasons.append(Reason("agrees", {"excluded": excluded[""]}))
        return Verdict(NOT_CONTRADICTED, p, excluded[""], false_alarm, tuple(reasons))
    code = "strained" if p <= SPEAKS_AGAINST else "others fit too"
    reasons.append(Reason(code, {"p": p, "excluded": excluded[""]}))
    return Verdict(UNDECIDED, p, excluded[""], false_alarm, tuple(reasons))
