"""Fits the pair terms of the mixing law and of the resistivity rule to all published points at once.

Both rules are linear in their pair terms, so one ridge regression does it: the prior of a pair nobody
measured is the default of its class (pair_defaults.csv), and published points move it. Points that stray
are weighted down (Student t with 4 degrees of freedom, iterated).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from ..access import Composition, Pair, PairDefault, Tables
from ..physics.mixing import moles_per_gram, pair_products
from ..physics.resistivity import two_phase_factor
from .law import FCC_IRON, INTERSTITIAL, element_arrays
from .observations import Observation, density_observations, resistivity_observations

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Name = tuple[str, ...]  # symbols of a pair, or of a pair and the metal it stands beside

SCATTER = 0.002  # relative scatter of density about any pairwise law, beside each source's own u
SCATTER_RESISTIVITY = 0.05
K1_PRIOR = 0.4  # cm3/mol: how lopsided an excess term may be before data say so
HIGHER_POINTS = 6  # pairs with fewer points get no lopsided excess term
HIGHER_POINTS_RESISTIVITY = 3  # nor higher orders of the resistivity
PRESENT = 0.01  # mass fraction from which a metal makes an observation one of its pair
ABSENT = 0.005  # mass fraction up to which a third metal does not
NO_VOLUME = (0.0, 0.01)  # prior of the excess term of an interstitial with anything but a carbide former
TWO_PHASE = {("Ag", "Cu"): 0.01}  # eutectic pairs far from Nordheim's rule, with w0 of `two_phase_factor`
TWO_PHASE_PRIOR = (0.0, 0.5)  # uohm cm, of their terms beside that factor
DOF = 4.0  # degrees of freedom of the scatter of points
ROUNDS = 8  # of re-weighting; terms then move by less than the digits kept


@dataclass(frozen=True)
class PairFit:
    """Fitted terms by pair of symbols.

    Attributes
    ----------
    terms : (K0, K1, K2) [cm3/mol] or (C0, C1, C2) [uohm cm]; the first symbol of the pair is the row.
    scatter : standard uncertainty of K0 or C0. points : observations of the two metals alone.
    rms_percent : of these, relative to the published value. span : their mass percent of the second metal.
    """

    terms: dict[Name, tuple[float, float, float]]
    scatter: dict[Name, float]
    points: dict[Name, int]
    rms_percent: dict[Name, float]
    span: dict[Name, tuple[float, float]]


def default_of(tables: Tables, a: str, b: str) -> tuple[str, PairDefault]:
    """Class of miscibility of a pair and the default that stands for it."""
    a, b = (s.removesuffix("-fcc") for s in (a, b))
    miscibility = _classes(tables).get(frozenset((a, b)), "unknown")
    for row in tables.rows("pair_defaults"):
        if row.miscibility == miscibility and (_fits(row, a, b) or _fits(row, b, a)):
            return miscibility, row
    raise LookupError(miscibility)  # pair_defaults.csv ends with a row for every class


@cache
def _classes(tables: Tables) -> dict[frozenset[str], str]:
    return {frozenset((p.first, p.second)): p.miscibility for p in tables.rows("pair_classes")}


def _fits(row: PairDefault, a: str, b: str) -> bool:
    return (not row.group or a in row.group.split()) and (not row.other or b in row.other.split())


@dataclass(frozen=True)
class _Problem:
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
        return list(itertools.combinations(self.symbols, 2))

    @cached_property
    def pairs(self) -> tuple[Index, Index]:
        """Numbers of the first and second metal of every pair, in the order of `names`."""
        first, second = np.triu_indices(len(self.symbols), 1)
        return first, second

    @cached_property
    def binary(self) -> NDArray[np.bool_]:
        """Which observations (rows) are of the two metals of a pair (columns) alone."""
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


def _problem(tables: Tables, observations: Sequence[Observation]) -> _Problem:
    symbols, mass, volume, rho = element_arrays(tables)
    index = {s: i for i, s in enumerate(symbols)}
    w = np.zeros((len(observations), len(symbols)))
    for r, o in enumerate(observations):
        for s, percent in o.composition.items():
            w[r, index[FCC_IRON if s == "Fe" and o.iron == "fcc" else s]] = percent
    w /= w.sum(axis=1, keepdims=True)
    return _Problem(list(symbols), mass, volume, rho, w, np.array([o.value for o in observations]),
                    np.array([o.u_relative for o in observations]))  # fmt: skip


@dataclass(frozen=True)
class _Columns:
    """What multiplies each term in each observation, with the prior of the terms."""

    keys: list[tuple[Name, int]]  # pair and order
    x: Array
    mean: Array
    sd: Array


def _columns(
    p: _Problem, orders: Sequence[Array], priors: Sequence[tuple[float, float]], higher_sd: Array, least: int
) -> _Columns:
    """The lowest order of every pair; higher ones, of mean 0, for pairs with at least `least` points."""
    rich = np.flatnonzero(p.binary.sum(axis=0) >= least)
    keys = [(name, 0) for name in p.names]
    keys += [(p.names[c], k) for k in range(1, len(orders)) for c in rich]
    x = np.hstack([orders[0], *(order[:, rich] for order in orders[1:])])
    mean, sd = np.array(priors).T
    more = len(orders) - 1
    return _Columns(keys, x, np.concatenate([mean, np.zeros(more * len(rich))]),
                    np.concatenate([sd, np.tile(higher_sd[rich], more)]))  # fmt: skip


def _with_effective(tables: Tables, p: _Problem, columns: _Columns) -> _Columns:
    """Adds the effective terms: beside enough of a third metal they stand in place of the pair's own."""
    x, keys, mean, sd = columns.x.copy(), list(columns.keys), columns.mean, columns.sd
    for t in tables.rows("effective_terms"):
        name = (t.first, t.second) if (t.first, t.second) in p.names else (t.second, t.first)
        c = p.names.index(name)
        beside = p.part(t.beside) >= t.from_percent / 100
        x = np.hstack([x, np.where(beside, x[:, c], 0.0)[:, None]])
        x[beside, c] = 0.0
        keys.append(((*name, t.beside), 0))
        mean, sd = np.append(mean, mean[c]), np.append(sd, sd[c])
    return replace(columns, keys=keys, x=x, mean=mean, sd=sd)


def fit_excess(tables: Tables, left_out: Iterable[Composition] = ()) -> PairFit:
    """Excess-volume terms [cm3/mol] of every pair of metals in the tables.

    Parameters
    ----------
    left_out : compositions whose published densities are not used.
    """
    p = _problem(tables, density_observations(tables, left_out))
    n = moles_per_gram(p.w, p.mass)
    priors = [_excess_prior(tables, p, *name) for name in p.names]
    columns = _columns(p, pair_products(n, *p.pairs), priors, np.full(len(p.names), K1_PRIOR), HIGHER_POINTS)
    return _fit(p, _with_effective(tables, p, columns), 1 / p.value - n @ p.volume, 1 / p.value, SCATTER)


def _excess_prior(tables: Tables, p: _Problem, a: str, b: str) -> tuple[float, float]:
    """Mean and standard deviation of K0 [cm3/mol]: a mixture at equal atomic shares is denser by d percent.

    There v_E = K0 / 4 per mole, so K0 = -4 d / 100 (V_a + V_b) / 2.
    """
    miscibility, row = default_of(tables, a, b)
    if {a, b} & set(INTERSTITIAL) and miscibility != "carbide":
        return NO_VOLUME
    scale = 2 * sum(p.volume[p.symbols.index(s)] for s in (a, b)) / 100
    return -row.denser_percent * scale, row.u_denser_percent * scale


def fit_resistivity(tables: Tables, left_out: Iterable[Composition] = ()) -> PairFit:
    """Resistivity terms [uohm cm] of every pair of metals in the tables.

    Parameters
    ----------
    left_out : compositions whose published resistivities are not used.
    """
    left_out = list(left_out)
    p = _problem(tables, resistivity_observations(tables, left_out))
    n = moles_per_gram(p.w, p.mass)
    x = n / n.sum(axis=1, keepdims=True)
    factor = np.ones(len(p.w))
    for (a, b), scale in TWO_PHASE.items():
        share = two_phase_share(tables, a, b, scale, left_out)
        factor *= two_phase_factor(p.minor(a, b), share * (p.part(a) + p.part(b)), scale)
    priors = [_resistivity_prior(tables, *name) for name in p.names]
    first, second = p.pairs
    product, difference = x[:, first] * x[:, second], x[:, first] - x[:, second]
    orders = [product, product * difference, product * difference**2]
    columns = _columns(p, orders, priors, np.array(priors)[:, 1], HIGHER_POINTS_RESISTIVITY)
    unit = p.value / factor
    return _fit(p, columns, unit - x @ p.rho, unit, SCATTER_RESISTIVITY)


def _resistivity_prior(tables: Tables, a: str, b: str) -> tuple[float, float]:
    if (a, b) in TWO_PHASE or (b, a) in TWO_PHASE:
        return TWO_PHASE_PRIOR
    row = default_of(tables, a, b)[1]
    return row.resistivity_uohm_cm, row.u_resistivity_uohm_cm


def two_phase_share(
    tables: Tables, a: str, b: str, scale: float, left_out: Iterable[Composition] = ()
) -> float:
    """Share a of `two_phase_factor` by least squares on the published binary points of a pair.

    Parameters
    ----------
    scale : w0 of the factor, mass fraction. left_out : compositions that are not used.
    """
    p = _problem(
        tables, [o for o in resistivity_observations(tables, left_out) if set(o.composition) == {a, b}]
    )
    n = moles_per_gram(p.w, p.mass)
    base = (n @ p.rho) / n.sum(axis=1)
    shape = two_phase_factor(p.minor(a, b), 1.0, scale) - 1
    weight = np.where(p.minor(a, b) >= PRESENT, 1.0, 0.0)
    weight = weight / (p.u_relative**2 + SCATTER_RESISTIVITY**2)
    bottom = weight @ shape**2
    return float(weight * shape @ (p.value / base - 1) / bottom) if bottom > 0 else 0.0


def _fit(p: _Problem, columns: _Columns, y: Array, unit: Array, scatter: float) -> PairFit:
    """The regression common to both rules.

    `y` is what the terms must explain; `unit` is its size where the rule is off by the published value.
    """
    used = (columns.x != 0).any(axis=0)
    terms, spread = columns.mean.copy(), columns.sd.copy()
    sigma = np.hypot(p.u_relative, scatter) * unit
    terms[used], spread[used] = _robust_ridge(
        columns.x[:, used], y, sigma, columns.mean[used], columns.sd[used]
    )
    return _summary(p, columns.keys, terms, spread, (y - columns.x @ terms) / unit)


def _robust_ridge(x: Array, y: Array, sigma: Array, mean: Array, sd: Array) -> tuple[Array, Array]:
    """Posterior mean and standard deviation of the terms; points and terms re-weighted for Student-t scatter.

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


def _summary(
    p: _Problem, keys: list[tuple[Name, int]], terms: Array, spread: Array, relative: Array
) -> PairFit:
    """Terms by pair, and how well its own points are met; `relative` is the residual of each observation."""
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


def pair_rows(tables: Tables, left_out: Iterable[Composition] = ()) -> list[Pair]:
    """Fitted terms as records of pairs.csv: one row per pair of metals, then the effective terms.

    Parameters
    ----------
    left_out : compositions whose published figures are not used.
    """
    left_out = list(left_out)
    volume, resistance = fit_excess(tables, left_out), fit_resistivity(tables, left_out)
    shares = {pair: two_phase_share(tables, *pair, scale, left_out) for pair, scale in TWO_PHASE.items()}
    return [_row(tables, name, volume, resistance, shares) for name in volume.terms]


def _row(
    tables: Tables, name: Name, volume: PairFit, resistance: PairFit, shares: dict[tuple[str, str], float]
) -> Pair:
    a, b = name[:2]
    third = name[2] if len(name) == 3 else ""
    from_percent = next((t.from_percent for t in tables.rows("effective_terms")
                         if {t.first, t.second} == {a, b} and t.beside == third), 0.0)  # fmt: skip
    k, c = volume.terms[name], resistance.terms[a, b]
    low, high = volume.span.get((a, b), (None, None))
    rms, points = volume.rms_percent.get((a, b)), volume.points[a, b]
    two_phase = next((pair for pair in TWO_PHASE if set(pair) == {a, b}), None)
    return Pair(
        a, b, third, from_percent, default_of(tables, a, b)[0], round(k[0], 4), round(k[1], 4),
        round(volume.scatter[name], 4), _rounded(low, 2), _rounded(high, 2), _rounded(rms, 3), points,
        round(c[0], 2), round(c[1], 2), round(c[2], 2), round(resistance.scatter[a, b], 2),
        round(shares[two_phase], 3) if two_phase else 0.0, 100 * TWO_PHASE[two_phase] if two_phase else 0.0,
        resistance.points[a, b], "fit-points" if points or resistance.points[a, b] else "fit-defaults",
    )  # fmt: skip


def _rounded(x: float | None, digits: int) -> float | None:
    return None if x is None else round(x, digits)
