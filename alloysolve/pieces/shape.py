"""The shape of a piece: how much of it lies within a layer, and how thick it is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from ..physics.geometry import skin_volume_share

USUAL_RATIO = 13.0  # diameter over thickness of a coin whose dimensions nobody measured (common practice, no source)
USUAL_VOLUME = 1000.0  # mm3, if nothing was weighed either
FACES = {"bar": 2, "disc": 1, "rod": 0, "sphere": 0, "ring": 2, "tube": None}  # the length through which a meter looks
# share of the plain shape that is metal: lowest (2.5 %), median, highest (97.5 %)
FILL = {
    "disc": (0.62, 0.80, 0.97),  # of the cylinder over the rim: coins of coins.csv, by mass and density of their metal
    "bar": (0.93, 0.98, 1.0),  # rounded edges, sunk lettering; this and the following: judgement, no source
    "ring": (0.70, 0.88, 1.0),  # domed profiles
    "rod": (0.95, 0.99, 1.0),
    "tube": (0.95, 0.99, 1.0),
    "sphere": (0.95, 0.99, 1.0),
}
CAST_BAR = 0.85  # lowest share of a bar that was cast, with round edges and sloping sides (judgement, no source)
STANDS_OUT = ("ring",)  # shapes of which a head or a stone setting may stand out
EDGES_UM = np.geomspace(0.005, 20000.0, 500)
STEPS = 2000  # of the logarithm of a share, over which thicknesses are looked up


def usual_fill(shape: str) -> tuple[float, float, float]:
    """Share of its outline that a weighed piece fills: lowest, median, highest; bars may be cast, and medals flat.

    A density from callipers alone takes the narrower `FILL` of struck bars and coins: those are what is sealed.
    """
    low, middle, _ = FILL[shape]
    return (CAST_BAR if shape == "bar" else low), middle, 1.0


@dataclass(frozen=True)
class Form:
    """Shape and lengths [mm] of a piece.

    Attributes
    ----------
    shape : "bar", "disc", "ring", "rod", "sphere" or "tube". sizes : its lengths, in the order of the schema.
    measured : whether these were measured; otherwise the usual proportions are taken. mass_g : of one piece, or None.
    """

    shape: str
    sizes: tuple[float, ...]
    measured: bool = True
    mass_g: float | None = None

    def skin_share(self, um: ArrayLike) -> Array:
        """Share of the volume within `um` of the surface."""
        return skin_volume_share(self.shape, self.sizes, np.asarray(um, dtype=float) / 1000)

    @cached_property
    def _shares(self) -> Array:
        return np.asarray(np.maximum.accumulate(self.skin_share(EDGES_UM)))

    def skin_um(self, share: ArrayLike) -> Array:
        """Thickness [um] of a layer all over that has a share of the volume: the inverse of `skin_share`."""
        return np.asarray(np.interp(np.asarray(share, dtype=float), self._shares, EDGES_UM))

    def ln_um(self, share: Array) -> Array:
        """Logarithm of `skin_um`, looked up on even steps of the logarithm of the share; within 1e-4 of it."""
        first, step, table = self._ln_um
        at = np.clip((np.log(np.maximum(share, 1e-12)) - first) / step, 0, STEPS - 1.001)
        below = at.astype(np.intp)
        low = table.take(below)
        return np.asarray(low + (at - below) * (table.take(below + 1) - low))

    @cached_property
    def _ln_um(self) -> tuple[float, float, Array]:
        """First logarithm of a share, step, and logarithms of the thickness."""
        some = np.append(True, np.diff(self._shares) > 0)
        known = np.log(self._shares[some])
        at = np.linspace(known[0], known[-1], STEPS)
        return float(known[0]), float(at[1] - at[0]), np.interp(at, known, np.log(EDGES_UM[some]))

    @property
    def thickness_um(self) -> float:
        """Thickness [um] through which a meter on a face looks."""
        place = FACES[self.shape]
        if place is None:  # the wall of a tube
            return 500.0 * (self.sizes[0] - self.sizes[1])
        if self.shape == "ring":
            return 1000.0 * min(self.sizes[2], (self.sizes[0] - self.sizes[1]) / 2)
        return 1000.0 * self.sizes[place]
