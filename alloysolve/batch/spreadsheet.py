"""CSV that a spreadsheet can open safely: no cell of it is a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

# what a spreadsheet reads as the beginning of a formula; the last row are the full-width forms (from memory)
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def defused(cell: object) -> object:
    """A cell that a spreadsheet would not take for a formula; what is harmless stays unchanged."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA) else cell


def csv_text(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows as CSV with a head, every cell defused."""
    return csv_lines((head, *rows))


def csv_lines(rows: Iterable[Sequence[object]]) -> str:
    """Rows as CSV, every cell defused."""
    out = io.StringIO()
    plain = csv.writer(out, lineterminator="\n")
    quoted = csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL)
    for row in rows:
        # Python before 3.13 leaves a carriage return unquoted: what follows it would begin a row, and be a formula
        writer = quoted if any("\r" in str(cell) for cell in row) else plain
        writer.writerow([defused(cell) for cell in row])
    return out.getvalue()
