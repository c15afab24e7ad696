"""The table of readings: what was read, how much of the piece it sees, and what it agrees with."""

from __future__ import annotations

from collections.abc import Sequence

from ..answer.parts import ReadingData
from .language import Language
from .numbers import columns, length

NAME = 20  # widest name of a reading with its place
VALUE = 28  # and widest value


def readings_table(found: Sequence[ReadingData], claimed: bool, say: Language) -> list[str]:
    """One row per reading: value, what it sees, how it agrees with the first row and with the claim."""
    rows = []
    for r in found:
        name = say.say(r.kind, "name") if say.has(r.kind, "name") else r.kind
        name = f"{name}, {r.place}" if r.place else name
        key = "little" if 0 < (r.sees_um or 0.0) < 1 else r.sees.replace(" ", "_")
        sees = say.say("readings", key, depth=length(r.sees_um or 0.0))
        marks = [say.say("readings", mark) if mark else "-" for mark in (r.agrees, r.claim_agrees)]
        rows.append([name[:NAME], cut_value(r.text), sees, marks[0], marks[1] if claimed else ""])
    head = [say.say("readings", k) for k in ("reading", "value", "sees", "first")]
    head.append(say.say("readings", "claim") if claimed else "")
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(4)]
    return columns([head, *rows], [*widths, 0])


def cut_value(value: str) -> str:
    """A value that leaves room for the other columns: the end of a path is kept, or the beginning of anything else."""
    if len(value) <= VALUE:
        return value
    return "..." + value[3 - VALUE :] if "/" in value or "\\" in value else value[: VALUE - 3] + "..."
