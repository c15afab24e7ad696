"""The arrays that the package passes about."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]  # numbers
Index = NDArray[np.intp]  # places in another array
Mask = NDArray[np.bool_]  # which elements


N = TypeVar("N", Array, Index)
P = ParamSpec("P")
R = TypeVar("R")


def usual_errors(function: Callable[P, R]) -> Callable[P, R]:
    """The same function under the settings that numpy starts with, whatever ``np.seterr`` of the caller says.

    Chances underflow to zero here by design. (`np.errstate` as a decorator is one object for all threads in numpy 1.)
    """

    @wraps(function)
    def called(*args: P.args, **kwargs: P.kwargs) -> R:
        with np.errstate(divide="warn", over="warn", under="ignore", invalid="warn"):
            return function(*args, **kwargs)

    return called


def distinct(x: N) -> N:
    """The values of an array in order, each once. (`np.unique` alone loads masked arrays, which takes 10 ms.)"""
    values: N = np.unique(x, return_index=True)[0]
    return values
