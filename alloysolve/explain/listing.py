"""The plain listing of mixtures and constructions as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .words import span

if TYPE_CHECKING:
    import pandas as pd


def mixtures_text(frame: pd.DataFrame) -> str:
    """One line per pair or triple: metals with their ranges in mass percent."""
    lines = []
    for row in frame.itertuples():
        parts = []
        for n in (1, 2, 3):
            metal = getattr(row, f"metal_{n}")
            if isinstance(metal, str):
                low, high = getattr(row, f"metal_{n}_low_percent"), getattr(row, f"metal_{n}_high_percent")
                parts.append(f"{metal} {span(low, high, 1)} %")
        lines.append(f"{row.kind:<8}{', '.join(parts)}")
    return "\n".join(lines) + "\n"


def constructions_text(frame: pd.DataFrame) -> str:
    """One line per construction: family, layer or void, metals with their ranges."""
    lines = []
    for row in frame.to_dict("records"):
        metals = [s for s in str(row["metals"]).split() if row.get(f"{s}_percent") == row.get(f"{s}_percent")]
        body = ", ".join(f"{s} {span(row[f'{s}_low_percent'], row[f'{s}_high_percent'], 1)} %"
                         for s in metals if row.get(f"{s}_low_percent") is not None)  # fmt: skip
        extra = ""
        if row["skin"] and row["skin_um_low"] == row["skin_um_low"]:
            extra = f" under {row['skin']} {span(row['skin_um_low'], row['skin_um_high'], 1)} um"
        if row["void_percent_low"] == row["void_percent_low"] and row["void_percent_low"] is not None:
            extra = f" {span(row['void_percent_low'], row['void_percent_high'], 1)} % empty"
        lines.append(f"{row['construction']:<18}{row['family']:<22}{body}{extra}")
    return "\n".join(lines) + "\n"
