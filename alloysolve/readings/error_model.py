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

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache, partial

import numpy as np

from ..arrays import Array, Index
from ..special import erfcx, gauss_rule, ndtr, ndtri

DOF = 4.0  # degrees of freedom of the model scatter
NODES = 12  # of the scale mixture; beyond 4 deviations its tails fall below those of t, at 6 to a seventh
NEGLIGIBLE = 1e-5  # weight below which a normal of the mixture is left out; no density changes by a larger share
BLOCK = 8192  # rows computed at a time, so that they stay in the processor's cache
PHI_IS_ONE = 5.0  # argument over the root of 2 from which the normal distribution function is 1 to 1e-12
FINE, LEVELS = 6, np.geomspace(5e-4, 0.12, 288)  # relative model scatters for which a density reading is tabulated
REACH, AIR_REACH = 8.5, 22.0  # half width of a table in units of the widest normal part; of the mean air, more
POINTS = 16.0  # of a table in that unit
SHARES, STEPS, FAR = 81, 601, 16.0  # nodes of the tables without air, and the deviations to which they reach
MANY, WIDER = 2000, 0.12  # pieces from which on scores of a weighing come from a table; logarithm between its rows
# scatter with which a residual is likeliest, over that residual: 1 for a normal, root of 2 for t, 3 % less in between
LIKELIEST = 1.2
SLACK = 0.25  # of the change of a residual between two steps, by which it may go beyond them (tested)
LEAST_V = 0.01  # cm3/g: twice as dense as any metal and more, so that no window reaches below 0
RAREST = 37.0  # largest normal score, of a chance of 1e-300


@cache
def scale_mixture(dof: float = DOF, nodes: int = NODES) -> tuple[Array, Array]:
    """Scales and weights of normals whose mixture is Student's t with `dof` degrees of freedom and deviation 1.

    The precision of t is Gamma(dof/2, rate dof/2): generalised Gauss-Laguerre nodes of order dof/2 - 1. A t of scale 1
    has the variance dof / (dof - 2), which is divided out, because scatter in the tables is a standard deviation.
    """
    k, order = np.arange(float(nodes)), dof / 2 - 1
    x, weight = gauss_rule(2 * k + 1 + order, np.sqrt(k[1:] * (k[1:] + order)))
    used = weight > NEGLIGIBLE
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
    argument = (ratio - z) / np.sqrt(2)
    near = 0.5 * np.exp(-0.5 * z**2) * erfcx(np.maximum(argument, -PHI_IS_ONE))
    far = np.exp(np.minimum(ratio * (0.5 * ratio - z), 0.0))
    return np.asarray(np.where(argument < -PHI_IS_ONE, far, near))


def emg_tails(r: Array, s: Array, b: float) -> tuple[Array, Array]:
    """Distribution function and survival function of `emg_pdf` at `r`, each exact in its own tail."""
    z = r / s
    tail = 0.5 * np.exp(-0.5 * z**2) * erfcx(np.abs(z) / np.sqrt(2))
    left, right = np.where(z < 0, tail, 1 - tail), np.where(z < 0, 1 - tail, tail)
    if b <= 0:
        return left, right
    exponential = _exponential_part(z, s / b)
    return np.asarray(np.maximum(left - exponential, 0.0)), np.asarray(right + exponential)


def mixture_pdf(r: Array, u: float, model: Array, b: float) -> Array:
    """Density of the whole error at `r`; `model` is the standard deviation of the t part (broadcast).

    Without air it comes from a table of its logarithm: within 0.1 % of the normals themselves up to three deviations
    and 1 % up to eight.
    """
    r, model = np.asarray(r), np.asarray(model)
    if b > 0:
        scales, weights = scale_mixture()
        parts = [w * emg_pdf(r, quadrature_sum(u, k * model), b) for k, w in zip(scales, weights, strict=True)]
        return np.asarray(sum(parts))
    return _by_block(_table_pdf, r, u, model)


def _by_block(part: Callable[..., Array], r: Array, u: float | Array, model: Array, block: int = BLOCK) -> Array:
    """A function of residual, uncertainty and model scatter (broadcast), block by block."""
    shape = np.broadcast_shapes(r.shape, np.shape(u), model.shape)
    r, model, each_u = (np.broadcast_to(x, shape).reshape(-1) for x in (r, model, u))
    out = np.empty(r.shape)
    for start in range(0, len(out), block):
        some = slice(start, start + block)
        out[some] = part(r[some], u if np.ndim(u) == 0 else each_u[some], model[some])
    return out.reshape(shape)


def _table_pdf(r: Array, u: float, model: Array) -> Array:
    share, precise, z = _standard(r, u, model)
    return np.asarray(np.exp(_looked_up(_log_densities(), share, z)) * precise)


def _table_score(r: Array, u: float, model: Array) -> Array:
    share, _, z = _standard(r, u, model)
    return np.asarray(np.copysign(np.minimum(_looked_up(_scores(), share, z), RAREST), r))


def _standard(r: Array, u: float, model: Array) -> tuple[Array, Array, Array]:
    """Share of the model in the deviation, one over the deviation, and the residual in deviations."""
    precise = 1 / np.sqrt(model * model + u * u)
    return model * precise, precise, np.abs(r) * precise


def _looked_up(table: Array, share: Array, z: Array) -> Array:
    """Values of a table (shares, deviations), linear between its nodes and beyond the last deviation."""
    shares, steps = table.shape
    x, y = share * (shares - 1), z * ((steps - 1) / FAR)
    i, j = (np.minimum(at, size - 2).astype(np.intp) for at, size in ((x, shares), (y, steps)))
    x, y = x - i, y - j
    i *= steps
    i += j
    low, next_low = table.take(i), table.take(i + 1)
    low += (next_low - low) * y
    i += steps
    high, next_high = table.take(i), table.take(i + 1)
    high += (next_high - high) * y
    return np.asarray(low + (high - low) * x)


@cache
def _log_densities() -> Array:
    """Logarithm of the density without air over the share of the model in the deviation and the deviations."""
    scales, weights = scale_mixture()
    share, z = np.linspace(0, 1, SHARES)[:, None], np.linspace(0, FAR, STEPS)
    variance = 1 - share**2 + (share * scales) ** 2
    half = -0.5 * z * z
    each = [np.exp(half / v[:, None]) * (w / np.sqrt(v))[:, None] for v, w in zip(variance.T, weights, strict=True)]
    return np.asarray(np.log(np.sum(each, axis=0) / np.sqrt(2 * np.pi)))


@cache
def _scores() -> Array:
    """Normal scores without air over the same, on every other node."""
    scales, weights = scale_mixture()
    share, z = np.linspace(0, 1, SHARES // 2 + 1)[:, None], np.linspace(0, FAR, STEPS // 2 + 1)
    width = np.sqrt(1 - share**2 + (share * scales) ** 2)
    left = [w * ndtr(-z / k[:, None]) for k, w in zip(width.T, weights, strict=True)]
    return np.asarray(-ndtri(np.sum(left, axis=0)))


def mixture_score(r: Array, u: float, model: Array, b: float) -> Array:
    """Normal score of the whole error at `r`: the z whose normal tail is equally rare, with the sign of `r`.

    Without air it comes from a table, within 0.01.
    """
    r, model = np.asarray(r), np.asarray(model)
    if b <= 0:
        return _by_block(_table_score, r, u, model)
    return _by_block(partial(_score_with_air, b), r, u, model, BLOCK // NODES)


def _score_with_air(b: float, r: Array, u: float, model: Array) -> Array:
    scales, weights = scale_mixture()
    tails = emg_tails(r, quadrature_sum(u, scales[:, None] * model), b)  # of all normals at once
    left, right = ((weights[:, None] * tail).sum(axis=0) for tail in tails)
    return np.asarray(np.copysign(ndtri(np.maximum(np.minimum(left, right), 1e-300)), left - right))


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
        """For each level: place of this reading in its row, steps per cm3/g, and densities, those at the ends 0.

        Every `FINE`th row is the characteristic function of the normals times that of the air, turned back; the rows
        between are linear in the logarithm. Up to three deviations all is within 0.5 % of the peak, and within 1.5 %.
        """
        scales, weights = scale_mixture()
        model = np.append(LEVELS[::FINE], LEVELS[-1] ** 2 / LEVELS[-2])[:, None] * self.v
        # the widest normal of the mixture that matters, plus the reach of the one-sided part
        width = quadrature_sum(self.u, 1.9 * model)[1:]
        usual = 2 * REACH + AIR_REACH * self.bubble / float(np.hypot(self.u, 0.002 * self.v))
        size = 64 * int(np.clip(POINTS * usual / 64, 4, 64))
        low = -REACH * width
        step = (2 * REACH * width + AIR_REACH * self.bubble) / size
        frequency = 2 * np.pi * np.fft.rfftfreq(size) / step
        turn = np.exp(1j * frequency * low) / (step * (1 + 1j * frequency * self.bubble))
        square = -0.5 * frequency**2

        def rows(model: Array) -> Array:
            normal = [w * np.exp(square * (self.u**2 + (k * model) ** 2)) for k, w in zip(scales, weights, strict=True)]
            return np.log(np.maximum(np.fft.irfft(sum(normal) * turn, n=size, axis=1), 1e-300))

        one, other = rows(model[:-1]), rows(model[1:])  # on the same residuals
        part = (np.arange(FINE) / FINE)[:, None]
        table = np.exp(one[:, None] + (other - one)[:, None] * part).reshape(-1, size)
        table[:, [0, -2, -1]] = 0.0
        return np.repeat((self.v - low) / step, FINE), np.repeat(1 / step, FINE), table

    def window(self, relative: Array) -> tuple[Array, Array]:
        """Lowest and highest predicted v [cm3/g] that are not hopeless, for relative model scatters."""
        width = 8 * quadrature_sum(self.u, 1.3 * relative * self.v)
        return np.maximum(self.v - width - 13 * self.bubble, LEAST_V), self.v + width

    def level(self, relative: Array) -> Index:
        """Number of the nearest tabulated model scatter."""
        return level_of(relative, LEVELS)

    def pdf(self, v: Array, level: Index) -> Array:
        """Likelihood density [g/cm3] of predicted specific volumes `v` (broadcast with `level`)."""
        own, steps, table = self._table
        size = table.shape[1]
        position = own.take(level) - v * steps.take(level)
        np.maximum(position, 0.0, out=position)
        np.minimum(position, size - 1.5, out=position)
        left = position.astype(np.intp)
        position -= left
        left += level * size
        value = table.take(left)
        left += 1
        return np.asarray(value + (table.take(left) - value) * position)

    def most(self, v: Array, level: Index) -> Array:
        """The highest likelihood density between each two of predicted specific volumes (n, steps) [cm3/g]."""
        best, density = self._peak
        level = level[:, None]
        each, beyond = self.pdf(v, level), v > best[level]
        highest = np.maximum(each[:, :-1], each[:, 1:])
        return np.where(beyond[:, :-1] != beyond[:, 1:], density[level], highest)

    @cached_property
    def _peak(self) -> tuple[Array, Array]:
        """For each level, the predicted v [cm3/g] at which the density is highest, and that density."""
        own, steps, table = self._table
        return (own - table.argmax(axis=1)) / steps, table.max(axis=1)

    def score(self, v: Array, relative: Array) -> Array:
        """Normal score of the reading for predicted `v` [cm3/g] with relative model scatter.

        For `MANY` pieces it comes from a table, within 0.03. Beyond its ends it stays at -8 and less on the left, and
        goes straight on to the right.
        """
        r, model = np.broadcast_arrays(self.v - v, np.asarray(relative) * v)
        if r.size < MANY:
            return mixture_score(r, self.u, model, self.bubble)
        most = float(model.max())
        least = min(max(float(model.min()), self.u / 30, 1e-12), most)  # a smaller one makes no difference
        x = np.log(np.maximum(model, least) / least) / (np.log(most / least) or 1.0)
        y = (r / self._widths(r, model) / REACH + 1) / 2
        return _looked_up(self._scores(least, most), x, np.maximum(y, 0.0) * FAR)

    def _scores(self, least: float, most: float) -> Array:
        """Scores over the logarithm of the model scatter [cm3/g] between two bounds, and the residual in widths."""
        model = np.geomspace(least, most, 2 + int(np.log(most / least) / WIDER))[:, None]
        y = np.linspace(-REACH, REACH, 2 * SHARES + 1)
        return mixture_score(y * self._widths(y, model), self.u, model, self.bubble)

    def _widths(self, r: Array, model: Array) -> Array:
        """What residuals are measured in where scores are tabulated [cm3/g]: the widest normal part, and air."""
        return np.asarray(quadrature_sum(self.u, 1.9 * model) + np.where(r > 0, self.bubble, 0.0))

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
    return mixture_pdf(r, u, model, 0.0)


def ratio_score(r: Array, u: float, model: Array) -> Array:
    """Normal score of `r`, the logarithm of read over predicted, with relative scatter `u` of reading and `model`."""
    return mixture_score(r, u, model, 0.0)


def ratio_pdf_between(r: Array, u: float, model: Array, beyond: Array | float = 0.0) -> Array:
    """About the largest `ratio_pdf` between neighbouring steps (pairs, steps).

    `r` is taken to go beyond the values at both by no more than `SLACK` of its change and `beyond`.
    """
    low, high = np.minimum(r[:, :-1], r[:, 1:]), np.maximum(r[:, :-1], r[:, 1:])
    slack = SLACK * (high - low) + beyond
    near = np.maximum(np.maximum(low - slack, -high - slack), 0.0)
    least, most = np.minimum(model[:, :-1], model[:, 1:]), np.maximum(model[:, :-1], model[:, 1:])
    return ratio_pdf(near, u, np.clip(LIKELIEST * near, least, most))
