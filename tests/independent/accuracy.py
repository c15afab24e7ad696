"""How often the true metal system comes first, or among the first three, for alloys the program never saw.

Run: ``python tests/independent/accuracy.py [--draws 20] [--seed 1] [--jobs 2] [--families "brass;pewter"]``

For every grade whose density was read in a source that had not computed it: its composition is dropped from the
grades, from the points of both fits and from the standard finenesses; pair terms and bodies are made again;
readings are drawn around its published density (0.5 %) and conductivity (4 %); systems are ranked by posterior
probability without a claim, bare bodies only. Strict: the system exactly as of the grade. Tolerant: metals of 3 to
7 % are free to be in or out. The oracle is told the published figures of every grade and ranks grades by
likelihood.
"""

from __future__ import annotations

import argparse
import csv
from collections import Counter
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np

from alloysolve.alloys.bodies import RESISTIVITY_SCATTER
from alloysolve.alloys.families import all_bodies
from alloysolve.alloys.law import mixing_law
from alloysolve.alloys.materials import layers_of
from alloysolve.alloys.regions import standard_compositions
from alloysolve.inference.commonness import DEFAULT, family_weights
from alloysolve.inference.observe import circumstances_of
from alloysolve.inference.prior import Prior, prior_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral.believed import Believed
from alloysolve.integral.evidence import Evidence
from alloysolve.integral.solver import Solver
from alloysolve.physics.resistivity import iacs_from_resistivity
from alloysolve.pieces.constructions import HOMOGENEOUS
from alloysolve.pieces.shape import Form
from alloysolve.published.load import Tables, default_tables
from alloysolve.published.metals import READ_MARKS, Composition, Grade
from alloysolve.readings.error_model import VolumeLikelihood
from alloysolve.readings.registry import Conductivity
from tables.fit.pairs import pair_rows
from tables.fit.points import same

U_DENSITY = 0.005  # relative standard deviation of the drawn readings
U_CONDUCTIVITY = 0.04
FREE = (3.0, 7.0)  # mass percent between which the tolerant score lets a metal be in or out
PLACES = ("first", "first three")
OTHER = ("something else",)
FORM = Form("disc", (30.0, 3.0))  # of no matter to bare bodies

System = tuple[str, ...]


class LeftOut(Tables):
    """The shipped tables as if one composition had never been published."""

    def __init__(self, composition: Composition) -> None:
        super().__init__()
        self.composition = composition
        self.refitted: list[Any] = []

    def hashes(self) -> dict[str, str]:
        """Hashes of the files, and of what was left out of each."""
        return {name: f"{each} without {self.composition}" for name, each in super().hashes().items()}

    def rows(self, name: str) -> list[Any]:
        """All records of a table but those of the composition; pair terms are fitted again."""
        if name == "pairs":
            self.refitted = self.refitted or pair_rows(self)
            return self.refitted
        rows = super().rows(name)
        if name in ("grades", "density_points", "resistivity_points"):
            return [r for r in rows if not same(r.composition, self.composition)]
        if name == "claims":  # their standard finenesses are compositions of the list as well
            standard = standard_compositions(default_tables())
            return [r for r, c in zip(rows, standard, strict=True) if not same(c, self.composition)]
        return rows


def truth_of(grade: Grade) -> System:
    """The metals of the grade's family and every metal of at least 5 %."""
    own = default_tables().families[grade.family].system.split()
    total = sum(grade.composition.values())
    rich = [s for s, w in grade.composition.items() if 100 * w / total >= 5 - 1e-9 and s not in ("C", "N", "O", "H")]
    return tuple(sorted({*own, *rich}))


def alike(found: System, truth: System, composition: Composition) -> bool:
    """Whether two systems agree but for metals of 3 to 7 %."""
    free = {s for s, w in composition.items() if FREE[0] <= w <= FREE[1]}
    return set(found) ^ set(truth) <= free


@dataclass
class Score:
    """Counts of draws: all, and hits by (mode, rule, place)."""

    grade: str
    family: str
    conductivity: bool
    draws: int
    hits: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    first: Counter[tuple[str, System]] = field(default_factory=Counter)

    def add(self, mode: str, ranked: list[System], truth: System, composition: Composition) -> None:
        """Counts one draw."""
        self.first[mode, ranked[0]] += 1
        for place, count in zip(PLACES, (1, 3), strict=True):
            self.hits[mode, "strict", place] += truth in ranked[:count]
            self.hits[mode, "tolerant", place] += any(alike(s, truth, composition) for s in ranked[:count])


def ranked_systems(prior: Prior, evidence: Evidence) -> list[System]:
    """Three likeliest systems of bare bodies, "something else" among them."""
    rows = Solver(prior.bodies, evidence).rows([Believed(HOMOGENEOUS, -1, prior.homogeneous)])
    share = np.bincount(prior.bodies.system[rows.point], rows.weight, minlength=len(prior.bodies.systems))
    share = np.append(share, prior.other * evidence.other_likelihood())
    names = [*prior.bodies.systems, OTHER]
    return [names[i] for i in np.argsort(-share, kind="stable")[:3]]


@cache
def told() -> tuple[np.ndarray, np.ndarray, np.ndarray, list[System]]:
    """What the oracle knows: density, resistivity, relative u of the latter, system, per grade."""
    tables = default_tables()
    law, grades = mixing_law(tables), list(tables.grades.values())
    rho, u = [], []
    for g in grades:
        predicted, scatter = law.resistivity_of(law.fractions([g.composition], tables.families[g.family].iron))
        known = g.conductivity_iacs is not None
        rho.append(float(iacs_from_resistivity(g.conductivity_iacs)) if known else float(predicted[0]))
        u.append(0.0 if known else float(np.hypot(scatter[0], RESISTIVITY_SCATTER)))
    return (
        np.array([g.density_g_cm3 for g in grades]),
        np.array(rho),
        np.array(u),
        [truth_of(g) for g in grades],
    )


def oracle(density: float, resistivity: float | None) -> list[System]:
    """Systems of the grades, the likeliest grade first."""
    of_density, of_rho, u, systems = told()
    misfit = ((density / of_density - 1) / U_DENSITY) ** 2
    if resistivity is not None:
        total = np.hypot(u, U_CONDUCTIVITY)
        misfit += (np.log(resistivity / of_rho) / total) ** 2 + 2 * np.log(total)
    return list(dict.fromkeys(systems[i] for i in np.argsort(misfit, kind="stable")))[:3]


def score_of(name: str, draws: int, seed: int) -> Score:
    """Leaves one grade out and ranks what its drawn readings fit."""
    grade = default_tables().grades[name]
    number = list(default_tables().grades).index(name)
    rng = np.random.default_rng([seed, number])
    tables = LeftOut(grade.composition)
    prior = prior_of(tables, None, False)
    truth = truth_of(grade)
    out = Score(name, grade.family, grade.conductivity_iacs is not None, draws)
    about = circumstances_of(Piece(density=grade.density_g_cm3), Settings(), tables, FORM)
    for z_density, z_conductivity in rng.standard_normal((draws, 2)):
        density = grade.density_g_cm3 * (1 + U_DENSITY * z_density)
        v = 1 / density
        evidence = Evidence(VolumeLikelihood(v, U_DENSITY * v, 0.0), (), FORM, prior.layers)
        out.add("density", ranked_systems(prior, evidence), truth, grade.composition)
        out.add("oracle, density", oracle(density, None), truth, grade.composition)
        if grade.conductivity_iacs is None:
            continue
        iacs = grade.conductivity_iacs * (1 + U_CONDUCTIVITY * z_conductivity)
        rho = float(iacs_from_resistivity(iacs))
        read = Conductivity(f"{max(rho, 1.55)} uohm cm", f"{100 * U_CONDUCTIVITY} %").observed("conductivity", about)
        both = replace(evidence, observed=(read,))
        out.add("both", ranked_systems(prior, both), truth, grade.composition)
        out.add("oracle, both", oracle(density, rho), truth, grade.composition)
    for cached in (prior_of, all_bodies, mixing_law, layers_of):
        cached.cache_clear()  # one set of bodies per grade would fill the memory
    return out


def by_commonness(scores: Iterable[Score]) -> list[float]:
    """Weight of each grade: the family's share without a claim, evenly over its grades."""
    scores = list(scores)
    share = family_weights(default_tables(), "none", DEFAULT)
    size = Counter(s.family for s in scores)
    return [share[s.family] / size[s.family] for s in scores]


def line(label: str, scores: Iterable[Score], mode: str, weights: list[float] | None = None) -> None:
    """Prints one line: first / first three, strict and tolerant, in percent."""
    scores = list(scores)
    weights = weights or [1.0] * len(scores)
    total = sum(w * s.draws for w, s in zip(weights, scores, strict=True)) or 1.0
    cells = []
    for rule in ("strict", "tolerant"):
        hits = [sum(w * s.hits[mode, rule, place] for w, s in zip(weights, scores, strict=True)) for place in PLACES]
        cells.append(" / ".join(f"{100 * h / total:3.0f}" for h in hits))
    print(f"{label:48s}{len(scores):6d}   {cells[0]}     {cells[1]}")


def report(scores: list[Score]) -> None:
    """Prints the table, and the grades that fail."""
    known = [s for s in scores if s.conductivity]
    print(f"{'first / first three, percent of draws':48s}grades   strict        tolerant")
    line("density alone, all grades", scores, "density")
    line("density alone, grades with conductivity", known, "density")
    line("density and conductivity", known, "both")
    line("weighted by commonness: density alone, all", scores, "density", by_commonness(scores))
    line("weighted by commonness: with conductivity", known, "both", by_commonness(known))
    line("oracle, density alone, all grades", scores, "oracle, density")
    line("oracle, density alone, with conductivity", known, "oracle, density")
    line("oracle, density and conductivity", known, "oracle, both")
    print("\ngrades whose system is not among the first three in half of the draws (strict)")
    for s in scores:
        mode = "both" if s.conductivity else "density"
        share = s.hits[mode, "strict", "first three"] / s.draws
        if share < 0.5:
            found = Counter({system: n for (m, system), n in s.first.items() if m == mode}).most_common(2)
            seen = ", ".join(f"{'-'.join(system)} {n}" for system, n in found)
            print(f"  {s.grade[:40]:40s} {mode:8s}{100 * share:4.0f} %  first: {seen}")


def chosen(families: str, grades: str) -> list[str]:
    """Names of the grades to run."""
    keep = {f for f in families.split(";") if f}, {g for g in grades.split(";") if g}
    return [
        g.name
        for g in default_tables().grades.values()
        if g.mark in READ_MARKS and (not keep[0] or g.family in keep[0]) and (not keep[1] or g.name in keep[1])
    ]


def main() -> None:
    """Runs the chosen grades."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--families", default="", help="only these, separated by ;")
    parser.add_argument("--grades", default="", help="only these, separated by ;")
    parser.add_argument("--csv", type=Path, help="writes the scores of each grade to this file")
    given = parser.parse_args()
    names = chosen(given.families, given.grades)
    with ProcessPoolExecutor(given.jobs) as pool:
        scores = list(pool.map(partial(score_of, draws=given.draws, seed=given.seed), names, chunksize=4))
    report(scores)
    if given.csv:
        with given.csv.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(["grade", "family", "mode", "rule", "place", "percent"])
            writer.writerows([s.grade, s.family, *key, 100 * n / s.draws] for s in scores for key, n in s.hits.items())


if __name__ == "__main__":
    main()
