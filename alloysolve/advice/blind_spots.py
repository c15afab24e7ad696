"""Classes of construction that the readings taken could not show, each with the reading that would."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from ..arrays import Array
from ..inference.classes import classes
from ..inference.decision import CONTRADICTED
from ..inference.misfit import contradicted
from ..integral.evidence import Scores
from ..pieces.candidates import Candidates
from .trials import Trial, is_owned

if TYPE_CHECKING:
    from ..inference.find import Found


BLIND = 0.2  # share of a class that is not shown from which it is a blind spot
RARE = 0.002  # of the alternatives to the claim: classes rarer than this are not named
CLOSES = 0.8  # share of what a class leaves that a reading must show to close it
LOOKED_AT = 400  # pieces of each class


def blind_spots(s: Found, trials: Mapping[str, Trial]) -> tuple[Mapping[str, Any], ...]:
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
        closing = _closing(s, trials, every.candidates.some(at), every.prior[at], scores.some(at))
        out.append((share, {"class": name, "shown": 1 - share / whole, "closed_by": closing}))
    return tuple(spot for _, spot in sorted(out, key=lambda item: -item[0]))


def _closing(s: Found, trials: Mapping[str, Trial], candidates: Candidates, prior: Array, before: Scores) -> list[str]:
    """Kinds of readings not yet taken that would show most of these pieces, those the shop owns first."""
    alarm, out = s.settings.answers.false_alarm.value, []
    for kind, trial in trials.items():
        after = Scores({**before, trial.observed.name: trial.under_claim(candidates)}, before.alike)
        shown = contradicted(after, trial.added, alarm)
        if prior[shown].sum() >= CLOSES * prior.sum():
            out.append(kind)
    return sorted(out, key=lambda kind: not is_owned(s, kind))
