"""One line that says which shop settings were used."""

from __future__ import annotations

from ..inverse.settings import Settings
from .language import Language


def settings_line(settings: Settings, say: Language, step: str = "") -> str:
    """The file the settings came from, or the defaults and the command that writes a file.

    `step` is the scale step of this piece where it overrides the settings.
    """
    if settings.file:
        return say.say("settings", "used", file=settings.file) + "\n"
    scale = settings.scale
    water = scale.water.text.partition(" +-")[0] + " degC"
    return say.say("settings", "defaults", step=step or scale.step.text, water=water) + "\n"
