"""Programs over mass fractions under a density and linear constraints, linearised where v is not linear.

The specific volume is linearised about the last solution, within a radius that shrinks where the linear form
misleads. Every constraint may be broken at a high price, so a clash is seen and can be named.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib import import_module
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import InputError, SolverError

Array = NDArray[np.float64]
Excess = Callable[[Array], Array]

PRICE = 1e4  # of breaking a constraint by one; far above any exchange of mass fractions
KEPT = 1e-7  # breach (mass fraction; relative for v) that counts as none
REACH = 1e-4  # mass fraction over which the slope of the excess is taken
STEPS = 25
SCATTER = 101
LOW = 0.01  # of the price, for a start
WORTH = 1e-8  # a smaller gain ends the search
EXACT = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}


@dataclass(frozen=True, slots=True)
class Constraint:
    """low <= row . w <= high for mass fractions w; `name` is how an error calls it."""

    name: str
    row: tuple[float, ...]
    low: float = -math.inf
    high: float = math.inf


class Mixture:
    """Mass fractions under a density and constraints, with the price of breaking them."""

    def __init__(
        self, v_lo: float, v_hi: float, v_pure: ArrayLike, excess: Excess | None, given: Iterable[Constraint]
    ) -> None:
        self.v_pure = np.asarray(v_pure, dtype=float)
        self.size = len(self.v_pure)
        self.lo, self.hi, self.excess = float(v_lo), float(v_hi), excess
        if not (0 < self.lo <= self.hi < math.inf and np.isfinite(self.v_pure).all()):
            raise InputError("v_lo", f"{v_lo:g} to {v_hi:g}", "finite limits, lower first", "mend the limits")
        self.constraints = tuple(given)
        for c in self.constraints:
            if len(c.row) != self.size or not c.low <= c.high:
                raise InputError("constraints", c.name, f"{self.size} factors, low <= high", "mend it")
        self.rows = np.array([c.row for c in self.constraints]).reshape(-1, self.size)
        self.limits = np.array([(c.low, c.high) for c in self.constraints]).reshape(-1, 2)
        self.price = np.full(len(self.constraints) + 1, PRICE)  # the last is of the density

    def volumes(self, w: Array) -> Array:
        """v [cm3/g] of compositions (k, m)."""
        extra = 0.0 if self.excess is None else np.asarray(self.excess(w), dtype=float)
        return np.asarray(w @ self.v_pure + extra)

    def volume(self, w: Array) -> float:
        """v [cm3/g] of one composition."""
        return float(self.volumes(w[None])[0])

    def linear(self, w: Array) -> Array:
        """Factors of v about `w`: v(w') = factors . w' for sum w' = 1."""
        if self.excess is None:
            return np.asarray(self.v_pure)
        towards = np.eye(self.size) - w
        points = np.concatenate([w[None], w + REACH * towards, w + 2 * REACH * towards])
        e = np.asarray(self.excess(points), dtype=float)
        near, far = e[1 : self.size + 1], e[self.size + 1 :]
        slope = (4 * near - far - 3 * e[0]) / (2 * REACH)
        return np.asarray(self.v_pure + e[0] + slope)

    def breaches(self, w: Array, v: float) -> Array:
        """By how much each constraint is broken by a composition and its v, the density (relative) last."""
        beyond = np.maximum(self.limits[:, 0] - self.rows @ w, self.rows @ w - self.limits[:, 1])
        density = max(self.lo - v, v - self.hi) / self.lo
        return np.asarray(np.maximum(np.append(beyond, density), 0.0))

    def broken(self, w: Array) -> bool:
        """Is a constraint that has a price broken at `w`?"""
        return bool((self.breaches(w, self.volume(w))[self.price > 0] > KEPT).any())

    def guess(self, cost: Array) -> Array:
        """A start: the best of a scatter over all pairs when breaches are priced low."""
        share = np.linspace(0, 1, SCATTER)[:, None]
        corners = np.eye(self.size)
        w = np.concatenate([share * a + (1 - share) * b for a, b in combinations(corners, 2)] + [corners])
        breach = np.maximum(self.limits[:, 0] - w @ self.rows.T, w @ self.rows.T - self.limits[:, 1])
        v = self.volumes(w)
        density = np.maximum(self.lo - v, v - self.hi) / self.lo
        priced = np.maximum(np.column_stack([breach, density]), 0.0) @ (self.price * LOW)
        return np.asarray(w[np.argmin(w @ cost + priced)])

    def names(self) -> list[str]:
        """What errors call the constraints, the density last."""
        return [*(c.name for c in self.constraints), f"density {1 / self.hi:.4g} to {1 / self.lo:.4g} g/cm3"]


class Search:
    """The linear or quadratic program of one mixture, compiled once and solved about many points."""

    def __init__(self, mixture: Mixture, target: Array | None = None, weights: Array | None = None) -> None:
        cp: Any = import_module("cvxpy")
        self.mixture = mixture
        self.target = np.zeros(mixture.size) if target is None else target
        self.weights = np.zeros(mixture.size) if weights is None else weights
        size, count = mixture.size, len(mixture.constraints)
        self.w, slack = cp.Variable(size), cp.Variable(count + 1)
        self.cost, self.row, self.centre = (cp.Parameter(size) for _ in range(3))
        self.price, self.radius = cp.Parameter(count + 1, nonneg=True), cp.Parameter(nonneg=True)
        rules = [self.w >= 0, cp.sum(self.w) == 1, slack >= 0, self.row @ self.w + slack[-1] >= 1]
        rules += [self.row @ self.w - slack[-1] <= mixture.hi / mixture.lo]
        rules += [self.w - self.centre <= self.radius, self.centre - self.w <= self.radius]
        for k, c in enumerate(mixture.constraints):
            value = mixture.rows[k] @ self.w
            rules += [value + slack[k] >= c.low] if math.isfinite(c.low) else []
            rules += [value - slack[k] <= c.high] if math.isfinite(c.high) else []
        objective = self.cost @ self.w + self.price @ slack
        self.options: dict[str, Any] = {"solver": cp.SCIPY, "scipy_options": {"method": "highs", **EXACT}}
        if target is not None:
            objective += cp.sum_squares(cp.multiply(np.sqrt(self.weights), self.w - target))
            self.options = {"solver": cp.CLARABEL}
        self.problem = cp.Problem(cp.Minimize(objective), rules)

    def value(self, cost: Array, w: Array, v: float) -> float:
        """What is minimised: cost, distance from the target and the price of what is broken."""
        apart = float(self.weights @ (w - self.target) ** 2)
        return float(cost @ w) + apart + float(self.mixture.price @ self.mixture.breaches(w, v))

    def solve(self, cost: Array, row: Array, centre: Array, radius: float) -> Array:
        """Minimum with v = row . w within `radius` of `centre`."""
        cp: Any = import_module("cvxpy")
        self.cost.value, self.row.value = cost, row / self.mixture.lo
        self.centre.value, self.radius.value, self.price.value = centre, radius, self.mixture.price
        try:
            self.problem.solve(**self.options)
        except cp.SolverError as e:
            raise SolverError("bounds", str(e), "an optimal solution", "widen the limits") from e
        if self.problem.status not in (cp.OPTIMAL, cp.OPTIMAL_INACCURATE):
            raise SolverError("bounds", self.problem.status, "an optimal solution", "widen the limits")
        w = np.maximum(np.asarray(self.w.value, dtype=float), 0.0)
        return np.asarray(w / w.sum())

    def descend(self, cost: Array, w: Array) -> Array:
        """A local minimum from `w`: solve, compare what was promised with what came, adjust the radius."""
        value, radius = self.value(cost, w, self.mixture.volume(w)), 1.0
        for _ in range(STEPS):
            row = self.mixture.linear(w)
            new = self.solve(cost, row, w, radius)
            promised = value - self.value(cost, new, float(row @ new))
            if promised <= WORTH:
                break
            if self.mixture.broken(new):  # once more with what the slope had missed there: bends back on the level
                missed = self.mixture.volume(new) - float(row @ new)
                again = self.solve(cost, row + missed, w, radius)
                new = min(new, again, key=lambda x: self.value(cost, x, self.mixture.volume(x)))
            came = value - self.value(cost, new, self.mixture.volume(new))
            if came >= 0.1 * promised:
                w, value = new, value - came
                radius = min(1.0, 2 * radius) if came >= 0.75 * promised else radius
            else:
                radius = min(radius, float(np.abs(new - w).max())) / 3
        return w

    def feasible(self) -> Array:
        """A composition that keeps every constraint with a price, or the best found."""
        size, none = self.mixture.size, np.zeros(self.mixture.size)
        best, least = none, math.inf
        for start in (np.full(size, 1 / size), self.mixture.guess(none), *np.eye(size)):
            w = self.descend(none, start)
            price = float(self.mixture.price @ self.mixture.breaches(w, self.mixture.volume(w)))
            if price < least:
                best, least = w, price
            if not self.mixture.broken(best):
                break
        return best


def feasible_start(search: Search) -> Array:
    """A feasible composition.

    Raises
    ------
    SolverError
        Where there is none: names a smallest set of constraints that clash.
    """
    mixture = search.mixture
    w = search.feasible()
    if not mixture.broken(w):
        return w
    names = mixture.names()
    for k in reversed(range(len(names))):  # what the clash does not need is dropped, the density first
        mixture.price[k] = 0.0
        if not mixture.broken(search.feasible()):
            mixture.price[k] = PRICE
    clash = dict.fromkeys(name for name, price in zip(names, mixture.price, strict=True) if price > 0)
    raise SolverError("constraints", "; ".join(clash), "limits that can hold together", "loosen one of them")
