"""Rows of an answer, and of its readings, in words; they are put into words only here."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from ..answer.document import Document
from ..answer.parts import ReadingData
from ..answer.rows import AS_CLAIMED, FINER, NOT_SHOWN, SOMETHING_ELSE, SYSTEM, Row, at_most
from .language import Language
from .names import Names, claim_words, layer_cell, layer_phrase, told_apart
from .numbers import chance, columns, composition, length, under

SHOWN = 6  # rows of a table
LIKELY, BODY = 9, 41  # widths of its first two columns
NAME, VALUE = 20, 28  # widest name of a reading with its place, and widest value
FINER_WIDTH = 22  # width of the composition after "finer than claimed: "


def row_name(row: Row, d: Document, say: Language, style: str = "table") -> str:
    """The name of a row; `style` is the section of the language file from which its words are taken."""
    if row.what == AS_CLAIMED:
        return say.say(style, "as_claimed", claim=claim_words(d, say))
    if row.what == FINER:
        metals = composition(row.ranges, say, FINER_WIDTH) or "-".join(say.metal(m) for m in row.metals)
        return say.say(style, "finer", body=metals)
    if row.what == SOMETHING_ELSE:
        return say.say(style, "something_else")
    if row.what == NOT_SHOWN:
        return say.say(style, "not_shown", most=under(row.largest or row.share, say))
    return body_name(row, d, say)


def body_name(row: Row, d: Document, say: Language) -> str:
    """What the body of a row is called; metal that may be as fine as claimed is not called less fine."""
    if len(row.metals) == 1 and reaches_claim(row, d):
        return say.metal(row.metals[0])
    return told_apart(Names.of(d), row.family, row.metals, say)


def reaches_claim(row: Row, d: Document) -> bool:
    """Whether a body beside the claim may hold as much of the claimed metal: a hollow or a covered one may."""
    if d.claim is None or d.claim.least_percent is None:
        return False
    *_, most = row.ranges.get(d.claim.metal, (None,))
    return most is not None and most > d.claim.least_percent


def cells(row: Row, d: Document, say: Language, width: int) -> list[str]:
    """A row of a table: chance, body with its metals in at most `width` columns, and what lies on or in it."""
    likely = say.say("table", "alike") if row.alike_the_first else chance(row.share, say)
    name = row_name(row, d, say)
    if row.what != SYSTEM:
        return [likely, name, ""]
    metals = composition(row.ranges, say, width - len(name) - 2)
    text = f"{name}: {metals}" if metals and name != metals else name
    body = text if len(text) <= width else textwrap.shorten(metals or name, width, placeholder="")
    return [likely, body, layer_cell(row.layer, Names.of(d), say)]


def fits_table(d: Document, say: Language, lines: int) -> list[str]:
    """Lines of the table of what fits, likeliest first, with the claim itself as one row."""
    width = BODY if any(r.layer for r in d.rows) else BODY + 20
    alike = [say.say("table", "alike_note")] if any(r.alike_the_first for r in at_most(d.rows, SHOWN)) else []
    shown = at_most(d.rows, min(SHOWN, max(lines - 1 - len(alike), 1)))
    head = [say.say("table", k) for k in ("likely", "body", "layer")]
    note = alike if any(r.alike_the_first for r in shown) else []
    return columns([head, *(cells(r, d, say, width) for r in shown)], [LIKELY, width, 0]) + note


def point(row: Row, d: Document, say: Language, most_metals: int, width: int) -> tuple[str, str]:
    """A row as a point of a list: its chance, and a sentence."""
    lead = say.say("page", "likely_alike") if row.alike_the_first else ""
    lead = lead or say.say("page", "likely_row", chance=chance(row.share, say))
    name = row_name(row, d, say, "page")
    if row.what != SYSTEM:
        return lead, name
    metals = composition(dict(list(row.ranges.items())[:most_metals]), say, width)
    shown = "" if not metals or metals == name else say.say("page", "metals", metals=metals)
    return lead, say.say("page", "fit_row", body=name, metals=shown, layer=layer_phrase(row.layer, Names.of(d), say))


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
