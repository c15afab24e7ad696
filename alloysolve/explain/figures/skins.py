"""How thick the skin of a plated candidate would be, against what lies under it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...inverse.posterior import System
from ...inverse.predicted import Span, skins_over_cores
from ...inverse.solve import Solution
from ..findings import body_words, skin_words
from ..language import Language
from .base import DARK, MIDDLE, new_axes, open_frame

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST = 8
LEAST_UM = 0.1  # what the scale of thickness begins with


def skin_and_core(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """Thickness of the skin [um] against the density of the core [g/cm3]: a dot with 95 % bars for each plated system.

    The density of the piece as read is a vertical line: a core to its left needs a heavier skin, one to its right a
    lighter one. Without plated candidates the axes are empty.
    """
    ax = ax or new_axes(6.5, 3.6)
    found = skins_over_cores(s, MOST)
    for (_, skin, core, um), name in zip(found, _names(s, found, say), strict=True):
        low, middle, high = (max(x, LEAST_UM) for x in (um[1], um[0], um[2]))
        ax.errorbar(core[0], middle, xerr=[[core[0] - core[1]], [core[2] - core[0]]],
                    yerr=[[middle - low], [high - middle]], color=MIDDLE, marker="o", markersize=5,
                    markerfacecolor=DARK, markeredgecolor=DARK, linewidth=1.0)  # fmt: skip
        label = say.say("page", "figure_skin", core=name, skin=skin_words(s, skin, say))
        ax.annotate(label, (core[0], high), xytext=(0, 4), textcoords="offset points", ha="center", fontsize="small")
    if s.density:
        ax.axvline(s.density.value, color=MIDDLE, linewidth=1.2, linestyle="--", zorder=0)
    ax.set_yscale("log")
    ax.set_ylim(bottom=LEAST_UM)
    ax.set_xlabel(say.say("page", "figure_core"))
    ax.set_ylabel(say.say("page", "figure_thickness"))
    open_frame(ax)
    return ax


def _names(s: Solution, found: list[tuple[System, str, Span, Span]], say: Language) -> list[str]:
    return [body_words(s, x.candidates[0].family, x.metals, say) for x, *_ in found]
