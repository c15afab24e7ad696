"""Command options, made from the one schema of a piece."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

import click

from ..errors import InputError

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
    return click.Option([name], multiple=True, help=entry.help + words, metavar=_metavar(entry))


def _metavar(entry: Entry) -> str:
    if entry.sizes:
        return "LENGTHS"
    return {"text": "TEXT", "word": "WORD", "count": "NUMBER", "part": "NAME MASS"}.get(
        entry.dimension, entry.dimension.upper()
    )


def given_values(piece: dict[str, Any]) -> dict[str, Any]:
    """The options that were given: a value, a list of repeats, or several readings of a kind under ``reading``.

    Raises
    ------
    InputError
        For two values of what a piece has one of, where the later one would count without a word.
    """
    from ..inputs.piece import SCHEMA
    from ..readings.registry import KINDS

    out: dict[str, Any] = {}
    readings: list[dict[str, Any]] = []
    for key, value in piece.items():
        values = list(value) if isinstance(value, tuple) else [] if value in (None, False, "") else [value]
        if len(values) > 1 and key in KINDS:
            readings += [{"kind": key, "value": text} for text in values]
        elif len(values) > 1 and (not SCHEMA[key].many or SCHEMA[key].sizes):
            raise InputError(f"--{key.replace('_', '-')}", ", ".join(values), "one value", "leave out all but one")
        elif values:
            out[key] = values if len(values) > 1 else values[0]
    return out | ({"reading": readings} if readings else {})
