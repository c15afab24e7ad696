"""``alloysolve routine``: what a set of readings would show of what a piece may be instead of the claim."""

from __future__ import annotations

import json
from typing import Any

import click

from .app import emit, settings_from
from .options import PieceCommand, given_values


@click.command(cls=PieceCommand)
@click.argument("readings", default="", help='readings of the routine: "weighing, magnet"; else those the shop owns')
@click.option("--json", "json_", is_flag=True, help="Print the whole of it as JSON.")
@click.option("--settings", help="Settings file.", metavar="FILE")
def routine(
    readings: str,
    json_: bool,
    settings: str | None,
    **piece: Any,
) -> None:
    """What a set of readings would show, and what not.

    For a claim and a mass: which classes of construction are always, sometimes or never shown, what would show the
    rest, and which two or three readings show most for the time taken.
    """
    from ..advice.routine import routine as covered
    from ..inputs.piece import Piece
    from ..words.language import language
    from ..words.routine import routine_text

    shop, the_piece = settings_from(settings), Piece.from_dict(given_values(piece))
    found = covered(the_piece, [k for k in readings.split(",") if k.strip()], shop)
    if json_:
        emit(json.dumps(found.to_dict(), indent=2))
        return
    mass = the_piece.mass.text if the_piece.mass else ""
    emit(routine_text(found, mass, shop.answers.false_alarm.value, language(shop.answers.language)))
