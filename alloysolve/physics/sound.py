"""Speed of sound through the thickness of a piece. Arrays broadcast.

Speeds are in m/s, moduli in GPa, densities in g/cm3, lengths in mm, times in us.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from .elastic import bulk_and_shear

M_S = 1e3  # sqrt(GPa / (g/cm3)) and mm/us are km/s
SCATTER = 0.03  # relative, of published speeds of one metal; common practice, no source


def longitudinal_speed(modulus: ArrayLike, poisson: ArrayLike, density: ArrayLike) -> Array:
    """Speed of the pressure wave that a thickness gauge times [m/s].

    ``c = sqrt((K + 4 G / 3) / rho) = sqrt(E (1 - nu) / (rho (1 + nu) (1 - 2 nu)))``

    Parameters
    ----------
    modulus : E [GPa]. poisson : nu, below 0.5. density : [g/cm3].

    Near nu = 0.4 an error of 0.01 in nu moves c by 2 %, see `speed_uncertainty`. Source: waves in an isotropic solid,
    ASTM E494 (from memory).

    >>> round(float(longitudinal_speed(82.7, 0.367, 10.49)), -1)  # silver; published 3650
    3700.0
    """
    k, g = bulk_and_shear(modulus, poisson)
    return np.asarray(M_S * np.sqrt((k + 4 * g / 3) / np.asarray(density, dtype=float)))


def speed_from_time(thickness: ArrayLike, time: ArrayLike) -> Array:
    """Speed of sound [m/s] from the thickness [mm] and the time of an echo there and back [us]: ``c = 2 d / t``.

    >>> float(speed_from_time(2.5, 1.25))
    4000.0
    """
    return np.asarray(M_S * 2 * np.asarray(thickness, dtype=float) / np.asarray(time, dtype=float))


def speed_from_gauge(shown: ArrayLike, true: ArrayLike, set_speed: ArrayLike) -> Array:
    """Speed of sound in a piece of known thickness from what a gauge shows on it [m/s]: ``c = c_set d / d_shown``.

    Parameters
    ----------
    shown : what the gauge shows [mm]. true : thickness at the place where it was put on [mm].
    set_speed : speed to which the gauge is set [m/s].

    A gauge shows ``c_set t / 2``. On a struck piece `true` must be the thickness of the field, not that over the rim.
    Source: pulse-echo gauges, EN 14127 (from memory).

    >>> round(float(speed_from_gauge(2.9, 3.88, 3240.0)))
    4335
    """
    s, d, c = (np.asarray(x, dtype=float) for x in (shown, true, set_speed))
    return np.asarray(c * d / s)


def layered_speed(thickness: ArrayLike, speed: ArrayLike) -> Array:
    """Mean speed of sound through layers [m/s], (...): ``sum d_i / sum (d_i / c_i)``.

    Parameters
    ----------
    thickness : of the layers, any unit, (..., layers). speed : [m/s], (..., layers).

    This holds where the echo comes from the back. An echo from an inner face makes the piece seem too thin.

    >>> round(float(layered_speed([1.0, 1.0], [3000.0, 6000.0])))
    4000
    """
    d, c = np.broadcast_arrays(np.asarray(thickness, dtype=float), np.asarray(speed, dtype=float))
    return np.asarray(d.sum(axis=-1) / (d / c).sum(axis=-1))


def speed_uncertainty(
    poisson: ArrayLike, u_poisson: ArrayLike, modulus: ArrayLike = 0.0, density: ArrayLike = 0.0
) -> Array:
    """Relative standard uncertainty of `longitudinal_speed`, never below the scatter of published speeds, 3 %.

    It is the root sum of squares of half of each of u(E)/E, u(rho)/rho and
    ``|2 / (1 - 2 nu) - 1 / (1 - nu) - 1 / (1 + nu)| u(nu)``.

    Parameters
    ----------
    poisson : nu. u_poisson : u(nu). modulus, density : relative standard uncertainty of each.

    Source: the law of propagation, JCGM 100:2008, 5.1.2; the 3 % are common practice, no source.
    """
    nu, u_nu, e, rho = (np.asarray(x, dtype=float) for x in (poisson, u_poisson, modulus, density))
    slope = 2 / (1 - 2 * nu) - 1 / (1 - nu) - 1 / (1 + nu)
    return np.asarray(np.sqrt(SCATTER**2 + (e**2 + rho**2 + (slope * u_nu) ** 2) / 4))


def reading_uncertainty(thickness: ArrayLike, time: ArrayLike) -> Array:
    """Relative standard uncertainty of a speed, from those of the thickness and of the time or shown thickness.

    Source: the law of propagation, JCGM 100:2008, 5.1.6.

    >>> float(reading_uncertainty(0.03, 0.04))
    0.05
    """
    d, t = np.asarray(thickness, dtype=float), np.asarray(time, dtype=float)
    return np.asarray(np.sqrt(d**2 + t**2))
