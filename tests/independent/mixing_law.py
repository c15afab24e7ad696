"""Leave-one-out errors of the mixing law and of the resistivity rule, beside those of the ideal rule.

Run: ``python tests/independent/mixing_law.py [--csv FILE] [--jobs 2] [--write]``

Each grade's composition is dropped from grades and points, the pair terms are fitted again, and the grade
is predicted. Density: error of the law and of the ideal rule. Resistivity: error of the rule, for grades
with a published conductivity. Grades marked "computed" judge nothing.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Collection
from concurrent.futures import ProcessPoolExecutor
from dataclasses import astuple, dataclass, fields
from pathlib import Path

import numpy as np

from alloysolve.alloys.bodies import RESISTIVITY_SCATTER
from alloysolve.alloys.law import law_with
from alloysolve.physics.resistivity import iacs_from_resistivity
from alloysolve.published.load import default_tables
from alloysolve.published.metals import READ_MARKS, Mark
from tables.fit.pairs import pair_rows

T_4 = 2.776 / 2**0.5  # 97.5 % point of Student's t with 4 degrees of freedom and standard deviation 1
CLASS_COUNTS = 4  # grades that the expectation of a class counts as
LEAST = 0.1  # percent
THREE_DIGITS: tuple[Mark, ...] = ("three digits",)
PURE = 99.5  # mass percent of one metal from which a grade is no alloy


@dataclass(frozen=True)
class Error:
    """Errors of one grade in percent of the published value; `resistivity` is None without one.

    `u_terms` : relative uncertainty of density by the pair terms left, percent.
    """

    grade: str
    family: str
    mark: Mark
    alloy: bool
    density: float
    ideal: float
    resistivity: float | None
    u_resistivity: float | None
    u_terms: float


def error_of(name: str) -> Error:
    """Leaves one grade out and predicts it."""
    tables = default_tables()
    g = tables.grades[name]
    law = law_with(tables, pair_rows(tables, [g.composition]))
    w = law.fractions([g.composition], tables.families[g.family].iron)
    density = 1 / law.specific_volume(w)[0]
    part = w[:, law.molar_volume > 0]  # interstitials have mass and no volume
    own = (law.molar_mass / np.where(law.molar_volume > 0, law.molar_volume, np.inf))[law.molar_volume > 0]
    ideal = 1 / (part[0] / own).sum()
    rho = u = None
    if g.conductivity_iacs:
        predicted, scatter = law.resistivity_of(w)
        rho = float(100 * (predicted[0] / iacs_from_resistivity(g.conductivity_iacs) - 1))
        u = float(100 * np.hypot(scatter[0], RESISTIVITY_SCATTER))
    of_law, of_ideal = (float(100 * (d / g.density_g_cm3 - 1)) for d in (density, ideal))
    return Error(
        name,
        g.family,
        g.mark,
        max(g.composition.values()) < PURE,
        of_law,
        of_ideal,
        rho,
        u,
        float(100 * law.u_pairs(w)[0]),
    )


def coverage(errors: list[Error], label: str, marks: Collection[Mark]) -> None:
    """Prints how many grades lie inside their nominal 95 % range, and how wide that is.

    Student's t with 4 degrees of freedom on the family's scatter, as the residuals of its other grades give it, and
    that of the pair terms left.
    """
    mine = [e for e in errors if e.mark in marks]
    widths = [T_4 * np.hypot(scatter_of(e.family, [o for o in errors if o is not e]), e.u_terms) for e in mine]
    inside = np.mean([abs(e.density) <= w for e, w in zip(mine, widths, strict=True)])
    width = np.median(widths)
    print(f"{label}: {100 * inside:.0f} % of {len(mine)} inside the 95 % range; median half width {width:.2f} %")
    rho = [(e.resistivity, T_4 * e.u_resistivity) for e in mine if e.alloy and e.resistivity is not None]
    if rho:
        inside = np.mean([abs(error) <= half for error, half in rho])
        print(
            f"  resistivity of alloys: {100 * inside:.0f} % of {len(rho)}; "
            f"median half width {np.median([half for _, half in rho]):.1f} %"
        )


def rms(values: list[float]) -> float:
    """Root of the mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def per_family(errors: list[Error]) -> None:
    """Prints one line per family."""
    families = default_tables().families
    print(
        f"{'family':24s}{'n':>3s}{'rms':>7s}{'ideal':>7s}{'class':>7s}{'sigma':>7s}{'n rho':>7s}{'rms rho':>9s}  worst"
    )
    for family, row in families.items():
        mine = [e for e in errors if e.family == family and e.mark != "computed"]
        if not mine:
            continue
        rho = [e.resistivity for e in mine if e.resistivity is not None]
        worst = max(mine, key=lambda e: abs(e.density))
        law, ideal = rms([e.density for e in mine]), rms([e.ideal for e in mine])
        of_rho = rms(rho) if rho else float("nan")
        print(
            f"{family:24s}{len(mine):3d}{law:7.2f}{ideal:7.2f}{row.class_sigma_percent:7.2f}{row.sigma_percent:7.2f}"
            f"{len(rho):7d}{of_rho:9.1f}"
            f"  {worst.grade} {worst.density:+.2f}"
        )


def scatters(errors: list[Error]) -> dict[str, float]:
    """Scatter [%] per family from the residuals left out, shrunk towards that of its class (tables/README.md).

    sigma^2 = (n rms^2 + 4 class^2) / (n + 4), never below 0.1; families without a grade keep that of their class.
    """
    return {name: round(scatter_of(name, errors), 2) for name in default_tables().families}


def scatter_of(family: str, errors: list[Error]) -> float:
    """Scatter [%] of one family."""
    mine = [e.density for e in errors if e.family == family and e.mark != "computed"]
    whole = sum(x * x for x in mine) + CLASS_COUNTS * default_tables().families[family].class_sigma_percent ** 2
    return max(float(np.sqrt(whole / (len(mine) + CLASS_COUNTS))), LEAST)


def write_scatters(found: dict[str, float]) -> None:
    """Puts them into families.csv."""
    path = Path(__file__).parents[2] / "tables" / "families.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows({**row, "sigma_percent": found[row["family"]]} for row in rows)


def summary(errors: list[Error]) -> None:
    """Prints median and 90th percentile of absolute errors."""
    heading = "percent of the published value"
    print(f"\n{heading:34s}{'n':>4s}{'median':>8s}{'90 %':>7s}{'ideal':>8s}{'90 %':>7s}")
    for label, marks, alloys_only in (
        ("three digits", THREE_DIGITS, False),
        ("three digits, alloys", THREE_DIGITS, True),
        ("all that were read", READ_MARKS, False),
    ):
        mine = [e for e in errors if e.mark in marks and (e.alloy or not alloys_only)]
        law, ideal = np.abs([e.density for e in mine]), np.abs([e.ideal for e in mine])
        print(
            f"density, {label:25s}{len(mine):4d}{np.median(law):8.2f}{np.percentile(law, 90):7.2f}"
            f"{np.median(ideal):8.2f}{np.percentile(ideal, 90):7.2f}"
        )
    rho = [e for e in errors if e.mark != "computed" and e.resistivity is not None and e.alloy]
    size = np.abs([e.resistivity for e in rho if e.resistivity is not None])
    print(f"{'resistivity, alloys':34s}{len(rho):4d}{np.median(size):8.1f}{np.percentile(size, 90):7.1f}")


def main() -> None:
    """Runs over all grades."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--csv", type=Path, help="writes every error to this file")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--write", action="store_true", help="writes the scatter of each family into families.csv")
    given = parser.parse_args()
    with ProcessPoolExecutor(given.jobs) as pool:
        errors = list(pool.map(error_of, default_tables().grades, chunksize=8))
    per_family(errors)
    summary(errors)
    coverage(errors, "three digits", THREE_DIGITS)
    coverage(errors, "all that were read", READ_MARKS)
    if given.write:
        write_scatters(scatters(errors))
    if given.csv:
        with given.csv.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow([f.name for f in fields(Error)])
            writer.writerows(astuple(e) for e in errors)


if __name__ == "__main__":
    main()
