"""Resistivity of an alloy at 20 degC from its composition."""

from __future__ import annotations

import numpy as np

from ..arrays import Array

IACS_UOHM_CM = 172.41  # 100 %IACS = 58.0 MS/m = 1.7241 uohm cm (IEC 60028:1925), times 100


def iacs_from_resistivity(resistivity: Array | float) -> Array:
    """Conductivity [%IACS] from resistivity [uohm cm]; 1.7241 uohm cm is 100 %IACS (IEC 60028).

    >>> float(iacs_from_resistivity(1.7241))
    100.0
    """
    return np.asarray(IACS_UOHM_CM / np.asarray(resistivity))


def resistivity_nordheim(x: Array, pure: Array, c0: Array, c1: Array, c2: Array) -> Array:
    """Resistivity of a solid solution [uohm cm], (...), by Nordheim's rule with two more orders.

    rho = sum x_i rho_i + sum_{i<j} x_i x_j (C0 + C1 (x_i - x_j) + C2 (x_i - x_j)^2)

    Parameters
    ----------
    x : mole fractions (..., m).
    pure : resistivity of the metals (m,) [uohm cm].
    c0, c2 : symmetric (m, m) [uohm cm]; c1 : antisymmetric (m, m) [uohm cm].

    Notes
    -----
    Source: Nordheim, Ann. Phys. 401 (1931) 607 for C0. Two-phase alloys lie near or above the parallel bound
    instead; see `two_phase_factor`.
    """
    linear = x @ pure
    zero = 0.5 * np.einsum("...i,...i->...", x @ c0, x)
    one = np.einsum("...i,...i->...", x**2, x @ c1.T)
    # x_i x_j (x_i - x_j)^2 = x_i^3 x_j + x_i x_j^3 - 2 x_i^2 x_j^2, summed over i < j
    two = np.einsum("...i,...i->...", x**3, x @ c2) - np.einsum("...i,...i->...", x**2, x**2 @ c2)
    return np.asarray(linear + zero + one + two)


def two_phase_factor(minor: Array, share: Array | float, scale: float) -> Array:
    """Factor, at least 1, by which the resistivity of a eutectic alloy exceeds that of the mixture of its phases.

    ``1 + a (1 - exp(-w / w0))``

    Parameters
    ----------
    minor : mass fraction of the lesser of the two metals.
    share : a, dimensionless, e.g. 0.26 for silver-copper. scale : w0, a mass fraction of about 0.01.

    The form is our own, fitted to published alloys (source: tables/resistivity_points.csv).

    >>> round(float(two_phase_factor(np.array(0.075), 0.26, 0.01)), 2)  # sterling silver
    1.26
    """
    return np.asarray(1.0 + share * (1.0 - np.exp(-minor / scale)))
