"""Records in words: no sentence in code, columns by what a screen shows."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest

from alloysolve.answer.records import read_record, record_file, save_record
from alloysolve.answer.search import records
from alloysolve.answer.solution import solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.spreadsheet import csv_text, defused
from alloysolve.words.records import (
    columns_of,
    counts_text,
    cut,
    fitted,
    printable,
    record_text,
    records_text,
    skipped_lines,
)
from tests.words.test_language import FROM_DATA, made_up


def test_no_sentence_of_records_stands_in_code(tmp_path: Path) -> None:
    solution = solve(Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g"), Settings())
    document = {**json.loads(solution.to_json()), "version": "0.0.7"}
    files = [save_record(document, tmp_path), save_record({**document, "claim": None}, tmp_path)]
    record_file(tmp_path, 3).write_text("{", encoding="utf-8")
    say, found = made_up(), records(tmp_path)
    texts = [record_text(read_record(f), say) for f in files]
    texts += [records_text(found, tmp_path, say), counts_text(found, "decision", tmp_path, say)]
    texts.append(records_text(records(tmp_path / "nowhere"), Path("/"), say))
    assert len(skipped_lines(found, say)) == 1
    families = sorted(document["names"].values(), key=len, reverse=True)
    text = " ".join(" ".join(texts).split()).lower().replace("silver 999", " ").replace("+checkout", " ")
    for family in families:
        text = text.replace(family, " ")
    words = set(re.findall(r"[a-z]{2,}", FROM_DATA.sub(" ", text))) - {"to", "uohm", "cm"}  # units are data
    assert words - {symbol.lower() for symbol in solution.tables.metals} == set()


@pytest.mark.parametrize(
    ("text", "columns"),
    [("silver", 6), ("純銀", 4), ("سبيكة", 5), ("e\u0301", 1), ("ﾃｽﾄ", 3), ("می\u200cخواهم", 7), ("", 0)],
)
def test_columns_of_a_text(text: str, columns: int) -> None:
    """Wide letters take two columns (Unicode Standard Annex 11), marks over letters and joiners none."""
    assert columns_of(text) == columns


@pytest.mark.parametrize("width", [3, 4, 7, 8])
@pytest.mark.parametrize("text", ["silver bar", "純銀の棒一番", "سبيكة من الفضة", "a"])
def test_a_cell_is_as_wide_as_its_column(text: str, width: int) -> None:
    assert columns_of(fitted(text, width)) == width
    assert cut(text, width) == text or cut(text, width).endswith("...")


def test_what_a_terminal_would_obey_is_left_out() -> None:
    assert printable("a\x1b[2Jb\u202ec\nd\x00\u2066") == "a[2Jbc d"
    assert cut("a\x1b[2Jb\u202ec", 80) == "a[2Jbc"


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@A1", "\t=1", "\r=1", "\n=1", "＝1"])
def test_a_formula_becomes_text(text: str) -> None:
    assert defused(text) == "'" + text


def test_a_carriage_return_inside_a_cell_begins_no_row() -> None:
    text = csv_text(("name", "note"), [("0117", "worn\r=1+1"), ("0118", "")])
    assert list(csv.reader(io.StringIO(text, newline=""))) == [["name", "note"], ["0117", "worn\r=1+1"], ["0118", ""]]


def test_what_is_no_formula_is_unchanged() -> None:
    assert [defused(x) for x in ("silver 999", "a=1", "", -1.5, None)] == ["silver 999", "a=1", "", -1.5, None]
    assert csv_text(("name", "g"), [("=a,b", -1.5)]) == 'name,g\n"\'=a,b",-1.5\n'
