"""Which mixtures of two or three metals agree with all readings: the range of each metal.

A ray runs from one metal to a mixture of the two others. The metal is the one whose density lies furthest from what
was read, so that rays cross the line of equal density. Along a ray, each reading is compared as a signed distance that
is -1 and 1 at the ends of its 95 % range. A range narrower than the nodes then shows as a change of sign between two of
them, where a grid would step over it. About each end of the range of a metal, finer and finer rays are laid.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ..arrays import Array, Index

# from numbers of metals and their mass fractions, (..., metals) each, to the distance from what was read
Distance = Callable[[Index, Array], Array]

NODES, SIDE = 513, 65  # along a pair, and along a side of a triple
JOINED = 1e-9  # between two stretches that are one
RAYS = (17, 17)  # rays of a triple, and nodes on each
FINER = (5, 5)  # rays and nodes of a window about an end
# halves of the first window in both directions: a ray to each side, and along the ray as far as the line of equal
# density may run off; then how often windows are halved
WINDOW, LEVELS = (1 / 16, 1 / 4), 6
CROSSED, AROUND = (1 / 32, 1 / 16), (9, 9)  # halves of a window between two rays, its rays and nodes
AT_ONCE = 60_000  # nodes in memory
FLAT = 1e-300  # in place of a slope of zero
SIGN, METAL = np.repeat([1.0, -1.0], 3), np.tile(np.arange(3), 2)  # of the six ends: least of each metal, greatest


class Stretches(NamedTuple):
    """Stretches of rays that agree: number of the mixture, sorted; place of the ray; start and end along it."""

    of: Index
    ray: Array
    start: Array
    end: Array


class Ranges(NamedTuple):
    """Numbers of the triples that agree, (n,), least and greatest mass fraction of each metal, and a middle, (n, 3)."""

    of: Index
    low: Array
    high: Array
    middle: Array


@dataclass(frozen=True)
class Rays:
    """Readings to compare mixtures with. The density tells most of them apart, so it is compared first."""

    density: Distance
    others: tuple[Distance, ...] = ()

    def intervals(self, pairs: Index) -> Stretches:
        """Stretches of pairs (n, 2) that agree, from the least to the greatest mass fraction of the second metal."""
        found = self._edge(pairs, NODES)
        if not len(found.of):
            return found
        apart = (found.of[1:] != found.of[:-1]) | (found.start[1:] > found.end[:-1] + JOINED)
        first, last = np.append(True, apart), np.append(apart, True)
        return Stretches(found.of[first], found.ray[first], _share(found.start[first]), _share(found.end[last]))

    def ranges(self, triples: Index) -> Ranges:
        """Range of each metal of triples (n, 3).

        A region that is no wider than two percent and touches no side can be missed.
        """
        corners = np.stack([self.density(triples, np.broadcast_to(e, triples.shape)) for e in np.eye(3)], axis=1)
        order = (np.abs(corners).argmax(axis=1)[:, None] + np.arange(3)) % 3
        turned, few = np.take_along_axis(triples, order, axis=1), AT_ONCE // (RAYS[0] * RAYS[1])
        parts = [(k, *self._ends(turned[k : k + few])) for k in range(0, len(turned), few)]
        of = np.concatenate([np.zeros(0, dtype=np.intp), *(k + some for k, some, _ in parts)])
        w = np.concatenate([np.zeros((0, 6, 3)), *(ends for _, _, ends in parts)])
        w = np.take_along_axis(w, np.argsort(order[of], axis=1)[:, None], axis=2)
        return Ranges(of, np.nanmin(w, axis=1), np.nanmax(w, axis=1), np.nanmean(w, axis=1))

    def _ends(self, triples: Index) -> tuple[Index, Array]:
        """Numbers of the triples that agree, and the compositions at their six ends, (n, 6, 3)."""
        found = self._first(triples)
        of = found.of[np.flatnonzero(np.diff(found.of, prepend=-1))]
        at = np.stack([_best(found, sign, metal)[1] for sign, metal in zip(SIGN, METAL, strict=True)], axis=1)
        which, end = np.nonzero((SIGN < 0) | (_compositions(at)[:, np.arange(6), METAL] > 0))  # none is less than zero
        here, metals, sign, metal, half = at[which, end], triples[of[which]], SIGN[end], METAL[end], np.array(WINDOW)
        for _ in range(LEVELS):
            found = self._window(metals, here, half, FINER)
            window, there = _best(found, sign[found.of], metal[found.of])
            here[window] = there  # also if it is less far: the last one was only as good as wider nodes are
            half = half / 2
        sure = np.isin(np.arange(len(here)), window)  # others were ends only between wider nodes
        at[which, end] = np.where(sure[:, None], here, np.nan)
        known = np.flatnonzero(np.bincount(which, sure, len(of)))
        return of[known], _compositions(at[known])

    def _first(self, triples: Index) -> Stretches:
        """What agrees on the first rays, between two of them, and on the side at which rays end."""
        dense = self._by_density(triples, *_grid(np.full((len(triples), 2), 0.5), np.full(2, 0.5), RAYS))
        side = self._edge(triples[:, 1:], SIDE)
        one = np.ones(len(side.of))
        twice = (*self.others, self.density, *self.others)  # nodes are far apart: an end may be far off at first
        every = [self._narrowed(triples, dense, twice), Stretches(side.of, side.start, one, one)]
        every += [Stretches(side.of, side.end, one, one), *([self._between(triples, dense)] if self.others else [])]
        joined = [np.concatenate(x) for x in zip(*every, strict=True)]
        order = np.argsort(joined[0], kind="stable")
        return Stretches(*(x[order] for x in joined))

    def _between(self, triples: Index, dense: Stretches) -> Stretches:
        """What agrees where another reading passes its range from one ray to the next, along equal density."""
        middle = np.stack([dense.ray, (dense.start + dense.end) / 2], axis=1)
        w = _compositions(middle)
        low, high = np.zeros(len(w[1:])), np.ones(len(w[1:]))
        for distance in self.others:
            apart = distance(triples[dense.of], w)
            start, end = _agreeing(apart[:-1], apart[1:])
            low, high = np.maximum(low, start), np.minimum(high, end)
        next_ray = (np.diff(dense.of) == 0) & (np.diff(dense.ray) > 0) & (np.diff(dense.ray) < 1.5 / (RAYS[0] - 1))
        at = np.flatnonzero(next_ray & (low > 0) & (high < 1) & (low <= high))
        centre = middle[at] + ((low + high) / 2)[at, None] * (middle[at + 1] - middle[at])
        found = self._window(triples[dense.of[at]], centre, np.array(CROSSED), AROUND)
        return found._replace(of=dense.of[at][found.of])

    def _edge(self, pairs: Index, nodes: int) -> Stretches:
        place = np.broadcast_to(np.linspace(0, 1, nodes), (len(pairs), 1, nodes))
        return self._stretches(pairs, np.zeros((len(pairs), 1)), place)

    def _window(self, metals: Index, centre: Array, half: Array, count: tuple[int, int]) -> Stretches:
        """Stretches that agree in windows about a ray and a place on it, (n, 2)."""
        return self._stretches(metals, *_grid(centre, half, count))

    def _stretches(self, metals: Index, ray: Array, place: Array) -> Stretches:
        """Stretches that agree between neighbouring nodes, at places (n, rays, nodes) on rays (n, rays)."""
        return self._narrowed(metals, self._by_density(metals, ray, place), self.others)

    def _by_density(self, metals: Index, ray: Array, place: Array) -> Stretches:
        """Stretches that agree with the density."""
        here = self.density(metals[:, None, None], _on_ray(ray[..., None], place, metals.shape[1]))
        low, high = _agreeing(here[..., :-1], here[..., 1:])
        of, which, node = np.nonzero(low <= high)
        start, step = place[of, which, node], place[of, which, node + 1] - place[of, which, node]
        low, high = low[of, which, node], high[of, which, node]
        return Stretches(of, ray[of, which], start + low * step, start + high * step)

    @staticmethod
    def _narrowed(metals: Index, found: Stretches, by: tuple[Distance, ...]) -> Stretches:
        """Parts of stretches that agree with readings."""
        of, ray, start, end = found
        for distance in by:
            low, high = _agreeing(*(distance(metals[of], _on_ray(ray, x, metals.shape[1])) for x in (start, end)))
            some = np.flatnonzero(low <= high)
            start, end = start + low * (end - start), start + high * (end - start)
            of, ray, start, end = of[some], ray[some], start[some], end[some]
        return Stretches(of, ray, start, end)


def _grid(centre: Array, half: Array, count: tuple[int, int]) -> tuple[Array, Array]:
    """Rays (n, rays) and places on them (n, rays, nodes), evenly about centres (n, 2)."""
    ray, place = (np.clip(centre[:, [k]] + half[k] * np.linspace(-1, 1, count[k]), 0, 1) for k in range(2))
    return ray, np.broadcast_to(place[:, None], (*ray.shape, count[1]))


def _agreeing(a: Array, b: Array) -> tuple[Array, Array]:
    """Part of the way from a distance `a` to a distance `b` on which it is from -1 to 1; start above end for none."""
    per = 1 / np.where(a == b, FLAT, b - a)
    one, other = (-1 - a) * per, (1 - a) * per
    return np.maximum(np.minimum(one, other), 0.0), np.minimum(np.maximum(one, other), 1.0)


def _share(place: Array) -> Array:
    """Mass fraction at a place from 0 to 1: nodes are closer at both ends, where a little of a metal does much."""
    return place * place * (3 - 2 * place)


def _on_ray(ray: Array, place: Array, size: int) -> Array:
    """Mass fractions (..., size) at a place on a ray; the first metal is the one from which rays run."""
    rest = _share(place)
    if size == 2:
        return np.stack([1 - rest, rest], axis=-1)
    third = rest * _share(ray)
    return np.stack([1 - rest, rest - third, third], axis=-1)


def _compositions(at: Array) -> Array:
    return _on_ray(at[..., 0], at[..., 1], 3)


def _best(found: Stretches, sign: Array | float, metal: Index | int) -> tuple[Index, Array]:
    """Numbers of the mixtures with stretches, and ray and place (n, 2) of the least of sign times a mass fraction."""
    run, both = np.arange(len(found.of)), np.stack([found.start, found.end])
    value = sign * _on_ray(found.ray, both, 3)[:, run, metal]
    side = value.argmin(axis=0)
    value = value[side, run]
    first = np.flatnonzero(np.diff(found.of, prepend=-1))
    least = np.minimum.reduceat(value, first) if len(first) else value
    hits = np.flatnonzero(value == np.repeat(least, np.diff(first, append=len(value))))
    chosen = hits[np.searchsorted(hits, first)]
    return found.of[first], np.stack([found.ray[chosen], both[side[chosen], chosen]], axis=1)
