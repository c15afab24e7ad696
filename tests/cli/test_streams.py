"""Closed and full standard streams, no home, signals: one clear line, whatever the shell hands over."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from alloysolve.places import user_folder
from tests.conftest import EXAMPLES, Run

BRASS = ("solve", "--claim", "silver 999", "--mass", "31.18", "--displaced", "3.64")
IN_SHELL = f'"{sys.executable}" -m alloysolve '


def shell(line: str) -> Run:
    """What a shell sees of a command."""
    ended = subprocess.run(["sh", "-c", IN_SHELL + line], capture_output=True, text=True, cwd=EXAMPLES.parent)
    return Run(ended.stdout, ended.stderr, ended.returncode)


FULL = pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
STREAMS = {
    "--version >&-": "standard output: closed",
    "--version >/dev/full": "standard output: No space left on device",
    "solve - <&-": "standard input:1",
}


@FULL
def test_a_closed_or_full_stream_is_one_line() -> None:
    for line, named in STREAMS.items():
        ended = shell(line)
        assert (ended.out, ended.code, ended.err.count("\n")) == ("", 2, 1), line
        assert ended.err.startswith(f"error: {named}"), line


@FULL
def test_where_nobody_can_be_told_the_exit_code_says_it() -> None:
    for line in ("solve nowhere.toml 2>&-", "solve nowhere.toml 2>/dev/full"):
        assert shell(line) == Run("", "", 2), line


@pytest.fixture
def homeless(monkeypatch: pytest.MonkeyPatch) -> None:
    """No HOME and no account, as a service may run."""
    for name in ("HOME", "ALLOYSOLVE_CACHE", *(f"XDG_{x}_HOME" for x in ("CONFIG", "DATA", "CACHE"))):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(os, "getuid", lambda: 4_000_000)


@pytest.mark.skipif(sys.platform != "linux", reason="other systems know a home otherwise")
def test_a_user_without_a_home_is_answered(run: Callable[..., Run], homeless: None) -> None:
    assert user_folder("data") is None
    assert run("tables", "silver").code == 0
    for args, step in ((("records",), "set folder in [records]"), (("--write-settings",), "set HOME")):
        ended = run(*args)
        assert (ended.out, ended.code, ended.err.count("\n")) == ("", 2, 1), args
        assert step in ended.err


def test_a_clock_beyond_all_years_is_one_line(run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "99999999999999")
    ended = run("records", "--today")
    assert (ended.out, ended.code) == ("", 2)
    assert ended.err.startswith("error: SOURCE_DATE_EPOCH: ")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_is_one_line_and_its_exit_code(
    run: Callable[..., Run], monkeypatch: pytest.MonkeyPatch, number: signal.Signals
) -> None:
    monkeypatch.setattr("alloysolve.answer.solution.solve", lambda *_, **__: os.kill(os.getpid(), number))
    before = [signal.getsignal(x) for x in (signal.SIGINT, signal.SIGTERM)]
    try:
        ended = run(*BRASS)
    finally:
        for x, was in zip((signal.SIGINT, signal.SIGTERM), before, strict=True):
            signal.signal(x, was)
    by = "Ctrl-C" if number == signal.SIGINT else "SIGTERM"
    assert (ended.out, ended.err.strip(), ended.code) == ("", f"Stopped by {by}.", 128 + number)
