"""How likely an X-ray reading is along the thickness of a skin: at steps, and at most between them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from ...arrays import Array, Index, Mask
from ...pieces.candidates import Along, Candidates
from ...special import ndtr
from ..error_model import LIKELIEST, mixture_pdf, quadrature_sum
from ..ratio import bound_by_parts
from .intensities import U_ENDS, U_MIDDLE, Intensities
from .lines_through import Through

OTHER_SHARE = 0.01  # density per percentage point under "something else"
OTHER_BELOW = 0.7  # share of "something else" without any metal that was listed and not printed (judgement)
NO_TRACE = 0.02  # of a limit, below which a metal is as good as absent
# at one place, worn or thick, the skin is a tenth to ten times its mean (judgement), uniform in the logarithm
LOCAL_STEP, LOCAL_STEPS = 0.4, 6
LOCAL_UM = np.exp(LOCAL_STEP * np.arange(-6, 20))  # um
UNEVEN_PEAK = 0.3  # a mean over thicknesses is never as high as its highest
# margins between steps (tested): of the change of a share; its slope over the change; any slope
SLACK, STEEPEST, STEEPEST_POINTS = 0.3, 0.6, 60.0
SWELLS = 1.2  # by how much scatter may grow between two steps where a share falls to nothing
HOPELESS = 1e-9  # of the density of "something else", below which nothing more is looked at
BRIGHTEST = 2.0  # most that all lines of any body give together, of the brightest pure metal
MANY = 50  # pairs under one skin, from which a common grid pays
BLOCK = 16384  # pairs times steps computed at a time


@dataclass(frozen=True, eq=False)
class AlongSkins(Intensities):
    """How likely a reading is along the thickness of a skin, at steps and between them."""

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
        # a skin that holds nothing of what was printed and lets nothing through would print none of it
        p = 100 * own / np.maximum(own.sum(axis=2, keepdims=True) + others, np.finfo(float).tiny)
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
