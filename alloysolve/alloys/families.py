"""Every body that is thought possible, whatever is claimed: families, and arbitrary pairs and triples.

A family puts 60 % of its weight on its published grades and standard finenesses, and spreads 40 % evenly over its
region (low-discrepancy points). Arbitrary pairs and triples share a small part.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import fields
from functools import cache
from typing import Any

import numpy as np

from ..arrays import Array, Index
from ..kept import Arrays, kept
from ..published.load import Tables, digest
from ..published.metals import Family, Grade
from .bodies import NOT_A_BODY, Bodies
from .builder import SYSTEM_FROM, Builder
from .law import ROOMS, TABLES_OF_LAW, MixingLaw, mixing_law, support_properties
from .regions import even_points, region_points, standard_compositions, within

TABLES_OF_BODIES = (*TABLES_OF_LAW, "families", "grades", "claims")
NAMED = ("names", "grades", "systems")  # columns of bodies that are texts
ON_GRADES = 0.6  # share of a family's weight on published grades and standard finenesses
POINTS = {1: 1, 2: 192, 3: 384}  # region points by number of metals; more metals: MANY
MANY = 512
PAIR_STEPS = 21
TRIPLE_POINTS = 8000
FREE_SIGMA = 0.5  # percent, scatter of arbitrary mixtures besides that of their pair terms
PAIR_WEIGHT = {
    "solid_solution": 1.0,
    "eutectic_or_limited": 1.0,
    "intermetallic": 0.5,
    "unknown": 0.3,
    "immiscible_liquid": 0.1,
    "composite_only": 0.1,
}


def family_bodies(tables: Tables, without: Iterable[str] = (), law: MixingLaw | None = None) -> Bodies:
    """Points of every family, then of arbitrary pairs (family "pair") and triples ("triple").

    Parameters
    ----------
    without : names of grades to leave out, for tests of accuracy.
    law : mixing law to use in place of that of the tables.
    """
    left_out = set(without)
    builder = Builder(tables, law)
    for family in tables.families.values():
        grades = [g for g in tables.grades.values() if g.family == family.family and g.name not in left_out]
        _add_family(builder, family, grades)
    _add_pairs(builder)
    _add_triples(builder)
    return builder.done()


def _add_family(builder: Builder, family: Family, grades: list[Grade]) -> None:
    law = builder.law
    symbols, percent = region_points(family.limits, POINTS.get(len(family.limits), MANY))
    region = law.columns(symbols, percent, family.iron)
    standard = [c for c in standard_compositions(builder.tables) if within(c, family.limits)]
    named = law.fractions([g.composition for g in grades] + standard, family.iron)
    on_names = ON_GRADES if len(named) else 0.0
    weight = np.concatenate(
        [np.full(len(named), on_names / max(len(named), 1)), np.full(len(region), (1 - on_names) / len(region))]
    )
    rows: list[Grade | None] = [*grades, *[None] * len(standard)]
    builder.add(
        family.family,
        np.vstack([named, region]),
        weight,
        builder.metals(family.system.split()),
        family.sigma_percent,
        family.porosity_percent,
        family.magnetic,
        rows,
    )


def _free_metals(tables: Tables) -> list[str]:
    return [s for s in tables.metals if s not in NOT_A_BODY]


def _add_pairs(builder: Builder) -> None:
    """Adds arbitrary pairs, each evenly spread over 5 to 95 % and weighted by how well the two metals mix."""
    metals = _free_metals(builder.tables)
    classes = {frozenset((p.first, p.second)): p.miscibility for p in builder.tables.rows("pairs") if not p.beside}
    pairs = list(itertools.combinations(metals, 2))
    weight = np.array([PAIR_WEIGHT.get(classes.get(frozenset(p), "unknown"), 0.3) for p in pairs])
    part = np.tile(np.linspace(SYSTEM_FROM, 1 - SYSTEM_FROM, PAIR_STEPS), len(pairs))
    chosen = np.repeat([[builder.law.index[a], builder.law.index[b]] for a, b in pairs], PAIR_STEPS, axis=0)
    _add_supports(builder, "pair", chosen, np.stack([part, 1 - part], axis=1), np.repeat(weight, PAIR_STEPS))


def _add_triples(builder: Builder) -> None:
    """Adds arbitrary triples: points spread evenly over triples and over the compositions of each triple."""
    metals = [builder.law.index[s] for s in _free_metals(builder.tables)]
    triples = np.array(list(itertools.combinations(metals, 3)))
    u = even_points(TRIPLE_POINTS, 3)
    root = np.sqrt(u[:, 1])
    parts = np.stack([1 - root, root * (1 - u[:, 2]), root * u[:, 2]], axis=1)
    parts = SYSTEM_FROM + (1 - 3 * SYSTEM_FROM) * parts
    _add_supports(builder, "triple", triples[(u[:, 0] * len(triples)).astype(int)], parts, np.ones(TRIPLE_POINTS))


def _add_supports(builder: Builder, name: str, metals: Index, parts: Array, weight: Array) -> None:
    w = np.zeros((len(metals), len(builder.law.symbols)))
    np.put_along_axis(w, metals, parts, axis=1)
    predicted = support_properties(builder.law, metals, parts)
    builder.add(name, w, weight, builder.metals(()), FREE_SIGMA, 0.0, "", predicted=predicted)


@cache
def all_bodies(tables: Tables) -> Bodies:
    """The bodies of a set of tables, built once per set of tables and kept on disk."""
    arrays = kept("bodies", digest(tables, TABLES_OF_BODIES), ROOMS, lambda: _as_arrays(family_bodies(tables)))
    columns: dict[str, Any] = {name: arrays[name] for name in arrays if name not in NAMED}
    names, grades, systems = (tuple(arrays[name].tolist()) for name in NAMED)
    return Bodies(mixing_law(tables), names, grades, tuple(tuple(s.split()) for s in systems), **columns)


def _as_arrays(bodies: Bodies) -> Arrays:
    """Bodies as arrays by name, as they are kept; their mixing law is kept by itself."""
    named = (bodies.names, bodies.grades, [" ".join(s) for s in bodies.systems])
    columns = [f.name for f in fields(bodies) if f.name not in ("law", "parts", *NAMED)]
    return {name: np.array(each) for name, each in zip(NAMED, named, strict=True)} | {
        name: getattr(bodies, name) for name in columns
    }
