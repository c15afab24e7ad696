"""Coin types that have the mass and the metal of a piece and, if it was measured, its size.

They are named where nothing is claimed, or where the claim is contradicted. Only types that fit are named: one of
another metal is not, so that nobody reads of a coin what the piece is not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..alloys.law import mixing_law
from ..arrays import Array
from ..errors import InputError
from ..inference.claimed import claim_bodies, claim_candidates
from ..inference.compare import scores
from ..inference.decision import CONTRADICTED, SPEAKS_AGAINST
from ..inference.find import Found
from ..inference.misfit import p_of
from ..inputs.claim import parse_claim
from ..inputs.claim_coins import alike
from ..inputs.ware import may_be_coin
from ..measured import K95
from ..published.load import Tables
from ..published.wares import CoinType
from ..readings.size import COIN_TYPE, SIZE, Nominal, checks_of

MOST = 3  # types that are named
LIGHTER, HEAVIER = 0.12, 0.06  # how far a worn coin and a heavy one may be from the mass of their type, at most
WORN = 3.0  # mean losses by wear that all but 1 in 20 coins stay below (the tail of an exponential)
SCATTER = (
    0.004  # relative, of the density of coin alloys about the mixing law (judgement: their families have 0.1 to 0.6 %)
)
PLATE = 0.1  # greatest share of a plating by volume, where the law does not say it (judgement: the tables have 8 %)
STEEL_FROM = 40.0  # percent of iron or nickel from which a part of a coin is attracted (judgement)


@dataclass(frozen=True)
class CoinFits:
    """A coin type that fits; `others` : how many more types have its metal, mass and size."""

    coin: CoinType
    others: int


def coin_types(found: Found) -> tuple[CoinFits, ...]:
    """At most three coin types that fit all readings, the nearest first."""
    contradicted = found.decision is not None and found.decision.code == CONTRADICTED
    if found.claim is not None and not contradicted:
        return ()
    if not found.evidence.volume or not found.evidence.form.mass_g or not may_be_coin(found.claim, found.piece):
        return ()
    kinds: list[list[CoinType]] = []
    for c in _fitting(found):
        same = next((kind for kind in kinds if alike(kind[0], c)), None)
        if same is not None:
            same.append(c)
        elif len(kinds) < MOST and _others_agree(found, c):
            kinds.append([c])
    place = {c.id: k for k, c in enumerate(found.tables.rows("coins"))}
    return tuple(CoinFits(min(kind, key=lambda c: place[c.id]), len(kind) - 1) for kind in kinds)


def _fitting(found: Found) -> Iterator[CoinType]:
    """Types of the mass, size and density of a piece, the nearest first."""
    rows, form, volume = found.tables.rows("coins"), found.evidence.form, found.evidence.volume
    ratio = (form.mass_g or 0.0) / _masses(found.tables)
    near = [rows[k] for k in np.flatnonzero((ratio > 1 - LIGHTER) & (ratio < 1 + HEAVIER))]
    lengths = getattr(found.piece, form.shape, None) or ()
    checked = [(c, checks_of(c, form, found.piece.mass, lengths)) for c in near]
    sized = [(c, sum(x * x for x in map(_deviations, checks))) for c, checks in checked if all(map(_agrees, checks))]
    if not sized or volume is None:
        return
    low, high = densities([c for c, _ in sized], found.tables)
    z = volume.score(np.clip(volume.v, 1 / high, 1 / low), np.full(len(sized), SCATTER))
    for k in np.argsort(np.array([off for _, off in sized]) + z**2, kind="stable"):
        if abs(z[k]) <= K95:
            yield sized[k][0]


@cache
def _masses(tables: Tables) -> Array:
    return np.array([c.mass_g or np.nan for c in tables.rows("coins")])


def _agrees(check: Nominal) -> bool:
    """Whether a mass or length is that of a type within its tolerance, its wear and the uncertainty of the reading."""
    missing = check.nominal - check.read
    return -K95 * check.u <= missing <= K95 * check.u + WORN * check.worn


def _deviations(check: Nominal) -> float:
    """How far a mass or length is from its type, in standard uncertainties; wear only takes away."""
    missing = check.nominal - check.read
    return missing / (check.u + (check.worn if missing > 0 else 0.0))


def densities(types: Sequence[CoinType], tables: Tables) -> tuple[Array, Array]:
    """Lowest and highest density [g/cm3] of each type by the mixing law: of the whole, or of any of its parts."""
    parts = [[c.composition] if c.composition else list(c.layers.values()) for c in types]
    law = mixing_law(tables)
    v = law.specific_volume(law.fractions([p for some in parts for p in some]))
    first = np.cumsum([0, *(len(some) for some in parts)])[:-1]
    most, least = np.maximum.reduceat(v, first), np.minimum.reduceat(v, first)
    plated = np.array([c.construction.startswith("plated") and not c.composition for c in types])
    share = np.where(plated, PLATE, 1.0)  # of the way from the core, which stands first
    return 1 / (v[first] + share * (most - v[first])), 1 / (v[first] + share * (least - v[first]))


def _others_agree(found: Found, c: CoinType) -> bool:
    """Whether no reading but density, mass and size speaks against a type."""
    others = [o.name for o in found.evidence.observed if o.kind not in (SIZE, COIN_TYPE)]
    if not others:
        return True
    try:
        claim = parse_claim(c.id, found.tables)
    except InputError:  # its mean composition is not published
        return _magnet_agrees(found, c, len(others))
    evidence = found.evidence.only(*others)
    made = claim_candidates(found.tables, claim, claim_bodies(found.tables, claim), evidence.form, evidence.shows)
    return made is not None and bool((p_of(scores(evidence, made, False)) > SPEAKS_AGAINST).any())


def _magnet_agrees(found: Found, c: CoinType, others: int) -> bool:
    """Whether a magnet, and nothing else was read, does to the parts of a type what they do to it."""
    magnets = [r.text for r in found.piece.readings if r.kind == "magnet"]
    steel = any(part.get("Fe", 0.0) + part.get("Ni", 0.0) >= STEEL_FROM for part in c.layers.values())
    return len(magnets) == others and all((m != "none") == steel for m in magnets)
