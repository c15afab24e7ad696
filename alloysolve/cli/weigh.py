"""``alloysolve weigh``: density and budget from two numbers."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import click

from ..errors import InputError
from .app import emit, read_standard_input, settings_from
from .options import PieceCommand, given_values

LIGHTEST = 2.0  # g/cm3 (judgement); no metal that is kept as a known-good piece is lighter (aluminium 2.70)
SAVED_WITHIN = 2.0  # percent; what reads further off is not a scale error to correct but a wrong piece or a slip


@click.command(cls=PieceCommand)
@click.argument("mass", help='mass in air, e.g. 31.18 or "1 ozt"; - reads a piece as JSON')
@click.argument(
    "displaced",
    nargs=-1,
    help='water pushed aside, e.g. 3.64, or mass in water where the settings say "below the balance"; '
    "repeats one after the other",
)
@click.option("--known-good", is_flag=True, help="This is a piece known to be good: compare with its --claim.")
@click.option("--save", is_flag=True, help="With --known-good: keep it in the settings, used from now on.")
@click.option("--json", "json_", is_flag=True, help="Print JSON; `solve -` reads it.")
@click.option("--settings", help="Settings file.", metavar="FILE")
def weigh(
    mass: str,
    displaced: tuple[str, ...],
    known_good: bool,
    save: bool,
    json_: bool,
    settings: str | None,
    **piece: Any,
) -> None:
    """Density of a piece, with its uncertainty.

    It is computed from the mass in air and the water that the piece displaces, or its mass in water, or its dimensions.
    """
    from ..inference.weigh_piece import density_of
    from ..inputs.piece import Piece
    from ..inputs.settings import tables_of

    if save and not known_good:
        raise InputError("--save", "", "--known-good beside it", "a piece is saved by: alloysolve solve FILE --save")
    if json_ and known_good:
        raise InputError("--json", "", "no --known-good, which prints one sentence", "leave one out")
    new_file = save and settings is not None and not Path(settings).exists()
    shop = settings_from(None if new_file else settings)
    given = read_standard_input() if mass == "-" else {"mass": mass}
    number = shop.scale.read_in_water
    if displaced and piece.get(number):
        raise InputError(
            number, " ".join(displaced), "one number read in water", f"leave out --{number.replace('_', '-')}"
        )
    given |= given_values({**piece, number: displaced[0] if len(displaced) == 1 else displaced} if displaced else piece)
    the_piece = Piece.from_dict(given)
    if known_good:
        _known_good(the_piece, shop, save, settings if new_file else None)
        return
    weighing = density_of(the_piece, shop, tables_of(shop))
    if weighing is None:
        raise InputError("displaced", None, "water pushed aside, or --in-water, or dimensions", "give one of them")
    emit(_json(the_piece, shop, weighing) if json_ else _text(the_piece, shop, weighing))


def _json(piece: Any, shop: Any, weighing: Any) -> str:
    from ..advice.weighed import about_weighed
    from ..answer.collect import coded, density_part
    from ..plain import to_plain
    from ..version import VERSION

    return json.dumps(
        {
            "schema": "alloysolve.weighing/1",
            "version": VERSION,
            "inputs": piece.to_dict(),
            "settings": {**shop.to_dict(), "origin": shop.origin},
            "density": to_plain(density_part(weighing)),
            "notes": to_plain([coded(n) for n in about_weighed(piece, weighing, shop)]),
        },
        indent=2,
        ensure_ascii=False,
    )


def _text(piece: Any, shop: Any, weighing: Any) -> str:
    from ..advice.weighed import about_weighed
    from ..words.language import language
    from ..words.weighing import defaults_line, weighing_text

    say = language(shop.answers.language)
    step = (piece.scale_step or shop.scale.step).value
    fineness = _fineness(piece, shop, weighing) if piece.claim else None
    used = say.say("settings", "used", file=shop.file) if shop.file else ""
    used = used or defaults_line(shop.to_dict(), piece.to_dict(), say)
    findings = about_weighed(piece, weighing, shop)
    return weighing_text(weighing, findings, piece.echo, step, say, piece.claim, fineness) + used


def _fineness(piece: Any, shop: Any, weighing: Any) -> float | None:
    """The fineness that this weighing could have told from the claim."""
    from ..advice.fineness import fineness_seen
    from ..inference.observe import form_of
    from ..inputs.claim import parse_claim
    from ..inputs.settings import tables_of

    tables = tables_of(shop)
    return fineness_seen(tables, parse_claim(piece.claim, tables), weighing, form_of(piece, weighing))


def _known_good(piece: Any, shop: Any, save: bool, new_file: str | None = None) -> None:
    """The morning check: compares what the known-good piece reads with what its metal has."""
    from dataclasses import replace

    from ..inference.known_good import RIGHT_WITHIN, known_density
    from ..inference.weigh_piece import density_of
    from ..inputs.settings import tables_of
    from ..words.language import language

    tables, say = tables_of(shop), language(shop.answers.language)
    claim = piece.claim or (shop.scale.known_good.claim if shop.scale.known_good else "")
    if not claim:
        raise InputError("claim", "", "what the known good piece is", 'add --claim "silver 999"')
    expected, u = known_density(claim, tables, "claim")
    if not (piece.displaced or piece.in_water):
        raise InputError("displaced", None, "a known-good piece weighed in water", "give the water it pushes aside")
    alone = replace(shop, scale=replace(shop.scale, known_good=None))
    weighing = density_of(piece, alone, tables)
    assert weighing is not None
    if _apart(piece, weighing, alone, say):
        return
    _check_in_water(piece, weighing)
    off = 100 * (weighing.density.value / expected - 1)
    # percent; an error below it would not show
    shown = 200 * math.hypot(weighing.density.u / weighing.density.value, u / expected)
    good = abs(off) <= max(RIGHT_WITHIN, shown)
    percent = f"{max(abs(off), shown):.1f}" if good else f"{off:+.1f}"
    key = "known_good_right" if good else "known_good_off"
    emit(say.say("weigh", key, percent=percent, expected=f"{expected:.2f}"))
    if save and abs(off) > SAVED_WITHIN:
        emit(say.say("weigh", "not_saved", percent=f"{SAVED_WITHIN:g}"))
    elif save:
        file = _kept(piece, claim, shop, new_file)
        added = 100 * (expected / weighing.density.value - 1)
        emit(say.say("weigh", "saved" if added >= 0 else "saved_off", file=file, percent=f"{abs(added):.2f}"))
        if not good:
            emit(say.say("weigh", "saved_doubtful"))


def _check_in_water(piece: Any, weighing: Any) -> None:
    """An error where what was typed as water pushed aside can only be the mass in water."""
    from ..weighing.weigh import likely_slips

    typed = piece.displaced[0].text if piece.displaced else ""
    slips = dict(likely_slips(weighing.mass_g, weighing.displaced_g)) if typed else {}
    if weighing.density.value < LIGHTEST and slips.get("in_water_typed_as_displaced"):
        number = typed.removesuffix(" g")
        number = f'"{number}"' if " " in number else number
        step = f"{number} looks like the mass in water: --in-water {number}"
        raise InputError("displaced", typed, "the water pushed aside", step)


def _apart(piece: Any, weighing: Any, shop: Any, say: Any) -> bool:
    """Says so if the weighings disagree; whether they disagree so that they check no scale."""
    from ..advice.weighed import DISAGREE, about_weighed
    from ..words.weighing import weighed_line

    found = [n for n in about_weighed(piece, weighing, shop) if n.code == DISAGREE]
    for note in found:
        emit(weighed_line(note.code, note.values, say))
    if not found or found[0].values["left_out"]:
        return False
    emit(say.say("weigh", "known_good_apart"))
    return True


def _kept(piece: Any, claim: str, shop: Any, new_file: str | None) -> str:
    """Writes the known-good piece into the settings; their file."""
    from ..inputs.settings import today, user_settings_file, write_settings

    inside = [f"{round(piece.mass.value - q.value, 6):g} g" for q in piece.in_water]
    repeats = inside or [q.text for q in piece.displaced]
    file = new_file or shop.file or str(user_settings_file())
    write_settings(shop.with_known_good(claim, piece.mass.text, repeats, today().isoformat()), file)
    return file
