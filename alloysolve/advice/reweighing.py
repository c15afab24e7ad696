"""Advice on weighing: whether a repeat, several repeats or a finer scale would settle the claim."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..inference.decision import CONTRADICTED, UNDECIDED, Reason, judge
from ..inference.find import BelievedOf, Found
from ..inference.misfit import best_as_claimed
from ..inference.weigh_piece import wetting_of
from ..integral.evidence import WEIGHING
from ..weighing.conditions import LEAST_AIR, WETTING
from ..weighing.weigh import Weighing

WEIGH_AGAIN_FROM = 1.28  # normal score (1 in 5) of a weighing under its claim from which it is worth repeating
FINER = 10.0  # how much finer a scale is suggested
MORE = 4  # times as many repeats are tried
MATTERS = 0.3  # part of the uncertainty from which the scale's step or the scatter is worth mending


def about_reweighing(found: Found) -> list[Reason]:
    """Codes "weigh again", "more repeats", "finer scale", "brushed", "finer scale, brushed", "weighing cannot decide".

    Each is judged as if it read the same with a smaller uncertainty. Repeats shrink their own scatter by the root of
    their number, never below the scale's step; if all read alike, they shrink nothing. Brushing leaves less air.
    """
    decision, compared, weighing = found.decision, found.compared, found.weighing
    if decision is None or compared is None or weighing is None or weighing.route != "weighing":
        return []
    notes = []
    by_reading = compared.claim_scores
    strained = abs(float(by_reading[WEIGHING][best_as_claimed(by_reading).where])) > WEIGH_AGAIN_FROM
    if strained and (len(by_reading) == 1 or decision.code != CONTRADICTED):
        notes.append(Reason("weigh again", {}))
    if decision.code == UNDECIDED:
        notes += _better(found, weighing)
    return notes


def _better(found: Found, weighing: Weighing) -> list[Reason]:
    """What a better weighing, on this scale or a finer one, would do for an undecided claim."""
    piece, compared, volume = found.piece, found.compared, found.evidence.volume
    step, scatter = (part_of_budget(weighing, part) for part in ("scale_step", "repeats"))
    if compared is None or volume is None or max(step, scatter) < MATTERS * volume.u:
        return []

    def decides(less: float, air: float = volume.bubble) -> bool:
        """Whether a weighing decides the claim if step and scatter add only `less` [cm3/g], with this air."""
        u = float(np.sqrt(max(volume.u**2 - max(step, scatter) ** 2, 0) + less**2))
        other = compared.weighed(replace(volume, u=u, bubble=air))
        return judge(other, BelievedOf(found), found.settings.answers.false_alarm.value).code != UNDECIDED

    step_g = (piece.scale_step or found.settings.scale.step).value
    finer = {"factor": FINER, "step_g": step_g / FINER}
    least = LEAST_AIR["brushed"] / 1000 / (weighing.body_g or np.inf)
    brushed = max(volume.bubble * WETTING["brushed"] / WETTING[wetting_of(piece, found.settings)], least)
    floor = step_g / 6**0.5 / (weighing.displaced_g or np.inf) * float(weighing.v)  # of the step at tare and reading
    if scatter and decides(max(scatter / MORE**0.5, floor)):
        return [Reason("more repeats", {"count": MORE * max(len(piece.displaced), len(piece.in_water))})]
    if step and decides(step / FINER):
        return [Reason("finer scale", finer)]
    if brushed < volume.bubble and decides(max(step, scatter), brushed):
        return [Reason("brushed", {})]
    if step and brushed < volume.bubble and decides(step / FINER, brushed):
        return [Reason("finer scale, brushed", finer)]
    return [] if decides(0.0) else [Reason("weighing cannot decide", {})]


def part_of_budget(weighing: Weighing, part: str) -> float:
    """A part of the budget in u(v) [cm3/g]; 0 if it is not in the budget."""
    percent = next((float(r.moves_percent) for r in weighing.budget if r.part == part), 0.0)
    return percent / 100 * float(weighing.v)
