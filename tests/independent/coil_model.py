"""A coil over layers of metal (Dodd and Deeds 1968) against the plane wave of `alloysolve.physics.eddy`.

    python tests/independent/coil_model.py

The meter of the model is set up on thick bare metals: from the complex change of the coil's impedance it finds the
conductivity and the distance of the thick bare metal that would give the same change. A second meter keeps the
distance and goes by the phase alone. Coils have winding widths and heights of real probes; the piece is wide.
Dodd and Deeds, J. Appl. Phys. 39 (1968) 2829.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import quad_vec
from scipy.optimize import brentq, root
from scipy.special import ellipe, ellipk, j0, j1, struve

from alloysolve.physics.eddy import MU_0, apparent_conductivity, depth_of_penetration, model_uncertainty

IACS = 0.58  # MS/m per %IACS


@dataclass(frozen=True)
class Coil:
    """Radii, height and distance from the metal [mm]; one turn is enough, the ratio of impedances counts."""

    inner: float
    outer: float
    height: float
    lift: float


COILS = {
    "wide, 12 mm": Coil(3.0, 6.0, 2.0, 0.3),
    "usual, 8 mm": Coil(2.0, 4.0, 1.5, 0.3),
    "small, 4 mm": Coil(1.0, 2.0, 1.0, 0.2),
}


def winding(x: np.ndarray) -> np.ndarray:
    """Integral of t J1(t) from 0 to x, by Struve functions."""
    return np.pi * x / 2 * (j1(x) * struve(0, x) - j0(x) * struve(1, x))


def nodes(coil: Coil, panels: int = 60, top: float = 60.0) -> tuple[np.ndarray, np.ndarray]:
    """Spatial frequencies [1/m] and weights of the coil, without the distance: Gauss-Legendre by panels."""
    x, w = np.polynomial.legendre.leggauss(12)
    edges = np.linspace(0, top / (coil.outer * 1e-3), panels + 1)
    half = np.diff(edges)[:, None] / 2
    a = (edges[:-1, None] + half * (1 + x)).ravel()
    return a, (half * w).ravel() * weight(coil, a)


def weight(coil: Coil, a: np.ndarray) -> np.ndarray:
    """What multiplies the reflection in the change of inductance [H per turn squared], without the distance."""
    r1, r2, h = coil.inner * 1e-3, coil.outer * 1e-3, coil.height * 1e-3
    source = (winding(a * r2) - winding(a * r1)) / a**3 * -np.expm1(-a * h)
    return np.pi * MU_0 * source**2 / ((r2 - r1) * h) ** 2


def reflection(a: np.ndarray, layers, frequency: float) -> np.ndarray:
    """Reflection of the field of each spatial frequency; layers (MS/m, um, mu_r) from the surface, air behind."""
    u = a.astype(complex)
    for sigma, thickness, mu in reversed(layers):
        k = np.sqrt(a**2 + 2j * np.pi * frequency * MU_0 * mu * sigma * 1e6)
        own = k / mu
        back = np.exp(-2 * k * min(thickness, 1e6) * 1e-6) * (own - u) / (own + u)
        u = own * (1 - back) / (1 + back)
    return (a - u) / (a + u)


def change(coil: Coil, grid, layers, frequency: float, extra: float = 0.0) -> complex:
    """Change of inductance by the metal [H per turn squared]; `extra` distance in mm."""
    a, w = grid
    return complex(np.sum(w * np.exp(-2 * a * (coil.lift + extra) * 1e-3) * reflection(a, layers, frequency)))


def thick(sigma: float):
    return [(sigma, np.inf, 1.0)]


def by_both(coil: Coil, grid, layers, frequency: float, start: float) -> float:
    """Conductivity [MS/m] of the thick metal that, at some distance, gives the same complex change."""
    seen = change(coil, grid, layers, frequency)

    def miss(p):
        d = (change(coil, grid, thick(np.exp(p[0])), frequency, p[1]) - seen) / abs(seen)
        return [d.real * 30, d.imag * 300]

    found = root(miss, [np.log(start), 0.0], tol=1e-11)
    return float(np.exp(found.x[0])) if max(np.abs(found.fun)) < 1e-6 else np.nan


def by_phase(coil: Coil, grid, layers, frequency: float) -> float:
    """Conductivity [MS/m] of the thick metal at the same distance whose change has the same phase."""
    seen = np.angle(-change(coil, grid, layers, frequency))

    def miss(log_sigma):
        return np.angle(-change(coil, grid, thick(np.exp(log_sigma)), frequency)) - seen

    low, high = np.log(0.01), np.log(2000.0)
    return float(np.exp(brentq(miss, low, high))) if miss(low) * miss(high) < 0 else np.nan


def compare(layers, frequency: float, name: str, base: float) -> np.ndarray:
    """One line: plane wave, its stated uncertainty, and how far each coil and meter is from it; all in per cent."""
    s, d, mu = (np.array(c, dtype=float) for c in zip(*layers, strict=True))
    plane = float(apparent_conductivity(s, d, mu, frequency))
    u = 100 * float(model_uncertainty(s, d, mu, frequency))
    off = []
    for coil in COILS.values():
        grid = nodes(coil)
        for seen in (by_both(coil, grid, layers, frequency, plane), by_phase(coil, grid, layers, frequency)):
            off.append(100 * (seen / plane - 1))
    line = " ".join(f"{x:+7.2f}" for x in off)
    print(f"{name:34s}{frequency / 1e3:6.0f}{base / IACS:7.1f}{plane / IACS:8.2f}{u:6.1f}   {line}")
    return np.array([*off, u])


def check_quadrature() -> None:
    """Against an adaptive rule, a published inductance and the image coil of a perfect conductor."""
    coil = COILS["usual, 8 mm"]
    layers = [(60.0, 10.0, 1.0), (16.0, 500.0, 1.0)]

    def integrand(x):
        a = np.array([x / 4e-3])
        z = weight(coil, a) * np.exp(-2 * a * coil.lift * 1e-3) * reflection(a, layers, 60e3)
        return np.array([z[0].real, z[0].imag]) / 4e-3

    exact, _ = quad_vec(integrand, 1e-9, 60, epsabs=0, epsrel=1e-10)
    fast = change(coil, nodes(coil), layers, 60e3)
    print(f"quadrature: relative difference {abs(fast / complex(*exact) - 1):.1e}")

    brooks = Coil(10.0, 20.0, 10.0, 0.0)  # r1 = c, r2 = 2c, height c: L = 1.6994 a N^2 uH/m, a = 1.5 c (Grover 1946)
    a, w = nodes(brooks, 2000, 2000.0)
    h = brooks.height * 1e-3
    own = np.sum(w * 2 * (a * h + np.expm1(-a * h)) / np.expm1(-a * h) ** 2)
    print(f"Brooks coil: {own / 15e-3 * 1e6:.4f} uH/m, published 1.6994")

    c = Coil(3.015, 5.46, 2.94, 1.32)
    image = change(c, nodes(c), [(1e14, np.inf, 1.0)], 1e3).real
    print(f"perfect conductor: {-image * 900**2 * 1e3:.5f} mH, filaments {filaments(c, 24) * 900**2 * 1e3:.5f} mH")


def filaments(coil: Coil, n: int) -> float:
    """Mutual inductance of a coil and its mirror image by Maxwell's formula for two loops [H per turn squared]."""
    x, w = np.polynomial.legendre.leggauss(n)
    r = (coil.inner + coil.outer) / 2 + (coil.outer - coil.inner) / 2 * x
    z = coil.lift + coil.height / 2 * (1 + x)
    r1, r2, z1, z2 = (g * 1e-3 for g in np.meshgrid(r, r, z, z, indexing="ij"))
    m = 4 * r1 * r2 / ((r1 + r2) ** 2 + (z1 + z2) ** 2)
    k = np.sqrt(m)
    loops = MU_0 * np.sqrt(r1 * r2) * ((2 / k - k) * ellipk(m) - 2 / k * ellipe(m))
    return float(np.einsum("ijkl,i,j,k,l->", loops, w, w, w, w) / 16)


def table(title: str, rows) -> None:
    print(f"\n{title}\n{'':34s}   kHz   core   plane   u %   coil less plane in %: two-way and phase, each coil")
    groups: dict[str, list[np.ndarray]] = {}
    for name, layers, frequency, base in rows:
        groups.setdefault(name.split(":")[0], []).append(compare(layers, frequency, name, base))
    for name, lines in groups.items():
        off, u = np.array(lines)[:, :-1], np.array(lines)[:, -1:]
        rms = [np.sqrt(np.nanmean(x**2)) for x in (off[:, ::2], off[:, 1::2], off / u)]
        worst = np.nanmax(np.abs(off / u))
        print(
            f"    {name}: rms two-way {rms[0]:.1f} %, phase {rms[1]:.1f} %; over u: rms {rms[2]:.2f}, worst {worst:.1f}"
        )


def plates():
    """Bare plates by thickness over depth of penetration."""
    for ratio in (4.0, 3.0, 2.5, 2.0, 1.5, 1.2, 1.0, 0.7):
        for iacs, f in ((100.0, 60e3), (28.0, 60e3), (28.0, 480e3), (5.0, 60e3), (5.0, 480e3)):
            s = iacs * IACS
            d = ratio * float(depth_of_penetration(s, f))
            yield f"plate {ratio:.1f} delta: {d:.0f} um", [(s, d, 1.0)], f, s


def skins():
    """Skins on thick cores."""
    for name, skin, iacs in (
        ("silver on brass", 105.0, 28.0),
        ("silver on nickel silver", 105.0, 5.5),
        ("gold on tungsten", 75.0, 31.0),
        ("tin on copper", 15.0, 100.0),
    ):
        for um in (5.0, 10.0, 20.0, 50.0, 200.0):
            for f in (60e3, 480e3):
                yield (
                    f"{name}: {um:.0f} um",
                    [(skin * IACS, um, 1.0), (iacs * IACS, np.inf, 1.0)],
                    f,
                    iacs * IACS,
                )


def strikes():
    """A nickel strike on brass under silver."""
    for um in (2.0, 5.0):
        for mu in (4.0, 12.0, 50.0, 100.0):
            for f in (60e3, 480e3):
                layers = [(105 * IACS, 10.0, 1.0), (14.4, um, mu), (28 * IACS, np.inf, 1.0)]
                yield f"nickel strike: {um:.0f} um, mu_r {mu:.0f}", layers, f, 28 * IACS


if __name__ == "__main__":
    check_quadrature()
    print("coils: " + ", ".join(COILS))
    table("Bare plates, air behind", plates())
    table("Skins on thick cores", skins())
    table("Nickel strike of 14.4 MS/m under 10 um silver on brass", strikes())
