"""Uncertainty budgets: repeats, effective degrees of freedom, and the limits of a skewed error.

All functions take arrays over pieces. The terms are those of JCGM 100:2008 and JCGM 101:2008.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array, Mask
from ..measured import K95
from ..special import ndtr, stdtr, stdtrit

_CELLS = 2048  # of the fixed grid; doubling it moves the limits by less than 1e-3 of u
_ROWS = 256  # pieces convolved at once, to bound memory
_TINY = 1e-300


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One line of an uncertainty budget.

    Parameters
    ----------
    part : code of the cause, e.g. "scale_step".
    size : one standard uncertainty of the cause, or the mean of a one-sided one, in `unit`.
    moves_percent : how far it moves the density, in percent, as one standard uncertainty or mean.
    one_sided : whether the cause can only make the density read too low.
    """

    part: str
    size: float
    unit: str
    moves_percent: float
    one_sided: bool = False


@dataclass(frozen=True, slots=True)
class Repeats:
    """Statistics of repeated readings, one row per piece; a missing repeat is `nan`."""

    mean: Array
    n: Array
    spread: Array  # largest minus smallest
    u: Array  # type A standard uncertainty of the mean, s / sqrt(n) (JCGM 100, 4.2.3); 0 for one reading

    @classmethod
    def of(cls, readings: Array) -> Repeats:
        """Statistics of readings of shape (pieces, repeats)."""
        here = np.isfinite(readings)
        n = here.sum(axis=1)
        safe = np.maximum(n, 1)
        mean = np.where(n > 0, np.where(here, readings, 0.0).sum(axis=1) / safe, np.nan)
        square = np.where(here, (readings - mean[:, None]) ** 2, 0.0).sum(axis=1)
        spread = np.where(here, readings, -np.inf).max(axis=1) - np.where(here, readings, np.inf).min(axis=1)
        u = np.sqrt(square / np.maximum(n - 1, 1) / safe)
        return cls(mean, n.astype(float), np.where(n > 0, spread, 0.0), u)

    def beats(self, step: ArrayLike) -> Mask:
        """Whether the scatter of repeats, and not the scale step, says how well their mean is known, (pieces,).

        The step counts (rectangular at tare and reading, ``step / sqrt(6)``) if it is the larger of the two. It also
        counts if all repeats lie within one step, because the step alone explains that: two readings one step apart are
        no estimate of scatter with one degree of freedom.
        """
        one = np.asarray(step, dtype=float)
        beats: Mask = (self.u > one / np.sqrt(6)) & (self.spread > 1.001 * one)
        return beats


FEWEST = 4  # repeats from which one may be left out: of three, nobody knows which is wrong
# upper 1 % points of the range of n normal values, in units of their standard deviation (Harter, Annals of Mathematical
# Statistics 31 (1960) 1122); ISO 5725-6 (1994, from memory) takes the 5 % points, which at 60 pieces a day is too often
RANGE_OF = (2, 3, 4, 5, 6, 7, 8, 9, 10, 20, 40, 100)
RANGE = (3.643, 4.120, 4.403, 4.603, 4.757, 4.882, 4.987, 5.078, 5.157, 5.645, 6.092, 6.636)


@dataclass(frozen=True, slots=True)
class Agreement:
    """How far repeats lie apart, over pieces; `nan` where nothing is to be said."""

    apart: Array  # largest minus smallest, where that is more than chance allows
    allowed: Array  # the critical range of ISO 5725-6
    odd: Array  # the repeat that lies away from the others, if one does
    left_out: Mask  # whether that one is not used, because the others agree


def agreement(readings: Array, sigma: Array) -> Agreement:
    """Whether repeats (pieces, repeats) agree as well as their standard deviation `sigma` (pieces,) lets expect.

    They disagree if they lie further apart than the critical range. The odd one is the largest or the smallest: the one
    without which the others lie closer together, by more than chance. It is left out if the others then agree.
    """
    ordered = np.sort(readings, axis=1)  # missing ones come last
    n, at = np.isfinite(readings).sum(axis=1), np.arange(len(readings))
    last = np.maximum(n - 1, 0)
    low, high = ordered[:, 0], ordered[at, last]
    allowed, fewer = (sigma * np.interp(np.log(np.maximum(k, 2)), np.log(RANGE_OF), RANGE) for k in (n, n - 1))
    disagree = np.asarray((n > 1) & (high - low > allowed))
    second = ordered[at, np.minimum(1, last)]
    without_high, without_low = ordered[at, np.maximum(n - 2, 0)] - low, high - second
    named = disagree & (n > 2) & (np.abs(without_high - without_low) > fewer)
    odd = np.where(named, np.where(without_high < without_low, high, low), np.nan)
    rest = np.minimum(without_high, without_low)
    left_out = np.asarray(named & (n >= FEWEST) & (rest <= fewer))
    return Agreement(np.where(disagree, high - low, np.nan), allowed, odd, left_out)


def welch_satterthwaite(us: Sequence[Array], dofs: Sequence[Array]) -> Array:
    """Effective degrees of freedom ``u^4 / sum(u_i^4 / dof_i)`` (JCGM 100, G.4.1); infinite if all are.

    >>> float(welch_satterthwaite([np.array(1.0), np.array(1.0)], [np.array(4.0), np.array(4.0)]))
    8.0
    """
    total = np.sum([u**2 for u in us], axis=0) ** 2
    parts = np.sum([u**4 / dof for u, dof in zip(us, dofs, strict=True)], axis=0)
    return np.where(parts > 0, total / np.maximum(parts, _TINY), np.inf)


def coverage_ratio(dof: ArrayLike) -> Array:
    """Factor that enlarges a standard uncertainty so that 1.96 of it is Student's 95 % point.

    >>> round(float(coverage_ratio(2.0)), 3)  # t = 4.303, JCGM 100 table G.2
    2.195
    """
    dof = np.asarray(dof, dtype=float)
    t = stdtrit(np.minimum(dof, 1e6), 0.975)
    ratio: Array = np.where(dof > 1e6, 1.0, t / K95)
    return ratio


def error_limit(p: float, half_width: Array, u: Array, dof: Array, mean: Array) -> Array:
    """Quantile of the sum of a triangular, a Student and a one-sided exponential error, (pieces,).

    It comes from a convolution on a fixed grid, without random numbers: the same input gives the same limit.

    Parameters
    ----------
    p : probability, 0.001 to 0.999.
    half_width : of the triangular part (sum of two rectangular ones), shape (pieces,).
    u, dof : scale and degrees of freedom of the Student part (normal where infinite).
    mean : of the exponential part, >= 0.

    The quantile is in the unit of the inputs, and `nan` where any input is.

    >>> one = np.ones(1)
    >>> round(float(error_limit(0.975, one, 0 * one, np.inf * one, 0 * one)[0]), 3)  # 1 - sqrt(0.05)
    0.776
    """
    rows = [
        _error_limit(p, *(x[i : i + _ROWS] for x in (half_width, u, dof, mean)))
        for i in range(0, len(half_width), _ROWS)
    ]
    return np.concatenate(rows) if rows else np.zeros(0)


def _error_limit(p: float, half_width: Array, u: Array, dof: Array, mean: Array) -> Array:
    known = np.isfinite(half_width + u + mean)
    half_width, u, mean = (np.where(known, x, 0.0)[:, None] for x in (half_width, u, mean))
    dof = np.where(known, np.minimum(dof, 1e6), 1e6)[:, None]
    tail = np.maximum(stdtrit(dof, 0.9995), 6.0)  # what a long Student tail has beyond is kept as a lump there
    reach = half_width + tail * u + 12 * mean + _TINY
    h = 2.02 * reach / _CELLS
    # order of the cells: 0, 1, ..., -2, -1, as the circular convolution wants it
    signed = np.fft.ifftshift(np.arange(_CELLS) - _CELLS // 2)[None, :]
    low, high = (signed - 0.5) * h, (signed + 0.5) * h
    parts = (
        _triangular_cdf(high, half_width) - _triangular_cdf(low, half_width),
        _student_cdf(high, u, dof, tail) - _student_cdf(low, u, dof, tail),
        _exponential_cdf(high, mean) - _exponential_cdf(low, mean),
    )
    spectrum = np.prod([np.fft.rfft(part, axis=1) for part in parts], axis=0)
    mass = np.fft.fftshift(np.fft.irfft(spectrum, _CELLS, axis=1), axes=1)
    cdf = np.cumsum(mass, axis=1)
    k = np.argmax(cdf >= p, axis=1)[:, None]
    above = np.take_along_axis(cdf, k, axis=1)
    width = np.maximum(np.take_along_axis(mass, k, axis=1), _TINY)
    edge = (k - _CELLS // 2 + 0.5) * h
    limit = (edge - h * np.clip((above - p) / width, 0.0, 1.0))[:, 0]
    return np.where(known, limit, np.nan)


def _triangular_cdf(x: Array, half_width: Array) -> Array:
    z = np.clip(x / (half_width + _TINY), -1.0, 1.0)
    return np.where(z < 0, (1 + z) ** 2 / 2, 1 - (1 - z) ** 2 / 2)


def _student_cdf(x: Array, u: Array, dof: Array, tail: Array) -> Array:
    z = np.clip(x / (u + _TINY), -1e9, 1e9)
    cdf = np.where(dof >= 1e6, ndtr(z), stdtr(dof, z)) if np.any(dof < 1e6) else ndtr(z)
    return np.where(z <= -tail, 0.0, np.where(z >= tail, 1.0, cdf))


def _exponential_cdf(x: Array, mean: Array) -> Array:
    # a bubble of mean 0 is no bubble: all of its probability lies at 0
    z = np.clip(np.maximum(x, 0.0) / (mean + _TINY), 0.0, 700.0)
    return -np.expm1(-z)
