"""Values as other libraries hold them, none of which is imported: missing ones, arrays, numbers with a unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType
from typing import Any

import numpy as np

from .arrays import Array
from .errors import InputError

MISSING = ("NAType", "NaTType", "MaskedConstant")  # what pandas and masked arrays hold where nothing was read
# by dimension: units as pint and astropy call them, each with our own name
UNITS: Mapping[str, Sequence[tuple[str, str]]] = MappingProxyType(
    {
        "mass": [("g", "g")],
        "length": [("mm", "mm")],
        "area": [("mm**2", "mm2")],
        "temperature": [("K", "K"), ("deg_C", "degC")],
        "density": [("g/cm**3", "g/cm3")],
        "conductivity": [("MS/m", "MS/m"), ("uohm*cm", "uohm cm")],
        "resistivity": [("uohm*cm", "uohm cm")],
        "frequency": [("Hz", "Hz")],
        "time": [("s", "s")],
        "volume": [("cm**3", "cm3")],
        "speed": [("m/s", "m/s")],
        "ratio": [("", "")],
        "share": [("", "")],
    }
)


def is_missing(given: Any) -> bool:
    """Whether one value says that nothing was read: None, NaN, NA of pandas, a masked element."""
    if given is None or type(given).__name__ in MISSING:
        return True
    if has_unit(given):
        return is_missing(plain(_number(given)))
    if isinstance(given, np.ndarray) and given.ndim == 0:
        return is_missing(given[()])
    return isinstance(given, float | np.floating | Decimal) and bool(given != given)


def has_unit(given: Any) -> bool:
    """Whether a value is a number or an array with a unit, as those of pint and astropy."""
    if not (hasattr(type(given), "to") or (isinstance(given, np.ndarray) and type(given) is not np.ndarray)):
        return False
    return any(getattr(given, name, None) is not None for name in ("units", "unit"))


def is_array(given: Any) -> bool:
    """Whether a value is an array or a column, also one with a unit."""
    return not isinstance(given, str) and getattr(given, "ndim", 0) >= 1


def plain(given: Any) -> Any:
    """Arrays and columns as lists, with None for what is missing; numbers of other types as plain numbers or text.

    Numbers with a unit stay what they are, and so does everything else.
    """
    if is_missing(given):
        return None
    if is_array(given):
        if has_unit(given):  # an element of an array keeps the unit, a number taken out of it may not
            return [plain(given[i, ...]) for i in range(len(given))]
        return [plain(item) for item in (given if isinstance(given, np.ndarray) else given.tolist())]
    if isinstance(given, np.ndarray) and not has_unit(given):
        return plain(given[()])
    if isinstance(given, np.floating):  # the shortest digits that say it: 31.1, not 31.100000381 of 32 bits
        return float(str(given))
    if isinstance(given, np.generic):
        return given.item()
    return str(given) if isinstance(given, Decimal) else given


def converted(given: Any, dimension: str, path: str, expected: str) -> tuple[Array, str]:
    """The numbers of a value with a unit in a unit that we know, NaN where they are missing, and our name of that unit.

    Raises
    ------
    InputError
        If its unit is not one of the dimension.
    """
    for theirs, ours in UNITS.get(dimension, ()):
        try:
            numbers = _number(given.to(theirs))
        except Exception:  # each library has errors of its own for a unit of another dimension
            continue
        return numbers_of(numbers), ours
    raise InputError(path, str(given)[:60], expected, "give it in one of these units, or as text with its unit")


def numbers_of(given: Any) -> Array:
    """An array of numbers, with NaN for masked elements."""
    filled = given.astype(float).filled(np.nan) if hasattr(given, "filled") and hasattr(given, "mask") else given
    return np.asarray(filled, dtype=float)


def _number(given: Any) -> Any:
    """The number of a value with a unit, without it."""
    for name in ("magnitude", "value"):
        if hasattr(given, name):
            return getattr(given, name)
    return np.asarray(given)
