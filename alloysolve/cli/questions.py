"""The questions of `solve --ask` in the order of a counter, with the words of the one schema of a piece."""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..errors import InputError
from ..inputs.piece import SCHEMA, SHAPES
from ..units import DIMENSIONS

if TYPE_CHECKING:
    from ..inputs.settings import Settings
    from ..words.language import Language

WIDTH = 80


@dataclass(frozen=True, slots=True)
class Question:
    """One question, about one field of a piece or several of which one is answered.

    `keys` : the fields. `text` : the question where it is about several. `named` : whether a reply must name the field;
    otherwise one that names none is about the first. `again` : whether it comes again until it is skipped.
    """

    keys: tuple[str, ...]
    text: str = ""
    named: bool = False
    again: bool = False

    @property
    def prompt(self) -> str:
        """What is asked, with the unit that a bare number has."""
        if self.text:
            return self.text
        item = SCHEMA[self.keys[0]]
        unit = DIMENSIONS[item.dimension].default if item.dimension in DIMENSIONS else ""
        return item.help + (f", {unit}" if unit else "")

    def help(self, say: Language) -> str:
        """What is wanted, with the words that may be written or examples: one paragraph for each field."""
        lines = []
        for key in self.keys:
            item = SCHEMA[key]
            sizes = f" ({' x '.join(item.sizes)})" if item.sizes else ""
            words = f" ({', '.join(item.words)})" if item.words else ""
            example = (
                f". {say.say('ask', 'example', example=say.say('example', key))}" if say.has("example", key) else ""
            )
            lines.append(f"{key.replace('_', ' ')}: {item.help}{sizes}{words}{example}")
        return "\n".join(textwrap.fill(line, WIDTH, initial_indent="  ", subsequent_indent="    ") for line in lines)

    def read(self, reply: str) -> dict[str, str]:
        """The field that a reply is about, with its value; the value is empty if only the field was named."""
        for key in sorted(self.keys, key=len, reverse=True):
            if len(self.keys) > 1 and (said := _about(key, reply)):
                return {key: said[1]}
        if self.again and any(_about(key, reply) for key in SCHEMA if key not in self.keys):
            raise InputError("", reply, "what was not asked before", "Write back until that question comes again")
        if self.named:
            names = ", ".join(key.replace("_", " ") for key in self.keys)
            raise InputError("", reply, f"first one of {names}", "Write ? to see what belongs to each")
        return {self.keys[0]: reply}

    def options(self, reply: str) -> list[str]:
        """The reply as options of the command."""
        ((key, value),) = self.read(reply).items()
        option = f"--{key.replace('_', '-')}"
        return [option] if SCHEMA[key].dimension == "flag" else [option, value]


def _about(key: str, reply: str) -> re.Match[str] | None:
    """The rest of a reply that begins with the name of a field."""
    return re.fullmatch(rf"{key.replace('_', '[ _-]')}\b[\s:=]*(.*)", reply, re.IGNORECASE)


def questions(shop: Settings) -> tuple[Question, ...]:
    """All questions in order: the claim, the weighing, a magnet, what the shop owns, and last anything else."""
    first, other = ("displaced", "in_water") if shop.scale.read_in_water == "displaced" else ("in_water", "displaced")
    instead = {"in_water": "in water 27.54", "displaced": "displaced 3.64"}[other]
    water = f"{Question((first,)).prompt} (or {SCHEMA[other].help.partition(',')[0]}: {instead})"
    owned = dict.fromkeys(("magnet", *(name.replace(" ", "_") for name in shop.readings.own)))
    asked = (
        *(Question((key,)) for key in ("name", "claim", "mass")),
        Question((first, other), water),
        Question(("parts",)),
        Question(SHAPES, "size: bar 50x28x2.6 mm, disc, ring, rod, sphere or tube", named=True),
        Question(("hollow",), "may it be hollow, as chains and beads are: yes or no"),
        *(Question((kind,)) for kind in owned),
    )
    told = {key for question in asked for key in question.keys}
    rest = tuple(key for key in SCHEMA if key not in told and key != "reading")
    return (*asked, Question(rest, "anything else, by its name (? lists them)", named=True, again=True))
