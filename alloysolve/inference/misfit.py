"""The misfit of a claim over all readings, and how rare one so large is for a sound piece.

Every reading has a score. That of a measured value is a normal score. That of an answer in words is the root of
``-2 ln(P(answer) / P(likeliest answer))``, from how often pieces of its class give each answer. The misfit is the sum
of the squared scores. Its tail probability is exact: the sum, over all combinations of answers, of the chance of the
combination times the chi-square tail of what the combination leaves to the measured values.

Answers that agree would dilute a weighing that does not, because wrong answers are commoner than a false alarm may be,
and measured values that agree would dilute a clear answer. So p is three times the smallest of three tails: of all
readings, of the measured values alone, and of the answers alone. Whoever looks three times is alarmed three times as
often.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..arrays import Array, Index, Mask
from ..integral.evidence import Scores
from ..readings.in_words import NEVER
from ..special import gammaincc

EQUAL = 1e-9  # difference up to which two misfits are the same
HALVINGS = 50  # of the interval in which a critical misfit is sought


@dataclass(frozen=True)
class Misfit:
    """Sum of the squared scores of the measured values, and that of the answers in words, for each candidate."""

    measured: Array
    told: Array

    @property
    def total(self) -> Array:
        """The sum of both."""
        return self.measured + self.told


@dataclass(frozen=True)
class Law:
    """How the misfit of a sound piece is distributed.

    `measured` : number of measured values. `answers` : for each answer in words, how often each word is given.
    """

    measured: int
    answers: tuple[tuple[float, ...], ...] = ()

    @property
    def looks(self) -> int:
        """How many tails are looked at: three if there are measured values and answers, otherwise one."""
        return 3 if self.measured and self.answers else 1

    @property
    def parts(self) -> tuple[Law, Law]:
        """The laws of the measured values and of the answers alone."""
        return Law(self.measured), Law(0, self.answers)

    def p(self, misfit: Misfit) -> Array:
        """p of a claim by all readings."""
        rarest = self.tail(misfit.total)
        if self.looks > 1:
            measured, told = self.parts
            rarest = np.minimum(rarest, np.minimum(measured.tail(misfit.measured), told.tail(misfit.told)))
        return np.asarray(np.minimum(self.looks * rarest, 1.0))

    def contradicted(self, misfit: Misfit, false_alarm: float) -> Mask:
        """Whether p is below the false alarm."""
        limit = false_alarm / self.looks
        out = misfit.total > self.critical(limit)
        if self.looks > 1:
            measured, told = self.parts
            out |= (misfit.measured > measured.critical(limit)) | (misfit.told > told.critical(limit))
        return np.asarray(out)

    def tail(self, misfit: Array | float) -> Array:
        """Probability that a sound piece has at least this sum of all squared scores."""
        added, chance = _combinations(self.answers)
        left = np.asarray(misfit, dtype=float)[..., None] - added
        if not self.measured:
            return np.asarray((left <= EQUAL) @ chance)
        return np.asarray(gammaincc(self.measured / 2, np.maximum(left, 0.0) / 2) @ chance)

    def critical(self, p: float) -> float:
        """Sum beyond which the tail probability is below `p`."""
        return _critical(self, p)


@lru_cache(maxsize=512)
def _combinations(answers: tuple[tuple[float, ...], ...]) -> tuple[Array, Array]:
    """What each combination of answers adds to the misfit, and its chance."""
    added, chance = np.zeros(1), np.ones(1)
    for shares in answers:
        share = np.array(shares)
        added = (added[:, None] - 2 * np.log(np.maximum(share / share.max(), NEVER))).ravel()
        chance = (chance[:, None] * share / share.sum()).ravel()
    return added, chance


@lru_cache(maxsize=2048)
def _critical(law: Law, p: float) -> float:
    low, high = 0.0, 1.0
    while law.tail(high) >= p:
        high *= 2
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if law.tail(middle) >= p else (low, middle)
    return low


def independent(by_reading: Scores, without: Collection[str] = ()) -> dict[str, Array]:
    """Scores of the readings that count one by one, with one reading left out.

    Several conductivity readings of one piece share the scatter of the model, which does not average away: they count
    as one, the one that agrees least. The same holds for several readings of any kind whose predictions err together.
    """
    groups: dict[str, list[Array]] = {}
    for name, z in by_reading.items():
        if name not in without:
            groups.setdefault(by_reading.alike.get(name, name), []).append(z)
    return {group: found[0] if len(found) == 1 else _worst(np.array(found)) for group, found in groups.items()}


def _worst(each: Array) -> Array:
    """For each candidate, the score farthest from 0, from scores (readings, candidates)."""
    return np.asarray(np.take_along_axis(each, np.abs(each).argmax(axis=0)[None, :], axis=0)[0])


def misfit_of(by_reading: Scores, told: Collection[str], without: Collection[str] = ()) -> Misfit:
    """The misfit of each candidate; `told` names the readings that are answers in words."""
    size = len(next(iter(by_reading.values()), np.zeros(1)))
    of_told = {by_reading.alike.get(name, name) for name in told}
    measured, words = np.zeros(size), np.zeros(size)
    for group, z in independent(by_reading, without).items():
        if group in of_told:
            words = words + z**2
        else:
            measured = measured + z**2
    return Misfit(measured, words)


def laws_of(by_reading: Scores, without: Collection[str] = ()) -> tuple[tuple[Law, ...], Index]:
    """The laws under which the candidates are judged, which differ by the classes of their answers, and whose is which.

    Several answers that err together are judged by the law of the first.
    """
    groups: dict[str, str] = {}
    for name in by_reading:
        if name not in without:
            groups.setdefault(by_reading.alike.get(name, name), name)
    told = [by_reading.told[name] for name in groups.values() if name in by_reading.told]
    measured = len(groups) - len(told)
    size = len(next(iter(by_reading.values()), np.zeros(1)))
    number, count = np.zeros(size, dtype=np.intp), 1
    for shares, of_class in told:
        number, count = number * len(shares) + of_class, count * len(shares)
    first = np.full(count, -1)
    first[number[::-1]] = np.arange(size)[::-1]
    known = first >= 0
    laws = [
        Law(measured, tuple(tuple(shares[of_class[at]].tolist()) for shares, of_class in told)) for at in first[known]
    ]
    return tuple(laws), np.asarray(np.cumsum(known) - 1)[number]


def law_at(by_reading: Scores, where: int) -> Law:
    """The law of one candidate."""
    laws, which = laws_of(by_reading)
    return laws[int(which[where])]


@dataclass(frozen=True)
class Best:
    """The candidate as claimed that the readings speak least against: its number, misfit, law and p."""

    where: int
    misfit: Misfit
    law: Law
    p: float


def best_as_claimed(by_reading: Scores, without: Collection[str] = ()) -> Best:
    """The candidate with the largest p; candidates of one law give the same answers, so the least misfit decides."""
    misfit, (laws, which) = misfit_of(by_reading, by_reading.told, without), laws_of(by_reading, without)
    found = []
    for n, law in enumerate(laws):
        mine = np.flatnonzero(which == n)
        at = int(mine[np.argmin(misfit.total[mine])])
        one = Misfit(misfit.measured[at], misfit.told[at])
        found.append(Best(at, one, law, float(law.p(one))))
    return max(found, key=lambda best: (best.p, -float(best.misfit.total)))


def p_of(by_reading: Scores) -> Array:
    """p of each candidate."""
    misfit, (laws, which) = misfit_of(by_reading, by_reading.told), laws_of(by_reading)
    out = np.empty(len(which))
    for n, law in enumerate(laws):
        mine = which == n
        out[mine] = law.p(Misfit(misfit.measured[mine], misfit.told[mine]))
    return out


def p_of_reading(by_reading: Scores, name: str) -> Array:
    """p of each candidate by one reading alone."""
    told = {k: found for k, found in by_reading.told.items() if k == name}
    return p_of(Scores({name: by_reading[name]}, told=told))


def contradicted(others: Scores, claim: Scores, false_alarm: float, without: Collection[str] = ()) -> Mask:
    """Which pieces would contradict the claim, whichever candidate as claimed it is compared with.

    `others` : the scores that they, read without noise, would have under the claim. `claim` : the scores of the claim.
    """
    misfit = misfit_of(others, claim.told, without)
    if not any(name not in without for name in others):
        return np.zeros(len(misfit.measured), dtype=bool)
    return np.asarray(np.all([law.contradicted(misfit, false_alarm) for law in laws_of(claim, without)[0]], axis=0))
