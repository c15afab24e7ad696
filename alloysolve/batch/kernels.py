"""The errors of a weighing and of a conductivity as tables, for many readings of different uncertainty.

Density and normal score of v_read - v depend on three scales: of the model m, of the weighing u and of the air b.
In units of s = hypot(u, m) two numbers are left, the angle atan(m / u) and b / s, so one table serves every piece.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Index
from ..kept import kept
from ..readings.error_model import VolumeLikelihood, mixture_pdf, mixture_score, quadrature_sum, ratio_pdf
from .table import RHO_AXIS, V_AXIS, Axis

ANGLES, AIRS, MOST_AIR = 49, 65, 0.97  # nodes of the tables; largest b / (s + b)
STEP = 0.05  # of the tables in units of s, to the right of (s + b)
REACH_PDF, REACH = 7.0, 14.0  # their half widths
STEPS = round(2 * REACH / STEP) + 1
NEAR = 7.0  # in the same units: rows further off are not looked at


@dataclass(frozen=True)
class Kernel:
    """The density of a reading at the nodes and levels near it, flat, one band behind the other.

    `first`, `last` : by band, the first block that is looked at, and that behind the last. `begin` : by band, where the
    first node of block 0 would lie. `most` : largest density in each block, one band behind the other.
    """

    density: NDArray[np.float32]
    most: NDArray[np.float32]
    first: Index
    last: Index
    begin: Index

    @classmethod
    def of(cls, axis: Axis, ends: Array, density: Callable[[int, Array], Array]) -> Kernel:
        """From the ends (bands, 2) of what is near, and a function that gives densities (nodes, levels) of a band."""
        parts, most, begin, blocks, size = [], [], [], [], 0
        for band, width in enumerate(axis.step):
            per, levels = axis.per_block, len(axis.levels[band])
            first, last = (
                np.clip((ends[band] - axis.begin) / (per * width) + [0, 1], 0, axis.blocks).astype(int).tolist()
            )
            found = density(band, axis.begin + width * np.arange(first * per, last * per)).astype(np.float32)
            parts.append(found.ravel())
            most.append(found.reshape(last - first, -1).max(axis=1))
            begin.append(size - first * per * levels)
            blocks.append((first, last))
            size += found.size
        flat, ends_of_blocks = np.concatenate(parts), np.array(blocks)
        return cls(flat, np.concatenate(most), ends_of_blocks[:, 0], ends_of_blocks[:, 1], np.array(begin))


@cache
def _table(function: Callable[..., Array], reach: float) -> Array:
    """Density times s, or normal score, (angles, airs, points); kept on disk."""
    name = function.__name__.replace("_", "-")
    return kept(name, str(reach), ("batch/kernels", "readings/error_model"), lambda: {"table": _made(function, reach)})[
        "table"
    ]


def _made(function: Callable[..., Array], reach: float) -> Array:
    y = np.linspace(-reach, reach, round(2 * reach / STEP) + 1)
    angle = np.linspace(0, np.pi / 2, ANGLES)
    out = np.empty((ANGLES, AIRS, len(y)))
    out[:, 0] = [function(y, float(np.cos(a)), np.asarray(np.sin(a)), 0.0) for a in angle]
    for k, part in enumerate(np.linspace(0, MOST_AIR, AIRS)[1:], start=1):
        b = float(part / (1 - part))
        z = np.where(y < 0, y, y * (1 + b))
        out[:, k] = function(z, np.cos(angle)[:, None], np.sin(angle)[:, None], b)
    return out


class Weighed(VolumeLikelihood):
    """A density reading whose densities and scores come from tables that serve every reading."""

    def _curves(self, t: Array, model: Array) -> tuple[Array, Array, Array]:
        """Curves (models, points) of a table, with the scales s and b / s of each."""
        s = np.hypot(self.u, model)
        air = self.bubble / s
        i, f = _cell(np.arctan2(model, self.u) / (np.pi / 2) * (ANGLES - 1), ANGLES)
        k, g = _cell(air / (1 + air) / MOST_AIR * (AIRS - 1), AIRS)
        f, g = f[:, None], g[:, None]
        curve = (1 - f) * ((1 - g) * t[i, k] + g * t[i, k + 1]) + f * ((1 - g) * t[i + 1, k] + g * t[i + 1, k + 1])
        return curve, s, air

    def score(self, v: Array, relative: Array) -> Array:
        """Normal score of the reading for predicted `v` with relative model scatter."""
        return self._scored(self.v - v, np.asarray(relative) * v)

    def score_away(self, r: Array, model: float) -> Array:
        """Normal score of residuals [cm3/g] that share one model scatter [cm3/g]."""
        return self._scored(r, np.full(len(r), model))

    def _scored(self, r: Array, model: Array) -> Array:
        """Normal score of residuals (n,) under model scatters (n,) [cm3/g]."""
        s = quadrature_sum(self.u, model)
        air, z = self.bubble / s, r / s
        i, f = _cell(np.arctan2(model, self.u) / (np.pi / 2) * (ANGLES - 1), ANGLES)
        k, g = _cell(air / (1 + air) / MOST_AIR * (AIRS - 1), AIRS)
        y = (np.where(z < 0, z, z / (1 + air)) + REACH) / STEP
        m = np.clip(y.astype(np.intp), 0, STEPS - 2)
        h = y - m  # beyond the ends of the table the last step is continued
        flat, at = _table(mixture_score, REACH).ravel(), (i * AIRS + k) * STEPS + m

        def along(corner: int) -> Array:
            return flat.take(at + corner) * (1 - h) + flat.take(at + corner + 1) * h

        near, far = AIRS * STEPS, STEPS
        return np.asarray(
            (1 - f) * ((1 - g) * along(0) + g * along(far)) + f * ((1 - g) * along(near) + g * along(near + far))
        )

    def kernel(self) -> Kernel:
        """Density [g/cm3] of this reading along `V_AXIS`."""
        levels = np.concatenate(V_AXIS.levels)
        curve, s, air = self._curves(_table(mixture_pdf, REACH_PDF), levels * self.v)
        behind = np.cumsum([len(levels) for levels in V_AXIS.levels])
        widest = s[behind - 1]
        low, high = self.v - NEAR * (widest + self.bubble), self.v + NEAR * widest
        ends = np.log(np.stack([np.maximum(low, 1e-2 * self.v), high], axis=1))

        def density(band: int, ln_v: Array) -> Array:
            mine = slice(behind[band] - len(V_AXIS.levels[band]), behind[band])
            z = (self.v - np.exp(ln_v)) / s[mine, None]
            return (_looked_up(curve[mine], z, air[mine]) / s[mine, None]).T

        return Kernel.of(V_AXIS, ends, density)


def _cell(position: Array, size: int) -> tuple[Index, Array]:
    k = np.clip(position.astype(np.intp), 0, size - 2)
    return k, np.clip(position - k, 0.0, 1.0)


def _looked_up(curve: Array, z: Array, air: Array) -> Array:
    """Values of curves (models, points) at residuals `z` in units of s (models, n); at their ends beyond."""
    y = np.where(z < 0, z, z / (1 + air[:, None]))
    steps = curve.shape[1]
    position = np.minimum(np.maximum(y / STEP + (steps - 1) / 2, 0), steps - 1.001)
    k = position.astype(np.intp)
    f = position - k
    flat = curve.ravel()
    k += np.arange(len(curve))[:, None] * steps
    return np.asarray(flat[k] * (1 - f) + flat[k + 1] * f)


def ratio_kernel(ln_read: float, u: float) -> Kernel:
    """Density of ln(read / predicted) along `RHO_AXIS`; `u` : of the reading."""
    reach = np.array([NEAR * np.hypot(u, levels[-1]) for levels in RHO_AXIS.levels])
    ends = np.stack([ln_read - reach, ln_read + reach], axis=1)

    def density(band: int, ln_rho: Array) -> Array:
        levels = _ratio_levels(band, u)  # at whole distances; in between it is linear
        away = np.abs(ln_rho - ln_read) / RHO_AXIS.step[band]
        k, f = _cell(away, len(levels))
        return levels[k] * (1 - f)[:, None] + levels[k + 1] * f[:, None]

    return Kernel.of(RHO_AXIS, ends, density)


@lru_cache(maxsize=256)
def _ratio_levels(band: int, u: float) -> NDArray[np.float32]:
    """Density of ln(read / predicted) (distances in widths of the band, levels); it is the same on both sides."""
    levels, width = RHO_AXIS.levels[band], RHO_AXIS.step[band]
    far = NEAR * float(np.hypot(u, levels[-1])) + RHO_AXIS.per_block * width
    r = width * np.arange(int(far / width) + 2)[:, None]
    return ratio_pdf(
        np.broadcast_to(r, (len(r), len(levels))), u, np.broadcast_to(levels, (len(r), len(levels)))
    ).astype(np.float32)
