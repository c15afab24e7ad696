"""Water that a piece as claimed would displace, and that this one did."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ..answer.solution import Solution
from ..page.readings import noun, water_words
from ..words.language import Language
from ..words.numbers import grams
from .base import DARK, LIGHT, new_axes, open_frame

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SIZE = (4.6, 1.9)


def pushed_aside(s: Solution) -> tuple[float, float, float] | None:
    """Liquid displaced as read, and its 95 % range [g]; None for a piece that was not weighed in a liquid."""
    w = s.weighing
    if w is None or w.displaced_g is None:
        return None
    d, read = w.density, float(w.displaced_g)
    return read, read * d.value / d.high, read * d.value / d.low


def water_drawing(s: Solution, say: Language) -> dict[str, Any]:
    """What `draw_water` draws, in the types of JSON: rows of name, value, range [g], whether it was read, words."""
    rows = []
    if s.advice.claim_displaced_g and s.claim and not s.claim.plated:
        low, high = s.advice.claim_displaced_g
        words = water_words(low, high, say)
        rows.append([say.say("page", "figure_claim"), (low + high) / 2, low, high, False, words])
    if (mine := pushed_aside(s)) is not None:
        rows.append([say.say("page", "figure_this", piece=noun(s, say)), *mine, True, grams(mine[0])])
    return {"rows": rows, "axis": say.say("page", "figure_grams")}


def draw_water(drawing: Mapping[str, Any], ax: Axes | None = None) -> Axes:
    """Axes with two bars and their ranges, drawn from `water_drawing` or from JSON of it."""
    ax = ax or new_axes(*SIZE)
    rows = drawing["rows"]
    places = range(len(rows))[::-1]
    for y, (_, value, low, high, read, words) in zip(places, rows, strict=True):
        ax.barh(y, value, height=0.55, color=LIGHT if read else "white", edgecolor=DARK, linewidth=0.8)
        ax.errorbar(value, y, xerr=[[value - low], [high - value]], color=DARK, capsize=5, linewidth=1.4)
        ax.annotate(words, (high, y), xytext=(6, 0), textcoords="offset points", va="center")
    ax.set_yticks(places, [row[0] for row in rows])
    ax.set_xlim(0.0, 1.5 * max((row[3] for row in rows), default=1.0))
    ax.set_ylim(-0.6, max(len(rows), 1) - 0.4)
    ax.set_xlabel(drawing["axis"])
    open_frame(ax)
    return ax


def water(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """Axes with the water [g] that a piece as claimed would displace, and that this one did, as bars with ranges.

    The range of the claim is that of its alloys; that of the piece is the 95 % range of its density. Without a claim
    there is one bar; for a piece that was not weighed in a liquid there is none.
    """
    return draw_water(water_drawing(s, say), ax)
