"""What an X-ray instrument would print of a candidate, its skin and core included, and how far it sees."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ..alloys.xray import Lines
from ..arrays import Array, Index, Mask, distinct
from ..physics.fluorescence import apparent_composition
from ..pieces.candidates import Along
from ..special import gammaincc, ndtr, ndtri
from .base import SURFACE, Core, Observed, bound_by_parts, outside
from .error_model import LIKELIEST, mixture_pdf, quadrature_sum, score_of
from .lines_through import Through
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
LIGHTEST = 1e-3  # cm3/g, below which a material is a gas, which nothing is covered with
NO_TRACE = 0.02  # of a limit, below which a metal is as good as absent
# at one place, worn or thick, the skin is a tenth to ten times its mean (judgement), uniform in the logarithm
LOCAL_STEP, LOCAL_STEPS = 0.4, 6
LOCAL_UM = np.exp(LOCAL_STEP * np.arange(-6, 20))  # um
UNEVEN_PEAK = 0.3  # a mean over thicknesses is never as high as its highest
U_LOCAL = 0.35  # relative, of a thickness looked up in steps of `LOCAL_STEP`
PRINTED_FROM = 2.0  # percent of a core metal as printed
# margins between steps (tested): of the change of a share; its slope over the change; any slope
SLACK, STEEPEST, STEEPEST_POINTS = 0.3, 0.6, 60.0
SWELLS = 1.2  # by how much scatter may grow between two steps where a share falls to nothing
HOPELESS = 1e-9  # of the density of "something else", below which nothing more is looked at
BRIGHTEST = 2.0  # most that all lines of any body give together, of the brightest pure metal
MANY = 50  # pairs under one skin, from which a common grid pays
BLOCK = 16384  # pairs times steps computed at a time
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
    effort = 3
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

    @property
    def other(self) -> float:  # type: ignore[override]
        """Likelihood under "something else", for which any share of each metal is equally likely."""
        return float(OTHER_SHARE ** len(self.counted) * (OTHER_BELOW if len(self.limited) else 1.0))

    @property
    def peak(self) -> float:  # type: ignore[override]
        """The largest density a piece can have."""
        one = float(np.prod(0.5 / np.hypot(self.u_reading[self.counted], U_ENDS)))
        return one * (UNEVEN_PEAK if self.uneven else 1.0)

    @cached_property
    def _hopeless(self) -> float:
        """Density below which nothing more is looked at."""
        return HOPELESS * self.other

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

    @property
    def _u_thickness(self) -> float:
        """Relative uncertainty of a thickness: of a local one it is that of looking it up."""
        return U_LOCAL if self.uneven else U_THICKNESS

    def _model(self, p: Array, slope: Array) -> Array:
        """Model uncertainty of each printed share [percentage points]."""
        share = np.clip(p / 100, 0, 1)
        return quadrature_sum(U_ENDS + U_MIDDLE * 4 * share * (1 - share), self._u_thickness * slope)

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
        return self.along(Along.of(candidates))[:, 0]

    def along(self, a: Along) -> Array:
        """`pdf` of pairs at each of their steps, (pairs, steps)."""
        return self._by_pair(a)

    def most(self, a: Along) -> Array:
        """About the highest `pdf` between neighbouring steps: by the skin alone, then by the shares at both steps.

        Steps that are far apart are divided, since shares of middle lines may rise and fall between them.
        """
        out = self._by_skin(a)
        alive = (out > self._hopeless).any(axis=1)
        rows = np.flatnonzero(alive)
        found = bound_by_parts(a.some(rows), lambda b: self._by_pair(b, between=True))
        out[rows] = np.minimum(out[rows], found)
        return out

    def _by_pair(self, a: Along, *, between: bool = False) -> Array:
        """Density of pairs at each step, or about the highest one between neighbouring steps."""
        pairs, um, steps = a.pairs, a.depth_um, a.parameter.shape[1]
        out = np.empty((len(pairs), steps - between))
        bare = np.flatnonzero(~pairs.faced)
        out[bare] = self._bare(pairs.some(bare))[:, None]
        local = pairs.covered & self.uneven
        for rows, of in ((pairs.faced & ~local, self._density), (pairs.faced & local, self._anywhere)):
            each = np.flatnonzero(rows)
            for some in np.array_split(each, max(1, len(each) * steps // BLOCK)):
                out[some] = of(pairs.some(some), um[some], between=between)
        return out

    def _bare(self, pairs: Candidates) -> Array:
        """Density for pieces of which the body is seen, (n,)."""
        body = self.bulk(pairs.bodies, pairs.point) * self.correction
        nothing = np.zeros((1, 1, len(self.columns)))
        return self._of(pairs, Through(body, np.zeros_like(body), nothing, nothing), np.zeros((len(pairs), 1)))[:, 0]

    def _density(self, pairs: Candidates, um: Array, *, between: bool = False) -> Array:
        """Density of faced pairs at thicknesses (pairs, steps), or (1, steps) of one skin, or the highest between."""
        return self._of(pairs, self._through(pairs, um, self.correction), um, between=between)

    def _of(self, pairs: Candidates, t: Through, um: Array, *, between: bool = False) -> Array:
        """Density at each step, or about the highest one between neighbouring steps."""
        points = self._points(pairs, t)
        out = np.exp(self._unread(pairs, um, between=between) / -2)
        alive = np.flatnonzero(out.max(axis=1) > self._hopeless)
        for k in self.counted:
            p, model = self._line(k, t, alive, points)
            p, model = self._nearest(k, p, model, t.both[alive, k]) if between else (p, model)
            out[alive] *= mixture_pdf(self.read[k] - p, float(self.u_reading[k]), model, 0.0)
            alive = alive[out[alive].max(axis=1) > self._hopeless]
        row, number = np.nonzero(t.present[alive][:, self.limited])
        if len(row):
            rows, k = alive[row], self.limited[number]
            p, model = self._line(k, t, rows, points)
            p, model = self._nearest(k, p, model, t.both[rows, k]) if between else (p, model)
            first = np.flatnonzero(np.diff(rows, prepend=-1))
            out[rows[first]] *= np.multiply.reduceat(self._below_limit(k, p, model), first, axis=0)
        return np.asarray(out)

    def _below_limit(self, k: Index, p: Array, model: Array) -> Array:
        """Chance to lie below a limit, relative to a piece that holds none of the metal, (rows, steps)."""
        limit, out = np.broadcast_to(self.limit[k, None], p.shape), np.ones(p.shape)
        traces = p > NO_TRACE * limit
        limit = limit[traces]
        u = quadrature_sum(
            np.broadcast_to(self.u_reading[k, None], p.shape)[traces] + limit / 2, model[traces] - U_ENDS
        )
        out[traces] = np.maximum(_normal_share((limit - p[traces]) / u) / _normal_share(limit / u), 1e-9)
        return out

    def _line(self, k: int | Index, t: Through, rows: Index, points: tuple[Mask, Array] | None) -> tuple[Array, Array]:
        """Share printed of one metal, or of one for each row, and its model uncertainty [percent], (rows, steps)."""
        p, slope = t.printed(k, rows)
        model = self._model(p, slope)
        return p, quadrature_sum(model, points[0][rows, k][:, None] * points[1][rows]) if points else model

    def _points(self, pairs: Candidates, t: Through) -> tuple[Mask, Array] | None:
        """Metals of skins without a fixed composition, and their scatter as far as what is printed is theirs."""
        varied = pairs.layers.u_points[pairs.skin] * pairs.faced
        if not varied.any():
            return None
        own = np.zeros(t.skin.shape, dtype=bool)
        known = self.lines.own[self.columns[: len(self.known)]]
        own[:, : len(known)] = (pairs.layers.w[:, known] > 0)[pairs.skin]
        return own, t.of_skin(own) * varied[:, None]

    def _nearest(self, k: int | Index, p: Array, model: Array, both: Mask) -> tuple[Array, Array]:
        """Share between neighbouring steps that favours what was read most, and the model scatter that does.

        `both` : whether skin and body hold the metal. A line of one alone rises, falls, or rises before it falls: its
        share is nowhere less than at the steps, and where that is too much already, one of the steps fits best.
        """
        low, high = np.minimum(p[:, :-1], p[:, 1:]), np.maximum(p[:, :-1], p[:, 1:])
        least, most = np.minimum(model[:, :-1], model[:, 1:]), np.maximum(model[:, :-1], model[:, 1:])
        read, limit, both = (np.reshape(x, (-1, 1)) for x in (self.read[k], self.limit[k], both))
        change, target = high - low, np.nan_to_num(read)
        near = np.clip(target, low - SLACK * change * both, high + SLACK * change)
        # a residual is likeliest with about as much scatter, a share above a limit with the most
        wanted = np.where(np.isnan(limit), LIKELIEST * np.abs(near - target), np.where(near > limit, np.inf, 0.0))
        any_scatter = np.clip(wanted, least, quadrature_sum(most, self._u_thickness * STEEPEST * change))
        above, away = np.fmax(target, limit), (p - np.fmax(target, limit)) / model
        first = away[:, :-1] < away[:, 1:]
        at_step = ~both & (low > above)
        share, scatter = (np.where(first, x[:, :-1], x[:, 1:]) for x in (p, model))
        swollen = scatter * (1 + SWELLS * change / np.maximum(high - above, change + 1e-9))
        scatter = np.where(np.isnan(limit), np.clip(LIKELIEST * (share - target), scatter, swollen), swollen)
        return np.where(at_step, share, near), np.where(at_step, scatter, any_scatter)

    def _by_skin(self, a: Along) -> Array:
        """Bound between steps from the skin alone, whatever is below: its own metals are printed with some share."""
        skins, number = np.unique(a.pairs.skin, return_inverse=True)
        taken, ratio, _ = self._of_layers(a.pairs.layers)
        passed = np.exp(-LOCAL_UM[:, None] * taken[skins, None, :])
        own = (self.correction * ratio[skins])[:, None, :] * (1 - passed)
        others = BRIGHTEST * (self.correction * passed).max(axis=2, keepdims=True)
        p = 100 * own / (own.sum(axis=2, keepdims=True) + others)
        out, most = np.ones(p.shape[:2]), self._u_thickness * STEEPEST_POINTS + a.pairs.layers.u_points.max()
        for k in self.counted:
            over = np.maximum(p[:, :, k] - self.read[k], 0.0)
            models = (U_ENDS, U_ENDS + U_MIDDLE, 4.0, most)
            out *= np.max([mixture_pdf(over, float(self.u_reading[k]), np.array(m), 0.0) for m in models], axis=0)
        for k in self.limited:
            over = np.maximum(p[:, :, k] - self.limit[k], 0.0) / (self.u_reading[k] + self.limit[k] / 2 + most)
            out *= np.exp(-0.5 * over**2)
        um = np.maximum(a.depth_um[:, :-1], 1e-9)
        at = np.floor((np.log(um) - np.log(LOCAL_UM[0])) / LOCAL_STEP)
        at -= (LOCAL_STEPS + 1) * (a.pairs.covered & self.uneven)[:, None]
        known = out[number[:, None], np.clip(at, 0, len(LOCAL_UM) - 1).astype(np.intp)]
        found = np.where(at >= 0, known, out[:, 0].max(initial=0.0))
        return np.where(a.pairs.faced[:, None], found * self._by_absence(a.pairs)[:, None], np.inf)

    def _by_absence(self, pairs: Candidates) -> Array:
        """How much less likely, at most, are pairs that hold none of some metals of which a share was read."""
        layers, out = pairs.layers, np.ones(len(pairs))
        _, ratio, _ = self._of_layers(layers)
        strike = layers.strike[pairs.skin]
        for k in self.counted:
            held: Mask = np.asarray(ratio[:, k] > 0)
            own = self.lines.own[self.columns[k]]
            present = pairs.bodies.w[:, list(self.lines.iron if own in self.lines.iron else (own,))].max(axis=1) > 0
            rows = np.flatnonzero(~(held[pairs.skin] | (held[strike] & (strike >= 0)) | present[pairs.point]))
            zero, read = mixture_pdf(np.array([0.0, self.read[k]]), float(self.u_reading[k]), np.array(U_ENDS), 0.0)
            out[rows] *= read / zero
        return out

    def _anywhere(self, pairs: Candidates, um: Array, *, between: bool = False) -> Array:
        """Mean density over the thicknesses that a skin may have at one place, from a tenth to ten times its mean.

        Pairs under one skin share the grid `LOCAL_UM`. Between two steps, it is the mean over all thicknesses of both.
        """
        whole = np.zeros((len(pairs), len(LOCAL_UM) + 1))
        _, number, size = np.unique(pairs.skin, return_inverse=True, return_counts=True)
        few = np.flatnonzero(size[number] < MANY)
        groups = [(few, np.tile(LOCAL_UM, (len(few), 1)))]
        groups += [(np.flatnonzero(number == k), LOCAL_UM[None]) for k in np.flatnonzero(size >= MANY)]
        for rows, um_of_skin in groups:
            whole[rows, 1:] = np.cumsum(self._density(pairs.some(rows), um_of_skin), axis=1)
        middle = np.clip((np.log(um) - np.log(LOCAL_UM[0])) / LOCAL_STEP + 0.5, 0.5, len(LOCAL_UM) - 0.5)
        low, high = (np.clip(middle + side * (LOCAL_STEPS + 0.5), 0.0, len(LOCAL_UM)) for side in (-1, 1))
        width = high - low
        if between:
            low, high, width = low[:, :-1], high[:, 1:], np.minimum(width[:, :-1], width[:, 1:])
        return np.asarray((_along_rows(whole, high) - _along_rows(whole, low)) / width)

    def score(self, candidates: Candidates) -> Array:
        """Normal score of all shares and limits together, with the sign of the main metal's residual."""
        out = self._score(candidates)
        covered = np.flatnonzero(candidates.covered & self.uneven)
        times = np.exp(LOCAL_STEP * np.arange(-LOCAL_STEPS, LOCAL_STEPS + 1))
        for rows in np.array_split(covered, 1 + len(covered) * len(times) // BLOCK):
            local = candidates.some(np.repeat(rows, len(times)))
            local = replace(local, parameter=local.parameter * np.tile(times, len(rows)))
            each = self._score(local).reshape(-1, len(times))
            out[rows] = np.take_along_axis(each, np.abs(each).argmin(axis=1)[:, None], axis=1)[:, 0]
        return out

    def _score(self, candidates: Candidates) -> Array:
        p, model, r = self._residuals(candidates)
        u = np.hypot(self.u_reading, model)
        counted, limited = self.counted, self.limited
        squares = np.square(r[:, counted] / u[:, counted]).sum(axis=1)
        over = np.square(np.maximum(p[:, limited] - self.limit[limited], 0) / u[:, limited])
        # a limit that a candidate keeps cannot fail, so that it is not one of the chances to read as badly as this
        free = len(counted) + np.minimum(over, 1.0).sum(axis=1)
        worst = squares + over.sum(axis=1) + self._unread(candidates, candidates.depth_um[:, None])[:, 0]
        tail = np.maximum(gammaincc(np.maximum(free, 1.0) / 2, worst / 2), 1e-300)
        return np.asarray(np.where(r[:, self.main] < 0, -1.0, 1.0) * -ndtri(tail / 2))

    def under(self, claim: Candidates) -> Callable[[Candidates], Array]:
        """Gives the score of the main metal of others, outside the range of a claim."""
        k, (p, model, _) = self.main, self._residuals(claim)
        share, u_model, u = p[:, k], float(model[:, k].max()), float(self.u_reading[k])
        return lambda others: score_of(outside(self.expected(others), share), u, u_model)

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


@cache
def _normal_shares() -> tuple[Array, Array]:
    x = np.linspace(-6.5, 6.5, 1301)
    return x, ndtr(x)


def _normal_share(x: Array) -> Array:
    """Distribution function of the normal distribution, within 1e-5, and a thousandth of its value down to 1e-9."""
    return np.asarray(np.interp(x, *_normal_shares()))


def _along_rows(rows: Array, at: Array) -> Array:
    """Values of rows (n, size) at places (n, steps), linear between them."""
    left = np.minimum(at.astype(np.intp), rows.shape[1] - 2)
    row = np.arange(len(rows))[:, None]
    return np.asarray(rows[row, left] + (at - left) * (rows[row, left + 1] - rows[row, left]))
