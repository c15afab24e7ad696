"""Fits the pair terms of the mixing law and of the resistivity rule to all published points at once.

Both rules are linear in their pair terms, so one ridge regression does it: the prior of a pair nobody
measured is the default of its class (pair_defaults.csv), and published points move it. Points that stray
are weighted down (Student t with 4 degrees of freedom, iterated).
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..access import Composition, PairDefault, Tables
from ..physics.mixing import moles_per_gram, pair_products
from ..physics.resistivity import IACS_UOHM_CM, two_phase_factor
from .law import FCC_IRON, INTERSTITIAL, UNKNOWN_RESISTIVITY

Array = NDArray[np.float64]
Pairs = list[tuple[int, int]]

SCATTER = 0.002  # relative scatter of density about any pairwise law, beside each source's own u
SCATTER_RESISTIVITY = 0.05
K1_PRIOR = 0.4  # cm3/mol: how lopsided an excess term may be before data say so
K1_POINTS = 6  # pairs with fewer points get no lopsided term
TWO_PHASE = {("Ag", "Cu"): 0.01}  # eutectic pairs far from Nordheim's rule, with w0 of `two_phase_factor`


@dataclass(frozen=True)
class Observation:
    """One published figure of one composition."""

    composition: Composition
    iron: str
    value: float
    u_relative: float


@dataclass(frozen=True)
class PairFit:
    """Fitted terms by pair of symbols: (K0, K1, K2), scatter of K0, points, rms in percent, range."""

    terms: dict[tuple[str, ...], tuple[float, float, float]]
    scatter: dict[tuple[str, ...], float]
    points: dict[tuple[str, ...], int]
    rms_percent: dict[tuple[str, ...], float]
    span: dict[tuple[str, ...], tuple[float, float]]


def same(a: Composition, b: Composition, within: float = 0.3) -> bool:
    """Whether two compositions are one alloy: no metal differs by more than `within` percent."""
    return all(abs(a.get(s, 0) - b.get(s, 0)) <= within for s in set(a) | set(b))


def density_observations(tables: Tables, left_out: Iterable[Composition] = ()) -> list[Observation]:
    """Published densities for the fit.

    Grades of quality X (probably computed) do not count, nor does a point that repeats a grade's figure.
    """
    iron = {f.family: f.iron for f in tables.families.values()}
    grades = [Observation(g.composition, iron.get(g.family, ""), g.density_g_cm3, g.u_density_g_cm3 / g.density_g_cm3)
              for g in tables.grades.values() if g.quality in "ABCM"]  # fmt: skip
    points = [Observation(p.composition, p.iron, p.density_g_cm3, p.u_density_g_cm3 / p.density_g_cm3)
              for p in tables.rows("density_points")]  # fmt: skip
    new = [p for p in points if not any(abs(p.value - g.value) < 0.006 and same(p.composition, g.composition)
                                        for g in grades)]  # fmt: skip
    return _without(new + grades, left_out)


def resistivity_observations(tables: Tables, left_out: Iterable[Composition] = ()) -> list[Observation]:
    """Published resistivities for the fit."""
    out = [Observation(p.composition, "", p.resistivity_uohm_cm, p.u_resistivity_uohm_cm / p.resistivity_uohm_cm)
           for p in tables.rows("resistivity_points")]  # fmt: skip
    for g in tables.grades.values():
        if g.conductivity_iacs and g.quality in "ABCM":
            u = (g.u_conductivity_iacs or 0.05 * g.conductivity_iacs) / g.conductivity_iacs
            out.append(Observation(g.composition, "", IACS_UOHM_CM / g.conductivity_iacs, u))
    return _without(out, left_out)


def _without(rows: list[Observation], left_out: Iterable[Composition]) -> list[Observation]:
    out = list(left_out)
    return [o for o in rows if not any(same(o.composition, c) for c in out)]


def default_of(tables: Tables, a: str, b: str) -> tuple[str, PairDefault]:
    """Class of miscibility of a pair and the default that stands for it."""
    a, b = (s.removesuffix("-fcc") for s in (a, b))
    classes = {frozenset((p.first, p.second)): p.miscibility for p in tables.rows("pair_classes")}
    miscibility = classes.get(frozenset((a, b)), "unknown")
    for row in tables.rows("pair_defaults"):
        if row.miscibility == miscibility and (_fits(row, a, b) or _fits(row, b, a)):
            return miscibility, row
    raise LookupError(miscibility)  # pair_defaults.csv ends with a row for every class


def _fits(row: PairDefault, a: str, b: str) -> bool:
    return (not row.group or a in row.group.split()) and (not row.other or b in row.other.split())


@dataclass(frozen=True)
class _Problem:
    """Arrays of one regression: rows of observations against terms of pairs."""

    symbols: list[str]
    mass: Array
    volume: Array
    rho: Array
    w: Array
    observations: list[Observation]


def _problem(tables: Tables, observations: list[Observation]) -> _Problem:
    symbols = list(tables.metals)
    index = {s: i for i, s in enumerate(symbols)}
    metals = tables.metals.values()
    mass = np.array([m.molar_mass_g_mol for m in metals])
    volume = mass / np.array([m.density_g_cm3 for m in metals])
    volume[[index[s] for s in INTERSTITIAL if s in index]] = 0.0
    rho = np.array([m.resistivity_uohm_cm or UNKNOWN_RESISTIVITY for m in metals])
    w = np.zeros((len(observations), len(symbols)))
    for r, o in enumerate(observations):
        for s, percent in o.composition.items():
            w[r, index[FCC_IRON if s == "Fe" and o.iron == "fcc" else s]] = percent
    w /= w.sum(axis=1, keepdims=True)
    return _Problem(symbols, mass, volume, rho, w, observations)


def _robust_ridge(x: Array, y: Array, sigma: Array, mean: Array, sd: Array) -> tuple[Array, Array]:
    """Posterior mean and standard deviation of the terms; points re-weighted for Student-t scatter."""
    weight = np.ones_like(y)
    for _ in range(8):
        scaled = x * (np.sqrt(weight) / sigma)[:, None]
        precision = scaled.T @ scaled + np.diag(1 / sd**2)
        target = scaled.T @ ((y - x @ mean) * np.sqrt(weight) / sigma)
        terms = mean + np.linalg.solve(precision, target)
        z = (y - x @ terms) / sigma
        weight = 5.0 / (4.0 + z**2)
    return terms, np.sqrt(np.diag(np.linalg.inv(precision)))


def fit_excess(tables: Tables, left_out: Iterable[Composition] = ()) -> PairFit:
    """Excess-volume terms [cm3/mol] of every pair of metals in the tables."""
    p = _problem(tables, density_observations(tables, left_out))
    n = moles_per_gram(p.w, p.mass)
    y = np.array([1 / o.value for o in p.observations]) - n @ p.volume
    sigma = np.hypot([o.u_relative for o in p.observations], SCATTER) / [o.value for o in p.observations]

    def prior(a: str, b: str) -> tuple[float, float]:
        if a in INTERSTITIAL or b in INTERSTITIAL:
            is_carbide = default_of(tables, a, b)[0] == "carbide"
            if not is_carbide:
                return 0.0, 0.01
        row = default_of(tables, a, b)[1]
        scale = 2 * sum(p.volume[p.symbols.index(s)] for s in (a, b)) / 100  # K0 = -4 d (V1 + V2) / 2
        return -row.denser_percent * scale, row.u_denser_percent * scale

    columns = _conditional_columns(tables, p)
    return _fit(p, y, sigma, prior, lambda i, j: pair_products(n, i, j), columns)


def _conditional_columns(tables: Tables, p: _Problem) -> dict[tuple[str, str, str], NDArray[np.bool_]]:
    """Which observations an effective term stands for, by (first, second, beside)."""
    return {(t.first, t.second, t.beside): p.w[:, p.symbols.index(t.beside)] >= t.from_percent / 100
            for t in tables.rows("effective_terms")}  # fmt: skip


def fit_resistivity(tables: Tables, left_out: Iterable[Composition] = ()) -> PairFit:
    """Resistivity terms [uohm cm] of every pair of metals in the tables."""
    rows = [o for o in resistivity_observations(tables, left_out)]
    p = _problem(tables, rows)
    n = moles_per_gram(p.w, p.mass)
    x = n / n.sum(axis=1, keepdims=True)
    factor = np.ones(len(rows))
    for (a, b), scale in TWO_PHASE.items():
        minor = np.minimum(p.w[:, p.symbols.index(a)], p.w[:, p.symbols.index(b)])
        factor *= two_phase_factor(minor, two_phase_share(tables, a, b, scale), scale)
    value = np.array([o.value for o in rows])
    y = value / factor - x @ p.rho
    sigma = np.hypot([o.u_relative for o in rows], SCATTER_RESISTIVITY) * value

    def prior(a: str, b: str) -> tuple[float, float]:
        if (a, b) in TWO_PHASE or (b, a) in TWO_PHASE:
            return 0.0, 0.5
        row = default_of(tables, a, b)[1]
        return row.resistivity_uohm_cm, row.u_resistivity_uohm_cm

    def products(i: NDArray[np.intp], j: NDArray[np.intp]) -> tuple[Array, Array]:
        return x[:, i] * x[:, j], x[:, i] * x[:, j] * (x[:, i] - x[:, j])

    return _fit(p, y, sigma, prior, products, {}, second_order=True)


def two_phase_share(tables: Tables, a: str, b: str, scale: float) -> float:
    """Share a of `two_phase_factor` by least squares on the published binary points of a pair."""
    rho = {s: tables.metals[s].resistivity_uohm_cm or 0.0 for s in (a, b)}
    top = bottom = 0.0
    for o in resistivity_observations(tables):
        if set(o.composition) <= {a, b} and min(o.composition.get(s, 0) for s in (a, b)) >= 1:
            mole = {s: o.composition[s] / tables.metals[s].molar_mass_g_mol for s in (a, b)}
            base = sum(mole[s] * rho[s] for s in (a, b)) / sum(mole.values())
            shape = 1 - np.exp(-min(o.composition.values()) / 100 / scale)
            weight = 1 / np.hypot(o.u_relative, SCATTER_RESISTIVITY) ** 2
            top += weight * shape * (o.value / base - 1)
            bottom += weight * shape**2
    return float(top / bottom) if bottom else 0.0


def _fit(
    p: _Problem,
    y: Array,
    sigma: Array,
    prior: Callable[[str, str], tuple[float, float]],
    products: Callable[[NDArray[np.intp], NDArray[np.intp]], tuple[Array, Array]],
    conditional: dict[tuple[str, str, str], NDArray[np.bool_]],
    second_order: bool = False,
) -> PairFit:
    """The regression common to both rules; orders above 0 only for pairs with enough points."""
    pairs = list(itertools.combinations(range(len(p.symbols)), 2))
    first, second = np.array(pairs).T
    zero, one = products(first, second)
    both = np.minimum(p.w[:, first], p.w[:, second]) >= 0.01
    two_metals = (p.w > 0.005).sum(axis=1) <= 2
    rich = (both & two_metals[:, None]).sum(axis=0) >= K1_POINTS
    means, sds = np.array([prior(p.symbols[i], p.symbols[j]) for i, j in pairs]).T

    names: list[tuple[str, ...]] = [(p.symbols[i], p.symbols[j]) for i, j in pairs]
    blocks, block_mean, block_sd = [zero], [means], [sds]
    keys: list[tuple[tuple[str, ...], int]] = [(name, 0) for name in names]
    for (a, b, beside), rows in conditional.items():
        column = names.index((a, b)) if (a, b) in names else names.index((b, a))
        blocks.append(np.where(rows, zero[:, column], 0.0)[:, None])
        blocks[0] = blocks[0].copy()
        blocks[0][rows, column] = 0.0
        block_mean.append(means[[column]])
        block_sd.append(sds[[column]])
        keys.append(((*names[column], beside), 0))
    if rich.any():
        order = one[:, rich]
        scale = np.full(int(rich.sum()), K1_PRIOR) if not second_order else sds[rich]
        names_rich = [n for n, r in zip(names, rich, strict=True) if r]
        blocks.append(order)
        block_mean.append(np.zeros(len(scale)))
        block_sd.append(scale)
        keys += [(n, 1) for n in names_rich]
        if second_order:
            with np.errstate(invalid="ignore", divide="ignore"):
                ratio = np.nan_to_num(order / zero[:, rich])
            blocks.append(order * ratio)
            block_mean.append(np.zeros(len(scale)))
            block_sd.append(scale)
            keys += [(n, 2) for n in names_rich]
    x = np.hstack(blocks)
    used = (np.abs(x) > 0).any(axis=0)
    mean, sd = np.concatenate(block_mean), np.concatenate(block_sd)
    terms, spread = mean.copy(), sd.copy()
    fixed = x[:, ~used] @ mean[~used]
    terms[used], spread[used] = _robust_ridge(x[:, used], y - fixed, sigma, mean[used], sd[used])
    return _collect(p, keys, terms, spread, first, second, names, both & two_metals[:, None], y - x @ terms)


def _collect(
    p: _Problem, keys: list[tuple[tuple[str, ...], int]], terms: Array, spread: Array, first: NDArray[np.intp],
    second: NDArray[np.intp], names: list[tuple[str, ...]], binary: NDArray[np.bool_], residual: Array,
) -> PairFit:  # fmt: skip
    out: dict[tuple[str, ...], list[float]] = {}
    scatter = {}
    for (name, order), value, u in zip(keys, terms, spread, strict=True):
        out.setdefault(name, [0.0, 0.0, 0.0])[order] = float(value)
        if order == 0:
            scatter[name] = float(u)
    points, rms, span = {}, {}, {}
    relative = residual * np.array([o.value for o in p.observations])
    for c, name in enumerate(names):
        rows = binary[:, c]
        points[name] = int(rows.sum())
        if rows.any():
            rms[name] = float(100 * np.sqrt(np.mean(relative[rows] ** 2)))
            part = 100 * p.w[rows, second[c]]
            span[name] = (float(part.min()), float(part.max()))
    return PairFit({k: (v[0], v[1], v[2]) for k, v in out.items()}, scatter, points, rms, span)
