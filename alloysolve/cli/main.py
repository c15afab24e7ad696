"""The entry point: the one place where errors become a line on stderr and an exit code."""

from __future__ import annotations

import os
import sys

import click

from ..errors import AlloysolveError
from .app import app

BAD_INPUT = 2  # exit code; the decision never changes the exit code
STOPPED = 130  # as shells say it of a program stopped by Ctrl-C: 128 and the number of the signal


def main() -> None:
    """Runs the command line; every error ends as one line on stderr with exit code 2."""
    # Before numpy is loaded: threads of its own wait for each other longer than such small arrays take to compute.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        app.main(sys.argv[1:] or ["--help"], standalone_mode=False)
    except AlloysolveError as e:
        _stop(str(e))
    except click.Abort:
        sys.stderr.write("Stopped by Ctrl-C.\n")
        raise SystemExit(STOPPED) from None
    except click.ClickException as e:
        _stop(f"{e.format_message()} See alloysolve --help, or --help behind a command." if str(e) else "")
    except BrokenPipeError:  # the reader, e.g. `head`, has seen enough
        sys.stderr.close()


def _stop(message: str) -> None:
    if message:
        sys.stderr.write(f"error: {' '.join(message.split())}\n")
    raise SystemExit(BAD_INPUT) from None
