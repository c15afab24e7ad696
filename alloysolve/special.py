"""Functions of probability over arrays, under the names that scipy gives them.

Loading scipy.special takes longer than solving a piece, so that the few functions in use are computed here. Tests
compare them with scipy: within 1e-12 of each value, also far out in the tails, and Student's within 1e-10.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from .arrays import Array

FOLD = 3.75  # maps x >= 0 to (x - FOLD) / (x + FOLD): Shepherd and Laframboise, Math. Comp. 36 (1981) 249
TERMS = 32  # of the polynomial in it, 2e-16 at the last one
FRACTION_FROM, FRACTION_TERMS = 2.0, 300  # of the continued fraction of erfcx, only for the polynomial
SERIES_TO = 2.5  # of the incomplete gamma function, or to its shape + 1; beyond it, the continued fraction
ENOUGH = 1e-17  # of a sum, below which its terms are left out
SHIFT = 10  # added to the argument of the logarithm of the gamma function, so that Stirling's series converges
NEWTON, ENOUGH_STEP = 12, 1e-12  # steps at most, and relative size of the last one
LEGENDRE = 48  # nodes of the integral of Student's density
SMALLEST = 1e-300  # stands for 0 in a division


def erfcx(x: ArrayLike) -> Array:
    """exp(x^2) times the complementary error function.

    >>> round(float(erfcx(1.0)), 6)
    0.427584
    """
    x = np.asarray(x, dtype=float)
    far = np.abs(x)
    t = 1 - 2 * FOLD / (far + FOLD)
    out = np.full(x.shape, _folded()[-1])
    for c in _folded()[-2::-1]:
        out *= t
        out += c
    out /= 1 + 2 * far
    return np.where(x < 0, 2 * np.exp(np.minimum(x, 0.0) ** 2) - out, out) if (x < 0).any() else out


@cache
def _folded() -> Array:
    """Coefficients of (1 + 2 x) erfcx(x), x >= 0, as a polynomial in the folded variable, by interpolation."""
    k = np.arange(TERMS)
    t = np.cos(np.pi * (k + 0.5) / TERMS)
    x = FOLD * (1 + t) / (1 - t)
    values = (1 + 2 * x) * np.array([_erfcx_at(float(each)) for each in x])
    chebyshev = 2 / TERMS * np.cos(np.pi * np.outer(k, k + 0.5) / TERMS) @ values
    chebyshev[0] /= 2
    powers = np.eye(TERMS)  # rows: Chebyshev polynomials as powers
    for n in range(2, TERMS):
        powers[n] = np.concatenate([[0.0], 2 * powers[n - 1, :-1]]) - powers[n - 2]
    return np.asarray(chebyshev @ powers)


def _erfcx_at(x: float) -> float:
    if x < FRACTION_FROM:
        return math.exp(x * x) * math.erfc(x)
    below = x
    for n in range(FRACTION_TERMS, 0, -1):
        below = x + n / 2 / below
    return 1 / math.sqrt(math.pi) / below


def ndtr(x: ArrayLike) -> Array:
    """Distribution function of the normal distribution.

    >>> round(float(ndtr(-1.96)), 4)
    0.025
    """
    x = np.asarray(x, dtype=float)
    tail = 0.5 * np.exp(-0.5 * x * x) * erfcx(np.abs(x) / math.sqrt(2))
    return np.asarray(np.where(x < 0, tail, 1 - tail))


def ndtri(p: ArrayLike) -> Array:
    """Normal score with a chance below it: the inverse of `ndtr`.

    Newton's steps on the logarithm of the tail start from Abramowitz and Stegun 26.2.23.

    >>> round(float(ndtri(0.975)), 4)
    1.96
    """
    p = np.asarray(p, dtype=float)
    tail = np.minimum(p, 1 - p)
    with np.errstate(divide="ignore", invalid="ignore"):  # a chance that rounding took beyond 0 or 1 has no score
        log = np.log(tail)
    known = np.maximum(log, -700.0)
    t = np.sqrt(-2 * known)
    x = t - (2.515517 + t * (0.802853 + t * 0.010328)) / (1 + t * (1.432788 + t * (0.189269 + t * 0.001308)))
    for _ in range(3):
        mills = math.sqrt(math.pi / 2) * erfcx(x / math.sqrt(2))
        x = x + mills * (np.log(mills / math.sqrt(2 * math.pi)) - 0.5 * x * x - known)
    x = np.where(np.isneginf(log), np.inf, x)
    return np.asarray(np.where(p < 0.5, -x, x))


def gammaln(a: ArrayLike) -> Array:
    """Logarithm of the gamma function of positive numbers, by Stirling's series (Abramowitz and Stegun 6.1.41)."""
    a = np.asarray(a, dtype=float)
    z = a + SHIFT
    below = np.prod([a + k for k in range(SHIFT)], axis=0)
    series = (1 / 12 - (1 / 360 - (1 / 1260 - (1 / 1680 - 1 / 1188 / z**2) / z**2) / z**2) / z**2) / z
    return np.asarray((z - 0.5) * np.log(z) - z + 0.5 * math.log(2 * math.pi) + series - np.log(below))


def gammaincc(a: ArrayLike, x: ArrayLike) -> Array:
    """Upper incomplete gamma function over the whole one: the tail of chi squared / 2 with 2 a degrees of freedom.

    For a whole number of degrees of freedom it is a finite sum (Abramowitz and Stegun 26.4.4 and 26.4.5), otherwise a
    series or a continued fraction (6.5.29 and 6.5.31).

    >>> round(float(gammaincc(0.5, 3.841459 / 2)), 5)  # chi squared that 1 in 20 exceeds, one degree of freedom
    0.05
    """
    a, x = np.asarray(a, dtype=float), np.asarray(x, dtype=float)
    if a.ndim == 0 and float(2 * a).is_integer():
        return _by_sum(float(a), x)
    a, x = np.broadcast_arrays(a, x)
    out = np.empty(x.shape)
    near = x < np.maximum(a + 1, SERIES_TO)
    for here, part in ((near, _by_series), (~near, _by_fraction)):
        if here.any():
            out[here] = part(a[here], x[here])
    return out


def _by_sum(a: float, x: Array) -> Array:
    k = 1.0 if a.is_integer() else 0.5
    term = np.ones(x.shape) if k == 1 else 1 / np.sqrt(math.pi * np.maximum(x, SMALLEST))
    total = np.ones(x.shape) if k == 1 else erfcx(np.sqrt(x))
    while k < a:
        term = term * x / k
        total = total + term
        k += 1
    return np.asarray(np.exp(-x) * total)


def _by_series(a: Array, x: Array) -> Array:
    term = np.exp(a * np.log(np.maximum(x, SMALLEST)) - x - gammaln(a + 1))
    total = term.copy()
    n = 0
    while (term > ENOUGH * total).any():
        n += 1
        term = term * x / (a + n)
        total += term
    return np.asarray(1 - total)


def _by_fraction(a: Array, x: Array) -> Array:
    terms = 8 + int(180 / x.min())
    below = x + 2 * terms + 1 - a
    for n in range(terms, 0, -1):
        below = x + 2 * n - 1 - a - n * (n - a) / below
    return np.asarray(np.exp(a * np.log(x) - x - gammaln(a)) / below)


def stdtr(dof: ArrayLike, t: ArrayLike) -> Array:
    """Distribution function of Student's t, within 1e-10.

    With t = sqrt(dof) tan(angle) its density is a power of the cosine, which Gauss's rule integrates.

    >>> round(float(stdtr(2.0, 4.302653)), 5)  # JCGM 100 table G.2
    0.975
    """
    dof, t = np.broadcast_arrays(np.asarray(dof, dtype=float), np.asarray(t, dtype=float))
    return _to_angle(dof, np.arctan(t / np.sqrt(dof)), _scale(dof))


def stdtrit(dof: ArrayLike, p: float) -> Array:
    """Student's t with a chance `p`, above one half, below it: the inverse of `stdtr`.

    In the angle the function is concave, so that Newton's steps from the normal score never overshoot.
    """
    dof = np.asarray(dof, dtype=float)
    angle, scale = np.arctan(ndtri(p) / np.sqrt(dof)), _scale(dof)
    for _ in range(NEWTON):
        step = (p - _to_angle(dof, angle, scale)) / (scale * np.cos(angle) ** (dof - 1))
        angle = angle + step
        if (np.abs(step) <= ENOUGH_STEP * angle).all():
            break
    return np.asarray(np.sqrt(dof) * np.tan(angle))


def _to_angle(dof: Array, angle: Array, scale: Array) -> Array:
    node, weight = legendre_rule(LEGENDRE)
    power = np.cos(angle[..., None] * node) ** (dof[..., None] - 1)
    return np.asarray(0.5 + scale * angle * (power @ weight))


def _scale(dof: Array) -> Array:
    return np.asarray(np.exp(gammaln((dof + 1) / 2) - gammaln(dof / 2)) / math.sqrt(math.pi))


@cache
def legendre_rule(nodes: int) -> tuple[Array, Array]:
    """Nodes of Gauss's rule between 0 and 1, and weights that sum to 1. (`np.polynomial` takes 4 ms to load.)"""
    n = np.arange(1, nodes)
    node, weight = gauss_rule(np.zeros(nodes), n / np.sqrt(4.0 * n * n - 1))
    return (node + 1) / 2, weight


def gauss_rule(diagonal: Array, beside: Array) -> tuple[Array, Array]:
    """Nodes of a Gaussian quadrature, and weights that sum to 1, from the recurrence of its polynomials.

    They are the eigenvalues of its matrix and the squares of the first parts of its eigenvectors (Golub and Welsch,
    Math. Comp. 23 (1969) 221).
    """
    matrix = np.diag(diagonal) + np.diag(beside, 1) + np.diag(beside, -1)
    node, vector = np.linalg.eigh(matrix)
    return node, vector[0] ** 2
