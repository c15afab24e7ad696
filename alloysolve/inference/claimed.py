"""What a claim allows: the compositions, and the candidates that are as claimed."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.claimed_regions import region_bodies
from ..alloys.materials import layers_of
from ..arrays import Mask
from ..inputs.claim import Claim
from ..pieces.candidates import Candidates, joined_candidates
from ..pieces.constructions import (
    AT,
    CLAD,
    CONSTRUCTIONS,
    ENRICHED,
    PLATED,
    WEIGHTED,
    Place,
)
from ..pieces.shape import Form
from ..published.load import Tables
from ..readings.base import SURFACE
from .claim_regions import CLAIM_SLACK, of_claim, of_family
from .commonness import by_commonness
from .layered import layered_candidates

ENRICHING = ("Ag", "Au")  # alloys whose surface turns finer than the body, by age, pickling or wear
ALLOYED = 0.995  # mass fraction above which there is nothing left to enrich
LESS_FINE_POINTS = 24  # number of points of each lower fineness


@lru_cache(maxsize=64)
def claim_bodies(tables: Tables, claim: Claim) -> Bodies | None:
    """The compositions that a claim allows; None for plated and clad claims, whose body is not the whole."""
    if claim.plated or claim.clad:
        return None
    if claim.families:
        return region_bodies(tables, [of_family(tables.families[f]) for f in claim.families])
    magnetic = "none" if claim.metal else ""  # a steel or nickel coin is attracted
    bodies = region_bodies(tables, [of_claim(r, magnetic) for r in claim.regions])
    return by_commonness(tables, claim.kind, bodies)


def less_fine_bodies(tables: Tables, claim: Claim) -> Bodies | None:
    """The claimed metal at the standard finenesses below the claim, alloyed as for its colour; None without any."""
    if not claim.metal or claim.plated:
        return None
    colours = {r.colour for r in claim.regions}
    below = [
        r
        for r in tables.rows("claims")
        if r.metal == claim.metal
        and r.limits[r.metal][0] < claim.least - 0.5
        and (r.colour in colours or "" in colours or not r.colour)
    ]
    if not below:
        return None
    bodies = region_bodies(tables, [of_claim(r, "none") for r in below], LESS_FINE_POINTS)
    return by_commonness(tables, claim.kind, bodies)


def claim_candidates(tables: Tables, claim: Claim, own: Bodies | None, form: Form, shows: int) -> Candidates | None:
    """Candidates as claimed: solid, with a surface changed by age if a reading could show it, plated or clad."""
    layers = layers_of(tables)
    if claim.plated or claim.clad:
        return layered_candidates(tables, claim, form)
    if own is None:
        return None
    bare = Candidates.bare(own, layers, form)
    if claim.may_be_weighted:
        bare = joined_candidates([bare, *_weighted(tables, own, form)])
    if shows < SURFACE or claim.metal not in ENRICHING:
        return bare
    alloyed = np.flatnonzero(own.w[:, own.law.index[claim.metal]] < ALLOYED)
    changed = [
        Candidates(
            own,
            layers,
            form,
            np.full(len(alloyed), ENRICHED),
            alloyed,
            np.full(len(alloyed), own.law.index[claim.metal]),
            np.full(len(alloyed), um),
        )
        for um, _ in CONSTRUCTIONS[ENRICHED].typical
    ]
    return joined_candidates([bare, *changed])


def _weighted(tables: Tables, own: Bodies, form: Form) -> list[Candidates]:
    """The compositions of a claim, each around some of every filling; empty space explains what lies between.

    Ware that is often weighted is compared with them too, so that nobody is contradicted for a filling.
    """
    layers, size, out = layers_of(tables), len(own.v), []
    for row in tables.rows("inserts"):
        if row.construction == CONSTRUCTIONS[WEIGHTED].key:
            skin, of = np.full(size, layers.number(row.part)), np.full(size, WEIGHTED)
            shares = [share for share, _ in CONSTRUCTIONS[WEIGHTED].typical]
            out += [Candidates(own, layers, form, of, np.arange(size), skin, np.full(size, x)) for x in shares]
    return out


def made_as_claimed(claim: Claim) -> Callable[[Candidates], Mask]:
    """Tells which candidates have the alloy and the construction of a claim."""
    known: dict[int, tuple[Bodies, Mask]] = {}  # with the bodies themselves, so that no number is used again

    def alloyed(bodies: Bodies) -> Mask:
        if id(bodies) not in known:
            known[id(bodies)] = (bodies, _within_claim(bodies, claim))
        return known[id(bodies)][1]

    def made(candidates: Candidates) -> Mask:
        construction = candidates.construction
        if claim.plated or claim.clad:
            return np.asarray(construction == (PLATED if claim.plated else CLAD))
        built = AT[Place.NOWHERE][construction] | (construction == ENRICHED)
        built |= claim.weighted & (construction == WEIGHTED)
        return np.asarray(built & alloyed(candidates.bodies)[candidates.point])

    return made


def _within_claim(bodies: Bodies, claim: Claim) -> Mask:
    """Mask of compositions within the limits of a claim."""
    out = np.zeros(len(bodies.v), dtype=bool)
    for region in claim.regions:
        inside = np.ones(len(bodies.v), dtype=bool)
        for symbol, (low, high) in region.limits.items():
            share = bodies.w[:, bodies.law.index[symbol]]
            inside &= (share >= low / 100 - CLAIM_SLACK) & (share <= high / 100 + CLAIM_SLACK)
        out |= inside
    return out
