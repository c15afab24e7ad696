"""Golden texts pin wording and layout: numbers are masked, so that they never pin physics.

Set ALLOYSOLVE_GOLDEN=write to write them anew after a change of words, then read them.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import EXAMPLES, Run

HERE = Path(__file__).parent
README = EXAMPLES.parent / "README.md"


SHORT = ["0117-silver-bar", "0120-ring", "0122-chain", "0124-good-bar", "0125-brooch", "0130-quarter"]


def compare(said: str, name: str) -> None:
    """Compares a text with the golden file of a name, which is written anew if that is asked for."""
    file = HERE / name
    if os.environ.get("ALLOYSOLVE_GOLDEN") == "write":
        file.write_text(said, "utf-8")
    assert said == file.read_text("utf-8")


def masked(text: str) -> str:
    """Digits as #, runs of them and of spaces as one."""
    return re.sub(r" +", " ", re.sub(r"\d+(?:\.\d+)?", "#", text))


def beginning_and_end(text: str) -> str:
    """The answer without the rows of what fits, whose number and order are physics."""
    head, _, rest = text.partition("\nlikely")
    return head + "\nlikely" + rest[rest.index("\n\n") :]


@pytest.mark.usefixtures("solved_once")
@pytest.mark.parametrize("piece", sorted(EXAMPLES.glob("01*.toml")), ids=lambda p: p.stem)
def test_wording_of_every_example_in_full(piece: Path, run: Callable[..., Run]) -> None:
    shop = ("--settings", str(EXAMPLES / "counter.toml"))
    compare(masked(beginning_and_end(run("solve", str(piece), *shop, "--more").out)), f"{piece.stem}.txt")


@pytest.mark.usefixtures("solved_once")
@pytest.mark.parametrize("name", SHORT)
def test_wording_of_the_short_answer(name: str, run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch) -> None:
    """A claim contradicted, open and likely, open and unlikely, not contradicted, of a plating, of a coin type."""
    monkeypatch.chdir(EXAMPLES.parent)
    compare(
        masked(run("solve", f"examples/{name}.toml", "--settings", "examples/counter.toml").out), f"short-{name}.txt"
    )


@pytest.mark.usefixtures("solved_once")
@pytest.mark.parametrize("name", ["0117-silver-bar", "0120-ring", "0124-good-bar"])
def test_wording_of_a_page_of_each_kind(name: str, run: Callable[..., Run], tmp_path: Path) -> None:
    """Contradicted, undecided, not contradicted: what the seller reads, without the rows of what it may be."""
    out = tmp_path / "page.md"
    run("page", str(EXAMPLES / f"{name}.toml"), "--settings", str(EXAMPLES / "counter.toml"), "--out", str(out))
    seller = out.read_text("utf-8").partition("# For an expert")[0]
    unwrapped = re.sub(r"(?<!\n)\n(?![\n#-])", " ", seller)  # numbers move the ends of lines
    unwrapped = re.sub(r"(?<= each kind is:\n).*?(?=\n## )", "", unwrapped, flags=re.DOTALL)
    said = re.sub("# to #", "#", masked(unwrapped))
    compare(said, f"page-{name}.md")


@pytest.mark.parametrize("more", [(), ("--more",)])
def test_the_readme_shows_what_the_program_prints(more, run: Callable[..., Run], monkeypatch) -> None:
    monkeypatch.chdir(EXAMPLES.parent)
    said = run("solve", "examples/0117-silver-bar.toml", *more).out
    shown = "\n".join("    " + line if line else "" for line in said.rstrip("\n").split("\n"))
    assert shown in README.read_text()


@pytest.mark.parametrize("script", sorted(EXAMPLES.glob("*.py")), ids=lambda p: p.stem)
def test_scripts_run(script: Path) -> None:
    import subprocess
    import sys

    done = subprocess.run(
        [sys.executable, str(script)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(EXAMPLES.parent)},
    )
    assert done.returncode == 0, done.stderr
    expected = {
        "stock": "'decision': 'contradicted'",
        "series": "not silver-copper: L6",
        "routine": "thick layer over an equally dense core",
        "own_table": "near medal alloy of the Ostermole works",
    }[script.stem]
    assert expected in done.stdout
