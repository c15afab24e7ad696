"""Classes of construction that the readings taken could not show, each with the reading that would."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from ..arrays import Array, Mask
from ..inference.decision import CONTRADICTED
from ..inference.evidence import Scores
from ..inference.misfit import contradicted
from ..pieces.candidates import Candidates
from ..pieces.constructions import CONSTRUCTIONS, Place, which
from .trials import is_owned, trials, with_trial

if TYPE_CHECKING:
    from ..inference.find import Found


THIN_UM, MEDIUM_UM = 5.0, 40.0  # bounds of the classes of skins
ALIKE = 0.01  # relative difference of density up to which a core is equally dense
BLIND = 0.2  # share of a class that is not shown from which it is a blind spot
RARE = 0.002  # of the alternatives to the claim: classes rarer than this are not named
CLOSES = 0.8  # share of what a class leaves that a reading must show to close it
LOOKED_AT = 400  # pieces of each class


def blind_spots(s: Found) -> tuple[Mapping[str, Any], ...]:
    """Classes of what is not the claim that these readings would not have contradicted, the commonest first.

    Nothing is named if the claim is already contradicted, or if there is none. A class is named, never a size.
    """
    if s.compared is None or s.decision is None or s.decision.code == CONTRADICTED:
        return ()
    every = s.prior.alternatives(s.evidence.form)
    alarm = s.settings.answers.false_alarm.value
    scores = s.compared.alternative_scores()
    shown = contradicted(scores, s.compared.claim_scores, alarm)
    out = []
    claim_v, metal = float(s.compared.claim.v.mean()), s.claim.metal if s.claim else ""
    for name, mine in classes(every.candidates, claim_v, metal).items():
        whole, left = float(every.prior[mine].sum()), mine & ~shown
        share = float(every.prior[left].sum())
        if whole < RARE * every.prior.sum() or share < BLIND * whole:
            continue
        at = np.flatnonzero(left)
        at = at[:: max(1, len(at) // LOOKED_AT)]
        closing = _closing(s, every.candidates.some(at), every.prior[at], scores.some(at))
        out.append((share, {"class": name, "shown": 1 - share / whole, "closed_by": closing}))
    return tuple(spot for _, spot in sorted(out, key=lambda item: -item[0]))


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
    base = candidates.bodies.w[candidates.point].argmax(axis=1) == candidates.bodies.law.index.get(metal, -1)
    solid = candidates.at(Place.NOWHERE)
    fine, bare = solid & base, solid & ~base
    light, equal, heavy = (bare & b for b in relation.values())
    out |= {"lighter metal": light, "another equally dense metal": equal, "denser metal": heavy}
    out |= {c.blind_spot: candidates.of(n) for n, c in enumerate(CONSTRUCTIONS) if c.blind_spot}
    out["less fine metal"] = fine
    unnamed = which(lambda c: c.place is Place.INSIDE and not c.blind_spot)[candidates.construction]
    slug = np.where(candidates.skin >= 0, candidates.layers.v[candidates.skin], claim_v) / claim_v - 1
    of_slug = _beside_claim(slug)
    return out | {f"core of {dense.split(' ', 1)[1]} metal": unnamed & b for dense, b in of_slug.items()}


def _beside_claim(excess: Array) -> dict[str, Mask]:
    """Masks of what is lighter, equally dense and denser, from the excess of specific volume over the claim's."""
    return {
        "a lighter": excess > ALIKE,
        "an equally dense": np.abs(excess) <= ALIKE,
        "a denser": excess < -ALIKE,
    }


def _closing(s: Found, candidates: Candidates, prior: Array, before: Scores) -> list[str]:
    """Kinds of readings not yet taken that would show most of these pieces, those the shop owns first."""
    assert s.compared is not None
    claim, alarm = s.compared.claim, s.settings.answers.false_alarm.value
    out = []
    for kind, trial in trials(s).items():
        after = Scores({**before, trial.name: trial.between(candidates, claim)}, before.alike)
        shown = contradicted(after, with_trial(s.compared.claim_scores, trial, claim), alarm)
        if prior[shown].sum() >= CLOSES * prior.sum():
            out.append(kind)
    return sorted(out, key=lambda kind: not is_owned(s, kind))
