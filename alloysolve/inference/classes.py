"""Classes of what a piece may be if it is not what is claimed: by construction, and by density beside the claim's.

`classes` tells skins apart by thickness, because readings differ in how deep they see. `kinds_of` does not: it is by
them that a decision asks whether each way of being something else would have shown.
"""

from __future__ import annotations

import numpy as np

from ..arrays import Array, Index, Mask
from ..pieces.candidates import Candidates
from ..pieces.constructions import CONSTRUCTIONS, Place, which

THIN_UM, MEDIUM_UM = 5.0, 40.0  # bounds of the classes of skins
ALIKE = 0.01  # relative difference of density up to which a core is equally dense
BARE = ("lighter metal", "another equally dense metal", "denser metal")
UNDER = ("lighter metal inside", "equally dense metal inside", "denser metal inside")  # a skin, or in a shell
NAMED = tuple(c.blind_spot for c in CONSTRUCTIONS if c.blind_spot)
KINDS = (*BARE, *UNDER, *NAMED)


def kinds_of(candidates: Candidates, claim_v: float, metal: str) -> Index:
    """Number in `KINDS` of each piece; -1 for the claimed metal itself, solid and less fine.

    Less fine metal is no other construction. The answer says of it from which fineness down it would have shown.
    """
    out = np.full(len(candidates), -1)
    core = _relation(candidates.bodies.v[candidates.point] / claim_v - 1)
    other = candidates.at(Place.NOWHERE)
    other[other] = ~_of_metal(candidates.some(other), metal)
    out[other] = core[other]
    covered = candidates.covered
    out[covered] = len(BARE) + core[covered]
    slug = _unnamed_inside(candidates)
    out[slug] = len(BARE) + _relation(_slug_v(candidates, claim_v) / claim_v - 1)[slug]
    for number, construction in enumerate(CONSTRUCTIONS):
        if construction.blind_spot:
            out[candidates.of(number)] = KINDS.index(construction.blind_spot)
    return out


def classes(candidates: Candidates, claim_v: float, metal: str) -> dict[str, Mask]:
    """Maps the name of each class to a mask of its pieces.

    Classes go by construction, by thickness of the layer, and by the density of the core beside the claim's.
    """
    core = candidates.bodies.v[candidates.point] / claim_v - 1
    plated = candidates.covered
    thick = {"thin": plated & (candidates.parameter <= THIN_UM), "thick": plated & (candidates.parameter > MEDIUM_UM)}
    thick["plated"] = plated & ~thick["thin"] & ~thick["thick"]
    relation = _beside_claim(core)
    out = {f"{size} layer over {dense} core": a & b for size, a in thick.items() for dense, b in relation.items()}
    bare = candidates.at(Place.NOWHERE)
    fine = bare.copy()
    fine[bare] = _of_metal(candidates.some(bare), metal)
    bare &= ~fine
    light, equal, heavy = (bare & b for b in relation.values())
    out |= {"lighter metal": light, "another equally dense metal": equal, "denser metal": heavy}
    out |= {c.blind_spot: candidates.of(n) for n, c in enumerate(CONSTRUCTIONS) if c.blind_spot}
    out["less fine metal"] = fine
    unnamed, of_slug = _unnamed_inside(candidates), _beside_claim(_slug_v(candidates, claim_v) / claim_v - 1)
    return out | {f"core of {dense.split(' ', 1)[1]} metal": unnamed & b for dense, b in of_slug.items()}


def _of_metal(candidates: Candidates, metal: str) -> Mask:
    """Which pieces have a body that holds most of the claimed metal."""
    at = candidates.bodies.law.index.get(metal, -1)
    return np.asarray(candidates.bodies.w[candidates.point].argmax(axis=1) == at)


def _unnamed_inside(candidates: Candidates) -> Mask:
    """Which pieces have a core in a shell whose class goes by its density."""
    return np.asarray(which(lambda c: c.place is Place.INSIDE and not c.blind_spot)[candidates.construction])


def _slug_v(candidates: Candidates, claim_v: float) -> Array:
    """Specific volume of the material that is not the body; the claim's where there is none."""
    return np.where(candidates.skin >= 0, candidates.layers.v[candidates.skin], claim_v)


def _relation(excess: Array) -> Index:
    """0, 1 or 2 for what is lighter, equally dense or denser, from the excess of specific volume over the claim's."""
    return np.asarray(np.select([excess > ALIKE, excess < -ALIKE], [0, 2], 1))


def _beside_claim(excess: Array) -> dict[str, Mask]:
    """Masks of what is lighter, equally dense and denser, from the excess of specific volume over the claim's."""
    return {
        "a lighter": excess > ALIKE,
        "an equally dense": np.abs(excess) <= ALIKE,
        "a denser": excess < -ALIKE,
    }
