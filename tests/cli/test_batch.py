"""``alloysolve batch``."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from tests.conftest import EXAMPLES, Run


def test_a_file_of_pieces_into_a_file_of_answers(run: Callable[..., Run], tmp_path: Path) -> None:
    said = run("batch", str(EXAMPLES / "stock.csv"), "-o", str(tmp_path / "answers.csv"), "--jobs", "1")
    assert said.code == 0
    assert said.out.startswith("11 of 12 rows answered: 5 undecided, 3 not contradicted, 2 contradicted, 1")
    assert "line 9: displaced: 'twelve'" in said.out
    assert max(map(len, said.out.splitlines()[:-1])) <= 80  # the path on the last line stays whole, to be copied
    assert said.err == ""  # no bar where nobody looks
    assert (tmp_path / "answers.csv").read_text().count("\n") == 13


def test_without_a_name_the_answers_stand_beside_the_list_and_replace_nothing(
    run: Callable[..., Run], tmp_path: Path
) -> None:
    source = tmp_path / "shelf.txt"
    source.write_text("claim\tdensity\nsilver 999\t8.53 g/cm3\n", encoding="utf-8")
    for name, more in (("shelf-answers.csv", ()), ("shelf-answers-2.csv", ()), ("shelf-answers.csv", ("--overwrite",))):
        said = run("batch", str(source), "--jobs", "1", *more)
        assert (said.code, said.out.splitlines()[-1]) == (0, f"Answers: {tmp_path / name}")
        assert said.out.startswith("1 row answered: 1 contradicted.\n")
        assert "Likeliest: 1 copper-zinc." in said.out
        assert (tmp_path / name).exists()
    told = json.loads(run("batch", str(source), "--jobs", "1", "--json").out)
    assert told["answers"] == str(tmp_path / "shelf-answers-3.csv")


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
