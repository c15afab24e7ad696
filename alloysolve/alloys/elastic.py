"""Young's modulus and Poisson's ratio of bodies and of the materials of layers, as arrays."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from functools import cache, lru_cache
from typing import TypeVar

import numpy as np

from ..arrays import Array, Index, Mask
from ..kept import kept
from ..physics import elastic
from ..published.load import Tables, digest
from ..published.metals import Elastic, Limits
from .bodies import Bodies
from .families import TABLES_OF_BODIES, all_bodies
from .law import FCC_IRON, ROOMS, MixingLaw
from .materials import layers_of
from .regions import held

R = TypeVar("R")

# how far a mixed modulus comes out high, and its scatter, both for mixtures in which no metal dominates; as
# physics.elastic.mixed says. They build up as the first tenth of another metal comes in: 60 published grades
BIAS, SCATTER, BUILT_UP = 0.11, 0.14, 0.10
PURE_U = 0.04  # relative, of a pure metal without a family: how far handbooks differ
UNKNOWN_GPA, UNKNOWN_POISSON, UNKNOWN_U = 100.0, 0.30, 0.4  # of metals without a published modulus (judgement)


@dataclass(frozen=True)
class Elasticity:
    """Elastic constants; arrays over points or materials.

    Attributes
    ----------
    modulus : Young's modulus [GPa]. poisson : Poisson's ratio. u : relative standard uncertainty of the modulus.
    """

    modulus: Array
    poisson: Array
    u: Array


class Same:
    """Bodies as a key: it matches the same object, because comparing equal ones number by number would be slow."""

    __slots__ = ("bodies",)

    def __init__(self, bodies: Bodies) -> None:
        self.bodies = bodies

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and self.bodies is other.bodies

    def __hash__(self) -> int:
        return id(self.bodies)


def elasticity_of_bodies(tables: Tables, bodies: Bodies) -> Elasticity:
    """Elastic constants of each point: of its grade, its family, the family in which its composition lies, or mixed.

    The first of these that is published counts. Published moduli of grades and families are in elastic.csv. Mixed ones
    are those of physics.elastic.mixed, corrected for its bias. The arrays of the last few bodies are kept.
    """
    return _of_bodies(tables, Same(bodies))


@lru_cache(maxsize=8)
def _of_bodies(tables: Tables, key: Same) -> Elasticity:
    bodies = key.bodies
    if bodies.parts:
        each = [_of_bodies(tables, Same(b)) for b in bodies.parts]
        return Elasticity(*(np.concatenate([getattr(e, f.name) for e in each]) for f in fields(Elasticity)))
    if bodies is not all_bodies(tables):
        return _built(tables, bodies)
    made_from = digest(tables, (*TABLES_OF_BODIES, "elastic"))
    return Elasticity(**kept("elastic", made_from, ROOMS, lambda: vars(_built(tables, bodies))))


def _built(tables: Tables, bodies: Bodies) -> Elasticity:
    rows = _rows(tables)
    out = _of_compositions(
        tables, bodies.law, bodies.w, np.array([("family", n) not in rows for n in bodies.names])[bodies.family]
    )
    for where, row in named_rows(bodies, rows):
        _put(out, where, row)
    return out


def named_rows(bodies: Bodies, rows: Mapping[tuple[str, str], R]) -> Iterator[tuple[Mask, R]]:
    """Points and row of each family, and then of each grade, that a table names; later ones are closer to the point."""
    for of, names, number in (("family", bodies.names, bodies.family), ("grade", bodies.grades, bodies.grade)):
        for k, name in enumerate(names):
            if (of, name) in rows:
                yield number == k, rows[of, name]


@cache
def elasticity_of_layers(tables: Tables) -> Elasticity:
    """Elastic constants of each material of `layers_of`: of the family in which it lies, otherwise mixed."""
    layers = layers_of(tables)
    return _of_compositions(tables, layers.law, layers.w, np.ones(len(layers.names), dtype=bool))


def _rows(tables: Tables) -> dict[tuple[str, str], Elastic]:
    return {(r.of, r.name): r for r in tables.rows("elastic")}


def _put(out: Elasticity, where: Index | Mask, row: Elastic) -> None:
    """Overwrites constants with a published row; a row without Poisson's ratio leaves that of the family."""
    out.modulus[where], out.u[where] = row.youngs_modulus_gpa, row.u_youngs_modulus_gpa / row.youngs_modulus_gpa
    if row.poisson is not None:
        out.poisson[where] = row.poisson


def _of_compositions(tables: Tables, law: MixingLaw, w: Array, looked_at: Mask) -> Elasticity:
    """Mixed constants of mass fractions (n, metals), or published ones of the family they lie in where `looked_at`."""
    out = _mixed(tables, law, w)
    rows = _rows(tables)
    families = [f for f in tables.families.values() if ("family", f.family) in rows]
    percent = 100 * w[looked_at]
    percent[:, law.index["Fe"]] += percent[:, law.index[FCC_IRON]]
    percent[:, law.index[FCC_IRON]] = 0.0
    at = np.flatnonzero(looked_at)
    for f in sorted(families, key=lambda f: -_width(f.limits)):  # the narrowest region is written last
        _put(out, at[held(law, percent, f.limits)], rows["family", f.family])
    return out


def _width(limits: Limits) -> float:
    return sum(high - low for low, high in limits.values())


def _mixed(tables: Tables, law: MixingLaw, w: Array) -> Elasticity:
    """Elastic constants by volume, from those of the pure metals.

    The bias is ``0.11 (1 - exp(-x / 0.1))`` in ln E with ``x = 1 - sum v_i^2``, the chance that two grains differ. The
    scatter grows with it, from that of a pure metal to 14 %.
    """
    metals = [tables.metals[s] for s in law.symbols]
    known = np.array([bool(m.youngs_modulus_gpa and m.poisson) for m in metals])
    modulus = np.array([m.youngs_modulus_gpa or UNKNOWN_GPA for m in metals])
    poisson = np.array([m.poisson or UNKNOWN_POISSON for m in metals])
    share = w / law.molar_mass * law.molar_volume
    share[share.sum(axis=1) == 0, known.argmin()] = 1.0  # carbon and its like have no volume: nothing is known
    share /= share.sum(axis=1, keepdims=True)
    e, nu = elastic.mixed(share, modulus, poisson)
    mixed = 1 - np.exp(-(1 - (share**2).sum(axis=1)) / BUILT_UP)
    u = np.sqrt(PURE_U**2 + (SCATTER * mixed) ** 2 + (UNKNOWN_U * share[:, ~known].sum(axis=1)) ** 2)
    return Elasticity(e * np.exp(-BIAS * mixed), nu, u)
