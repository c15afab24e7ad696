"""Regenerates disc_factors.csv: python tables/make_disc_factors.py [FOLDER].

Rayleigh and Ritz on the equations of elasticity, with powers of x, y and z for the displacements (Visscher, Migliori,
Bell and Reinert, J. Acoust. Soc. Am. 90 (1991) 2154; the way is cited from memory, the formulas below follow from
the energies of an elastic body). The rows of a disc without thickness solve the edge conditions of a thin free plate.
"""

from __future__ import annotations

import csv
import itertools
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import gamma, ivp, jvp

POISSON = (0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45)
RATIOS = (0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50)  # thickness over radius
# mode: nodal diameters, nodal circles; parity in x and y of the deflection; place among the modes of that parity
MODES = {"2,0": ((0, 0), 0), "0,1": ((0, 0), 1), "3,0": ((1, 0), 0)}
THIN = {"2,0": (2, 2.0, 2.8), "0,1": (0, 2.7, 3.3), "3,0": (3, 3.2, 3.8)}  # nodal diameters, where to look for the root
DEGREE, DEGREE_Z = 16, 7  # highest powers; 14 and 5 differ by 4e-4 at most, 18 and 7 by 1e-4
SOURCE = "elastic-ritz"

Array = NDArray[np.float64]
Integral = Callable[[int, int, int], float]


def disc_integral(thickness: float) -> Integral:
    """Integral of x^p y^q z^r over a disc of radius 1."""

    @cache
    def integral(p: int, q: int, r: int) -> float:
        if p % 2 or q % 2 or r % 2:
            return 0.0
        around = 2 * gamma((p + 1) / 2) * gamma((q + 1) / 2) / gamma((p + q + 2) / 2)
        return float(around / (p + q + 2) * 2 * (thickness / 2) ** (r + 1) / (r + 1))

    return integral


def powers(parity: tuple[int, int], degree: int, degree_z: int) -> list[tuple[int, tuple[int, int, int]]]:
    """Direction and powers of every term of bending modes whose deflection has that parity in x and y."""
    terms = []
    for direction in range(3):
        even_odd = [parity[0], parity[1], 1]  # of a potential whose gradient is the displacement
        even_odd[direction] ^= 1
        for term in itertools.product(range(degree + 1), range(degree + 1), range(degree_z + 1)):
            if sum(term) <= degree and all(k % 2 == e for k, e in zip(term, even_odd, strict=True)):
                terms.append((direction, term))
    return terms


def angular_frequencies(
    integral: Integral, poisson: float, parity: tuple[int, int], degree: int = DEGREE, degree_z: int = DEGREE_Z
) -> Array:
    """Angular frequencies of the bending modes of a free body with modulus and density 1, rigid motion first."""
    lame, shear = poisson / ((1 + poisson) * (1 - 2 * poisson)), 0.5 / (1 + poisson)
    terms = powers(parity, degree, degree_z)
    stiffness, mass = np.zeros((2, len(terms), len(terms)))

    def slopes(a: tuple[int, ...], i: int, b: tuple[int, ...], j: int) -> float:
        """Integral of the slope of a along i times the slope of b along j."""
        if not a[i] * b[j]:
            return 0.0
        total = [x + y for x, y in zip(a, b, strict=True)]
        total[i] -= 1
        total[j] -= 1
        return a[i] * b[j] * integral(*total)

    for m, n in itertools.combinations_with_replacement(range(len(terms)), 2):
        (i, a), (j, b) = terms[m], terms[n]
        k = lame * slopes(a, i, b, j) + shear * slopes(a, j, b, i)
        if i == j:
            k += shear * sum(slopes(a, d, b, d) for d in range(3))
            mass[m, n] = mass[n, m] = integral(*(x + y for x, y in zip(a, b, strict=True)))
        stiffness[m, n] = stiffness[n, m] = k
    scale = 1 / np.sqrt(np.diag(mass))
    values, vectors = np.linalg.eigh(mass * scale * scale[:, None])
    sound = values > 1e-11 * values[-1]  # powers are nearly dependent: leave out what rounding would decide
    base = vectors[:, sound] / np.sqrt(values[sound])
    squares = np.linalg.eigvalsh(base.T @ (stiffness * scale * scale[:, None]) @ base)
    return np.asarray(np.sqrt(np.clip(squares, 0, None)))


def thick(mode: str, poisson: float, ratio: float) -> float:
    """Factor K of a disc of that thickness over radius."""
    parity, place = MODES[mode]
    factors = angular_frequencies(disc_integral(ratio), poisson, parity) * np.sqrt(12 * (1 - poisson**2)) / ratio
    return float(factors[factors > 0.5][place])


def thin(mode: str, poisson: float) -> float:
    """Factor K of a thin plate: neither moment nor Kirchhoff's shear force at its edge."""
    n, low, high = THIN[mode]

    def edge(x: float, f: Callable[..., float], sign: int) -> tuple[float, float]:
        value, slope, second = f(n, x, 0), x * f(n, x, 1), x * x * f(n, x, 2)
        moment = second + poisson * (slope - n * n * value)
        return moment, sign * x * x * slope - (1 - poisson) * n * n * (slope - value)

    def determinant(x: float) -> float:
        (a, b), (c, d) = edge(x, jvp, -1), edge(x, ivp, 1)
        return a * d - b * c

    return float(brentq(determinant, low, high)) ** 2


def main(target: Path) -> None:
    """Writes disc_factors.csv into a folder."""
    rows = [["mode", "poisson", "thickness_over_radius", "factor", "source"]]
    for mode, poisson in itertools.product(MODES, POISSON):
        rows.append([mode, f"{poisson:.2f}", "0", f"{thin(mode, poisson):.3f}", "thin-plate"])
        rows += [[mode, f"{poisson:.2f}", f"{r:.2f}", f"{thick(mode, poisson, r):.3f}", SOURCE] for r in RATIOS]
    with (target / "disc_factors.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
