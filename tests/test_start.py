"""What a command loads before it can answer: nothing that this answer does not need."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.conftest import EXAMPLES

SLOW = {"scipy", "pandas", "cvxpy", "matplotlib", "tqdm", "importlib.metadata", "numpy.ma", "numpy.polynomial"}
PIECE = EXAMPLES / "0117-silver-bar.toml"  # a weighing, a conductivity and a magnet


def loaded_by(*arguments: str) -> set[str]:
    """All modules that a command has loaded when it ends."""
    code = (
        "import atexit, sys\n"
        "atexit.register(lambda: sys.stderr.write(' '.join(sys.modules)))\n"
        f"sys.argv = ['alloysolve', *{arguments!r}]\n"
        "from alloysolve.cli import main\nmain()"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stderr.split())


@pytest.mark.parametrize("arguments", [("--help",), ("--version",)])
def test_help_and_version_load_no_numbers(arguments: tuple[str, ...]) -> None:
    assert not loaded_by(*arguments) & (SLOW | {"numpy"})


@pytest.mark.parametrize("arguments", [("weigh", "31.18", "3.64 3.63"), ("solve", str(PIECE))])
def test_a_command_loads_nothing_slow_and_no_other_command(arguments: tuple[str, ...]) -> None:
    loaded = loaded_by(*arguments)
    assert not loaded & SLOW
    commands = {name.rpartition(".")[2] for name in loaded if name.startswith("alloysolve.cli.")}
    assert commands == {"main", "app", "options", arguments[0]}
