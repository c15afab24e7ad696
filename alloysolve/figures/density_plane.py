"""Density against conductivity: an ellipse for what was read, crosses for what each candidate would read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..answer.predicted import conductivity, meter, predicted_pairs
from ..answer.solution import Solution
from ..units import IACS_MS_M
from ..words.language import Language
from .base import DARK, LIGHT, MARKS, cross, legend_beside, new_axes, open_frame
from .candidate_bars import named

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST = 6
ELLIPSE = 2.448  # standard deviations for two normal errors: root of the 95 % point of chi squared, 2 degrees
HALF = 1.960  # and for one normal error


def density_map(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """Axes of density against conductivity, with the 95 % ellipse of both readings.

    Each candidate is a mark with 95 % bars: what it would read, given all other readings and what such pieces usually
    are. The claim is a mark with the range of its alloys. If a reading was not taken, a band takes the place of the
    ellipse.
    """
    ax = ax or new_axes(6.5, 4.2)
    found = predicted_pairs(s, MOST)
    for mark, name, (_, d, c) in zip(MARKS, named(s, [x for x, *_ in found], say), found, strict=False):
        cross(ax, d, c, mark, name)
    _claim(s, say, ax)
    _read(s, say, ax)
    ax.set_xlabel(say.say("page", "figure_density"))
    ax.set_ylabel(say.say("page", "figure_conductivity"))
    open_frame(ax)
    legend_beside(ax)
    return ax


def _claim(s: Solution, say: Language, ax: Axes) -> None:
    if s.claimed is None or s.claim is None or s.claim.plated:
        return
    density, iacs = 1 / s.claimed.v, conductivity(s, s.claimed)
    x, y = ((float(np.median(v)), float(v.min()), float(v.max())) for v in (density, iacs))
    cross(ax, x, y, "*", say.say("page", "figure_claim"))


def _read(s: Solution, say: Language, ax: Axes) -> None:
    from matplotlib.patches import Ellipse

    d, found, words = s.density, meter(s), say.say("page", "figure_read")
    if found is None:
        if d:
            ax.axvspan(d.low, d.high, color=LIGHT, linewidth=0, zorder=0, label=words)
        return
    read = found.measured()
    middle, u = float(read["value"]), float(read["u"])
    if read["unit"] != "%IACS":
        middle, u = (100 * x / IACS_MS_M for x in (middle, u))
    if d is None:
        ax.axhspan(middle - HALF * u, middle + HALF * u, color=LIGHT, linewidth=0, zorder=0, label=words)
        return
    width = (d.high - d.low) * ELLIPSE / HALF
    ax.add_patch(
        Ellipse(
            ((d.low + d.high) / 2, middle),
            width,
            2 * ELLIPSE * u,
            facecolor=LIGHT,
            edgecolor=DARK,
            linewidth=1.2,
            zorder=0,
            label=words,
        )
    )
