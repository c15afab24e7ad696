"""How long a small magnet takes to slide down a piece, or a piece down a magnet. Arrays broadcast.

The motion is slow: the field of the currents themselves is left out, which holds far below ``2 / (mu0 sigma d)``,
11 m/s on 2.5 mm of copper. Conductivities are in MS/m, lengths in mm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array

MU_0 = 4e-7 * np.pi  # H/m; CODATA 2018 differs by 6e-10
NO_DRAG, FREE, AT_FINAL_SPEED = 1e-9, 1.0001, 1e6  # stand for 0, 1 and infinity in `time_ratio`
MODEL = 0.10  # relative, of a ratio of times: friction, track, edges; common practice, no source


def layer_shares(thickness: ArrayLike, height: ArrayLike) -> Array:
    """Share of the drag of a thick conductor that each layer gives, (..., layers), the upper face first.

    ``h^3 / z_i^3 - h^3 / z_(i+1)^3`` with z from the magnet: the drag between two depths.

    Parameters
    ----------
    thickness : of the layers [mm], (..., layers), ``inf`` allowed. height : h, from the middle of the magnet to the
        face [mm], (...), above 0; for a flat magnet about the greater of its radius and half its length.

    The electric field of a slow dipole that stands upright on the face lies flat and does not depend on the layers, so
    the layers add up. Source: integral of the Joule heat; Thess, Votyakov and Kolesnikov, PRL 96 (2006) 164501, give
    the thick conductor (from memory).

    >>> layer_shares([3.0, np.inf], 5.0).round(3)
    array([0.756, 0.244])
    """
    t, h = np.asarray(thickness, dtype=float), np.asarray(height, dtype=float)[..., None]
    deep = (h / (h + np.cumsum(t, axis=-1))) ** 3
    return np.asarray(np.concatenate([np.ones_like(deep[..., :1]), deep[..., :-1]], axis=-1) - deep)


def drag_conductivity(sigma: ArrayLike, thickness: ArrayLike, height: ArrayLike) -> Array:
    """Conductivity of the thick conductor that would brake like these layers [MS/m], (...): ``sum sigma_i share_i``.

    Parameters
    ----------
    sigma : [MS/m], (..., layers), not magnetic. thickness, height : as for `layer_shares`.

    Drag is proportional to it, so its ratio between two pieces of one shape is the ratio of their drags; edges cancel.
    Source: Thess, Votyakov and Kolesnikov (2006), as for `layer_shares`.
    """
    return np.asarray((np.asarray(sigma, dtype=float) * layer_shares(thickness, height)).sum(axis=-1))


def drag(moment: ArrayLike, conductivity: ArrayLike, height: ArrayLike) -> Array:
    """Drag over speed of an upright dipole above a wide conductor [N s/m].

    ``k = mu0^2 sigma m^2 / (128 pi h^3)``

    Parameters
    ----------
    moment : m [A m2]. conductivity : of a thick conductor, or from `drag_conductivity` [MS/m]. height : h [mm].

    Source: Thess, Votyakov and Kolesnikov, PRL 96 (2006) 164501, from memory.

    >>> round(float(drag(0.5, drag_conductivity([58.0], [3.0], 5.0), 5.0)), 4)
    0.3443
    """
    m, s, h = (np.asarray(x, dtype=float) for x in (moment, conductivity, height))
    return np.asarray(MU_0**2 * s * 1e6 * m**2 / (128 * np.pi * (h * 1e-3) ** 3))


def seen_depth(height: ArrayLike, share: float = 0.9) -> Array:
    """Depth [mm] above which a thick conductor gives `share` of the drag: ``h ((1 - share)^(-1/3) - 1)``.

    `height` is h of `layer_shares` [mm], from which this follows.

    >>> round(float(seen_depth(5.0)), 1)
    5.8
    """
    return np.asarray(np.asarray(height, dtype=float) * ((1 - share) ** (-1 / 3) - 1))


def time_ratio(drag_ratio: ArrayLike, slowing: ArrayLike = np.inf, inertia: ArrayLike = 1.0) -> Array:
    """Time to slide down from rest, over that on a known-good piece of the same shape, dimensionless.

    Where the magnet soon reaches its final speed, the times are proportional to the drags. In general, with the time
    constant of the drag ``tau = M / k`` and free acceleration a, the way is ``a tau (t - tau (1 - exp(-t / tau)))``.

    Parameters
    ----------
    drag_ratio : drag on the piece over drag on the known-good one, 0 or more.
    slowing : time on the known-good piece over time on wood or glass, above 1; ``inf``: at its final speed throughout.
    inertia : mass of what slides over that on the known-good run: 1 for a magnet; where the piece slides on the magnet,
        mass over mass.

    Friction is taken as the same on both pieces. A ratio of times depends on `slowing` where it is below about 5.

    >>> round(float(time_ratio(0.28, slowing=4.0)), 3)  # nearer to wood, 0.25, than 0.28
    0.382
    """
    q, n, w = (np.asarray(x, dtype=float) for x in (drag_ratio, slowing, inertia))
    good = _steps(n)  # in units of the known-good run, where the time of the drag is 1
    rate = np.maximum(q / w, NO_DRAG)
    return np.asarray(_time_for(_way(good) * rate**2) / (rate * good))


def _way(x: Array) -> Array:
    """Way after the time x, in units in which the time constant of the drag and the acceleration are 1."""
    return np.asarray(x + np.expm1(-x))


def _steps(slowing: Array) -> Array:
    """The time x at which ``x^2 / (2 way(x))``, which grows with x, is the square of `slowing`; by halving."""
    n2 = np.clip(slowing, FREE, AT_FINAL_SPEED) ** 2
    low, high = np.zeros_like(n2), 2 * n2 + 1
    for _ in range(100):
        x = (low + high) / 2
        under = x**2 < 2 * n2 * _way(x)
        low, high = np.where(under, x, low), np.where(under, high, x)
    return np.asarray((low + high) / 2)


def _time_for(way: Array) -> Array:
    """Time x after which a way is covered, by Newton's method from above; a convex way is never overshot."""
    x = way + np.sqrt(2 * way)
    for _ in range(40):
        x = x - (_way(x) - way) / -np.expm1(-x)
    return np.asarray(x)
