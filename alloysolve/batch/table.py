"""What is expected before any reading, as one long table of candidates in blocks of volume and resistivity.

A full solve places nodes of skin thickness and of empty space about each reading. Here they are placed once
(`nodes`), wherever a piece may read. A reading then is a product of two tabulated kernels over the blocks near it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Index, Mask
from ..integral.believed import Believed, Spans, share_below, spans_up_to
from ..integral.windows import MOST_SKIN
from ..pieces.shape import USUAL_RATIO, Form

LN_V, LN_RHO = np.log(1 / 26.0), np.log(0.3)  # where the blocks of ln(v) and of ln(resistivity) begin


@dataclass(frozen=True)
class Axis:
    """How the rows lie along ln(v) or ln(resistivity), by band of relative scatter.

    `begin`, `block`, `blocks` : of the blocks in which rows are stored. `levels` : of scatter, by band.
    `per_block` : nodes of a kernel in a block, by band.
    """

    begin: float
    block: float
    blocks: int
    levels: tuple[Array, ...]
    per_block: tuple[int, ...]

    @cached_property
    def size(self) -> Index:
        """Size of the part of a flat kernel that belongs to a block, by band."""
        return np.array([per * len(levels) for per, levels in zip(self.per_block, self.levels, strict=True)])

    def width(self, band: int) -> float:
        """Distance of two nodes of a kernel."""
        return self.block / self.per_block[band]

    def position(self, value: Array, scatter: Array) -> tuple[Index, Array, Array]:
        """Band of each row, and where it lies among the nodes and the levels of its band."""
        band = np.searchsorted([levels[0] for levels in self.levels[1:]], scatter, side="right")
        level = np.empty(len(value))
        for k, levels in enumerate(self.levels):
            mine = np.flatnonzero(band == k)
            level[mine] = np.interp(np.log(scatter[mine]), np.log(levels), np.arange(len(levels)))
        return band, (value - self.begin) / self.block * np.array(self.per_block)[band], level

    def place(self, band: Index, node: Array, level: Array) -> tuple[Index, Index]:
        """Block of each row, and its place in the part of a flat kernel (nodes, levels) that belongs to the block."""
        nodes, levels = np.array(self.per_block)[band], np.array([len(levels) for levels in self.levels])[band]
        block, rest = np.divmod(np.clip(node.astype(np.intp), 0, self.blocks * nodes - 1), nodes)
        return block, rest * levels + np.minimum(level.astype(np.intp), levels - 1)

    def node(self, band: int, block: NDArray[Any], place: NDArray[Any]) -> NDArray[Any]:
        """Node of each row of a band, counted from the first of block 0."""
        return np.asarray(block * self.per_block[band] + place // len(self.levels[band]))


def _levels(*ends: float, ratio: float) -> tuple[Array, ...]:
    return tuple(
        np.geomspace(low, high, 1 + int(np.ceil(np.log(high / low) / np.log(ratio)))) for low, high in pairwise(ends)
    )


V_AXIS = Axis(LN_V, 0.01, 556, _levels(9e-4, 3e-3, 6.5e-3, 0.016, 0.035, 0.09, ratio=1.25), (50, 40, 20, 10, 5))
RHO_AXIS = Axis(LN_RHO, 0.12, 116, _levels(0.035, 0.08, 0.2, 0.6, 3.0, ratio=1.06), (30, 15, 6, 3))
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

    def inserted(self, rows: Index) -> Mask:
        """Which rows have another metal inside or joined on."""
        of_kind = np.array([b.built.inserted for b in self.kinds])
        return of_kind.take(self.below.take(rows) // X_EDGES) if of_kind.any() else np.zeros(len(rows), dtype=bool)


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
