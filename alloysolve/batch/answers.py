"""Rows of answers: as data for programs, and as a plain table for people; CSV, Excel, JSON lines or Parquet."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, islice
from pathlib import Path
from typing import Any

from ..answer.document import Document
from ..answer.parts import Code
from ..answer.rounding import significant
from ..answer.rows import NOT_SHOWN, Amount, What
from ..inference.decision import Decision, Reason
from ..plain import to_plain
from ..spreadsheet import csv_lines, write_excel
from .files import PARQUET_ROWS, pyarrow_parquet

FoundSystem = tuple[Sequence[str], float, Mapping[str, Sequence[float]]]  # metals, probability, ranges [percent]
BEST, IN_COLUMNS = 10, 3  # systems of an answer, and of those the ones with columns of their own
NUMBERS = ("p", "something_else", *(f"probability_{k}" for k in range(1, IN_COLUMNS + 1)))
# a dot between whole digits of a list with semicolons may be a thousands mark, and so may a comma of any other
NUMBER = re.compile(r"(?:0|[1-9]\d{0,8})(?:\.\d{1,6})?")
NUMBER_COMMA = re.compile(r"(?:0|[1-9]\d{0,8})(?:,\d{1,6})?")


@dataclass(frozen=True, slots=True)
class BatchSystem:
    """A likely system: metals, probability, ranges in mass percent as low, likely, high."""

    metals: tuple[str, ...]
    probability: float
    ranges: Mapping[str, tuple[float, float, float]]


@dataclass(frozen=True, slots=True)
class BatchLikely:
    """What a piece may be, and how likely: as claimed, finer, or a system of metals beside the claim."""

    what: What
    metals: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class BatchRow:
    """One row of the answers as JSON lines.

    Attributes
    ----------
    line : of the source. reasons, notes, cautions : codes; the notes are those on the weighing. rows :
        what the piece may be, the likeliest first. systems : metals, whether as claimed or not. words : what the plain
        table says, by the keys of its heads. own : the cells of the list as they came, without name and claim.
    """

    line: int
    name: str
    decision: Code | None
    p: float | None
    reasons: tuple[str, ...]
    notes: tuple[str, ...]
    rows: tuple[BatchLikely, ...]
    systems: tuple[BatchSystem, ...]
    something_else: float | None
    precious: Mapping[str, Amount]
    cautions: tuple[str, ...]
    words: Mapping[str, str]
    own: Mapping[str, Any]
    error: str | None


NOTHING: Mapping[str, Any] = {
    "decision": None,
    "p": None,
    "reasons": [],
    "notes": [],
    "rows": [],
    "systems": [],
    "something_else": None,
    "precious": {},
    "cautions": [],
}


def answer_row(
    d: Document, decision: Decision | None, notes: Iterable[Reason], systems: Iterable[FoundSystem]
) -> dict[str, Any]:
    """An answer: decision and reasons, notes on the weighing, what is likely, precious metals and cautions."""
    return {
        "decision": decision.code if decision else None,
        "p": significant(decision.p) if decision else None,
        "reasons": [r.code for r in decision.reasons] if decision else [],
        "notes": [n.code for n in notes],
        "rows": [
            {"what": r.what, "metals": list(r.metals), "probability": r.share} for r in d.rows if r.what != NOT_SHOWN
        ],
        "systems": [
            {
                "metals": list(metals),
                "probability": significant(probability),
                "ranges": {m: [round(x, 1) for x in r] for m, r in ranges.items() if m in metals},
            }
            for metals, probability, ranges in systems
        ],
        "something_else": d.something_else,
        "precious": to_plain(d.precious),
        "cautions": list(d.cautions),
    }


@dataclass(frozen=True)
class Layout:
    """How answers stand in a table: one plain row a piece, with the columns of the list as they came in front.

    `heads` are those of the words of an answer by their keys; `wide` adds the codes and numbers behind the words.
    """

    heads: Mapping[str, str]
    own: tuple[str, ...] = ()
    wide: bool = False
    delimiter: str = ","
    mark: bool = False

    @property
    def columns(self) -> list[str]:
        """The heads of the table; one of the shop's that is also one of ours is told apart."""
        ours = ["line", "name", *self.heads.values(), *(wide_columns() if self.wide else ()), "error"]
        own = [f"{head} (list)" if head in ours else head for head in self.own]
        return ["line", "name", *own, *ours[2:]]

    def cells(self, answer: Mapping[str, Any]) -> list[Any]:
        """One answer as cells, in the order of `columns`."""
        words = answer["words"]
        own = [answer["own"].get(head) for head in self.own]
        wide = flat(answer).values() if self.wide else ()
        return [answer["line"], answer["name"], *own, *(words.get(key) for key in self.heads), *wide, answer["error"]]

    def head(self) -> str:
        """What stands in a CSV file before its rows."""
        return ("\ufeff" if self.mark else "") + csv_lines([self.columns], self.delimiter)

    def text(self, answers: Sequence[Mapping[str, Any]], form: str) -> str:
        """Answers as lines of CSV without the head, or as JSON lines, in which other forms are kept until the end."""
        if form == ".csv":
            return csv_lines([self.cells(a) for a in answers], self.delimiter)
        return "".join(json.dumps(a, ensure_ascii=False, allow_nan=False) + "\n" for a in answers)

    def write(self, lines: Path, target: Path, form: str) -> None:
        """Answers kept as JSON lines as an Excel or Parquet file."""
        if form == ".xlsx":
            comma = self.delimiter == ";"
            rows = (self.cells(a | {"own": _numbers(a["own"], comma)}) for a in _read(lines))
            write_excel(chain([self.columns], rows), target)
        else:
            _write_parquet(self, lines, target)


def _numbers(own: Mapping[str, Any], decimal_comma: bool) -> dict[str, Any]:
    """The cells of a list with its numbers as numbers; what could lose anything by that, such as 007, stays text."""
    number = NUMBER_COMMA if decimal_comma else NUMBER
    return {
        head: float(cell.replace(",", ".")) if isinstance(cell, str) and number.fullmatch(cell) else cell
        for head, cell in own.items()
    }


def wide_columns() -> list[str]:
    """Columns of codes and numbers that a wide table has besides."""
    each = [f"{name}_{k}" for k in range(1, IN_COLUMNS + 1) for name in ("system", "probability", "ranges")]
    return ["decision", "p", "reasons", "notes", *each, "something_else", "precious", "caution_codes"]


def flat(answer: Mapping[str, Any]) -> dict[str, Any]:
    """The codes and numbers of an answer as cells.

    Metals are written "Cu Zn", ranges "Cu 62..79 Zn 20..36" [mass percent], precious "Ag 0..0.5..1.6 g".

    Two dots stand between low and high, or low, likely and high, so that none is taken for a minus.
    """
    out: dict[str, Any] = dict.fromkeys(wide_columns(), None)
    out |= {key: answer.get(key) for key in ("decision", "p", "something_else")}
    for key, of in {"reasons": "reasons", "notes": "notes", "caution_codes": "cautions"}.items():
        out[key] = " ".join(code.replace(" ", "_") for code in answer.get(of, ())) or None
    for k, system in enumerate(answer.get("systems", ())[:IN_COLUMNS], start=1):
        ranges = " ".join(f"{m} {low:g}..{high:g}" for m, (low, _, high) in system["ranges"].items())
        out |= {
            f"system_{k}": " ".join(system["metals"]),
            f"probability_{k}": system["probability"],
            f"ranges_{k}": ranges,
        }
    precious = [
        f"{m} {x['low']:g}..{x['likely']:g}..{x['high']:g} {x['unit']}" for m, x in answer.get("precious", {}).items()
    ]
    out["precious"] = "; ".join(precious) or None
    return out


def _read(lines: Path) -> Iterator[dict[str, Any]]:
    with lines.open(encoding="utf-8") as file:
        yield from map(json.loads, file)


def _write_parquet(layout: Layout, lines: Path, target: Path) -> None:
    import pyarrow as pa

    kinds = {"line": pa.int64(), **(dict.fromkeys(NUMBERS, pa.float64()) if layout.wide else {})}
    schema = pa.schema([pa.field(c, kinds.get(c, pa.string())) for c in layout.columns])
    answers = map(layout.cells, _read(lines))
    with pyarrow_parquet().ParquetWriter(target, schema) as writer:
        while rows := list(islice(answers, PARQUET_ROWS)):
            arrays = [_array(cells, of.type) for of, cells in zip(schema, zip(*rows, strict=True), strict=True)]
            writer.write_table(pa.Table.from_arrays(arrays, schema=schema))


def _array(cells: Sequence[Any], kind: Any) -> Any:
    """One column; in one of text, every cell is text."""
    import pyarrow as pa

    return pa.array([c if c is None or kind != pa.string() else str(c) for c in cells], kind)
