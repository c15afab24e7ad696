"""The entry point: the one place where errors become a line on stderr and an exit code."""

from __future__ import annotations

import sys

import typer

from ..errors import AlloysolveError
from . import batch, page, records, resonance, routine, schema, solve, tables, weigh  # noqa: F401  (each registers its command)
from .app import app

BAD_INPUT = 2  # exit code; the decision never changes the exit code


def main() -> None:
    """Runs the command line; every error ends as one line on stderr with exit code 2."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        app(sys.argv[1:] or ["--help"], standalone_mode=False)
    except AlloysolveError as e:
        _stop(str(e))
    except typer.Abort:
        _stop("stopped")
    except typer.TyperException as e:
        _stop(f"{e.format_message()} See alloysolve --help, or --help behind a command." if str(e) else "")
    except BrokenPipeError:  # the reader, e.g. `head`, has seen enough
        sys.stderr.close()


def _stop(message: str) -> None:
    if message:
        sys.stderr.write(f"error: {' '.join(message.split())}\n")
    raise SystemExit(BAD_INPUT) from None
