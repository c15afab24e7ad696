"""The commands as people use them."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from alloysolve.exact import constructions, listing
from tests.conftest import EXAMPLES, Run

PIECES = sorted(EXAMPLES.glob("01*.toml"))
OTHER = [
    ("--density", "21.02"),
    ("--conductivity", "28 %IACS"),
    ("--magnet", "strong", "--claim", "silver 999"),
    ("--mass", "3.1", "--displaced", "0.3", "--scale-step", "0.1 g"),
    ("--mass", "31.18", "--displaced", "27.54", "--claim", "silver 999"),
    ("--mass", "9.62", "--displaced", "1.12", "--claim", "9 ct rose gold chain", "--parts", "pearl 0.1 g", "--proof"),
    ("--mass", "5.67", "--displaced", "0.63", "--claim", "US-25c-clad", "--magnet", "weak"),
    ("--mass", "6.4", "--displaced", "0.73", "--claim", "silver plated", "--magnet", "none"),
    (
        "--mass",
        "28.1",
        "--displaced",
        "3.2",
        "--claim",
        "18 ct",
        "--parts",
        "diamond 0.5 carat",
        "--parts",
        "opal 0.2 g",
        "--conductivity",
        "20 %IACS",
        "--magnet",
        "weak",
        "--count",
        "2",
        "--current-money",
    ),
]


@pytest.mark.usefixtures("solved_once")
@pytest.mark.parametrize("more", [(), ("--more",)], ids=["short", "more"])
@pytest.mark.parametrize("settings", [(), ("--settings", str(EXAMPLES / "counter.toml"))], ids=["defaults", "counter"])
@pytest.mark.parametrize("args", [(str(p),) for p in PIECES] + OTHER, ids=lambda a: Path(a[0]).stem + "".join(a[1:4]))
def test_answers_fit_the_screen(
    args: tuple[str, ...], settings: tuple[str, ...], more: tuple[str, ...], run: Callable[..., Run]
) -> None:
    ended = run("solve", *args, *settings, *more)
    lines = ended.out.rstrip("\n").split("\n")
    assert ended.code == 0
    assert ended.err == ""
    assert ended.out.isascii()
    assert max(map(len, lines)) <= 80
    assert len(lines) <= (24 if more else 12)


def test_plain_ascii_under_the_c_locale() -> None:
    env = {"LC_ALL": "C", "PATH": os.environ["PATH"], "HOME": "/nonexistent"}
    args = ["solve", "--density", "8.5", "--name", "\u0645\u0644\u0643"]
    for command in (args, ["--help"], ["solve", "--help"], ["tables", "Cu"]):
        done = subprocess.run(
            [sys.executable, "-m", "alloysolve", *command],
            capture_output=True,
            env=env,
            cwd=EXAMPLES.parent,
            check=True,
        )
        assert done.stdout.isascii()
        assert done.stderr == b""


def test_weigh_with_a_claim_says_what_it_could_have_shown(run: Callable[..., Run]) -> None:
    said = run("weigh", "31.1", "3.00 3.01", "--claim", "silver 925").out
    assert "a fineness of 89" in " ".join(said.split())
    assert max(map(len, said.splitlines())) <= 80
    assert "a fineness of" not in run("weigh", "31.1", "3.6", "--claim", "brass").out


def test_weigh_pipes_into_solve(run: Callable[..., Run]) -> None:
    weighed = run("weigh", "--json", "31.18", "3.64", "--claim", "silver 999")
    solved = run("solve", "-", "--magnet", "none", "--json", stdin=weighed.out)
    document = json.loads(solved.out)
    assert json.loads(weighed.out)["density"]["value"] == document["density"]["value"]
    assert document["claim"]["decision"] == "contradicted"
    assert [r["kind"] for r in document["readings"]] == ["weighing", "magnet"]


def test_the_decision_never_changes_the_exit_code(run: Callable[..., Run]) -> None:
    for displaced in ("2.97", "3.1", "3.64"):
        assert run("solve", "--claim", "silver 999", "--mass", "31.18", "--displaced", displaced).code == 0


def test_an_option_beside_a_file_adds_a_reading_and_save_writes_it(run: Callable[..., Run], tmp_path: Path) -> None:
    file = tmp_path / "0117.toml"
    file.write_text('claim = "silver 999"  # as it says\nmass = "31.18 g"\ndisplaced = "3.64 g"\n')
    before = file.read_text()
    run("solve", str(file), "--magnet", "none")
    assert file.read_text() == before
    run("solve", str(file), "--magnet", "none", "--save")
    assert "# as it says" in file.read_text()
    assert "magnet" in run("solve", str(file), "--more").out


def listed_once(function: Callable[..., Any]) -> Callable[..., Any]:
    """A function that works once and returns the same again: three forms of one listing."""
    found: list[Any] = []

    def once(*args: Any, **options: Any) -> Any:
        if not found:
            found.append(function(*args, **options))
        return found[0]

    return once


def test_list_as_text_csv_and_json(run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch) -> None:
    for module, name in ((listing, "mixtures"), (constructions, "all_that_fits")):
        monkeypatch.setattr(module, name, listed_once(getattr(module, name)))
    args = ("solve", "--density", "8.70 +- 0.02 g/cm3", "--magnet", "none", "--list")
    text, table, document = run(*args).out, run(*args, "--csv").out, json.loads(run(*args, "--json").out)
    assert any(line.startswith("triple  Cu") and "Ni" in line and "Zn" in line for line in text.split("\n"))
    mixtures, built = table.split("\n\n")
    rows = list(csv.DictReader(io.StringIO(mixtures)))
    assert {r["kind"] for r in rows} == {"pair", "triple"}
    assert len(rows) == len(document["mixtures"])
    assert next(iter(csv.DictReader(io.StringIO(built))))["construction"]
    assert not any(r["metals"] == "Ni Fe" for r in rows)  # a magnet would have pulled it


def test_known_good_is_checked_saved_and_used(run: Callable[..., Run], tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    shop.write_text('[scale]\nstep = "0.001 g"\n')
    said = run("weigh", "31.100", "2.985", "--known-good", "--claim", "silver 999", "--save", "--settings", str(shop))
    assert "% off" in said.out  # 10.39 where 10.50 is right
    used = run("weigh", "31.100", "2.985", "--settings", str(shop), "--json")
    assert json.loads(used.out)["density"]["value"] == pytest.approx(10.50, abs=0.02)
    assert any(r["part"] == "known_good" for r in json.loads(used.out)["density"]["budget"])


def test_write_settings_writes_a_file_that_is_read_back(run: Callable[..., Run]) -> None:
    file = Path(run("--write-settings").out.split()[1].rstrip(";"))
    assert file.is_file()
    assert f"Settings: {file}" in run("weigh", "31.18", "3.64").out


def test_tables_show_values_with_their_sources(run: Callable[..., Run]) -> None:
    said = run("tables", "Cu").out
    assert "copper (Cu)                    8.935 +- " in said
    assert "caveat: published values run from 8.93 to 8.96" in said
    assert "Calphad" in said
    assert json.loads(run("tables", "--json").out)["rows"]["grades"] >= 130
    assert run("tables", "zzz").code == 2


def test_a_table_on_the_command_line_adds_to_the_shipped_one(run: Callable[..., Run], tmp_path: Path) -> None:
    extra = tmp_path / "inclusions.csv"
    extra.write_text("name,density_g_cm3,u_density_g_cm3,do_not_wet,source,caveat\nlarimar,2.57,0.02,no,judgement,\n")
    args = ("solve", "--mass", "8.4", "--displaced", "0.43", "--parts", "larimar 0.5 carat")
    assert run(*args).code == 2
    assert run(*args, "--tables", str(extra)).code == 0


def test_schema_is_json(run: Callable[..., Run]) -> None:
    schema = json.loads(run("schema").out)
    assert {"claim", "mass", "displaced", "reading"} <= set(schema["properties"])


def test_help_of_every_command_names_its_options(run: Callable[..., Run]) -> None:
    assert all(word in run("--help").out for word in ("solve", "tables", "weigh"))
    assert all(word in run("solve", "--help").out for word in ("--in-water", "--magnet", "--wetting", "length x width"))
