"""The density of a piece by whichever route its readings allow: direct, weighed, or from dimensions."""

from __future__ import annotations

from typing import Any

from ..errors import InputError
from ..inputs.claim import parse_claim
from ..inputs.piece import Piece
from ..inputs.settings import KnownGood, Settings
from ..physics.geometry import SHAPES
from ..published.load import Tables
from ..weighing.weigh import ReferencePiece, Weighing, from_density, from_dimensions, weigh
from .prior import claim_bodies


def density_of(piece: Piece, settings: Settings, tables: Tables) -> Weighing | None:
    """The density with its budget, or None where no reading gives one.

    A density, weighed or given, counts before dimensions.
    """
    if piece.density is not None and (piece.displaced or piece.in_water):
        raise InputError("density", piece.echo["density"], "either a density or a weighing, not both", "leave one out")
    if piece.mass is not None and (piece.displaced or piece.in_water):
        return _weighed(piece, settings, tables)
    if piece.density is not None:
        return from_density(piece.density)
    if piece.mass is not None and piece.shape is not None and piece.count == 1:
        name, _ = piece.shape
        return from_dimensions(piece.mass, name, getattr(piece, name))
    return None


def weighing_arguments(settings: Settings, tables: Tables) -> dict[str, Any]:
    """What the shop settings say about a weighing, as arguments of `weigh`."""
    scale = settings.scale
    known = scale.known_good
    return {
        "scale_step": scale.step,
        "thread": scale.thread,
        "water": scale.water,
        "air": scale.air,
        "wetting": scale.wetting,
        "known_good": reference_piece(known, tables) if known else None,
    }


def reference_piece(known: KnownGood, tables: Tables) -> ReferencePiece:
    """The known-good piece with the density of its claim and half the claim's span as uncertainty."""
    bodies = claim_bodies(tables, parse_claim(known.claim, tables))
    if bodies is None:
        raise InputError(
            "settings.scale.known_good.claim",
            known.claim,
            "a solid metal such as silver 999",
            "weigh a piece of one metal as the known good one",
        )
    density = 1 / bodies.v
    u = ((density.max() - density.min()) / 2 / 3**0.5) ** 2 + (bodies.sigma.mean() * density.mean()) ** 2
    return ReferencePiece(float(density.mean()), float(u**0.5), known.mass, list(known.displaced))


def _weighed(piece: Piece, settings: Settings, tables: Tables) -> Weighing:
    arguments = weighing_arguments(settings, tables)
    arguments |= {"count": piece.count, "parts": _parts(piece, tables)}
    for name, given in (
        ("scale_step", piece.scale_step),
        ("water", piece.water),
        ("wetting", piece.wetting),
        ("liquid_density", piece.liquid_density),
    ):
        if given:
            arguments[name] = given
    if piece.liquid_density:
        arguments["water"] = None
    if piece.shape:
        name, sizes = piece.shape
        arguments["area"] = float(SHAPES[name][0](*sizes)[1])
    assert piece.mass is not None
    weighing: Weighing = weigh(
        piece.mass, list(piece.displaced) or None, in_water=list(piece.in_water) or None, **arguments
    )
    return weighing


def _parts(piece: Piece, tables: Tables) -> list[list[float | None]]:
    return [[mass.value, row.density_g_cm3, row.u_density_g_cm3, mass.u] for mass, row in piece.inclusions(tables)]
