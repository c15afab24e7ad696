"""Ranges of any number of metals, and the nearest composition, under a density and linear constraints.

Pairs and triples have exact functions of their own; this is for more metals, and for mass fractions limited
by more than the density.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..errors import InputError
from .programs import Array, Constraint, Excess, Mixture, Search, feasible_start


def at_least(size: int, i: int, share: float, name: str = "") -> Constraint:
    """Mass fraction of metal `i` of `size` not below `share`."""
    return Constraint(name or f"metal {i} at least {share:g}", _row(size, {i: 1.0}), low=share)


def at_most(size: int, i: int, share: float, name: str = "") -> Constraint:
    """Mass fraction of metal `i` of `size` not above `share`; 0 leaves it out."""
    return Constraint(name or f"metal {i} at most {share:g}", _row(size, {i: 1.0}), high=share)


def ratio(size: int, i: int, j: int, least: float, most: float, name: str = "") -> tuple[Constraint, Constraint]:
    """least <= w_i / w_j <= most, as two constraints."""
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


def composition_bounds(
    v_lo: float,
    v_hi: float,
    v_pure: ArrayLike,
    excess: Excess | None = None,
    constraints: Sequence[Constraint] = (),
) -> CompositionBounds:
    """Range of each metal's mass fraction under a density and linear constraints.

    Parameters
    ----------
    v_lo, v_hi : limits of the specific volume [cm3/g].
    v_pure : specific volume of the metals, (m,) [cm3/g].
    excess : excess volume [cm3/g] of mass fractions (k, m) as (k,); None for the ideal rule.
    constraints : see `Constraint`, `at_least`, `at_most`, `ratio`.

    Raises
    ------
    SolverError
        Where the constraints clash (they are named) or a solver fails.

    Notes
    -----
    Exact for the ideal rule. With an excess the search is local, from three starts: where v turns inside the
    region a range can come out too narrow, never too wide.
    """
    mixture = Mixture(v_lo, v_hi, v_pure, excess, constraints)
    search = Search(mixture)
    first = feasible_start(search)
    costs = np.concatenate([np.eye(mixture.size), -np.eye(mixture.size)])
    found = [first]
    for cost in costs:
        starts = [search.solve(cost, mixture.v_pure, first, 1.0)]
        if excess is not None:
            starts += [mixture.guess(cost), min(found, key=cost.dot)]
        found += [w for w in (search.descend(cost, start) for start in starts) if not mixture.broken(w)]
    ends = np.array([min(found, key=cost.dot) for cost in costs])
    low, high = ends[: mixture.size], ends[mixture.size :]
    return CompositionBounds(np.diagonal(low).copy(), np.diagonal(high).copy(), low, high)


def nearest_composition(
    target: ArrayLike,
    v_lo: float,
    v_hi: float,
    v_pure: ArrayLike,
    excess: Excess | None = None,
    constraints: Sequence[Constraint] = (),
    weights: ArrayLike | None = None,
) -> Array:
    """The mass fractions nearest to `target` that have a v within limits and keep the constraints.

    Least sum of weights_i (w_i - target_i)^2; other arguments, errors and validity as `composition_bounds`.
    """
    mixture = Mixture(v_lo, v_hi, v_pure, excess, constraints)
    goal = np.asarray(target, dtype=float)
    scale = np.ones(mixture.size) if weights is None else np.asarray(weights, dtype=float)
    if goal.shape != (mixture.size,) or scale.shape != goal.shape or not (scale >= 0).all():
        raise InputError("target", f"array {goal.shape}", f"{mixture.size} fractions, weights >= 0", "mend it")
    first = feasible_start(Search(mixture))
    search = Search(mixture, goal, scale)
    found = [search.descend(np.zeros(mixture.size), w) for w in (first, np.clip(goal, 0, 1) / goal.sum())]
    kept = [w for w in found if not mixture.broken(w)] or [first]
    return min(kept, key=lambda w: float(scale @ (w - goal) ** 2))
