"""Every option of every command changes what it prints or writes, or is refused."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path

import click
import pytest

from alloysolve.cli.app import app
from alloysolve.inputs.piece import SCHEMA
from tests.conftest import EXAMPLES, Run
from tests.readings.test_resonance import record

PIECE = 'claim = "silver 925"\nmass = "31.10 g"\ndisplaced = "3.02 g"\nname = "spoon"\n'
# a shop whose alarm is loud, whose paper has a logo, and which owns a meter
SHOP = """[answers]
false_alarm = "1 in 30"
[scale]
step = "0.1 g"
[page]
logo = "logo.png"
[readings]
own = ["conductivity"]
[records]
folder = "kept"
"""
PNG = b"\x89PNG\r\n\x1a\n" + bytes(40)
ROWS = "claim,mass,displaced\nsilver 925,31.10,3.02\nsilver 925,31.10,3.3\n"
OWN = str(EXAMPLES / "own")
SOLVE, WEIGH = ("solve", "piece.toml"), ("weigh", "31.10", "2.96")
GOOD = ("page", str(EXAMPLES / "0124-good-bar.toml"), "--out", "good.html", "--settings", "shop.toml")
KNOWN = (*WEIGH, "--known-good", "--claim", "silver 999")
BATCH = ("batch", "rows.csv", "--out", "answers.csv", "--overwrite")
# command -> option -> the command without it, and what is added; "" stands for the answers to prompts
CASES: Mapping[str, Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]]] = {
    "solve": {
        "--ask": (SOLVE, ("--ask",)),
        "--save": ((*SOLVE, "--magnet", "none"), ("--save",)),
        "--record": (SOLVE, ("--record",)),
        "--more": (SOLVE, ("--more",)),
        "--list": (SOLVE, ("--list",)),
        "--csv": ((*SOLVE, "--list"), ("--csv",)),
        "--json": (SOLVE, ("--json",)),
        "--prior": (SOLVE, ("--prior", "flat")),
        "--tables": ((*SOLVE, "--json"), ("--tables", OWN)),
        "--settings": (SOLVE, ("--settings", "shop.toml")),
    },
    "weigh": {
        "--known-good": ((*WEIGH, "--claim", "silver 999"), ("--known-good",)),
        "--save": (KNOWN, ("--save",)),
        "--json": (WEIGH, ("--json",)),
        "--settings": (WEIGH, ("--settings", "shop.toml")),
    },
    "routine": {
        "--json": (("routine", "--claim", "gold 750", "--mass", "10"), ("--json",)),
        "--settings": (("routine", "--claim", "gold 750", "--mass", "10"), ("--settings", "shop.toml")),
    },
    "resonance": {
        "--json": (("resonance", "tap.wav"), ("--json",)),
        "--figure": (("resonance", "tap.wav"), ("--figure", "tap.svg")),
        "--settings": (
            (
                "resonance",
                "tap.wav",
                "--claim",
                "silver 925",
                "--mass",
                "31",
                "--disc",
                "38x3 mm",
                "--displaced",
                "3.05",
            ),
            ("--settings", "shop.toml"),
        ),
    },
    "page": {
        "--out": (("page", "piece.toml"), ("--out", "other.md")),
        "--overwrite": (("page", "piece.toml", "--out", "notes.html"), ("--overwrite",)),
        "--anew": (("page", "1", "--settings", "shop.toml"), ("--anew",)),
        "--logo-anyway": (GOOD, ("--logo-anyway",)),
        "--language": (("page", "piece.toml"), ("--language", "de")),
        "--prior": (("page", "piece.toml"), ("--prior", "flat")),
        "--tables": (("page", "piece.toml"), ("--tables", OWN)),
        "--settings": (("page", "piece.toml"), ("--settings", "shop.toml")),
    },
    "records": {
        "--decision": (("records", "--folder", "kept"), ("--decision", "contradicted")),
        "--system": (("records", "--folder", "kept"), ("--system", "Pt")),
        "--month": (("records", "--folder", "kept"), ("--month", "2001-01")),
        "--today": (("records", "--folder", "old"), ("--today",)),
        "--week": (("records", "--folder", "old"), ("--week",)),
        "--undecided": (("records", "--folder", "old"), ("--undecided",)),
        "--more": (("records", "1", "--folder", "kept"), ("--more",)),
        "--overwrite": (("records", "export", "notes.csv", "--folder", "kept"), ("--overwrite",)),
        "--count": (("records", "--folder", "kept"), ("--count", "decision")),
        "--csv": (("records", "--folder", "kept"), ("--csv",)),
        "--json": (("records", "--folder", "kept"), ("--json",)),
        "--folder": (("records",), ("--folder", "kept")),
        "--settings": (("records",), ("--settings", "shop.toml")),
    },
    "tables": {
        "--json": (("tables", "Cu"), ("--json",)),
        "--tables": (("tables",), ("--tables", OWN)),
        "--settings": (("tables",), ("--settings", "tables.toml")),
    },
    "batch": {
        "--out": (BATCH, ("--out", "other.jsonl")),
        "--wide": (BATCH, ("--wide",)),
        "--prior": (BATCH, ("--prior", "flat")),
        "--settings": (BATCH, ("--settings", "shop.toml")),
        "--json": (BATCH, ("--json",)),
    },
}
# options about how a run goes, which must change no answer: tests/batch and tests/cli/test_batch.py
OF_THE_RUN = {("batch", name) for name in ("--jobs", "--resume", "--quiet", "--overwrite")} | {("page", "--open")}
# tests/counter/test_serve.py
OF_THE_RUN |= {("counter", name) for name in ("--port", "--no-browser", "--settings")}


def test_every_option_is_looked_at_here() -> None:
    context = click.Context(app)
    commands = {name: app.get_command(context, name) for name in app.list_commands(context)}
    options = [(name, p) for name, of in commands.items() if of for p in of.params if isinstance(p, click.Option)]
    every = {(name, max(p.opts, key=len)) for name, p in options}
    of_pieces = {"--" + name.replace("_", "-") for name in SCHEMA}  # tests/cli/test_nothing_ignored.py
    every = {(name, option) for name, option in every if option not in of_pieces or option in CASES[name]}
    assert every == {(name, option) for name, of in CASES.items() for option in of} | OF_THE_RUN


@pytest.fixture
def counter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a piece, a shop's settings, a recording and rows of a batch."""
    monkeypatch.chdir(tmp_path)
    own = "what the shop wrote itself"
    texts = {"piece.toml": PIECE, "shop.toml": SHOP, "rows.csv": ROWS, "notes.csv": own, "notes.html": own}
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "tables.toml").write_text(f'[tables]\nextra = ["{OWN}"]\n', encoding="utf-8")
    (tmp_path / "logo.png").write_bytes(PNG)
    record(tmp_path / "tap.wav", ((7100, 0.08, 1.0), (12300, 0.03, 0.5)))
    return tmp_path


def result(run: Callable[..., Run], arguments: tuple[str, ...], folder: Path) -> tuple[Run, dict[str, bytes]]:
    """What a command printed, and the files that stand there afterwards."""
    done = run(*arguments)
    files = {str(f.relative_to(folder)): f.read_bytes() for f in sorted(folder.rglob("*")) if f.is_file()}
    return done, files


@pytest.mark.parametrize(("command", "option"), [(name, option) for name, of in CASES.items() for option in of])
def test_every_option_changes_something(
    run: Callable[..., Run], solved_once: None, counter: Path, command: str, option: str
) -> None:
    without, added = CASES[command][option]
    if command == "records" or option == "--anew":
        assert run("solve", "piece.toml", "--record", "--settings", "shop.toml").code == 0
        kept = json.loads((counter / "kept" / "000001.json").read_text(encoding="utf-8"))
        kept |= {"made": "2001-01-01T12:00:00Z"}
        kept["solution"]["claim"]["decision"] = "contradicted"
        (counter / "old").mkdir()
        (counter / "old" / "000001.json").write_text(json.dumps(kept), encoding="utf-8")
    before = result(run, without, counter)
    after = result(run, (*without, *added), counter)
    assert after != before
    if option != "--ask":  # prompts end with the input
        assert after[0].code == 0, after[0].err
