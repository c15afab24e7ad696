"""The application with which commands register, and what they share."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

app = typer.Typer(
    rich_markup_mode=None,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="What a coin, bar, medal or jewel probably is, from its density and other readings.",
)


def _version(asked: bool) -> None:
    if asked:
        from ..answer.document import package_version

        typer.echo(package_version())
        raise typer.Exit


def _write_settings(asked: bool) -> None:
    if asked:
        from ..inputs.settings import find_settings, user_settings_file, write_settings

        file = user_settings_file()
        write_settings(find_settings(), file)
        typer.echo(f"Wrote {file}; edit it with any text editor.")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
    write_settings: Annotated[
        bool,
        typer.Option(
            "--write-settings",
            callback=_write_settings,
            is_eager=True,
            help="Write a settings file with the values in use, then stop.",
        ),
    ] = False,
) -> None:
    """Options before a command."""


def read_standard_input(name: str = "standard input") -> dict[str, Any]:
    """A JSON document from standard input; if it is an answer or a record, the piece it was about."""
    from ..inputs.files import parse_document

    given = parse_document(sys.stdin.buffer.read(), name, json_text=True)
    answer = given.get("solution")
    inputs = (answer if isinstance(answer, dict) else given).get("inputs")
    return inputs if isinstance(inputs, dict) else given


def emit(text: str) -> None:
    """Writes text to standard output, whatever the terminal can show."""
    sys.stdout.write(text if text.endswith("\n") else text + "\n")


def settings_from(option: str | None, extra: list[str] | None = None) -> Any:
    """Shop settings, with the paths of tables from the command line added."""
    from dataclasses import replace

    from ..inputs.settings import find_settings

    settings = find_settings(option)
    if extra:
        paths = tuple(str(Path(e).resolve()) for e in extra)
        settings = replace(settings, tables=replace(settings.tables, extra=(*settings.tables.extra, *paths)))
    return settings
