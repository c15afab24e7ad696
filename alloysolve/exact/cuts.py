"""Ranges of any number of metals, and the nearest composition, under a density and linear constraints.

Lists of pairs and triples have a faster way of their own (`rays.py`). These functions serve more metals, and mass
fractions that are limited by more than the density.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from ..arrays import Array
from .programs import Constraint, Curve, Mixture, Search, feasible_start


def at_least(size: int, i: int, share: float, name: str = "") -> Constraint:
    """Constraint that the mass fraction of metal `i` of `size` is not below `share`."""
    return Constraint(name or f"metal {i} at least {share:g}", _row(size, {i: 1.0}), low=share)


def at_most(size: int, i: int, share: float, name: str = "") -> Constraint:
    """Constraint that the mass fraction of metal `i` of `size` is not above `share`; 0 leaves the metal out."""
    return Constraint(name or f"metal {i} at most {share:g}", _row(size, {i: 1.0}), high=share)


def ratio(size: int, i: int, j: int, least: float, most: float, name: str = "") -> tuple[Constraint, Constraint]:
    """Two constraints that together mean least <= w_i / w_j <= most."""
    name = name or f"metal {i} to metal {j} from {least:g} to {most:g}"
    rows = (_row(size, {i: 1.0, j: -share}) for share in (least, most))
    return Constraint(name, next(rows), low=0.0), Constraint(name, next(rows), high=0.0)


def _row(size: int, entries: dict[int, float]) -> tuple[float, ...]:
    return tuple(entries.get(k, 0.0) for k in range(size))


class CompositionBounds(NamedTuple):
    """Least and greatest mass fraction of each metal, (m,), and the compositions that have them, (m, m)."""

    low: Array
    high: Array
    at_low: Array
    at_high: Array


def mixture_within(size: int, limits: Sequence[Curve | Constraint]) -> Mixture:
    """A mixture of `size` metals under limits; linear and curved limits may come in any order."""
    return Mixture(size, [c for c in limits if isinstance(c, Constraint)], [c for c in limits if isinstance(c, Curve)])


def ranges_within(mixture: Mixture) -> CompositionBounds:
    """Range of each metal's mass fraction.

    Raises
    ------
    SolverError
        If the limits contradict each other (the error names them) or a solver fails.

    Notes
    -----
    The ranges are exact where all limits are linear. With curved limits the search is local, from several starts: where
    the curves turn inside the region, a range can come out too narrow, never too wide.
    """
    search, size = Search(mixture), mixture.size
    found = [feasible_start(mixture)]
    directions = np.concatenate([np.eye(size), -np.eye(size)])
    for direction in directions:
        found += search.lowest(direction, [min(found, key=direction.dot)])
    ends = np.array([min(found, key=direction.dot) for direction in directions])
    low, high = ends[:size], ends[size:]
    return CompositionBounds(np.diagonal(low).copy(), np.diagonal(high).copy(), low, high)


def nearest_within(mixture: Mixture, centre: Array, weights: Array) -> Array:
    """Mass fractions with the least sum of weights_i (w_i - centre_i)^2; errors and validity as in `ranges_within`."""
    first, none = feasible_start(mixture), np.zeros(mixture.size)
    search = Search(mixture, centre, weights)
    found = search.lowest(none, [first, np.clip(centre, 0, 1) / np.clip(centre, 0, 1).sum()])
    return min([first, *found], key=lambda w: search.at(none, w))
