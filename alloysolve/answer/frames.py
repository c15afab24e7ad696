"""Answers as pandas frames with units in the column names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from ..inference.systems import System
from .rows import Row

if TYPE_CHECKING:
    import pandas as pd

SHOWN_PERCENT = 1.0  # of a metal in a notebook

OF_SYSTEMS = ("metals", "probability", "bayes_factor_against_next", "alike_the_first", "nearest_grades")
OF_CANDIDATES = ("metals", "construction", "skin", "strike", "family", "probability", "evidence")


def systems_frame(systems: Iterable[System]) -> pd.DataFrame:
    """Frame with one row per system: metals, probability, Bayes factor against the next, grades, ranges in percent."""
    rows = [
        dict(
            zip(
                OF_SYSTEMS,
                (" ".join(s.metals), s.probability, s.bayes_factor_against_next, s.alike, "; ".join(s.grades)),
                strict=True,
            )
        )
        | _shares(s.ranges)
        for s in systems
    ]
    return _frame(rows, OF_SYSTEMS)


def candidates_frame(systems: Iterable[System]) -> pd.DataFrame:
    """Frame with one row per construction of each system, with skin thickness [um] or share of void or parts [%]."""
    rows = []
    for c in (c for s in systems for c in s.constructions):
        values = (" ".join(c.metals), c.construction, c.skin, c.strike, c.family, c.probability, c.evidence)
        spans = ("skin", "um", c.skin_um), ("void", "percent", c.void_percent), ("part", "percent", c.part_percent)
        row = dict(zip(OF_CANDIDATES, values, strict=True))
        for name, unit, span in spans:
            columns = (f"{name}_low_{unit}", f"{name}_{unit}", f"{name}_high_{unit}")
            row |= zip(columns, span or (None,) * 3, strict=True)
        rows.append(row | _shares(c.ranges))
    return _frame(rows, OF_CANDIDATES).sort_values("probability", ascending=False, ignore_index=True)


def rows_frame(rows: Sequence[Row]) -> pd.DataFrame:
    """What a notebook shows: the rows that people see, with the ranges of their metals in one column."""
    shown = [
        {
            "what": " ".join(r.metals) if r.what == "system" else r.what,
            "share": round(r.share, 3),
            "alike_the_first": r.alike_the_first,
            "mass_percent": ", ".join(
                f"{m} {low or 0.0:.0f} to {high:.0f}"
                for m, (low, high) in r.ranges.items()
                if high is not None and high >= SHOWN_PERCENT
            ),
        }
        for r in rows
    ]
    return _frame(shown, ("what", "share", "alike_the_first", "mass_percent"))


def _shares(ranges: Mapping[str, tuple[float, float, float]]) -> dict[str, object]:
    return {
        f"{symbol}{end}_percent": value
        for symbol, span in ranges.items()
        for end, value in zip(("_low", "", "_high"), span, strict=True)
    }


def _frame(rows: list[dict[str, object]], columns: tuple[str, ...]) -> pd.DataFrame:
    """Rows as a frame, which has its first columns even without rows."""
    import pandas as pd

    return pd.DataFrame(rows) if rows else pd.DataFrame(columns=list(columns))
