"""The line that says which shop settings were used."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from .language import Language

if TYPE_CHECKING:
    from ..answer.document import Document


def known_good_line(d: Document, say: Language) -> str:
    """The correction that a known-good piece made to this density, if there was one."""
    w = d.density
    if w is None or w.displaced_g is None or w.known_good_percent is None:
        return ""
    return say.say("settings", "known_good", percent=f"{w.known_good_percent:+.2f}")


DEFAULTS = ("default step", "default water")  # codes of the notes on settings that nobody has chosen


def default_lines(d: Document, say: Language) -> list[str]:
    """Sentences on defaults that could change the answer, and how to set them."""
    return [say.say("settings", n.code, **n.values) for n in d.notes if n.code in DEFAULTS]


def defaults_line(settings: Mapping[str, Any], inputs: Mapping[str, Any], say: Language) -> str:
    """The settings of a weighing that a piece did not override, and how to write a file of settings."""
    scale = settings["scale"]
    used = [] if inputs.get("scale_step") else [say.say("settings", "step", step=scale["step"])]
    if not (inputs.get("water") or inputs.get("liquid_density")):
        used.append(scale["water"].partition(" +-")[0].removesuffix(" degC") + " degC")
    return say.say("settings", "defaults", values=", ".join(used)) if used else ""
