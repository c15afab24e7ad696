"""Bodies of the regions of compositions that a claim names."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..arrays import Array, Index, Mask
from ..published.load import Tables
from ..published.metals import READ_MARKS, Grade, Limits
from .bodies import Bodies
from .builder import Builder
from .law import mixing_law
from .regions import OTHERS, SLACK, cored_up, held, inequalities, region_corners, region_points, within


@dataclass(frozen=True)
class Region:
    """A region of compositions that a claim names, in the form that `region_bodies` takes.

    `own` names the metals of its system. Where it is empty, every composition has the system of a family that holds it.
    """

    name: str
    limits: Limits
    sigma_percent: float
    porosity_percent: float = 0.0
    magnetic: str = "none"
    iron: str = ""
    own: tuple[str, ...] = ()


def region_bodies(tables: Tables, regions: Iterable[Region], count: int = 96) -> Bodies:
    """Points spread over named regions, their corners, and the published grades in them; each region is a family."""
    builder = Builder(tables)
    for r in regions:
        limits = cored_up(r.limits)
        symbols, percent = region_points(limits, count)
        percent = np.concatenate([percent, region_corners(limits)])
        w = builder.law.columns(symbols, percent, r.iron)
        read, held_by_grades = _read_grades(tables)
        near = np.flatnonzero(held(builder.law, held_by_grades, r.limits))
        grades = [read[n] for n in near if within(read[n].composition, r.limits, 0.02)]
        named = builder.law.fractions([g.composition for g in grades], r.iron)
        rows: list[Grade | None] = [*grades, *[None] * len(w)]
        builder.add(
            r.name,
            np.vstack([named, w]),
            np.ones(len(rows)),
            _own_metals(builder, np.vstack([named, w]), r),
            r.sigma_percent,
            r.porosity_percent,
            r.magnetic,
            rows,
        )
    return builder.done()


@cache
def _read_grades(tables: Tables) -> tuple[list[Grade], Array]:
    """Grades whose density was read, and the percent of each metal that they hold."""
    grades = [g for g in tables.grades.values() if g.mark in READ_MARKS]
    return grades, 100 * mixing_law(tables).fractions([g.composition for g in grades])


def _own_metals(builder: Builder, w: Array, region: Region) -> Mask:
    """Metals that belong to the system whatever their share: the region's own, or those of the first family that fits.

    The middle of the limits says little: gold 900 may hold up to 10 % of silver or of copper, and few coins hold both.
    """
    if region.own:
        return builder.metals(region.own)
    inside, own = families_holding(builder.tables, w), _limits_of_families(builder.tables)[-1]
    return np.asarray(np.where(inside.any(axis=1, keepdims=True), own[inside.argmax(axis=1)], False))


def families_holding(tables: Tables, w: Array, others: float = OTHERS) -> Mask:
    """Whether each family holds each of some compositions, mass fractions (points, metals): (points, families).

    `others` : percent that a composition may hold of metals without limits.
    """
    a, low, high, first, named, _ = _limits_of_families(tables)
    total = 100 * w @ a.T
    kept = (total >= low - SLACK) & (total <= high + SLACK)
    return np.asarray(np.logical_and.reduceat(kept, first, axis=1) & (100 * w @ ~named.T <= others))


@cache
def _limits_of_families(tables: Tables) -> tuple[Array, Array, Array, Index, Mask, Mask]:
    """Limits of all families as rows ``low <= a x <= high``, and of each family its first row and two sets of metals.

    The first set is that of the metals with limits, the second that of its system.
    """
    builder, parts, named, own = Builder(tables), [], [], []
    for family in tables.families.values():
        parts.append(inequalities(builder.law.symbols, family.limits))
        named.append(parts[-1][0].any(axis=0))
        own.append(builder.metals(family.system.split()))
    first = np.cumsum([0, *(len(low) for _, low, _ in parts[:-1])])
    a, low, high = (np.concatenate(each) for each in zip(*parts, strict=True))
    return a, low, high, first, np.array(named), np.array(own)
