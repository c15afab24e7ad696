"""What an eddy-current meter reads on layers of metal, and resistivity away from 20 degC.

Layers run from the surface inwards along the last axis; all other axes broadcast. Fields are plane waves: the coil is
taken as wide compared with the depth of penetration, and the piece as wide compared with the coil.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Array

MU_0 = 4e-7 * np.pi  # H/m; CODATA 2018 differs by 6e-10
ADJUSTED = 0.02  # relative uncertainty that adjusting a meter on bare metals leaves (common practice, no source)
_BACK = ([1.5, 2.0, 2.5], [0.12, 0.05, ADJUSTED])  # thickness over depth of penetration, relative uncertainty
_POOR_CORE = ([6.0, 12.0], [0.05, 0.0])  # conductivity [MS/m], relative uncertainty under a skin
DEEPEST = 20.0  # thickness over depth of penetration from which a layer hides all below: exp(-40)

Layer = tuple[Array, Array, Array]  # conductivity [MS/m], thickness [um], relative permeability; they broadcast


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
    return _admittance(_split(sigma, thickness_um, mu_r), np.asarray(frequency, dtype=float)) * (0.5 - 0.5j)


def _split(sigma: ArrayLike, thickness_um: ArrayLike, mu_r: ArrayLike) -> list[Layer]:
    """Layers, the outermost first, from arrays whose last axis they are."""
    s, d, mu = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (sigma, thickness_um, mu_r)))
    return [(s[..., n], d[..., n], mu[..., n]) for n in range(s.shape[-1])]


def _admittance(layers: Sequence[Layer], frequency: Array | float) -> NDArray[np.complex128]:
    """`surface_admittance` in units of (1 - i) / 2 S; what is equal at all steps of a pair is computed once."""
    below: NDArray[np.complex128] | None = None
    for sigma, um, mu in reversed(layers):
        delta = depth_of_penetration(sigma, frequency, mu)
        own, t = sigma * delta, _tanh(um / delta)  # MS/m times um is S
        below = own * t if below is None else own * (below + own * t) / (own + below * t)
    assert below is not None
    return below


def _tanh(x: Array) -> NDArray[np.complex128]:
    """tanh((1 + i) x) for x >= 0, ``inf`` included."""
    x = np.minimum(x, DEEPEST)
    less, double = np.expm1(-2 * x), 2 * x
    e = 1 + less
    below = 1 + e * e + 2 * e * np.cos(double)
    out = np.empty(np.shape(x), dtype=complex)
    out.real = -less * (1 + e) / below
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
    return _apparent(_split(sigma, thickness_um, mu_r), np.asarray(frequency, dtype=float))


def reading_of(layers: Sequence[Layer], frequency: float) -> tuple[Array, Array]:
    """`apparent_conductivity` [MS/m] and `model_uncertainty` of layers, the outermost first, as arrays that broadcast.

    What all steps of a layer's thickness share is computed once.
    """
    return _apparent(layers, frequency), _uncertainty(layers, frequency)


def _apparent(layers: Sequence[Layer], frequency: Array | float) -> Array:
    x = _admittance(layers, frequency)
    real, imag = x.real, x.imag
    resistance = (real + imag) / (real * real + imag * imag)  # of (1 + i) / x
    return np.asarray(1e-6 * np.pi * MU_0 * frequency / (resistance * resistance))


def model_uncertainty(sigma: ArrayLike, thickness_um: ArrayLike, mu_r: ArrayLike, frequency: ArrayLike) -> Array:
    """Relative standard uncertainty of `apparent_conductivity` as the reading of a real coil; parameters as there.

    It is the root sum of squares of three parts. Each is the scatter of coils of 4 to 12 mm, and of two ways of reading
    them, about the plane wave (source: tests/independent/coil_model.py):

    * The nearness of the back, in depths of penetration summed over the layers: 2 % from 2.5, 5 % at 2, 12 % at 1.5 and
      below. The 2 % is what adjusting the meter leaves (`ADJUSTED`); the coils alone stay within 1.3 %.
    * A skin on a core below 6 MS/m: 5 %, fading to nothing at 12 MS/m; nothing where the core is bare.
    * A magnetic layer draws flux that a plane wave does not have: 9 % for each 100 of (mu_r - 1) d [um] times the delta
      of the innermost layer [mm], 50 % at most. A coil then reads lower than the plane wave.

    >>> float(model_uncertainty([58.0], [np.inf], [1.0], 60e3))  # thick bare copper
    0.02
    """
    return _uncertainty(_split(sigma, thickness_um, mu_r), np.asarray(frequency, dtype=float))


def _uncertainty(layers: Sequence[Layer], frequency: Array | float) -> Array:
    deltas = [depth_of_penetration(s, frequency, mu) for s, _, mu in layers]
    depths: Array = np.sum(np.broadcast_arrays(*(um / x for (_, um, _), x in zip(layers, deltas, strict=True))), axis=0)
    inner = layers[-1][0]
    skinned = np.any(np.broadcast_arrays(*(um > 0 for _, um, _ in layers[:-1]), False), axis=0)
    square = np.interp(depths, *_BACK) ** 2 + np.where(skinned, np.interp(inner, *_POOR_CORE), 0.0) ** 2
    flux = [(mu - 1) * np.minimum(um, x) for (_, um, mu), x in zip(layers, deltas, strict=True) if (mu != 1).any()]
    if flux:
        drawn = 9e-4 / 1e3 * np.asarray(sum(flux)) * depth_of_penetration(inner, frequency)
        square = square + np.minimum(drawn, 0.5) ** 2
    return np.asarray(np.sqrt(square))


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
