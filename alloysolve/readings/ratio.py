"""Readings above zero whose errors are relative, and bounds of what they do between two steps."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from ..arrays import Array, distinct
from ..pieces.candidates import Along
from ..pieces.constructions import Place
from .base import Observed
from .error_model import ratio_pdf, ratio_pdf_between, ratio_score, score_of

if TYPE_CHECKING:
    from ..pieces.candidates import Candidates

LEAST_MODEL = 0.03  # relative, of any predicted ratio
LEAST_WALL_UM = 0.1  # of a cored piece, below which it reads like its core
CLOSE = 2.4  # in ln(parameter), up to which what a reading does at two steps bounds what it does between (tested)


@dataclass(frozen=True)
class Ratio(Observed):
    """A reading above zero whose errors are relative.

    `read`, `u` : value, and its relative standard uncertainty. `span` : what "something else" may read, uniform in the
    logarithm. `unit` : of `read`. `several` : whether it is more than one value, of which `read` is one.
    """

    several: ClassVar[bool] = False
    name: str
    kind: str
    place: str
    text: str
    read: float
    u: float
    span: tuple[float, float]
    unit: str

    @property
    def other(self) -> float:  # type: ignore[override]
        """Density in ln(value) under "something else"."""
        return 1 / math.log(self.span[1] / self.span[0])

    @property
    def peak(self) -> float:  # type: ignore[override]
        """Highest density in ln(value), for a model that errs by `LEAST_MODEL`."""
        return 0.5 / math.hypot(self.u, LEAST_MODEL)

    def predict(self, candidates: Candidates) -> tuple[Array, Array]:
        """Predicted value and its relative model uncertainty for each candidate, (n,)."""
        raise NotImplementedError

    def pdf(self, candidates: Candidates) -> Array:
        """Density in ln(value) for each candidate, (n,)."""
        value, model = self.predict(candidates)
        return ratio_pdf(np.log(self.read / value), self.u, model)

    def predict_along(self, a: Along) -> tuple[Array, Array]:
        """`predict` of pairs at each of their steps, both (pairs, steps)."""
        value, model = self.predict(a.candidates)
        return value.reshape(a.parameter.shape), model.reshape(a.parameter.shape)

    def along(self, a: Along) -> Array:
        """`pdf` of pairs at each of their steps."""
        value, model = self.predict_along(a)
        return ratio_pdf(np.log(self.read / value), self.u, model)

    def most(self, a: Along) -> Array:
        """About the highest `pdf` between neighbouring steps."""

        def bound(b: Along) -> Array:
            value, model = self.predict_along(b)
            return ratio_pdf_between(np.log(self.read / value), self.u, model, self.beyond(b))

        return bound_by_parts(a, bound)

    @property
    def conditions(self) -> tuple[Any, ...]:
        """What else than the candidate decides what is predicted."""
        return ()

    def beyond(self, a: Along) -> Array | float:
        """How far ln(value) may go beyond its values at two neighbouring steps, besides a share of its change."""
        return 0.0

    def score(self, candidates: Candidates) -> Array:
        """Normal score of the reading under each piece."""
        return self.score_predicted(*self.predict(candidates))

    def score_predicted(self, value: Array, model: Array) -> Array:
        """Normal score of the reading for predicted values and their relative model uncertainties."""
        return ratio_score(np.log(self.read / value), self.u, model)

    def under(self, claim: Candidates) -> Callable[[Candidates], Array]:
        """Gives the score that the reading of others, taken without noise, would have under the best of a claim."""
        value, model = self.predict(claim)
        return lambda others: self.between_predicted(self.expected(others), value, model)

    def between_predicted(self, others: Array, value: Array, model: Array) -> Array:
        """Score of values outside the range of the claim; taken as one interval, it can only make others look alike."""
        return score_of(outside(np.log(others), np.log(value)), self.u, float(model.max()))

    def expected(self, candidates: Candidates) -> Array:
        """The predicted value."""
        return self.predict(candidates)[0]

    def scale(self, candidates: Candidates) -> tuple[Array, Array]:
        """Logarithm of the predicted value, and its uncertainty together with that of the reading, (n,)."""
        value, model = self.predict(candidates)
        return np.log(value), np.hypot(self.u, model)

    @property
    def unit_shown(self) -> str:  # type: ignore[override]
        """The unit of the value."""
        return self.unit

    def measured(self) -> dict[str, Any]:
        """Value, uncertainty and unit."""
        return {"value": self.read, "u": self.u * self.read, "unit": self.unit}


def bound_by_parts(a: Along, bound: Callable[[Along], Array], close: float | Array = CLOSE) -> Array:
    """A bound between neighbouring steps, (pairs, steps - 1), of which those further apart than `close` are divided.

    `close` : in the logarithm of the parameter, or of the wall of a cored piece, of each pair. `bound` : gives the
    bound between any neighbouring steps.
    """
    x = a.parameter
    wall = np.where(a.pairs.at(Place.INSIDE)[:, None], np.maximum(a.depth_um, LEAST_WALL_UM), x)
    apart = np.abs(np.diff(np.log(wall), axis=1)).max(axis=1)
    parts = np.exp2(np.ceil(np.log2(np.maximum(apart / close, 1.0))))
    out = np.empty((len(x), x.shape[1] - 1))
    for n in distinct(parts):
        rows = np.flatnonzero(parts == n)
        share = np.arange(n) / n
        inner = x[rows, :-1, None] * (x[rows, 1:] / x[rows, :-1])[:, :, None] ** share
        fine = np.concatenate([inner.reshape(len(rows), -1), x[rows, -1:]], axis=1)
        out[rows] = bound(Along(a.pairs.some(rows), fine)).reshape(len(rows), -1, int(n)).max(axis=2)
    return out


def outside(values: Array, claimed: Array) -> Array:
    """How far values lie above or, with a minus, below the whole range of the claimed values; 0 within it."""
    return np.asarray(np.maximum(values - claimed.max(), 0.0) + np.minimum(values - claimed.min(), 0.0))
