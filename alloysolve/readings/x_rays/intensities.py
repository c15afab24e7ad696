"""The lines that an X-ray instrument counts of a candidate, its skin and core included, and what it prints of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ...alloys.xray import Lines
from ...arrays import Array, Index, Mask, distinct
from ...physics.fluorescence import apparent_composition
from ..base import Observed
from ..error_model import quadrature_sum
from .lines_through import Through

if TYPE_CHECKING:
    from ...alloys.bodies import Bodies
    from ...alloys.materials import Layers
    from ...pieces.candidates import Candidates

U_READING = (0.05, 0.005)  # percentage points, and share of the value, if an instrument does not say (judgement)
U_ENDS, U_MIDDLE = 0.3, 1.2  # model: 0.3 points near 0 and 100 %, 1.5 in the middle (common practice, no source)
U_THICKNESS = 0.18  # relative, of a thickness by primary fluorescence with an unknown beam: 15 to 20 %
WHOLE_FROM = 90.0  # percent; from there on, what is missing is not a listed metal
SEEN_SHARE = 0.3  # of the surface, by mass, that must be of the metals an instrument lists for it to print (judgement)
UNREAD_POWER = 4  # of that share below the limit: a tenth of it counts as 1 in 10 000 (judgement)
LIGHTEST = 1e-3  # cm3/g, below which a material is a gas, which nothing is covered with
U_LOCAL = 0.35  # relative, of a thickness looked up in steps of `LOCAL_STEP`


@dataclass(frozen=True, eq=False)
class Intensities(Observed):
    """The lines that an instrument counts of a candidate.

    `known` : metals that were printed or listed. `read` : [percent], NaN if only a limit was printed; scaled to
    100 if nearly all was printed. `limit` : [percent], NaN if a share was printed. `total` : sum as printed.
    `uneven` : one of several places, where a skin may be thinner or thicker than on average (`LOCAL_STEP`).
    """

    name: str
    kind: str
    place: str
    text: str
    known: tuple[str, ...]
    read: Array
    limit: Array
    u: float | None
    total: float
    lines: Lines
    uneven: bool = False
    _bulk: dict[int, tuple[Any, Array, Mask]] = field(default_factory=dict, repr=False)
    _materials: dict[int, tuple[Any, Array, Array, Array]] = field(default_factory=dict, repr=False)
    _shares: dict[int, tuple[Any, Array]] = field(default_factory=dict, repr=False)

    @cached_property
    def columns(self) -> Index:
        """Columns of `lines` that count: the known metals, and all others that are seen if little was printed."""
        at = [self.lines.symbols.index(s) for s in self.known]
        if self.total < WHOLE_FROM:
            at += [k for k, s in enumerate(self.lines.symbols) if self.lines.seen[k] and k not in at]
        return np.array(at, dtype=np.intp)

    @cached_property
    def correction(self) -> Array:
        """Factors from relative intensities to printed shares, those of the instrument at what it prints."""
        into, own = self.lines.into[:, self.columns], self.lines.own[self.columns]
        w = np.zeros(len(into))
        w[own[: len(self.known)]] = np.nan_to_num(self.read) / 100
        w /= w.sum()
        return np.asarray((w @ into) / into[own, np.arange(len(own))])

    @cached_property
    def main(self) -> int:
        """Number of the metal with the largest printed share."""
        return int(np.nanargmax(self.read))

    @cached_property
    def counted(self) -> Array:
        """Numbers of the printed shares that count: the largest follows from the others if all add up to 100."""
        numbers = np.flatnonzero(np.isfinite(self.read))
        closed = self.total >= WHOLE_FROM and len(self.known) > 1
        return np.asarray(numbers[numbers != self.main] if closed and len(numbers) > 1 else numbers)

    @cached_property
    def limited(self) -> Index:
        """Numbers of the metals that were looked for and not printed."""
        return np.flatnonzero(np.isfinite(self.limit))

    @cached_property
    def u_reading(self) -> Array:
        """Standard uncertainty of the printed shares [percentage points]."""
        share = np.nan_to_num(self.read)
        return np.full(len(share), self.u) if self.u else U_READING[0] + U_READING[1] * share

    def bulk(self, bodies: Bodies, point: Index) -> Array:
        """Relative intensity of each counted line of thick bodies, (n, lines); each body is computed once and kept."""
        if id(bodies) not in self._bulk:  # the entry holds the bodies, so their id is not given to others
            empty = np.empty((len(bodies.v), len(self.columns)))
            self._bulk[id(bodies)] = (bodies, empty, np.zeros(len(bodies.v), dtype=bool))
        _, found, known = self._bulk[id(bodies)]
        asked = np.zeros(len(known), dtype=bool)
        asked[point] = True
        new = np.flatnonzero(asked & ~known)
        if len(new):
            found[new], known[new] = self.ratio_of(bodies.w[new]), True
        return found[point]

    def ratio_of(self, w: Array) -> Array:
        """Intensity of each counted line of thick compositions (n, metals) over that of the pure metal, (n, lines)."""
        own, into = self.lines.own[self.columns], self.lines.into[:, self.columns]
        present = w[:, own]
        present[:, own == self.lines.iron[0]] += w[:, [self.lines.iron[1]]]  # iron in both its forms
        return np.asarray(present * into[own, np.arange(len(own))] / np.maximum(w @ into, 1e-12))

    def printed(self, candidates: Candidates) -> tuple[Array, Array]:
        """Shares printed for each candidate and their change with ln(thickness), both (n, lines) [percent].

        For one layer over another, ``I = S (1 - T) + T below``, ``T = exp(-a rho t)``, with S and a of the layer.
        """
        intensity, slope = self.intensities(candidates)
        p, dp = intensity * self.correction, slope * self.correction
        total = np.maximum(p.sum(axis=1, keepdims=True), 1e-12)
        share = p / total
        return 100 * share, 100 * (dp - share * dp.sum(axis=1, keepdims=True)) / total

    def intensities(self, candidates: Candidates) -> tuple[Array, Array]:
        """Relative intensities of the counted lines of each candidate, and their change with ln(thickness)."""
        under = self.bulk(candidates.bodies, candidates.point)
        slope = np.zeros_like(under)
        layered = np.flatnonzero(candidates.faced)
        if len(layered):
            some = candidates.some(layered)
            t = self._through(some, some.depth_um[:, None], 1.0)
            under[layered], slope[layered] = t.skin + t.passed[:, 0] * t.extra, t.change[:, 0] * t.extra
        return under, slope

    def _of_layers(self, layers: Layers) -> tuple[Array, Array, Array]:
        """Of each material, computed once: absorption of each counted line per um, its intensity, listed metals."""
        if id(layers) not in self._materials:
            per_um = 1e-4 / np.maximum(layers.v, LIGHTEST)
            taken = (layers.w @ self.lines.into[:, self.columns]) * per_um[:, None]
            found = (taken, self.ratio_of(layers.w), layers.w[:, self._listed].sum(axis=1))
            self._materials[id(layers)] = (layers, *found)
        return self._materials[id(layers)][1:]

    def _through(self, pairs: Candidates, um: Array, factor: Array | float) -> Through:
        """Lines of faced pairs times `factor` at thicknesses of the skin (pairs, steps), or (1, steps) of one skin."""
        layers, below = pairs.layers, self.bulk(pairs.bodies, pairs.point)
        taken, ratio, _ = self._of_layers(layers)
        strike = layers.strike[pairs.skin]
        has = np.flatnonzero((strike >= 0) & pairs.covered)
        if len(has):
            under = strike[has]
            passed = np.exp(-taken[under] * layers.strike_um[pairs.skin[has], None])
            below[has] = ratio[under] * (1 - passed) + passed * below[has]
        skin = ratio[pairs.skin]
        depth = um[:, :, None] * taken[pairs.skin[: len(um)], None, :]
        passed = np.exp(-depth)
        return Through(factor * skin, factor * (below - skin), passed, -depth * passed)

    @cached_property
    def _listed(self) -> Index:
        """Columns of the mixing law of the metals that count, iron in both its forms."""
        own = self.lines.own[self.columns]
        return distinct(np.concatenate([own, np.array(self.lines.iron)])) if self.lines.iron[0] in own else own

    def _listed_share(self, bodies: Bodies) -> Array:
        """Mass fraction of each body that is of the metals that count; computed once for each set of bodies."""
        if id(bodies) not in self._shares:
            self._shares[id(bodies)] = (bodies, bodies.w[:, self._listed].sum(axis=1))
        return self._shares[id(bodies)][1]

    def _unread(self, pairs: Candidates, um: Array, *, between: bool = False) -> Array:
        """Squared score for surfaces that hold hardly any of the printed metals, (pairs, steps), or the least between.

        `um` : thickness of what covers each pair; of no effect on pairs that are not faced.
        """
        share = np.repeat(self._listed_share(pairs.bodies)[pairs.point][:, None], um.shape[1], axis=1)
        layered = np.flatnonzero(pairs.faced)
        if len(layered):
            taken, _, listed = self._of_layers(pairs.layers)
            number = pairs.skin[layered]
            passed = np.exp(-taken[number, self.main, None] * um[layered if len(um) > 1 else slice(None)])
            skin = listed[number, None]
            share[layered] = skin + passed * (share[layered] - skin)
        if between:
            share = np.maximum(share[:, :-1], share[:, 1:])
        return np.asarray(-2 * UNREAD_POWER * np.log(np.clip(share / SEEN_SHARE, 1e-9, 1.0)))

    @property
    def _u_thickness(self) -> float:
        """Relative uncertainty of a thickness: of a local one it is that of looking it up."""
        return U_LOCAL if self.uneven else U_THICKNESS

    def _model(self, p: Array, slope: Array) -> Array:
        """Model uncertainty of each printed share [percentage points]."""
        share = np.clip(p / 100, 0, 1)
        return quadrature_sum(U_ENDS + U_MIDDLE * 4 * share * (1 - share), self._u_thickness * slope)

    def apparent(self, candidates: Candidates) -> Array:
        """What the instrument would print of each candidate, corrected at that composition, (n, lines) [percent]."""
        absorbed = self.lines.into[self.lines.own[self.columns]][:, self.columns]
        return 100 * np.nan_to_num(apparent_composition(self.intensities(candidates)[0], absorbed))
