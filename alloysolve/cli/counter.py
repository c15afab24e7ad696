"""``alloysolve counter``: the counter in a browser on this machine."""

from __future__ import annotations

import sys
from importlib.util import find_spec

import click

from ..errors import InputError
from .app import emit

NEEDED = ("flask", "waitress")


@click.command()
@click.option("--port", type=click.IntRange(1024, 65535), help="Port to use.", metavar="NUMBER")
@click.option("--no-browser", is_flag=True, help="Print the address without opening a browser.")
@click.option("--settings", help="Settings file.", metavar="FILE")
def counter(port: int | None, no_browser: bool, settings: str | None) -> None:
    """A page in the browser of this machine: type what was read, and the answer stands beside it.

    Ctrl-C ends it. Nothing leaves this machine, and nothing is kept unless you ask for it.
    """
    if missing := [name for name in NEEDED if find_spec(name) is None]:
        raise InputError("counter", "", f"{' and '.join(missing)}, which it needs", "install alloysolve[counter]")
    from ..counter.serve import serve

    serve(settings, port, not no_browser, _say)


def _say(address: str) -> None:
    emit(f"{address}\nThe page is for this machine only. Ctrl-C ends it.")
    sys.stdout.flush()
