"""The value object that leaves the library: a value with its standard uncertainty and 95 % range."""

from __future__ import annotations

import math
from dataclasses import dataclass
from html import escape
from numbers import Real
from typing import Any

from .errors import InputError
from .foreign import is_missing

K95 = 1.959964  # two-sided 95 % point of the normal distribution


@dataclass(frozen=True, slots=True)
class Measured:
    """A measured or computed value.

    Parameters
    ----------
    value : best value, in `unit`.
    u : one standard uncertainty (JCGM 100), in `unit`.
    unit : the unit as people write it, e.g. ``"g/cm3"``.
    low, high : 95 % range; if left out, value -+ 1.96 u, so a skewed range must be given.
    dof : effective degrees of freedom of `u`.

    All may be NaN where there is no result.

    Raises
    ------
    InputError
        For what is not a number, an infinite value, an uncertainty below zero, a reversed range, no degrees of freedom.

    >>> print(Measured(8.54, 0.01, "g/cm3"))
    8.540 g/cm3 (8.520 to 8.560, 95 %)
    """

    value: float
    u: float
    unit: str
    low: float = math.nan
    high: float = math.nan
    dof: float = math.inf

    def __post_init__(self) -> None:
        for name in ("value", "u", "low", "high", "dof"):
            object.__setattr__(self, name, _number(getattr(self, name), name))
        if not isinstance(self.unit, str):
            raise InputError("unit", self.unit, "a unit as people write it", 'write for example "g/cm3"')
        if self.u < 0:
            raise InputError("u", self.u, "one standard uncertainty, zero or more", "give it without a sign")
        if self.low > self.high:
            given = f"{self.low:g} to {self.high:g}"
            raise InputError("low", given, "a range whose lower end comes first", "exchange low and high")
        if self.dof <= 0:
            raise InputError("dof", self.dof, "degrees of freedom above zero", "leave them out if they are not known")
        if math.isnan(self.low):
            object.__setattr__(self, "low", self.value - K95 * self.u)
        if math.isnan(self.high):
            object.__setattr__(self, "high", self.value + K95 * self.u)

    def __str__(self) -> str:
        d = decimals(self.u)
        return f"{self.value:.{d}f} {self.unit} ({self.low:.{d}f} to {self.high:.{d}f}, 95 %)"

    def _repr_html_(self) -> str:
        return f"<span>{escape(str(self))}</span>"


def _number(given: Any, path: str) -> float:
    """A number as Python has it; NaN where there is none."""
    if is_missing(given):
        return math.nan
    if isinstance(given, bool) or not isinstance(given, Real) or (path in ("value", "u") and math.isinf(given)):
        raise InputError(path, given, "a number", "give it in the unit that is named")
    return float(given)


def decimals(u: float, digits: int = 2, most: int = 6) -> int:
    """Number of decimals that show `u` to `digits` significant digits: the one rounding rule of the project.

    >>> decimals(0.0123), decimals(1.2), decimals(0.0)
    (3, 1, 6)
    """
    if not (u > 0 and math.isfinite(u)):
        return most
    return min(most, max(0, digits - 1 - math.floor(math.log10(u))))


def rounded(value: float, u: float, digits: int = 2) -> float:
    """`value` rounded to `digits` significant digits of its uncertainty `u`.

    >>> rounded(8.53672, 0.0123)
    8.537
    """
    return round(value, decimals(u, digits))
