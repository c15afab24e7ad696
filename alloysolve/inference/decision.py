"""The decision on a claim: p comes from the misfit alone; beliefs enter only where the rule asks how much is excluded.

The misfit is the sum of squared normal scores of the readings for the best composition of the claim. Its tail
probability is that of chi-square with as many degrees of freedom as there are readings. `solve` and a batch compare a
claim with the readings each in its own way; the rules that turn a `Comparison` into a decision are here alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from .compare import Comparison
from .evidence import Scores

CONTRADICTED, UNDECIDED, NOT_CONTRADICTED = "contradicted", "undecided", "not contradicted"
FALSE_ALARM = 1e-4
SPEAKS_AGAINST = 0.05  # p above which nothing speaks against the claim
SHARE_EXCLUDED = 0.9  # of the alternatives, which must be excluded before "not contradicted" may be said
OTHERS_SPEAK = 0.9  # of what one reading points to, the share the others must exclude to overrule it
POINTS_TO = 3.0  # normal score up to which a reading agrees with what it points to


@dataclass(frozen=True, slots=True)
class Reason:
    """A reason as a code with its values; words are made from it elsewhere."""

    code: str
    values: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Decision:
    """The decision with its reasons, which always go together.

    Attributes
    ----------
    code : "contradicted", "undecided" or "not contradicted". p : tail probability of the misfit.
    excluded : share of what is not the claim that these readings would have contradicted; None if p is so small
        that nothing depends on it. false_alarm : the p below which a claim is contradicted. reasons : never empty.
    """

    code: str
    p: float
    excluded: float | None
    false_alarm: float
    reasons: tuple[Reason, ...]


def tail_probability(misfit: Array | float, readings: int) -> Array:
    """P(chi-square of `readings` degrees of freedom > misfit)."""
    from scipy.special import gammaincc

    return np.asarray(gammaincc(readings / 2, np.asarray(misfit) / 2))


def critical_misfit(p: float, readings: int) -> float:
    """Misfit whose tail probability is `p`."""
    from scipy.special import gammainccinv

    return float(2 * gammainccinv(readings / 2, p))


def independent(by_reading: Scores, left_out: str = "") -> dict[str, Array]:
    """Scores of the readings that count one by one, with one reading left out.

    Several conductivity readings of one piece share the scatter of the model, which does not average away: they count
    as one, the one that agrees least. The same holds for several readings of any kind whose predictions err together.
    """
    groups: dict[str, list[Array]] = {}
    for name, z in by_reading.items():
        if name != left_out:
            groups.setdefault(by_reading.alike.get(name, name), []).append(z)
    return {group: found[0] if len(found) == 1 else _worst(np.array(found)) for group, found in groups.items()}


def _worst(each: Array) -> Array:
    """For each candidate, the score farthest from 0, from scores (readings, candidates)."""
    return np.asarray(np.take_along_axis(each, np.abs(each).argmax(axis=0)[None, :], axis=0)[0])


def best_misfit(by_reading: Scores, left_out: str = "") -> tuple[float, int]:
    """Least misfit over the compositions of the claim, and the number of the best composition."""
    total, _ = misfit_of(by_reading, left_out)
    where = int(np.argmin(total))
    return float(total[where]), where


def misfit_probability(by_reading: Scores, left_out: str = "") -> float:
    """Tail probability of the least misfit."""
    readings = len(independent(by_reading, left_out))
    return float(tail_probability(best_misfit(by_reading, left_out)[0], readings)) if readings else 1.0


def misfit_of(by_reading: Scores, left_out: str = "") -> tuple[Array, int]:
    """Sum of the squared scores of the readings that count one by one, and the number of these readings."""
    used = independent(by_reading, left_out)
    return np.asarray(np.sum([z**2 for z in used.values()], axis=0)), len(used)


def share_excluded(found: Scores, prior: Array, false_alarm: float) -> float:
    """Share of the alternatives that the readings would contradict, from their scores."""
    misfit, readings = misfit_of(found)
    if not readings or prior.sum() <= 0:
        return 0.0
    contradicted = misfit > critical_misfit(false_alarm, readings)
    return float(prior[contradicted].sum() / prior.sum())


def overruled(compared: Comparison, false_alarm: float, name: str) -> float:
    """Of what one reading points to, the share that the other readings would have contradicted.

    A reading points to everything that agrees with it and is not the claim. A reading of the surface alone cannot
    overrule one that sees further. If nothing agrees with a reading, it points to nothing, and the share is 1.
    """
    pointed = np.where(np.abs(compared.score(name)) < POINTS_TO, compared.prior, 0.0)
    if not pointed.any():
        return 1.0
    return share_excluded(compared.alternative_scores(without={name, *compared.surface}), pointed, false_alarm)


def judge(compared: Comparison, false_alarm: float) -> Decision:
    """The decision on a claim, whichever way it was compared with the readings."""
    return decide(
        compared.claim_scores,
        lambda: share_excluded(compared.alternative_scores(), compared.prior, false_alarm),
        lambda name: overruled(compared, false_alarm, name),
        false_alarm,
    )


def decide(
    by_reading: Scores,
    excluded: Callable[[], float],
    overruled: Callable[[str], float],
    false_alarm: float = FALSE_ALARM,
) -> Decision:
    """The decision, from the scores of the claim.

    `excluded` gives the share of the alternatives that all readings exclude. `overruled` gives, of what one reading
    points to, the share that the others exclude. Both are asked for only if the decision depends on them.

    A claim is contradicted if p is below `false_alarm` and no single reading alone is to blame. If leaving one reading
    out lifts p above 0.05, and the others exclude nearly all that it points to, the readings disagree among themselves
    and nothing is decided. A reading that could not have spoken either way (magnet "none") cannot overrule the
    weighing, and a weighing cannot overrule a tone that points to tungsten.
    """
    p, where = misfit_probability(by_reading), best_misfit(by_reading)[1]
    each = {name: float(z[where]) for name, z in by_reading.items()}
    read = Reason("readings", {"scores": each})
    if p < false_alarm:
        for name in by_reading if len(by_reading) > 1 else []:
            without = misfit_probability(by_reading, name)
            if without > SPEAKS_AGAINST and overruled(name) >= OTHERS_SPEAK:
                alone = Reason("one reading alone", {"reading": name, "p_without": without})
                return Decision(UNDECIDED, p, None, false_alarm, (read, alone))
        worst = max(each, key=lambda name: abs(each[name]))
        against = Reason("misfit", {"reading": worst, "score": each[worst]})
        return Decision(CONTRADICTED, p, None, false_alarm, (read, against))
    if p <= SPEAKS_AGAINST:
        return Decision(UNDECIDED, p, None, false_alarm, (read, Reason("strained", {"p": p})))
    share = excluded()
    if share >= SHARE_EXCLUDED:
        return Decision(NOT_CONTRADICTED, p, share, false_alarm, (read, Reason("agrees", {"excluded": share})))
    others = Reason("others fit too", {"p": p, "excluded": share})
    return Decision(UNDECIDED, p, share, false_alarm, (read, others))
