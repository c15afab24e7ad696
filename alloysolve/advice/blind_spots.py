"""Classes of construction that the readings taken could not show, each with the reading that would."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..inference.decision import CONTRADICTED
from .question import Question
from .trials import Trial, is_owned

BLIND = 0.2  # share of a class that is not shown from which it is a blind spot
RARE = 0.002  # of the alternatives to the claim: classes rarer than this are not named
CLOSES = 0.8  # share of what a class leaves that a reading must show to close it


def blind_spots(question: Question, trials: Mapping[str, Trial]) -> tuple[Mapping[str, Any], ...]:
    """Classes of what is not the claim that these readings would not have contradicted, the commonest first.

    Nothing is named if the claim is already contradicted, or if there is none. A class is named, never a size. Readings
    that would show most of what is left are named with it, those the shop owns first.
    """
    s = question.s
    if s.compared is None or s.decision is None or s.decision.code == CONTRADICTED:
        return ()
    least, out = RARE * question.others.prior.sum(), []
    for name in question.others.names:
        whole, left = question.shown_of(name)
        if whole >= least and left >= BLIND * whole:
            closed_by = sorted(question.closed_by(trials, name, CLOSES), key=lambda kind: not is_owned(s, kind))
            out.append((left, {"class": name, "shown": 1 - left / whole, "closed_by": closed_by}))
    return tuple(spot for _, spot in sorted(out, key=lambda item: -item[0]))
