"""What is to be known of a density before relying on it, such as repeats that disagree or an old check of the scale."""

from __future__ import annotations

from ..inference.decision import Reason
from ..inputs.piece import Piece
from ..inputs.settings import Settings, today
from ..weighing.weigh import OF_OTHERS, OF_WEIGHING, Weighing

DISAGREE, OLD_CHECK = "repeats disagree", "check is old"


def about_weighed(piece: Piece, weighing: Weighing | None, settings: Settings) -> list[Reason]:
    """Codes "repeats disagree", "check is old", and those of `typed_densities`, in the order in which they matter."""
    if weighing is None:
        return []
    notes, apart, good = [], weighing.disagreement, settings.scale.known_good
    if apart is not None:
        readings = tuple(q.value for q in piece.displaced or piece.in_water)
        values = {"readings_g": readings, "apart_g": apart.apart_g, "allowed_g": apart.allowed_g}
        notes.append(Reason(DISAGREE, values | {"odd_g": apart.odd_g, "left_out": apart.left_out}))
    if good is not None and good.on is not None and weighing.route == "weighing":
        days = (today() - good.on).days
        if days > settings.scale.check_days:
            notes.append(Reason(OLD_CHECK, {"days": days, "most": settings.scale.check_days}))
    return notes + [Reason(code, {}) for code in weighing.notes if code in (OF_OTHERS, OF_WEIGHING)]
