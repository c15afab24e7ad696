"""A weighing with its budget as a table, and the sentences on the settings with which it was done."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ..advice.weighed import DISAGREE, OLD_CHECK
from ..inference.decision import Reason
from ..measured import decimals
from ..physics.weighing import smallest_useful_mass
from ..weighing.repeats import BudgetRow
from ..weighing.weigh import OF_OTHERS, OF_WEIGHING, Weighing
from .language import Language
from .numbers import coarse, columns, listed

if TYPE_CHECKING:
    from ..answer.document import Document

WIDTH = 80
MOST_SHOWN = 6  # repeats that are listed one by one
DEFAULTS = ("default step", "default water")  # codes of the notes on settings that could change the answer
TARGET = 0.01  # relative uncertainty of density below which a weighing is called useful


def weighing_text(
    w: Weighing,
    findings: Sequence[Reason],
    echo: Mapping[str, str],
    step: float,
    say: Language,
    claim: str = "",
    fineness: float | None = None,
) -> str:
    """Text of a weighing: whether repeats disagree, the density, where its uncertainty comes from, what was read.

    `findings` : those of `advice.weighed`. `fineness` : per mille, the highest that this weighing could have told from
    the claim (`fineness.fineness_seen`).
    """
    d = min(3, decimals((w.density.high - w.density.low) / 4, 1))
    numbers = {
        k: f"{x:.{d}f}" for k, x in (("density", w.density.value), ("low", w.density.low), ("high", w.density.high))
    }
    first = [f for f in findings if f.code == DISAGREE]
    lines = [line for f in first for line in (*textwrap.wrap(weighed_line(f.code, f.values, say), WIDTH), "")]
    if w.displaced_g is None or w.mass_g is None:
        lines += [say.say("weigh", "head_density", **numbers)]
    else:
        lines += [say.say("weigh", "head", **numbers, mass=f"{w.mass_g:g} g", displaced=f"{w.displaced_g:.4g} g")]
    rows = [[say.say("weigh", k) for k in ("part", "size", "moves")]]
    rows += [_row(r, say) for r in w.budget]
    lines += ["", *columns(rows, [31, 16, 0])]
    lines += [
        "",
        say.say("weigh", "read_as", echo=", ".join(f"{k.replace('_', ' ')} {v}" for k, v in echo.items())),
    ]
    said = [weighed_line(f.code, f.values, say) for f in findings if f not in first]
    said += [say.say("weigh", note) for note in w.notes if note not in (OF_OTHERS, OF_WEIGHING)]
    lines += [line for text in said for line in textwrap.wrap(text, WIDTH)]
    if fineness is not None:
        seen = say.say("weigh", "fineness_seen", claim=claim, fineness=f"{fineness:.0f}")
        lines += textwrap.wrap(seen, WIDTH)
    if w.liquid:
        mass = float(smallest_useful_mass(w.density.value, step, TARGET, w.liquid))
        lines.append(say.say("weigh", "smallest", mass=f"{coarse(mass)} g"))
    return "\n".join(lines) + "\n"


def weighed_line(code: str, values: Mapping[str, Any], say: Language) -> str:
    """The sentence on a finding of `advice.weighed`, or "" for any other."""
    if code == DISAGREE:
        odd = values["odd_g"]
        key = "repeats_left_out" if values["left_out"] else "repeats_disagree" if odd is None else "repeats_odd"
        readings = sorted(values["readings_g"])
        digits = max(len(f"{x:g}".partition(".")[2]) for x in readings)
        shown = [f"{x:.{digits}f}" for x in readings]
        return say.say(
            "weigh",
            key,
            readings=listed(shown)
            if len(shown) <= MOST_SHOWN
            else say.say("page", "a_span", low=shown[0], high=shown[-1]),
            apart=f"{values['apart_g']:.{digits}f} g",
            allowed=f"{values['allowed_g']:.{digits}f} g",
            odd="" if odd is None else f"{odd:.{digits}f} g",
        )
    if code == OLD_CHECK:
        return say.say("weigh", "check_is_old", days=values["days"], most=values["most"])
    return say.say("weigh", code) if code in (OF_OTHERS, OF_WEIGHING) else ""


def _row(r: BudgetRow, say: Language) -> list[str]:
    percent = coarse(r.moves_percent)
    moves = say.say("weigh", "only_down" if r.one_sided else "percent", percent=percent)
    return [say.say("weigh", r.part), f"{coarse(r.size, 3)} {r.unit}", moves]


def known_good_line(d: Document, say: Language) -> str:
    """The correction that a known-good piece made to this density, if there was one."""
    w = d.density
    if w is None or w.displaced_g is None or w.known_good_percent is None:
        return ""
    return say.say("settings", "known_good", percent=f"{w.known_good_percent:+.2f}")


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
