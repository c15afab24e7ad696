"""Answers as pandas frames with units in the column names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from .parts import CandidateData, SystemData
from .rows import Row, Span

if TYPE_CHECKING:
    import pandas as pd

SHOWN_PERCENT = 1.0  # of a metal in a notebook

METAL = ("metal", "low_percent", "likely_percent", "high_percent")
OF_SYSTEMS = ("system", "metals", "probability", "alike_the_first", "bayes_factor_against_next", "nearest_grades")
OF_CANDIDATES = ("candidate", "metals", "construction", "skin", "strike", "family", "probability", "evidence")
SIZED = ("skin", "um"), ("void", "percent"), ("part", "percent")
SIZES = tuple(f"{what}_{end}_{unit}" for what, unit in SIZED for end in ("low", "likely", "high"))


def systems_frame(systems: Iterable[SystemData]) -> pd.DataFrame:
    """Frame with one row per metal of each system."""
    rows: list[tuple[object, ...]] = []
    for n, s in enumerate(systems, 1):
        grades = "; ".join(s.nearest_grades)
        of = (n, " ".join(s.metals), s.probability, s.alike_the_first, s.bayes_factor_against_next, grades)
        rows += [(*of, *metal) for metal in _metals(s.ranges)]
    return _frame(rows, (*OF_SYSTEMS, *METAL), ("bayes_factor_against_next", *METAL[1:]))


def candidates_frame(candidates: Iterable[CandidateData]) -> pd.DataFrame:
    """Frame with one row per metal of each construction, with thickness of skin [um], share of void or parts [%]."""
    rows: list[tuple[object, ...]] = []
    for n, c in enumerate(candidates, 1):
        of = (n, " ".join(c.metals), c.construction, c.skin or "", c.strike or "", c.family, c.probability, c.evidence)
        sizes = [x for span in (c.skin_um, c.void_percent, c.part_percent) for x in span or (None,) * 3]
        rows += [(*of, *sizes, *metal) for metal in _metals(c.ranges)]
    return _frame(rows, (*OF_CANDIDATES, *SIZES, *METAL), ("evidence", *SIZES, *METAL[1:]))


def rows_frame(rows: Sequence[Row]) -> pd.DataFrame:
    """What a notebook shows: the rows that people see, with the ranges of their metals in one column."""
    shown = [
        (
            " ".join(r.metals) if r.what == "system" else r.what,
            round(r.share, 3),
            r.alike_the_first,
            ", ".join(
                f"{m} {low or 0.0:.0f} to {high:.0f}"
                for m, (low, _, high) in r.ranges.items()
                if high is not None and high >= SHOWN_PERCENT
            ),
        )
        for r in rows
    ]
    return _frame(shown, ("what", "share", "alike_the_first", "mass_percent"))


def _metals(ranges: Mapping[str, Span]) -> list[tuple[object, ...]]:
    """Each metal with its range; one row without a metal where no range is given."""
    return [(symbol, *span) for symbol, span in ranges.items()] or [(None,) * len(METAL)]


def _frame(rows: Sequence[tuple[object, ...]], columns: Sequence[str], numbers: Sequence[str] = ()) -> pd.DataFrame:
    """Rows as a frame, which has its columns even without rows; `numbers` are columns in which some are not known."""
    import pandas as pd

    return pd.DataFrame(list(rows), columns=list(columns)).astype(dict.fromkeys(numbers, float))
