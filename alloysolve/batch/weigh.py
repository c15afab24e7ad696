"""Densities of many pieces at once: weighings under the same conditions are one column."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..errors import InputError
from ..inference.weigh_piece import density_of, weighing_arguments
from ..inputs.piece import Piece
from ..inputs.settings import Settings
from ..pieces.shape import USUAL_RATIO, USUAL_VOLUME
from ..published.load import Tables
from ..weighing.result import Weighing, Weighings
from ..weighing.weigh import weigh


@dataclass(frozen=True)
class Density:
    """What of a weighing the quick route needs; names as in `Weighing`."""

    value: float
    low: float
    high: float
    v: float
    u_v: float
    bubble_v: float
    body_g: float | None
    displaced_mm3: float | None
    count: int

    @classmethod
    def of(cls, w: Weighing, count: int) -> Density:
        """From a weighing."""
        m = w.density
        return cls(
            m.value, m.low, m.high, float(w.v), float(w.u_v), float(w.bubble_v), w.body_g, w.displaced_mm3, count
        )

    @property
    def thickness_um(self) -> float:
        """Of one piece, as a coin of usual proportions, as `form.form_of` takes it."""
        volume = self.displaced_mm3 / self.count if self.displaced_mm3 else USUAL_VOLUME
        return 1000 * float((4 * volume / (np.pi * USUAL_RATIO**2)) ** (1 / 3))


def densities(pieces: Sequence[Piece], settings: Settings, tables: Tables) -> list[Density | InputError | None]:
    """The density of each piece, None where no reading gives one, or what is wrong with its readings."""
    out: list[Density | InputError | None] = [None] * len(pieces)
    alike: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for i, piece in enumerate(pieces):
        key = _conditions(piece)
        if key is None:
            out[i] = _single(piece, settings, tables)
        else:
            alike[key].append(i)
    for at in alike.values():
        found = _column([pieces[i] for i in at], settings, tables)
        for i, density in zip(at, found, strict=True):
            # the error of a weighing that cannot be is worded where one piece is weighed
            out[i] = density or _single(pieces[i], settings, tables)
    return out


def _single(piece: Piece, settings: Settings, tables: Tables) -> Density | InputError | None:
    try:
        weighing = density_of(piece, settings, tables)
    except InputError as e:
        return e
    return None if weighing is None else Density.of(weighing, piece.count)


def _conditions(piece: Piece) -> tuple[Any, ...] | None:
    """What weighings must have in common to be one column; None for what is weighed by itself."""
    read = piece.displaced or piece.in_water
    plain = piece.mass is not None and read and piece.density is None and piece.shape is None
    if not plain or piece.count != 1 or piece.parts or any(q is None or q.u is not None for q in (piece.mass, *read)):
        return None
    return (bool(piece.displaced), len(read), piece.scale_step, piece.water, piece.wetting, piece.liquid_density)


def _column(pieces: list[Piece], settings: Settings, tables: Tables) -> list[Density | None]:
    """Weighings under the same conditions; None for one that cannot be."""
    first, arguments = pieces[0], weighing_arguments(settings, tables)
    for name in ("scale_step", "water", "wetting", "liquid_density"):
        if getattr(first, name):
            arguments[name] = getattr(first, name)
    if first.liquid_density:
        arguments["water"] = None
    mass = np.array([p.mass.value for p in pieces if p.mass])
    read = np.array([[q.value for q in p.displaced or p.in_water] for p in pieces])
    try:
        w: Weighings = weigh(mass, read, **arguments) if first.displaced else weigh(mass, in_water=read, **arguments)
    except InputError:
        return [None] * len(pieces)
    c = w.columns
    return [
        Density(
            float(c.density[i]),
            float(c.low[i]),
            float(c.high[i]),
            float(c.v[i]),
            float(c.u_v[i]),
            float(c.bubble_v[i]),
            float(c.body_g[i]),
            float(c.displaced_mm3[i]),
            1,
        )
        if not c.reason[i]
        else None
        for i in range(len(pieces))
    ]
