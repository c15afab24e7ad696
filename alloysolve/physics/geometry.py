"""Volume [mm3] and surface area [mm2] of simple shapes from their dimensions [mm]. Arrays broadcast."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array


def _floats(*xs: ArrayLike) -> tuple[Array, ...]:
    """The arguments as arrays of floats."""
    return tuple(np.asarray(x, dtype=float) for x in xs)


def bar(length: ArrayLike, width: ArrayLike, thickness: ArrayLike) -> tuple[Array, Array]:
    """Volume [mm3] and area [mm2] of a rectangular box: ``V = l w t``, ``A = 2 (l w + l t + w t)``, lengths in mm.

    >>> volume, area = bar(50.0, 28.0, 2.0)
    >>> float(volume), float(area)
    (2800.0, 3112.0)
    """
    l, w, t = _floats(length, width, thickness)  # noqa: E741
    return l * w * t, 2 * (l * w + l * t + w * t)


def disc(diameter: ArrayLike, thickness: ArrayLike) -> tuple[Array, Array]:
    """Volume [mm3] and area [mm2] of a plain cylinder [mm]: ``V = pi d^2 t / 4``, ``A = pi d^2 / 2 + pi d t``."""
    d, t = _floats(diameter, thickness)
    return np.pi / 4 * d**2 * t, np.pi * d * (d / 2 + t)


def rod(diameter: ArrayLike, length: ArrayLike) -> tuple[Array, Array]:
    """Volume [mm3] and area [mm2] of a round rod, as of a `disc`; lengths in mm."""
    return disc(diameter, length)


def ring(outer: ArrayLike, inner: ArrayLike, height: ArrayLike) -> tuple[Array, Array]:
    """Volume [mm3] and area [mm2] of a flat band from its outer and inner diameter and height [mm], inner < outer.

    ``V = pi (D^2 - d^2) h / 4``, ``A = pi (D + d) h + pi (D^2 - d^2) / 2``
    """
    D, d, h = _floats(outer, inner, height)
    return np.pi / 4 * (D**2 - d**2) * h, np.pi * (D + d) * (h + (D - d) / 2)


def tube(outer: ArrayLike, inner: ArrayLike, length: ArrayLike) -> tuple[Array, Array]:
    """Volume [mm3] and area [mm2] of an open tube, as of a `ring`; lengths in mm."""
    return ring(outer, inner, length)


def sphere(diameter: ArrayLike) -> tuple[Array, Array]:
    """Volume [mm3] and area [mm2] of a ball: ``V = pi d^3 / 6``, ``A = pi d^2``, d in mm."""
    (d,) = _floats(diameter)
    return np.pi / 6 * d**3, np.pi * d**2


def disc_of_proportion(volume: ArrayLike, ratio: float) -> tuple[Array, Array]:
    """Diameter [mm] and area [mm2] of the disc of a given volume whose diameter is `ratio` times its thickness.

    ``d = (4 ratio V / pi)^(1/3)``, V in mm3.
    """
    d = np.cbrt(4 * ratio * np.asarray(volume, dtype=float) / np.pi)
    return d, disc(d, d / ratio)[1]


def sphere_diameter(volume: ArrayLike) -> Array:
    """Diameter [mm] of a ball of a volume [mm3], e.g. of the bubble that would explain a reading.

    >>> round(float(sphere_diameter(681.0)), 1)
    10.9
    """
    return np.cbrt(6 / np.pi * np.asarray(volume, dtype=float))


SHAPES: Mapping[str, tuple[Callable[..., tuple[Array, Array]], tuple[str, ...]]] = {
    "bar": (bar, ("length", "width", "thickness")),
    "disc": (disc, ("diameter", "thickness")),
    "ring": (ring, ("outer diameter", "inner diameter", "height")),
    "rod": (rod, ("diameter", "length")),
    "sphere": (sphere, ("diameter",)),
    "tube": (tube, ("outer diameter", "inner diameter", "length")),
}


# change of each length, in the order of the shape, when a layer of thickness 1 is removed all over
_SHRINKS = {
    "bar": (-2, -2, -2),
    "disc": (-2, -2),
    "rod": (-2, -2),
    "sphere": (-2,),
    "ring": (-2, 2, -2),
    "tube": (-2, 2, -2),
}


def skin_volume_share(shape: str, sizes: Sequence[float], thickness: Array) -> Array:
    """Share of a body's volume that lies within `thickness` of its surface, from 0 to 1.

    share = 1 - V(core) / V(piece); exact for box, cylinder, ball and band, whose core has the same shape.

    Parameters
    ----------
    shape : "bar", "disc", "rod", "sphere", "ring" or "tube". sizes : its lengths [mm].
    thickness : of the layer [mm]; from half the thinnest wall on, the share is 1.

    >>> round(float(skin_volume_share("sphere", [10.0], np.array(0.5))), 3)  # 1 - 0.9^3
    0.271
    """
    t = np.asarray(thickness, dtype=float)
    volume_of, _ = SHAPES[shape]
    whole = float(volume_of(*sizes)[0])
    core = [np.asarray(size + step * t) for size, step in zip(sizes, _SHRINKS[shape], strict=True)]
    empty = np.any([c <= 0 for c in core], axis=0)
    if shape in ("ring", "tube"):
        empty = empty | (core[0] <= core[1])
    return np.asarray(np.where(empty, 1.0, 1 - volume_of(*core)[0] / whole))
