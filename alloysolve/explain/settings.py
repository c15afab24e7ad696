"""One line that says which shop settings were used."""

from __future__ import annotations

from ..inverse.settings import Settings
from .language import Language


def settings_line(settings: Settings, say: Language) -> str:
    """The file the settings came from, or the defaults and the command that writes a file."""
    if settings.file:
        return say.say("settings", "used", file=settings.file) + "\n"
    scale = settings.scale
    values = ", ".join([f"scale step {scale.step.text}", f"water {scale.water.text.replace(' +- 1', '')}", f"wetted {scale.wetting}"])
    return say.say("settings", "defaults", values=values) + "\n"
