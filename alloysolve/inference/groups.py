"""Groups of bodies with their shares of belief: mean compositions, ranges and likeliest families of all groups at once.

Hundreds of small groups are worked out by one sort and sums over its parts, since each sort by itself takes longer to
begin than to do.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from ..alloys.bodies import Bodies
from ..arrays import Array, Index, Mask

SHOWN_FROM = 0.01  # mass fraction from which a metal's range is given
MOSTLY, MATTERS = 0.5, 0.1  # shares of a group from which a family names it alone, and from which it may name it
POINTS = (0.025, 0.5, 0.975)  # shares of the weight that lie below the ends and the middle of a range

Range = tuple[float, float, float]


def quantiles(values: Array, weight: Array) -> Range:
    """Weighted 2.5 %, 50 % and 97.5 % points: the values at which the cumulated weight passes each share."""
    order = np.argsort(values)
    cumulated = np.cumsum(weight[order])
    low, likely, high = values[order[points_passed(cumulated)]]
    return float(low), float(likely), float(high)


def points_passed(cumulated: Array) -> Index:
    """Numbers (..., 3) at which weights cumulated along the last axis pass 2.5 %, 50 % and 97.5 % of their sum."""
    passed = [(cumulated < share * cumulated[..., -1:]).sum(axis=-1) for share in POINTS]
    return np.asarray(np.minimum(np.stack(passed, axis=-1), cumulated.shape[-1] - 1))


def quantiles_by(group: Index, values: Array, weight: Array, count: int) -> Array:
    """`quantiles` of each of `count` groups, (count, 3), of values that are not negative; each group needs a weight."""
    step = 2 * float(values.max(initial=0.0)) or 1.0
    order = np.argsort(group * step + values)
    cumulated = np.cumsum(weight[order])
    last = np.cumsum(np.bincount(group, minlength=count)) - 1
    ends = cumulated[last]
    begin = np.concatenate([[0.0], ends[:-1]])
    wanted = begin[:, None] + np.array(POINTS) * (ends - begin)[:, None]
    passed = np.minimum(np.searchsorted(cumulated, wanted), last[:, None])
    return np.asarray(values[order[passed]])


@dataclass(frozen=True)
class Groups:
    """Bodies in order of their group, with their shares of belief; a body may stand in a group several times.

    `w` : mass fraction of each metal in each entry, iron of both forms as "Fe" (`fractions`). `begin` : the first entry
    of each group, and the number of all.
    """

    bodies: Bodies
    point: Index
    share: Array
    w: Array
    begin: Index

    @property
    def count(self) -> int:
        """Number of groups."""
        return len(self.begin) - 1

    @cached_property
    def number(self) -> Index:
        """Number of the group of each entry."""
        return np.repeat(np.arange(self.count), np.diff(self.begin))

    @cached_property
    def total(self) -> Array:
        """Share of belief of each group."""
        return np.asarray(np.add.reduceat(self.share, self.begin[:-1]))

    @cached_property
    def mean(self) -> Array:
        """Mean mass fraction of each metal in each group, (groups, metals)."""
        summed = np.add.reduceat(self.share[:, None] * self.w, self.begin[:-1], axis=0)
        return np.asarray(summed / self.total[:, None])

    @cached_property
    def _means(self) -> list[list[float]]:
        return list(self.mean.tolist())

    def metals(self, group: int, symbols: Sequence[str]) -> tuple[str, ...]:
        """Some metals, the richest first."""
        mean, index = self._means[group], self.bodies.law.index
        return tuple(sorted(symbols, key=lambda s: -mean[index[s]]))

    def ranges(self, wanted: Mask) -> list[dict[str, Range]]:
        """For each group that is wanted, the 95 % ranges [percent] of its metals, the richest first; else nothing."""
        group, metal = np.nonzero((self.mean >= SHOWN_FROM / 4) & wanted[:, None])
        size = np.diff(self.begin)[group]
        entry = np.arange(size.sum()) + np.repeat(self.begin[group] - (np.cumsum(size) - size), size)
        pair = np.repeat(np.arange(len(group)), size)
        ends = 100 * quantiles_by(pair, self.w[entry, metal[pair]], self.share[entry], len(group))
        out: list[dict[str, Range]] = [{} for _ in range(self.count)]
        for k in np.lexsort((metal, -self.mean[group, metal], group)):
            low, likely, high = ends[k].tolist()
            if high >= 100 * SHOWN_FROM:
                out[group[k]][self.bodies.law.symbols[metal[k]]] = (low, likely, high)
        return out

    def families(self) -> list[str]:
        """The family that most of the belief of each group goes to.

        If none has most of it, the plainest of those that matter.
        """
        names, family = self.bodies.names, self.bodies.family[self.point]
        number = self.number * len(names) + family
        shares = np.bincount(number, self.share, self.count * len(names)).reshape(self.count, -1)
        best = shares.argmax(axis=1)
        for g in np.flatnonzero(shares.max(axis=1) < MOSTLY * self.total):
            here = slice(self.begin[g], self.begin[g + 1])
            able = np.flatnonzero(shares[g] >= MATTERS * self.total[g])
            beside = {k: _metals_beside(self.w[here][family[here] == k]) for k in able}
            best[g] = min(able, key=lambda k, g=g, beside=beside: (beside[k], -shares[g, k]))  # type: ignore[misc]
        return [names[k] for k in best]

    def grades(self, most: int = 3) -> list[tuple[str, ...]]:
        """Published grades of the highest probability in each group."""
        named = np.flatnonzero(self.bodies.grade[self.point] >= 0)
        size = len(self.bodies.v)
        key, where = np.unique(self.number[named] * size + self.point[named], return_inverse=True)
        share = np.bincount(where, self.share[named], len(key))
        group, point = np.divmod(key, size)
        order = np.lexsort((point, -share, group))
        first = np.searchsorted(group[order], np.arange(self.count + 1))
        grade = self.bodies.grade[point[order]]
        top = [grade[a : min(a + most, z)] for a, z in pairwise(first)]
        return [tuple(self.bodies.grades[k] for k in found) for found in top]


def fractions(bodies: Bodies, point: Index) -> Array:
    """Mass fractions (points, metals) with all iron as "Fe"."""
    return with_one_iron(bodies.w[point], bodies.law.index)


def with_one_iron(w: Array, index: Mapping[str, int]) -> Array:
    """Mass fractions (n, metals), changed so that iron of both forms stands as "Fe"."""
    if "Fe-fcc" in index:
        w[:, index["Fe"]] += w[:, index["Fe-fcc"]]
        w[:, index["Fe-fcc"]] = 0.0
    return w


def _metals_beside(w: Array) -> int:
    """Number of metals that some bodies hold."""
    return int((w.max(axis=0) >= SHOWN_FROM).sum())
