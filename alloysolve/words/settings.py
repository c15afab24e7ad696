"""One line that says which shop settings were used."""

from __future__ import annotations

from ..inputs.piece import Piece
from ..inputs.settings import Settings
from ..weighing.weigh import Weighing
from .language import Language


def known_good_line(weighing: Weighing | None, say: Language) -> str:
    """The correction that a known-good piece made to this density, where there is one."""
    if weighing is None or weighing.displaced_g is None or weighing.factor == 1.0:
        return ""
    return say.say("settings", "known_good", percent=f"{100 * (1 / weighing.factor - 1):+.2f}")


def settings_line(settings: Settings, say: Language, piece: Piece) -> str:
    """The file the settings came from; or the defaults that this piece did not override, and how to write a file."""
    if settings.file:
        return say.say("settings", "used", file=settings.file) + "\n"
    scale = settings.scale
    used = [] if piece.scale_step else [say.say("settings", "step", step=scale.step.text)]
    if not (piece.water or piece.liquid_density):
        used.append(scale.water.text.partition(" +-")[0] + " degC")
    return say.say("settings", "defaults", values=", ".join(used)) + "\n" if used else ""
