"""Lines of an X-ray reading through a skin, for pairs of a skin and what lies below it, at several thicknesses."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ...arrays import Array, Index, Mask

NOTHING = 1e-12  # least sum of intensities, for surfaces of which no line is seen


@dataclass(frozen=True)
class Through:
    """Intensities ``skin + passed x extra`` of every line, as the instrument counts them.

    Attributes
    ----------
    skin : of the thick skin, (pairs, lines). extra : what is below a skin less the skin, (pairs, lines). passed : share
        that passes the skin, (pairs, steps, lines); one row serves all pairs where they have the same skin at the same
        thicknesses. change : of it with ln(thickness).
    """

    skin: Array
    extra: Array
    passed: Array
    change: Array

    @cached_property
    def total(self) -> Array:
        """Sum over all lines, (pairs, steps)."""
        return np.asarray(np.maximum(self.skin.sum(axis=1)[:, None] + _sum(self.passed, self.extra), NOTHING))

    @cached_property
    def total_change(self) -> Array:
        """Change of the sum with ln(thickness), (pairs, steps)."""
        return _sum(self.change, self.extra)

    @cached_property
    def present(self) -> Mask:
        """Whether a line comes from the skin or from below it, (pairs, lines)."""
        return np.asarray((self.skin > 0) | (self.extra != 0))

    @cached_property
    def both(self) -> Mask:
        """Whether a line comes from both, (pairs, lines)."""
        return np.asarray((self.skin > 0) & (self.skin + self.extra > 1e-9 * self.skin))

    def printed(self, line: int | Index, rows: Index) -> tuple[Array, Array]:
        """Printed share of one line, or of one for each row, and its change with ln(thickness) [percent].

        Both are (rows, steps).
        """
        shared = len(self.passed) == 1
        passed, change = (x[0 * rows if shared else rows, :, line] for x in (self.passed, self.change))
        extra, scale = self.extra[rows, line][:, None], 100 / self.total[rows]
        p = (self.skin[rows, line][:, None] + passed * extra) * scale
        return p, change * extra * scale - p * self.total_change[rows] * (scale / 100)

    def of_skin(self, own: Mask) -> Array:
        """Share printed of some of the lines together, those that each skin has itself, (pairs, steps)."""
        part = np.where(own, self.skin, 0.0).sum(axis=1)[:, None] + _sum(self.passed, np.where(own, self.extra, 0.0))
        return np.asarray(part / self.total)


def _sum(each: Array, extra: Array) -> Array:
    """Sum over lines of ``each x extra``, (pairs, steps)."""
    if not each.any():
        return np.zeros((len(extra), each.shape[1]))
    return np.asarray(extra @ each[0].T if len(each) == 1 else np.matmul(each, extra[:, :, None])[:, :, 0])
