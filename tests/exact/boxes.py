"""What several tests share: the least of a function over compositions, found so that none can be missed.

A reference for solvers that needs no solver: no starts, no steps, nothing random. Boxes of compositions are halved; a
box is dropped once no composition in it can keep the rules, or be better than the best found by more than a stated
gap. What a formula can reach over a box comes from interval arithmetic (Moore, Kearfott and Cloud, Introduction to
Interval Analysis, 2009), so once no box is left nothing better exists. Ends are not rounded outwards: that would move
them by 1e-15, and gaps are 1e-7 at the least.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

MOST = 400_000  # boxes at one time, some 100 MB; the tests need half of them


class Interval(np.lib.mixins.NDArrayOperatorsMixin):
    """All numbers from `low` to `high`: formulas of numpy's functions give at least all that they can reach."""

    def __init__(self, low: Any, high: Any) -> None:
        self.low, self.high = np.asarray(low, dtype=float), np.asarray(high, dtype=float)

    def __getitem__(self, key: Any) -> Interval:
        return Interval(self.low[key], self.high[key])

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *given: Any) -> Interval:
        """Extremes are among the ends for what is monotone in each argument; an even function has another at zero."""
        assert method == "__call__"
        assert ufunc in MONOTONE or ufunc is np.absolute or (ufunc is np.power and given[1] == 2), ufunc
        ends = [(x.low, x.high) if isinstance(x, Interval) else (x,) for x in given]
        if ufunc is np.divide:
            assert all(np.all(end > 0) for end in ends[1]), "division by what can be zero"
        if ufunc is np.hypot:
            assert all(np.all(end >= 0) for both in ends for end in both), "hypot turns at zero"
        reached = [ufunc(*corner) for corner in itertools.product(*ends)]
        low, high = np.minimum.reduce(reached), np.maximum.reduce(reached)
        if ufunc in (np.absolute, np.power):
            low = np.where((ends[0][0] < 0) & (ends[0][1] > 0), 0.0, low)
        return Interval(low, high)


MONOTONE = {
    np.add,
    np.subtract,
    np.multiply,
    np.divide,
    np.negative,
    np.minimum,
    np.maximum,
    np.exp,
    np.log,
    np.sqrt,
    np.hypot,
}


def mean(parts: Sequence[Any], values: Sequence[float] | np.ndarray) -> Any:
    """Sum of parts times values, for parts that sum to 1: written about the first value, so that intervals stay narrow.

    As it stands, the first part and the others would count as free of each other: hundreds of times as many boxes.
    """
    return values[0] + sum(part * (value - values[0]) for part, value in zip(parts[1:], values[1:], strict=True))


def squares(w: Any, centre: Sequence[float] | np.ndarray, weights: Sequence[float] | np.ndarray) -> Any:
    """Sum of weights_i (w_i - centre_i)^2."""
    return sum(weight * (w[..., k] - centre[k]) ** 2 for k, weight in enumerate(weights))


def lowest(
    objective: Callable[[Any], Any],
    limits: Sequence[tuple[float, float]],
    rules: Sequence[Callable[[Any], Any]],
    gap: float,
) -> tuple[float, np.ndarray]:
    """Value and place of a composition that keeps all rules; none that keeps them is lower by more than `gap`.

    `objective` and `rules` take mass fractions (k, metals), as an array or as an `Interval`; a rule is kept where it is
    not negative, and one is asked only of what keeps those before it. `limits` are those of each metal but the first,
    which is the rest. Infinity where nothing keeps them.
    """
    start, end = np.array(limits, dtype=float).T
    width = (end - start) / 8  # so small that no box holds a mixture of nothing
    low = start + width * np.array(list(itertools.product(range(8), repeat=len(limits))))
    halves = np.array(list(itertools.product((0, 1), repeat=len(limits))))
    best, place = np.inf, np.full(len(limits) + 1, np.nan)
    while len(low):
        points = np.concatenate([low, low + width / 2, low + width])
        w = np.column_stack([1 - points.sum(axis=1), points])
        w = w[w[:, 0] >= 0]
        for rule in rules:
            w = w[rule(w) >= 0]
        if len(w) and (value := objective(w)).min() < best:
            best, place = float(value.min()), w[value.argmin()]
        low = low[low.sum(axis=1) <= 1]
        for rule in (lambda box, most=best - gap: most - objective(box), *rules):
            rest = 1 - low.sum(axis=1)
            low = low[
                rule(
                    Interval(
                        np.column_stack([np.maximum(rest - width.sum(), 0), low]), np.column_stack([rest, low + width])
                    )
                ).high
                >= 0
            ]
        width = width / 2
        low = (low[:, None] + width * halves).reshape(-1, len(limits))
        assert len(low) < MOST, "boxes that neither keep the rules nor break them"
    return best, place
