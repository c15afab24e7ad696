"""Water that a piece as claimed would displace, and that this one did."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..answer.document import Document
from ..answer.solution import Solution
from ..words.language import Language
from ..words.names import noun, water_words
from ..words.numbers import grams
from .base import DARK, LIGHT, new_axes, open_frame

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SIZE = (4.6, 1.9)


@dataclass(frozen=True, slots=True)
class WaterDrawing:
    """What `draw_water` draws: rows of name, value, low and high [g], whether it was read, the range in words."""

    rows: tuple[tuple[str, float, float, float, bool, str], ...]
    axis: str


def pushed_aside(d: Document) -> tuple[float, float, float] | None:
    """Liquid displaced as read, and its 95 % range [g]; None for a piece that was not weighed in a liquid."""
    w = d.density
    if w is None or w.displaced_g is None:
        return None
    return w.displaced_g, w.displaced_g * w.value / w.high, w.displaced_g * w.value / w.low


def water_drawing(d: Document, say: Language) -> WaterDrawing:
    """Water as claimed and as read."""
    rows = []
    if d.claim and d.claim.would_displace_g and not d.claim.plated:
        low, high = d.claim.would_displace_g
        words = say.number(water_words(low, high, say))
        rows.append((say.say("page", "figure_claim"), (low + high) / 2, low, high, False, words))
    if (mine := pushed_aside(d)) is not None:
        rows.append((say.say("page", "figure_this", piece=noun(d, say)), *mine, True, say.number(grams(mine[0]))))
    return WaterDrawing(tuple(rows), say.say("page", "figure_grams"))


def draw_water(drawing: WaterDrawing, ax: Axes | None = None) -> Axes:
    """Two bars with their ranges."""
    ax = ax or new_axes(*SIZE)
    rows = drawing.rows
    places = range(len(rows))[::-1]
    for y, (_, value, low, high, read, words) in zip(places, rows, strict=True):
        ax.barh(y, value, height=0.55, color=LIGHT if read else "white", edgecolor=DARK, linewidth=0.8)
        ax.errorbar(value, y, xerr=[[value - low], [high - value]], color=DARK, capsize=5, linewidth=1.4)
        ax.annotate(words, (high, y), xytext=(6, 0), textcoords="offset points", va="center")
    ax.set_yticks(places, [row[0] for row in rows])
    ax.set_xlim(0.0, 1.5 * max((row[3] for row in rows), default=1.0))
    ax.set_ylim(-0.6, max(len(rows), 1) - 0.4)
    ax.set_xlabel(drawing.axis)
    open_frame(ax)
    return ax


def water(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """Axes with the water [g] that a piece as claimed would displace, and that this one did, as bars with ranges.

    The range of the claim is that of its alloys; that of the piece is the 95 % range of its density. Without a claim
    there is one bar; for a piece that was not weighed in a liquid there is none.
    """
    return draw_water(water_drawing(s.document, say), ax)
