"""Density against conductivity: what was read as an ellipse, what each candidate would read as crosses of bars."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...inverse.predicted import conductivity, meter, predicted_pairs
from ...inverse.solve import Solution
from ..language import Language
from .base import DARK, LIGHT, MIDDLE, new_axes, open_frame
from .candidates import named

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST = 6
ELLIPSE = 2.448  # standard deviations of two normal errors together: root of the 95 % point of chi squared, 2 degrees
HALF = 1.960  # and of one
MARKS = "osD^vP"


def density_map(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """Density against conductivity, with the 95 % ellipse of both readings.

    Each candidate is a mark with its 95 % bars: what it would read, as all other readings and common knowledge leave
    it. The claim is a box of its alloys. A reading that was not taken leaves a band in place of the ellipse.
    """
    ax = ax or new_axes(6.5, 4.2)
    found = predicted_pairs(s, MOST)
    for mark, name, (_, d, c) in zip(MARKS, named(s, [x for x, *_ in found], say), found, strict=False):
        ax.errorbar(d[0], c[0], xerr=[[d[0] - d[1]], [d[2] - d[0]]], yerr=[[c[0] - c[1]], [c[2] - c[0]]], color=MIDDLE,
                    marker=mark, markersize=6, markerfacecolor="white", markeredgecolor=DARK, linewidth=0.9,
                    linestyle="none", label=name)  # fmt: skip
    _claim(s, say, ax)
    _read(s, say, ax)
    ax.set_xlabel(say.say("page", "figure_density"))
    ax.set_ylabel(say.say("page", "figure_conductivity"))
    open_frame(ax)
    ax.legend(loc="center left", bbox_to_anchor=(1.01, 0.5), frameon=False, fontsize="small")
    return ax


def _claim(s: Solution, say: Language, ax: Axes) -> None:
    from matplotlib.patches import Rectangle

    if s.claimed is None or s.claim is None or s.claim.plated:
        return
    density, iacs = 1 / s.claimed.v, conductivity(s, s.claimed)
    box = Rectangle((density.min(), iacs.min()), np.ptp(density), np.ptp(iacs), fill=False, edgecolor=DARK,
                    linestyle="--", linewidth=1.4, label=say.say("page", "figure_claim"))  # fmt: skip
    ax.add_patch(box)


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
        middle, u = middle / 0.5800, u / 0.5800
    if d is None:
        ax.axhspan(middle - HALF * u, middle + HALF * u, color=LIGHT, linewidth=0, zorder=0, label=words)
        return
    width = (d.high - d.low) * ELLIPSE / HALF
    ax.add_patch(Ellipse(((d.low + d.high) / 2, middle), width, 2 * ELLIPSE * u, facecolor=LIGHT, edgecolor=DARK,
                         linewidth=1.2, zorder=0, label=words))  # fmt: skip
