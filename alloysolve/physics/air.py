"""Density of moist air."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array

AIR_DENSITY = 0.0012  # g/cm3, the reference air of conventional mass; OIML D 28 (2004)
U_AIR_DENSITY = 0.00006  # g/cm3, rooms near sea level: weather and temperature, common practice, no source


def air_density_cipm_simplified(t: ArrayLike, p: ArrayLike, rh: ArrayLike) -> Array:
    """Density of moist air by the approximation formula of CIPM-2007 [g/cm3].

    ``rho = (0.34848 p - 0.009 rh exp(0.061 t)) / (273.15 + t) / 1000``

    Parameters
    ----------
    t : temperature [degC].
    p : pressure [hPa].
    rh : relative humidity [%].

    Valid for 900-1100 hPa, 10-30 degC, below 80 %; relative uncertainty 2e-4.
    Source: OIML R 111-1 (2004), E.3, eq. (E.3-1).

    >>> round(float(air_density_cipm_simplified(20.0, 1013.25, 50.0)), 6)
    0.001199
    """
    t, p, rh = (np.asarray(x, dtype=float) for x in (t, p, rh))
    return (0.34848 * p - 0.009 * rh * np.exp(0.061 * t)) / (273.15 + t) / 1000
