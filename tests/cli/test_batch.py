"""``alloysolve batch``."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from tests.conftest import EXAMPLES, Run


def test_a_file_of_pieces_into_a_file_of_answers(run: Callable[..., Run], tmp_path: Path) -> None:
    said = run("batch", str(EXAMPLES / "stock.csv"), "-o", str(tmp_path / "answers.csv"), "--jobs", "1")
    assert said.code == 0
    assert said.out.startswith("12 rows answered: ")
    assert "line 9: displaced: 'twelve'" in said.out
    assert max(map(len, said.out.splitlines())) <= 80
    assert said.err == ""  # no bar where nobody looks
    assert (tmp_path / "answers.csv").read_text().count("\n") == 13


def test_the_summary_as_json(run: Callable[..., Run], tmp_path: Path) -> None:
    said = run("batch", str(EXAMPLES / "stock.csv"), "-o", str(tmp_path / "a.jsonl"), "--jobs", "1", "--json")
    assert json.loads(said.out)["rows"] == 12


def test_wrong_files_are_one_line(run: Callable[..., Run], tmp_path: Path) -> None:
    for given in (
        ("nowhere.csv", "-o", str(tmp_path / "out.csv")),
        (str(EXAMPLES / "stock.csv"), "-o", "out.xls"),
        (str(EXAMPLES / "stock.csv"), "-o", str(tmp_path / "no" / "out.csv")),
    ):
        said = run("batch", *given)
        assert said.code == 2
        assert said.err.startswith("error: ")
        assert said.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
