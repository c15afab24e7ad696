"""The shares of two metals in each piece of a column of weighings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..alloys.law import MixingLaw
from ..arrays import Array
from ..errors import InputError
from .density import SCATTER, Volume
from .pairs import edge_intervals, mixing_terms

if TYPE_CHECKING:
    import pandas as pd


def shares_of_two(
    reading: Volume, metals: list[str], law: MixingLaw, index: Any, reason: NDArray[np.object_]
) -> pd.DataFrame:
    """Frame with one row per piece: the shares of two metals."""
    import pandas as pd

    if len(metals) != 2:
        raise InputError("metals", metals, "two metals for a column of pieces", "call once per piece for more")
    at = [law.index[m] for m in metals]
    terms = mixing_terms(law.molar_volume[at], law.molar_mass[at], law.k0[np.ix_(at, at)], law.k1[np.ix_(at, at)])
    size = len(reading.v)
    a, b = np.zeros(size, dtype=np.intp), np.ones(size, dtype=np.intp)
    known = ~np.isnan(reading.v)
    v = np.where(known, reading.v, 1.0)
    exact, _ = edge_intervals(terms, a, b, v, v)
    likely = exact[:, 0]
    w = np.zeros((size, len(law.symbols)))
    w[:, at[0]] = np.where(np.isnan(likely), 0.5, likely)
    w[:, at[1]] = 1 - w[:, at[0]]
    model = np.hypot(law.u_pairs(w), SCATTER)
    lo, hi = reading.limits(model)
    low, high = edge_intervals(terms, a, b, np.where(known, lo, 1.0), np.where(known, hi, 1.0))
    reaches = ~np.isnan(low[:, 0]) & known
    columns: dict[str, Any] = {}
    for name, least, middle, most in (
        (metals[0], low[:, 0], likely, np.fmax.reduce(high, axis=1)),
        (metals[1], 1 - np.fmax.reduce(high, axis=1), 1 - likely, 1 - low[:, 0]),
    ):
        for suffix, values in (("_low_percent", least), ("_percent", middle), ("_high_percent", most)):
            columns[name + suffix] = np.where(reaches, 100 * values, np.nan)
    slope = np.where(reaches & ~np.isnan(likely), np.abs(_slope(law, w, *at)), np.nan)
    columns |= {
        "u_reading_percent": 100 * reading.u / slope,
        "u_model_percent": 100 * model * v / slope,
        "u_reading_g_cm3": reading.u / v**2,
        "u_model_g_cm3": np.where(known, model / v, np.nan),
        "reaches": reaches,
        "reason": np.where(known & ~reaches, "out_of_reach", reason.astype(str)),
    }
    return pd.DataFrame(columns, index=index)


def _slope(law: MixingLaw, w: Array, first: int, second: int) -> Array:
    """Change of the specific volume of each row with the mass fraction of the first of two metals [cm3/g]."""
    away, unit = 1e-4, np.zeros(w.shape[1])
    unit[first], unit[second] = 1.0, -1.0
    forward = np.where(w[:, [first]] < 0.5, away, -away) * unit
    return np.asarray((law.specific_volume(w + forward) - law.specific_volume(w)) / forward[:, first])
