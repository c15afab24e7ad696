"""The command that all others belong to, and what they share."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

import click

COMMANDS = ("batch", "counter", "page", "records", "resonance", "routine", "schema", "solve", "tables", "weigh")


class Commands(click.Group):
    """The commands by name. The module of each, which has its name, is loaded when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names of all commands."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of a name; None if there is none."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = getattr(import_module(f".{cmd_name}", __package__), cmd_name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that is called, with what follows; an unknown one is an error that names the nearest."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from ..entry import unknown

            raise unknown("alloysolve", args[0], COMMANDS, "a command")
        return super().resolve_command(ctx, args)


def _version(ctx: click.Context, _: click.Parameter, asked: bool) -> None:
    if asked:
        from ..version import VERSION

        emit(VERSION)
        ctx.exit()


def _write_settings(ctx: click.Context, _: click.Parameter, asked: bool) -> None:
    if asked:
        from ..inputs.settings import find_settings, user_settings_file, write_settings

        file = user_settings_file()
        write_settings(find_settings(), file)
        emit(f"Wrote {file}; edit it with any text editor.")
        ctx.exit()


@click.command(cls=Commands)
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help="Print the version."
)
@click.option(
    "--write-settings",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_write_settings,
    help="Write a settings file with the values in use, then stop.",
)
def app() -> None:
    """What a coin, bar, medal or jewel probably is, from its density and other readings."""


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


def settings_from(option: str | None, extra: Sequence[str] = ()) -> Any:
    """Shop settings, with the paths of tables from the command line added."""
    from dataclasses import replace

    from ..inputs.settings import find_settings

    settings = find_settings(option)
    if extra:
        paths = tuple(str(Path(e).resolve()) for e in extra)
        settings = replace(settings, tables=replace(settings.tables, extra=(*settings.tables.extra, *paths)))
    return settings
