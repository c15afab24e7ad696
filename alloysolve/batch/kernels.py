"""The errors of a weighing and of a conductivity as tables, for many readings of different uncertainty.

Density and normal score of v_read - v depend on three scales: of the model m, of the weighing u and of the air b.
In units of s = hypot(u, m) two numbers are left, the angle atan(m / u) and b / s, so one table serves every piece.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Index
from ..readings.error_model import VolumeLikelihood, mixture_pdf, mixture_score, quadrature_sum, ratio_pdf
from .table import BANDS, LEVELS, LN_V, RHO_BIN, RHO_BINS, RHO_LEVELS, v_bins

ANGLES, AIRS, MOST_AIR = 49, 65, 0.97  # nodes of the tables; largest b / (s + b)
STEP = 0.05  # of the tables in units of s, to the right of (s + b)
REACH_PDF, REACH = 7.0, 14.0  # their half widths
STEPS = round(2 * REACH / STEP) + 1
FEW = 4  # levels of the widest band that set how far it is looked at; hardly any row has more scatter
NEAR = 4.0  # in the same units: rows further off are not looked at


@cache
def _table(function: Callable[..., Array], reach: float) -> Array:
    """Density times s, or normal score, (angles, airs, points)."""
    y = np.linspace(-reach, reach, round(2 * reach / STEP) + 1)
    out = np.empty((ANGLES, AIRS, len(y)))
    for i, angle in enumerate(np.linspace(0, np.pi / 2, ANGLES)):
        for k, part in enumerate(np.linspace(0, MOST_AIR, AIRS)):
            b = part / (1 - part)
            z = np.where(y < 0, y, y * (1 + b))
            out[i, k] = function(z, float(np.cos(angle)), np.asarray(np.sin(angle)), b)
    return out


class Weighed(VolumeLikelihood):
    """A density reading whose densities and scores come from tables that serve every reading."""

    def _curves(self, t: Array, model: Array) -> tuple[Array, Array, Array]:
        """Curves (models, points) of a table, with the scales s and b / s of each."""
        s = np.hypot(self.u, model)
        air = self.bubble / s
        i, f = _cell(np.arctan2(model, self.u) / (np.pi / 2) * (ANGLES - 1), ANGLES)
        k, g = _cell(air / (1 + air) / MOST_AIR * (AIRS - 1), AIRS)
        f, g = f[:, None], g[:, None]
        curve = (1 - f) * ((1 - g) * t[i, k] + g * t[i, k + 1]) + f * ((1 - g) * t[i + 1, k] + g * t[i + 1, k + 1])
        return curve, s, air

    def score(self, v: Array, relative: Array) -> Array:
        """Normal score of the reading for predicted `v` with relative model scatter."""
        return self._scored(self.v - v, np.asarray(relative) * v)

    def score_away(self, r: Array, model: float) -> Array:
        """Normal score of residuals [cm3/g] that share one model scatter [cm3/g]."""
        return self._scored(r, np.full(len(r), model))

    def _scored(self, r: Array, model: Array) -> Array:
        """Normal score of residuals (n,) under model scatters (n,) [cm3/g]."""
        s = quadrature_sum(self.u, model)
        air, z = self.bubble / s, r / s
        i, f = _cell(np.arctan2(model, self.u) / (np.pi / 2) * (ANGLES - 1), ANGLES)
        k, g = _cell(air / (1 + air) / MOST_AIR * (AIRS - 1), AIRS)
        y = (np.where(z < 0, z, z / (1 + air)) + REACH) / STEP
        m = np.clip(y.astype(np.intp), 0, STEPS - 2)
        h = y - m  # beyond the ends of the table the last step is continued
        flat, at = _table(mixture_score, REACH).ravel(), (i * AIRS + k) * STEPS + m

        def along(corner: int) -> Array:
            return flat.take(at + corner) * (1 - h) + flat.take(at + corner + 1) * h

        near, far = AIRS * STEPS, STEPS
        return np.asarray(
            (1 - f) * ((1 - g) * along(0) + g * along(far)) + f * ((1 - g) * along(near) + g * along(near + far))
        )

    def kernels(self, widths: tuple[float, ...]) -> list[tuple[NDArray[np.float32], int, int]]:
        """By band: density [g/cm3] in bins of ln(v), flat (bins, levels), the first bin, and that behind the last."""
        curve, s, air = self._curves(_table(mixture_pdf, REACH_PDF), LEVELS[BANDS[0] : BANDS[-1]] * self.v)
        out = []
        for k, width in enumerate(widths):
            mine = slice(BANDS[k] - BANDS[0], BANDS[k + 1] - BANDS[0])
            widest = s[mine][-1] if k < len(widths) - 1 else s[mine][FEW]
            low = max(self.v - NEAR * (widest + self.bubble), 1e-2 * self.v)
            first = max(int((np.log(low) - LN_V[0]) / width), 0)
            last = min(int((np.log(self.v + NEAR * widest) - LN_V[0]) / width) + 1, v_bins(width))
            v = np.exp(LN_V[0] + width * (np.arange(first, last) + 0.5))
            density = _looked_up(curve[mine], (self.v - v) / s[mine, None], air[mine]) / s[mine, None]
            out.append((density.T.astype(np.float32).ravel(), first, last))
        return out


def _cell(position: Array, size: int) -> tuple[Index, Array]:
    k = np.clip(position.astype(np.intp), 0, size - 2)
    return k, np.clip(position - k, 0.0, 1.0)


def _looked_up(curve: Array, z: Array, air: Array) -> Array:
    """Values of curves (models, points) at residuals `z` in units of s (models, n); at their ends beyond."""
    y = np.where(z < 0, z, z / (1 + air[:, None]))
    steps = curve.shape[1]
    position = np.minimum(np.maximum(y / STEP + (steps - 1) / 2, 0), steps - 1.001)
    k = position.astype(np.intp)
    f = position - k
    flat = curve.ravel()
    k += np.arange(len(curve))[:, None] * steps
    return np.asarray(flat[k] * (1 - f) + flat[k + 1] * f)


@lru_cache(maxsize=256)
def ratio_kernel(u: float) -> NDArray[np.float32]:
    """Density of ln(read / predicted), flat (levels of model scatter, bins of predicted less read); `u` of the read."""
    r = np.asarray(RHO_BIN * (RHO_BINS - np.arange(2 * RHO_BINS)), dtype=float)
    return np.array([ratio_pdf(r, u, np.full(len(r), float(m))) for m in RHO_LEVELS]).astype(np.float32).ravel()
