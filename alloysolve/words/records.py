"""Records of pieces in words: a list, a count, and one stored answer shown without solving it again."""

from __future__ import annotations

import json
import textwrap
import unicodedata
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from ..answer.document import Document
from ..answer.records import SOMETHING_ELSE, Record, Summary, read_record
from ..answer.rows import AS_CLAIMED
from ..answer.search import Records
from ..spreadsheet import csv_lines, csv_text
from ..version import VERSION
from .amounts import amount_sentences
from .batch import likely_words
from .cautions import caution_of_records, caution_words
from .findings import short_name
from .language import Language
from .numbers import chance, listed
from .terminal import LINES, SHORT, WIDTH, full_lines, short_lines

WIDTHS = (6, 10, 15, 16, 18, 0)  # of number, day, claim, answer, system; the name is last, as it may run right to left
COLUMNS = (
    "number",
    "made",
    "name",
    "claim",
    "mass_g",
    "decision",
    "system",
    "probability",
    "version",
    "note",
    "cautions",
)
EXPORTED = (
    "number",
    "day",
    "name",
    "claim",
    "answer",
    "likely",
    "as_claimed",
    "holds",
    "mass",
    "displaced",
    "density",
    "cautions",
    "note",
)
NUMBERS = ("mass", "displaced", "density")
JOINERS = "\u200c\u200d"  # letters of some scripts need them; all other marks that do not show are left out
MOST_SKIPPED = 5


def records_text(found: Records, folder: Path, say: Language) -> str:
    """Text of the latest records, latest first, as many as the screen holds."""
    if not found.found:
        return _none(found, folder, say)
    head = [say.say("records", k) for k in ("record", "made", "claim", "answer", "first", "name")]
    latest = list(found)[::-1]
    care = _wrap(caution_of_records(((s.number, s.cautions) for s in latest[: LINES - 1]), say))
    rows = [head, *(_row(s, say) for s in latest[:LINES])]
    end = [*_wrap(_counted(found, say)), *care]
    return _table(rows, WIDTHS, say, LINES - len(end), len(latest[LINES:])) + "".join(f"{line}\n" for line in end)


def _counted(found: Records, say: Language) -> str:
    """How many records there are of each decision."""
    each = [say.say("batch", "each", count=n, what=_said(code, say)) for code, n in found.count("decision").items()]
    return say.say("records", "counted", count=len(found), each=listed(each))


def counts_text(found: Records, by: str, folder: Path, say: Language) -> str:
    """Text of the numbers of records, as many rows as the screen holds."""
    if not found.found:
        return _none(found, folder, say)
    rows = [[str(n), _said(key, say, metals=by == "system")] for key, n in found.count(by).items()]
    return _table(
        [[say.say("records", "count"), say.say("records", "answer" if by == "decision" else by)], *rows], (7, 0), say
    )


def skipped_lines(found: Records, say: Language) -> list[str]:
    """One line for each file that could not be read; of many, only the first few."""
    lines = [printable(say.say("records", "skipped", reason=str(e))) for e in found.skipped[:MOST_SKIPPED]]
    more = len(found.skipped) - len(lines)
    return lines + ([say.say("records", "skipped_more", count=more)] if more else [])


def records_csv(found: Iterable[Summary]) -> str:
    """Every record found as CSV for programs."""
    return csv_text(COLUMNS, (list(_cells(s).values()) for s in found))


def export_csv(found: Iterable[Summary], say: Language, here: Language) -> str:
    """Every record found as CSV for people: what was said, decided and measured.

    `here` : the language of the shop, which says how its spreadsheet writes numbers. Where a comma is the decimal mark,
    semicolons divide the cells.
    """
    head = [say.say("records", f"export_{key}") for key in EXPORTED]
    rows = ([here.number(x) if k in NUMBERS else x for k, x in _exported(s, say).items()] for s in found)
    return csv_lines((head, *rows), "," if here.decimal_mark == "." else ";")


def _exported(s: Summary, say: Language) -> dict[str, str]:
    """The cells of one record by `EXPORTED`."""
    d = read_record(s.file).solution
    w, claimed = d.density, d.row(AS_CLAIMED)
    weighed = (w.mass_g, w.displaced_g, round(w.value, 2)) if w else (None, None, None)
    mass, displaced, density = ("" if x is None else f"{x:.12g}" for x in weighed)
    values = (
        str(s.number),
        s.day,
        s.name,
        s.claim,
        _said(s.decision, say),
        likely_words(d, say),
        chance(claimed.share, say) if claimed else "",
        " ".join(amount_sentences(d, say)),
        mass,
        displaced,
        density,
        caution_words(s.cautions, say),
        s.note,
    )
    return dict(zip(EXPORTED, values, strict=True))


def counts_csv(found: Records, by: str) -> str:
    """How many records, as CSV."""
    return csv_text((by, "records"), found.count(by).items())


def records_json(found: Records, by: str = "") -> str:
    """Every record found, or how many, as JSON, with the files that were skipped."""
    what = {"by": by, "counts": found.count(by)} if by else {"records": [_cells(s) for s in found]}
    skipped = [
        {"file": e.path, "given": e.given, "expected": e.expected, "next_step": e.next_step} for e in found.skipped
    ]
    return json.dumps({"schema": "alloysolve.records/1", **what, "skipped": skipped}, indent=2, ensure_ascii=False)


def _cells(s: Summary) -> dict[str, Any]:
    made, said = s.made.isoformat().replace("+00:00", "Z"), "; ".join(s.cautions)
    first = (s.number, made, s.name, s.claim, s.mass_g, s.decision)
    values = (*first, s.system, s.probability, s.version, s.note, said)
    return dict(zip(COLUMNS, values, strict=True))


def _none(found: Records, folder: Path, say: Language) -> str:
    key = "nothing" if found.total else "empty"
    if key == "nothing" and found.total == 1:
        key = "nothing_one"
    return say.say("records", key, count=found.total, folder=folder) + "\n"


def _row(s: Summary, say: Language) -> list[str]:
    claim = s.claim or say.say("records", "unclaimed")
    return [str(s.number), s.day, claim, _said(s.decision, say), _likeliest(read_record(s.file).solution, say), s.name]


def _likeliest(d: Document, say: Language) -> str:
    """What a piece most likely is, in the words of its answer."""
    return _said(SOMETHING_ELSE, say) if d.nothing_known or not d.rows else short_name(d.rows[0], d, say)


def _said(code: str, say: Language, metals: bool = False) -> str:
    """A decision, that something else is likelier, or with `metals` a system in words; a day is returned as it is."""
    if code == SOMETHING_ELSE:
        return say.say("table", "something_else")
    if metals:
        return "-".join(map(say.metal, code.split()))
    return say.say("records", code) if say.has("records", code) else code


def _table(rows: list[list[str]], widths: tuple[int, ...], say: Language, most: int = LINES, unread: int = 0) -> str:
    """Rows in columns of the screen, as many as some lines hold, and how many more there are with the unread ones."""
    kept = rows if len(rows) + unread <= most else rows[: most - 1]
    room = WIDTH - sum(w + 1 for w in widths)
    lines = [
        " ".join(fitted(cell, w) for cell, w in zip(row[:-1], widths, strict=False)) + " " + cut(row[-1], room)
        for row in kept
    ]
    more = len(rows) + unread - len(kept)
    return "\n".join(x.rstrip() for x in [*lines, *([say.say("records", "more", count=more)] if more else [])]) + "\n"


def record_text(record: Record, say: Language, more: bool = False) -> str:
    """One stored answer, short or with `more` in full; above it which record it is, below it how to print it again."""
    d = record.solution
    made = f"{record.made.astimezone():%Y-%m-%d %H:%M}"
    name = listed([t for t in (record.summary.name, record.summary.note) if t])
    head = [say.say("records", "head", number=record.number, made=made), *_wrap(name)[:2]]
    if d.version != VERSION:
        head += _wrap(say.say("records", "version", version=d.version, current=VERSION))
    if more:
        ways = ("page", "again") if record.page else ("again",)
        ending = [say.say("records", key, number=record.number) for key in ways]
        lines = [*full_lines(d, say, LINES - len(head) - len(ending)), *ending]
    else:
        lines = short_lines(d, say, SHORT, say.say("short", "page" if record.page else "full", page=record.number))
    return "\n".join(cut(line, WIDTH) for line in [*head, *lines]) + "\n"


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(printable(text), WIDTH)


def printable(text: str) -> str:
    """Text on one line, without anything that a terminal would obey or that does not show."""
    one_line = " ".join(str(text).split())
    return "".join(c for c in one_line if not unicodedata.category(c).startswith("C") or c in JOINERS)


def columns_of(text: str) -> int:
    """Columns a text takes on a screen: wide letters take two, marks over letters none."""
    return sum(
        0 if unicodedata.combining(c) or c in JOINERS else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )


def cut(text: str, width: int) -> str:
    """Printable text in at most `width` columns; three dots stand for what was cut off."""
    shown = "".join(c for c in text if not unicodedata.category(c).startswith("C") or c in JOINERS)
    if columns_of(shown) <= width:
        return shown
    while shown and columns_of(shown) > width - 3:
        shown = shown[:-1]
    return shown + "..."


def fitted(text: str, width: int) -> str:
    """A cell of exactly `width` columns."""
    kept = cut(text, width)
    return kept + " " * (width - columns_of(kept))
