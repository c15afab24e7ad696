"""Regions of compositions that tables or claims limit: points spread over them, their corners, and what lies inside."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache

import numpy as np

from ..arrays import Array, Mask
from ..published.load import Tables
from ..published.metals import Composition, Limits
from .law import MixingLaw

SLACK = 0.3  # percent by which a composition may miss the limits of its family, because they are rounded
OTHERS = 1.0  # percent that it may hold of metals without limits


@lru_cache(maxsize=64)
def even_points(count: int, dimensions: int) -> Array:
    """Evenly spread points in the unit cube, (count, dimensions): multiples of the generalised golden ratio.

    This is an additive recurrence (Kronecker sequence), which gives the same points on every run.
    """
    phi = 2.0
    for _ in range(40):
        phi = (1 + phi) ** (1 / (dimensions + 1))
    steps = phi ** -np.arange(1, dimensions + 1)
    points = np.asarray((0.5 + np.arange(1, count + 1)[:, None] * steps) % 1)
    points.setflags(write=False)  # they are kept
    return points


def region_points(limits: Limits, count: int) -> tuple[list[str], Array]:
    """Symbols and evenly spread compositions [percent] within limits; the first metal is the balance.

    The array is (about `count`, metals); it has fewer rows if the limits of the balance, or those of a sum of metals,
    cut some away.
    """
    symbols = [s for s in limits if "+" not in s]
    low, high = np.array([limits[s] for s in symbols]).T
    if len(symbols) == 1:
        return symbols, np.array([[100.0]])
    free = np.flatnonzero(high[1:] > low[1:]) + 1
    for oversample in (1, 4, 16, 64):
        percent = np.tile(low, (count * oversample, 1))
        percent[:, free] += even_points(len(percent), len(free)) * (high - low)[free]
        percent[:, 0] = 100 - percent[:, 1:].sum(axis=1)
        kept = percent[_meets(symbols, percent, limits)]
        if len(kept) >= count / 2:
            return symbols, kept[:count]
    if len(kept) == 0:
        raise ValueError(f"limits leave no composition: {limits}")
    return symbols, kept


def _meets(symbols: Sequence[str], percent: Array, limits: Limits) -> Mask:
    """Which compositions [percent] keep all limits, those of sums such as "Ni+Zn" too."""
    a, low, high = inequalities(symbols, limits)
    total = percent @ a.T
    return np.asarray(((total >= low - 1e-9) & (total <= high + 1e-9)).all(axis=1))


def inequalities(symbols: Sequence[str], limits: Limits) -> tuple[Array, Array, Array]:
    """Limits as ``low <= a x <= high`` for compositions x of `symbols`."""
    place = {s: k for k, s in enumerate(symbols)}
    a = np.zeros((len(limits), len(symbols)))
    for row, named in zip(a, limits, strict=True):
        row[[place[s] for s in named.split("+") if s in place]] = 1.0
    low, high = np.array(list(limits.values())).T
    return a, low, high


def region_corners(limits: Limits) -> Array:
    """Corners of a region [percent], (corners, metals): as many limits as it takes are met, and the sum is 100.

    A property that is monotone in every metal has its extremes there.
    """
    symbols = [s for s in limits if "+" not in s]
    a, low, high = inequalities(symbols, limits)
    chosen = np.array(list(itertools.combinations(range(len(a)), len(symbols) - 1)), dtype=np.intp)
    systems = np.insert(a[chosen], 0, 1.0, axis=1)  # the sum, then the limits that are met
    solvable = np.abs(np.linalg.det(systems)) > 1e-9
    ends = np.array(list(itertools.product((False, True), repeat=len(symbols) - 1)))
    at = np.where(ends[:, None], high[chosen[solvable]], low[chosen[solvable]])  # (ends, systems, limits met)
    right = np.insert(at, 0, 100.0, axis=-1)
    corners = np.linalg.solve(systems[solvable], right[..., None])[..., 0].reshape(-1, len(symbols))
    corners = np.round(corners[_meets(symbols, corners, limits)], 9)
    return np.asarray(np.unique(corners, axis=0, return_index=True)[0])  # as in `arrays.distinct`


@cache
def standard_compositions(tables: Tables) -> tuple[Composition, ...]:
    """One composition at each standard fineness of claims.csv, alloyed as is usual."""
    out = []
    for claim in tables.rows("claims"):
        symbols, percent = region_points(claim.limits, 1 if len(claim.limits) == 1 else 9)
        composition = dict(zip(symbols, percent[0], strict=True))
        fine = claim.limits[claim.metal][0]
        rest = sum(v for s, v in composition.items() if s != claim.metal)
        if rest > 0:  # at its fineness, not in the middle of its tolerance
            composition = {s: fine if s == claim.metal else v * (100 - fine) / rest for s, v in composition.items()}
        out.append(composition)
    return tuple(out)


def within(composition: Mapping[str, float], limits: Limits, slack: float = SLACK) -> bool:
    """Whether a composition [percent] lies in a region; metals without limits count as absent."""
    others = sum(v for s, v in composition.items() if s not in limits)
    return others <= OTHERS and all(
        low - slack <= sum(composition.get(s, 0.0) for s in named.split("+")) <= high + slack
        for named, (low, high) in limits.items()
    )


def held(law: MixingLaw, percent: Array, limits: Limits) -> Mask:
    """`within` for many compositions (n, metals of the law) [percent] at once."""
    a, low, high = inequalities(law.symbols, limits)
    named = a.any(axis=0)
    total = percent[:, named] @ a[:, named].T
    out = np.asarray(((total >= low - SLACK) & (total <= high + SLACK)).all(axis=1))
    point = np.flatnonzero(out)
    out[point] = percent[np.ix_(point, np.flatnonzero(~named))].sum(axis=1) <= OTHERS
    return out


def cored_up(limits: Limits) -> Limits:
    """Limits in which the balance metal can take up what the others leave."""
    first = next(iter(limits))
    rest = sum(low for s, (low, _) in limits.items() if s != first and "+" not in s)
    low, high = limits[first]
    return {**limits, first: (min(low, 100 - rest), high)}
