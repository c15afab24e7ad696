"""Regenerates attenuation.csv and lines.csv from xraydb: python tables/make_attenuation.py [FOLDER]."""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import xraydb
from numpy.typing import NDArray

from alloysolve.published.load import Tables

LOWEST_KEV, HIGHEST_KEV = (
    1.0,
    50.0,
)  # below the lightest line of lines.csv, and what the tubes of such instruments reach
TOLERANCE = 0.001  # of log-log interpolation between rows
FIRST_BY_L = 60  # from this atomic number on the L line is read: K edges lie above 43 keV
SOURCE = "elam-2002"

Array = NDArray[np.float64]


def attenuation(symbol: str, energy: Array) -> Array:
    """Total mass attenuation [cm2/g], coherent and incoherent scatter included, at energies [keV]."""
    return np.asarray(xraydb.mu_elam(symbol, energy * 1000, kind="total"))


def jump(symbol: str, edge: float) -> tuple[float, float]:
    """Energies [keV], at most 0.2 eV apart, on both sides of the step of the compilation near an edge."""
    low, high = round(edge - 0.01, 4), round(edge + 0.01, 4)
    while high - low > 0.00021:
        middle = round((low + high) / 2, 4)
        below, at, above = np.log(attenuation(symbol, np.array([low, middle, high])))
        low, high = (low, middle) if abs(at - below) > abs(above - at) else (middle, high)
    return low, high


def thinned(x: Array, y: Array) -> Iterable[int]:
    """Indices of the points from which straight lines pass all others within `TOLERANCE`, the last point left out."""
    away = np.abs(y[0] + (y[-1] - y[0]) * (x - x[0]) / (x[-1] - x[0]) - y)
    worst = int(away.argmax())
    if away[worst] <= TOLERANCE:
        return [0]
    return [*thinned(x[: worst + 1], y[: worst + 1]), *(worst + i for i in thinned(x[worst:], y[worst:]))]


def grid(symbol: str) -> Array:
    """Energies [keV] of the rows of an element, with two at each absorption edge."""
    edges = [edge.energy / 1000 for edge in xraydb.xray_edges(symbol).values()]
    steps = [e for edge in edges if LOWEST_KEV < edge < HIGHEST_KEV for e in jump(symbol, edge)]
    energy = np.unique([*np.geomspace(LOWEST_KEV, HIGHEST_KEV, 2000).round(4), *steps])
    kept = [*thinned(np.log(energy), np.log(attenuation(symbol, energy))), -1]
    return np.asarray(energy[kept])


def line_row(symbol: str) -> list[str] | None:
    """Main line of an element and the edge behind it, or None below `LOWEST_KEV`."""
    line, edge = ("Ka1", "K") if xraydb.atomic_number(symbol) < FIRST_BY_L else ("La1", "L3")
    lines = xraydb.xray_lines(symbol)
    if line not in lines or lines[line].energy < 1000 * LOWEST_KEV:
        return None
    energies = [f"{e / 1000:.4f}" for e in (lines[line].energy, xraydb.xray_edge(symbol, edge).energy)]
    return [symbol, line, energies[0], edge, energies[1], SOURCE]


def write(path: Path, header: str, rows: Iterable[list[str]]) -> None:
    """Writes one table."""
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([header.split(","), *rows])


def main(target: Path) -> None:
    """Writes attenuation.csv and lines.csv into a folder, for every element of metals.csv."""
    symbols = [symbol for symbol in Tables().metals if "-" not in symbol]
    rows = [
        [symbol, f"{energy:.4f}", f"{value:.5g}", SOURCE]
        for symbol in symbols
        for energy, value in zip(grid(symbol), attenuation(symbol, grid(symbol)), strict=True)
    ]
    write(target / "attenuation.csv", "symbol,energy_keV,attenuation_cm2_g,source", rows)
    lines = [row for row in map(line_row, symbols) if row]
    write(target / "lines.csv", "symbol,line,energy_keV,edge,edge_keV,source", lines)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
