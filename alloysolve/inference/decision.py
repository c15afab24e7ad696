"""The decision on a claim: p comes from the misfit alone; beliefs enter where the rule asks what else it may be.

p is the tail probability of the misfit of the best composition of the claim (`misfit`). `solve` and a batch compare a
claim with the readings each in its own way; the rules that turn a `Comparison` into a decision are here alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ..arrays import Array, Index, Mask
from ..integral.evidence import Scores
from .classes import KINDS
from .compare import Comparison
from .misfit import Best, best_as_claimed, contradicted, p_of_reading

CONTRADICTED, UNDECIDED, NOT_CONTRADICTED = "contradicted", "undecided", "not contradicted"
RARE_ALLOY = "rare alloy"  # the reason
FALSE_ALARM = 1e-4
SPEAKS_AGAINST = 0.05  # p, of all readings or of one, up to which they speak against the claim
# p under the best usual alloy of the claim, up to which only a rare one explains the readings; as many sound pieces of
# usual alloys may be left undecided for it
RARE_ONLY = 0.01
SHARE_EXCLUDED = 0.9  # of the alternatives, which must be excluded before "not contradicted" may be said
COUNTS_FROM = 0.01  # share of all belief from which a kind of alternative counts by itself
OTHERS_SPEAK = 0.9  # of what one reading points to, the share the others must exclude to overrule it
MOST = 0.5  # share of belief above which something is likelier than all else together
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

    @property
    def rare_alloy(self) -> bool:
        """Whether it is undecided because only a rare alloy of the claim would read so."""
        return self.reasons[-1].code == RARE_ALLOY


@dataclass(frozen=True)
class Shown:
    """How much of what is not the claim readings would contradict.

    `share` : of all of it. `by_kind` : of each kind (`classes.KINDS`) that counts, because enough belief goes to it.
    """

    share: float
    by_kind: Mapping[str, float]

    @property
    def least(self) -> str:
        """The kind that counts of which least shows, or ""."""
        return min(self.by_kind, key=lambda kind: self.by_kind[kind], default="")

    @property
    def enough(self) -> bool:
        """Whether nine tenths show of all, and of each kind that counts."""
        return min([self.share, *self.by_kind.values()]) >= SHARE_EXCLUDED

    @classmethod
    def of(cls, shown: Mask, prior: Array, kinds: Index) -> Shown:
        """From what shows, the prior shares, and the kinds of the alternatives."""
        counts = kinds >= 0
        whole, seen = (np.bincount(kinds[m], prior[m], len(KINDS)).tolist() for m in (counts, counts & shown))
        by_kind = {k: x / y for k, x, y in zip(KINDS, seen, whole, strict=True) if y >= COUNTS_FROM}
        return cls(float(prior[shown].sum() / prior.sum()) if prior.sum() > 0 else 0.0, by_kind)


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


class Believed(Protocol):
    """What is believed after the readings, as far as a decision may depend on it."""

    @property
    def share_meeting_solid(self) -> float:
        """Probability of solid pieces that meet the claim, as claimed or finer."""

    @property
    def share_fitting_beside(self) -> float:
        """Of all that does not meet the claim, the share that fits all readings together."""


class Asked(Protocol):
    """What a decision may ask; nothing is worked out that it does not depend on."""

    def usual(self) -> Mask:
        """Which candidates as claimed are of the usual alloys of the claim."""

    def shown(self) -> Shown:
        """How much of the alternatives all readings exclude."""

    def wild(self, name: str) -> float:
        """How often a reading is wild."""

    def overruled(self, name: str) -> float:
        """Of what one reading points to, the share that the others exclude."""

    def fitting(self) -> float:
        """Of what is believed beside the claim, the share that fits all readings together."""

    def meeting(self) -> float:
        """Share of belief that meets the claim."""


@dataclass(frozen=True)
class _Asked:
    """The answers of a claim compared with the readings, and of the beliefs."""

    compared: Comparison
    believed: Believed
    false_alarm: float

    def usual(self) -> Mask:
        """Which candidates as claimed are of the usual alloys of the claim."""
        return self.compared.usual

    def shown(self) -> Shown:
        """How much of the alternatives all readings exclude."""
        found = self.compared.alternative_scores()
        shown = contradicted(found, self.compared.claim_scores, self.false_alarm)
        return Shown.of(shown, self.compared.prior, self.compared.kinds)

    def wild(self, name: str) -> float:
        """How often a reading is wild."""
        return self.compared.wild(name)

    def overruled(self, name: str) -> float:
        """Of what one reading points to, the share that the others exclude."""
        return overruled(self.compared, self.false_alarm, name)

    def fitting(self) -> float:
        """Of what is believed beside the claim, the share that fits all readings together."""
        return self.believed.share_fitting_beside

    def meeting(self) -> float:
        """Share of belief that meets the claim."""
        return self.believed.share_meeting_solid


def judge(compared: Comparison, believed: Believed, false_alarm: float) -> Decision:
    """The decision on a claim, whichever way it was compared with the readings."""
    return decide(compared.claim_scores, _Asked(compared, believed, false_alarm), false_alarm)


def decide(by_reading: Scores, asked: Asked, false_alarm: float = FALSE_ALARM) -> Decision:
    """The decision, from the scores of the claim.

    p below `false_alarm` contradicts the claim, but for two cases. If one reading alone is to blame (`_to_blame`), it
    is to be taken again. If most of what is believed meets the claim, as a finer metal or an unusual alloy does, there
    is no fault. Without a contradiction, no reading may speak against the claim, no rare alloy may be its only excuse
    for a reading (`_rare_alloy`), and the readings must exclude nearly all of the alternatives, and of each kind of
    them that counts, before nothing speaks against it.
    """
    best = best_as_claimed(by_reading)
    each = _scores_at(by_reading, best)
    read = Reason("readings", {"scores": each})

    def undecided(code: str, values: Mapping[str, object], share: float | None = None) -> Decision:
        return Decision(UNDECIDED, best.p, share, false_alarm, (read, Reason(code, values)))

    if best.p < false_alarm:
        blamed = _to_blame(by_reading, asked, false_alarm)
        if blamed:
            return undecided("one reading alone", blamed)
        meeting = asked.meeting()
        if meeting > MOST:
            return undecided("meets it otherwise", {"share": meeting})
        worst = max(each, key=lambda name: abs(each[name]))
        against = Reason("misfit", {"reading": worst, "score": each[worst]})
        return Decision(CONTRADICTED, best.p, None, false_alarm, (read, against))
    against_it = speaking(by_reading, best.where)
    if against_it:
        return undecided("speaks against", {"readings": against_it, "p": best.p})
    if best.p <= SPEAKS_AGAINST:
        return undecided("strained", {"p": best.p})
    rare = _rare_alloy(by_reading, best.where, asked)
    if rare:
        values, scores = rare
        reasons = (Reason("readings", {"scores": scores}), Reason(RARE_ALLOY, values))
        return Decision(UNDECIDED, best.p, None, false_alarm, reasons)
    shown = asked.shown()
    if shown.enough:
        agrees = Reason("agrees", {"excluded": shown.share})
        return Decision(NOT_CONTRADICTED, best.p, shown.share, false_alarm, (read, agrees))
    if shown.share >= SHARE_EXCLUDED:
        values = {"kind": shown.least, "shown": shown.by_kind[shown.least]}
        return undecided("kind not shown", values, shown.share)
    return undecided("others fit too", {"p": best.p, "excluded": shown.share}, shown.share)


def speaking(by_reading: Scores, where: int) -> tuple[str, ...]:
    """Names of the readings that by themselves speak against one candidate as claimed, the clearest first."""
    only = by_reading.some(np.array([where]))
    own = {name: float(p_of_reading(only, name)[0]) for name in only}
    return tuple(sorted((name for name in own if own[name] <= SPEAKS_AGAINST), key=lambda name: own[name]))


def _rare_alloy(by_reading: Scores, where: int, asked: Asked) -> tuple[dict[str, object], dict[str, float]] | None:
    """The reading that alone fits a rare alloy of the claim and no usual one, with the scores of the best usual alloy.

    All others must fit the usual alloys: readings of two properties that point to a rare alloy bear each other out.
    """
    if asked.usual()[where]:
        return None
    usual = by_reading.some(np.flatnonzero(asked.usual()))
    best = best_as_claimed(usual)
    if best.p > RARE_ONLY:
        return None
    of = {name: by_reading.measures.get(name) or by_reading.alike.get(name, name) for name in by_reading}
    for measured in sorted(set(of.values())):
        together = {name for name in of if of[name] == measured}
        if best_as_claimed(usual, together).p > SPEAKS_AGAINST:
            worst = max(together, key=lambda name: abs(float(usual[name][best.where])))
            return {"reading": worst, "p_usual": best.p}, _scores_at(usual, best)
    return None


def _scores_at(by_reading: Scores, best: Best) -> dict[str, float]:
    return {name: float(z[best.where]) for name, z in by_reading.items()}


def _to_blame(by_reading: Scores, asked: Asked, false_alarm: float) -> dict[str, object]:
    """The one reading that speaks against a claim that all others agree with, if it is likelier to be wild.

    It must be wild more often than a false alarm is allowed, the others must exclude nearly all that it points to, and
    what fits all readings together must not be most of what else the piece may be. So a magnet that says "none" never
    overrules a weighing, since it could not have spoken either way, and neither does a conductivity that copper under
    a layer of silver has as well.
    """
    for name in by_reading if len(by_reading) > 1 else []:
        if asked.wild(name) <= false_alarm:
            continue
        without = best_as_claimed(by_reading, {name}).p
        if without > SPEAKS_AGAINST and asked.overruled(name) >= OTHERS_SPEAK and asked.fitting() <= MOST:
            return {"reading": name, "p_without": without}
    return {}
