"""How well a predicted specific volume, resistivity or magnet answer agrees with the reading.

A density reading is compared in specific volume v = 1/rho, where weighing errors are symmetric:

    v_read = v_true (1 + t) + e + b

t is the scatter of published alloys about the prediction: Student t with about 4 degrees of freedom, whose standard
deviation is the scatter's (so its scale is 1/sqrt(2) of it). e is the normal weighing error. b is air held by the piece
(and pores of castings): exponential, never negative. Student's t is a mixture of normals over Gamma-distributed
precisions, so the sum is a mixture of exponentially modified normals. Its density and distribution function have closed
forms.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

import numpy as np

from ..arrays import Array, Index

DOF = 4.0  # degrees of freedom of the model scatter
NODES = 12  # of the scale mixture; beyond 4 deviations its tails fall below those of t, at 6 to a seventh
NEGLIGIBLE = 1e-5  # weight below which a normal of the mixture is left out; no density changes by a larger share
BLOCK = 8192  # rows computed at a time, so that they stay in the processor's cache
PHI_IS_ONE = 5.0  # argument over the root of 2 from which the normal distribution function is 1 to 1e-12
LEVELS = np.geomspace(2e-4, 0.3, 40)  # relative model scatters for which the density reading is tabulated
GRID = 800  # points of each table
REACH = 13.0  # half width of a table in units of the widest normal part
HOPELESS = 20.0  # scales beyond which a resistivity does not fit at all (density below 1e-18 of its peak)


@cache
def scale_mixture(dof: float = DOF, nodes: int = NODES) -> tuple[Array, Array]:
    """Scales and weights of normals whose mixture is Student's t with `dof` degrees of freedom and deviation 1.

    The precision of t is Gamma(dof/2, rate dof/2): generalised Gauss-Laguerre nodes of order dof/2 - 1. A t of scale 1
    has the variance dof / (dof - 2), which is divided out, because scatter in the tables is a standard deviation.
    """
    from scipy.special import roots_genlaguerre

    x, weight = roots_genlaguerre(nodes, dof / 2 - 1)
    used = weight > NEGLIGIBLE * weight.sum()
    return np.sqrt((dof - 2) / 2 / x[used]), weight[used] / weight[used].sum()


def quadrature_sum(a: Array | float, b: Array | float) -> Array:
    """Root of the sum of the squares of two uncertainties.

    `np.hypot` gives the same and is ten times slower, because it also works near the largest and smallest numbers.
    """
    return np.asarray(np.sqrt(np.square(a) + np.square(b)))


def emg_pdf(r: Array, s: Array, b: float) -> Array:
    """Density at `r` of a normal error of scale `s` plus an exponential one of mean `b` (0 for none)."""
    z = r / s
    if b <= 0:
        return np.asarray(np.exp(-0.5 * z**2) / (s * np.sqrt(2 * np.pi)))
    return _exponential_part(z, s / b) / b


def _exponential_part(z: Array, ratio: Array) -> Array:
    """exp(ratio^2 / 2 - ratio z) Phi(z - ratio), with ratio = s / b, without overflow on either side."""
    from scipy.special import erfcx

    argument = (ratio - z) / np.sqrt(2)
    near = 0.5 * np.exp(-0.5 * z**2) * erfcx(np.maximum(argument, -PHI_IS_ONE))
    far = np.exp(np.minimum(ratio * (0.5 * ratio - z), 0.0))
    return np.asarray(np.where(argument < -PHI_IS_ONE, far, near))


def emg_tails(r: Array, s: Array, b: float) -> tuple[Array, Array]:
    """Distribution function and survival function of `emg_pdf` at `r`, each exact in its own tail."""
    from scipy.special import erfcx, ndtr

    z = r / s
    if b <= 0:
        return ndtr(z), ndtr(-z)
    exponential = _exponential_part(z, s / b)
    half = 0.5 * np.exp(-0.5 * z**2)
    left = np.where(z < 0, half * erfcx(np.maximum(-z / np.sqrt(2), 0.0)), ndtr(z))
    return np.asarray(np.maximum(left - exponential, 0.0)), np.asarray(ndtr(-z) + exponential)


def mixture_pdf(r: Array, u: float, model: Array, b: float) -> Array:
    """Density of the whole error at `r`; `model` is the standard deviation of the t part (broadcast)."""
    scales, weights = scale_mixture()
    if b <= 0:
        return _normals(np.asarray(r), u, np.asarray(model), scales, weights)
    out = np.zeros(np.broadcast_shapes(np.shape(r), np.shape(model)))
    for scale, weight in zip(scales, weights, strict=True):
        out += weight * emg_pdf(r, quadrature_sum(u, scale * model), b)
    return out


def _normals(r: Array, u: float, model: Array, scales: Array, weights: Array) -> Array:
    """Density at `r` of a mixture of centred normals with variances ``u^2 + scale^2 model^2``, block by block."""
    shape = np.broadcast_shapes(r.shape, model.shape)
    half, square = (np.broadcast_to(x, shape).reshape(-1) for x in (-0.5 * r * r, model * model))
    out = np.empty(half.shape)
    for start in range(0, len(out), BLOCK):
        h, m = half[start : start + BLOCK], square[start : start + BLOCK]
        total = np.zeros(len(h))
        for scale, weight in zip(scales, weights, strict=True):
            precision = 1 / (scale**2 * m + u * u)
            total += np.exp(h * precision) * np.sqrt(precision) * (weight / np.sqrt(2 * np.pi))
        out[start : start + BLOCK] = total
    return out.reshape(shape)


def mixture_score(r: Array, u: float, model: Array, b: float) -> Array:
    """Normal score of the whole error at `r`: the z whose normal tail is equally rare, with the sign of `r`."""
    from scipy.special import ndtri

    scales, weights = scale_mixture()
    left = np.zeros(np.broadcast_shapes(np.shape(r), np.shape(model)))
    if b <= 0:  # symmetric: one tail gives both
        from scipy.special import ndtr

        away = -np.abs(r)
        for scale, weight in zip(scales, weights, strict=True):
            left += weight * ndtr(away / quadrature_sum(u, scale * model))
        return np.asarray(np.sign(r) * -ndtri(np.maximum(left, 1e-300)))
    right = left.copy()
    for scale, weight in zip(scales, weights, strict=True):
        below, above = emg_tails(np.asarray(r), quadrature_sum(u, scale * model), b)
        left += weight * below
        right += weight * above
    tiny = 1e-300
    return np.asarray(np.where(left < right, ndtri(np.maximum(left, tiny)), -ndtri(np.maximum(right, tiny))))


@dataclass(frozen=True)
class VolumeLikelihood:
    """A density reading, tabulated for fast look-up over many candidates.

    Parameters
    ----------
    v : specific volume as read [cm3/g]. u : its standard uncertainty without bubbles [cm3/g].
    bubble : mean of the one-sided part [cm3/g], >= 0.
    """

    v: float
    u: float
    bubble: float

    @cached_property
    def _table(self) -> tuple[Array, Array, Array]:
        """For each level: residual of the first point [cm3/g], step from one point to the next, and densities."""
        model = LEVELS * self.v
        # the widest normal of the mixture that matters, plus the reach of the one-sided part
        width = np.hypot(self.u, 1.9 * model)
        low, high = -REACH * width, REACH * width + 14 * self.bubble
        r = low[:, None] + (high - low)[:, None] * np.linspace(0, 1, GRID)
        return low, (high - low) / (GRID - 1), mixture_pdf(r, self.u, model[:, None], self.bubble)

    def window(self, relative: Array) -> tuple[Array, Array]:
        """Lowest and highest predicted v [cm3/g] that are not hopeless, for relative model scatters."""
        width = 8 * quadrature_sum(self.u, 1.3 * relative * self.v)
        return self.v - width - 13 * self.bubble, self.v + width

    def level(self, relative: Array) -> Index:
        """Number of the nearest tabulated model scatter."""
        return level_of(relative, LEVELS)

    def pdf(self, v: Array, level: Index) -> Array:
        """Likelihood density [g/cm3] of predicted specific volumes `v` (broadcast with `level`)."""
        low, step, table = self._table
        position = (self.v - v - low[level]) / step[level]
        inside = (position > 0) & (position < GRID - 1)
        left = np.where(inside, position, 0.0).astype(np.intp)
        part = position - left
        flat = table.ravel()
        start = level * GRID + left
        value = flat[start] * (1 - part) + flat[np.minimum(start + 1, flat.size - 1)] * part
        return np.where(inside, value, 0.0)

    def score(self, v: Array, relative: Array) -> Array:
        """Normal score of the reading for predicted `v` [cm3/g] with relative model scatter."""
        return mixture_score(self.v - v, self.u, np.asarray(relative) * v, self.bubble)

    def score_near(self, v: Array, relative: Array) -> Array:
        """`score`, but infinite outside the `window`, where every score is above 3.4 for scatters up to a tenth."""
        low, high = self.window(relative)
        near, out = np.flatnonzero((v > low) & (v < high)), np.full(len(v), np.inf)
        out[near] = self.score(v[near], relative[near])
        return out

    def score_away(self, r: Array, model: float) -> Array:
        """Normal score of residuals [cm3/g] that share one model scatter [cm3/g]."""
        return score_of(r, self.u, model, self.bubble)


def level_of(value: Array, levels: Array) -> Index:
    """Number of the nearest of some geometric levels."""
    step = np.log(levels[1] / levels[0])
    position = np.rint(np.log(np.maximum(value, 1e-9) / levels[0]) / step)
    return np.asarray(np.clip(position, 0, len(levels) - 1), dtype=np.intp)


def score_of(r: Array, u: float, model: float, bubble: float = 0.0) -> Array:
    """Normal score as a function of the residual alone, from a table."""
    return np.interp(r, *_score_curve(u, model, bubble))


@lru_cache(maxsize=512)
def _score_curve(u: float, model: float, bubble: float) -> tuple[Array, Array]:
    """Residuals and their normal scores."""
    width = 12 * float(np.hypot(u, 2.3 * model))
    grid = np.linspace(-width, width + 20 * bubble, 600)
    return grid, mixture_score(grid, u, np.asarray(model), bubble)


def ratio_pdf(r: Array, u: float, model: Array) -> Array:
    """Density of `r`, the logarithm of read over predicted, with relative scatter `u` of reading and `model`."""
    out = np.zeros(np.shape(r))
    near = np.square(r) < HOPELESS**2 * (u * u + np.square(model))
    out[near] = mixture_pdf(r[near], u, np.broadcast_to(model, np.shape(r))[near], 0.0)
    return out


def ratio_score(r: Array, u: float, model: Array) -> Array:
    """Normal score of `r`, the logarithm of read over predicted, with relative scatter `u` of reading and `model`."""
    return mixture_score(r, u, model, 0.0)
