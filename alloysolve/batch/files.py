"""The pieces of a list, one row at a time: delimited text as spreadsheets write it, Excel, JSON lines or Parquet."""

from __future__ import annotations

import codecs
import csv
import json
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from ..entry import shown
from ..errors import InputError
from ..spreadsheet import excel_sheets, openpyxl
from .columns import (
    HEAD_WITHIN,
    Column,
    blank,
    check_water,
    columns_of,
    field_of_key,
    head_row,
    is_doubtful_water,
    lacking,
    recognised,
    says_nothing,
)

Cells = tuple[int, Sequence[Any], str]  # number of a row that is not blank, its cells, and what is wrong with it
TEXT = (".csv", ".tsv", ".txt")
FORMS = (*TEXT, ".xlsx", ".jsonl", ".parquet")
WRITTEN = (".csv", ".xlsx", ".jsonl", ".parquet")
DELIMITERS = (",", ";", "\t")
PARQUET_ROWS = 5000
SAID = ("name", "claim")  # fields that every answer repeats; all others stay beside it, so that it can be checked
BLOCK = 1 << 20  # bytes


class Row(NamedTuple):
    """One row: its number, the fields of a piece, the cells that stay beside its answer, and what is wrong with it."""

    number: int
    fields: dict[str, Any]
    own: dict[str, Any]
    wrong: str = ""


@dataclass(frozen=True)
class Source:
    """A list that can be read.

    Attributes
    ----------
    count : of rows. own : heads of the columns that stand beside the answers. unread : those of them that are no field
        of a piece. lacking : what no column holds that a piece needs to be judged. delimiter : between its cells.
    """

    rows: Callable[[], Iterator[Row]]
    count: int
    own: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()
    delimiter: str = ","
    mark: bool = False  # whether a spreadsheet needs a mark at the beginning to read letters beyond ASCII


def form_of_file(path: str | Path, name: str, forms: Sequence[str] = FORMS) -> str:
    """The form of a file from its ending; ".xlsx" needs openpyxl, ".parquet" pyarrow."""
    ending = Path(path).suffix.lower()
    if ending not in forms:
        step = "save it as .xlsx" if ending in (".xls", ".ods") and name == "source" else "rename it"
        raise InputError(name, str(path), f"a file that ends in {', '.join(forms[:-1])} or {forms[-1]}", step)
    if ending == ".parquet":
        pyarrow_parquet()
    if ending == ".xlsx":
        openpyxl()
    return ending


def open_source(path: str | Path, mapping: Mapping[str, str] | None = None) -> Source:
    """A list, looked through once: its columns, its number of rows, and whether it can be read at all.

    Raises
    ------
    InputError
        For a file that cannot be read, a head that is a slip for a field, and two columns of one name.
    """
    form, file, said = form_of_file(path, "source"), Path(path), mapping or {}
    opened = {".xlsx": _excel, ".jsonl": _json_lines, ".parquet": _parquet}.get(form, _text)
    try:
        return opened(file, said)
    except OSError as e:
        raise InputError(str(path), e.strerror or str(e), "a file that can be read", "check the path") from e


def _table(read: Callable[[], Iterator[Cells]], path: Path, mapping: Mapping[str, str], **how: Any) -> Source:
    """A list with a head, whatever its form."""
    first = [cells for _, cells, _ in islice(read(), HEAD_WITHIN)]
    if not first:
        raise InputError(str(path), "an empty file", "a head and rows below it", "check that it is the right one")
    at = head_row(first, mapping)
    columns = columns_of(first[at], mapping, str(path))
    count, unnamed = 0, {k for k, head in enumerate(first[at]) if blank(head)}
    water = next((k for k, c in enumerate(columns) if is_doubtful_water(c, mapping)), None)
    for number, cells, _ in islice(read(), at + 1, None):
        count += 1
        if water is not None and water < len(cells):
            check_water(cells[water], number, str(path))
        unnamed -= {k for k in unnamed if k < len(cells) and not blank(cells[k])} if unnamed else set()

    def rows() -> Iterator[Row]:
        for number, cells, wrong in islice(read(), at + 1, None):
            yield Row(number, {}, {}, wrong) if wrong else _made(number, cells, columns, how.get("delimiter") == ";")

    own = tuple(c.head for k, c in enumerate(columns) if c.field not in SAID and k not in unnamed)
    unread = tuple(c.head for k, c in enumerate(columns) if not c.field and k not in unnamed)
    return Source(rows, count, own, unread, lacking([c.field for c in columns]), **how)


def _made(number: int, cells: Sequence[Any], columns: Sequence[Column], decimal_comma: bool) -> Row:
    """A row from its cells; cells beyond the head make it wrong, unless they are blank."""
    filled = [(c, cell) for c, cell in zip(columns, cells, strict=False) if not blank(cell)]
    fields = {c.field: c.value(cell, decimal_comma) for c, cell in filled if c.field and not says_nothing(cell)}
    own = {c.head: _kept(cell) for c, cell in filled if c.field not in SAID}
    more = ", ".join(repr(shown(str(cell))) for cell in cells[len(columns) :] if not blank(cell))
    wrong = f"it has {len(cells)} cells and the first line of the list {len(columns)}; too many: {more}"
    return Row(number, fields, own, wrong if more else "")


def _kept(cell: Any) -> str | int | float:
    """A cell of the shop's own as it can be kept in JSON: what is neither text nor a finite number becomes text."""
    is_number = isinstance(cell, int | float) and not isinstance(cell, bool) and math.isfinite(cell)
    return cell if is_number or isinstance(cell, str) else str(cell)


# --- delimited text


def _text(path: Path, mapping: Mapping[str, str]) -> Source:
    encoding, mark = _encoding(path)
    delimiter = max(DELIMITERS, key=lambda d: _score(_cells(path, encoding, d), mapping))
    return _table(partial(_cells, path, encoding, delimiter), path, mapping, delimiter=delimiter, mark=mark)


def _score(read: Iterator[Cells], mapping: Mapping[str, str]) -> tuple[int, int]:
    """How well a delimiter serves: known heads, then cells of the head."""
    first = [cells for _, cells, _ in islice(read, HEAD_WITHIN)]
    head = first[head_row(first, mapping)] if first else []
    return recognised(head, mapping), len(head)


def _encoding(path: Path) -> tuple[str, bool]:
    """The encoding of a text, and whether a spreadsheet would have to be told it: UTF-8, or what Windows writes."""
    with path.open("rb") as file:
        start = file.read(4)
        if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16", True
        if start.startswith(b"PK\x03\x04") or b"\0" in start:
            raise InputError(str(path), "another kind of file", "text", "give it the ending of its kind")
        decoder = codecs.getincrementaldecoder("utf-8")()
        file.seek(0)
        try:
            for block in iter(lambda: file.read(BLOCK), b""):
                decoder.decode(block)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return "cp1252", True
    return "utf-8-sig", start.startswith(codecs.BOM_UTF8)


def _cells(path: Path, encoding: str, delimiter: str) -> Iterator[Cells]:
    """The rows of a text that are not blank, with the number of the line on which each begins."""
    with path.open(encoding=encoding, newline="", errors="replace" if encoding == "cp1252" else "strict") as file:
        reader = csv.reader(file, delimiter=delimiter, strict=True)
        while True:
            line = reader.line_num + 1
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error as e:
                if "end of data" in str(e) or "field larger" in str(e):
                    step = "add it, or take out the first one"
                    raise InputError(f"{path}: line {line}", "an open quote", 'a " at the end of the cell', step) from e
                yield line, [], f"no CSV: {e}"
                continue
            told = len(cells) < 3 and re.fullmatch(r"sep=.?", "".join(cells))  # for a spreadsheet
            if not told and any(cell.strip() for cell in cells):
                yield line, cells, ""


# --- Excel, JSON lines, Parquet


def _excel(path: Path, mapping: Mapping[str, str]) -> Source:
    """The one sheet with columns that are known; two would be two lists, of which none may be overlooked."""
    sheets: dict[str, list[Cells]] = {}
    for name, read in excel_sheets(path):
        rows: list[Cells] = [
            (n, cells, "") for n, cells in enumerate(read, start=1) if any(not blank(cell) for cell in cells)
        ]
        if rows:
            sheets[name] = rows
    heads = {name: [cells for _, cells, _ in rows[:HEAD_WITHIN]] for name, rows in sheets.items()}
    lists = [name for name, rows in heads.items() if recognised(rows[head_row(rows, mapping)], mapping)]
    if len(lists) > 1:
        raise InputError(str(path), ", ".join(lists), "one sheet with a list", "save each of these sheets as a file")
    chosen = lists or list(sheets)[:1]
    return _table(lambda: iter(sheets[chosen[0]] if chosen else ()), path, mapping)


def _json_lines(path: Path, mapping: Mapping[str, str]) -> Source:
    def rows() -> Iterator[Row]:
        with path.open(encoding="utf-8-sig", errors="replace") as file:
            for number, line in enumerate(file, start=1):
                if line.strip():
                    yield _json_row(number, line, mapping)

    own: dict[str, None] = {}
    fields: set[str] = set()
    count = 0
    for row in rows():
        count += 1
        own |= dict.fromkeys(row.own)
        fields |= row.fields.keys()
    unread = tuple(key for key in own if not field_of_key(key, mapping))
    return Source(rows, count, tuple(own), unread, lacking(fields))


def _json_row(number: int, line: str, mapping: Mapping[str, str]) -> Row:
    try:
        found = json.loads(line)
    except ValueError as e:
        return Row(number, {}, {}, f"no JSON: {e}")
    if not isinstance(found, dict):
        return Row(number, {}, {}, "no table of fields")
    fields: dict[str, Any] = {}
    own: dict[str, Any] = {}
    for key, value in found.items():
        try:
            field = field_of_key(key, mapping)
        except InputError as e:
            return Row(number, {}, {}, str(e))
        if field and not says_nothing(value):
            fields[field] = value
        if field not in SAID:
            own[key] = _kept(value)
    return Row(number, fields, own)


def _parquet(path: Path, mapping: Mapping[str, str]) -> Source:
    library = pyarrow_parquet()
    try:
        heads = library.ParquetFile(path).schema_arrow.names
    except OSError:
        raise
    except Exception as e:  # whatever a damaged file makes the library raise
        raise InputError(str(path), "a damaged file", "a whole Parquet file", "write it again") from e

    def read() -> Iterator[Cells]:
        yield 0, heads, ""
        number = 0
        for batch in library.ParquetFile(path).iter_batches(batch_size=PARQUET_ROWS):
            for row in zip(*(column.to_pylist() for column in batch.columns), strict=True):
                number += 1
                if any(not blank(cell) for cell in row):
                    yield number, row, ""

    return _table(read, path, mapping)


def pyarrow_parquet() -> Any:
    """The part of the library pyarrow that reads and writes Parquet."""
    try:
        import pyarrow.parquet
    except ImportError as e:
        raise InputError("parquet", "", "the library pyarrow", "install alloysolve[parquet]") from e
    return pyarrow.parquet
