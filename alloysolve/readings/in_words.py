"""Readings that are one of a few answers in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from ..arrays import Array, Index, distinct
from .base import Observed

if TYPE_CHECKING:
    from ..pieces.candidates import Candidates

NEVER = 1e-12  # how often, beside the usual answer, one that is never given counts as given


@dataclass(frozen=True)
class Answer(Observed):
    """A reading that is one of a few answers, which depend on the class of what it sees.

    How often an answer is wrong stands in its table, so that it is never wild beyond that.

    `answer` : number of the answer. `shares` : (classes, answers) how often each class gives each answer.
    `others` : how often "something else" gives each answer.
    """

    name: str
    kind: str
    place: str
    text: str
    answer: int
    shares: Array
    others: Array
    wild: ClassVar[float] = 0.0

    @property
    def other(self) -> float:  # type: ignore[override]
        """How often "something else" would give this answer."""
        return float(self.others[self.answer])

    def class_of(self, candidates: Candidates) -> Index:
        """Number of the class of each piece."""
        raise NotImplementedError

    def told(self, candidates: Candidates) -> tuple[Array, Index]:
        """How often each class gives each answer, and the class of each candidate."""
        return self.shares, self.class_of(candidates)

    def pdf(self, candidates: Candidates) -> Array:
        """Share of pieces of the class of each candidate that give this answer."""
        return np.asarray(self.shares[:, self.answer][self.class_of(candidates)])

    def score(self, candidates: Candidates) -> Array:
        """How much less often each candidate gives this answer than its usual one, as a score."""
        return np.asarray(self.scores[self.class_of(candidates), self.answer])

    @cached_property
    def scores(self) -> Array:
        """Score of each class for each answer: the root of -2 ln(share of the answer / share of the usual one)."""
        ratio = self.shares / self.shares.max(axis=1, keepdims=True)
        return np.asarray(np.sqrt(-2 * np.log(np.maximum(ratio, NEVER))))

    def under(self, claim: Candidates) -> Callable[[Candidates], Array]:
        """Gives the score of the usual answer of others, for the class of the claim where it is least unusual."""
        classes = distinct(self.class_of(claim))
        return lambda others: self.between_classes(self.class_of(others), classes)

    def between_classes(self, others: Index, claim: Index) -> Array:
        """Score of the usual answers of other classes, for the class of the claim where they are least unusual."""
        under = self.scores[distinct(claim)].min(axis=0)
        usual = np.argmax(self.shares, axis=1)
        return np.asarray(under[usual][others])

    def expected(self, candidates: Candidates) -> Array:
        """Number of the usual answer of each piece."""
        return np.asarray(np.argmax(self.shares, axis=1)[self.class_of(candidates)], dtype=float)

    def scale(self, candidates: Candidates) -> tuple[Array, Array]:
        """Number of the usual answer, so that different answers lie far apart."""
        return 10 * self.expected(candidates), np.ones(len(candidates))
