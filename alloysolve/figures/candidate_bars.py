"""The density that each candidate would have, beside the density that was read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..answer.collect import system_data
from ..answer.predicted import predicted_densities
from ..answer.rows import layer_of
from ..answer.solution import Solution
from ..inference.systems import System
from ..words.language import Language
from ..words.names import Names, body_words, layer_phrase
from .base import LIGHT, MIDDLE, dots, new_axes, open_frame

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_ROWS = 10


def bodies_named(s: Solution, systems: list[System], say: Language) -> list[str]:
    """Names of the bodies of systems, no two of them the same."""
    names: list[str] = []
    naming = Names.of_tables(s.tables, s.claim)
    for x in systems:
        name = body_words(naming, x.constructions[0].family, x.metals, say)
        names.append("-".join(say.metal(m) for m in x.metals) if name in names else name)
    return names


def named(s: Solution, systems: list[System], say: Language) -> list[str]:
    """Names of systems, with what lies on or in them."""
    naming = Names.of_tables(s.tables, s.claim)
    layers = (layer_phrase(layer_of(system_data(x).constructions), naming, say, plain=True) for x in systems)
    return [name + layer for name, layer in zip(bodies_named(s, systems, say), layers, strict=True)]


def candidates(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """Axes with the density that each candidate, and the claim, would have; what was read is a vertical line.

    Dots and 95 % bars come from all readings except the density itself, and from what such pieces usually are. So they
    are predictions, which the line may meet or miss. The band about the line is the 95 % range of what was read.
    """
    ax = ax or new_axes(6.5, 3.2)
    rows = []
    if s.claim and s.advice.claim_density and not s.claim.plated:
        low, high = s.advice.claim_density
        rows.append((say.say("page", "figure_claim"), (low + high) / 2, low, high))
    found = predicted_densities(s, MOST_ROWS - len(rows))
    rows += [(name, *span) for name, (_, span) in zip(named(s, [x for x, _ in found], say), found, strict=True)]
    dots(ax, rows)
    if s.density:
        ax.axvspan(s.density.low, s.density.high, color=LIGHT, linewidth=0, zorder=0)
        ax.axvline(s.density.value, color=MIDDLE, linewidth=1.2, zorder=1)
        ax.annotate(
            say.say("page", "figure_read"),
            (s.density.value, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, 3),
            textcoords="offset points",
            ha="center",
        )
    ax.set_xlabel(say.say("page", "figure_density"))
    open_frame(ax)
    return ax
