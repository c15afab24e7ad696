"""Fits the pair terms of the mixing law and of the resistivity rule to all published points at once.

Both rules are linear in their pair terms, so one ridge regression is enough. The prior of a pair that nobody has
measured is the default of its class (pair_defaults.csv), and published points move it. Points that stray are given less
weight (Student t with 4 degrees of freedom, iterated).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache

import numpy as np

from alloysolve.alloys.law import INTERSTITIAL
from alloysolve.physics.mixing import moles_per_gram, pair_products
from alloysolve.physics.resistivity import two_phase_factor
from alloysolve.published.load import Tables
from alloysolve.published.metals import Composition, Pair, PairDefault

from .points import density_observations, resistivity_observations
from .ridge import PRESENT, Columns, Name, PairFit, Problem, columns_of, fitted, problem

SCATTER = 0.002  # relative scatter of density about any pairwise law, beside each source's own u
SCATTER_RESISTIVITY = 0.05
K1_PRIOR = 0.4  # cm3/mol: how lopsided an excess term may be before data say so
NO_VOLUME = (0.0, 0.01)  # prior of the excess term of an interstitial with anything but a carbide former
TWO_PHASE = {("Ag", "Cu"): 0.01}  # eutectic pairs far from Nordheim's rule, with w0 of `two_phase_factor`
TWO_PHASE_PRIOR = (0.0, 0.5)  # uohm cm, of their terms beside that factor


def default_of(tables: Tables, a: str, b: str) -> tuple[str, PairDefault]:
    """Class of miscibility of a pair, and the default for it."""
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


def _with_effective(tables: Tables, p: Problem, columns: Columns) -> Columns:
    """The columns with the effective terms, which replace the pair's own term if enough of a third metal is present."""
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
    p = problem(tables, density_observations(tables, left_out))
    n = moles_per_gram(p.w, p.mass)
    priors = [_excess_prior(tables, p, *name) for name in p.names]
    columns = columns_of(p, pair_products(n, *p.pairs), priors, np.full(len(p.names), K1_PRIOR))
    return fitted(p, _with_effective(tables, p, columns), 1 / p.value - n @ p.volume, 1 / p.value, SCATTER)


def _excess_prior(tables: Tables, p: Problem, a: str, b: str) -> tuple[float, float]:
    """Mean and standard deviation of K0 [cm3/mol], if a mixture at equal atomic shares is denser by d percent.

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
    p = problem(tables, resistivity_observations(tables, left_out))
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
    columns = columns_of(p, orders, priors, np.array(priors)[:, 1])
    unit = p.value / factor
    return fitted(p, columns, unit - x @ p.rho, unit, SCATTER_RESISTIVITY)


def _resistivity_prior(tables: Tables, a: str, b: str) -> tuple[float, float]:
    if (a, b) in TWO_PHASE or (b, a) in TWO_PHASE:
        return TWO_PHASE_PRIOR
    row = default_of(tables, a, b)[1]
    return row.resistivity_uohm_cm, row.u_resistivity_uohm_cm


def two_phase_share(tables: Tables, a: str, b: str, scale: float, left_out: Iterable[Composition] = ()) -> float:
    """Share a of `two_phase_factor` by least squares on the published binary points of a pair.

    Parameters
    ----------
    scale : w0 of the factor, mass fraction. left_out : compositions that are not used.
    """
    p = problem(tables, [o for o in resistivity_observations(tables, left_out) if set(o.composition) == {a, b}])
    n = moles_per_gram(p.w, p.mass)
    base = (n @ p.rho) / n.sum(axis=1)
    shape = two_phase_factor(p.minor(a, b), 1.0, scale) - 1
    weight = np.where(p.minor(a, b) >= PRESENT, 1.0, 0.0)
    weight = weight / (p.u_relative**2 + SCATTER_RESISTIVITY**2)
    bottom = weight @ shape**2
    return float(weight * shape @ (p.value / base - 1) / bottom) if bottom > 0 else 0.0


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
    from_percent = next(
        (t.from_percent for t in tables.rows("effective_terms") if {t.first, t.second} == {a, b} and t.beside == third),
        0.0,
    )
    k, c = volume.terms[name], resistance.terms[a, b]
    low, high = volume.span.get((a, b), (None, None))
    rms, points = volume.rms_percent.get((a, b)), volume.points[a, b]
    two_phase = next((pair for pair in TWO_PHASE if set(pair) == {a, b}), None)
    return Pair(
        a,
        b,
        third,
        from_percent,
        default_of(tables, a, b)[0],
        round(k[0], 4),
        round(k[1], 4),
        round(volume.scatter[name], 4),
        _rounded(low, 2),
        _rounded(high, 2),
        _rounded(rms, 3),
        points,
        round(c[0], 2),
        round(c[1], 2),
        round(c[2], 2),
        round(resistance.scatter[a, b], 2),
        round(shares[two_phase], 3) if two_phase else 0.0,
        100 * TWO_PHASE[two_phase] if two_phase else 0.0,
        resistance.points[a, b],
        "fit-points" if points or resistance.points[a, b] else "fit-defaults",
    )


def _rounded(x: float | None, digits: int) -> float | None:
    return None if x is None else round(x, digits)
