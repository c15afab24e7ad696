"""Records of pieces in words: a list, a count, and one stored answer shown without solving it again."""

from __future__ import annotations

import json
import textwrap
import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..answer.document import package_version
from ..answer.records import NO_CLAIM, SOMETHING_ELSE, Record, Records, Summary
from ..batch.spreadsheet import csv_text
from ..pieces.constructions import BY_NAME
from ..published.load import default_tables
from .language import Language
from .numbers import chance, columns, composition, length, length_span, listed, span
from .terminal import ALIKE_FROM, BODY, LIKELY, LINES, SHOWN, SHOWN_FROM, WIDTH, readings_table

WIDTHS = (6, 10, 15, 16, 14, 0)  # of number, day, claim, answer, system; the name is last, as it may run right to left
COLUMNS = ("number", "made", "name", "claim", "decision", "system", "probability", "version", "note")
JOINERS = "\u200c\u200d"  # letters of some scripts need them; all other marks that do not show are left out
MOST_SKIPPED = 5
MOST_PRECIOUS = 3
UNNAMED = ("pair", "triple")


def records_text(found: Records, folder: Path, say: Language) -> str:
    """The latest records first, as many as the screen holds."""
    if not found.found:
        return _none(found, folder, say)
    head = [say.say("records", k) for k in ("record", "made", "claim", "answer", "first", "name")]
    latest = list(found)[::-1]
    return _table([head, *(_row(s, say) for s in latest)], WIDTHS, say)


def counts_text(found: Records, by: str, folder: Path, say: Language) -> str:
    """How many records, as many rows as the screen holds."""
    if not found.found:
        return _none(found, folder, say)
    rows = [[str(n), _said(key, say) if by != "day" else key] for key, n in found.count(by).items()]
    return _table(
        [[say.say("records", "count"), say.say("records", "answer" if by == "decision" else by)], *rows], (7, 0), say
    )


def skipped_lines(found: Records, say: Language) -> list[str]:
    """One line for each file that could not be read, of many the first few."""
    lines = [printable(say.say("records", "skipped", reason=str(e))) for e in found.skipped[:MOST_SKIPPED]]
    more = len(found.skipped) - len(lines)
    return lines + ([say.say("records", "skipped_more", count=more)] if more else [])


def records_csv(found: Records) -> str:
    """Every record found as CSV."""
    return csv_text(COLUMNS, (list(_cells(s).values()) for s in found))


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
    made = s.made.isoformat().replace("+00:00", "Z")
    values = (s.number, made, s.name, s.claim, s.decision, s.system, s.probability, s.version, s.note)
    return dict(zip(COLUMNS, values, strict=True))


def _none(found: Records, folder: Path, say: Language) -> str:
    key = "nothing" if found.total else "empty"
    return say.say("records", key, count=found.total, folder=folder) + "\n"


def _row(s: Summary, say: Language) -> list[str]:
    system = " ".join(s.metals) or _said(SOMETHING_ELSE, say)
    return [str(s.number), s.day, s.claim or say.say("records", "unclaimed"), _said(s.decision, say), system, s.name]


def _said(code: str, say: Language) -> str:
    """A decision, or that something else is likelier, in words; systems and days say themselves."""
    if code == SOMETHING_ELSE:
        return say.say("table", "something_else")
    return say.say("records", code) if say.has("records", code) else code


def _table(rows: list[list[str]], widths: tuple[int, ...], say: Language) -> str:
    """Rows in columns of the screen, and how many more there are."""
    kept = rows if len(rows) <= LINES else rows[: LINES - 1]
    room = WIDTH - sum(w + 1 for w in widths)
    lines = [
        " ".join(fitted(cell, w) for cell, w in zip(row[:-1], widths, strict=False)) + " " + cut(row[-1], room)
        for row in kept
    ]
    more = len(rows) - len(kept)
    return "\n".join(x.rstrip() for x in [*lines, *([say.say("records", "more", count=more)] if more else [])]) + "\n"


def record_text(record: Record, say: Language) -> str:
    """One stored answer: what was said, what it fitted and its readings, and which version found it."""
    s = record.solution
    made = f"{record.made.astimezone():%Y-%m-%d %H:%M}"
    name = listed([t for t in (s["inputs"].get("name"), s["inputs"].get("note")) if t])
    head = [say.say("records", "head", number=record.number, made=made), *_wrap(name)[:2]]
    if s["version"] != package_version():
        head += _wrap(say.say("records", "version", version=s["version"], current=package_version()))
    result = [*_wrap(_result(s, say)), ""]
    ways = ("page", "again") if record.page else ("again",)
    ending = [say.say("caution", "fixed"), *(say.say("records", key, number=record.number) for key in ways)]
    table = [*_systems(s, say), ""]
    rows = readings_table([{**r, "value": r["text"]} for r in s["readings"]], s["claim"] is not None, say)
    room = LINES - len(head) - len(result) - len(table) - len(ending)
    if len(rows) > room:
        rows = [*rows[: room - 1], say.say("records", "more", count=len(rows) - room + 1)]
    return "\n".join(cut(line, WIDTH) for line in [*head, *result, *table, *rows, *ending]) + "\n"


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(printable(text), WIDTH)


def _result(s: Mapping[str, Any], say: Language) -> str:
    """What was said of the claim, and the precious metal in what fitted."""
    claim = s["claim"]
    said = say.say("decision", (claim or {}).get("decision") or NO_CLAIM, claim=claim["text"] if claim else "") + "."
    likeliest = s["systems"][0]["probability"] if s["systems"] else 0.0
    nothing = s["something_else"] > likeliest
    return f"{said} {say.say('records', 'fits_nothing') if nothing else _precious(s, say)}"


def _precious(s: Mapping[str, Any], say: Language) -> str:
    """Precious metal as it was found, most first."""
    items = []
    for symbol, m in sorted(s["precious"].items(), key=lambda item: -item[1]["high"]):
        low, high = (f"{m[k]:.3g}" if m[k] < 1000 else f"{m[k]:.0f}" for k in ("low", "high"))
        if m["high"] < (0.01 if m["unit"] == "g" else 0.1):
            continue
        if m["low"] > 0.05 * m["high"]:
            amount = f"{low}-{high} {m['unit']}" if low != high else f"{high} {m['unit']}"
            items.append(say.say("content", "item", amount=amount, metal=say.metal(symbol)))
        else:
            items.append(say.say("records", "under", amount=f"{high} {m['unit']}", metal=say.metal(symbol)))
    return (
        say.say("records", "precious", list=listed(items[:MOST_PRECIOUS]))
        if items
        else say.say("records", "no_precious")
    )


def _systems(s: Mapping[str, Any], say: Language) -> list[str]:
    """The table of what fitted, likeliest first."""
    systems = [x for x in s["systems"] if x["probability"] >= SHOWN_FROM and x["constructions"]][:SHOWN]
    leading = systems[0]["probability"] if systems else 1.0
    rows = [(x["probability"], _alike(x, leading, say), _body(x, say), _layer(x, say)) for x in systems]
    if s["something_else"] >= SHOWN_FROM:
        rows.append((s["something_else"], chance(s["something_else"], say), say.say("table", "something_else"), ""))
    rows.sort(key=lambda row: -row[0])
    head = [say.say("table", k) for k in ("likely", "body", "layer")]
    alike = say.say("table", "alike")
    note = [say.say("table", "alike_note")] if any(row[1] == alike for row in rows) else []
    return columns([head, *([*row[1:]] for row in rows)], [LIKELY, BODY, 0]) + note


def _alike(x: Mapping[str, Any], leading: float, say: Language) -> str:
    same = x["alike_the_first"] and x["probability"] >= ALIKE_FROM * leading
    return say.say("table", "alike") if same else chance(x["probability"], say)


def _body(x: Mapping[str, Any], say: Language) -> str:
    """The family as it was called, with the ranges of its metals."""
    family = x["constructions"][0]["family"]
    name = "-".join(say.metal(m) for m in x["metals"]) if family in UNNAMED else family
    metals = composition({m: (a, a, b) for m, (a, b) in x["ranges"].items()}, say, BODY - len(name) - 2)
    text = f"{name}: {metals}" if metals and metals != name else name
    return text if len(text) <= BODY else textwrap.shorten(name, BODY, placeholder="")


def _layer(x: Mapping[str, Any], say: Language) -> str:
    """What lies on or in the body of the likeliest construction."""
    best = x["constructions"][0]
    void, part = best["void_percent"], best["part_percent"]
    if void and None not in void:
        return say.say("table", "hollow", share=span(void[0], void[2]))
    if part and None not in part and best["construction"] in BY_NAME:
        key = BY_NAME[best["construction"]].place.value
        return say.say("table", key, part=_part(best["skin"] or "", say), share=span(part[0], part[2]))
    plated = [c for c in x["constructions"] if c["skin"] and c["skin_um"] and None not in c["skin_um"]]
    if not plated or sum(c["probability"] for c in plated) < 0.05 * x["probability"]:
        return say.say("table", "no_layer")
    skin, (low, _, high) = _part(plated[0]["skin"], say), plated[0]["skin_um"]
    text = (
        say.say("table", "layer_up_to", skin=skin, high=length(high))
        if low < 1
        else say.say("table", "layer_range", skin=skin, span=length_span(low, high))
    )
    bare = sum(c["probability"] for c in x["constructions"] if not c["skin"])
    return say.say("table", "or_none", layer=text) if bare > 0.05 * x["probability"] else text


def _part(name: str, say: Language) -> str:
    """What a skin, slug or joined part is called."""
    if say.metal(name) != name:
        return say.metal(name)
    return next((row.words for row in default_tables().rows("skins") if row.name == name), name)


def printable(text: str) -> str:
    """Text on one line, without what a terminal would obey or what does not show."""
    one_line = " ".join(str(text).split())
    return "".join(c for c in one_line if not unicodedata.category(c).startswith("C") or c in JOINERS)


def columns_of(text: str) -> int:
    """Columns a text takes on a screen: wide letters take two, marks over letters none."""
    return sum(
        0 if unicodedata.combining(c) or c in JOINERS else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )


def cut(text: str, width: int) -> str:
    """Printable text in at most `width` columns; what was cut off shows as three dots."""
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
