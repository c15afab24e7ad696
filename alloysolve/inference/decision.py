"""The decision on a claim: p comes from the misfit alone; beliefs enter only where the rule asks how much is excluded.

p is the tail probability of the misfit of the best composition of the claim (`misfit`). `solve` and a batch compare a
claim with the readings each in its own way; the rules that turn a `Comparison` into a decision are here alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from .compare import Comparison
from .evidence import Scores
from .misfit import best_as_claimed, contradicted, p_of_reading

CONTRADICTED, UNDECIDED, NOT_CONTRADICTED = "contradicted", "undecided", "not contradicted"
FALSE_ALARM = 1e-4
SPEAKS_AGAINST = 0.05  # p, of all readings or of one, up to which they speak against the claim
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


def share_excluded(found: Scores, prior: Array, claim: Scores, false_alarm: float) -> float:
    """Share of the alternatives that the readings would contradict, from their scores and those of the claim."""
    if not found or prior.sum() <= 0:
        return 0.0
    without = [name for name in claim if name not in found]
    return float(prior[contradicted(found, claim, false_alarm, without)].sum() / prior.sum())


def overruled(compared: Comparison, false_alarm: float, name: str) -> float:
    """Of what one reading points to, the share that the other readings would have contradicted.

    A reading points to everything that agrees with it and is not the claim. A reading of the surface alone cannot
    overrule one that sees further. If nothing agrees with a reading, it points to nothing, and the share is 1.
    """
    pointed = np.where(np.abs(compared.score(name)) < POINTS_TO, compared.prior, 0.0)
    if not pointed.any():
        return 1.0
    found = compared.alternative_scores(without={name, *compared.surface})
    return share_excluded(found, pointed, compared.claim_scores, false_alarm)


def judge(compared: Comparison, false_alarm: float) -> Decision:
    """The decision on a claim, whichever way it was compared with the readings."""
    claim = compared.claim_scores
    return decide(
        claim,
        lambda: share_excluded(compared.alternative_scores(), compared.prior, claim, false_alarm),
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
    best = best_as_claimed(by_reading)
    each = {name: float(z[best.where]) for name, z in by_reading.items()}
    read = Reason("readings", {"scores": each})

    def undecided(code: str, values: Mapping[str, object], share: float | None = None) -> Decision:
        return Decision(UNDECIDED, best.p, share, false_alarm, (read, Reason(code, values)))

    if best.p < false_alarm:
        for name in by_reading if len(by_reading) > 1 else []:
            without = best_as_claimed(by_reading, {name}).p
            if without > SPEAKS_AGAINST and overruled(name) >= OTHERS_SPEAK:
                return undecided("one reading alone", {"reading": name, "p_without": without})
        worst = max(each, key=lambda name: abs(each[name]))
        against = Reason("misfit", {"reading": worst, "score": each[worst]})
        return Decision(CONTRADICTED, best.p, None, false_alarm, (read, against))
    own = {name: float(p_of_reading(by_reading, name)[best.where]) for name in by_reading}
    speaking = tuple(sorted((name for name in own if own[name] <= SPEAKS_AGAINST), key=lambda name: own[name]))
    if speaking:
        return undecided("speaks against", {"readings": speaking, "p": best.p})
    if best.p <= SPEAKS_AGAINST:
        return undecided("strained", {"p": best.p})
    share = excluded()
    if share >= SHARE_EXCLUDED:
        return Decision(NOT_CONTRADICTED, best.p, share, false_alarm, (read, Reason("agrees", {"excluded": share})))
    return undecided("others fit too", {"p": best.p, "excluded": share}, share)
