"""Settings that could change the answer: a step that the digits contradict, a temperature that nobody has chosen."""

from __future__ import annotations

from dataclasses import replace

from ..inference.decision import Reason, judge
from ..inference.find import BelievedOf, Found
from ..physics.water import water_density_tanaka
from ..readings.error_model import VolumeLikelihood
from .reweighing import part_of_budget

OTHER_STEP = 1.5  # ratio of the step of the last digit typed to that of the settings, from which they differ
ROOMS = (15.0, 25.0)  # degC of water that has stood in a cold and in a warm room (judgement)


def about_defaults(found: Found) -> list[Reason]:
    """Codes "default step", where the digits typed show another step than the settings, and "default water".

    Without a claim, which step was taken is always worth knowing; beside a claim, only if the decision rests on it.
    """
    piece, weighing, volume = found.piece, found.weighing, found.evidence.volume
    if weighing is None or volume is None or weighing.route != "weighing":
        return []
    notes, scale = [], found.settings.scale
    read = [q.last_digit for q in (piece.mass, *piece.displaced, *piece.in_water) if q is not None]
    typed = min((digit for digit in read if digit), default=scale.step.value)
    if piece.scale_step is None and not 1 / OTHER_STEP < typed / scale.step.value < OTHER_STEP:
        step, scatter = (part_of_budget(weighing, part) for part in ("scale_step", "repeats"))
        other = max(step * typed / scale.step.value, scatter) ** 2 - max(step, scatter) ** 2
        if found.decision is None or _changes(found, replace(volume, u=max(volume.u**2 + other, 0.0) ** 0.5)):
            notes.append(Reason("default step", {"step": scale.step.text, "typed": f"{typed:g} g"}))
    chosen = found.settings.origin != "defaults" or piece.water is not None or piece.liquid_density is not None
    if found.decision is not None and not chosen:
        now = water_density_tanaka(scale.water.value)
        ratios = [float(now / water_density_tanaka(degC)) for degC in ROOMS]
        if any(_changes(found, replace(volume, v=volume.v * ratio)) for ratio in ratios):
            notes.append(Reason("default water", {"water": f"{scale.water.value:g} degC"}))
    return notes


def _changes(found: Found, volume: VolumeLikelihood) -> bool:
    """Whether the decision would be another one, had the weighing read so."""
    assert found.decision is not None
    assert found.compared is not None
    other = judge(found.compared.weighed(volume), BelievedOf(found), found.settings.answers.false_alarm.value)
    return other.code != found.decision.code
