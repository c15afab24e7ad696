"""The page as a browser shows and prints it; Debian's Chromium, else these tests are skipped."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import html5lib
import pytest
from pypdf import PdfReader

from alloysolve.answer.solution import solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings, find_settings
from alloysolve.page.build import Page, page_html, page_of, with_shop
from alloysolve.page.parts import SELLER, Paragraph, Pictures
from tests import solved
from tests.solved import EVERY, EXAMPLES

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
BAR = {"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"}
browser = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed: apt-get install chromium")


def page(name: str) -> Page:
    """With the shop's header, which takes room on the first page."""
    return with_shop(solved.page(name), find_settings(EXAMPLES / "counter.toml"), "")


def opened(folder: Path, html: str, *options: str) -> tuple[str, list[str]]:
    """What Chromium prints for a page, and the messages of its console."""
    file = folder / "page.html"
    file.write_text(html, encoding="utf-8")
    run = subprocess.run(
        [
            str(CHROMIUM),
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            f"--user-data-dir={folder / 'profile'}",
            "--host-resolver-rules=MAP * ~NOTFOUND",
            "--enable-logging=stderr",
            *options,
            file.as_uri(),
        ],
        capture_output=True,
        text=True,
        timeout=900,
        check=True,  # against one that hangs; a busy machine is slow
    )
    return run.stdout, [line for line in run.stderr.splitlines() if "CONSOLE" in line]


def printed(folder: Path, html: str) -> list[str]:
    """Text of each page of the PDF that the browser makes, without spaces."""
    opened(folder, html, "--no-pdf-header-footer", f"--print-to-pdf={folder / 'page.pdf'}")
    return ["".join(p.extract_text().split()) for p in PdfReader(folder / "page.pdf").pages]


def last_words(made: Page) -> str:
    block = made.of(SELLER)[-1].blocks[-1]
    assert isinstance(block, Paragraph)
    return "".join(block.text.split())[-30:]


@browser
@pytest.mark.slow  # prints each example on each paper
@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", EVERY)
def test_the_sellers_part_fills_the_first_sheet_and_the_experts_the_others(
    name: str, paper: str, tmp_path: Path
) -> None:
    from dataclasses import replace

    made = replace(page(name), paper=paper)
    html = page_html(made)
    widest = html.replace('system-ui, "Noto Sans", "DejaVu Sans", sans-serif', '"DejaVu Sans", sans-serif')
    assert widest != html
    first, second, *_, last = printed(tmp_path, widest)
    assert first.startswith("QuaysideBuyingCounter,OstermoleExplanationofatest")
    assert first.endswith(last_words(made))
    assert second.startswith("Foranexpert")
    assert "Tomakethispageagain" in last  # all that is needed on one sheet
    assert last.endswith("alloysolvepagepiece.json--settingssettings.json--priordefault")
    box = PdfReader(tmp_path / "page.pdf").pages[0].mediabox
    width, height = (210, 297) if paper == "A4" else (215.9, 279.4)  # mm
    assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx((width, height), abs=0.5)


@browser
@pytest.mark.parametrize("name", EVERY)
def test_a_browser_shows_its_figures_and_has_nothing_to_say(name: str, tmp_path: Path) -> None:
    shown, console = opened(tmp_path, page_html(page(name)), "--dump-dom")
    assert console == []
    wanted = [p for s in page(name).of(SELLER) for b in s.blocks if isinstance(b, Pictures) for p in b.pictures]
    assert len(wanted) >= 1
    assert shown.count('role="img"') == len(wanted)


@browser
def test_the_console_would_tell_of_a_script_and_of_the_network(tmp_path: Path) -> None:
    html = page_html(page("0117-silver-bar"))
    for added in ("<script>alert(1)</script>", '<img src="http://host.invalid/a.png">'):
        _, console = opened(tmp_path, html.replace("</main>", f"{added}</main>"), "--dump-dom")
        assert any("Content Security Policy" in line for line in console), added


@browser
@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "خاتم جدتي", "祖母の指輪"]
)
def test_names_of_every_kind_are_shown_and_do_nothing(name: str, tmp_path: Path) -> None:
    made = page_of(solve(Piece(**BAR, name=name, note=f"note of {name}"), Settings()).document)
    shown, console = opened(tmp_path, page_html(made), "--dump-dom", "--virtual-time-budget=1000")
    assert console == []
    assert "<script" not in shown
    assert "<img" not in shown
    assert name.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;") in shown


@browser
def test_a_huge_note_and_many_readings_leave_one_first_sheet(tmp_path: Path) -> None:
    readings = [{"kind": "conductivity", "value": f"{29 + k / 10} %IACS", "place": f"place {k}"} for k in range(9)]
    made = page_of(solve(Piece(**BAR, note="word " * 2000, reading=readings), Settings()).document)
    first, second, *_ = printed(tmp_path, page_html(made))
    assert first.endswith(last_words(made))
    assert second.startswith("Foranexpert")


@pytest.mark.parametrize("name", EVERY)
def test_the_html_is_valid(name: str) -> None:
    html = page_html(page(name))
    html5lib.HTMLParser(strict=True).parse(html)
    with pytest.raises(html5lib.html5parser.ParseError):
        html5lib.HTMLParser(strict=True).parse(html.replace("</ul>", ""))
