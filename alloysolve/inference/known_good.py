"""The piece with which a scale is checked: what its density must be, and which pieces tell it closely enough."""

from __future__ import annotations

import numpy as np

from ..errors import InputError
from ..inputs.claim import parse_claim
from ..inputs.settings import KnownGood
from ..published.load import Tables
from ..weighing.weigh import ReferencePiece
from .claimed import claim_bodies

RIGHT_WITHIN = 0.5  # percent; a check shall show a scale that reads further off: judgement
CHECK_WITH = 'check with a fine metal, such as "silver 999", or with a coin type of coins.csv, such as "US-1d-Ag"'


def known_density(claim: str, tables: Tables, path: str) -> tuple[float, float]:
    """Density of a sound piece of that claim, and its standard uncertainty [g/cm3].

    Raises
    ------
    InputError
        For a claim that is not one solid metal, or whose densities differ by more than a check shall show: what was
        measured against their middle would be no error of the scale.
    """
    bodies = claim_bodies(tables, parse_claim(claim, tables))
    if bodies is None:
        raise InputError(path, claim, "a solid metal such as silver 999", "weigh a piece of one metal")
    low, high = float(1 / bodies.v.max()), float(1 / bodies.v.min())
    density = (low + high) / 2
    wide = 100 * (high - low) / 2 / density
    if wide > RIGHT_WITHIN:
        span = f"this one may be {low:.2f} to {high:.2f} g/cm3, {wide:.1f} % either way"
        raise InputError(path, claim, f"a density known within {RIGHT_WITHIN:g} % ({span})", CHECK_WITH)
    return density, float(np.hypot((high - low) / 2 / 3**0.5, bodies.sigma.mean() * density))


def reference_piece(known: KnownGood, tables: Tables) -> ReferencePiece:
    """The known-good piece of the settings, with the density of its claim and half the span of it as uncertainty."""
    density, u = known_density(known.claim, tables, "settings.scale.known_good.claim")
    return ReferencePiece(density, u, known.mass, list(known.displaced))
