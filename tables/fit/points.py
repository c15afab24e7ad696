"""Published densities and resistivities of the tables, in the form that the fits of the pair terms need."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from alloysolve.alloys.regions import within
from alloysolve.physics.resistivity import IACS_UOHM_CM
from alloysolve.published.load import Tables
from alloysolve.published.metals import Composition

TEACHES_NOTHING = "computed"  # mark of figures probably computed by their source, and of guaranteed minima
REPEATED = 0.006  # g/cm3: a point this close to the figure of a grade of its composition is that figure
U_CONDUCTIVITY = 0.05  # relative, where a source states none


@dataclass(frozen=True)
class Observation:
    """One published figure of one composition [mass percent]; `iron` is "fcc" for austenite."""

    composition: Composition
    iron: str
    value: float
    u_relative: float


def same(a: Composition, b: Composition, within_percent: float = 0.3) -> bool:
    """Whether two compositions are one alloy: no metal differs by more than `within_percent`."""
    return all(abs(a.get(s, 0) - b.get(s, 0)) <= within_percent for s in set(a) | set(b))


def density_observations(tables: Tables, left_out: Iterable[Composition] = ()) -> list[Observation]:
    """Published densities [g/cm3]; a point that repeats a grade's figure counts once.

    Parameters
    ----------
    left_out : compositions whose figures are not used.
    """
    iron = {f.family: f.iron for f in tables.families.values()}
    grades = [
        Observation(g.composition, iron.get(g.family, ""), g.density_g_cm3, g.u_density_g_cm3 / g.density_g_cm3)
        for g in tables.grades.values()
        if g.mark != TEACHES_NOTHING
    ]
    points = [
        Observation(p.composition, p.iron, p.density_g_cm3, p.u_density_g_cm3 / p.density_g_cm3)
        for p in tables.rows("density_points")
    ]
    new = [p for p in points if not any(_repeats(p, g) for g in grades)]
    return _without(new + grades, left_out)


def _repeats(point: Observation, grade: Observation) -> bool:
    return abs(point.value - grade.value) < REPEATED and same(point.composition, grade.composition)


def resistivity_observations(tables: Tables, left_out: Iterable[Composition] = ()) -> list[Observation]:
    """Published resistivities at 20 degC [uohm cm] of points and grades.

    Parameters
    ----------
    left_out : compositions whose figures are not used.
    """
    points = [
        Observation(
            p.composition,
            _iron(tables, p.composition),
            p.resistivity_uohm_cm,
            p.u_resistivity_uohm_cm / p.resistivity_uohm_cm,
        )
        for p in tables.rows("resistivity_points")
    ]
    iron = {f.family: f.iron for f in tables.families.values()}
    grades = []
    for g in tables.grades.values():
        if g.conductivity_iacs and g.mark != TEACHES_NOTHING:
            u = g.u_conductivity_iacs / g.conductivity_iacs if g.u_conductivity_iacs else U_CONDUCTIVITY
            value = IACS_UOHM_CM / g.conductivity_iacs
            grades.append(Observation(g.composition, iron.get(g.family, ""), value, u))
    return _without(points + grades, left_out)


def _iron(tables: Tables, composition: Composition) -> str:
    """Form of the iron of a composition: that of the family whose region holds it."""
    if "Fe" not in composition:
        return ""
    return next((f.iron for f in tables.families.values() if f.iron and within(composition, f.limits)), "")


def _without(rows: list[Observation], left_out: Iterable[Composition]) -> list[Observation]:
    out = list(left_out)
    return [o for o in rows if not any(same(o.composition, c) for c in out)]
