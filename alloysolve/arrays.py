"""The arrays that the package passes about."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]  # numbers
Index = NDArray[np.intp]  # places in another array
Mask = NDArray[np.bool_]  # which elements


N = TypeVar("N", Array, Index)


def distinct(x: N) -> N:
    """The values of an array in order, each once. (`np.unique` alone loads masked arrays, which takes 10 ms.)"""
    values: N = np.unique(x, return_index=True)[0]
    return values
