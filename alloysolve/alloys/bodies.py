"""Bodies: every composition that is thought possible, with its predicted properties, as arrays.

A family puts 60 % of its weight on its published grades and standard finenesses, and spreads 40 % evenly over its
region (low-discrepancy points). Arbitrary pairs and triples share a small part.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache, cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Index, Mask
from ..kept import Arrays, kept
from ..physics.magnet import magnetic_class
from ..physics.resistivity import IACS_UOHM_CM
from ..published.load import Tables, digest
from ..published.metals import READ_MARKS, Composition, Family, Grade, Limits
from .law import (
    INTERSTITIAL,
    ROOMS,
    TABLES_OF_LAW,
    MixingLaw,
    Properties,
    mixing_law,
    properties,
    support_properties,
)

TABLES_OF_BODIES = (*TABLES_OF_LAW, "families", "grades", "claims")
NAMED = ("names", "grades", "systems")  # columns of bodies that are texts
ON_GRADES = 0.6  # share of a family's weight on published grades and standard finenesses
LIKE_FROM = 0.003  # mass fraction from which a metal tells groups of bodies apart
SYSTEM_FROM = 0.05  # mass fraction from which a metal belongs to the system
RESISTIVITY_SCATTER = 0.07  # relative scatter about the fitted rule, from temper and minor metals
RESISTIVITY_PUBLISHED = 0.04  # relative scatter of a published grade
POINTS = {1: 1, 2: 192, 3: 384}  # region points by number of metals; more metals: MANY
MANY = 512
COARSE = 4
PAIR_STEPS = 21
TRIPLE_POINTS = 8000
THREE_DIGITS = "three digits"  # mark of the best published densities
SLACK = 0.3  # percent by which a composition may miss the limits of its family, because they are rounded
OTHERS = 1.0  # percent that it may hold of metals without limits
FREE_SIGMA = 0.5  # percent, scatter of arbitrary mixtures besides that of their pair terms
PAIR_WEIGHT = {
    "solid_solution": 1.0,
    "eutectic_or_limited": 1.0,
    "intermetallic": 0.5,
    "unknown": 0.3,
    "immiscible_liquid": 0.1,
    "composite_only": 0.1,
}
NOT_A_BODY = frozenset("C P S B Si Se Te As N O H Li U Be Ge Fe-fcc Hg Ga Tl".split())  # noqa: SIM905
MAGNETIC = ("none", "slight", "strong")


@dataclass(frozen=True)
class Bodies:
    """Compositions with predicted properties; arrays over points.

    Attributes
    ----------
    w : mass fractions (points, metals). v : specific volume [cm3/g]. sigma : its relative scatter.
    resistivity : [uohm cm]. u_resistivity : its relative scatter. magnetic : class number in `MAGNETIC`.
    family : number in `names`; grade : number in `grades`, -1 for none. system : number in `systems`.
    weight : share of the point within its family, sums to 1 per family. coarse : the same with only every fourth
        region point, for constructions whose free parameter smears the composition anyway.
    parts : the sets that these points were joined from, if any. Their properties are known by part.
    """

    law: MixingLaw
    names: tuple[str, ...]
    grades: tuple[str, ...]
    systems: tuple[tuple[str, ...], ...]
    w: Array
    v: Array
    sigma: Array
    resistivity: Array
    u_resistivity: Array
    magnetic: Index
    family: Index
    grade: Index
    system: Index
    weight: Array
    coarse: Array
    parts: tuple[Bodies, ...] = ()

    @cached_property
    def main(self) -> Index:
        """Number of the metal of which each point holds most."""
        if self.parts:
            return np.concatenate([b.main for b in self.parts])
        return np.asarray(np.argmax(self.w, axis=1))

    def of_system(self, system: int) -> Index:
        """Numbers of the points of one system."""
        order, begin = self._by_system
        return order[begin[system] : begin[system + 1]]

    @cached_property
    def _by_system(self) -> tuple[Index, Index]:
        order = np.argsort(self.system, kind="stable")
        return order, np.searchsorted(self.system[order], np.arange(len(self.systems) + 1))

    @cached_property
    def like(self) -> Index:
        """Number of the group of each body: of one family, with the same metals, in shares of the same fifths."""
        metals, fifths = self.w > LIKE_FROM, np.rint(5 * self.w)
        weight = np.random.default_rng(0).random((2, self.w.shape[1]))  # all but surely different for different shares
        key = fifths @ weight[0] + metals @ weight[1] + self.family
        return np.unique(np.round(key, 9), return_inverse=True)[1].ravel()

    def share_of(self, points: Index, symbols: Sequence[str]) -> Array:
        """Mass fractions (points, symbols) of some metals; iron counts in both its forms."""
        index = self.law.index
        w = self.w[np.ix_(points, np.array([index[s] for s in symbols], dtype=np.intp))]
        if "Fe" in symbols:
            w[:, list(symbols).index("Fe")] += self.w[points, index["Fe-fcc"]]
        return w


@lru_cache(maxsize=64)
def even_points(count: int, dimensions: int) -> Array:
    """Evenly spread points in the unit cube, (count, dimensions): multiples of the generalised golden ratio.

    This is an additive recurrence (Kronecker sequence), which gives the same points on every run.
    """
    phi = 2.0
    for _ in range(40):
        phi = (1 + phi) ** (1 / (dimensions + 1))
    steps = phi ** -np.arange(1, dimensions + 1)
    points = np.asarray((0.5 + np.arange(1, count + 1)[:, None] * steps) % 1)
    points.setflags(write=False)  # they are kept
    return points


def region_points(limits: Limits, count: int) -> tuple[list[str], Array]:
    """Symbols and evenly spread compositions [percent] within limits; the first metal is the balance.

    The array is (about `count`, metals); it has fewer rows if the limits of the balance, or those of a sum of metals,
    cut some away.
    """
    symbols = [s for s in limits if "+" not in s]
    low, high = np.array([limits[s] for s in symbols]).T
    if len(symbols) == 1:
        return symbols, np.array([[100.0]])
    free = np.flatnonzero(high[1:] > low[1:]) + 1
    for oversample in (1, 4, 16, 64):
        percent = np.tile(low, (count * oversample, 1))
        percent[:, free] += even_points(len(percent), len(free)) * (high - low)[free]
        percent[:, 0] = 100 - percent[:, 1:].sum(axis=1)
        kept = percent[_meets(symbols, percent, limits)]
        if len(kept) >= count / 2:
            return symbols, kept[:count]
    if len(kept) == 0:
        raise ValueError(f"limits leave no composition: {limits}")
    return symbols, kept


def _meets(symbols: Sequence[str], percent: Array, limits: Limits) -> Mask:
    """Which compositions [percent] keep all limits, those of sums such as "Ni+Zn" too."""
    a, low, high = _inequalities(symbols, limits)
    total = percent @ a.T
    return np.asarray(((total >= low - 1e-9) & (total <= high + 1e-9)).all(axis=1))


def _inequalities(symbols: Sequence[str], limits: Limits) -> tuple[Array, Array, Array]:
    """Limits as ``low <= a x <= high`` for compositions x of `symbols`."""
    place = {s: k for k, s in enumerate(symbols)}
    a = np.zeros((len(limits), len(symbols)))
    for row, named in zip(a, limits, strict=True):
        row[[place[s] for s in named.split("+") if s in place]] = 1.0
    low, high = np.array(list(limits.values())).T
    return a, low, high


def region_corners(limits: Limits) -> Array:
    """Corners of a region [percent], (corners, metals): as many limits as it takes are met, and the sum is 100.

    A property that is monotone in every metal has its extremes there.
    """
    symbols = [s for s in limits if "+" not in s]
    a, low, high = _inequalities(symbols, limits)
    chosen = np.array(list(itertools.combinations(range(len(a)), len(symbols) - 1)), dtype=np.intp)
    systems = np.insert(a[chosen], 0, 1.0, axis=1)  # the sum, then the limits that are met
    solvable = np.abs(np.linalg.det(systems)) > 1e-9
    ends = np.array(list(itertools.product((False, True), repeat=len(symbols) - 1)))
    at = np.where(ends[:, None], high[chosen[solvable]], low[chosen[solvable]])  # (ends, systems, limits met)
    right = np.insert(at, 0, 100.0, axis=-1)
    corners = np.linalg.solve(systems[solvable], right[..., None])[..., 0].reshape(-1, len(symbols))
    corners = np.round(corners[_meets(symbols, corners, limits)], 9)
    return np.asarray(np.unique(corners, axis=0, return_index=True)[0])  # as in `arrays.distinct`


class _Builder:
    """Collects points, with one call per family."""

    def __init__(self, tables: Tables, law: MixingLaw | None = None) -> None:
        self.tables = tables
        self.law = law or mixing_law(tables)
        self.names: list[str] = []
        self.grades: list[str] = []
        self.systems: dict[tuple[str, ...], int] = {}
        self.parts: list[dict[str, NDArray[np.generic]]] = []

    def add(
        self,
        name: str,
        w: Array,
        weight: Array,
        own: Mask,
        sigma: float,
        porosity: float,
        magnetic: str,
        grades: Sequence[Grade | None] = (),
        predicted: Properties | None = None,
    ) -> None:
        """Adds the points of one family; published values of a grade override what is predicted.

        A density printed with fewer than three digits does so only where the law would predict it less well.

        `own` says which metals belong to the system whatever their share, for all points or for each.
        `magnetic` is the family's class, or "" to take it from each composition.
        """
        p = predicted or properties(self.law, w)
        size, v, rho = len(w), p.v * (1 + porosity / 100), p.resistivity
        scatter = np.sqrt((sigma / 100) ** 2 + (porosity / 100) ** 2 + p.u_v**2)
        u_rho = np.hypot(p.u_resistivity, RESISTIVITY_SCATTER)
        number = np.full(size, -1)
        for k, g in enumerate(grades):
            if g is None:
                continue
            published = max(g.u_density_g_cm3 / g.density_g_cm3, sigma / 200)
            if g.mark == THREE_DIGITS or published < scatter[k]:
                v[k], scatter[k] = 1 / g.density_g_cm3, published
            if g.conductivity_iacs:
                rho[k] = IACS_UOHM_CM / g.conductivity_iacs
                u_rho[k] = max(RESISTIVITY_PUBLISHED, (g.u_conductivity_iacs or 0) / g.conductivity_iacs)
            number[k] = len(self.grades)
            self.grades.append(g.name)
        self.names.append(name)
        self.parts.append(
            {
                "w": w,
                "v": v,
                "sigma": scatter,
                "resistivity": rho,
                "u_resistivity": u_rho,
                "magnetic": self._magnetic(w, magnetic),
                "family": np.full(size, len(self.names) - 1),
                "grade": number,
                "system": self._system(w, own),
                "weight": weight / weight.sum(),
                "coarse": _coarse(weight, len(grades)),
            }
        )

    def _magnetic(self, w: Array, magnetic: str) -> Index:
        if magnetic:
            return np.full(len(w), MAGNETIC.index(magnetic))
        iron, nickel, cobalt = (w[:, self.law.index[s]] for s in ("Fe", "Ni", "Co"))
        return magnetic_class(iron, nickel, cobalt)

    def metals(self, symbols: Iterable[str]) -> Mask:
        """Which metals of the law are among some symbols."""
        out = np.zeros(len(self.law.symbols), dtype=bool)
        out[[self.law.index[s] for s in symbols if s in self.law.index]] = True
        return out

    def _system(self, w: Array, own: Mask) -> Index:
        """Number of the system of each composition: its own metals and all others of at least 5 %."""
        symbols = [s.removesuffix("-fcc") for s in self.law.symbols]
        present = w >= SYSTEM_FROM - 1e-9
        present[:, [i for i, s in enumerate(symbols) if s in INTERSTITIAL]] = False
        present |= own
        key = present @ (np.int64(1) << np.arange(len(symbols), dtype=np.int64))
        _, first, inverse = np.unique(key, return_index=True, return_inverse=True)
        numbers = []
        for pattern in present[first]:
            metals = {symbols[i] for i in np.flatnonzero(pattern)}
            numbers.append(self.systems.setdefault(tuple(sorted(metals)), len(self.systems)))
        return np.array(numbers)[inverse.ravel()]

    def done(self) -> Bodies:
        """All points as one set of arrays."""
        columns: dict[str, Any] = {k: np.concatenate([p[k] for p in self.parts]) for k in self.parts[0]}
        return Bodies(self.law, tuple(self.names), tuple(self.grades), tuple(self.systems), **columns)


def _coarse(weight: Array, named: int) -> Array:
    """Weights with those of the first `named` points kept and those of the others given to every fourth of them."""
    others = np.arange(len(weight)) >= named
    out = np.where(others & (np.arange(len(weight)) % COARSE > 0), 0.0, weight)
    if out[others].sum() > 0:
        out[others] *= weight[others].sum() / out[others].sum()
    return np.asarray(out / out.sum())


@cache
def standard_compositions(tables: Tables) -> tuple[Composition, ...]:
    """One composition at each standard fineness of claims.csv, alloyed as is usual."""
    out = []
    for claim in tables.rows("claims"):
        symbols, percent = region_points(claim.limits, 1 if len(claim.limits) == 1 else 9)
        composition = dict(zip(symbols, percent[0], strict=True))
        fine = claim.limits[claim.metal][0]
        rest = sum(v for s, v in composition.items() if s != claim.metal)
        if rest > 0:  # at its fineness, not in the middle of its tolerance
            composition = {s: fine if s == claim.metal else v * (100 - fine) / rest for s, v in composition.items()}
        out.append(composition)
    return tuple(out)


def within(composition: Mapping[str, float], limits: Limits, slack: float = SLACK) -> bool:
    """Whether a composition [percent] lies in a region; metals without limits count as absent."""
    others = sum(v for s, v in composition.items() if s not in limits)
    return others <= OTHERS and all(
        low - slack <= sum(composition.get(s, 0.0) for s in named.split("+")) <= high + slack
        for named, (low, high) in limits.items()
    )


def held(law: MixingLaw, percent: Array, limits: Limits) -> Mask:
    """`within` for many compositions (n, metals of the law) [percent] at once."""
    a, low, high = _inequalities(law.symbols, limits)
    named = a.any(axis=0)
    total = percent[:, named] @ a[:, named].T
    out = np.asarray(((total >= low - SLACK) & (total <= high + SLACK)).all(axis=1))
    point = np.flatnonzero(out)
    out[point] = percent[np.ix_(point, np.flatnonzero(~named))].sum(axis=1) <= OTHERS
    return out


def family_bodies(tables: Tables, without: Iterable[str] = (), law: MixingLaw | None = None) -> Bodies:
    """Points of every family, then of arbitrary pairs (family "pair") and triples ("triple").

    Parameters
    ----------
    without : names of grades to leave out, for tests of accuracy.
    law : mixing law to use in place of that of the tables.
    """
    left_out = set(without)
    builder = _Builder(tables, law)
    for family in tables.families.values():
        grades = [g for g in tables.grades.values() if g.family == family.family and g.name not in left_out]
        _add_family(builder, family, grades)
    _add_pairs(builder)
    _add_triples(builder)
    return builder.done()


def _add_family(builder: _Builder, family: Family, grades: list[Grade]) -> None:
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


def _add_pairs(builder: _Builder) -> None:
    """Adds arbitrary pairs, each evenly spread over 5 to 95 % and weighted by how well the two metals mix."""
    metals = _free_metals(builder.tables)
    classes = {frozenset((p.first, p.second)): p.miscibility for p in builder.tables.rows("pairs") if not p.beside}
    pairs = list(itertools.combinations(metals, 2))
    weight = np.array([PAIR_WEIGHT.get(classes.get(frozenset(p), "unknown"), 0.3) for p in pairs])
    part = np.tile(np.linspace(SYSTEM_FROM, 1 - SYSTEM_FROM, PAIR_STEPS), len(pairs))
    chosen = np.repeat([[builder.law.index[a], builder.law.index[b]] for a, b in pairs], PAIR_STEPS, axis=0)
    _add_supports(builder, "pair", chosen, np.stack([part, 1 - part], axis=1), np.repeat(weight, PAIR_STEPS))


def _add_triples(builder: _Builder) -> None:
    """Adds arbitrary triples: points spread evenly over triples and over the compositions of each triple."""
    metals = [builder.law.index[s] for s in _free_metals(builder.tables)]
    triples = np.array(list(itertools.combinations(metals, 3)))
    u = even_points(TRIPLE_POINTS, 3)
    root = np.sqrt(u[:, 1])
    parts = np.stack([1 - root, root * (1 - u[:, 2]), root * u[:, 2]], axis=1)
    parts = SYSTEM_FROM + (1 - 3 * SYSTEM_FROM) * parts
    _add_supports(builder, "triple", triples[(u[:, 0] * len(triples)).astype(int)], parts, np.ones(TRIPLE_POINTS))


def _add_supports(builder: _Builder, name: str, metals: Index, parts: Array, weight: Array) -> None:
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
    builder = _Builder(tables)
    for r in regions:
        limits = _cored_up(r.limits)
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


def _own_metals(builder: _Builder, w: Array, region: Region) -> Mask:
    """Metals that belong to the system whatever their share: the region's own, or those of the first family that fits.

    The middle of the limits says little: gold 900 may hold up to 10 % of silver or of copper, and few coins hold both.
    """
    if region.own:
        return builder.metals(region.own)
    a, low, high, first, named, own = _limits_of_families(builder.tables)
    total = 100 * w @ a.T
    kept = (total >= low - SLACK) & (total <= high + SLACK)
    inside = np.logical_and.reduceat(kept, first, axis=1) & (100 * w @ ~named.T <= OTHERS)
    return np.asarray(np.where(inside.any(axis=1, keepdims=True), own[inside.argmax(axis=1)], False))


@cache
def _limits_of_families(tables: Tables) -> tuple[Array, Array, Array, Index, Mask, Mask]:
    """Limits of all families as rows ``low <= a x <= high``, and of each family its first row and two sets of metals.

    The first set is that of the metals with limits, the second that of its system.
    """
    builder, parts, named, own = _Builder(tables), [], [], []
    for family in tables.families.values():
        parts.append(_inequalities(builder.law.symbols, family.limits))
        named.append(parts[-1][0].any(axis=0))
        own.append(builder.metals(family.system.split()))
    first = np.cumsum([0, *(len(low) for _, low, _ in parts[:-1])])
    a, low, high = (np.concatenate(each) for each in zip(*parts, strict=True))
    return a, low, high, first, np.array(named), np.array(own)


def _cored_up(limits: Limits) -> Limits:
    """Limits in which the balance metal can take up what the others leave."""
    first = next(iter(limits))
    rest = sum(low for s, (low, _) in limits.items() if s != first and "+" not in s)
    low, high = limits[first]
    return {**limits, first: (min(low, 100 - rest), high)}


def joined_bodies(parts: Sequence[Bodies]) -> Bodies:
    """Several sets of bodies over one mixing law joined into one; families, grades and systems are renumbered."""
    systems: dict[tuple[str, ...], int] = {}
    families, grades, family, grade, system = 0, 0, [], [], []
    for b in parts:
        family.append(b.family + families)
        grade.append(np.where(b.grade >= 0, b.grade + grades, -1))
        system.append(np.array([systems.setdefault(s, len(systems)) for s in b.systems], dtype=np.intp)[b.system])
        families, grades = families + len(b.names), grades + len(b.grades)
    columns = {
        name: np.concatenate([getattr(b, name) for b in parts])
        for name in ("w", "v", "sigma", "resistivity", "u_resistivity", "magnetic", "weight", "coarse")
    }
    return Bodies(
        parts[0].law,
        tuple(itertools.chain.from_iterable(b.names for b in parts)),
        tuple(itertools.chain.from_iterable(b.grades for b in parts)),
        tuple(systems),
        family=np.concatenate(family),
        grade=np.concatenate(grade),
        system=np.concatenate(system),
        parts=tuple(parts),
        **columns,
    )
