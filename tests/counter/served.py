"""The counter as a program of its own, as a shop starts it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent


class Served:
    """A running counter and its address."""

    def __init__(self, *options: str, env: Mapping[str, str] | None = None) -> None:
        self._running = subprocess.Popen(
            [sys.executable, "-m", "alloysolve", "counter", *options],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env={**os.environ, **(env or {})},
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),  # tests may run without Ctrl-C
        )
        assert self._running.stdout is not None
        self.address = self._running.stdout.readline().strip()

    def stop(self, how: int = signal.SIGINT) -> tuple[int, str]:
        """Ends it, by Ctrl-C unless said otherwise; its exit code, and what it wrote to standard error."""
        self._running.send_signal(how)
        _, said = self._running.communicate(timeout=60)
        return self._running.returncode, said


@contextmanager
def served(*options: str, env: Mapping[str, str] | None = None) -> Iterator[Served]:
    """A counter that is ended at the end, whatever happens."""
    running = Served(*options, env=env)
    try:
        yield running
    finally:
        running.stop(signal.SIGKILL)
