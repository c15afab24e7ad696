"""Which reading not yet taken would tell the claim from what else fits, and what it would read in each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..physics.resistivity import IACS_UOHM_CM
from .posterior import quantiles
from .readings import Conductivity
from .verdict import UNDECIDED

if TYPE_CHECKING:
    from .solve import Solution

APART = 1.15  # ratio of conductivities from which a meter of the trade tells two bodies apart (judgement)


def next_readings(s: Solution) -> tuple[dict[str, Any], ...]:
    """Conductivity, where the verdict is open, no meter was used and the likeliest other body reads outside the claim.

    The claim's conductivity is a range [%IACS]: 2.5 % and 97.5 % points over the compositions it allows.
    """
    if s.verdict is None or s.verdict.code != UNDECIDED or s.claim_bodies is None or (s.claim and s.claim.plated):
        return ()
    beside = s.beside_claim()
    if not beside or any(isinstance(r, Conductivity) for r in s.piece.readings):
        return ()
    bodies, first = s.posterior.bodies, beside[0]
    mine = np.flatnonzero(bodies.system == bodies.systems.index(tuple(sorted(first.metals))))
    other = IACS_UOHM_CM / quantiles(bodies.resistivity[mine], s.posterior.by_point[mine])[1]
    low, _, high = quantiles(IACS_UOHM_CM / s.claim_bodies.resistivity, s.claim_bodies.weight)
    if low / APART < other < high * APART:
        return ()
    return ({"kind": "conductivity", "unit": "%IACS", "claim": (low, high), "other": other,
             "metals": first.metals, "family": first.candidates[0].family},)  # fmt: skip
