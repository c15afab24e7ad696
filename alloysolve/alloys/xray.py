"""The X-ray lines of the tables, and how each metal of the mixing law absorbs them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from ..arrays import Array, Index, Mask
from ..physics import fluorescence
from ..published.load import Tables
from .law import FCC_IRON, mixing_law

BEAM_KEV = 32.0  # stands for tubes of 40 to 50 kV: 28 to 40, see physics/fluorescence.py
LIGHT_KEV = 2.0  # softer lines are not seen in air (common practice, no source)


@dataclass(frozen=True)
class Lines:
    """Absorption of each metal of the mixing law for the line of each metal that can be read.

    `symbols` : metals with a line. `into` : (metals of the law, symbols) [cm2/g], way in and out together.
    `own` : row of each symbol in it. `seen` : whether its line passes air. `iron` : rows of iron, as bcc and fcc.
    """

    symbols: tuple[str, ...]
    into: Array
    own: Index
    seen: Mask
    iron: tuple[int, int]


@cache
def lines_of(tables: Tables) -> Lines:
    """Lines and attenuations of the tables; a metal without attenuation absorbs like the mean of all."""
    law = mixing_law(tables)
    grids: dict[str, tuple[list[float], list[float]]] = {}
    for r in tables.rows("attenuation"):
        grid = grids.setdefault(r.symbol, ([], []))
        grid[0].append(r.energy_keV)
        grid[1].append(r.attenuation_cm2_g)
    rows = [r for r in tables.rows("lines") if r.symbol in law.index and r.symbol in grids]
    line, edge = np.array([r.energy_keV for r in rows]), np.array([r.edge_keV for r in rows])
    beam = fluorescence.exciting_beam(BEAM_KEV, edge)
    known = [s.removesuffix("-fcc") for s in law.symbols]
    found = {s: fluorescence.absorption([(np.array(a), np.array(b))], line, beam)[0] for s, (a, b) in grids.items()}
    usual = np.nanmean(list(found.values()), axis=0)
    into = np.array([found.get(s, usual) for s in known])
    return Lines(
        tuple(r.symbol for r in rows),
        into,
        np.array([law.index[r.symbol] for r in rows]),
        line >= LIGHT_KEV,
        (law.index["Fe"], law.index[FCC_IRON]),
    )
