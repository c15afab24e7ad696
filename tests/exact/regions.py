"""The compositions of a triple of metals that fit, gathered from their border: ranges and one composition inside."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from alloysolve.arrays import Array, Index, Mask
from alloysolve.exact.pairs import Terms

from .triple_turns import Points

HALVINGS = 30
ROUNDING = 1e-12  # relative rounding of v
EDGES = ((0, 1), (0, 2), (1, 2))


class TripleRanges(NamedTuple):
    """What `triple_ranges` found; triples are in the order of ``itertools.combinations(range(m), 3)``.

    reaches : whether the triple can have such a v, (n,). low, high : least and greatest mass fraction of each metal,
    (n, 3). inside : one composition within the limits, away from the border where there is room, (n, 3).
    All are NaN for a triple that cannot.
    """

    reaches: Mask
    low: Array
    high: Array
    inside: Array


class Region:
    """The regions of many triples, gathered point by point; arrays (3, n)."""

    def __init__(self, count: int) -> None:
        self.low, self.high = np.full((3, count), np.inf), np.full((3, count), -np.inf)
        self.sum, self.count = np.zeros((3, count)), np.zeros(count)
        self.seed, self.on_edge = np.full((3, count), np.nan), np.zeros(count, dtype=bool)

    def add_edges(self, start: Array, end: Array, middle: Array) -> None:
        """Adds the feasible intervals (3, n) of the edges: fraction of the first metal of `EDGES`, NaN for none."""
        for (i, j), a, b, m in zip(EDGES, start, end, middle, strict=True):
            np.fmin(self.low[i], a, out=self.low[i])
            np.fmax(self.high[i], b, out=self.high[i])
            np.fmin(self.low[j], 1 - b, out=self.low[j])
            np.fmax(self.high[j], 1 - a, out=self.high[j])
            there = ~np.isnan(m)
            k = 3 - i - j
            self.low[k, there] = 0.0
            np.maximum(self.high[k], 0.0, out=self.high[k], where=there)
            here = np.where(there, m, 0.0)
            self.sum[i] += here
            self.sum[j] += there - here
            self.count += there
            self.on_edge |= there
            np.copyto(self.seed[i], m, where=there)
            np.copyto(self.seed[j], 1 - m, where=there)
            np.copyto(self.seed[k], 0.0, where=there)

    def add_points(self, points: Points) -> None:
        """Adds feasible points inside; of an island, one at the outer border is kept as a seed."""
        c, at = points.component, points.at
        new = ~self.on_edge[at] & (points.w[c] < self.low[c, at])
        self.seed[:, at[new]] = points.w[:, new]
        self.low[:, at] = np.minimum(self.low[:, at], points.w)
        self.high[:, at] = np.maximum(self.high[:, at], points.w)
        self.sum[:, at] += points.w
        self.count[at] += 1


def triangle_volume(terms: Terms, triples: Index, w: Array) -> tuple[Array, Array]:
    """Specific volume [cm3/g] and N (over the mean) of compositions (3, n) of the given triples (3, n)."""
    n = terms.u[triples] * w
    total, v = n.sum(axis=0), (terms.v[triples] * w).sum(axis=0)
    for a, b in EDGES:
        i, j = triples[a], triples[b]
        v += w[a] * w[b] * (terms.k0[i, j] + terms.k1[i, j] * (n[a] - n[b]) / total) / total
    return v, total


def inside_points(terms: Terms, triples: Index, region: Region, lo: Array, hi: Array) -> Array:
    """One composition in each region: the mean of its points, if v is within the limits there.

    If not: v passes every value between its own and the limit on the chord from a point in the band to the mean beyond
    it. Bisection finds the place half-way between these values.
    """
    goal = region.sum / np.maximum(region.count, 1.0)
    at = np.nonzero(region.count > 0)[0]
    v = triangle_volume(terms, triples[:, at], goal[:, at])[0]
    low, high = (np.broadcast_to(limit, region.count.shape)[at] for limit in (lo, hi))
    beyond = np.nonzero((v < low * (1 - ROUNDING)) | (v > high * (1 + ROUNDING)))[0]
    if len(beyond) == 0:
        return goal
    at, v, low, high = at[beyond], v[beyond], low[beyond], high[beyond]
    few, a, b = triples[:, at], region.seed[:, at], goal[:, at]
    sign = np.where(v > high, 1.0, -1.0)
    target = 0.5 * (np.clip(triangle_volume(terms, few, a)[0], low, high) + np.where(v > high, high, low))
    for _ in range(HALVINGS):
        middle = 0.5 * (a + b)
        past = (triangle_volume(terms, few, middle)[0] - target) * sign > 0
        b, a = np.where(past, middle, b), np.where(past, a, middle)
    goal[:, at] = a
    return goal


def ranges_of(region: Region, inside: Array) -> TripleRanges:
    """The gathered ranges; NaN where nothing was found."""
    reaches = region.count > 0
    arrays = [np.where(reaches, np.clip(a, 0.0, 1.0), np.nan) for a in (region.low, region.high, inside)]
    return TripleRanges(reaches, *(np.ascontiguousarray(a.T) for a in arrays))
