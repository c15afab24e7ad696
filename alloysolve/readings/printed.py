"""What an X-ray instrument would print of a candidate, its skin and core included, and how far it sees."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ..alloys.xray import Lines
from ..arrays import Array, Index, Mask
from ..physics.fluorescence import apparent_composition
from .base import SURFACE, Core, Observed, outside
from .error_model import mixture_pdf, quadrature_sum, score_of
from .under_skin import core_under, seen_through

if TYPE_CHECKING:
    from ..alloys.bodies import Bodies
    from ..alloys.materials import Layers
    from ..pieces.candidates import Candidates

U_READING = (0.05, 0.005)  # percentage points, and share of the value, if an instrument does not say (judgement)
U_ENDS, U_MIDDLE = 0.3, 1.2  # model: 0.3 points near 0 and 100 %, 1.5 in the middle (common practice, no source)
U_THICKNESS = 0.18  # relative, of a thickness by primary fluorescence with an unknown beam: 15 to 20 %
WHOLE_FROM = 90.0  # percent; from there on, what is missing is not a listed metal
SEEN_SHARE = 0.3  # of the surface, by mass, that must be of the metals an instrument lists for it to print (judgement)
UNREAD_POWER = 4  # of that share below the limit: a tenth of it counts as 1 in 10 000 (judgement)
OTHER_SHARE = 0.01  # density per percentage point under "something else"
OTHER_BELOW = 0.7  # share of "something else" without any metal that was listed and not printed (judgement)
NO_TRACE = 0.02  # of a limit, below which a metal is as good as absent
# at one place, worn or thick, the skin is a tenth to ten times its mean (judgement), uniform in the logarithm
LOCAL_STEP, LOCAL_STEPS = 0.4, 6
LOCAL_UM = np.exp(LOCAL_STEP * np.arange(-6, 20))  # um
UNEVEN_PEAK = 0.3  # a mean over thicknesses is never as high as its highest
U_LOCAL = 0.35  # relative, of a thickness looked up in steps of `LOCAL_STEP`
PRINTED_FROM = 2.0  # percent of a core metal as printed
DEEP = 4.6  # absorption lengths from beyond which 1 % of the intensity comes


@dataclass(frozen=True, eq=False)
class ObservedSurface(Observed):
    """A surface composition, ready to be compared with candidates.

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
    shows = SURFACE
    surface = True
    _bulk: dict[int, tuple[Any, Array, Mask]] = field(default_factory=dict, repr=False)
    _materials: dict[int, tuple[Any, Array, Array]] = field(default_factory=dict, repr=False)
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

    @property
    def u_reading(self) -> Array:
        """Standard uncertainty of the printed shares [percentage points]."""
        share = np.nan_to_num(self.read)
        return np.full(len(share), self.u) if self.u else U_READING[0] + U_READING[1] * share

    @property
    def other(self) -> float:  # type: ignore[override]
        """Likelihood under "something else", for which any share of each metal is equally likely."""
        return float(OTHER_SHARE ** len(self.counted) * (OTHER_BELOW if len(self.limited) else 1.0))

    @property
    def peak(self) -> float:  # type: ignore[override]
        """The largest density a piece can have."""
        one = float(np.prod(0.5 / np.hypot(self.u_reading[self.counted], U_ENDS)))
        return one * (UNEVEN_PEAK if self.uneven else 1.0)

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
            under[layered], slope[layered] = self._under_layers(candidates.some(layered), under[layered])
        return under, slope

    def _of_layers(self, layers: Layers) -> tuple[Array, Array]:
        """Absorption of each material for each counted line, and its relative intensity when thick; computed once."""
        if id(layers) not in self._materials:
            self._materials[id(layers)] = (
                layers,
                layers.w @ self.lines.into[:, self.columns],
                self.ratio_of(layers.w),
            )
        return self._materials[id(layers)][1:]

    def _under_layers(self, candidates: Candidates, below: Array) -> tuple[Array, Array]:
        """Intensities through strike and skin, and their change with ln(thickness of the skin)."""
        layers, um = candidates.layers, candidates.thickness_um
        taken, ratio = self._of_layers(layers)
        number = candidates.skin[:1] if (candidates.skin == candidates.skin[0]).all() else candidates.skin
        strike = layers.strike[candidates.skin]
        has = strike >= 0
        if has.any():
            passed = np.exp(-taken[strike[has]] * (um[has, 1] * 1e-4 / layers.v[strike[has]])[:, None])
            below = below.copy()
            below[has] = ratio[strike[has]] * (1 - passed) + passed * below[has]
        depth = taken[number] * (um[:, 0] * 1e-4 / layers.v[number])[:, None]
        skin = ratio[number]
        passed = np.exp(-depth, where=(skin > 0) | (below > 0), out=np.ones_like(depth))  # few metals are in a piece
        return skin * (1 - passed) + passed * below, depth * passed * (skin - below)

    def _unread(self, candidates: Candidates) -> Array:
        """Squared score for surfaces that hold hardly any of the printed metals, (n,)."""
        at = self._listed
        share = self._listed_share(candidates.bodies)[candidates.point]
        layered = np.flatnonzero(candidates.faced)
        if len(layered):
            some = candidates.some(layered)
            taken = (candidates.layers.w @ self.lines.into[:, self.columns[self.main]])[some.skin]
            passed = np.exp(-taken * some.thickness_um[:, 0] * 1e-4 / candidates.layers.v[some.skin])
            skin = candidates.layers.w[:, at].sum(axis=1)[some.skin]
            share[layered] = skin * (1 - passed) + share[layered] * passed
        return np.asarray(-2 * UNREAD_POWER * np.log(np.clip(share / SEEN_SHARE, 1e-9, 1.0)))

    @cached_property
    def _listed(self) -> Index:
        """Columns of the mixing law of the metals that count, iron in both its forms."""
        own = self.lines.own[self.columns]
        return np.unique(np.concatenate([own, np.array(self.lines.iron)])) if self.lines.iron[0] in own else own

    def _listed_share(self, bodies: Bodies) -> Array:
        """Mass fraction of each body that is of the metals that count; computed once for each set of bodies."""
        if id(bodies) not in self._shares:
            self._shares[id(bodies)] = (bodies, bodies.w[:, self._listed].sum(axis=1))
        return self._shares[id(bodies)][1]

    def _model(self, p: Array, slope: Array) -> Array:
        """Model uncertainty of each printed share [percentage points]."""
        share = np.clip(p / 100, 0, 1)
        u_thickness = U_LOCAL if self.uneven else U_THICKNESS
        return quadrature_sum(U_ENDS + U_MIDDLE * 4 * share * (1 - share), u_thickness * slope)

    def _residuals(self, candidates: Candidates) -> tuple[Array, Array, Array]:
        """Shares predicted for the known metals, their model uncertainty, and the shares read less those predicted."""
        p, slope = self.printed(candidates)
        p, slope = p[:, : len(self.known)], slope[:, : len(self.known)]
        model = self._model(p, slope)
        varied = np.flatnonzero(candidates.faced & (candidates.layers.u_points[candidates.skin] > 0))
        if len(varied):  # skins without a fixed composition, as far as what is printed is theirs
            skin = candidates.skin[varied]
            own = candidates.layers.w[skin][:, self.lines.own[self.columns[: len(self.known)]]] > 0
            part = np.where(own, p[varied], 0.0).sum(axis=1, keepdims=True) / 100
            points = own * part * candidates.layers.u_points[skin][:, None]
            model[varied] = np.hypot(model[varied], points)
        return p, model, self.read - p

    def pdf(self, candidates: Candidates) -> Array:
        """Density per percentage point of every share that counts, times the chance to lie below each limit."""
        return self._anywhere(candidates) if self.uneven else self._pdf(candidates)

    def _anywhere(self, candidates: Candidates) -> Array:
        """Mean density over the thicknesses that a skin may have at one place, from a tenth to ten times its mean.

        Candidates that differ only in thickness share one row of `LOCAL_UM`.
        """
        out = np.empty(len(candidates))
        bare = np.flatnonzero(~candidates.covered)
        out[bare] = self._pdf(candidates.some(bare))
        rows = np.flatnonzero(candidates.covered)
        if not len(rows):
            return out
        keys = np.stack([candidates.construction[rows], candidates.point[rows], candidates.skin[rows]])
        _, first, inverse = np.unique(keys, axis=1, return_index=True, return_inverse=True)
        one, size = candidates.some(rows[first]), len(LOCAL_UM)
        grid = replace(
            one,
            construction=np.repeat(one.construction, size),
            point=np.repeat(one.point, size),
            skin=np.repeat(one.skin, size),
            parameter=np.tile(LOCAL_UM, len(one)),
        )
        density = self._pdf(grid).reshape(-1, size)
        whole = np.concatenate([np.zeros((len(one), 1)), np.cumsum(density, axis=1)], axis=1)
        middle = np.interp(np.log(candidates.parameter[rows]), np.log(LOCAL_UM), np.arange(size))
        low = np.clip(np.rint(middle - LOCAL_STEPS), 0, size - 1).astype(np.intp)
        high = np.clip(np.rint(middle + LOCAL_STEPS) + 1, 1, size).astype(np.intp)
        at = inverse.ravel()
        out[rows] = (whole[at, high] - whole[at, low]) / (high - low)
        return out

    def _pdf(self, candidates: Candidates) -> Array:
        from scipy.special import ndtr

        p, model, r = self._residuals(candidates)
        out = np.ones(len(p))
        for k in self.counted:
            out = out * mixture_pdf(r[:, k], float(self.u_reading[k]), model[:, k], 0.0)
        for k in self.limited:  # relative to a piece that holds none of it
            some = np.flatnonzero(p[:, k] > NO_TRACE * self.limit[k])
            u = np.hypot(self.u_reading[k] + self.limit[k] / 2, model[some, k] - U_ENDS)
            out[some] *= np.maximum(ndtr((self.limit[k] - p[some, k]) / u) / ndtr(self.limit[k] / u), 1e-9)
        return np.asarray(out * np.exp(-self._unread(candidates) / 2))

    def score(self, candidates: Candidates) -> Array:
        """Normal score of all shares and limits together, with the sign of the main metal's residual."""
        if not self.uneven:
            return self._score(candidates)
        local = [
            replace(candidates, parameter=np.where(candidates.covered, candidates.parameter * f, candidates.parameter))
            for f in np.exp(LOCAL_STEP * np.arange(-LOCAL_STEPS, LOCAL_STEPS + 1))
        ]
        each = np.array([self._score(p) for p in local])
        return np.asarray(each[np.abs(each).argmin(axis=0), np.arange(each.shape[1])])

    def _score(self, candidates: Candidates) -> Array:
        from scipy.special import gammaincc, ndtri

        p, model, r = self._residuals(candidates)
        u = np.hypot(self.u_reading, model)
        counted, limited = self.counted, self.limited
        squares = np.square(r[:, counted] / u[:, counted]).sum(axis=1)
        over = np.square(np.maximum(p[:, limited] - self.limit[limited], 0) / u[:, limited])
        # a limit that a candidate keeps cannot fail, so that it is not one of the chances to read as badly as this
        free = len(counted) + np.minimum(over, 1.0).sum(axis=1)
        worst = squares + over.sum(axis=1) + self._unread(candidates)
        tail = np.maximum(gammaincc(np.maximum(free, 1.0) / 2, worst / 2), 1e-300)
        return np.asarray(np.where(r[:, self.main] < 0, -1.0, 1.0) * -ndtri(tail / 2))

    def quick(self, candidates: Candidates) -> Array | None:
        """Signed score of the main metal alone; None if the skin at this place says little about that of the piece."""
        if self.uneven:
            return None
        _, model, r = self._residuals(candidates)
        k = self.main
        return np.asarray(r[:, k] / np.hypot(self.u_reading[k], model[:, k]))

    def between(self, others: Candidates, claim: Candidates) -> Array:
        """Score of the main metal of each other candidate, outside the range of the claim."""
        p, model, _ = self._residuals(claim)
        k = self.main
        apart = outside(self.expected(others), p[:, k])
        return score_of(apart, float(self.u_reading[k]), float(model[:, k].max()))

    def expected(self, candidates: Candidates) -> Array:
        """Printed share of the main metal [percent]."""
        return self.printed(candidates)[0][:, self.main]

    def shown(self, candidates: Candidates) -> Array:
        """Share of the main metal that the instrument would print of each candidate [percent]."""
        return self.apparent(candidates)[:, self.main]

    def apparent(self, candidates: Candidates) -> Array:
        """What the instrument would print of each candidate, corrected at that composition, (n, lines) [percent]."""
        absorbed = self.lines.into[self.lines.own[self.columns]][:, self.columns]
        return 100 * np.nan_to_num(apparent_composition(self.intensities(candidates)[0], absorbed))

    def scale(self, candidates: Candidates) -> tuple[Array, Array]:
        """Printed share of the main metal and its uncertainty [percent]."""
        p, model, _ = self._residuals(candidates)
        k = self.main
        return p[:, k], np.hypot(self.u_reading[k], model[:, k])

    @property
    def unit_shown(self) -> str:  # type: ignore[override]
        """The unit that people are shown: mass percent of the main metal."""
        return f"% {self.known[self.main]}"

    def sees(self, candidates: Candidates) -> Array:
        """Depth [um] from which the core of each candidate is not seen through its skin; in a bare body, of 99 %."""
        out = np.empty(len(candidates))
        into = self.lines.into[:, self.columns]
        bare = ~candidates.faced
        w = candidates.bodies.w[candidates.point]
        present = self.bulk(candidates.bodies, candidates.point) > 0.02
        most = np.where(present, w @ into, np.inf).min(axis=1)
        out[bare] = (DEEP * 1e4 * candidates.bodies.v[candidates.point] / most)[bare]
        for n in np.flatnonzero(~bare):  # asked of one piece or a few
            out[n] = seen_through(self.lines, self.columns, candidates.layers, int(candidates.skin[n]), w[n])
        return out

    @property
    def items(self) -> tuple[tuple[str, str], ...]:
        """Metals with their shares as printed."""
        return tuple(re.findall(r"([A-Z][a-z]?)\s*([<>]?\s*[\d.]+)", self.text))

    def core_under(self, layers: Layers, skin: int) -> Core | None:
        """The core by all metals that were printed but the skin's; None where it is not seen, or is of one metal."""
        at = np.flatnonzero(np.nan_to_num(self.read) > 0)
        intensity, thick = self.read[at] / self.correction[at], self.ratio_of(layers.w[[skin]])[0, at]
        found = core_under(self.lines, self.columns[at], intensity, thick, layers, skin)
        if found is None:
            return None
        um, share = found
        read = {s: float(p) for s, p in zip(self.known, self.read, strict=True) if p >= PRINTED_FROM}
        core = {s: read[s] for s in share if s in read}
        whole = sum(core.values())
        if len(core) < 2:
            return None
        return Core(um, {s: share[s] for s in core}, {s: p / whole for s, p in core.items()})

    def measured(self) -> dict[str, Any]:
        """Value, uncertainty and unit of the share of the main metal, for documents."""
        k = self.main
        return {"value": float(self.read[k]), "u": float(self.u_reading[k]), "unit": f"% {self.known[k]}"}
