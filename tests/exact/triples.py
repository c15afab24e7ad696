"""Triples of metals that can have a specific volume within limits, and the exact range of each metal.

A mass fraction is extreme within a band of v at the end of a feasible interval on an edge (a pair), or at a point
where one of the two level curves runs along constant w_i, and nowhere else. Such points also find islands that touch
no edge. Where an excess term changes once there is enough of a third metal, the triangle is cut.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from alloysolve.arrays import Array, Index
from alloysolve.errors import InputError
from alloysolve.exact.pairs import Terms, band_intervals, edge_intervals, mixing_terms

from .all_pairs import check_band, pair_indices
from .regions import EDGES, Region, TripleRanges, inside_points, ranges_of, triangle_volume
from .triple_turns import Points, tangent_points

ON_CUT = 1e-9  # mass fraction by which a point may lie beyond a cut
# Values of a cubic at 0, 1/3, 2/3, 1 to its Bernstein coefficients.
TO_BERNSTEIN = np.array([[6, 0, 0, 0], [-5, 18, -9, 2], [2, -9, 18, -5], [0, 0, 0, 6]]) / 6


class Beside(NamedTuple):
    """A pair whose excess differs if enough of a third metal is present: K0 + change where w_third >= least.

    i, j, third : positions of the metals. least : mass fraction. change : [cm3/mol].
    """

    i: int
    j: int
    third: int
    least: float
    change: float


@lru_cache(maxsize=8)
def triple_indices(size: int) -> tuple[Index, Index]:
    """Metals (3, n) of every triple i < j < k, and the rows (3, n) of its pairs ij, ik, jk; read-only."""
    first, second = pair_indices(size)
    row = np.zeros((size, size), dtype=np.intp)
    row[first, second] = np.arange(len(first))
    i, pair = np.nonzero(np.arange(size)[:, None] < first)
    triples = np.stack([i, first[pair], second[pair]])
    pairs = np.stack([row[triples[a], triples[b]] for a, b in EDGES])
    triples.flags.writeable = pairs.flags.writeable = False
    return triples, pairs


def triple_ranges(
    V: ArrayLike,
    M: ArrayLike,
    K0: ArrayLike | None,
    K1: ArrayLike | None,
    v_lo: ArrayLike,
    v_hi: ArrayLike,
    beside: Iterable[tuple[int, int, int, float, float]] = (),
) -> TripleRanges:
    """Exact range of every metal in every triple whose specific volume can lie within limits.

    Parameters
    ----------
    V, M, K0, K1 : the mixing law, as in `pairs.mixing_terms`.
    v_lo, v_hi : limits of the specific volume [cm3/g]; one number, or one per triple.
    beside : terms as in `Beside`, each used only in the triple of its three metals. The region is then the union
        of what fits with the change where w_third >= least, and without it where w_third <= least.

    Notes
    -----
    The border belongs to the region. A region of a single inner point (a level that only touches the greatest
    or least v) may be missed, depending on rounding.
    """
    terms = mixing_terms(V, M, K0, K1)
    triples, pairs = triple_indices(len(terms.u))
    lo, hi = check_band(v_lo, v_hi, triples.shape[1])
    region = Region(triples.shape[1])
    region.add_edges(*_edges(terms, triples, pairs, lo, hi))
    for level in (lo, hi):
        for points in tangent_points(terms, triples, level):
            region.add_points(points)
    inside = inside_points(terms, triples, region, lo, hi)
    out = ranges_of(region, inside)
    _apply_beside(out, terms, np.asarray(M, dtype=float), triples, lo, hi, [Beside(*b) for b in beside])
    return out


def _edges(terms: Terms, triples: Index, pairs: Index, lo: Array, hi: Array) -> tuple[Array, Array, Array]:
    """First start, last end and a middle of the feasible intervals of the three edges of every triple."""
    if lo.ndim == hi.ndim == 0:
        starts, ends = edge_intervals(terms, *pair_indices(len(terms.u)), lo, hi)
    else:
        a, b = (np.concatenate([triples[edge[side]] for edge in EDGES]) for side in (0, 1))
        lo, hi = (limit if limit.ndim == 0 else np.tile(limit, 3) for limit in (lo, hi))
        starts, ends = edge_intervals(terms, a, b, lo, hi)
        pairs = np.arange(len(a)).reshape(3, -1)
    found = starts[:, 0], np.fmax.reduce(ends, axis=1), 0.5 * (starts[:, 0] + ends[:, 0])
    return found[0][pairs], found[1][pairs], found[2][pairs]


def _apply_beside(
    out: TripleRanges, terms: Terms, M: Array, triples: Index, lo: Array, hi: Array, beside: list[Beside]
) -> None:
    by_triple: dict[tuple[int, ...], list[Beside]] = {}
    for b in beside:
        key = tuple(sorted((b.i, b.j, b.third)))
        if len(set(key)) < 3 or key[0] < 0 or key[2] >= len(M):
            raise InputError("beside", tuple(b[:3]), "three metals of the law", "mend the positions")
        by_triple.setdefault(key, []).append(b)
    for key, rules in by_triple.items():
        at = int(np.nonzero((triples == np.array(key)[:, None]).all(axis=0))[0][0])
        low, high = (limit if limit.ndim == 0 else limit[at] for limit in (lo, hi))
        found = _cut_triple(terms, float(M.mean()), np.array(key), low, high, rules)
        for whole, part in zip(out, found, strict=True):
            whole[at] = part[0]


def _cut_triple(
    terms: Terms, mean_mass: float, metals: Index, lo: Array, hi: Array, rules: list[Beside]
) -> TripleRanges:
    """Ranges of one triple, as the union of the cells into which the rules cut it."""
    cells = []
    for used in product((True, False), repeat=len(rules)):
        k0, polygon, cuts = terms.k0.copy(), np.eye(3), []
        for rule, use in zip(rules, used, strict=True):
            sign = 1.0 if use else -1.0
            cuts.append((int(np.nonzero(metals == rule.third)[0][0]), rule.least, sign))
            polygon = _cut(polygon, *cuts[-1])
            if use:
                change = rule.change * terms.u[rule.i] * terms.u[rule.j] / mean_mass
                k0[rule.i, rule.j] += change
                k0[rule.j, rule.i] += change
        if len(polygon) > 2:
            cells.append(_cell(terms._replace(k0=k0), metals[:, None], polygon, cuts, lo, hi))
    best = max(cells, key=lambda c: bool(c.reaches[0]))
    with np.errstate(all="ignore"):
        low, high = np.fmin.reduce([c.low for c in cells]), np.fmax.reduce([c.high for c in cells])
    return TripleRanges(best.reaches, low, high, best.inside)


def _cut(polygon: Array, corner: int, least: float, sign: float) -> Array:
    """The part of a convex polygon (k, 3) in which sign (w_corner - least) >= 0."""
    kept = []
    for a, b in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        da, db = sign * (a[corner] - least), sign * (b[corner] - least)
        if da >= 0:
            kept.append(a)
        if da * db < 0:
            kept.append(a + (b - a) * da / (da - db))
    return np.array(kept)


def _cell(
    terms: Terms, triple: Index, polygon: Array, cuts: list[tuple[int, float, float]], lo: Array, hi: Array
) -> TripleRanges:
    """Ranges of what fits within a convex part of one triangle."""
    region = Region(1)
    a, b = polygon.T, np.roll(polygon, -1, axis=0).T
    starts, ends = band_intervals(*(_side_form(terms, triple, a, b, level) for level in (lo, hi)))
    for side, number in zip(*np.nonzero(~np.isnan(starts)), strict=True):
        t = np.array([starts[side, number], ends[side, number], 0.5 * (starts + ends)[side, number]])
        points = a[:, [side]] + t * (b - a)[:, [side]]
        for n in range(3):
            region.add_points(Points(0, np.zeros(1, dtype=np.intp), points[:, [n]]))
        region.seed[:, 0], region.on_edge[0] = points[:, 2], True
    for level in (lo, hi):
        for found in tangent_points(terms, triple, level):
            if all(sign * (found.w[c, 0] - least) >= -ON_CUT for c, least, sign in cuts):
                region.add_points(found)
    return ranges_of(region, inside_points(terms, triple, region, lo, hi))


def _side_form(terms: Terms, triple: Index, a: Array, b: Array, level: Array) -> Array:
    """Bernstein coefficients (4, n) of N^2 (v - level) along the segments from `a` to `b` (3, n)."""
    values = []
    for t in (0.0, 1 / 3, 2 / 3, 1.0):
        w = a + t * (b - a)
        v, total = triangle_volume(terms, np.broadcast_to(triple, w.shape), w)
        values.append((v - level) * total**2)
    return np.asarray(TO_BERNSTEIN @ np.stack(values))
