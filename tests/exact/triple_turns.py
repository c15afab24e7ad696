"""Points in a triangle of three metals where a level curve of the specific volume runs along constant w_i.

Only there, and at the ends of the feasible intervals on the edges, can a mass fraction be extreme within a band of v.
Without K1 the level curve is a conic, and the points lie on a straight line (the polar line of the direction): this
is a quadratic. With a K1 the curve is a cubic: the points are the roots of a discriminant of degree six, isolated by
subdivision of its Bernstein form, so that none is missed.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import comb
from typing import NamedTuple

import numpy as np

from alloysolve.arrays import Array, Index
from alloysolve.exact.pairs import Terms, bezier, quadratic_roots

ORDERS = ((0, 1, 2), (1, 2, 0), (2, 0, 1))  # a component and the two others
FLAT = 1e-14  # of the largest product in a discriminant: a smaller value is rounding
NARROW = 2.0**-20  # width at which a root is isolated; Newton steps do the rest
CROWD = 40  # subdivided pieces per discriminant; more of them mean that it is zero within rounding
STEPS = 6
AT_ROOT = 1e-11  # of the largest coefficient of a cubic: what counts as on the curve
OUTSIDE = 1e-9  # mass fraction by which a point on the border may lie outside the triangle

# c1^2 c2^2 - 4 c0 c2^3 - 4 c1^3 c3 + 18 c0 c1 c2 c3 - 27 c0^2 c3^2, as factor and positions.
DISCRIMINANT = (
    (1.0, (1, 1, 2, 2)),
    (-4.0, (0, 2, 2, 2)),
    (-4.0, (1, 1, 1, 3)),
    (18.0, (0, 1, 2, 3)),
    (-27.0, (0, 0, 3, 3)),
)


class Points(NamedTuple):
    """Tangent points: their positions in the list of triples (no position twice) and mass fractions (3, n)."""

    component: int
    at: Index
    w: Array


def tangent_points(terms: Terms, triples: Index, level: Array) -> Iterator[Points]:
    """Points of v(w) = level inside each triangle where v does not change along constant w_i, for every i.

    Parameters
    ----------
    terms : the scaled mixing law. triples : metals (3, n). level : specific volume [cm3/g], one or (n,).
    """
    i, j, k = triples
    skew = (terms.k1[i, j] != 0) | (terms.k1[i, k] != 0) | (terms.k1[j, k] != 0)
    bent = ~skew & ((terms.k0[i, j] != 0) | (terms.k0[i, k] != 0) | (terms.k0[j, k] != 0))
    for which, solve in ((bent, _of_conics), (skew, _of_cubics)):
        at = np.nonzero(which)[0]
        if len(at):
            part = level if level.ndim == 0 else level[at]
            for points in solve(terms, triples[:, at], part):
                if len(points.at):
                    yield Points(points.component, at[points.at], points.w)


def _conic(terms: Terms, triples: Index, level: Array) -> tuple[Array, Array]:
    """Bernstein coefficients of N (v - level): at the corners, and at the sides opposite to them."""
    u, d = terms.u[triples], terms.v[triples] - level
    opposite = ((1, 2), (0, 2), (0, 1))
    sides = [u[j] * d[k] + u[k] * d[j] + terms.k0[triples[j], triples[k]] for j, k in opposite]
    return u * d, 0.5 * np.stack(sides)


def _crosses(*coefficients: Array) -> Index:
    """Positions where Bernstein coefficients do not all have one sign; elsewhere the polynomial has no zero."""
    low, high = np.minimum.reduce(coefficients), np.maximum.reduce(coefficients)
    return np.nonzero((low <= 0) & (high >= 0))[0]


def _of_conics(terms: Terms, triples: Index, level: Array) -> Iterator[Points]:
    corner, side = _conic(terms, triples, level)
    near = _crosses(*corner, *side)
    corner, side = corner[:, near], side[:, near]
    for i, j, k in ORDERS:
        polar = np.empty_like(corner)
        polar[i], polar[j], polar[k] = side[k] - side[j], corner[j] - side[i], side[i] - corner[k]
        at = _crosses(*polar)
        for which, w in _on_line(polar[:, at], corner[:, at], side[:, at]):
            yield Points(i, near[at[which]], w)


def _on_line(line: Array, corner: Array, side: Array) -> Iterator[tuple[Index, Array]]:
    """Points where a conic meets a line (the zero of a linear form) inside the triangle, in two lists."""
    run = np.arange(line.shape[1])
    odd = np.argmax(np.stack([line[1] * line[2], line[0] * line[2], line[0] * line[1]]), axis=0)
    a, b = (odd + 1) % 3, (odd + 2) % 3
    with np.errstate(all="ignore"):
        p = line[a, run] / (line[a, run] - line[odd, run])  # share of the odd corner where the line leaves the triangle
        q = line[b, run] / (line[b, run] - line[odd, run])
    top, to_a, to_b = corner[odd, run], side[b, run], side[a, run]
    first = p * p * top + 2 * p * (1 - p) * to_a + (1 - p) ** 2 * corner[a, run]
    last = q * q * top + 2 * q * (1 - q) * to_b + (1 - q) ** 2 * corner[b, run]
    mixed = p * q * top + p * (1 - q) * to_b + q * (1 - p) * to_a + (1 - p) * (1 - q) * side[odd, run]
    for t in quadratic_roots(np.stack([first, mixed, last])):
        which = np.nonzero(t >= 0)[0]
        t, p_, q_ = t[which], p[which], q[which]
        w = np.empty((3, len(which)))
        w[odd[which], run[: len(which)]] = p_ + t * (q_ - p_)
        w[a[which], run[: len(which)]] = (1 - t) * (1 - p_)
        w[b[which], run[: len(which)]] = t * (1 - q_)
        yield which, w


def _cubic(terms: Terms, triples: Index, level: Array) -> tuple[Array, Array]:
    """Coefficients of N^2 (v - level): s[i, j] of w_i^2 w_j, and of w_1 w_2 w_3."""
    corner, side = _conic(terms, triples, level)
    u = terms.u[triples]
    s = np.empty((3, *corner.shape))
    for i in range(3):
        for j in range(3):
            twice = 2 * u[i] * side[3 - i - j] + u[i] * terms.k1[triples[i], triples[j]] if i != j else 0.0
            s[i, j] = u[j] * corner[i] + twice
    return s, 2 * (u * side).sum(axis=0)


def _of_cubics(terms: Terms, triples: Index, level: Array) -> Iterator[Points]:
    s, e = _cubic(terms, triples, level)
    near = _crosses(*(s[i, j] for i in range(3) for j in range(3)), e)
    s, e = s[:, :, near], e[near]
    ats, cubics = zip(*(_along(s, e, *order) for order in ORDERS), strict=True)
    c = [np.concatenate(parts, axis=1) for parts in zip(*cubics, strict=True)]
    at, order = near[np.concatenate(ats)], np.repeat(np.arange(3), [len(a) for a in ats])
    which, x = unit_roots(*_discriminant(c))  # of all three components at once: most of the time is overhead
    for y in _double_roots([m[:, which] for m in c], x):
        good, w = _polish([m[:, which] for m in c], x, y)
        found = which[good]
        for i, j, k in ORDERS:
            of_i = np.nonzero(order[found] == i)[0]
            for single in _split(found[of_i]):
                points = np.empty((3, len(single)))
                points[[i, j, k]] = w[:, of_i[single]]
                yield Points(i, at[found[of_i[single]]], points)


def _split(at: Index) -> Iterator[Index]:
    """Positions in groups in which no value of `at` (sorted) comes twice."""
    rank = np.arange(len(at)) - np.searchsorted(at, at)
    for number in range(int(rank.max(initial=-1)) + 1):
        yield np.nonzero(rank == number)[0]


def _along(s: Array, e: Array, i: int, j: int, k: int) -> tuple[Index, list[Array]]:
    """Bernstein coefficients in x of c_0 to c_3, where N^2 (v - level) = sum_m c_m(x) y^m with x = w_i, y = w_j.

    Only the positions where the derivative by y can vanish in the triangle are kept; they come first.
    """
    at = _crosses(
        s[i, j] - s[i, k],
        e / 2 - s[k, i],
        s[j, i] - e / 2,
        s[j, j] - s[j, k] / 3,
        (s[j, k] - s[k, j]) / 3,
        s[k, j] / 3 - s[k, k],
    )
    s, e = s[:, :, at], e[at]
    c0 = [s[k, k], s[k, i] / 3, s[i, k] / 3, s[i, i]]
    c1 = [s[k, j] - 3 * s[k, k], (e - 2 * s[k, i]) / 2, s[i, j] - s[i, k]]
    c2 = [s[j, k] - 2 * s[k, j] + 3 * s[k, k], s[j, i] - e + s[k, i]]
    c3 = [s[j, j] - s[j, k] + s[k, j] - s[k, k]]
    return at, [np.stack(c) for c in (c0, c1, c2, c3)]


def _discriminant(c: list[Array]) -> tuple[Array, Array]:
    """Bernstein coefficients (7, n) of the discriminant of a cubic, and the size below which its value is noise."""
    scaled = [f * _binomials(len(f) - 1)[:, None] for f in c]
    terms = [factor * _product([scaled[m] for m in powers]) for factor, powers in DISCRIMINANT]
    size = np.max([np.abs(t).max(axis=0) for t in terms], axis=0)
    return np.sum(terms, axis=0) / _binomials(6)[:, None], FLAT * size


def _binomials(degree: int) -> Array:
    return np.array([comb(degree, m) for m in range(degree + 1)], dtype=float)


def _product(factors: list[Array]) -> Array:
    out = factors[0]
    for f in factors[1:]:
        longer = np.zeros((len(out) + len(f) - 1, out.shape[1]))
        for m, row in enumerate(f):
            longer[m : m + len(out)] += row * out
        out = longer
    return out


def unit_roots(f: Array, flat: Array) -> tuple[Index, Array]:
    """Roots within [0, 1] of polynomials with Bernstein coefficients `f` (degree + 1, n).

    Intervals whose coefficients have one sign hold no root; all others are halved until they are narrow. A polynomial
    that is nowhere larger than `flat` (n,) counts as having none. A root may come more than once.

    Returns
    -------
    Positions of the polynomials, sorted, and their roots.
    """
    lower = np.array([[comb(m, a) / 2**m for a in range(len(f))] for m in range(len(f))])  # the half from 0
    at = np.nonzero(np.abs(f).max(axis=0) > flat)[0]
    f, start, width, most = f[:, at], np.zeros(len(at)), 1.0, CROWD * len(at)
    while len(at):
        keep = _crosses(*f)
        f, at, start = f[:, keep], at[keep], start[keep]
        if width <= NARROW or len(at) > most:
            break
        left, right = lower @ f, lower[::-1, ::-1] @ f
        right[0] = left[-1]  # one value for both; otherwise a root just there is lost to rounding
        f = np.concatenate([left, right], axis=1)
        at, width = np.concatenate([at, at]), width / 2
        start = np.concatenate([start, start + width])
    order = np.argsort(at, kind="stable")
    return at[order], start[order] + width / 2


def _double_roots(c: list[Array], x: Array) -> list[Array]:
    """The two y at which the cubic turns; one of them is its double root."""
    _, c1, c2, c3 = (bezier(f, x) for f in c)
    with np.errstate(all="ignore"):
        q = -(c2 + np.copysign(np.sqrt(np.maximum(c2 * c2 - 3 * c3 * c1, 0.0)), c2))
        return [q / (3 * c3), c1 / q]


def _polish(c: list[Array], x: Array, y: Array) -> tuple[Index, Array]:
    """Newton steps in the plane for F = 0 and F_y = 0: which starts reach such a point, and the points."""
    scale = np.max([np.abs(f).max(axis=0) for f in c], axis=0)
    slope = [(len(f) - 1) * np.diff(f, axis=0) for f in c[:3]]
    with np.errstate(all="ignore"):
        for step in range(STEPS):
            c0, c1, c2, c3 = (bezier(f, x) for f in c)
            d0, d1, d2 = (bezier(f, x) for f in slope)
            f, fy = c0 + y * (c1 + y * (c2 + y * c3)), c1 + y * (2 * c2 + 3 * y * c3)
            if step == STEPS - 1:
                break
            fx, fxy, fyy = d0 + y * (d1 + y * d2), d1 + 2 * y * d2, 2 * c2 + 6 * y * c3
            whole = fx * fyy - fy * fxy
            x, y = x - (f * fyy - fy * fy) / whole, y - (fx * fy - fxy * f) / whole
        w = np.stack([x, y, 1 - x - y])
        small = np.maximum(np.abs(f), np.abs(fy)) <= AT_ROOT * scale
    good = np.nonzero(small & (w.min(axis=0) >= -OUTSIDE))[0]
    inside = np.maximum(w[:, good], 0.0)
    return good, inside / inside.sum(axis=0)
