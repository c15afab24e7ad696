"""The density of each piece, by whichever route its readings allow: direct, weighed, or from dimensions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

import numpy as np

from ..errors import InputError
from ..inputs.piece import Piece
from ..inputs.settings import Settings
from ..physics.geometry import SHAPES
from ..published.load import Tables
from ..units import Quantity
from ..weighing.conditions import USUAL_WETTING
from ..weighing.result import single
from ..weighing.weigh import (
    Weighing,
    Weighings,
    from_density,
    from_dimensions,
    typed_densities,
    weigh,
)
from .known_good import reference_piece


def density_of(piece: Piece, settings: Settings, tables: Tables) -> Weighing | None:
    """The density with its budget, or None if no reading gives one.

    A density that was weighed or given takes precedence over one from dimensions.
    """
    if piece.density is not None and _is_weighed(piece):
        raise InputError("density", piece.echo["density"], "either a density or a weighing, not both", "leave one out")
    if piece.mass is not None and _is_weighed(piece):
        arguments = _arguments(piece, settings, tables)
        displaced, in_water = list(piece.displaced) or None, list(piece.in_water) or None
        weighing: Weighing = weigh(piece.mass, displaced, in_water=in_water, **arguments)
        return weighing
    if piece.density is not None:
        return _typed([piece], settings)[0] if _is_typed(piece) else from_density(piece.density)
    if piece.mass is not None and piece.shape is not None and piece.count == 1:
        name, _ = piece.shape
        return from_dimensions(piece.mass, name, getattr(piece, name))
    return None


def densities_of(pieces: Sequence[Piece], settings: Settings, tables: Tables) -> list[Weighing | InputError | None]:
    """`density_of` each piece, or the error it raises; pieces weighed under the same conditions are done together."""
    out: list[Weighing | InputError | None] = [None] * len(pieces)
    alike: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for i, piece in enumerate(pieces):
        alike[_conditions(piece) or (i,)].append(i)
    for at in alike.values():
        together = [pieces[i] for i in at]
        found: Sequence[Weighing | None] = [None]
        if len(at) > 1:
            found = _typed(together, settings) if _is_typed(together[0]) else _column(together, settings, tables)
        for i, weighing in zip(at, found, strict=True):
            out[i] = weighing or _tried(pieces[i], settings, tables)  # which makes the error, if there is one
    return out


def _tried(piece: Piece, settings: Settings, tables: Tables) -> Weighing | InputError | None:
    try:
        return density_of(piece, settings, tables)
    except InputError as e:
        return e


def _is_weighed(piece: Piece) -> bool:
    return bool(piece.displaced or piece.in_water)


def _is_typed(piece: Piece) -> bool:
    """Whether the density was given as a number without its uncertainty."""
    return isinstance(piece.density, Quantity) and piece.density.u is None


def _conditions(piece: Piece) -> tuple[Any, ...] | None:
    """What weighings must have in common to form one column; None for a piece that is computed by itself."""
    if _is_typed(piece) and not _is_weighed(piece) and piece.shape is None and piece.count == 1:
        return ("typed", piece.mass is None, piece.scale_step)
    read = piece.displaced or piece.in_water
    one_way = bool(piece.displaced) != bool(piece.in_water) and piece.density is None
    plain = one_way and piece.mass is not None and piece.shape is None and piece.count == 1 and not piece.parts
    if not plain or any(q is None or q.u is not None for q in (piece.mass, *read)):
        return None
    return (bool(piece.displaced), len(read), piece.scale_step, piece.water, piece.wetting, piece.liquid_density)


def _column(pieces: list[Piece], settings: Settings, tables: Tables) -> list[Weighing | None]:
    """Weighings under the same conditions; None for one that cannot be used."""
    mass = np.array([p.mass.value for p in pieces if p.mass])
    read = np.array([[q.value for q in p.displaced or p.in_water] for p in pieces])
    try:
        arguments = _arguments(pieces[0], settings, tables)
        arguments["displaced" if pieces[0].displaced else "in_water"] = read
        w: Weighings = weigh(mass, **arguments)
    except InputError:
        return [None] * len(pieces)
    return [single(w.columns, i) if not w.reason[i] else None for i in range(len(pieces))]


def _typed(pieces: Sequence[Piece], settings: Settings) -> list[Weighing]:
    """Densities typed without their uncertainty, of pieces under the same conditions; all with a mass, or none."""
    typed = [p.density for p in pieces if isinstance(p.density, Quantity)]
    if pieces[0].mass is None:
        return typed_densities(typed)
    scale, first = settings.scale, pieces[0]
    mass = np.array([p.mass.value for p in pieces if p.mass])
    conditions: dict[str, Any] = {"scale_step": first.scale_step or scale.step, "water": scale.water, "air": scale.air}
    conditions |= {"wetting": scale.wetting, "count": first.count}
    return typed_densities(typed, mass, **conditions, **_area(first))


def _area(piece: Piece) -> dict[str, Any]:
    """The surface of a piece that was measured [mm2], as an argument of `weigh`."""
    if piece.shape is None:
        return {}
    name, sizes = piece.shape
    return {"area": float(SHAPES[name][0](*sizes)[1])}


def wetting_of(piece: Piece, settings: Settings) -> str:
    """How a piece counts as wetted: as said of it, otherwise as set for the shop, otherwise as is usual."""
    return piece.wetting or settings.scale.wetting or USUAL_WETTING


def _arguments(piece: Piece, settings: Settings, tables: Tables) -> dict[str, Any]:
    """Arguments of `weigh` other than its readings, from the piece or else from the shop settings."""
    scale = settings.scale
    arguments: dict[str, Any] = {
        "scale_step": piece.scale_step or scale.step,
        "thread": scale.thread,
        "water": None if piece.liquid_density else piece.water or scale.water,
        "liquid_density": piece.liquid_density,
        "air": scale.air,
        "wetting": piece.wetting or scale.wetting or None,
        "known_good": reference_piece(scale.known_good, tables) if scale.known_good else None,
        "count": piece.count,
        "parts": _parts(piece, tables),
    }
    return arguments | _area(piece)


def _parts(piece: Piece, tables: Tables) -> list[list[float | None]]:
    return [[mass.value, row.density_g_cm3, row.u_density_g_cm3, mass.u] for mass, row in piece.inclusions(tables)]
