"""Rows of pieces in and rows of answers out, as CSV, JSON lines or Parquet, one row at a time."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from ..answer.collect import amounts
from ..answer.parts import Code
from ..answer.rounding import significant
from ..answer.rows import Amount
from ..entry import unknown
from ..errors import InputError
from ..inference.decision import Decision, Reason
from ..inputs.piece import known_columns
from ..measured import Measured
from ..plain import to_plain
from .spreadsheet import csv_lines

FORMS = (".csv", ".jsonl", ".parquet")
Row = tuple[int, dict[str, Any]]  # number of its line or row, and its values by column
FoundSystem = tuple[Sequence[str], float, Mapping[str, Sequence[float]]]  # metals, probability, ranges [percent]
BEST, IN_COLUMNS = 10, 3  # systems of an answer, and of those the ones with columns of their own
QUICK, FULL = "quick", "full"  # how an answer was found
PARQUET_ROWS = 5000


def form_of_file(path: str | Path, name: str) -> str:
    """The form of a file from its ending: ".csv", ".jsonl" or ".parquet", which needs pyarrow."""
    ending = Path(path).suffix.lower()
    if ending not in FORMS:
        raise InputError(name, str(path), "a file that ends in .csv, .jsonl or .parquet", "rename it")
    if ending == ".parquet":
        _pyarrow()
    return ending


def read_rows(path: str | Path) -> Iterator[Row]:
    """Rows of a file with their numbers: lines of CSV and JSON lines, rows of Parquet, from 1.

    A row that cannot be read has its error under the key "" in place of values.

    Raises
    ------
    InputError
        For a file that cannot be read, and for a column that is not a field of a piece.
    """
    reader = {".csv": _csv_rows, ".jsonl": _json_rows, ".parquet": _parquet_rows}[form_of_file(path, "source")]
    try:
        yield from reader(Path(path))
    except (OSError, UnicodeDecodeError) as e:
        reason = getattr(e, "strerror", None) or "no text in UTF-8"
        raise InputError(str(path), reason, "a file that can be read", "check the path and its encoding") from e


def count_rows(path: str | Path) -> int:
    """Number of rows of a file, for a progress bar; lines of text count as rows."""
    if form_of_file(path, "source") == ".parquet":
        return int(_pyarrow().ParquetFile(path).metadata.num_rows)
    try:
        with Path(path).open("rb") as file:
            lines = sum(block.count(b"\n") for block in iter(lambda: file.read(1 << 20), b""))
    except OSError as e:
        raise InputError(str(path), e.strerror, "a file that can be read", "check the path") from e
    return max(lines - 1, 0) if Path(path).suffix.lower() == ".csv" else lines


def _csv_rows(path: Path) -> Iterator[Row]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.reader(file, strict=True)
        head = next(reader, None)
        _check(head or [], str(path))
        line = reader.line_num + 1
        while True:
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error as e:
                yield line, {"": f"no CSV: {e}"}
                cells = []
            if any(cell.strip() for cell in cells):
                wrong = {"": "more cells than the first line has"} if len(cells) > len(head or []) else None
                yield line, wrong or dict(zip(head or [], cells, strict=False))
            line = reader.line_num + 1


def _json_rows(path: Path) -> Iterator[Row]:
    with path.open(encoding="utf-8-sig") as file:
        for number, line in enumerate(file, start=1):
            if not line.strip():
                continue
            try:
                found = json.loads(line)
            except ValueError as e:
                found = {"": f"no JSON: {e}"}
            yield number, found if isinstance(found, dict) else {"": "no table of fields"}


def _parquet_rows(path: Path) -> Iterator[Row]:
    file = _pyarrow().ParquetFile(path)
    _check(file.schema_arrow.names, str(path))
    number = 0
    for batch in file.iter_batches(batch_size=PARQUET_ROWS):
        for row in batch.to_pylist():
            number += 1
            yield number, {key: value for key, value in row.items() if value is not None}


def _check(columns: Sequence[str], path: str) -> None:
    """Refuses a column that is not a field of a piece."""
    known = known_columns()
    for column in columns:
        if column.replace("-", "_") not in known:
            raise unknown(f"{path}: column", column, known, "a field of a piece")


def _pyarrow() -> Any:
    try:
        import pyarrow.parquet
    except ImportError as e:
        raise InputError("parquet", "", "the library pyarrow", "install alloysolve[parquet]") from e
    return pyarrow.parquet


# --- answers


@dataclass(frozen=True, slots=True)
class BatchSystem:
    """A likely system: metals, probability, ranges in mass percent as low, likely, high."""

    metals: tuple[str, ...]
    probability: float
    ranges: Mapping[str, tuple[float, float, float]]


@dataclass(frozen=True, slots=True)
class BatchRow:
    """One row of the answers as JSON lines.

    Attributes
    ----------
    line : of the source. reasons, notes, cautions : codes; the notes are those on the weighing. solved : by the tables
        of a batch or by itself; None with an error.
    """

    line: int
    name: str
    decision: Code | None
    p: float | None
    reasons: tuple[str, ...]
    notes: tuple[str, ...]
    systems: tuple[BatchSystem, ...]
    something_else: float | None
    precious: Mapping[str, Amount]
    cautions: tuple[str, ...]
    solved: Literal["quick", "full"] | None
    error: str | None


def answer_row(
    decision: Decision | None,
    notes: Iterable[Reason],
    systems: Iterable[FoundSystem],
    other: float | None,
    precious: Mapping[str, Measured],
    covers: float,
    cautions: Sequence[str],
    solved: str | None,
) -> dict[str, Any]:
    """An answer: decision and reasons, notes on the weighing, the likeliest systems, precious metals and cautions."""
    return {
        "decision": decision.code if decision else None,
        "p": significant(decision.p) if decision else None,
        "reasons": [r.code for r in decision.reasons] if decision else [],
        "notes": [n.code for n in notes],
        "systems": [
            {
                "metals": list(metals),
                "probability": significant(probability),
                "ranges": {m: [round(x, 1) for x in r] for m, r in ranges.items() if m in metals},
            }
            for metals, probability, ranges in systems
        ],
        "something_else": None if other is None else significant(other),
        "precious": to_plain(amounts(precious, covers)),
        "cautions": list(cautions),
        "solved": solved,
    }


def columns() -> list[str]:
    """Columns of answers in CSV and Parquet."""
    each = [f"{name}_{k}" for k in range(1, IN_COLUMNS + 1) for name in ("system", "probability", "ranges")]
    first, last = ["line", "name", "decision", "p", "reasons", "notes"], ["precious", "cautions", "solved", "error"]
    return [*first, *each, "something_else", *last]


def flat(answer: Mapping[str, Any]) -> dict[str, Any]:
    """An answer as cells: metals "Cu Zn", ranges "Cu 62..79 Zn 20..36" [mass percent], precious "Ag 0..0.5..1.6 g".

    Two dots stand between low and high, or low, likely and high, so that none is taken for a minus.
    """
    out: dict[str, Any] = dict.fromkeys(columns(), None)
    out |= {key: answer.get(key) for key in ("line", "name", "decision", "p", "something_else", "solved", "error")}
    for key in ("reasons", "notes", "cautions"):
        out[key] = " ".join(code.replace(" ", "_") for code in answer.get(key, ())) or None
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


def text_of(answers: Sequence[Mapping[str, Any]], form: str) -> str:
    """Answers as lines of CSV (without the head; no cell is a formula) or of JSON."""
    if form == ".csv":
        return csv_lines([list(flat(a).values()) for a in answers])
    return "".join(json.dumps(a, ensure_ascii=False, allow_nan=False) + "\n" for a in answers)


def write_parquet(lines: Path, target: Path) -> None:
    """Answers kept as JSON lines as a Parquet file."""
    import pyarrow as pa

    numbers = ("p", "something_else", *(c for c in columns() if c.startswith("probability")))
    schema = pa.schema(
        [pa.field(c, pa.int64() if c == "line" else pa.float64() if c in numbers else pa.string()) for c in columns()]
    )
    with lines.open(encoding="utf-8") as file, _pyarrow().ParquetWriter(target, schema) as writer:
        rows: list[dict[str, Any]] = []
        for line in file:
            rows.append(flat(json.loads(line)))
            if len(rows) == PARQUET_ROWS:
                writer.write_table(pa.Table.from_pylist(rows, schema))
                rows = []
        writer.write_table(pa.Table.from_pylist(rows, schema))
