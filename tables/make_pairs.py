"""Regenerates pairs.csv from the published points and grades: python tables/make_pairs.py [FOLDER]."""

from __future__ import annotations

import csv
import itertools
import sys
from dataclasses import fields
from pathlib import Path

from alloysolve.access import Pair, Tables
from alloysolve.inverse.fit import TWO_PHASE, PairFit, default_of, fit_excess, fit_resistivity, two_phase_share


def pair_rows(tables: Tables, volume: PairFit, resistance: PairFit) -> list[Pair]:
    """One row per pair of metals, then the effective terms."""
    plain = list(itertools.combinations(tables.metals, 2))
    beside = {(t.first, t.second, t.beside): t.from_percent for t in tables.rows("effective_terms")}
    rows = []
    for key in [*plain, *(k for k in volume.terms if len(k) == 3)]:
        a, b, third = (*key, "")[:3]
        k0, k1, _ = volume.terms[key]
        c0, c1, c2 = resistance.terms[a, b]
        percent = beside.get((a, b, third), beside.get((b, a, third), 0.0)) if third else 0.0
        scale = TWO_PHASE.get((a, b)) or TWO_PHASE.get((b, a)) or 0.0
        share = two_phase_share(tables, a, b, scale) if scale else 0.0
        low, high = volume.span.get((a, b), (None, None))
        rows.append(Pair(
            a, b, third, percent, default_of(tables, a, b)[0], round(k0, 4), round(k1, 4),
            round(volume.scatter[key], 4), low and round(low, 2), high and round(high, 2),
            _rounded(volume.rms_percent.get((a, b))), volume.points.get((a, b), 0), round(c0, 2), round(c1, 2),
            round(c2, 2), round(resistance.scatter[a, b], 2), round(share, 3), 100 * scale,
            resistance.points.get((a, b), 0), "fit-points" if volume.points.get((a, b), 0) else "fit-defaults",
        ))  # fmt: skip
    return rows


def _rounded(x: float | None) -> float | None:
    return None if x is None else round(x, 3)


def main(target: Path) -> None:
    """Writes pairs.csv into a folder."""
    tables = Tables()
    rows = pair_rows(tables, fit_excess(tables), fit_resistivity(tables))
    names = [f.name for f in fields(Pair)]
    with (target / "pairs.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(names)
        writer.writerows(["" if v is None else v for v in (getattr(r, n) for n in names)] for r in rows)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
