"""Cells: pairs of a body and a material, each with a stretch of the free parameter and the most that it can weigh.

The integral over the free parameter is taken where it can matter. A cell is a stretch of ln(parameter) of one pair.
Every reading says how likely it can be at most anywhere in it. Cells that together hold next to nothing are left out,
the others are split, until the weight changes little from one cell to the next. What is left is integrated.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from ..arrays import Array, Index, Mask

LEVELLED = 5  # times that this level is lowered by what lies above it: 60 001 cells were left for 60 000


@dataclass(frozen=True)
class Cells:
    """Arrays over cells.

    Attributes
    ----------
    construction, point, skin : as in `candidates.Candidates`. each : prior share per unit of ln(parameter).
    low, high : ends of ln(parameter). most : the most prior times likelihood that the cell can hold.
    """

    construction: Index
    point: Index
    skin: Index
    each: Array
    low: Array
    high: Array
    most: Array

    def some(self, rows: Index | Mask) -> Cells:
        """Some of the cells."""
        return Cells(*(getattr(self, f.name)[rows] for f in fields(self)))

    def __len__(self) -> int:
        return len(self.point)

    def repeated(self, parts: int) -> Cells:
        """Each cell cut into equal parts, one after the other; `most` is left as it is."""
        if parts == 1:
            return self
        construction, point, skin = (np.repeat(x, parts) for x in (self.construction, self.point, self.skin))
        each, most = np.repeat(self.each, parts), np.repeat(self.most, parts)
        edges = self.edges(parts)
        return Cells(construction, point, skin, each, edges[:, :-1].ravel(), edges[:, 1:].ravel(), most)

    def edges(self, parts: int) -> Array:
        """ln(parameter) at the ends of equal parts of each cell, (cells, parts + 1)."""
        return np.asarray(self.low[:, None] + (self.high - self.low)[:, None] * np.linspace(0, 1, parts + 1))


def joined_cells(parts: list[Cells]) -> Cells:
    """Several sets of cells joined into one."""
    if not parts:
        none = np.zeros(0)
        return Cells(*(none.astype(np.intp),) * 3, *(none,) * 4)
    return Cells(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Cells)))


def weighty(most: Array, left_out: float) -> Mask:
    """All but the lightest, which together hold no more than `left_out`.

    Weights are gathered by powers of 2, which is faster than sorting them and keeps at most twice as many.
    """
    if left_out <= 0 or not len(most):
        return most > 0
    power = np.frexp(most)[1]
    first = int(power.min())
    held = np.cumsum(np.bincount(power - first, most))
    return np.asarray((power - first >= np.searchsorted(held, left_out, side="right")) & (most > 0))


def few_of(held: Array, count: int) -> float:
    """What a cell has to hold to stand for itself alone, so that about `count` of them are left by `thinned`."""
    few = float(held.sum()) / count
    for _ in range(LEVELLED):
        light = held < few
        few = float(held[light].sum()) / max(count - int(np.count_nonzero(~light)), 1)
    return few


def thinned(cells: Cells, held: Array, few: float) -> tuple[Cells, Index]:
    """Cells with only some of those that hold less than `few`, and which of the cells they are.

    `held` : about what each holds.
    """
    kept, times = some_for_all(held, few)
    if len(kept) == len(cells):
        return cells, kept
    cells = cells.some(kept)
    return replace(cells, each=cells.each * times, most=cells.most * times), kept


def some_for_all(held: Array, few: float) -> tuple[Index, Array]:
    """Places of all that hold at least `few` and of some of the others, and for how many of its like each stands.

    Of those that hold less, one is taken each time that what they hold, added up, has grown by what the fullest of them
    holds, and stands for its neighbours. So every stretch of bodies and parameters keeps its share.
    """
    light = held < few
    at = np.flatnonzero(light)
    fullest = float(held[at].max(initial=0.0))
    if fullest <= 0:
        return np.arange(len(held)), np.ones(len(held))
    passed = np.floor(np.cumsum(held[at]) / fullest)
    taken = at[np.diff(passed, prepend=0.0) > 0]
    light[taken] = False
    kept = np.flatnonzero(~light)
    return kept, np.maximum(np.where(held[kept] < few, fullest / held[kept], 1.0), 1.0)
