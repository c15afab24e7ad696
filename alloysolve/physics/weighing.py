"""Hydrostatic weighing: density from two weighings, and what the thread adds."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from .water import SURFACE_TENSION_N_M

GRAVITY_M_S2 = 9.80665  # standard gravity, exact, 3rd CGPM 1901


def _floats(*xs: ArrayLike) -> tuple[Array, ...]:
    """The arguments as arrays of floats."""
    return tuple(np.asarray(x, dtype=float) for x in xs)


def density_from_weighing(m: ArrayLike, G: ArrayLike, rho_l: ArrayLike, rho_a: ArrayLike) -> Array:
    """Density of a piece from its mass in air and the mass of liquid it displaces [g/cm3].

    ``rho = m (rho_l - rho_a) / G + rho_a``

    Parameters
    ----------
    m : reading in air [g].
    G : gain of a tared beaker with the piece hung in it, or reading in air minus reading in liquid [g].
    rho_l, rho_a : density of liquid and air [g/cm3].

    Exact for both set-ups: the density of the balance's own weights cancels.
    Source: the hydrostatic equation, e.g. ISO 3369 (2006); derived in the tests from the forces.

    >>> round(float(density_from_weighing(33.25, 4.0, 0.9982067, 0.0012)), 4)
    8.2888
    """
    m, G, rho_l, rho_a = _floats(m, G, rho_l, rho_a)
    return m * (rho_l - rho_a) / G + rho_a


def displaced_mass(m: ArrayLike, rho: ArrayLike, rho_l: ArrayLike, rho_a: ArrayLike) -> Array:
    """Mass of liquid that a piece of density `rho` displaces [g]: the inverse of `density_from_weighing`.

    ``G = m (rho_l - rho_a) / (rho - rho_a)``; parameters as there. Source: the hydrostatic equation, ISO 3369 (2006).

    >>> round(float(displaced_mass(31.18, 10.49, 0.998207, 0.0012)), 3)
    2.964
    """
    m, rho, rho_l, rho_a = _floats(m, rho, rho_l, rho_a)
    return m * (rho_l - rho_a) / (rho - rho_a)


def wire_displaced_mass(d: ArrayLike, wetted: ArrayLike, rho_l: ArrayLike) -> Array:
    """Mass of liquid that a round thread or wire displaces [g]: ``pi/4 d^2 wetted rho_l``.

    Parameters
    ----------
    d, wetted : diameter and length under the surface [mm].
    rho_l : density of the liquid [g/cm3].

    >>> round(float(wire_displaced_mass(0.2, 10.0, 1.0)) * 1000, 2)  # mg
    0.31
    """
    d, wetted, rho_l = _floats(d, wetted, rho_l)
    return np.pi / 4 * d**2 * wetted * rho_l / 1000


def meniscus_pull(d: ArrayLike, gamma: float = SURFACE_TENSION_N_M) -> Array:
    """Greatest pull of the liquid surface on a thread that crosses it, as a reading [g]: ``pi d gamma / g``.

    Parameters
    ----------
    d : diameter [mm].
    gamma : surface tension [N/m]; water by default, detergent lowers it to about half.

    It holds for a thread wetted all round; the true pull lies between none and this. Source: Wilhelmy's relation.

    >>> round(float(meniscus_pull(0.12)) * 1000, 1)  # mg
    2.8
    """
    return np.pi * np.asarray(d, dtype=float) * gamma / GRAVITY_M_S2


def smallest_useful_mass(rho: ArrayLike, step: ArrayLike, target: ArrayLike, rho_l: ArrayLike) -> Array:
    """Mass at which the scale step alone gives a relative standard uncertainty of `target` [g].

    ``m = rho step / (sqrt(6) target rho_l)``: tare and reading are each rectangular over one step,
    so the gain has a standard uncertainty of ``step / sqrt(6)`` (JCGM 100:2008, 4.3.7).

    Parameters
    ----------
    rho, rho_l : density of piece and liquid [g/cm3].
    step : scale step [g].
    target : relative standard uncertainty of the density, e.g. 0.01.

    >>> round(float(smallest_useful_mass(10.49, 0.01, 0.0014, 0.9982)), 1)
    30.6
    """
    rho, step, target, rho_l = _floats(rho, step, target, rho_l)
    smallest: Array = rho * step / (np.sqrt(6) * target * rho_l)
    return smallest
