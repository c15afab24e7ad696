"""Three metals in a triangle, with the strip of alloys that have the density that was read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..alloys.law import mixing_law
from ..answer.solution import Solution
from ..arrays import Array
from ..errors import InputError
from ..words.language import Language
from .base import DARK, LIGHT, MIDDLE, new_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes


STEPS = 120  # of the grid, along each side
LAW = 0.005  # relative scatter of the mixing law, besides that of its pair terms
ALMOST_ALL = 97.0  # percent: published grades that hold this much of the three metals are shown
TWO_SIDED = 1.960


def ternary(s: Solution, say: Language, ax: Axes | None = None, metals: tuple[str, ...] = ()) -> Axes:
    """Axes of mass percent of three metals: alloys whose density agrees with the reading, and published grades.

    The dark strip is the 95 % range of the reading alone, and the light one that with the scatter of the mixing law;
    the line is the value as read. Only bodies are shown: no skin, no empty space.

    Parameters
    ----------
    metals : three symbols; if left out, those of the likeliest system, filled up from the next ones.
    ax : Axes of the projection "ternary" of mpltern.

    Raises
    ------
    InputError
        For metals that are not three of the tables, and for a piece without a density.
    """
    import mpltern  # noqa: F401  (registers the projection)

    three = metals or main_metals(s)
    law = mixing_law(s.tables)
    if len(set(three)) != 3 or not set(three) <= set(law.symbols):
        raise InputError("metals", ", ".join(three), "three metals of the tables", "give for example Cu, Zn and Ni")
    if s.density is None:
        raise InputError("density", "", "a piece with a density", "weigh it in water")
    ax = ax or new_axes(4.8, 4.4, projection="ternary", ternary_sum=100.0)
    percent = _grid()
    w = law.columns(three, percent)
    density = 1 / law.specific_volume(w)
    model = np.hypot(law.u_pairs(w), LAW)
    half = (s.density.high - s.density.low) / (2 * TWO_SIDED * s.density.value)
    middle = (s.density.low + s.density.high) / 2
    off = np.abs(np.log(density / middle)) / np.hypot(half, model)
    triangle: Any = ax
    scale = triangle.ternary_sum / 100
    at = scale * percent.T
    triangle.tricontourf(*at, off, levels=[0.0, TWO_SIDED], colors=[LIGHT])
    triangle.tricontourf(*at, density, levels=[s.density.low, s.density.high], colors=[MIDDLE])
    if density.min() < s.density.value < density.max():
        triangle.tricontour(*at, density, levels=[s.density.value], colors=[DARK], linewidths=1.0)
    grades = scale * _grades(s, three).T
    if grades.size:
        triangle.scatter(*grades, s=14, facecolor="white", edgecolor=DARK, linewidth=0.8, zorder=3)
    for name, metal in zip(("tlabel", "llabel", "rlabel"), three, strict=True):
        of_100 = say.say("page", "figure_percent", metal=say.metal(metal))
        getattr(triangle, f"set_{name}")(of_100 if triangle.ternary_sum == 100 else say.metal(metal))
    return ax


def main_metals(s: Solution) -> tuple[str, ...]:
    """The metals of the likeliest system other than the claim, filled up to three from the next ones and the claim."""
    systems = (s.beside_claim() if s.claim else []) or list(s.found)
    every = [m for x in systems for m in x.metals]
    claimed = [m for r in s.claim.regions for m in r.limits] if s.claim else []
    return tuple(dict.fromkeys([*every, *claimed]))[:3]


def _grid() -> Array:
    """Evenly spread compositions of three metals [percent], (points, 3)."""
    i, j = np.meshgrid(np.arange(STEPS + 1), np.arange(STEPS + 1), indexing="ij")
    keep = i + j <= STEPS
    return np.stack([i[keep], j[keep], STEPS - i[keep] - j[keep]], axis=1) * (100.0 / STEPS)


def _grades(s: Solution, three: tuple[str, ...]) -> Array:
    """Published grades of these metals, scaled to 100 percent, (grades, 3)."""
    rows = np.array([[g.composition.get(m, 0.0) for m in three] for g in s.tables.grades.values()])
    rows = rows[rows.sum(axis=1) >= ALMOST_ALL]
    return np.asarray(100 * rows / rows.sum(axis=1, keepdims=True))
