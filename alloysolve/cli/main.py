"""The entry point: the one place where errors and signals become a line on stderr and an exit code."""

from __future__ import annotations

import os
import signal
import sys
from contextlib import suppress
from types import FrameType
from typing import NoReturn

import click

from ..errors import AlloysolveError
from .app import app

BAD_INPUT = 2  # exit code; the decision never changes the exit code
BY_SIGNAL = 128  # a command that a signal ended has this and the signal's number as its exit code, as shells expect


class Terminated(KeyboardInterrupt):
    """SIGTERM, which ends a command in the same way as Ctrl-C does."""


def main() -> None:
    """Runs the command line; every error ends as one line on stderr with exit code 2."""
    # Before numpy is loaded: threads of its own wait for each other longer than such small arrays take to compute.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _open_streams()
    with suppress(ValueError):  # only the main thread may
        signal.signal(signal.SIGTERM, _terminated)
    try:
        app.main(sys.argv[1:] or ["--help"], standalone_mode=False)
        sys.stdout.flush()
    except AlloysolveError as e:
        _stop(str(e))
    except click.Abort as e:  # click makes it of Ctrl-C
        cause = e.__cause__
        number, by = (signal.SIGTERM, "SIGTERM") if isinstance(cause, Terminated) else (signal.SIGINT, "Ctrl-C")
        with suppress(OSError):
            sys.stderr.write(f"Stopped by {by}. {cause or ''}".strip() + "\n")
        raise SystemExit(BY_SIGNAL + number) from None
    except click.ClickException as e:
        _stop(f"{e.format_message()} See alloysolve --help, or --help behind a command." if str(e) else "")
    except BrokenPipeError:  # the reader, e.g. `head`, has seen enough
        _forget_output()
    except OSError as e:  # what names no file is the output
        _forget_output()
        place = e.filename or "standard output"
        _stop(f"{place}: {e.strerror or e}: expected a place that can be written; choose another")


def _open_streams() -> None:
    """Standard streams that bear whatever is written; a caller may have closed any of them."""
    for name, mode in (("stdin", "r"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    if sys.stdout is None:
        _stop("standard output: closed: expected a place that can be written; send it to a file")


def _terminated(_number: int, _frame: FrameType | None) -> NoReturn:
    raise Terminated


def _forget_output() -> None:
    """Nothing more is written to standard output, not even what is still waiting, when the interpreter ends."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _stop(message: str, code: int = BAD_INPUT) -> NoReturn:
    if message:
        with suppress(OSError):  # nobody can be told
            sys.stderr.write(f"error: {' '.join(message.split())}\n")
            sys.stderr.flush()
    raise SystemExit(code) from None
