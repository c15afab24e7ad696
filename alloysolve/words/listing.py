"""The plain listing of mixtures and constructions as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .names import Names, part_words
from .numbers import span

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from ..answer.solution import Solution
    from ..published.load import Tables
    from .language import Language


def harmful(frames: Iterable[pd.DataFrame], tables: Tables) -> list[str]:
    """Codes of the cautions on metals that any row of some listings may hold."""
    out = []
    for row in tables.rows("cautions"):
        layers = {r.name for r in tables.rows("skins") if r.composition.get(row.metal, 0.0) >= row.from_percent}
        for frame in frames:
            in_body = f"{row.metal}_high_percent"
            found = [frame[in_body]] if in_body in frame else []
            for n in (1, 2, 3):
                if f"metal_{n}" in frame:
                    found.append(frame[f"metal_{n}_high_percent"].where(frame[f"metal_{n}"] == row.metal))
            if "skin" in frame and frame["skin"].isin({row.metal, *layers}).any():
                out.append(row.code)
            if any((column >= row.from_percent).any() for column in found):
                out.append(row.code)
    return list(dict.fromkeys(out))


def mixtures_text(frame: pd.DataFrame) -> str:
    """Text with one line per pair or triple: metals with their ranges in mass percent."""
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


def constructions_text(frame: pd.DataFrame, s: Solution, say: Language) -> str:
    """Text with one line per construction: its body, metals with their ranges, and its layer or empty space."""
    rows, naming = frame.to_dict("records"), Names.of_tables(s.tables, None)
    words = {f.family: f.words for f in s.tables.families.values()}
    names = [words.get(row["family"], row["family"]) for row in rows]  # regions of the claim are named like a claim
    width = max(map(len, names), default=0) + 2
    lines = []
    for row, name in zip(rows, names, strict=True):
        skin = part_words(naming, row["skin"], say) if row["skin"] else ""
        body = ", ".join(
            f"{m} {span(row[f'{m}_low_percent'], row[f'{m}_high_percent'], 1)} %" for m in str(row["metals"]).split()
        )
        if row["skin_high_um"] == row["skin_high_um"]:
            body += say.say("listing", "under", part=skin, um=span(row["skin_low_um"], row["skin_high_um"], 1))
        elif row["skin"]:
            body += say.say(
                "listing", "part", part=skin, share=span(row["part_low_percent"], row["part_high_percent"], 1)
            )
        elif row["void_high_percent"] == row["void_high_percent"]:
            body += say.say("listing", "void", share=span(row["void_low_percent"], row["void_high_percent"], 1))
        lines.append(f"{row['construction']:<18}{name:<{width}}{body}")
    return "\n".join(lines) + "\n"
