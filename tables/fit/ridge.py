"""One ridge regression for the pair terms of a rule that is linear in them, robust to points that stray."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from alloysolve.alloys.law import FCC_IRON, element_arrays
from alloysolve.published.load import Tables

from .points import Observation

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Name = tuple[str, ...]  # symbols of a pair, or of a pair and the third metal that must be present

PRESENT = 0.01  # mass fraction from which a metal makes an observation one of its pair
ABSENT = 0.005  # mass fraction up to which a third metal does not
HIGHER_POINTS = 6  # pairs with fewer points get no terms of higher order
DOF = 4.0  # degrees of freedom of the scatter of points, and of terms about the default of their class
ROUNDS = 8  # of re-weighting; terms then move by less than the digits kept


@dataclass(frozen=True)
class PairFit:
    """Fitted terms, by pair of symbols.

    Attributes
    ----------
    terms : (K0, K1, K2) [cm3/mol] or (C0, C1, C2) [uohm cm]; the first symbol of the pair is the row.
    scatter : standard uncertainty of K0 or C0. points : number of observations of these two metals alone.
    rms_percent : of these, relative to the published value. span : range of their mass percent of the second metal.
    """

    terms: dict[Name, tuple[float, float, float]]
    scatter: dict[Name, float]
    points: dict[Name, int]
    rms_percent: dict[Name, float]
    span: dict[Name, tuple[float, float]]


@dataclass(frozen=True)
class Problem:
    """Observations as arrays over the metals of the tables."""

    symbols: list[str]
    mass: Array
    volume: Array
    rho: Array
    w: Array
    value: Array
    u_relative: Array

    @cached_property
    def names(self) -> list[Name]:
        """Symbols of every pair of metals."""
        return list(itertools.combinations(self.symbols, 2))

    @cached_property
    def pairs(self) -> tuple[Index, Index]:
        """Numbers of the first and second metal of every pair, in the order of `names`."""
        first, second = np.triu_indices(len(self.symbols), 1)
        return first, second

    @cached_property
    def binary(self) -> NDArray[np.bool_]:
        """Which observations (rows) are of the two metals of a pair (columns) and nothing else."""
        first, second = self.pairs
        both = np.minimum(self.w[:, first], self.w[:, second]) >= PRESENT
        alone = (self.w > ABSENT).sum(axis=1) <= 2
        return np.asarray(both & alone[:, None])

    def part(self, symbol: str) -> Array:
        """Mass fraction of a metal in each observation."""
        return np.asarray(self.w[:, self.symbols.index(symbol)])

    def minor(self, a: str, b: str) -> Array:
        """Mass fraction of the lesser of two metals in each observation."""
        return np.minimum(self.part(a), self.part(b))


def problem(tables: Tables, observations: Sequence[Observation]) -> Problem:
    """Published figures as arrays."""
    symbols, mass, volume, rho = element_arrays(tables)
    index = {s: i for i, s in enumerate(symbols)}
    w = np.zeros((len(observations), len(symbols)))
    for r, o in enumerate(observations):
        for s, percent in o.composition.items():
            w[r, index[FCC_IRON if s == "Fe" and o.iron == "fcc" else s]] = percent
    w /= w.sum(axis=1, keepdims=True)
    return Problem(
        list(symbols),
        mass,
        volume,
        rho,
        w,
        np.array([o.value for o in observations]),
        np.array([o.u_relative for o in observations]),
    )


@dataclass(frozen=True)
class Columns:
    """The factor of each term in each observation, with the prior of the terms."""

    keys: list[tuple[Name, int]]  # pair and order
    x: Array
    mean: Array
    sd: Array


def columns_of(p: Problem, orders: Sequence[Array], priors: Sequence[tuple[float, float]], higher_sd: Array) -> Columns:
    """Columns of the lowest order of every pair; higher orders, with mean 0, for pairs with enough points."""
    rich = np.flatnonzero(p.binary.sum(axis=0) >= HIGHER_POINTS)
    keys = [(name, 0) for name in p.names]
    keys += [(p.names[c], k) for k in range(1, len(orders)) for c in rich]
    x = np.hstack([orders[0], *(order[:, rich] for order in orders[1:])])
    mean, sd = np.array(priors).T
    more = len(orders) - 1
    return Columns(
        keys,
        x,
        np.concatenate([mean, np.zeros(more * len(rich))]),
        np.concatenate([sd, np.tile(higher_sd[rich], more)]),
    )


def fitted(p: Problem, columns: Columns, y: Array, unit: Array, scatter: float) -> PairFit:
    """The regression common to both rules.

    `y` is what the terms must explain; `unit` is its size where the rule is off by the published value.
    """
    used = (columns.x != 0).any(axis=0)
    terms, spread = columns.mean.copy(), columns.sd.copy()
    sigma = np.hypot(p.u_relative, scatter) * unit
    terms[used], spread[used] = robust_ridge(columns.x[:, used], y, sigma, columns.mean[used], columns.sd[used])
    return _summary(p, columns.keys, terms, spread, (y - columns.x @ terms) / unit)


def robust_ridge(x: Array, y: Array, sigma: Array, mean: Array, sd: Array) -> tuple[Array, Array]:
    """Posterior mean and standard deviation of the terms; points and terms are re-weighted for Student-t scatter.

    The default of a class is a guess: heavy tails let good points of one pair move its term far from it.
    """
    weight, belief = np.ones_like(y), np.ones_like(mean)
    for _ in range(ROUNDS):
        root = np.sqrt(weight) / sigma
        scaled = x * root[:, None]
        precision = scaled.T @ scaled + np.diag(belief / sd**2)
        terms = mean + np.linalg.solve(precision, scaled.T @ ((y - x @ mean) * root))
        weight = (DOF + 1) / (DOF + ((y - x @ terms) / sigma) ** 2)
        belief = (DOF + 1) / (DOF + ((terms - mean) / sd) ** 2)
    return terms, np.sqrt(np.diag(np.linalg.inv(precision)))


def _summary(p: Problem, keys: list[tuple[Name, int]], terms: Array, spread: Array, relative: Array) -> PairFit:
    """Terms by pair, and how well the pair's own points are met; `relative` is the residual of each observation."""
    out: dict[Name, list[float]] = {}
    scatter = {}
    for (name, order), value, u in zip(keys, terms, spread, strict=True):
        out.setdefault(name, [0.0, 0.0, 0.0])[order] = float(value)
        if order == 0:
            scatter[name] = float(u)
    points, rms, span = {}, {}, {}
    for c, name in enumerate(p.names):
        rows = p.binary[:, c]
        points[name] = int(rows.sum())
        if rows.any():
            rms[name] = float(100 * np.sqrt(np.mean(relative[rows] ** 2)))
            part = 100 * p.part(name[1])[rows]
            span[name] = (float(part.min()), float(part.max()))
    return PairFit({k: (v[0], v[1], v[2]) for k, v in out.items()}, scatter, points, rms, span)
