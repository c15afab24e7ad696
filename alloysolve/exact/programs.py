"""Linear and quadratic programs over mass fractions, under linear constraints and curved ones.

A curved quantity (specific volume, resistivity) is linearised about the last solution, within a radius that shrinks
where the linear form misleads. Every constraint may be broken at a high penalty, so that a contradiction is seen and
can be named. Linear programs go to HiGHS. Quadratic ones are compiled once per shape and thread by cvxpy, with limits,
rows and penalties as parameters.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib import import_module
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from ..errors import InputError, SolverError

Values = Callable[[Array], Array]

PENALTY = 1e4  # of breaking a constraint by one; far above any exchange of mass fractions
KEPT = 1e-7  # breach that counts as none (mass fraction; relative for curved quantities)
REACH = 1e-4  # mass fraction over which slopes are taken
STEPS, BENDS = 100, 10
STALLED = 1e-6  # radius at which the search ends: where slopes jump, no linear form helps further
ON_EDGE, INSIDE = 101, 3000  # compositions of each pair, and of three and four metals, in the scatter of starts
MOST_ON_EDGES = 40_000
STARTS, APART = 3, 0.15  # starts for each search, and how far apart they are in at least one mass fraction
LOW = 0.01  # share of the penalty that is used to choose a start
WORTH, REST = 1e-7, 1e-5  # a smaller gain ends the search, or counts as rest after all steps [mass fraction]
UNSOLVED = "an optimal solution of the solver", "widen the limits a little, or name fewer metals"
EXACT = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}


@dataclass(frozen=True, slots=True)
class Constraint:
    """Limits low <= row . w <= high for mass fractions w; `name` is what an error calls it."""

    name: str
    row: tuple[float, ...]
    low: float = -math.inf
    high: float = math.inf


@dataclass(frozen=True, slots=True)
class Curve:
    """Limits low <= value(w) <= high for a quantity of order 1 that is not linear in w; `value` maps (k, m) to (k,).

    Several curves of one reading share a `name`.
    """

    name: str
    value: Values
    low: float = -math.inf
    high: float = math.inf


class Mixture:
    """Mass fractions under constraints and curves, with the penalty for breaking each; curves come last."""

    def __init__(self, size: int, given: Iterable[Constraint], curves: Iterable[Curve]) -> None:
        self.size = size
        self.constraints, self.curves = tuple(given), tuple(curves)
        every: tuple[Constraint | Curve, ...] = (*self.constraints, *self.curves)
        for c in every:
            if not c.low <= c.high or (isinstance(c, Constraint) and len(c.row) != size):
                raise InputError("constraints", c.name, f"{size} factors, low <= high", "mend it")
        self.rows = np.array([c.row for c in self.constraints]).reshape(-1, size)
        self.limits = np.array([(c.low, c.high) for c in every]).reshape(-1, 2)
        self.names = [c.name for c in every]  # what errors call the limits
        self.penalty = np.full(len(self.limits), PENALTY)

    def curved(self, w: Array) -> Array:
        """Values of the curves at compositions (k, m), (k, curves)."""
        return np.array([np.asarray(c.value(w), dtype=float) for c in self.curves]).reshape(-1, len(w)).T

    def linear(self, w: Array) -> Array:
        """Rows of the curves linearised about `w`, (curves, m): value(w') = row . w' for sum w' = 1."""
        towards = np.eye(self.size) - w
        values = self.curved(np.concatenate([w[None], w + REACH * towards, w + 2 * REACH * towards]))
        near, far = values[1 : self.size + 1], values[self.size + 1 :]
        return np.asarray((values[0] + (4 * near - far - 3 * values[0]) / (2 * REACH)).T)

    def breaches(self, w: Array, curved: Array) -> Array:
        """How far compositions (k, m) with these values of the curves break each limit, (k, limits)."""
        value = np.concatenate([w @ self.rows.T, curved], axis=1)
        return np.asarray(np.maximum(np.maximum(self.limits[:, 0] - value, value - self.limits[:, 1]), 0.0))

    def broken(self, w: Array) -> bool:
        """Whether one composition breaks a limit that has a penalty."""
        return bool((self.breaches(w[None], self.curved(w[None]))[0, self.penalty > 0] > KEPT).any())

    @cached_property
    def _scatter(self) -> tuple[Array, Array]:
        """Compositions of all pairs, and of some threes and fours of the metals, with what each breaks."""
        share = np.linspace(0, 1, max(3, min(ON_EDGE, MOST_ON_EDGES // max(1, math.comb(self.size, 2)))))[:, None]
        corners = np.eye(self.size)
        points = [corners, *(share * a + (1 - share) * b for a, b in combinations(corners, 2))]
        if self.size > 2:
            rng = np.random.default_rng(0)
            mixed = rng.dirichlet(np.ones(min(4, self.size)), INSIDE)
            inner = np.zeros((INSIDE, self.size))
            chosen = np.argsort(rng.random(inner.shape), axis=1)[:, : mixed.shape[1]]
            np.put_along_axis(inner, chosen, mixed, axis=1)
            points.append(inner)
        w = np.concatenate(points)
        return w, self.breaches(w, self.curved(w))

    def guesses(self, direction: Array, square: Array, centre: Array, count: int) -> list[Array]:
        """Compositions to start from: the best of a scatter while breaches cost little, and others far from it."""
        w, breach = self._scatter
        value = w @ direction + (w - centre) ** 2 @ square + breach @ (self.penalty * LOW)
        found: list[Array] = []
        free = np.ones(len(w), dtype=bool)
        while len(found) < count and free.any():
            best = w[np.flatnonzero(free)[np.argmin(value[free])]]
            found.append(best)
            free &= np.abs(w - best).max(axis=1) > APART
        return found


def lowest_linear(direction: Array, rows: Array, limits: Array, penalty: Array, near: Array, radius: float) -> Array:
    """The mass fractions with the least direction . w plus penalties, within `radius` of `near`.

    Each row is limited from both sides, limits (rows, 2); `penalty` : of breaking each by one.

    Raises
    ------
    SolverError
        If the solver does not end with an optimal solution.
    """
    from scipy.optimize import linprog

    size, count = len(direction), len(rows)
    most = np.concatenate([limits[:, 1], -limits[:, 0]])
    given = np.isfinite(most)
    broken = np.tile(np.eye(count), (2, 1))
    found = linprog(
        np.concatenate([direction, penalty]),
        np.column_stack([np.concatenate([rows, -rows]), -broken])[given],
        most[given],
        np.concatenate([np.ones(size), np.zeros(count)])[None],
        [1.0],
        [*zip(np.maximum(near - radius, 0.0), near + radius, strict=True), *[(0, None)] * count],
        options=EXACT,
    )
    if found.status != 0:
        raise SolverError("limits", found.message, *UNSOLVED)
    return _whole(found.x[:size])


def _whole(w: Array) -> Array:
    """Mass fractions without what is below zero by rounding; their sum is 1."""
    w = np.maximum(w, 0.0)
    return np.asarray(w / w.sum())


class Program:
    """A quadratic program of one shape: compiled once, then solved for any limits, rows and penalties."""

    def __init__(self, size: int, count: int) -> None:
        cp: Any = import_module("cvxpy")
        self.w, slack = cp.Variable(size), cp.Variable(count)
        self.scale, self.shifted = cp.Parameter(size), cp.Parameter(size)
        self.least, self.most = cp.Parameter(size), cp.Parameter(size)
        self.rows, self.penalty = cp.Parameter((count, size)), cp.Parameter(count, nonneg=True)
        self.low, self.high = cp.Parameter(count), cp.Parameter(count)
        value = self.rows @ self.w
        rules = [self.w >= self.least, self.w <= self.most, cp.sum(self.w) == 1, slack >= 0]
        rules += [value + slack >= self.low, value - slack <= self.high]
        apart = cp.sum_squares(cp.multiply(self.scale, self.w) - self.shifted)
        self.problem = cp.Problem(cp.Minimize(apart + self.penalty @ slack), rules)

    def solve(self) -> Array:
        """The mass fractions at the minimum.

        Raises
        ------
        SolverError
            If the solver does not end with an optimal solution; an inexact one is refused too.
        """
        cp: Any = import_module("cvxpy")
        try:
            self.problem.solve(solver=cp.CLARABEL)
        except (cp.SolverError, ArithmeticError) as e:
            raise SolverError("nearest", " ".join(str(e).split()), *UNSOLVED) from e
        if self.problem.status != cp.OPTIMAL:
            raise SolverError("nearest", self.problem.status, *UNSOLVED)
        return _whole(np.asarray(self.w.value, dtype=float))


@lru_cache(maxsize=32)
def _program(size: int, count: int, thread: int) -> Program:
    return Program(size, count)


class Search:
    """The programs of one mixture, to be solved about many points: linear, or quadratic about a centre."""

    def __init__(self, mixture: Mixture, centre: ArrayLike | None = None, weights: ArrayLike | None = None) -> None:
        self.mixture, size = mixture, mixture.size
        self.quadratic = centre is not None
        self.centre = np.zeros(size) if centre is None else np.asarray(centre, dtype=float)
        self.weights = np.zeros(size) if weights is None else np.asarray(weights, dtype=float)

    def value(self, direction: Array, w: Array, curved: Array) -> float:
        """The quantity that is minimised: direction . w or the distance from the centre, plus penalties."""
        apart = float(self.weights @ (w - self.centre) ** 2)
        return (
            float(direction @ w) + apart + float(self.mixture.breaches(w[None], curved[None])[0] @ self.mixture.penalty)
        )

    def at(self, direction: Array, w: Array) -> float:
        """`value` with the curves as they are at `w`."""
        return self.value(direction, w, self.mixture.curved(w[None])[0])

    def solve(self, direction: Array, curved: Array, near: Array, radius: float) -> Array:
        """The minimum with the curves linearised in these rows (curves, m), within `radius` of `near`."""
        m = self.mixture
        rows = np.concatenate([m.rows, curved])
        if not self.quadratic:
            return lowest_linear(direction, rows, m.limits, m.penalty, near, radius)
        p = _program(m.size, len(rows), threading.get_ident())
        p.rows.value, p.penalty.value = rows, m.penalty
        # where there is no limit, one that no mixture can reach
        p.low.value = np.where(np.isfinite(m.limits[:, 0]), m.limits[:, 0], rows.min(axis=1) - 1)
        p.high.value = np.where(np.isfinite(m.limits[:, 1]), m.limits[:, 1], rows.max(axis=1) + 1)
        p.least.value, p.most.value = np.maximum(near - radius, 0.0), near + radius
        p.scale.value = np.sqrt(self.weights)
        p.shifted.value = p.scale.value * self.centre
        return p.solve()

    def descend(self, direction: Array, w: Array) -> Array:
        """A local minimum, starting from `w`: solve, compare the promised gain with the real one, adjust the radius.

        Raises
        ------
        SolverError
            If the search does not come to rest.
        """
        value, radius, promised = self.at(direction, w), 1.0, math.inf
        for _ in range(STEPS):
            if radius < STALLED:
                return w
            rows = self.mixture.linear(w)
            new = self.solve(direction, rows, w, radius)
            promised = value - self.value(direction, new, rows @ new)
            if promised <= WORTH:
                return w
            new = self._bent_back(direction, rows, w, radius, new)
            came = value - self.at(direction, new)
            if came >= 0.1 * promised:
                w, value = new, value - came
                radius = min(1.0, 2 * radius) if came >= 0.5 * promised else radius
            else:
                radius = min(radius, float(np.abs(new - w).max())) / 3
        if promised > REST:
            raise SolverError(
                "limits",
                f"{STEPS} steps",
                "a search that comes to rest",
                UNSOLVED[1],
            )
        return w

    def _bent_back(self, direction: Array, rows: Array, w: Array, radius: float, new: Array) -> Array:
        """A step that broke a curve, made again with a correction for what the slopes missed there.

        The slopes stay those at `w`: with new slopes, a step can jump back and forth where the slopes have a kink.
        """
        best, least = new, self.at(direction, new)
        for _ in range(BENDS):
            if not self.mixture.broken(new):
                break
            missed = self.mixture.curved(new[None])[0] - rows @ new
            new = self.solve(direction, rows + missed[:, None], w, radius)
            value = self.at(direction, new)
            if value >= least:
                break
            best, least = new, value
        return best

    def lowest(self, direction: Array, starts: Iterable[Array]) -> list[Array]:
        """The local minima, from some starts and the best of the scatter, that keep every limit with a penalty."""
        guesses = self.mixture.guesses(direction, self.weights, self.centre, STARTS) if self.mixture.curves else []
        found = [self.descend(direction, w) for w in (*starts, *guesses)]
        return [w for w in found if not self.mixture.broken(w)]

    def feasible(self) -> Array:
        """A composition that keeps every limit with a penalty, or the best one found."""
        size, none = self.mixture.size, np.zeros(self.mixture.size)
        best, least = none, math.inf
        starts = [*self.mixture.guesses(none, none, none, STARTS), np.full(size, 1 / size), *np.eye(size)[:STARTS]]
        for start in starts:
            w = self.descend(none, start)
            penalty = self.at(none, w)
            if penalty < least:
                best, least = w, penalty
            if not self.mixture.broken(best):
                break
        return best


def feasible_start(mixture: Mixture) -> Array:
    """A composition that keeps all limits.

    Raises
    ------
    SolverError
        If there is none: the error names a smallest set of limits that contradict each other.
    """
    search = Search(mixture)
    w = search.feasible()
    if not mixture.broken(w):
        return w
    names = mixture.names
    for name in reversed(dict.fromkeys(names)):  # what the clash does not need is dropped, readings first
        mine = np.array([n == name for n in names])
        mixture.penalty[mine] = 0.0
        if not mixture.broken(search.feasible()):
            mixture.penalty[mine] = PENALTY
    clash = dict.fromkeys(name for name, penalty in zip(names, mixture.penalty, strict=True) if penalty > 0)
    raise SolverError("constraints", "; ".join(clash), "limits that can hold together", "loosen one of them")
