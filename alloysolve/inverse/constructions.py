"""Constructions: bodies bare, under a skin, or with hollow space, weighed against the readings.

Every row of the result is one body with one value of the free parameter (skin thickness, void share), its
prior share and its likelihood. The free parameter is integrated on a quadrature local to each body: only
over the values that the density reading allows, so that a narrow peak is never stepped over.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .bodies import Bodies
from .likelihood import VolumeLikelihood, resistivity_pdf

Array = NDArray[np.float64]
Index = NDArray[np.intp]

HOMOGENEOUS, PLATED, HOLLOW, OTHER = 0, 1, 2, 3
CONSTRUCTIONS = ("homogeneous", "plated", "hollow or porous", "something else")

# thickness of a skin: shares and bounds [um] of log-uniform parts; electroplate, then foil, clad or cast
# shell (common practice, no source)
SKIN_PARTS = ((0.8, 0.1, 40.0), (0.2, 40.0, 2000.0))
MOST_SKIN = 0.9  # share of the volume; beyond it there is no body left to speak of
VOID_PART = (1.0, 0.005, 0.75)  # void share of a hollow or porous piece, log-uniform (judgement)
LITTLE = 0.003  # relative change of conductivity by a skin that no meter sees
NODES = 14  # of the free parameter, half of them on each side of its best value
ROWS_DOWN_TO = 1e-6  # rows below this share of the largest are dropped
OTHER_DENSITY = 1 / np.log(25 / 0.5)  # per unit of ln(density), even over 0.5 to 25 g/cm3
OTHER_RESISTIVITY = 1 / np.log(200 / 1.5)  # per unit of ln(resistivity), even over 1.5 to 200 uohm cm
OTHER_MAGNET = {"none": 0.80, "weak": 0.08, "strong": 0.12}


@dataclass(frozen=True)
class Evidence:
    """The readings in the form the likelihoods want them.

    Attributes
    ----------
    volume : the density reading, if any. resistivity : (read [uohm cm], relative u) of whole-piece readings.
    magnet : "none", "weak", "strong" or "". skin_share : volume share of a skin of thickness t [um].
    """

    volume: VolumeLikelihood | None
    resistivity: tuple[tuple[float, float], ...]
    magnet: str
    magnet_table: dict[str, tuple[float, float, float]]
    skin_share: Callable[[Array], Array]

    @property
    def mean_resistivity(self) -> tuple[float, float]:
        """Geometric mean of the whole-piece readings [uohm cm] with its relative u: they share the model's scatter."""
        logs = [np.log(read) for read, _ in self.resistivity]
        u = float(np.sqrt(sum(u**2 for _, u in self.resistivity)) / len(self.resistivity))
        return float(np.exp(np.mean(logs))), u

    def electric_likelihood(self, bodies: Bodies) -> Array:
        """Likelihood of the whole-piece conductivity per bare body."""
        if not self.resistivity:
            return np.ones(len(bodies.v))
        return resistivity_pdf(*self.mean_resistivity, bodies.resistivity, bodies.u_resistivity)

    def magnet_likelihood(self, bodies: Bodies) -> Array:
        """Likelihood of the answer to a magnet per body."""
        if not self.magnet:
            return np.ones(len(bodies.v))
        column = ("none", "weak", "strong").index(self.magnet)
        table = np.array([self.magnet_table[name][column] for name in ("none", "slight", "strong")])
        return np.asarray(table[bodies.magnetic])

    def other_likelihood(self) -> float:
        """Likelihood of "something else": broad and independent over the same readings."""
        out = OTHER_DENSITY / self.volume.v if self.volume else 1.0
        out *= OTHER_RESISTIVITY ** bool(self.resistivity)
        return float(out * OTHER_MAGNET.get(self.magnet, 1.0))


@dataclass(frozen=True)
class Rows:
    """Joint rows of body and free parameter.

    `construction` : number in `CONSTRUCTIONS`. `point` : row of the bodies. `skin` : metal number, -1 for
    none. `parameter` : skin thickness [um] or void share. `prior` : share. `likelihood` : density.
    """

    construction: Index
    point: Index
    skin: Index
    parameter: Array
    prior: Array
    likelihood: Array

    @property
    def weight(self) -> Array:
        """Prior times likelihood."""
        return self.prior * self.likelihood

    def kept(self, threshold: float) -> Rows:
        """The rows whose weight is at least `threshold`."""
        keep = self.weight >= threshold
        return Rows(*(getattr(self, name)[keep] for name in self.__dataclass_fields__))


def joined(parts: list[Rows]) -> Rows:
    """Several sets of rows as one, without the hopeless ones."""
    rows = Rows(*(np.concatenate([getattr(p, n) for p in parts]) for n in Rows.__dataclass_fields__))
    weight = rows.weight
    return rows.kept(ROWS_DOWN_TO * weight.max()) if len(weight) else rows


@dataclass(frozen=True)
class Solver:
    """Bodies, their priors and the readings; makes the rows of each construction."""

    bodies: Bodies
    evidence: Evidence
    _level: Index = field(init=False)
    _magnet: Array = field(init=False)
    _electric: Array = field(init=False)

    def __post_init__(self) -> None:
        volume = self.evidence.volume
        level = volume.level(self.bodies.sigma) if volume else np.zeros(len(self.bodies.v), dtype=np.intp)
        object.__setattr__(self, "_level", level)
        object.__setattr__(self, "_magnet", self.evidence.magnet_likelihood(self.bodies))
        object.__setattr__(self, "_electric", self.evidence.electric_likelihood(self.bodies))

    def homogeneous(self, prior: Array) -> Rows:
        """Bare bodies; `prior` (points,) is the share of each."""
        point = np.flatnonzero(prior > 0)
        likelihood = self._magnet[point] * self._electric[point]
        if self.evidence.volume:
            likelihood = likelihood * self.evidence.volume.pdf(self.bodies.v[point], self._level[point])
        return self._rows(HOMOGENEOUS, point, -1, np.zeros(len(point)), prior[point], likelihood)

    def plated(self, prior: Array, skin: int) -> Rows:
        """Bodies under a skin of metal number `skin`, thickness free."""
        law = self.bodies.law
        skin_v = law.molar_volume[skin] / law.molar_mass[skin]
        edges = np.geomspace(SKIN_PARTS[0][1], SKIN_PARTS[-1][2], 240)
        share = np.maximum.accumulate(self.evidence.skin_share(edges))
        usable = np.flatnonzero((prior > 0) & (self._magnet > 0))

        def window(point: Index, low: Array, high: Array) -> tuple[Array, Array]:
            return window_of_share(1 / self.bodies.v[point], 1 / skin_v, 1 / high, 1 / low)

        def volume(point: Index, parameter: Array) -> Array:
            part = np.interp(np.log(parameter), np.log(edges), share)
            body = 1 / self.bodies.v[point][:, None]
            return np.asarray(1 / (body + part * (1 / skin_v - body)))

        thickest = float(np.interp(MOST_SKIN, share, edges))  # a core must be left
        feasible = [(part, low, min(high, thickest)) for part, low, high in SKIN_PARTS if low < thickest]
        total = sum(part for part, _, _ in feasible)
        scale = (edges, share)
        parts = [
            self._integrated(PLATED, usable, prior, skin, (part / total, low, high), window, volume, scale)
            for part, low, high in feasible
        ]
        return joined(parts)

    def hollow(self, prior: Array) -> Rows:
        """Bodies with a share of empty space inside."""
        usable = np.flatnonzero((prior > 0) & (self._electric > 0))

        def window(point: Index, low: Array, high: Array) -> tuple[Array, Array]:
            v = self.bodies.v[point]
            return 1 - v / np.maximum(low, 1e-9), 1 - v / high

        def volume(point: Index, parameter: Array) -> Array:
            return np.asarray(self.bodies.v[point][:, None] / (1 - parameter))

        edges = np.geomspace(VOID_PART[1], VOID_PART[2], 240)
        return self._integrated(HOLLOW, usable, prior, -1, VOID_PART, window, volume, (edges, edges))

    def _integrated(
        self, construction: int, point: Index, prior: Array, skin: int, part: tuple[float, float, float],
        window: Callable[[Index, Array, Array], tuple[Array, Array]],
        volume: Callable[[Index, Array], Array], scale: tuple[Array, Array],
    ) -> Rows:  # fmt: skip
        """Nodes in ln(parameter) over what the density reading leaves of one prior part."""
        share, lowest, highest = part
        start, stop = np.log(lowest), np.log(highest)
        reading = self.evidence.volume
        if reading is not None:
            low, high = window(point, *reading.window(self.bodies.sigma[point]))
            best, _ = window(point, np.full(len(point), reading.v), np.full(len(point), reading.v))
            edges, of_edges = scale
            a = np.clip(np.log(np.interp(low, of_edges, edges, left=lowest, right=np.inf)), start, stop)
            b = np.clip(np.log(np.interp(high, of_edges, edges, left=1e-9)), start, stop)
            c = np.clip(np.log(np.interp(best, of_edges, edges)), a, np.maximum(a, b))
            point, a, b, c = point[a < b], a[a < b], b[a < b], c[a < b]
        else:
            a, b = np.full(len(point), start), np.full(len(point), stop)
            c = (a + b) / 2
        nodes, weight = _nodes_about(a, b, c)
        parameter = np.exp(nodes)
        each = prior[point][:, None] * share / (stop - start) * weight
        likelihood = np.broadcast_to(self._magnet[point][:, None], each.shape)
        if reading is not None:
            likelihood = likelihood * reading.pdf(volume(point, parameter), self._level[point][:, None])
        if self.evidence.resistivity:
            plated = construction == PLATED
            electric = (
                self._electric_under_skin(point, parameter, skin, likelihood)
                if plated
                else self._electric[point][:, None]
            )
            likelihood = likelihood * electric
        flat = np.repeat(point, NODES)
        return self._rows(construction, flat, skin, parameter.ravel(), each.ravel(), likelihood.ravel())

    def _electric_under_skin(self, point: Index, parameter: Array, skin: int, likelihood: Array) -> Array:
        """Likelihood of the conductivity of plated pieces, (points, nodes).

        Skin and body conduct side by side, each by its share of the volume. A thin skin changes nothing.
        """
        out = np.broadcast_to(self._electric[point][:, None], parameter.shape).copy()
        share = self.evidence.skin_share(parameter)
        body, of_skin = self.bodies.resistivity[point][:, None], self.bodies.law.resistivity[skin]
        enough = likelihood > 1e-9 * likelihood.max() if likelihood.size else likelihood > 0
        row = np.nonzero(enough & (share * np.abs(body / of_skin - 1) > LITTLE))
        own = np.broadcast_to(body, out.shape)[row]
        whole = 1 / ((1 - share[row]) / own + share[row] / of_skin)
        out[row] = resistivity_pdf(*self.evidence.mean_resistivity, whole, self.bodies.u_resistivity[point][row[0]])
        return out

    @staticmethod
    def _rows(construction: int, point: Index, skin: int, parameter: Array, prior: Array, likelihood: Array) -> Rows:
        return Rows(np.full(len(point), construction), point, np.full(len(point), skin), parameter, prior,
                    likelihood)  # fmt: skip


def _nodes_about(a: Array, b: Array, c: Array) -> tuple[Array, Array]:
    """Nodes and weights (rows, NODES) for integrals from `a` to `b`, dense about `c` where the integrand peaks.

    Gauss-Legendre in s on each side with x = c +- L s^2: even nodes would step over a peak that is
    narrow beside the window its heavy tails need.
    """
    x, weight = np.polynomial.legendre.leggauss(NODES // 2)
    s = (1 + x) / 2
    left, right = (c - a)[:, None], (b - c)[:, None]
    nodes = np.concatenate([c[:, None] - left * s**2, c[:, None] + right * s**2], axis=1)
    return nodes, np.concatenate([left * s * weight, right * s * weight], axis=1)


def window_of_share(body: Array, skin: float, low: Array, high: Array) -> tuple[Array, Array]:
    """Volume shares of skin for which the density lies between `low` and `high` [g/cm3].

    density = body + share (skin - body). Where skin and body are alike any share fits or none does.
    """
    contrast = skin - body
    alike = np.abs(contrast) < 1e-6
    safe = np.where(alike, 1.0, contrast)
    one, two = (low - body) / safe, (high - body) / safe
    a, b = np.minimum(one, two), np.maximum(one, two)
    fits = (body >= low) & (body <= high)
    return np.where(alike, np.where(fits, 0.0, 2.0), a), np.where(alike, np.where(fits, 1.0, 2.0), b)
