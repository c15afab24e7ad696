"""What several tests share: the command line run in this process, away from the user's settings."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from hypothesis import HealthCheck, settings
from xdist.remote import Producer
from xdist.scheduler import LoadScopeScheduling

# Set before numpy is loaded. There is a process for every core already; with threads of their own, which wait for each
# other, fits of pair terms took nine times the CPU time.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.solved import EVERY, EXAMPLES, once

__all__ = ["EXAMPLES", "Run"]

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


def example_of(name: str) -> str:
    """The example that a test is about, by the test's name; "" where it is about none."""
    return next((e for e in EVERY if e in name), "")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests of one example follow each other, so that it is solved once."""
    items.sort(key=lambda item: example_of(item.name), reverse=True)


class Together(LoadScopeScheduling):
    """Tests of one example run in one process, and so do the other tests of one file, which share what it sets up."""

    def _split_scope(self, nodeid: str) -> str:
        return example_of(nodeid) or nodeid.partition("::")[0]


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> Together:
    """The scheduler for tests in several processes."""
    return Together(config, log)


@pytest.fixture
def solved_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands of this test take answers that another test of this process had solved already."""
    import alloysolve.batch.run  # keeps the `solve` it finds on first import  # noqa: F401

    monkeypatch.setattr("alloysolve.answer.solution.solve", once)


@pytest.fixture(autouse=True)
def _no_user_settings(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    monkeypatch.delenv("ALLOYSOLVE_SETTINGS", raising=False)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1773273600")  # 2026-03-12, the day of the check in examples/counter.toml
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))
    own = tmp_path_factory.getbasetemp()  # of one process; the folder above it is shared by those of one run
    monkeypatch.setenv("ALLOYSOLVE_CACHE", str((own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "kept"))


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
