"""`solve --ask` in a real terminal, by tmux: keys, the screen, and Ctrl-C; skipped where tmux is missing."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

import alloysolve

pytestmark = pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is missing")

PATIENCE_S = 120  # until a screen counts as one that never comes
BETWEEN_S = 0.1


class Terminal:
    """A window of 80 columns and 24 lines in which a shell runs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._tmux(
            "new-session", "-d", "-x", "80", "-y", "24", "-c", str(folder), "env --default-signal=INT PS1='ready> ' sh"
        )
        self.wait("ready>")

    def _tmux(self, *arguments: str) -> str:
        return subprocess.run(
            ["tmux", "-S", str(self.folder / "tmux"), "-f", os.devnull, *arguments],
            capture_output=True,
            text=True,
            check=True,
            env={k: v for k, v in os.environ.items() if k != "TMUX"} | {"TERM": "xterm", "LC_ALL": "C.UTF-8"},
        ).stdout

    def type(self, *keys: str) -> None:
        """Presses keys; a text is typed, names such as "Enter" and "C-c" are keys."""
        self._tmux("send-keys", *keys)

    def screen(self) -> str:
        """All that was shown, with lines that were wrapped joined again."""
        return self._tmux("capture-pane", "-p", "-J", "-S", "-")

    def wait(self, text: str, times: int = 1) -> str:
        """The screen as soon as it has shown a text a number of times."""
        until = time.monotonic() + PATIENCE_S
        while self.screen().count(text) < times:
            assert time.monotonic() < until, f"{text!r} never came:\n{self.screen()}"
            time.sleep(BETWEEN_S)
        return self.screen()

    def reply(self, prompt: str, *keys: str, times: int = 1) -> None:
        """Waits for a prompt and answers it."""
        self.wait(prompt, times)
        self.type(*keys, "Enter")

    def close(self) -> None:
        """Ends the session with everything that runs in it."""
        self._tmux("kill-server")


@pytest.fixture
def terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Terminal]:
    """A terminal in which `solve --ask` has just been started."""
    monkeypatch.setenv("PYTHONPATH", str(Path(alloysolve.__file__).parents[1]))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    opened = Terminal(tmp_path)
    try:
        opened.type(f"{shlex.quote(sys.executable)} -m alloysolve solve --ask", "Enter")
        yield opened
    finally:
        opened.close()


def written(folder: Path) -> list[str]:
    """Files in a folder, without the socket of tmux."""
    return sorted(name for name in os.listdir(folder) if name != "tmux")


def test_a_piece_from_the_first_question_to_the_saved_file(terminal: Terminal) -> None:
    terminal.reply("name or number of the piece: ", "0117")
    terminal.reply("is said to be: ", "silver 998", "BSpace", "9")
    terminal.reply("mass in air, g: ", "31.18")
    terminal.reply("water pushed aside, one or several, g", "300")
    terminal.reply("water pushed aside, one or several, g", "3.64", times=2)
    assert "expected less than the mass in air, 31.18 g" in terminal.screen()
    for prompt in ("stones and other parts", "size: ", "may it be hollow"):
        terminal.reply(prompt)
    terminal.reply("hand magnet: none, weak or strong: ", "slightly")
    terminal.reply("anything else, by its name", "back")
    terminal.reply("hand magnet: none, weak or strong [slightly]: ", "Up", "Up", "BSpace", "C-u", "no")
    terminal.reply("anything else, by its name", times=2)
    terminal.reply("save as a piece file", "yes")
    terminal.reply("keep a record", "yes")
    terminal.reply("write the page", "no")
    screen = terminal.wait("Record 1: ")
    assert 'These readings speak against "silver 999"' in screen
    assert "Traceback" not in screen
    saved = (terminal.folder / "0117.toml").read_text(encoding="utf-8")
    assert 'magnet = "none"' in saved
    assert 'displaced = "3.64 g"' in saved


@pytest.mark.parametrize("answered", [0, 3])
def test_ctrl_c_leaves_nothing_behind(terminal: Terminal, answered: int) -> None:
    replies = (("name or number", "0117"), ("is said to be", "silver 999"), ("mass in air", "31.18"))
    for prompt, reply in replies[:answered]:
        terminal.reply(prompt, reply)
    terminal.wait("water pushed aside" if answered else "name or number")
    terminal.type("C-c")
    screen = terminal.wait("ready>", times=2)
    assert "Stopped by Ctrl-C." in screen
    assert "error" not in screen
    assert ("--claim 'silver 999' --mass 31.18" in screen) == bool(answered)
    assert "Traceback" not in screen
    assert written(terminal.folder) == []


def test_ctrl_d_ends_the_questions_with_an_answer_and_writes_nothing(terminal: Terminal) -> None:
    replies = (("name or number", "0117"), ("is said to be", "silver 999"), ("mass in air", "31.18"), ("water", "3.64"))
    for prompt, reply in replies:
        terminal.reply(prompt, reply)
    for prompt in ("stones and other parts", "save as a piece file", "keep a record", "write the page"):
        terminal.wait(prompt)
        terminal.type("C-d")
    assert 'These readings speak against "silver 999"' in terminal.wait("ready>", times=2)
    assert written(terminal.folder) == []
