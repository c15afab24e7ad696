"""Pairs of metals that can have a specific volume within limits, and the exact proportions in which they can.

With mass fractions w, n_i = w_i / M_i and N = sum n_i, a mixture has the specific volume

    v(w) = sum_i n_i V_i + sum_{i<j} n_i n_j (K0_ij + K1_ij (n_i - n_j) / N) / N    [cm3/g].

Multiplied by N (or by N^2 where there is a K1), the condition v(w) = c is a polynomial of degree two (three) in w.
The polynomials are kept as Bernstein coefficients: these bound the polynomial and show at once if a level is not met,
and roots come out of them without loss when a leading term vanishes.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array, Index
from ..errors import InputError

MERGE = 1e-12  # mass fraction: intervals closer than this are one
NO_K1 = 1e-9  # relative to the molar volumes: a K1 below this is rounding


class Terms(NamedTuple):
    """A mixing law scaled so that its numbers are near one.

    u : mean molar mass over molar mass, (m,). v : specific volume of the metals [cm3/g], (m,).
    k0, k1 : excess terms times u_i u_j over the mean molar mass [cm3/g], (m, m), symmetric and antisymmetric.
    """

    u: Array
    v: Array
    k0: Array
    k1: Array


def mixing_terms(V: ArrayLike, M: ArrayLike, K0: ArrayLike | None, K1: ArrayLike | None) -> Terms:
    """A mixing law, checked and scaled.

    Parameters
    ----------
    V : molar volumes, (m,) [cm3/mol], 0 for interstitials. M : molar masses, (m,) [g/mol].
    K0 : symmetric (m, m) [cm3/mol], or None for the ideal rule; the diagonal is not used.
    K1 : antisymmetric (m, m) [cm3/mol], or None; the sign refers to the metal of the row.

    Raises
    ------
    InputError
        For masses that are not positive, volumes that are negative, wrong shapes or wrong symmetry.
    """
    volume, mass = np.asarray(V, dtype=float), np.asarray(M, dtype=float)
    if mass.ndim != 1 or not (np.isfinite(mass).all() and (mass > 0).all()):
        raise InputError("M", f"array {mass.shape}", "positive molar masses in one row", "mend M")
    size = len(mass)
    if volume.shape != mass.shape or not (np.isfinite(volume).all() and (volume >= 0).all()):
        raise InputError("V", f"array {volume.shape}", f"{size} molar volumes, none negative", "mend V")
    u = mass.mean() / mass
    scale = np.outer(u, u) / mass.mean()
    k0 = _square("K0", K0, size, 1.0) * scale
    k1 = _square("K1", K1, size, -1.0) * scale
    k1[np.abs(k1) < NO_K1 * np.abs(volume / mass).max(initial=0.0)] = 0.0
    return Terms(u, volume / mass, k0, k1)


def _square(name: str, given: ArrayLike | None, size: int, sign: float) -> Array:
    if given is None:
        return np.zeros((size, size))
    k = np.array(given, dtype=float)
    if k.shape == (size, size):
        np.fill_diagonal(k, 0.0)
        if np.isfinite(k).all() and np.allclose(k, sign * k.T, rtol=1e-9, atol=1e-12):
            return k
    kind = "a symmetric" if sign > 0 else "an antisymmetric"
    raise InputError(name, f"array {k.shape}", f"{kind} {size} x {size} array", f"mend {name}")


def bezier(f: Array, t: Array) -> Array:
    """Values at `t` of a polynomial on [0, 1] with Bernstein coefficients `f` (degree + 1, ...), by de Casteljau."""
    while len(f) > 1:
        f = f[:-1] + t * (f[1:] - f[:-1])
    return np.asarray(f[0])


def quadratic_roots(f: Array) -> Array:
    """Roots within [0, 1] of f0 (1-t)^2 + 2 f1 t (1-t) + f2 t^2; (3, n) to (2, n), NaN where there is none.

    With q = -(f1 + sign(f1) sqrt(f1^2 - f0 f2)), the roots have t : (1 - t) equal to q : f2 and to f0 : q. So no digits
    cancel, and a vanishing leading term needs no special case.
    """
    with np.errstate(all="ignore"):
        q = -(f[1] + np.copysign(np.sqrt(f[1] * f[1] - f[0] * f[2]), f[1]))
        roots = np.stack([q / (q + f[2]), f[0] / (f[0] + q)])
        roots[~((roots >= 0) & (roots <= 1))] = np.nan
    return roots


def cubic_roots(f: Array) -> Array:
    """Roots within [0, 1] of a cubic with Bernstein coefficients `f`; (4, n) to (3, n), NaN padded.

    Between its turning points (the roots of a quadratic) a cubic is monotone. A change of sign there is one root, found
    by Newton steps that fall back to bisection. The usual trigonometric form loses digits near double roots, and it
    needs special cases when the cubic is nearly a quadratic, as here for a small K1.
    """
    size = f.shape[1]
    turns = np.nan_to_num(quadratic_roots(np.diff(f, axis=0)), nan=1.0)
    nodes = np.concatenate([np.zeros((1, size)), np.sort(turns, axis=0), np.ones((1, size))])
    at = bezier(f[:, None, :], nodes)
    roots = np.full((3, size), np.nan)
    piece, which = np.nonzero((at[:-1] * at[1:] <= 0) & (nodes[:-1] < nodes[1:]))
    if len(which):
        a, b, sign = nodes[piece, which], nodes[piece + 1, which], np.sign(at[piece + 1, which])
        sign = np.where(sign == 0, -np.sign(at[piece, which]), sign)
        roots[piece, which] = _monotone_root(f[:, which], a, b, sign)
    return roots


def _monotone_root(f: Array, a: Array, b: Array, sign: Array) -> Array:
    slope = (len(f) - 1) * np.diff(f, axis=0)
    t = 0.5 * (a + b)
    for _ in range(80):
        value = bezier(f, t)
        above = value * sign >= 0
        b, a = np.where(above, t, b), np.where(above, a, t)
        with np.errstate(all="ignore"):
            step = t - value / bezier(slope, t)
        new = np.where((step >= a) & (step <= b), step, 0.5 * (a + b))
        if np.abs(new - t).max() <= 1e-15:
            break
        t = new
    return np.asarray(new)


def edge_form(terms: Terms, a: Index, b: Index, level: Array) -> Array:
    """Bernstein coefficients (3, n) of N (v - level) along the edge from b (t = 0) to a (t = 1), without K1."""
    ua, ub = terms.u[a], terms.u[b]
    da, db = terms.v[a] - level, terms.v[b] - level
    return np.stack([ub * db, 0.5 * (ua * db + ub * da + terms.k0[a, b]), ua * da])


def edge_form_cubic(terms: Terms, a: Index, b: Index, level: Array) -> Array:
    """Bernstein coefficients (4, n) of N^2 (v - level) along the edge from b (t = 0) to a (t = 1)."""
    f0, f1, f2 = edge_form(terms, a, b, level)
    ua, ub, k1 = terms.u[a], terms.u[b], terms.k1[a, b]
    inner = [(f0 * ua + (2 * f1 - k1) * ub) / 3, ((2 * f1 + k1) * ua + f2 * ub) / 3]
    return np.stack([f0 * ub, *inner, f2 * ua])


def band_intervals(f_lo: Array, f_hi: Array) -> tuple[Array, Array]:
    """Intervals of [0, 1] in which a polynomial `f_lo` is not negative and `f_hi` is not positive.

    Both are Bernstein coefficients (degree + 1, n), degree 2 or 3, of one quantity minus its lower and its upper limit.
    The result is starts and ends, each (n, 3), NaN padded. Every level is met at most three times, so at most one gap
    opens below the band and one above it: there are at most three intervals.
    """
    starts, ends = np.full((2, f_lo.shape[1], 3), np.nan)
    near = np.nonzero((f_lo.max(axis=0) >= 0) & (f_hi.min(axis=0) <= 0))[0]
    if len(near) == 0:
        return starts, ends
    f_lo, f_hi = f_lo[:, near], f_hi[:, near]
    nodes = _nodes(f_lo, f_hi)
    middle = 0.5 * (nodes[:-1] + nodes[1:])
    joined = (bezier(f_lo[:, None], middle) >= 0) & (bezier(f_hi[:, None], middle) <= 0)
    joined |= nodes[1:] - nodes[:-1] <= MERGE
    valid = ~np.isnan(nodes)
    opens, closes = valid.copy(), valid.copy()
    opens[1:] &= ~joined
    closes[:-1] &= ~joined
    number = np.minimum(np.cumsum(opens, axis=0) - 1, 2)
    for k, row in enumerate(nodes):
        at = opens[k] & np.isnan(starts[near, number[k]])
        starts[near[at], number[k, at]] = row[at]
        ends[near[closes[k]], number[k, closes[k]]] = row[closes[k]]
    return starts, ends


def _nodes(f_lo: Array, f_hi: Array) -> Array:
    """All points of [0, 1] where an interval can start or end, sorted, NaN last; every one lies in the band."""
    solve = quadratic_roots if len(f_lo) == 3 else cubic_roots
    at_ends = [np.where((f_lo[k] >= 0) & (f_hi[k] <= 0), t, np.nan) for k, t in ((0, 0.0), (-1, 1.0))]
    return np.sort(np.concatenate([np.stack(at_ends), solve(f_lo), solve(f_hi)]), axis=0)


def edge_intervals(terms: Terms, a: Index, b: Index, lo: Array, hi: Array) -> tuple[Array, Array]:
    """Mass fractions of metal `a` (the rest is `b`) for which lo <= v <= hi: starts and ends (n, 3), NaN padded."""
    starts, ends = band_intervals(edge_form(terms, a, b, lo), edge_form(terms, a, b, hi))
    skew = np.nonzero(terms.k1[a, b])[0]
    if len(skew):
        a, b = a[skew], b[skew]
        lo, hi = (limit if limit.ndim == 0 else limit[skew] for limit in (lo, hi))
        cubics = (edge_form_cubic(terms, a, b, limit) for limit in (lo, hi))
        starts[skew], ends[skew] = band_intervals(*cubics)
    return starts, ends
