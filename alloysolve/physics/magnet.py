"""How strongly a hand magnet pulls a bare alloy."""

from __future__ import annotations

import numpy as np

from ..arrays import Array, Index

NONE, SLIGHT, STRONG = 0, 1, 2


def magnetic_class(iron: Array, nickel: Array, cobalt: Array) -> Index:
    """Class of pull, NONE, SLIGHT or STRONG, of an alloy from its mass fractions of iron, nickel and cobalt.

    The pull is strong from 60 % iron and cobalt or 75 % nickel, and for nickel-irons (from 30 % nickel, with 90 % iron,
    cobalt and nickel together). It is slight from 10 % iron and cobalt together, or 60 % nickel: nickel-copper alloys
    lose their magnetism at room temperature near 70 % nickel. All else is not pulled. These limits are coarse and from
    memory, no source. They serve alloys without a family; families carry a class of their own.

    >>> [int(magnetic_class(*np.array(w))) for w in ([0.0, 0.25, 0.0], [0.0, 0.65, 0.0], [0.64, 0.36, 0.0])]
    [0, 1, 2]
    """
    strong = (iron + cobalt >= 0.6) | (nickel >= 0.75)
    strong = strong | ((nickel >= 0.3) & (iron + cobalt + nickel >= 0.9) & (iron + cobalt >= 0.05))
    slight = (iron + cobalt >= 0.1) | (nickel >= 0.6)
    return np.where(strong, STRONG, np.where(slight, SLIGHT, NONE)).astype(np.intp)
