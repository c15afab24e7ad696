"""``alloysolve resonance``: the tones of a recording of taps, and what would sound like them."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from ..errors import InputError
from .app import emit, settings_from
from .options import PieceCommand, given_values

PICTURES = (".png", ".svg")


@click.command(cls=PieceCommand)
@click.argument("file", help="WAV file of a few taps of the piece")
@click.option("--json", "json_", is_flag=True, help="Print the tones as JSON.")
@click.option("--figure", help="Draw the spectrum into a PNG or SVG file.", metavar="FILE")
@click.option("--settings", help="Settings file.", metavar="FILE")
def resonance(
    file: str,
    json_: bool,
    figure: str | None,
    settings: str | None,
    **piece: Any,
) -> None:
    """The tones of a struck piece, found in a recording.

    With its mass and dimensions, also what the claim, what fits the other readings, and usual metals would sound like.
    """
    from ..answer.sounding import sounding
    from ..inputs.bare import with_units
    from ..inputs.piece import Piece
    from ..words.language import language
    from ..words.resonance import sounding_text

    if figure and Path(figure).suffix.lower() not in PICTURES:
        raise InputError("--figure", figure, "a file that ends in .png or .svg", "rename it")
    shop = settings_from(settings)
    found = sounding(file, Piece.from_dict(with_units(given_values(piece), shop)), shop)
    say = language(shop.answers.language)
    if figure:
        _draw(file, found, say, figure)
    emit(found.to_json() if json_ else sounding_text(found, say))
    if figure:
        sys.stderr.write(say.say("sounding", "written", file=figure) + "\n")


def _draw(file: str, found: Any, say: Any, figure: str) -> None:
    from ..figures.base import save
    from ..figures.tone_spectrum import spectrum
    from ..readings.recording import mean_spectrum

    try:
        save(spectrum(*mean_spectrum(file), found, say), figure)
    except ImportError as e:
        raise InputError("--figure", figure, "matplotlib, which draws it", "install alloysolve[figures]") from e
    except OSError as e:
        raise InputError("--figure", figure, "a place that can be written", "choose another file") from e
