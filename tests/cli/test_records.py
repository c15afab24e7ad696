"""``alloysolve records`` and ``solve --record`` as people use them."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

import alloysolve.answer.solution as solving
from alloysolve.answer.records import read_record, record_file, save_record
from alloysolve.answer.search import records, this_week
from alloysolve.inputs.piece import read_piece
from alloysolve.inputs.settings import find_settings
from alloysolve.words.amounts import amount_sentences
from alloysolve.words.language import language
from tests.conftest import EXAMPLES, Run
from tests.rows import every
from tests.solved import once

BAR = str(EXAMPLES / "0117-silver-bar.toml")
BRASS = ("--claim", "silver 999", "--mass", "31.18", "--displaced", "3.64")


def settings_in(folder: Path) -> Path:
    file = folder / "shop.toml"
    file.write_text('[records]\nfolder = "pieces"\n', encoding="utf-8")
    return file


@pytest.fixture
def shop(tmp_path: Path) -> tuple[str, str]:
    """Settings that keep records in a folder of the test."""
    return ("--settings", str(settings_in(tmp_path)))


@cache
def record_of_bar() -> bytes:
    """What such a shop stores of the example bar."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        return save_record(once(read_piece(BAR), find_settings(settings_in(folder))), folder / "pieces").read_bytes()


@pytest.fixture
def kept(shop: tuple[str, str], tmp_path: Path) -> dict[str, Any]:
    """The stored answer of the example bar, record 1 of the shop."""
    file = record_file(tmp_path / "pieces", 1)
    file.parent.mkdir()
    file.write_bytes(record_of_bar())
    found: dict[str, Any] = json.loads(record_of_bar())
    return found


def fits(text: str) -> None:
    lines = text.rstrip("\n").split("\n")
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80


def test_solve_keeps_the_answer_it_prints(run: Callable[..., Run], shop: tuple[str, str], tmp_path: Path) -> None:
    plain, said = (run("solve", BAR, *shop, "--more", *record) for record in ((), ("--record",)))
    assert said.out == plain.out
    assert said.err == f"Record 1: {tmp_path / 'pieces' / '000001.json'}\n"
    stored = json.loads(record_file(tmp_path / "pieces", 1).read_text(encoding="utf-8"))["solution"]
    assert stored == json.loads(run("solve", BAR, "--json", *shop).out)


def test_without_settings_records_stand_in_the_users_data(run: Callable[..., Run]) -> None:
    assert "No records in" in run("records").out
    file = Path(run("solve", *BRASS, "--record").err.removeprefix("Record 1: ").rstrip())
    assert file.parts[-3:] == ("alloysolve", "records", "000001.json")
    assert run("records").out.split("\n")[1].startswith("1 ")


def test_ask_keeps_the_last_answer_once(run: Callable[..., Run], shop: tuple[str, str], tmp_path: Path) -> None:
    ended = run("solve", "--ask", "--record", *shop, stdin="0117\nsilver 999\n31.18\n3.64\n\n\n\nnone\n")
    assert ended.code == 0
    (one,) = records(tmp_path / "pieces")
    stored = json.loads(one.file.read_text(encoding="utf-8"))
    assert stored["solution"]["inputs"]["magnet"] == "none"


def test_the_list_fits_the_screen_latest_first(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], tmp_path: Path
) -> None:
    for _ in range(20):
        save_record(kept["solution"], tmp_path / "pieces")
    whole = run("records", *shop).out
    fits(whole)
    lines = whole.rstrip("\n").split("\n")
    assert len(lines) == 24
    assert [row.split()[0] for row in lines[1:4]] == ["21", "20", "19"]
    assert lines[20:22] == ["and 2 more", "21 in all: 21 contradicted."]
    assert " ".join(lines[-2:]).startswith("Lead possible (21, 20, 19, 18 and")
    assert lines[1].split()[2:] == ["silver", "999", "contradicted", "brass", "0117"]


def test_names_of_any_script_and_size_keep_the_list_in_its_columns(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], tmp_path: Path
) -> None:
    names = ["سبيكة", "純銀の棒がとても長い名前です", "x" * 300, "\x1b[31mred\u202e", "two\nlines"]
    for name in names:
        document = {**kept["solution"], "inputs": {"name": name, "note": name * 50}}
        save_record(document, tmp_path / "pieces")
    said = run("records", *shop).out
    fits(said)
    assert "سبيكة" in said
    assert "純銀の" in said
    assert "\x1b" not in said
    assert "\u202e" not in said
    assert len(said.rstrip("\n").split("\n")) == 10  # two lines in a name are one row; a count, two lines of caution
    assert run("records", "find", "سبيكة", *shop).out.count("\n") == 4  # a head, a record, the count, the caution
    for number in range(2, 7):
        shown = run("records", str(number), *shop).out
        fits(shown)
        assert "\x1b" not in shown


def test_conditions_reach_the_search(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], tmp_path: Path
) -> None:
    run("solve", "--density", "8.5", "--name", "0300", "--record", *shop)
    month = records(tmp_path / "pieces").found[0].month
    for args, numbers in (
        (("find", "worn"), ["1"]),
        (("find", "silver", "999"), ["1"]),
        (("--decision", "none"), ["2"]),
        (("--system", "Zn Cu", "find", "0117"), ["1"]),
        (("--month", month), ["2", "1"]),
        (("--month",), ["2", "1"]),
        (("--week",), ["2", "1"]),
        (("--today",), ["2", "1"]),
        (("today",), ["2", "1"]),
        (("find", "0300"), ["2"]),
    ):
        lines = run("records", *args, *shop).out.split("Lead possible")[0].rstrip("\n").split("\n")
        assert [row.split()[0] for row in lines[1:-1]] == numbers, args
        assert lines[-1].startswith(f"{len(numbers)} in all: ")
    assert run("records", "--undecided", *shop).out == "None of 2 records matches.\n"
    assert run("records", "--month", "1999-01", *shop).out == "None of 2 records matches.\n"


def test_counts_as_text_csv_and_json(run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any]) -> None:
    run("solve", "--density", "8.5", "--record", *shop)
    assert run("records", "--count", "decision", *shop).out.split("\n")[1:3] == [
        "1       contradicted",
        "1       no claim",
    ]
    assert run("records", "--count", "decision", "--csv", *shop).out == "decision,records\ncontradicted,1\nnone,1\n"
    assert json.loads(run("records", "--count", "decision", "--json", *shop).out)["counts"] == {
        "contradicted": 1,
        "none": 1,
    }
    assert run("records", "find", "worn", "--count", "decision", *shop).out.count("\n") == 2


FORMULAS = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"]


def test_no_cell_of_the_csv_is_a_formula(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], tmp_path: Path
) -> None:
    for text in FORMULAS:
        document = {
            **kept["solution"],
            "inputs": {"name": text, "note": text},
            "claim": {**kept["solution"]["claim"], "text": text},
            "version": text,
        }
        save_record(document, tmp_path / "pieces")
    rows = list(csv.reader(io.StringIO(run("records", "--csv", *shop).out, newline="")))
    assert rows[0] == [
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
    ]
    for row, text in zip(rows[2:], FORMULAS, strict=True):
        assert [row[i] for i in (2, 3, 8, 9)] == ["'" + text] * 4
        assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in row)
    assert rows[1][2:7] == ["0117", "silver 999", "31.18", "contradicted", "Cu Zn"]  # what is no formula is unchanged
    listed = json.loads(run("records", "--json", *shop).out)["records"]
    assert [r["name"] for r in listed[1:]] == FORMULAS  # JSON is read by programs


def test_a_record_is_shown_as_it_was_found_without_solving(
    run: Callable[..., Run],
    shop: tuple[str, str],
    kept: dict[str, Any],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise AssertionError("solved again")

    monkeypatch.setattr(solving, "solve", refuse)
    kept["solution"]["rows"][0] |= {
        "metals": ["Bi"],
        "ranges": {"Bi": [99.0, 99.8, 100.0]},
        "share": 0.7,
        "family": "pair",
    }
    record_file(tmp_path / "pieces", 1).write_text(json.dumps(kept), encoding="utf-8")
    short = run("records", "1", *shop)
    fits(short.out)
    assert "Most likely bismuth" in short.out
    said = run("records", "1", "--more", *shop)
    fits(said.out)
    assert said.code == 0
    assert 'These readings speak against "silver 999":' in said.out
    assert "7 in 10   bismuth" in said.out  # what is stored, not what a new answer would say
    assert "0117, bar" in said.out
    for reading in kept["solution"]["readings"]:
        assert reading["text"] in said.out
    assert "version" not in said.out


def test_the_version_that_made_it_is_printed_where_it_is_another(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], tmp_path: Path
) -> None:
    kept["solution"]["version"] = "0.0.7"
    record_file(tmp_path / "pieces", 1).write_text(json.dumps(kept), encoding="utf-8")
    said = run("records", "1", *shop).out
    assert "Made by version 0.0.7" in said
    fits(said)


def test_a_record_can_be_solved_anew_beside_the_stored_answer(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any]
) -> None:
    stored = run("records", "1", "--json", *shop).out
    assert json.loads(stored) == kept
    anew = json.loads(run("solve", "-", "--json", *shop, stdin=stored).out)
    assert anew == kept["solution"]


@pytest.mark.usefixtures("solved_once")
@pytest.mark.parametrize("piece", sorted(EXAMPLES.glob("01*.toml")), ids=lambda p: p.stem)
def test_every_example_is_shown_on_one_screen(run: Callable[..., Run], piece: Path) -> None:
    answer = run("solve", str(piece), "--record")
    said = run("records", "1", "--more")
    assert (said.code, said.err) == (0, "")
    assert said.out.isascii()
    fits(said.out)
    assert answer.out.partition("\nIn full")[0] in run("records", "1").out  # as short as it was
    first = " ".join(answer.out.split()).split('"')[:2]  # the result on the claim, in the same words
    assert " ".join(said.out.split()).count('"'.join(first)) == 1


def test_a_damaged_record_is_named_on_stderr_and_the_others_are_listed(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], tmp_path: Path
) -> None:
    for number in range(2, 10):
        record_file(tmp_path / "pieces", number).write_text("{", encoding="utf-8")
    said = run("records", *shop)
    assert said.code == 0
    assert said.out.split("\n")[1].startswith("1 ")
    lines = said.err.rstrip("\n").split("\n")
    assert len(lines) == 6
    assert "000002.json" in lines[0]
    assert lines[-1] == "skipped: 3 more files"
    assert len(json.loads(run("records", "--json", *shop).out)["skipped"]) == 8
    one = run("records", "2", *shop)
    assert (one.code, one.out, one.err.count("\n")) == (2, "", 1)


BAD = [
    (("--decision", "contradict"), 'the nearest known is "contradicted"'),
    (("--system", "brass and zinc"), "symbols of metals"),
    (("--month", "2026/11"), "a year and a month"),
    (("--count", "weeks"), "known are decision, system, day, month"),
    (("--csv", "--json"), "one of --csv and --json"),
    (("--today", "--week"), "one of --today, --week and --month"),
    (("99",), "'99': expected a number from 1 to 1; there is no record 99"),
    (("0",), "there is no record 0"),
    (("silver", "999"), "try records find silver 999"),
    (("find",), "find with words"),
    (("export",), "export with a file"),
    (("export", "a.txt"), "a file that ends in .csv"),
    (("export", "a.csv", "--json"), "no --json beside a.csv"),
    (("1", "--today"), "no --today, --week or --month beside 1"),
    (("1", "--csv"), "no --csv beside 1"),
    (("--more",), "no --more beside a list"),
    (("--overwrite",), "no --overwrite beside a list"),
    (("--folder", "nowhere"), "a folder of records"),
]


@every("args, named", BAD)
def test_bad_input_is_one_line(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], args: tuple[str, ...], named: str
) -> None:
    ended = run("records", *args, *shop)
    assert (ended.code, ended.out, ended.err.count("\n")) == (2, "", 1)
    assert ended.err.startswith("error: ")
    assert named in ended.err


def test_export_writes_what_is_found_and_spares_what_it_did_not_write(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], tmp_path: Path
) -> None:
    run("solve", "--density", "8.5", "--record", *shop)
    out = tmp_path / "november.csv"
    for _ in range(2):  # the second time over its own file
        said = run("records", "export", str(out), "--decision", "contradicted", *shop)
        assert said.out == f"Wrote 1 of 2 records: {out}\n"
    head, bar = csv.reader(io.StringIO(out.read_text(encoding="utf-8")))
    told = dict(zip(head, bar, strict=True))
    assert (told["said to be"], told["answer"], told["mass (g)"]) == ("silver 999", "contradicted", "31.18")
    holds = " ".join(amount_sentences(read_record(record_file(tmp_path / "pieces", 1)).solution, language()))
    assert told["holds"] == holds
    assert told["water pushed aside (g)"].startswith("3.6")
    assert told["density (g/cm3)"].startswith("8.5")  # 31.18 g / 3.64 g of water is 8.57 times as dense as water
    assert told["likely"].startswith("brass")
    out.write_text("the shop's own list", encoding="utf-8")
    refused = run("records", "export", str(out), *shop)
    assert (refused.code, refused.out) == (2, "")
    assert "add --overwrite" in refused.err
    assert out.read_text(encoding="utf-8") == "the shop's own list"
    assert run("records", "export", str(out), "--overwrite", *shop).code == 0
    assert len(list(csv.reader(io.StringIO(out.read_text(encoding="utf-8"))))) == 3


def test_an_export_is_written_as_the_shops_spreadsheet_reads_it(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], tmp_path: Path
) -> None:
    (tmp_path / "shop.toml").write_text('[records]\nfolder = "pieces"\n[answers]\nlanguage = "de"\n', encoding="utf-8")
    out = tmp_path / "kept.csv"
    assert run("records", "export", str(out), *shop).out == f"Wrote 1 of 1 record: {out}\n"
    head, bar = csv.reader(io.StringIO(out.read_text(encoding="utf-8")), delimiter=";")
    assert dict(zip(head, bar, strict=True))["mass (g)"] == "31,18"
    assert run("records", "find", "nowhere", *shop).out == "The only record does not match.\n"


def test_today_is_the_day_that_the_program_is_told(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")  # 1 January 1970, a Thursday
    assert run("records", "--today", *shop).out == "The only record does not match.\n"
    assert this_week() == (date(1969, 12, 29), date(1970, 1, 1))


def test_a_folder_that_cannot_be_written_is_one_line_and_no_answer(run: Callable[..., Run], tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text('[records]\nfolder = "shop.toml/pieces"\n', encoding="utf-8")
    ended = run("solve", *BRASS, "--record", "--settings", str(file))
    assert (ended.code, ended.out, ended.err.count("\n")) == (2, "", 1)
    assert ended.err.startswith(f"error: {tmp_path / 'shop.toml' / 'pieces'}: ")
    assert [p.name for p in tmp_path.iterdir()] == ["shop.toml"]


def test_two_counters_at_once_lose_none(shop: tuple[str, str], tmp_path: Path) -> None:
    command = [sys.executable, "-m", "alloysolve", "solve", *BRASS, "--record", *shop]
    running = [subprocess.Popen(command, cwd=EXAMPLES.parent, stdout=subprocess.DEVNULL) for _ in range(2)]
    assert [p.wait() for p in running] == [0, 0]
    assert [s.number for s in records(tmp_path / "pieces")] == [1, 2]


def test_the_list_counts_the_records_that_it_does_not_read(
    run: Callable[..., Run], shop: tuple[str, str], kept: dict[str, Any], tmp_path: Path
) -> None:
    for _ in range(29):
        save_record(kept["solution"], tmp_path / "pieces")
    lines = run("records", *shop).out.splitlines()
    shown = sum(line.split()[0].isdigit() and "0117" in line for line in lines)
    assert f"and {30 - shown} more" in lines
