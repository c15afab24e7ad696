"""Share of the volume of simple shapes that lies in a skin."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from . import geometry

Array = NDArray[np.float64]

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
    volume_of = getattr(geometry, shape)
    whole = float(volume_of(*sizes)[0])
    core = [np.asarray(size + step * t) for size, step in zip(sizes, _SHRINKS[shape], strict=True)]
    empty = np.any([c <= 0 for c in core], axis=0)
    if shape in ("ring", "tube"):
        empty = empty | (core[0] <= core[1])
    return np.asarray(np.where(empty, 1.0, 1 - volume_of(*core)[0] / whole))
