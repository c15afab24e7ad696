"""The rows of a table near a reading, with prior times likelihood."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Index
from ..readings.magnet import ObservedMagnet, felt
from .kernels import Kernel
from .reading import RowReading
from .table import LN_X, RHO_AXIS, V_AXIS, X_BIN, X_EDGES, Segment, key_of, skin_edges

BLOCKS_LEFT_OUT = 5e-7  # share of the most that all blocks can hold below which a block is left out
LEFT_OUT = 2e-4  # share of the mean weight of the rows at hand below which a row is left out


def near(part: Segment, share: Array, by_v: Kernel, by_rho: Kernel | None, r: RowReading) -> tuple[Index, Array]:
    """Rows of a table near a reading, with prior times likelihood; those too light to matter are left out."""
    rows, likelihood = _likely(part, by_v, by_rho)
    edges = (share[:, None] * skin_edges(part.kinds, r.thickness_um)).ravel()
    weight = likelihood * (edges.take(part.above.take(rows)) - edges.take(part.below.take(rows)))
    if r.magnet is not None:
        weight *= _answering(part, rows, r.magnet, r.thickness_um)
    kept = np.flatnonzero(weight > LEFT_OUT * weight.mean()) if len(rows) else rows
    return rows.take(kept), weight.take(kept)


def _likely(part: Segment, by_v: Kernel, by_rho: Kernel | None) -> tuple[Index, NDArray[np.float32]]:
    """Rows in the blocks near a reading, with their likelihood times their share of their construction."""
    size = by_v.last - by_v.first
    band_v = np.repeat(np.arange(len(size)), size)
    block_v = _ranges_of(by_v.first, size)
    at_v = by_v.begin[band_v] + block_v * V_AXIS.size[band_v]
    band_rho = np.arange(len(RHO_AXIS.levels))[:, None]
    first, last = (by_rho.first, by_rho.last) if by_rho else (0 * band_rho[:, 0], 0 * band_rho[:, 0] + RHO_AXIS.blocks)
    low, high = (key_of(band_v, band_rho, block_v, x[:, None]).ravel() for x in (first, last))
    begin, end = np.searchsorted(part.keys, low), np.searchsorted(part.keys, high)
    blocks = _ranges_of(begin, end - begin)
    at_v, most = (np.repeat(np.tile(x, len(band_rho)), end - begin) for x in (at_v, by_v.most))
    most = most * part.mass.take(blocks)
    if by_rho is not None:
        of_rho, block_rho = (
            np.repeat(np.repeat(band_rho[:, 0], len(band_v)), end - begin),
            part.keys.take(blocks) % RHO_AXIS.blocks,
        )
        at_rho = by_rho.begin.take(of_rho) + block_rho * RHO_AXIS.size.take(of_rho)
        size = by_rho.last - by_rho.first
        most = most * by_rho.most.take((np.cumsum(size) - size - by_rho.first).take(of_rho) + block_rho)
    kept = np.flatnonzero(most > BLOCKS_LEFT_OUT * most.sum())
    blocks = blocks.take(kept)
    first = part.start.take(blocks)
    size = part.start.take(blocks + 1) - first
    rows = _ranges_of(first, size)
    weight = by_v.density.take(np.repeat(at_v.take(kept), size) + part.at_v.take(rows)) * part.weight.take(rows)
    if by_rho is not None:
        weight *= by_rho.density.take(np.repeat(at_rho.take(kept), size) + part.at_rho.take(rows))
    kept = np.flatnonzero(weight > LEFT_OUT * weight.mean()) if len(rows) else rows
    return rows.take(kept), weight.take(kept)


def _ranges_of(begin: Index, size: Index) -> Index:
    """The numbers of several ranges, one behind the other."""
    behind = np.cumsum(size)
    total = int(behind[-1]) if len(size) else 0
    return np.arange(total) + np.repeat(begin - behind + size, size)


def _answering(part: Segment, rows: Index, magnet: ObservedMagnet, thickness_um: float) -> NDArray[np.float32]:
    """Share of such rows whose magnet answer would be the one that was read; a thin skin is not felt."""
    shares = magnet.shares[:, magnet.answer].astype(np.float32)
    out = shares.take(part.magnetic.take(rows))
    skin = np.flatnonzero(part.skin_magnetic.take(rows))
    if len(skin):
        row = rows[skin]
        middle = (part.below[row] % X_EDGES + part.above[row] % X_EDGES) / 2 - 2
        um = thickness_um * np.exp(LN_X[0] + X_BIN * middle)
        out[skin] = shares[np.maximum(felt(part.skin_magnetic[row], um), part.magnetic[row])]
    return out
