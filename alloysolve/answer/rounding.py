"""Numbers as documents have them: rounded, and none that JSON cannot write."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ..measured import Measured, rounded


def significant(x: float, digits: int = 3) -> float | None:
    """`x` to some significant digits; None for infinities, which JSON does not have."""
    return float(f"{x:.{digits}g}") if math.isfinite(x) else None


def two(span: tuple[float, float], digits: int) -> tuple[float, float]:
    """Two ends of a range to some significant digits."""
    return float(f"{span[0]:.{digits}g}"), float(f"{span[1]:.{digits}g}")


def plainly(value: Any, digits: int = 3) -> Any:
    """Nested values as types of JSON, with numbers rounded to some digits."""
    if isinstance(value, Mapping):
        return {str(k): plainly(v, digits) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plainly(v, digits) for v in value]
    return significant(value, digits) if isinstance(value, float) else value


def measured_part(m: Measured) -> dict[str, Any]:
    """A measured value, rounded to two digits of its uncertainty."""
    return {
        "value": rounded(m.value, m.u),
        "u": significant(m.u, 2),
        "unit": m.unit,
        "low": rounded(m.low, m.u),
        "high": rounded(m.high, m.u),
    }
