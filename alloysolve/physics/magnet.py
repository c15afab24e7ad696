"""Which class of answer a bare alloy gives to a hand magnet."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

NONE, SLIGHT, STRONG = 0, 1, 2


def magnetic_class(iron: Array, nickel: Array, cobalt: Array) -> NDArray[np.intp]:
    """Class of an alloy without a family from its mass fractions of iron, nickel and cobalt.

    Strong from 60 % iron and cobalt or 75 % nickel, and for nickel-irons (from 30 % nickel, 90 % with iron
    and cobalt); slight from 10 % iron and cobalt together, or 60 %
    nickel (nickel-copper alloys lose their magnetism at room temperature near 70 % nickel); else none.
    Coarse limits, from memory; families carry a class of their own.
    """
    strong = (iron + cobalt >= 0.6) | (nickel >= 0.75)
    strong = strong | ((nickel >= 0.3) & (iron + cobalt + nickel >= 0.9) & (iron + cobalt >= 0.05))
    slight = (iron + cobalt >= 0.1) | (nickel >= 0.6)
    return np.where(strong, STRONG, np.where(slight, SLIGHT, NONE)).astype(np.intp)
