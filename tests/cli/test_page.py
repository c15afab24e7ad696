"""``alloysolve page`` as people use it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest

import alloysolve.inverse.files as files
from tests.conftest import EXAMPLES, Run

BAR = EXAMPLES / "0117-silver-bar.toml"
SHOP = ("--settings", str(EXAMPLES / "counter.toml"))


@pytest.mark.parametrize("piece", sorted(EXAMPLES.glob("01*.toml")), ids=lambda p: p.stem)
def test_every_example_makes_a_file(piece: Path, run: Callable[..., Run], tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    said = run("page", str(piece), "--out", str(out), *SHOP)
    assert (said.out, said.err, said.code) == (f"{out}\n", "", 0)
    assert out.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert [p.name for p in tmp_path.iterdir()] == ["page.html"]


def test_it_stands_beside_the_piece_file(run: Callable[..., Run], tmp_path: Path) -> None:
    piece = tmp_path / "bar.toml"
    piece.write_bytes(BAR.read_bytes())
    assert run("page", str(piece)).out == f"{tmp_path / 'bar.html'}\n"


def test_the_ending_says_the_form(run: Callable[..., Run], tmp_path: Path) -> None:
    for ending, begins in ((".md", "# Explanation of a test"), (".json", '{\n  "schema": "alloysolve.page/1"')):
        out = tmp_path / f"p{ending}"
        assert run("page", str(BAR), "--out", str(out)).code == 0
        assert out.read_text(encoding="utf-8").startswith(begins)
    said = run("page", str(BAR), "--out", str(tmp_path / "p.pdf"))
    assert said.code == 2
    assert "--out" in said.err


def test_a_page_can_be_made_again_from_itself(run: Callable[..., Run], tmp_path: Path) -> None:
    """Both files it prints and its command give the same bytes."""
    first, second = tmp_path / "first.html", tmp_path / "again" / "piece.html"
    run("page", str(BAR), "--out", str(first), *SHOP)
    codes = [unescape(c) for c in re.findall(r"<pre><code>(.*?)</code></pre>", first.read_text(), re.DOTALL)]
    second.parent.mkdir()
    for name, text in zip(("piece.json", "settings.json"), codes, strict=False):
        (second.parent / name).write_text(text, encoding="utf-8")
    command = codes[2].replace("piece.json", str(second.with_name("piece.json")))
    command = command.replace("settings.json", str(second.with_name("settings.json")))
    assert run(*command.split()[1:]).code == 0
    assert second.read_bytes() == first.read_bytes()


def test_json_on_standard_input(run: Callable[..., Run], tmp_path: Path) -> None:
    out = tmp_path / "p.json"
    piece = {"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g", "name": "<script>alert(1)</script>"}
    assert run("page", "-", "--out", str(out), stdin=json.dumps(piece)).code == 0
    assert json.loads(out.read_text(encoding="utf-8"))["solution"]["inputs"] == piece


@pytest.mark.parametrize("place", ["file.txt/page.html", "folder.html"])
def test_a_place_that_cannot_be_written_is_one_line(place: str, run: Callable[..., Run], tmp_path: Path) -> None:
    (tmp_path / "file.txt").write_text("")
    (tmp_path / "folder.html").mkdir()
    said = run("page", str(BAR), "--out", str(tmp_path / place))
    assert (said.out, said.code, said.err.count("\n")) == ("", 2, 1)
    assert said.err.startswith("error: ")


def test_the_piece_file_is_never_written_over(run: Callable[..., Run], tmp_path: Path) -> None:
    piece = tmp_path / "p.json"
    piece.write_text('{"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"}')
    before = piece.read_bytes()
    assert run("page", str(piece), "--out", str(piece)).code == 2
    assert piece.read_bytes() == before


def test_an_interrupted_write_leaves_the_old_page(
    run: Callable[..., Run], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "p.html"
    out.write_text("old")

    def stopped(*_: object) -> None:
        raise OSError("stopped")

    monkeypatch.setattr(files.os, "replace", stopped)
    assert run("page", str(BAR), "--out", str(out)).code == 2
    assert out.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["p.html"]


def test_a_missing_logo_is_one_line_and_no_page(run: Callable[..., Run], tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    shop.write_text('[page]\nlogo = "absent.png"\n')
    said = run("page", str(BAR), "--settings", str(shop), "--out", str(tmp_path / "p.html"))
    assert (said.code, said.err.count("\n")) == (2, 1)
    assert "settings.page.logo" in said.err
    assert not (tmp_path / "p.html").exists()
