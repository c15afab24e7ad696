"""What an X-ray instrument would print of a piece it has not seen, in percent of the metals it lists."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import numpy as np

from ...arrays import Array
from .printed import ObservedSurface

if TYPE_CHECKING:
    from ...pieces.candidates import Candidates

STEP = 0.05  # of ln(thickness), over which the change of what is printed is taken
SHOWN_FROM = 0.3  # percent from which a metal is named


@dataclass(frozen=True, eq=False)
class Forecast(ObservedSurface):
    """A surface composition that was not taken.

    A reading that was taken is turned into intensities at the composition that was printed. Here nothing was printed,
    so that each candidate is corrected at the composition which the instrument would print of it.
    """

    @classmethod
    def of(cls, observed: ObservedSurface) -> Forecast:
        """The forecast for an instrument, from any reading of it."""
        return cls(**{f.name: getattr(observed, f.name) for f in fields(observed) if not f.name.startswith("_")})

    def printed(self, candidates: Candidates) -> tuple[Array, Array]:
        """Shares printed of each candidate and their change with ln(thickness), both (n, lines) [percent]."""
        share = self.apparent(candidates)
        slope, layered = np.zeros_like(share), np.flatnonzero(candidates.faced)
        if len(layered):
            some = candidates.some(layered)
            thicker = replace(some, parameter=some.parameter * np.exp(STEP))
            slope[layered] = (self.apparent(thicker) - share[layered]) / STEP
        return share, slope

    def expected(self, candidates: Candidates) -> Array:
        """Printed share of the main metal [percent]."""
        return self.shown(candidates)

    def typed(self, candidates: Candidates) -> tuple[str, ...]:
        """What would be printed of each candidate, the main metals first, as a person types it in."""
        return tuple(self._text(p) for p in self.apparent(candidates))

    def _text(self, percent: Array) -> str:
        order = [k for k in np.argsort(-percent, kind="stable") if percent[k] >= SHOWN_FROM]
        return " ".join(f"{self.known[k]} {f'{percent[k]:.1f}'.removesuffix('.0')}" for k in order)

    def apart(self, candidates: Candidates, claim: Candidates) -> Array:
        """By how many percentage points each candidate is printed otherwise than the claim where it is most like it."""
        one, other = self.apparent(candidates), self.apparent(claim)
        return np.array([np.abs(p - other).sum(axis=1).min() / 2 for p in one])
