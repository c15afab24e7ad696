"""What a claim allows: the compositions, and the candidates that are as claimed."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from ..alloys.bodies import Bodies, Region, all_bodies, region_bodies
from ..alloys.materials import Layers, layers_of
from ..arrays import Mask
from ..inputs.claim import METAL_NAMES, Claim, parse_claim
from ..pieces.candidates import Candidates, joined_candidates
from ..pieces.constructions import (
    AT,
    CLAD,
    CONSTRUCTIONS,
    ENRICHED,
    PLATED,
    Place,
)
from ..pieces.shape import Form
from ..published.load import Tables
from ..published.metals import Family
from ..published.wares import CladStock, ClaimRegion
from ..readings.base import SURFACE
from .commonness import family_weights

PLATED_CLAIM_SHARES = (0.002, 0.01, 0.04)  # mass of the skin of a plated article (common practice, no source)
CORE_SLACK = 0.5  # percent by which the core of clad stock may differ from its composition (judgement)
CORE_SCATTER = 0.3  # percent, of its density: that of billon
ENRICHING = ("Ag", "Au")  # alloys whose surface turns finer than the body, by age, pickling or wear
ALLOYED = 0.995  # mass fraction above which there is nothing left to enrich
CLAIM_SLACK = 0.003  # mass fraction by which a body may miss its fineness and still be as claimed
LESS_FINE_POINTS = 24  # number of points of each lower fineness


@lru_cache(maxsize=64)
def claim_bodies(tables: Tables, claim: Claim) -> Bodies | None:
    """The compositions that a claim allows; None for plated and clad claims, whose body is not the whole."""
    if claim.plated or claim.clad:
        return None
    if claim.families:
        return region_bodies(tables, [_of_family(tables.families[f]) for f in claim.families])
    magnetic = "none" if claim.metal else ""  # a steel or nickel coin is attracted
    return region_bodies(tables, [_of_claim(r, magnetic) for r in claim.regions])


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
    regions = [_of_claim(r, "none") for r in below]
    return region_bodies(tables, regions, LESS_FINE_POINTS) if regions else None


def _of_claim(r: ClaimRegion, magnetic: str) -> Region:
    return Region(r.claim, r.limits, r.sigma_percent, magnetic=magnetic)


def _of_family(f: Family) -> Region:
    return Region(f.family, f.limits, f.sigma_percent, f.porosity_percent, f.magnetic, f.iron, tuple(f.system.split()))


def claim_candidates(tables: Tables, claim: Claim, own: Bodies | None, form: Form, shows: int) -> Candidates | None:
    """Candidates as claimed: solid, with a surface changed by age if a reading could show it, plated or clad."""
    layers = layers_of(tables)
    if claim.plated:
        return _plated_pieces(tables, claim, form)
    if claim.clad:
        return _clad_pieces(tables, claim, form)
    if own is None:
        return None
    bare = Candidates.bare(own, layers, form)
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


def _clad_pieces(tables: Tables, claim: Claim, form: Form) -> Candidates:
    """The stock of a clad claim, with its faces at the published share and two standard deviations on each side."""
    stock = next(r for r in tables.rows("clad") if r.name == claim.clad)
    core = region_bodies(tables, [core_region(tables, stock)])
    shares = stock.share + stock.u_share * np.array([-2.0, 0.0, 2.0])
    size = len(core.v)
    return Candidates(
        core,
        layers_of(tables),
        form,
        np.full(3 * size, CLAD),
        np.tile(np.arange(size), 3),
        np.full(3 * size, layers_of(tables).number(stock.faces)),
        np.repeat(shares, size),
    )


def core_region(tables: Tables, stock: CladStock) -> Region:
    """The compositions of the core of clad stock: those of a family, or one of skins.csv."""
    if stock.core in tables.families:
        return _of_family(tables.families[stock.core])
    made = next(r.composition for r in tables.rows("skins") if r.name == stock.core)
    limits = {s: (max(0.0, x - CORE_SLACK), min(100.0, x + CORE_SLACK)) for s, x in made.items()}
    return Region(stock.core, limits, CORE_SCATTER)


def near_core(tables: Tables, bodies: Bodies, stock: CladStock, among: Mask) -> Mask:
    """Which bodies stand for the core of clad stock: those of its family, or the nearest to its composition."""
    if stock.core in tables.families:
        return np.array([n == stock.core for n in bodies.names])[bodies.family] & among
    made = next(r.composition for r in tables.rows("skins") if r.name == stock.core)
    far = np.abs(bodies.w - bodies.law.fractions([made], "")[0]).sum(axis=1)
    return np.asarray(among & (far <= far[among].min() + CORE_SLACK / 100))


def _plated_pieces(tables: Tables, claim: Claim, form: Form) -> Candidates:
    """Base-metal bodies under the claimed skin; gilt silver ("vermeil") has a body of silver 925."""
    layers = layers_of(tables)
    if "vermeil" in claim.words:
        own = claim_bodies(tables, parse_claim("silver 925", tables))
        assert own is not None
        return Candidates.bare(own, layers, form)
    bodies = all_bodies(tables)
    weights = family_weights(tables, "base", "default")
    usable = np.array([weights.get(n, 0.0) > 0 and not _precious(tables, n) for n in bodies.names])[bodies.family]
    if claim.families:
        usable &= np.array([n in claim.families for n in bodies.names])[bodies.family]
    grade_or_some = (bodies.grade >= 0) | (np.arange(len(bodies.v)) % 8 == 0)
    point = np.flatnonzero(usable & grade_or_some)
    skin = _claimed_skin(claim, layers)
    parts = []
    for share in [claim.skin_share] if claim.skin_share else PLATED_CLAIM_SHARES:
        volume = share * layers.v[skin] / (share * layers.v[skin] + (1 - share) * bodies.v[point])
        parts.append(
            Candidates(
                bodies,
                layers,
                form,
                np.full(len(point), PLATED),
                point,
                np.full(len(point), skin),
                form.skin_um(volume),
            )
        )
    return joined_candidates(parts)


def _claimed_skin(claim: Claim, layers: Layers) -> int:
    """The material nearest to the skin of a plated claim: the plain metal, or the alloy of that fineness."""
    if not claim.skin_regions:
        return layers.number(claim.skin_material)
    at = layers.law.index[claim.skin_metal]
    fine = claim.skin_regions[0].limits[claim.skin_metal][0] / 100
    fixed = (layers.strike < 0) & (layers.u_points == 0)
    main = np.flatnonzero(fixed & (layers.w.argmax(axis=1) == at))
    return int(main[np.abs(layers.w[main, at] - fine).argmin()])


def _precious(tables: Tables, family: str) -> bool:
    return family not in tables.families or tables.families[family].system.split()[0] in (
        *METAL_NAMES,
        "Rh",
        "Ir",
        "Ru",
    )


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
