"""Density and surface tension of water."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array

U_WATER = 0.0001  # g/cm3; tap or boiled water in place of standard water: common practice, no source
LOWEST_DEGC, HIGHEST_DEGC = 0.0, 40.0
SURFACE_TENSION_N_M = 0.07275  # water at 20 degC, IAPWS R1-76(2014), formula from memory


def water_density_tanaka(t: ArrayLike) -> Array:
    """Density of air-free standard water at 101325 Pa [g/cm3].

    ``rho = a5 (1 - (t + a1)^2 (t + a2) / (a3 (t + a4)))``

    Parameters
    ----------
    t : temperature [degC], any shape; valid from 0 to 40 degC, `nan` outside.

    The formula's own uncertainty is below 1e-6 g/cm3; for shop water take `U_WATER`.
    Source: Tanaka et al., Metrologia 38 (2001) 301, recommended by the CIPM.

    >>> round(float(water_density_tanaka(20.0)), 7)
    0.9982067
    """
    T: Array = np.asarray(t, dtype=float)
    rho = 0.99997495 * (1 - (T - 3.983035) ** 2 * (T + 301.797) / (522528.9 * (T + 69.34881)))
    return np.where((T >= LOWEST_DEGC) & (T <= HIGHEST_DEGC), rho, np.nan)


def water_density_slope_tanaka(t: ArrayLike) -> Array:
    """Change of `water_density_tanaka` with temperature [g/(cm3 K)], by central difference over 0.02 K.

    The temperature is in degC; beyond 0 to 40 degC the slope at the nearer end is given. Source: Tanaka et al. (2001).
    """
    T: Array = np.clip(np.asarray(t, dtype=float), LOWEST_DEGC + 0.01, HIGHEST_DEGC - 0.01)
    slope: Array = (water_density_tanaka(T + 0.01) - water_density_tanaka(T - 0.01)) / 0.02
    return slope
