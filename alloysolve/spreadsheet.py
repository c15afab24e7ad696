"""Tables for a spreadsheet, in and out: CSV and Excel files in which no cell that a person typed is a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, time
from itertools import chain, islice, zip_longest
from pathlib import Path
from typing import Any

from .errors import InputError

# what a spreadsheet reads as the beginning of a formula; the last row are the full-width forms (from memory)
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
SHEET_ROWS = 1_048_576  # the rows of an Excel sheet, from memory
WIDEST, SIZED_BY = 40, 500  # letters of a column before its text is wrapped; rows that its width is taken from
LETTERS = 32_767  # of an Excel cell, from memory
# the unit in a number format such as 0.00" dwt"
UNIT_OF_FORMAT = re.compile(r'"\s*([^"]+?)\s*"\s*$')
NEVER = (1980, 1, 1, 0, 0, 0)  # the earliest time that a ZIP file can hold, so that the same rows give the same bytes


def defused(cell: object) -> object:
    """A cell that a spreadsheet would not take for a formula; what is harmless stays unchanged."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA) else cell


def csv_text(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows as CSV with a head, every cell defused."""
    return csv_lines((head, *rows))


def csv_lines(rows: Iterable[Sequence[object]], delimiter: str = ",") -> str:
    """Rows as CSV, every cell defused."""
    out = io.StringIO()
    plain = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    quoted = csv.writer(out, delimiter=delimiter, lineterminator="\n", quoting=csv.QUOTE_ALL)
    for row in rows:
        # Python before 3.13 leaves a carriage return unquoted: what follows it would begin a row, and be a formula
        writer = quoted if any("\r" in str(cell) for cell in row) else plain
        writer.writerow([defused(cell) for cell in row])
    return out.getvalue()


def openpyxl() -> Any:
    """The library that reads and writes Excel files."""
    try:
        import openpyxl
    except ImportError as e:
        raise InputError("excel", "", "the library openpyxl", "install alloysolve[excel]") from e
    return openpyxl


def excel_sheets(path: Path) -> Iterator[tuple[str, Iterator[list[Any]]]]:
    """The visible sheets of an Excel file by name, each with its rows; of a formula, the value last computed.

    Raises
    ------
    InputError
        For a file that is damaged or no Excel file.
    """
    library = openpyxl()
    try:
        book = library.load_workbook(path, read_only=True, data_only=True)
        for sheet in book.worksheets:
            if sheet.sheet_state == "visible":
                sheet.reset_dimensions()  # some programs write them wrong, and rows would be missing
                yield sheet.title, ([_cell(cell) for cell in row] for row in sheet.iter_rows())
        book.close()
    except (OSError, InputError):
        raise
    except Exception as e:  # whatever a damaged file makes the library raise
        raise InputError(str(path), "a damaged file", "a whole Excel file", "open it, and save it anew as .xlsx") from e


def _cell(cell: Any) -> Any:
    """The value of a cell; a unit that only the format of a number shows is part of it."""
    value = cell.value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        unit = UNIT_OF_FORMAT.search(cell.number_format or "")
        return f"{value!r} {unit[1]}" if unit else value
    if isinstance(value, datetime) and value.time() == time():
        value = value.date()
    return value.isoformat() if isinstance(value, date | time) else value


def write_excel(rows: Iterable[Sequence[object]], target: Path) -> None:
    """Rows, the head first, as an Excel file; text is stored as text, whatever it begins with.

    A column is as wide as its longest cell, up to `WIDEST`; what is longer is wrapped.

    Raises
    ------
    InputError
        For more rows than a sheet can hold.
    """
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
    from openpyxl.styles import Alignment
    from openpyxl.utils import get_column_letter

    book = openpyxl().Workbook(write_only=True)
    sheet = book.create_sheet("answers")
    sheet.freeze_panes = "A2"
    left = iter(rows)
    first = list(islice(left, SIZED_BY))
    for k, column in enumerate(zip_longest(*first, fillvalue=None), start=1):
        longest = max(len(str(cell)) for cell in column if cell is not None) if any(column) else 0
        sheet.column_dimensions[get_column_letter(k)].width = min(longest, WIDEST) + 2
    for number, row in enumerate(chain(first, left), start=1):
        if number > SHEET_ROWS:
            raise InputError("answers", str(target), f"at most {SHEET_ROWS} rows", "write .csv in place of .xlsx")
        cells = []
        for value in row:
            text = ILLEGAL_CHARACTERS_RE.sub("", value)[:LETTERS] if isinstance(value, str) else value
            cell = WriteOnlyCell(sheet, text)
            cell.alignment = Alignment(wrap_text=len(str(text)) > WIDEST, vertical="top")
            if isinstance(text, str):
                cell.data_type, cell.quotePrefix = "s", text.startswith(FORMULA)
            cells.append(cell)
        sheet.append(cells)
    kept = io.BytesIO()
    book.save(kept)
    _without_times(kept, target)


def _without_times(kept: io.BytesIO, target: Path) -> None:
    """The Excel file without the time at which it was made, so that the same rows give the same bytes."""
    from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

    with ZipFile(kept) as made, ZipFile(target, "w", ZIP_DEFLATED) as out:
        for name in made.namelist():
            inside = made.read(name)
            if name == "docProps/core.xml":
                inside = re.sub(rb"\d{4}-\d\d-\d\dT[\d:.]+Z", b"1980-01-01T00:00:00Z", inside)
            out.writestr(ZipInfo(name, NEVER), inside, ZIP_DEFLATED)
