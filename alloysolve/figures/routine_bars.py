"""What a set of readings would show: a bar for each class of construction."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..advice.routine import Routine
from ..words.language import Language
from .base import DARK, LIGHT, new_axes, open_frame

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def routine(found: Routine, say: Language, ax: Axes | None = None) -> Axes:
    """Axes with horizontal bars, the commonest class on top: the share of it [percent] that the readings would show."""
    ax = ax or new_axes(6.5, 1.2 + 0.28 * len(found.classes))
    places = range(len(found.classes))[::-1]
    ax.barh(places, [100 * c.shown for c in found.classes], height=0.7, color=LIGHT, edgecolor=DARK, linewidth=0.8)
    ax.set_yticks(places, [say.say("blind", c.name) for c in found.classes])
    ax.set_xlim(0.0, 100.0)
    ax.set_xlabel(say.say("routine", "share_shown"))
    open_frame(ax)
    return ax
