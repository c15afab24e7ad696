"""What a command loads before it can answer: nothing that this answer does not need."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

NUMBERS = {"numpy"}
SLOW = {"pandas", "cvxpy", "matplotlib", "tomlkit", "tqdm", "importlib.metadata"}


def loaded_by(*arguments: str) -> set[str]:
    """All modules that a command has loaded when it ends."""
    code = (
        "import atexit, sys\n"
        "atexit.register(lambda: sys.stderr.write(' '.join(sys.modules)))\n"
        f"sys.argv = ['alloysolve', *{arguments!r}]\n"
        "from alloysolve.cli import main\nmain()"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ)
    return set(done.stderr.split())


@pytest.mark.parametrize("arguments", [("--help",), ("--version",)])
def test_help_and_version_load_no_numbers(arguments: tuple[str, ...]) -> None:
    assert not loaded_by(*arguments) & (NUMBERS | SLOW)
