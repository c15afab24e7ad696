"""Joint rows of a body and a free parameter, each with its prior share and its likelihood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from ..alloys.bodies import Bodies
from ..arrays import Array, Index, Mask
from ..pieces.candidates import Candidates
from .evidence import Evidence


class Shares(Protocol):
    """Prior share of each body under one construction with one material (`believed.Believed`)."""

    @property
    def construction(self) -> int:
        """Number of the construction."""

    @property
    def skin(self) -> int:
        """Number of the material, -1 for none."""

    @property
    def share(self) -> Array:
        """Share of each body, (points,)."""

    @property
    def spans(self) -> Sequence[tuple[float, float, float]]:
        """Shares and bounds of the parts of the prior of the parameter."""


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

    def under(self, prior: Sequence[Shares], made_for: Sequence[Shares]) -> Rows:
        """The rows under another prior than the one they were made for, without those that it gives no share.

        `made_for` must give a share to all that `prior` gives one. Both list the same constructions and materials, and
        spread them alike over the parameter.
        """
        share, before = np.zeros(len(self.point)), np.zeros(len(self.point))
        width = int(self.skin.max(initial=-1)) + 2
        kind = self.construction * width + self.skin + 1
        order = np.argsort(kind, kind="stable")
        ordered = kind[order]
        kinds = [b.construction * width + b.skin + 1 if b.skin + 1 < width else -1 for b in made_for]
        for here, a, b in zip(kinds, prior, made_for, strict=True):
            mine = order[slice(*np.searchsorted(ordered, [here, here + 1]))]
            each = _density(b.spans, self.parameter[mine]) if kinds.count(here) > 1 else 1.0
            share[mine] += a.share[self.point[mine]] * each
            before[mine] += b.share[self.point[mine]] * each
        some = np.flatnonzero(share > 0)
        return replace(kept := self.some(some), prior=kept.prior * share[some] / before[some])


def _density(spans: Sequence[tuple[float, float, float]], parameter: Array) -> Array:
    """Density per unit of ln(parameter) of a prior that is uniform in the logarithm over each of its parts."""
    each = [share / np.log(high / low) * ((low <= parameter) & (parameter <= high)) for share, low, high in spans]
    return np.asarray(sum(each))
