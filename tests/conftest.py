"""What several tests share: the command line run in this process, away from the user's settings."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

EXAMPLES = Path(__file__).parent.parent / "examples"

# The same inputs on every run, and no limit of time on any: a failure is one of the code, not of luck or of a busy
# machine. Other inputs: --hypothesis-profile=default, now and then.
settings.register_profile("same", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("same")


@dataclass(frozen=True)
class Run:
    """What a command printed and how it ended."""

    out: str
    err: str
    code: int


@pytest.fixture(autouse=True)
def _no_user_settings(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    monkeypatch.delenv("ALLOYSOLVE_SETTINGS", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Run]:
    """Runs ``alloysolve ARGS`` in this process."""
    from alloysolve.cli import main

    def command(*args: str, stdin: str | bytes = "") -> Run:
        raw = stdin.encode() if isinstance(stdin, str) else stdin
        monkeypatch.setattr(sys, "argv", ["alloysolve", *map(str, args)])
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(raw), encoding="utf-8"))
        capsys.readouterr()
        code = 0
        try:
            main()
        except SystemExit as e:
            code = int(e.code or 0)
        captured = capsys.readouterr()
        return Run(captured.out, captured.err, code)

    return command
