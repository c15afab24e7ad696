"""The listing of `mixtures` against a fine composition grid, with and without a conductivity.

    python -m tests.independent.grid_triples [triples for each density, default 300]

Laws are written out pair by pair (`tests/exact/test_ranges.py: by_hand`). An end of a range that lies beyond the grid
is proven by a mixture on the line of that very share which agrees.
"""

from __future__ import annotations

import itertools
import sys

import numpy as np

from alloysolve import Conductivity, Measured, mixtures
from alloysolve.exact.density import usable_metals
from alloysolve.published.load import default_tables
from tests.exact.test_ranges import U, room, simplex

READINGS = ((8.31, 6.2), (8.70, 30.0), (10.3, 2.0), (17.46, 12.0), (7.3, 15.0))  # g/cm3, uohm cm
U_DENSITY = 0.01  # g/cm3
STEPS = 200  # of the grid
PROVEN = -1e-3  # of a range, that a mixture may be out of it: rays are straight between their nodes


def proven(share: float, k: int, metals: list[str], density: float, resistivity: float | None) -> bool:
    """Whether a mixture with this share of metal k agrees, of 20 001 on the line."""
    t = (1 - share) * np.linspace(0, 1, 20001)
    w = np.empty((len(t), 3))
    w[:, k], w[:, (k + 1) % 3], w[:, (k + 2) % 3] = share, t, 1 - share - t
    return bool(room(w, metals, density, U_DENSITY, resistivity).max() > PROVEN)


def against_grid(count: int, density: float, resistivity: float | None) -> None:
    """Prints how one listing compares for some of its triples."""
    metals = usable_metals(default_tables())
    evidence = None
    if resistivity is not None:
        evidence = [Conductivity(f"{172.41 / resistivity} %IACS", u=U * 172.41 / resistivity)]
    frame = mixtures(Measured(density, U_DENSITY, "g/cm3"), metals, ["triple"], evidence=evidence)
    rows = {row.metals: row for row in frame.itertuples()}
    triples = list(itertools.combinations(metals, 3))
    chosen = np.random.default_rng(2024).choice(len(triples), min(count, len(triples)), replace=False)
    grid, missed, only, unproven, short = simplex(3, STEPS), 0, 0, 0, [0.0]
    for triple in (list(triples[k]) for k in chosen):
        fits = grid[room(grid, triple, density, U_DENSITY, resistivity) >= 0]
        row = rows.get(" ".join(triple))
        if row is None:
            missed += bool(len(fits))
            continue
        low, high = (np.array([getattr(row, f"metal_{n}_{end}_percent") for n in (1, 2, 3)]) for end in ("low", "high"))
        if len(fits):
            short.append(max((low - 100 * fits.min(axis=0)).max(), (100 * fits.max(axis=0) - high).max()))
        only += not len(fits)
        ends = [(x / 100, k) for end in (low, high) for k, x in enumerate(end)]
        unproven += sum(not proven(share, k, triple, density, resistivity) for share, k in ends)
    reading = "" if resistivity is None else f"{resistivity:g} uohm cm"
    print(
        f"{density:6.2f} {reading:>12} {len(rows):7d} {len(chosen):9d} {missed:7d} {only:9d} "
        f"{np.quantile(short, 0.99):11.2f} {max(short):6.2f} {unproven:9d}",
        flush=True,
    )


def main() -> None:
    """Prints one row per listing."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    print(f"grid of {100 / STEPS:g} %; points that ranges end short of it, and ends of which no mixture agrees")
    print("g/cm3               listed  compared  missed  grid none   short 99 %    most  unproven")
    for density, resistivity in READINGS:
        for read in (None, resistivity):
            against_grid(count, density, read)


if __name__ == "__main__":
    main()
