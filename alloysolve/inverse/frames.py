"""Results as pandas frames with units in the column names."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from .solve import Solution


def systems_frame(solution: Solution) -> pd.DataFrame:
    """One row per system: metals, probability, Bayes factor against the next, grades, ranges in percent."""
    import pandas as pd

    rows = []
    for s in solution.found:
        row: dict[str, object] = {
            "metals": " ".join(s.metals), "probability": s.probability,
            "bayes_factor_against_next": s.bayes_factor_against_next, "alike_the_first": s.alike,
            "nearest_grades": "; ".join(s.grades),
        }  # fmt: skip
        for symbol, (low, likely, high) in s.ranges.items():
            row |= {f"{symbol}_low_percent": low, f"{symbol}_percent": likely, f"{symbol}_high_percent": high}
        rows.append(row)
    return pd.DataFrame(rows)


def candidates_frame(solution: Solution) -> pd.DataFrame:
    """One row per construction of each system, with skin thickness [um] or void share [%]."""
    import pandas as pd

    rows = []
    for s in solution.found:
        for c in s.candidates:
            row: dict[str, object] = {
                "metals": " ".join(c.metals), "construction": c.construction, "skin": c.skin,
                "family": c.family, "probability": c.probability, "evidence": c.evidence,
            }  # fmt: skip
            for name, span in (("skin_um", c.skin_um), ("void_percent", c.void_percent)):
                for label, value in zip(("low", "likely", "high"), span or (None,) * 3, strict=True):
                    row[f"{name}_{label}"] = value
            for symbol, (low, likely, high) in c.ranges.items():
                row |= {
                    f"{symbol}_low_percent": low,
                    f"{symbol}_percent": likely,
                    f"{symbol}_high_percent": high,
                }
            rows.append(row)
    return pd.DataFrame(rows).sort_values("probability", ascending=False, ignore_index=True)
