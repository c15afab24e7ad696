"""Command options, made from the one schema of a piece."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Collection
from typing import Annotated, Any

import typer

from ..entry import Entry
from ..inputs.schema import options as piece_options


def with_piece_options(names: Collection[str]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """A decorator that adds one option per field of a piece to a command, which gets them as keyword arguments.

    The command itself must take ``**piece``.
    """

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        own = [
            p
            for p in inspect.signature(command, eval_str=True).parameters.values()
            if p.kind is not inspect.Parameter.VAR_KEYWORD
        ]
        taken = {p.name for p in own}
        added = [
            _parameter(name, entry)
            for name, entry in piece_options().items()
            if (key := name.strip("-").replace("-", "_")) in names and key not in taken
        ]
        command.__signature__ = inspect.Signature([*own, *added])  # type: ignore[attr-defined]
        command.__annotations__ = {p.name: p.annotation for p in [*own, *added]}
        return command

    return decorate


def _parameter(name: str, entry: Entry) -> inspect.Parameter:
    key = name.strip("-").replace("-", "_")
    if entry.dimension == "flag":
        annotation: Any = Annotated[bool, typer.Option(name, help=entry.help)]
        return inspect.Parameter(key, inspect.Parameter.KEYWORD_ONLY, default=False, annotation=annotation)
    words = f" ({', '.join(entry.words)})" if entry.words else f" ({' x '.join(entry.sizes)})" if entry.sizes else ""
    kind: Any = list[str] | None if entry.many and not entry.sizes else str | None
    annotation = Annotated[kind, typer.Option(name, help=entry.help + words, metavar=_metavar(entry))]
    return inspect.Parameter(key, inspect.Parameter.KEYWORD_ONLY, default=None, annotation=annotation)


def _metavar(entry: Entry) -> str:
    if entry.sizes:
        return "LENGTHS"
    return {"text": "TEXT", "word": "WORD", "count": "NUMBER", "part": "NAME MASS"}.get(
        entry.dimension, entry.dimension.upper()
    )


def given_values(piece: dict[str, Any]) -> dict[str, Any]:
    """The options that were given; several values of one option are joined as repeats."""
    out = {}
    for key, value in piece.items():
        if isinstance(value, list):
            if value:
                out[key] = value if len(value) > 1 else value[0]
        elif value not in (None, False, ""):
            out[key] = value
    return out
