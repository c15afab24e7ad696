"""The tones of a struck piece: free discs, bars and rods. Arrays broadcast.

Moduli are in GPa, densities in g/cm3, lengths in mm, masses in g, frequencies in Hz. The thickness of a struck piece is
the mean one, computed from its mass: the rim is higher and the field is lower, but all of it vibrates.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array, Index, Mask, distinct

SLIM = 4.0  # length over thickness from which the formulas hold: of rods ASTM E1876, from memory; of bars judgement
MODEL_PLAIN, MODEL_STRUCK = 0.05, 0.08  # relative, of a predicted tone; common practice, no source
KM_S_OVER_MM = 1e6  # sqrt(GPa / (g/cm3)) is km/s; over mm it is 1e6 Hz


def mean_thickness(mass: ArrayLike, density: ArrayLike, area: ArrayLike) -> Array:
    """Mean thickness of a piece of a given mass and face [mm]: ``h = m / (rho A)``.

    Parameters
    ----------
    mass : [g]. density : [g/cm3]. area : of one face [mm2].

    >>> round(float(mean_thickness(31.1, 10.49, np.pi / 4 * 38.6**2)), 2)
    2.53
    """
    m, rho, a = (np.asarray(x, dtype=float) for x in (mass, density, area))
    return np.asarray(1e3 * m / (rho * a))


class DiscFactors(NamedTuple):
    """Factors K of the tones of a free disc on a grid, dimensionless.

    Attributes
    ----------
    modes : name of each mode: nodal diameters, nodal circles. poisson : Poisson's ratios, (n,), rising.
    ratio : thickness over radius, (m,), rising. factor : K, (modes, n, m).

    Source: tables/disc_factors.csv.
    """

    modes: tuple[str, ...]
    poisson: Array
    ratio: Array
    factor: Array


def disc_grid(mode: ArrayLike, poisson: ArrayLike, ratio: ArrayLike, factor: ArrayLike) -> DiscFactors:
    """Factors of a free disc as a grid, from the columns of a list with one factor per row; modes keep their order.

    Parameters
    ----------
    mode : names of modes. poisson : Poisson's ratio. ratio : thickness over radius. factor : K. All (rows,), no units.

    Raises
    ------
    ValueError
        Where a mode lacks a pair of Poisson's ratio and thickness over radius that another has.
    """
    names = np.asarray(mode)
    modes = tuple(dict.fromkeys(names.tolist()))
    nu, t = np.asarray(poisson, dtype=float), np.asarray(ratio, dtype=float)
    rows, columns = distinct(nu), distinct(t)
    out = np.full((len(modes), len(rows), len(columns)), np.nan)
    place = [modes.index(m) for m in names.tolist()]
    out[place, np.searchsorted(rows, nu), np.searchsorted(columns, t)] = np.asarray(factor, dtype=float)
    if np.isnan(out).any():
        raise ValueError("the factors of a disc leave out a pair of Poisson's ratio and thickness over radius")
    return DiscFactors(modes, rows, columns, out)


def disc_factor(poisson: ArrayLike, ratio: ArrayLike, grid: DiscFactors) -> Array:
    """Factors K of a free disc, dimensionless, (..., modes), by linear interpolation; NaN outside the grid.

    Parameters
    ----------
    poisson : Poisson's ratio, (...). ratio : thickness over radius, (...). grid : from `disc_grid`.

    Interpolation adds at most 0.1 %. A piece thicker than half its radius is no longer a disc.
    Source: tables/disc_factors.csv, computed by tests/independent/disc_factors.py.
    """
    nu, t = np.broadcast_arrays(np.asarray(poisson, dtype=float), np.asarray(ratio, dtype=float))
    i, u, inside = _cell(nu, grid.poisson)
    j, v, also = _cell(t, grid.ratio)
    f = grid.factor
    low, high = f[:, i, j] * (1 - v) + f[:, i, j + 1] * v, f[:, i + 1, j] * (1 - v) + f[:, i + 1, j + 1] * v
    return np.asarray(np.moveaxis(np.where(inside & also, low * (1 - u) + high * u, np.nan), 0, -1))


def _cell(x: Array, grid: Array) -> tuple[Index, Array, Mask]:
    """Cell of the grid in which each point lies, how far into it (0 to 1), and whether the grid holds the point."""
    n = np.clip(np.searchsorted(grid, x, side="right") - 1, 0, len(grid) - 2)
    return n, (x - grid[n]) / (grid[n + 1] - grid[n]), (x >= grid[0]) & (x <= grid[-1])


def disc(
    modulus: ArrayLike, poisson: ArrayLike, density: ArrayLike, mass: ArrayLike, diameter: ArrayLike, grid: DiscFactors
) -> Array:
    """Tones of a free disc [Hz], (..., modes), the modes of `grid` in its order.

    ``f = K / (2 pi r^2) sqrt(D / (rho h))``, ``D = E h^3 / (12 (1 - nu^2))``, h the mean thickness from the mass.

    Parameters
    ----------
    modulus : E [GPa]. poisson : nu. density : [g/cm3]. mass : [g]. diameter : [mm]. All (...).
    grid : factors K(nu, h/r).

    The result is NaN where h/r or nu leaves the grid. At a given mass and material, f goes with the inverse fourth
    power of the diameter. A mode with nodal diameters sounds as two close tones if the piece is not quite round, or not
    the same in all directions. Source: bending of plates; ASTM E1876 gives the same for its two modes (from memory).

    >>> factors = disc_grid(["2,0"] * 4, [0.3, 0.3, 0.4, 0.4], [0.1, 0.2, 0.1, 0.2], [5.279, 5.119, 4.942, 4.785])
    >>> disc(82.7, 0.367, 10.49, 31.1, 38.6, factors).round(-2)  # fine silver
    array([4700.])
    """
    e, nu, rho, m, d = (np.asarray(x, dtype=float) for x in (modulus, poisson, density, mass, diameter))
    h, r = mean_thickness(m, rho, np.pi / 4 * d**2), d / 2
    plate = KM_S_OVER_MM * h / r**2 * np.sqrt(e / (12 * rho * (1 - nu**2))) / (2 * np.pi)
    return np.asarray(disc_factor(nu, h / r, grid) * plate[..., None])


def bar_flexure(
    modulus: ArrayLike,
    poisson: ArrayLike,
    density: ArrayLike,
    length: ArrayLike,
    width: ArrayLike,
    thickness: ArrayLike,
) -> Array:
    """Lowest tone of a free rectangular bar that bends over its thickness [Hz].

    ``E = 0.9465 (m f^2 / b) (L^3 / t^3) T1``, with m / b = rho L t, solved for f. T1 accounts for shear and rotation.

    Parameters
    ----------
    modulus : E [GPa]. poisson : nu. density : [g/cm3]. length L, width b, thickness t : [mm].

    The result is right to 1 % if the bar is at least 1.7 times as long as wide (tests/independent/disc_factors.py), and
    up to 4 % high for a nearly square one; NaN if it is shorter than `SLIM` thicknesses. The width cancels.
    Source: ASTM E1876, from memory.
    """
    e, nu, rho, long, _, t = (np.asarray(x, dtype=float) for x in (modulus, poisson, density, length, width, thickness))
    s = _slim(t / long) ** 2
    one, two = 1 + 0.0752 * nu + 0.8109 * nu**2, 1 + 0.2023 * nu + 2.173 * nu**2
    below = 1 + 6.338 * (1 + 0.1408 * nu + 1.536 * nu**2) * s
    t1 = 1 + 6.585 * one * s - 0.868 * s**2 - 8.340 * two * s**2 / below
    return np.asarray(KM_S_OVER_MM * t / long**2 * np.sqrt(e / (0.9465 * rho * t1)))


def _slim(thickness_over_length: Array) -> Array:
    """Thickness over length; NaN where it is above that for which the formulas hold."""
    return np.where(thickness_over_length * SLIM <= 1 + 1e-9, thickness_over_length, np.nan)


def bar_torsion(
    modulus: ArrayLike,
    poisson: ArrayLike,
    density: ArrayLike,
    length: ArrayLike,
    width: ArrayLike,
    thickness: ArrayLike,
) -> Array:
    """Lowest tone of a free rectangular bar that twists [Hz], often near that of `bar_flexure`.

    ``G = 4 L m f^2 R / (b t)``, ``G = E / (2 (1 + nu))``, solved for f; parameters as there, b the longer side.

    The result is right to 1.2 % if the bar is at least 1.7 times as long as wide, and up to 5.5 % high for a nearly
    square one. Source: ASTM E1876, from memory.
    """
    e, nu, rho, long, b, t = (np.asarray(x, dtype=float) for x in (modulus, poisson, density, length, width, thickness))
    section = (1 + (b / t) ** 2) / (4 - 2.521 * t / b * (1 - 1.991 / (np.exp(np.pi * b / t) + 1)))
    ends = 0.060 * (b / long) ** 1.5 * (b / t - 1) ** 2
    r = section * (1 + 0.00851 * (b / long) ** 2) - ends
    return np.asarray(KM_S_OVER_MM / (2 * long) * np.sqrt(e / (2 * (1 + nu) * rho * r)))


def bar(
    modulus: ArrayLike, poisson: ArrayLike, density: ArrayLike, mass: ArrayLike, length: ArrayLike, width: ArrayLike
) -> Array:
    """Tones of a free bar in bending and in torsion [Hz], (..., 2).

    Parameters
    ----------
    modulus : E [GPa]. poisson : nu. density : [g/cm3]. mass : [g], which gives the mean thickness.
    length, width : [mm], the length the longer.

    Source: ASTM E1876, see `bar_flexure` and `bar_torsion`.
    """
    t = mean_thickness(mass, density, np.asarray(length, dtype=float) * np.asarray(width, dtype=float))
    sizes = (modulus, poisson, density, length, width, t)
    return np.stack(np.broadcast_arrays(bar_flexure(*sizes), bar_torsion(*sizes)), axis=-1)


def rod_flexure(
    modulus: ArrayLike, poisson: ArrayLike, density: ArrayLike, length: ArrayLike, diameter: ArrayLike
) -> Array:
    """Lowest tone of a free round rod that bends [Hz].

    ``E = 1.6067 (L^3 / d^4) m f^2 T1``, solved for f, with m from the density.

    Parameters
    ----------
    modulus : E [GPa]. poisson : nu. density : [g/cm3]. length L, diameter d : [mm].

    The result is NaN if L is below 4 d (`SLIM`). Source: ASTM E1876, from memory.

    >>> round(float(rod_flexure(100.0, 0.3, 100.0 / 3.56**2, 1000.0, 10.0)), 1)  # a textbook prints 31.691 Hz
    31.7
    """
    e, nu, rho, long, d = (np.asarray(x, dtype=float) for x in (modulus, poisson, density, length, diameter))
    s = _slim(d / long) ** 2
    one, two = 1 + 0.0752 * nu + 0.8109 * nu**2, 1 + 0.2023 * nu + 2.173 * nu**2
    below = 1 + 4.754 * (1 + 0.1408 * nu + 1.536 * nu**2) * s
    t1 = 1 + 4.939 * one * s - 0.4883 * s**2 - 4.691 * two * s**2 / below
    return np.asarray(KM_S_OVER_MM * d / long**2 * np.sqrt(e / (1.6067 * np.pi / 4 * rho * t1)))


def model_uncertainty(
    sizes: ArrayLike,
    mass: ArrayLike = 0.0,
    density: ArrayLike = 0.0,
    modulus: ArrayLike = 0.0,
    *,
    struck: bool = True,
) -> Array:
    """Relative standard uncertainty of a predicted tone, from the relative uncertainties of what it is computed from.

    It is the root sum of squares of the model (5 % plain, 8 % struck: common practice, no source), of `sizes`, of the
    mass, of 3/2 of the density and of half of the modulus.

    Parameters
    ----------
    sizes : their effect on the tone: 4 u(d)/d of a disc; 3 u(L)/L and u(b)/b of a bar in bending, 2 and 2 in torsion.
    mass, density, modulus : u of each over its value. struck : whether it has relief, a rim or rounded corners.

    All tones of one body share most of it: a wrong modulus moves them together, so it does not average away.

    >>> float(model_uncertainty(0.0, struck=False))
    0.05
    """
    model = MODEL_STRUCK if struck else MODEL_PLAIN
    s, m, rho, e = (np.asarray(x, dtype=float) for x in (sizes, mass, density, modulus))
    return np.asarray(np.sqrt(model**2 + s**2 + m**2 + (1.5 * rho) ** 2 + (e / 2) ** 2))


def nearest_peak(predicted: ArrayLike, peaks: ArrayLike) -> tuple[Index, Array]:
    """Number of the peak nearest to each predicted tone, and ``ln(peak / predicted)``, in the shape of `predicted`.

    Parameters
    ----------
    predicted : tones [Hz], any shape; NaN gives NaN. peaks : heard tones [Hz], (n,), one at least.
    """
    p, heard = np.asarray(predicted, dtype=float), np.asarray(peaks, dtype=float)
    away = np.log(heard) - np.log(p)[..., None]
    index = np.nan_to_num(np.abs(away), nan=0.0).argmin(axis=-1)
    return index, np.take_along_axis(away, index[..., None], axis=-1)[..., 0]
