"""Readings that were not taken, made up in order to ask what they would show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Array
from ..inference.observe import circumstances_of
from ..integral.evidence import WEIGHING, Scores
from ..readings.base import Observed, Ratio
from ..readings.registry import KINDS, quantity_of

if TYPE_CHECKING:
    from ..inference.find import Found
    from ..pieces.candidates import Candidates


U_WEIGHING = 0.004  # relative, of the density of a piece weighed in water on a scale that is fine enough


@dataclass(frozen=True)
class TrialWeighing(Ratio):
    """A density not yet taken [g/cm3]."""

    def predict(self, candidates: Candidates) -> tuple[Array, Array]:
        """Density of the whole piece and its relative scatter."""
        return 1 / candidates.v, candidates.bodies.sigma[candidates.point]


def trials(s: Found) -> dict[str, Observed]:
    """Each reading that was not taken and can be taken of this piece, by kind; the weighing first."""
    taken = {quantity_of(r.kind) for r in s.piece.readings}
    about = circumstances_of(s.piece, s.settings, s.tables, s.evidence.form, s.claim)
    out: dict[str, Observed] = {}
    if s.evidence.volume is None:
        out[WEIGHING] = TrialWeighing(WEIGHING, WEIGHING, "", "", 10.0, U_WEIGHING, (0.5, 25.0), "g/cm3")
    for kind, of in KINDS.items():
        trial = of.trial(about) if of.trial and quantity_of(kind) not in taken else None
        if trial is not None:
            out[kind] = trial
    return out


def with_trial(by_reading: Scores, trial: Observed, claim: Candidates) -> Scores:
    """The scores of a claim with one more reading, which agrees with all candidates as claimed."""
    found = trial.told(claim)
    told = {} if found is None else {trial.name: found}
    added = {trial.name: np.zeros(len(claim))}
    return Scores({**by_reading, **added}, by_reading.alike, {**by_reading.told, **told})


def is_owned(s: Found, kind: str) -> bool:
    """Whether the shop can take a reading of a kind; every shop can weigh."""
    return kind == WEIGHING or kind.replace("_", " ") in s.settings.readings.own
