"""What an eddy-current meter reads on layers of metal, and resistivity away from 20 degC.

Layers run from the surface inwards along the last axis; all other axes broadcast. Fields are plane waves: the coil is
taken as wide compared with the depth of penetration, and the piece as wide compared with the coil.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Array

MU_0 = 4e-7 * np.pi  # H/m; CODATA 2018 differs by 6e-10
_BACK = ([1.5, 2.0, 2.5], [0.12, 0.05, 0.02])  # thickness over depth of penetration, relative uncertainty
_POOR_CORE = ([6.0, 12.0], [0.05, 0.0])  # conductivity [MS/m], relative uncertainty under a skin
DEEPEST = 40.0  # thickness over depth of penetration from which a layer hides all below: exp(-80)


def depth_of_penetration(sigma: ArrayLike, frequency: ArrayLike, mu_r: ArrayLike = 1.0) -> Array:
    """Depth at which the current has fallen to 1/e of that at the surface [um].

    ``delta = 1 / sqrt(pi f mu0 mu_r sigma)``

    Parameters
    ----------
    sigma : conductivity [MS/m], above 0. frequency : [Hz], above 0. mu_r : relative permeability.

    Source: a plane wave in a thick body; ISO 15549 (from memory) and any text on induction.

    >>> round(float(depth_of_penetration(58.0, 60.0)) / 1000, 2)  # copper at mains frequency, mm
    8.53
    """
    s, f, mu = (np.asarray(x, dtype=float) for x in (sigma, frequency, mu_r))
    return np.asarray(1e3 / np.sqrt(np.pi * MU_0 * f * mu * s))


def surface_admittance(
    sigma: ArrayLike, thickness_um: ArrayLike, mu_r: ArrayLike, frequency: ArrayLike
) -> NDArray[np.complex128]:
    """Admittance H/E at the surface of layers of metal with air behind them [S].

    It is built up from the innermost layer outwards, with ``y = sigma delta (1 - i) / 2`` and
    ``T = tanh((1 + i) d / delta)``: ``Y = y (Y_below + y T) / (y + Y_below T)``, and ``Y_below = 0`` for the air behind
    the last layer.

    Parameters
    ----------
    sigma : conductivity [MS/m], (..., layers), above 0; the outermost layer first.
    thickness_um : [um], (..., layers), 0 or more; ``inf`` in the last layer is a thick body. A layer of 0
        changes nothing, so rows with fewer layers are filled up with zeros.
    mu_r : relative permeability, (..., layers). frequency : [Hz], (...).

    In admittances the air needs no case of its own. T is written with decaying exponentials only, so that no thickness
    overflows and thin layers lose no digits. Source: transfer along layered lines, e.g. Wait, Electromagnetic
    Waves in Stratified Media (1962), from memory; T and y follow from Maxwell's equations without displacement.
    """
    f = np.asarray(frequency, dtype=float)[..., None]
    s, d, mu = (np.asarray(x, dtype=float) for x in (sigma, thickness_um, mu_r))
    s, d, mu, f = np.broadcast_arrays(s, d, mu, f)
    delta = depth_of_penetration(s, f, mu)
    own = (s * delta) * (0.5 - 0.5j)  # MS/m times um is S
    damped = _tanh(d / delta)
    below = np.zeros(s.shape[:-1], dtype=complex)
    for n in reversed(range(s.shape[-1])):
        y, t = own[..., n], damped[..., n]
        below = y * (below + y * t) / (y + below * t)
    return below


def _tanh(x: Array) -> NDArray[np.complex128]:
    """tanh((1 + i) x) for x >= 0, ``inf`` included."""
    x = np.minimum(x, DEEPEST)
    e, double = np.exp(-2 * x), 2 * x
    below = 1 + e * e + 2 * e * np.cos(double)
    out = np.empty(x.shape, dtype=complex)
    out.real = -np.expm1(-4 * x) / below
    out.imag = 2 * e * np.sin(double) / below
    return out


def apparent_conductivity(sigma: ArrayLike, thickness_um: ArrayLike, mu_r: ArrayLike, frequency: ArrayLike) -> Array:
    """Conductivity that a meter adjusted on thick bare metals shows on layers of metal [MS/m].

    ``sigma_app = omega mu0 / (2 Re(Z)^2)``, Z = 1/Y of `surface_admittance`; parameters as there, result (...).

    Only the real part of Z counts: the imaginary part adds to the distance of the coil, which a meter corrects for.
    Varnish and air therefore change nothing, and a thin layer of good conductor has only a second-order effect; by
    ``|Z|`` the layer in the example would seem to read 31.2. A thick bare metal gives its own sigma / mu_r. At least
    one layer must be thicker than 0. The field is taken as a plane wave: see `model_uncertainty`. Source: Wait (1962),
    as for `surface_admittance`; how meters correct for distance is common practice.

    >>> brass, silver = 28.0 * 0.58, 105.0 * 0.58  # MS/m from %IACS
    >>> on_plate = apparent_conductivity([silver, brass], [10.0, 2600.0], [1.0, 1.0], 60e3)
    >>> round(float(on_plate) / 0.58, 1)
    28.4
    """
    y = surface_admittance(sigma, thickness_um, mu_r, frequency)
    resistance = y.real / (y.real**2 + y.imag**2)
    return np.asarray(np.pi * MU_0 * np.asarray(frequency, dtype=float) / resistance**2 * 1e-6)


def model_uncertainty(sigma: ArrayLike, thickness_um: ArrayLike, mu_r: ArrayLike, frequency: ArrayLike) -> Array:
    """Relative standard uncertainty of `apparent_conductivity` as the reading of a real coil; parameters as there.

    It is the root sum of squares of three parts. Each is the scatter of coils of 4 to 12 mm, and of two ways of reading
    them, about the plane wave (source: tests/independent/coil_model.py):

    * The nearness of the back, in depths of penetration summed over the layers: 2 % from 2.5, 5 % at 2, 12 % at 1.5 and
      below. The 2 % is what adjusting the meter leaves (common practice, no source); the coils alone stay within 1.3 %.
    * A skin on a core below 6 MS/m: 5 %, fading to nothing at 12 MS/m; nothing where the core is bare.
    * A magnetic layer draws flux that a plane wave does not have: 9 % for each 100 of (mu_r - 1) d [um] times the delta
      of the innermost layer [mm], 50 % at most. A coil then reads lower than the plane wave.

    >>> float(model_uncertainty([58.0], [np.inf], [1.0], 60e3))  # thick bare copper
    0.02
    """
    f = np.asarray(frequency, dtype=float)[..., None]
    s, d, mu = (np.asarray(x, dtype=float) for x in (sigma, thickness_um, mu_r))
    s, d, mu, f = np.broadcast_arrays(s, d, mu, f)
    delta = depth_of_penetration(s, f, mu)
    back = np.interp((d / delta).sum(axis=-1), *_BACK)
    skinned = (d[..., :-1] > 0).any(axis=-1)
    skin = np.where(skinned, np.interp(s[..., -1], *_POOR_CORE), 0.0)
    flux = ((mu - 1) * np.minimum(d, delta)).sum(axis=-1) * depth_of_penetration(s[..., -1], f[..., 0]) / 1e3
    return np.asarray(np.sqrt(back**2 + skin**2 + np.minimum(9e-4 * flux, 0.5) ** 2))


def _crossing(t: Array, over: Array, n: int) -> float:
    """Thickness [um] at which `over` passes through 0 between its points n - 1 and n."""
    share = over[n - 1] / (over[n - 1] - over[n])
    return float(t[n - 1] * (t[n] / t[n - 1]) ** share)


def resistivity_at(resistivity: ArrayLike, temperature: ArrayLike, slope: ArrayLike) -> Array:
    """Resistivity at a temperature, from that at 20 degC [uohm cm].

    ``rho(t) = rho(20) + slope (t - 20)``

    Parameters
    ----------
    resistivity : at 20 degC [uohm cm]. temperature : [degC]. slope : d rho / d t of the host metal [uohm cm/K].

    What alloying adds to the resistivity hardly depends on temperature, so the alloys of one host share its slope. This
    is good to about a tenth of the slope from 0 to 40 degC, less near magnetic order. Source: Matthiessen's rule
    (Matthiessen and Vogt, 1864, from memory).

    >>> round(float(resistivity_at(1.7241, 30.0, 0.00678)), 4)  # standard copper
    1.7919
    """
    r, t, b = (np.asarray(x, dtype=float) for x in (resistivity, temperature, slope))
    return np.asarray(r + b * (t - 20.0))
