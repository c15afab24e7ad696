"""``alloysolve page`` as people use it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import datetime
from html import unescape
from pathlib import Path

import pytest

import alloysolve.inputs.files as files
from tests.conftest import EXAMPLES, Run

BAR = EXAMPLES / "0117-silver-bar.toml"
SHOP = ("--settings", str(EXAMPLES / "counter.toml"))


@pytest.mark.usefixtures("solved_once")
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


@pytest.fixture
def shop(tmp_path: Path, run: Callable[..., Run]) -> tuple[str, ...]:
    """Settings whose folder of records holds the bar as number 1."""
    file = tmp_path / "shop.toml"
    file.write_text(f'[records]\nfolder = "{(tmp_path / "records").as_posix()}"\n')
    assert run("solve", str(BAR), "--record", "--settings", str(file)).code == 0
    return ("--settings", str(file))


def no_solving(*_: object, **__: object) -> None:
    raise AssertionError("solved again")


def test_a_record_is_printed_without_solving_and_byte_for_byte(
    run: Callable[..., Run], tmp_path: Path, shop: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    file, fresh = tmp_path / "records" / "000001.json", tmp_path / "fresh.html"
    run("page", str(BAR), "--out", str(fresh), *shop)
    monkeypatch.setattr("alloysolve.answer.solution.solve", no_solving)
    pages = []
    for what, ending in (("1", "html"), (str(file), "htm"), ("000001", "html")):
        out = tmp_path / f"p.{ending}"
        assert run("page", what, "--out", str(out), *shop).code == 0
        pages.append(out.read_bytes())
    assert pages[0] == pages[1] == pages[2]
    day = datetime.fromisoformat(json.loads(file.read_bytes())["made"]).astimezone().date().isoformat()
    assert pages[0].decode() == fresh.read_text("utf-8").replace("on ........................ by", f"on {day} by")


def test_a_record_of_another_version_stands_and_is_solved_anew_only_when_asked(
    run: Callable[..., Run], tmp_path: Path, shop: tuple[str, ...]
) -> None:
    file, out = tmp_path / "records" / "000001.json", tmp_path / "p.md"
    old = json.loads(file.read_bytes())
    old["solution"]["version"] = "0.0.7"
    result = old["page"]["sections"][0]["blocks"][0]
    result["text"] = result["text"].replace("brass", "pinchbeck")
    file.write_text(json.dumps(old), encoding="utf-8")
    run("page", "1", "--out", str(out), *shop)
    said = out.read_text("utf-8")
    assert "pinchbeck" in said
    assert "Found by version 0.0.7 of the program" in said
    assert "Solved again" not in said
    run("page", "1", "--anew", "--out", str(out), *shop)
    seller, expert = out.read_text("utf-8").split("# For an expert")
    assert "pinchbeck" in seller
    assert expert.lstrip().startswith("## Solved again by version ")
    assert "What we measured fits brass" in " ".join(expert.split())


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (("7",), "list them: alloysolve records"),
        (("1", "--prior", "flat"), "--prior"),
        ((str(BAR), "--anew"), "--anew"),
    ],
)
def test_what_cannot_be_printed_is_one_line(
    given: tuple[str, ...], says: str, run: Callable[..., Run], shop: tuple[str, ...]
) -> None:
    said = run("page", *given, *shop)
    assert (said.out, said.code, said.err.count("\n")) == ("", 2, 1)
    assert says in said.err


def test_a_record_without_a_page_or_with_a_damaged_one_is_one_line(
    run: Callable[..., Run], tmp_path: Path, shop: tuple[str, ...]
) -> None:
    file, out = tmp_path / "records" / "000001.json", tmp_path / "p.html"
    whole = json.loads(file.read_bytes())
    bare = {key: value for key, value in whole.items() if key != "page"}
    blocks = [{"kind": "paragraph", "text": 7}], [{"kind": "script"}], [{"kind": "grid", "title": "", "head": []}]
    broken = [
        {**whole, "page": {**whole["page"], "sections": [{"part": "seller", "heading": "", "blocks": b}]}}
        for b in blocks
    ]
    for given in (bare, *broken):
        file.write_text(json.dumps(given), encoding="utf-8")
        said = run("page", "1", "--out", str(out), *shop)
        assert (said.out, said.code, said.err.count("\n")) == ("", 2, 1)
        assert "add --anew" in said.err
        assert not out.exists()
    assert run("page", "1", "--anew", "--out", str(out), *shop).code == 0
    assert "What we measured fits brass" in " ".join(out.read_text("utf-8").split())


def test_fields_that_an_older_page_has_besides_do_not_matter(
    run: Callable[..., Run], tmp_path: Path, shop: tuple[str, ...]
) -> None:
    file, out = tmp_path / "records" / "000001.json", tmp_path / "p.md"
    whole = json.loads(file.read_bytes())
    whole["page"]["edition"] = whole["page"]["sections"][0]["tone"] = "old"
    file.write_text(json.dumps(whole), encoding="utf-8")
    assert run("page", "1", "--out", str(out), *shop).code == 0
    assert "brass" in out.read_text("utf-8")


def test_a_shown_record_says_how_its_page_is_printed(run: Callable[..., Run], shop: tuple[str, ...]) -> None:
    assert "alloysolve page 1\n" in run("records", "1", *shop).out


def test_a_page_in_the_sellers_language_and_the_screen_in_english(
    run: Callable[..., Run], tmp_path: Path, solved_once: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = tmp_path / "german.toml"
    shop.write_text('[answers]\nlanguage = "de"\n', encoding="utf-8")
    piece, out = tmp_path / "piece.toml", tmp_path / "page.html"
    piece.write_text('claim = "silver 999"\nmass = "31.18 g"\ndisplaced = "3.64 g"\n', encoding="utf-8")
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    assert run("page", str(piece), "-o", str(out), "--settings", str(shop), "--open").code == 0
    html = out.read_text(encoding="utf-8")
    assert '<html lang="de"' in html
    assert "Trocken wiegt das Stück 31,18 g." in html
    assert '<div class="expert" lang="en">' in html
    assert opened == [out.as_uri()]
    assert run("page", str(piece), "-o", str(out), "--settings", str(shop), "--language", "fr").code == 0
    assert "--prior default --language fr" in out.read_text(encoding="utf-8")
    assert "À sec, l&#x27;objet pèse 31,18 g." in out.read_text(encoding="utf-8")
    said = run("page", str(piece), "-o", str(out), "--language", "xx")
    assert (said.code, said.err.count("\n")) == (2, 1)
    assert "--language: 'xx': expected one of de, en, es, fr" in said.err
    assert "These readings speak against" in run("solve", str(piece), "--settings", str(shop)).out


def test_a_record_is_worded_in_another_language_without_solving(
    run: Callable[..., Run], tmp_path: Path, shop: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("alloysolve.answer.solution.solve", None)
    out = tmp_path / "seite.md"
    assert run("page", "1", "--out", str(out), "--language", "de", *shop).code == 0
    assert "# Erläuterung einer Prüfung" in out.read_text(encoding="utf-8")
