"""What is expected before any reading, as one long table of candidates in blocks of volume and resistivity.

A solve places nodes of skin thickness and of empty space about each reading. Here they are placed once
(`nodes`), wherever a piece may read. A reading then is a product of two tabulated kernels over the blocks near it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Index
from ..integral.believed import Believed, Spans, share_below, spans_up_to
from ..integral.windows import MOST_SKIN
from ..pieces.shape import USUAL_RATIO, Form


@dataclass(frozen=True)
class Axis:
    """How the rows lie along ln(v) or ln(resistivity), by band of relative scatter.

    `begin`, `end` : of the axis. `levels` : of scatter, by band. `step` : between nodes of a kernel, by band, about a
    sixth of the least scatter. `per_block` : nodes in a block, in which rows are stored.
    """

    begin: float
    end: float
    levels: tuple[Array, ...]
    step: tuple[float, ...]
    per_block: int

    @cached_property
    def scatters(self) -> Index:
        """Number of levels of each band."""
        return np.array([len(levels) for levels in self.levels])

    @cached_property
    def size(self) -> Index:
        """Size of the part of a flat kernel that belongs to a block, by band."""
        return self.per_block * self.scatters

    @cached_property
    def blocks(self) -> int:
        """Largest number of blocks in a band."""
        return int((self.end - self.begin) / (self.per_block * min(self.step))) + 1

    def position(self, value: Array, scatter: Array) -> tuple[Index, Array, Array]:
        """Band of each row, and where it lies among the nodes and the levels of its band."""
        band = np.searchsorted([levels[0] for levels in self.levels[1:]], scatter, side="right")
        level = np.empty(len(value))
        for k, levels in enumerate(self.levels):
            mine = np.flatnonzero(band == k)
            level[mine] = np.interp(np.log(scatter[mine]), np.log(levels), np.arange(len(levels)))
        node = (np.clip(value, self.begin, self.end) - self.begin) / np.array(self.step)[band]
        return band, node, level

    def place(self, band: Index, node: Index, level: Index) -> tuple[Index, Index]:
        """Block of each row, and its place in the part of a flat kernel (nodes, levels) that belongs to the block."""
        block, rest = np.divmod(node, self.per_block)
        levels = self.scatters[band]
        return block, rest * levels + np.minimum(level, levels - 1)


def _levels(*ends: float, ratio: float) -> tuple[Array, ...]:
    return tuple(
        np.geomspace(low, high, 1 + int(np.ceil(np.log(high / low) / np.log(ratio)))) for low, high in pairwise(ends)
    )


V_AXIS = Axis(
    np.log(1 / 26.0),
    np.log(10.0),
    _levels(9e-4, 3e-3, 6.5e-3, 0.016, 0.035, 0.09, ratio=1.25),
    (2e-4, 5.5e-4, 1.1e-3, 2.8e-3, 6e-3),
    25,
)
RHO_AXIS = Axis(
    np.log(0.3), np.log(3e5), _levels(0.035, 0.08, 0.2, 0.6, 3.0, ratio=1.06), (0.006, 0.014, 0.034, 0.1), 30
)
LN_X, X_BIN = (-11.6, 0.0), 0.02  # of the bins of ln(thickness of skin over thickness of piece)
X_EDGES = int((LN_X[1] - LN_X[0]) / X_BIN) + 3  # with the two of what has no skin
# of content: close together near none and near all, where fine metal lies
PRECIOUS_BINS = np.concatenate(
    [[0.0], np.geomspace(2.5e-4, 0.02, 80), np.linspace(0.022, 0.95, 405), 1 - np.geomspace(0.048, 5e-5, 80)]
)


@dataclass(frozen=True)
class Segment:
    """Rows over some bodies, by band of scatter and in blocks of specific volume and resistivity; arrays (rows,).

    Attributes
    ----------
    kinds : what each number of `kind` stands for, without its share.
    keys, start : numbers of the blocks that hold rows (see `key_of`), and the first row of each, with one behind all.
    mass : prior share of each block, at least.
    at_v, at_rho : places in the kernels of the block. weight : prior share within its construction.
    below, above : edges of ln(thickness over that of the piece) between which a skin lies, as places in the shares of
        `skin_edges`, which stand behind each other by kind; the first two of a kind are for rows without a skin.
    magnetic : class of the body. skin_magnetic : class of a skin that is thick enough, or of a strike.
    point : of the body. precious : (2, rows) metal and bin of content, flat; 0 for none.
    """

    kinds: tuple[Believed, ...]
    keys: Index
    start: Index
    mass: Array
    at_v: NDArray[np.uint16]
    at_rho: NDArray[np.uint16]
    weight: NDArray[np.float32]
    below: NDArray[np.uint16]
    above: NDArray[np.uint16]
    magnetic: NDArray[np.int8]
    skin_magnetic: NDArray[np.int8]
    point: NDArray[np.int32]
    precious: NDArray[np.uint16]

    def kind(self, rows: Index) -> Index:
        """Construction and material of rows, (2, rows)."""
        of = np.array([[b.construction for b in self.kinds], [b.skin for b in self.kinds]], dtype=np.intp)
        return of.take(self.below.take(rows) // X_EDGES, axis=1)


def key_of(band_v: Index, band_rho: Index, block_v: Index, block_rho: Index) -> Index:
    """Number of a block, so that blocks of one band and volume follow each other by their resistivity."""
    band = band_v * len(RHO_AXIS.levels) + band_rho
    return np.asarray((band * V_AXIS.blocks + block_v) * RHO_AXIS.blocks + block_rho)


def skin_edges(kinds: Iterable[Believed], thickness_um: float) -> NDArray[np.float32]:
    """Prior share below each edge of ln(thickness over that of the piece), by kind of row; the first two: no skin."""
    step = round(float(np.log(thickness_um)) / X_BIN)
    return np.stack([_edges(b.spans if b.built.by_thickness else (), step) for b in kinds])


@lru_cache(maxsize=1024)
def _edges(spans: Spans, ln_thickness: int) -> NDArray[np.float32]:
    """`skin_edges` for a piece whose thickness is rounded to steps of its logarithm as fine as the edges."""
    thickness_um = float(np.exp(X_BIN * ln_thickness))
    form = Form("disc", (USUAL_RATIO * thickness_um / 1000, thickness_um / 1000), measured=False)
    thickest = float(form.skin_um(MOST_SKIN))
    ln_um = np.log(thickness_um) + LN_X[0] + X_BIN * np.arange(X_EDGES - 2)
    below = share_below(spans_up_to(spans, thickest), ln_um)
    return np.concatenate([[0.0, 1.0], below]).astype(np.float32)
