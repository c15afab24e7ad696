"""What several tests share: the command line run in this process, away from the user's settings."""

from __future__ import annotations

import ctypes
import gc
import io
import itertools
import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

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


def pytest_collection_finish() -> None:
    """Tells the garbage collector to leave alone what lasts until the end: all tests and modules.

    Otherwise so much lasts that it hardly ever looks at what does not, and answers in a cycle stay for minutes.
    """
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="module", autouse=True)
def _memory_given_back() -> Iterator[None]:
    """After each file the process gives back the memory that it does not use, which the C library would keep."""
    yield
    gc.collect()
    if sys.platform == "linux":
        getattr(ctypes.CDLL(None), "malloc_trim", lambda _: 0)(0)  # glibc has it, other C libraries may not


@pytest.fixture
def solved_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands of this test take answers that another test of this process had solved already."""
    import alloysolve.batch.run  # keeps the `solve` it finds on first import  # noqa: F401

    monkeypatch.setattr("alloysolve.answer.solution.solve", once)


_numbers = itertools.count()


@pytest.fixture(scope="session")
def homes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of this process for settings and records of all its tests."""
    return tmp_path_factory.mktemp("homes")


@pytest.fixture(autouse=True)
def _no_user_settings(monkeypatch: pytest.MonkeyPatch, homes: Path) -> None:
    home = homes / str(next(_numbers))  # a test that keeps something makes it
    monkeypatch.delenv("ALLOYSOLVE_SETTINGS", raising=False)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1773273600")  # 2026-03-12, the day of the check in examples/counter.toml
    monkeypatch.setenv("XDG_CONFIG_HOME", str(home / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(home / "data"))
    own = homes.parent  # of one process; the folder above it is shared by those of one run
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
