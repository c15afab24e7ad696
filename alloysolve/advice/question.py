"""What a reading not yet taken is asked of: some of what still fits, and some of what is not the claim."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Array, Index, Mask
from ..inference.classes import classes
from ..inference.decision import Shown
from ..inference.find import Found, as_expected
from ..inference.misfit import Best, best_as_claimed, contradicted
from ..integral.evidence import Scores
from ..pieces.candidates import Candidates, joined_candidates
from ..pieces.constructions import CONSTRUCTIONS
from .agreement import best_of
from .trials import Trial

if TYPE_CHECKING:
    from ..inference.systems import System

SAMPLE, OF_A_SYSTEM = 1000, 20  # pieces that stand for what still fits, and the fewest of a system
CONTENT_STEPS = 20  # of the precious content by which they are drawn
COUNTS_FROM = 0.001  # share of belief of a system from which it is among them
OTHERS, OF_A_CLASS = 1000, 80  # pieces that are not as claimed, and the fewest of a class that show or do not


@dataclass(frozen=True)
class Sample:
    """Pieces that stand for all that fits: shares that add up to 1, and the number of the metal system of each."""

    pieces: Candidates
    share: Array
    system: Index


@dataclass(frozen=True)
class Others:
    """Pieces that stand for all that is not the claim.

    Attributes
    ----------
    prior : share of each. names : of the classes. class_ : number in them. kinds : number in `classes.KINDS`.
    scores : under the claim, by the readings so far. shown : whether these contradict it.
    """

    pieces: Candidates
    prior: Array
    names: tuple[str, ...]
    class_: Index
    kinds: Index
    scores: Scores
    shown: Mask


@dataclass(frozen=True)
class Question:
    """What still fits, and what the claim would have to survive, for one piece; each trial is predicted once."""

    s: Found
    _scores: dict[str, Array] = field(default_factory=dict, repr=False)

    @cached_property
    def sample(self) -> Sample:
        """Candidates that stand for all that fits.

        Of every system that counts, they are drawn in equal steps of belief in order of precious content, resistivity
        and construction. So it makes little difference how finely the rows were integrated, and none in which order.
        """
        posterior, bodies = self.s.posterior, self.s.posterior.bodies
        rows, by_system = posterior.rows, posterior.by_system
        known = np.flatnonzero(posterior.by_point)
        content = np.rint(CONTENT_STEPS * bodies.w[np.ix_(known, self._precious)].sum(axis=1))
        place = np.empty(len(bodies.v))
        place[known[np.lexsort((bodies.resistivity[known], content, bodies.system[known]))]] = np.arange(len(known))
        likely = by_system >= min(COUNTS_FROM, by_system.max())
        some = np.flatnonzero(likely[bodies.system[rows.point]])
        skins = len(posterior.layers.names) + 1
        built = rows.construction[some] * skins + rows.skin[some] + 1
        within = (built + rows.parameter[some] / (1 + rows.parameter.max())) / (len(CONSTRUCTIONS) * skins)
        some = some[np.argsort(place[rows.point[some]] + within)]
        system = bodies.system[rows.point[some]]
        at, share = drawn(system, posterior.share[some], SAMPLE, OF_A_SYSTEM)
        pieces = rows.some(some[at]).candidates(bodies, self.s.evidence)
        return Sample(pieces, share / share.sum(), system[at])

    @cached_property
    def claim(self) -> tuple[Scores, Best]:
        """Scores of the claim so far, and the candidate as claimed that the readings speak least against."""
        by_reading = self.s.compared.claim_scores if self.s.compared else Scores({})
        return by_reading, best_as_claimed(by_reading)

    @cached_property
    def other(self) -> tuple[System, Candidates] | None:
        """The likeliest system that does not meet the claim, or of all without one, and its best piece."""
        beside = self.s.beside_claim() if self.s.claim else list(self.s.found)
        piece = best_of(self.s, tuple(sorted(beside[0].metals))) if beside else None
        return None if piece is None else (beside[0], piece)

    @cached_property
    def usual(self) -> Candidates | None:
        """The usual alloys of the claim, where only a rare one fits the readings so far."""
        return as_expected(self.s) if self.s.decision and self.s.decision.rare_alloy else None

    @cached_property
    def others(self) -> Others:
        """Some of what is not the claim, drawn class by class, of what shows and of what does not.

        All are scored, so that the share of each class that shows is that of all.
        """
        compared, claim = self.s.compared, self.s.claim
        assert compared is not None
        every, scores = compared.others(), compared.alternative_scores()
        shown = contradicted(scores, self.claim[0], self.alarm)
        of = classes(every.candidates, float(compared.claim.v.mean()), claim.metal if claim else "")
        class_ = np.full(len(every.prior), len(of))
        for n, mine in enumerate(of.values()):
            class_[mine] = n
        group = 2 * class_ + shown
        order = np.argsort(group, kind="stable")
        some, prior = drawn(group[order], every.prior[order], OTHERS, OF_A_CLASS)
        at = order[some]
        pieces, kinds = every.candidates.some(at), compared.kinds[at]
        return Others(pieces, prior, tuple(of), class_[at], kinds, scores.some(at), shown[at])

    def shown_of(self, name: str) -> tuple[float, float]:
        """Share of a class of what is not the claim, and the part of it that the readings so far do not show."""
        others = self.others
        mine = others.class_ == others.names.index(name)
        return float(others.prior[mine].sum()), float(others.prior[mine & ~others.shown].sum())

    @cached_property
    def alarm(self) -> float:
        """The false alarm of the shop."""
        return self.s.settings.answers.false_alarm.value

    @cached_property
    def so_far(self) -> Shown:
        """How much of what is not the claim the readings so far would contradict."""
        return Shown.of(self.others.shown, self.others.prior, self.others.kinds)

    def under_claim(self, trial: Trial) -> tuple[Array, Array]:
        """Scores that a reading would have under the claim, taken of the sample and of what is not the claim."""
        name = trial.observed.name
        if name not in self._scores:
            self._scores[name] = trial.under_claim(joined_candidates([self.sample.pieces, self.others.pieces]))
        return self._scores[name][: len(self.sample.share)], self._scores[name][len(self.sample.share) :]

    def shown_with(self, trial: Trial) -> Mask:
        """Which of `others` would be contradicted with one more reading."""
        after = Scores({**self.others.scores, trial.observed.name: self.under_claim(trial)[1]}, self.claim[0].alike)
        return contradicted(after, trial.added, self.alarm)

    def closed_by(self, trials: Mapping[str, Trial], name: str, most: float) -> list[str]:
        """Kinds of readings that would show at least a share of what does not show of a class so far."""
        left = (self.others.class_ == self.others.names.index(name)) & ~self.others.shown
        whole = self.others.prior[left].sum()
        return [k for k, t in trials.items() if self.others.prior[left & self.shown_with(t)].sum() >= most * whole]

    @cached_property
    def content(self) -> Array:
        """Share by mass of precious metals in each piece of the sample."""
        pieces, at = self.sample.pieces, self._precious
        body = pieces.bodies.w[pieces.point[:, None], at].sum(axis=1)
        part = np.where(pieces.skin >= 0, pieces.layers.w[:, at].sum(axis=1)[pieces.skin], 0.0)
        return np.asarray(body * (1 - pieces.mass_part) + part * pieces.mass_part)

    @property
    def _precious(self) -> Index:
        """Columns of the precious metals."""
        index = self.s.posterior.bodies.law.index
        return np.array([index[s] for s, m in self.s.tables.metals.items() if m.precious])


def drawn(group: Index, share: Array, count: int, least: int = 0) -> tuple[Index, Array]:
    """Numbers of some entries, drawn of each group in equal steps of its share, and the share for which each stands.

    `group` : the group of each entry, in rising order. `count` : about how many are drawn in all. `least` : how many of
    a group at least, if it has so many.
    """
    cumulated, first = np.cumsum(share), np.flatnonzero(np.diff(group, prepend=-1))
    whole = np.add.reduceat(share, first)
    size = np.diff(np.append(first, len(group)))
    number_of = np.maximum(np.ceil(count * whole / whole.sum()), np.minimum(size, least)).astype(np.intp)
    number = np.repeat(np.arange(len(first)), number_of)
    nth = np.arange(len(number)) - (np.cumsum(number_of) - number_of)[number]
    each = (whole / number_of)[number]
    at = np.searchsorted(cumulated, (cumulated - share)[first][number] + each * (nth + 0.5))
    return np.minimum(at, len(group) - 1), each
