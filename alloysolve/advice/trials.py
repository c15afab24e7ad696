"""Readings that were not taken, made up in order to ask what they would show."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Array
from ..inference.observe import circumstances_of
from ..inputs.settings import owns
from ..integral.evidence import WEIGHING, Scores
from ..pieces.candidates import Candidates
from ..readings.base import Observed
from ..readings.ratio import Ratio
from ..readings.registry import KINDS, quantity_of

if TYPE_CHECKING:
    from ..inference.compare import PieceComparison
    from ..inference.find import Found


# Effort of a reading above which a few candidates as claimed stand for all 40 000 of a claim of a layer: X-rays would
# take 300 ms. For all others the ends of what pieces as claimed read come from all.
EASY, FEW = 2, 3000
U_WEIGHING = 0.004  # relative, of the density of a piece weighed in water on a scale that is fine enough


@dataclass(frozen=True)
class TrialWeighing(Ratio):
    """A density not yet taken [g/cm3]."""

    def predict(self, candidates: Candidates) -> tuple[Array, Array]:
        """Density of the whole piece and its relative scatter."""
        return 1 / candidates.v, candidates.bodies.sigma[candidates.point]


@dataclass(frozen=True)
class Trial:
    """A reading that was not taken, beside a claim and the readings so far; `compared` is None without a claim."""

    observed: Observed
    compared: PieceComparison | None

    @cached_property
    def claim(self) -> Candidates | None:
        """The candidates as claimed, or a few of them that stand for all for a reading that takes much effort."""
        every = self.compared.claim if self.compared else None
        if every is None or len(every) <= FEW or self.observed.effort <= EASY:
            return every
        return every.some(np.arange(0, len(every), -(-len(every) // FEW)))

    @cached_property
    def under_claim(self) -> Callable[[Candidates], Array]:
        """Gives the score that the reading of other candidates, taken without noise, would have under the claim."""
        assert self.claim is not None
        return self.observed.under(self.claim)

    @cached_property
    def added(self) -> Scores:
        """The scores of the claim so far, with this reading, which agrees with all candidates as claimed."""
        assert self.compared is not None
        return with_trial(self.compared.claim_scores, self.observed, self.compared.claim)


def trials(s: Found) -> dict[str, Trial]:
    """Each reading that was not taken and can be taken of this piece, by kind; the weighing first."""
    taken = {quantity_of(r.kind) for r in s.piece.readings}
    about = circumstances_of(s.piece, s.settings, s.tables, s.evidence.form, s.claim)
    out: dict[str, Observed | None] = {}
    if s.evidence.volume is None:
        out[WEIGHING] = TrialWeighing(WEIGHING, WEIGHING, "", "", 10.0, U_WEIGHING, (0.5, 25.0), "g/cm3")
    out |= {kind: of.trial(about) for kind, of in KINDS.items() if of.trial and quantity_of(kind) not in taken}
    return {kind: Trial(made, s.compared) for kind, made in out.items() if made is not None}


def with_trial(by_reading: Scores, trial: Observed, claim: Candidates) -> Scores:
    """The scores of a claim with one more reading, which agrees with all candidates as claimed."""
    found = trial.told(claim)
    told = {} if found is None else {trial.name: found}
    added = {trial.name: np.zeros(len(claim))}
    return Scores({**by_reading, **added}, by_reading.alike, {**by_reading.told, **told})


def is_owned(s: Found, kind: str) -> bool:
    """Whether the shop can take a reading of a kind."""
    return owns(s.settings.readings.own, kind)
