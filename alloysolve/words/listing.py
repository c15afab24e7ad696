"""The plain listing of mixtures and constructions as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .numbers import span

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
    """One line per construction: family, metals with their ranges, layer or empty space."""
    lines = []
    for row in frame.to_dict("records"):
        body = ", ".join(
            f"{m} {span(row[f'{m}_low_percent'], row[f'{m}_high_percent'], 1)} %" for m in str(row["metals"]).split()
        )
        if row["skin_high_um"] == row["skin_high_um"]:
            body += f" under {row['skin']} {span(row['skin_low_um'], row['skin_high_um'], 1)} um"
        elif row["skin"]:
            body += f" with {row['skin']} {span(row['part_low_percent'], row['part_high_percent'], 1)} %"
        elif row["construction"] == "hollow or porous":
            body += f", {span(row['void_low_percent'], row['void_high_percent'], 1)} % empty"
        lines.append(f"{row['construction']:<18}{row['family']:<22}{body}")
    return "\n".join(lines) + "\n"
