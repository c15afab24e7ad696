"""Joint rows of a body and a free parameter, each with its prior share and its likelihood."""

from __future__ import annotations

from dataclasses import dataclass

from ..alloys.bodies import Bodies
from ..arrays import Array, Index, Mask
from ..pieces.candidates import Candidates
from .evidence import Evidence


@dataclass(frozen=True)
class Rows:
    """Joint rows of body and free parameter.

    `construction` : number in `constructions.CONSTRUCTIONS`. `point` : row of the bodies. `skin` : material, -1 for
    none. `parameter` : skin thickness [um] or share of the volume. `prior` : share. `likelihood` : density.
    """

    construction: Index
    point: Index
    skin: Index
    parameter: Array
    prior: Array
    likelihood: Array

    @property
    def weight(self) -> Array:
        """Prior times likelihood."""
        return self.prior * self.likelihood

    def kept(self, threshold: float) -> Rows:
        """The rows whose weight is at least `threshold`."""
        return self.some(self.weight >= threshold)

    def some(self, keep: Mask | Index) -> Rows:
        """Some of the rows."""
        return Rows(*(getattr(self, name)[keep] for name in self.__dataclass_fields__))

    def candidates(self, bodies: Bodies, evidence: Evidence) -> Candidates:
        """The candidates for which the rows stand."""
        return Candidates(
            bodies, evidence.layers, evidence.form, self.construction, self.point, self.skin, self.parameter
        )
