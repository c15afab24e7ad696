"""Command options, made from the one schema of a piece."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from ..entry import Entry


class PieceCommand(click.Command):
    """A command that has one option per field of a piece too, and gets them as keyword arguments.

    The fields are loaded when the command is called, so that the list of commands needs none of them.
    """

    def get_params(self, ctx: click.Context) -> list[click.Parameter]:
        """The command's own parameters, the fields of a piece that it has no parameter for, and the help."""
        *own, help_ = super().get_params(ctx)
        taken = {p.name for p in own}
        return [*own, *(o for o in self._of_piece if o.name not in taken), help_]

    @cached_property
    def _of_piece(self) -> list[click.Option]:
        from ..inputs.schema import OPTIONS, options

        names = {f"--{field.replace('_', '-')}" for field in OPTIONS[str(self.name)]}
        return [_option(name, entry) for name, entry in options().items() if name in names]


def _option(name: str, entry: Entry) -> click.Option:
    if entry.dimension == "flag":
        return click.Option([name], is_flag=True, help=entry.help)
    words = f" ({', '.join(entry.words)})" if entry.words else f" ({' x '.join(entry.sizes)})" if entry.sizes else ""
    many = entry.many and not entry.sizes
    return click.Option([name], multiple=many, help=entry.help + words, metavar=_metavar(entry))


def _metavar(entry: Entry) -> str:
    if entry.sizes:
        return "LENGTHS"
    return {"text": "TEXT", "word": "WORD", "count": "NUMBER", "part": "NAME MASS"}.get(
        entry.dimension, entry.dimension.upper()
    )


def given_values(piece: dict[str, Any]) -> dict[str, Any]:
    """The options that were given; several values of one option are joined as repeats."""
    out: dict[str, Any] = {}
    for key, value in piece.items():
        if isinstance(value, tuple):
            if value:
                out[key] = list(value) if len(value) > 1 else value[0]
        elif value not in (None, False, ""):
            out[key] = value
    return out
