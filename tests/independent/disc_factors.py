"""The factors of disc_factors.csv by thick plate theory, and the bar formulas against the equations of elasticity.

    python tests/independent/disc_factors.py

Discs: Mindlin's plate (shear and rotation, shear factor pi^2 / 12) in closed form with Bessel functions: another
theory and other mathematics than the powers of make_disc_factors.py. Mindlin, J. Appl. Mech. 18 (1951) 31; edge
conditions of a free disc as in Irie, Yamada and Takagi, J. Appl. Mech. 49 (1982) 633; both from memory.
Bars: Rayleigh and Ritz with powers for a box; the formulas of ASTM E1876 are fits to bars and know no plates.
"""

from __future__ import annotations

import runpy
from functools import cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import ivp, jvp

from alloysolve.physics.resonance import bar_flexure, bar_torsion
from alloysolve.published.load import default_tables, folder

RITZ = runpy.run_path(str(folder() / "make_disc_factors.py"))
SHEAR = np.pi**2 / 12


def bessel(n: int, square: float, order: int) -> tuple[float, float, float]:
    """Value, slope and second slope at r = 1 of the regular solution of Bessel's equation with that square."""
    x, f = np.sqrt(abs(square)), jvp if square > 0 else ivp
    return f(n, x, 0), x * f(n, x, 1), x * x * f(n, x, 2)


def edge_determinant(frequency: float, n: int, poisson: float, ratio: float) -> float:
    """Zero where a disc of radius 1 has no moment, no twisting moment and no shear force at its edge."""
    rotation, shear = ratio**2 / 12, ratio**2 / (6 * (1 - poisson) * SHEAR)  # h^2 / 12 and D / (kappa G h)
    w4 = frequency**2  # rho h omega^2 / D
    root = np.sqrt((rotation - shear) ** 2 + 4 / w4)
    squares = [w4 / 2 * (rotation + shear + root), w4 / 2 * (rotation + shear - root)]
    common = rotation * w4 - 1 / shear
    third = 2 / (1 - poisson) * common
    columns = []
    for own, other in (squares, squares[::-1]):
        slope = other / common - 1  # rotation over slope of the deflection
        v, d, dd = bessel(n, own, n)
        moment = slope * (dd + poisson * (d - n * n * v))
        twist = slope * -2 * n * (d - v)
        columns.append([moment, twist, (slope + 1) * d])
    v, d, dd = bessel(n, third, n)
    columns.append([(1 - poisson) * n * (d - v), -(n * n * v + dd - d), n * v])
    matrix = np.array(columns).T
    if n == 0:
        matrix = matrix[np.ix_([0, 2], [0, 1])]
    return float(np.linalg.det(matrix / np.abs(matrix).max(axis=0)))


def mindlin(mode: str, poisson: float, ratio: float, near: float) -> float:
    """Factor K by thick plate theory, the root nearest to the factor of the table."""
    n = int(mode.split(",")[0])
    return float(brentq(edge_determinant, 0.94 * near, 1.06 * near, args=(n, poisson, ratio)))


def discs() -> None:
    """Largest difference by mode and thickness, over all Poisson's ratios."""
    print("discs: thick plate theory over the table, least and greatest, percent")
    rows = [r for r in default_tables().rows("disc_factors") if r.thickness_over_radius > 0]
    for mode in dict.fromkeys(r.mode for r in rows):
        for ratio in (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5):
            some = [r for r in rows if r.mode == mode and r.thickness_over_radius == ratio]
            away = [100 * (mindlin(mode, r.poisson, ratio, r.factor) / r.factor - 1) for r in some]
            print(f"  ({mode})  h/r {ratio:4.2f}  {min(away):+.2f} to {max(away):+.2f}")


def box_integral(length: float, width: float, thickness: float):
    """Integral of x^p y^q z^r over a box about the origin."""
    sizes = (length, width, thickness)

    @cache
    def integral(p: int, q: int, r: int) -> float:
        if p % 2 or q % 2 or r % 2:
            return 0.0
        return float(np.prod([2 * (s / 2) ** (k + 1) / (k + 1) for s, k in zip(sizes, (p, q, r), strict=True)]))

    return integral


def bars() -> None:
    """The formulas against elasticity, for slim bars, bars of the trade and nearly square ones."""
    print("bars: length x width x thickness, formula over elasticity, percent: bending, torsion")
    for sizes in ((100, 10, 5), (50, 10, 3), (50, 28, 2.6), (50, 25, 5), (117, 53, 8.7), (40, 23.5, 2), (50, 45, 3)):
        length, width, thickness = (2 * s / sizes[0] for s in sizes)
        for poisson in (0.3, 0.37, 0.42):
            integral = box_integral(length, width, thickness)
            true = []
            for parity in ((0, 0), (1, 1)):
                f = RITZ["angular_frequencies"](integral, poisson, parity, 14, 5) / (2 * np.pi)
                true.append(f[f > 1e-3][0])
            # modulus and density 1, lengths in half lengths of the bar: the formulas have 1e6 for GPa, g/cm3 and mm
            at = (1.0, poisson, 1.0, length, width, thickness)
            found = [float(f(*at)) / 1e6 for f in (bar_flexure, bar_torsion)]
            away = [100 * (a / b - 1) for a, b in zip(found, true, strict=True)]
            print(f"  {sizes[0]:5} x {sizes[1]:4} x {sizes[2]:3}  nu {poisson:4.2f}  {away[0]:+5.2f}  {away[1]:+5.2f}")


if __name__ == "__main__":
    discs()
    bars()
