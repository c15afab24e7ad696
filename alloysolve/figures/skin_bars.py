"""Thickness of the skin of each plated candidate, against what lies under it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..answer.predicted import skins_over_cores
from ..answer.solution import Solution
from ..words.language import Language
from ..words.names import Names, part_words
from .base import MARKS, MIDDLE, cross, legend_beside, new_axes, open_frame
from .candidate_bars import bodies_named

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST = 8
LEAST_UM = 0.1  # where the scale of thickness begins


def skin_and_core(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """Axes of skin thickness [um] against density of the core [g/cm3]: a dot with 95 % bars for each plated system.

    The density of the piece as read is a vertical line: a core to its left needs a heavier skin, one to its right a
    lighter one. Without plated candidates the axes are empty.
    """
    ax = ax or new_axes(6.5, 3.6)
    found = skins_over_cores(s, MOST)
    naming = Names.of_tables(s.tables, s.claim)
    names = bodies_named(s, [x for x, *_ in found], say)
    for mark, body, (_, skin, core, um) in zip(MARKS, names, found, strict=False):
        name = say.say("page", "figure_skin", core=body, skin=part_words(naming, skin, say))
        cross(ax, core, (max(um[0], LEAST_UM), max(um[1], LEAST_UM), max(um[2], LEAST_UM)), mark, name)
    if s.density:
        ax.axvline(s.density.value, color=MIDDLE, linewidth=1.2, linestyle="--", zorder=0)
    ax.set_yscale("log")
    ax.set_ylim(bottom=LEAST_UM)
    ax.set_xlabel(say.say("page", "figure_core"))
    ax.set_ylabel(say.say("page", "figure_thickness"))
    open_frame(ax)
    legend_beside(ax)
    return ax
