"""Prompts in the order of a counter: claim, mass, water; an answer after each reading."""

from __future__ import annotations

import textwrap
from typing import Any

import click

from ..errors import AlloysolveError
from ..inputs.claim import parse_claim
from ..inputs.settings import tables_of
from ..published.load import Tables
from ..readings.registry import KINDS
from ..words.cautions import caution_words
from ..words.language import language
from .app import emit

FIRST = (
    ("name", "piece  (name or number)"),
    ("claim", "claim  (empty if none)"),
    ("mass", "mass in air, g"),
)
IN_WATER = {"displaced": "pushed aside in water, g", "in_water": "mass in water, g"}
WIDTH = 30


def ask(piece: Any, shop: Any, prior: str | None) -> Any:
    """The piece with everything that was asked for and given; an empty reply skips a prompt."""
    tables = tables_of(shop)
    in_water = shop.scale.read_in_water
    for name, label in (*FIRST, (in_water, IN_WATER[in_water])):
        if not getattr(piece, name) and not (name in IN_WATER and (piece.displaced or piece.in_water)):
            piece = _asked(piece, name, label, tables)
    sized = piece.mass and (piece.disc or piece.bar or piece.rod)
    pending = [(n, label) for n, label in _later(shop, sized) if n not in {r.kind for r in piece.readings}]
    if piece.mass or piece.density or piece.readings:
        _show(piece, shop, prior)
    for name, label in pending:
        before = piece
        if KINDS[name].caution:
            emit(textwrap.fill(caution_words([KINDS[name].caution], language(shop.answers.language)), 80))
        piece = _asked(piece, name, label, tables)
        if piece is not before:
            _show(piece, shop, prior)
    return piece


def _later(shop: Any, sized: bool) -> list[tuple[str, str]]:
    """What is asked after the weighing: what every shop has, what this one owns, last what rests on the dimensions."""
    owned = [name.replace(" ", "_") for name in shop.readings.own]
    return [
        *((kind, of.prompt) for kind, of in KINDS.items() if of.prompt and not of.sized),
        *((kind, KINDS[kind].help) for kind in owned if not KINDS[kind].prompt),
        *((kind, of.prompt) for kind, of in KINDS.items() if of.prompt and of.sized and sized),
    ]


def _asked(piece: Any, name: str, label: str, tables: Tables) -> Any:
    """The reply to one prompt, which is repeated until the reply can be used."""
    while True:
        given = click.prompt(label.ljust(WIDTH), default="", show_default=False, prompt_suffix=" ")
        if not given.strip():
            return piece
        try:
            if name == "claim":
                parse_claim(given, tables)
            return piece.with_(**{name: given})
        except AlloysolveError as e:
            emit(f"  {e.given!r}: expected {e.expected}; {e.next_step}")


def _show(piece: Any, shop: Any, prior: str | None) -> None:
    from ..answer.solution import solve
    from ..words.terminal import answer

    try:
        emit("\n" + answer(solve(piece, shop, prior=prior).document))
    except AlloysolveError as e:
        emit(f"  {e.given!r}: expected {e.expected}; {e.next_step}")
