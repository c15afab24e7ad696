"""Constructions weighed against the readings, as rows of one body with one value of the free parameter.

The free parameter (skin thickness, share of a slug, of faces, of empty space) is integrated on a quadrature local to
each body. Its nodes lie where the reading that fixes it best leaves room, so that a narrow peak is never stepped over.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ..alloys.bodies import Bodies
from ..arrays import Array, Index
from ..pieces.candidates import Candidates
from ..pieces.constructions import CONSTRUCTIONS, Construction, Place
from ..readings.base import Observed
from .evidence import Evidence
from .rows import Rows

Spans = tuple[tuple[float, float, float], ...]  # shares and bounds of log-uniform parts of a prior

MOST_SKIN = 0.9  # share of the volume; with more, there is hardly any body left
NODES = 16  # of the free parameter, half of them on each side of its best value
ROWS_DOWN_TO = 1e-6  # rows below this share of the largest are dropped
HOPELESS = 1e-9  # rows whose density is so much less likely than the best are dropped early
PROBE = 16  # every 16th body is looked at first, to know how good the best ones are
MOVES = 1.5  # change of a score over a window above which the window is looked at more closely
SCAN, WIDE, FAR = 24, 0.25, 9.0  # nodes of a scan for the best thickness; window in ln worth one; score that is too far


@dataclass(frozen=True)
class Believed:
    """What is expected of one construction with one material: share of each body (points,), prior of the parameter.

    `by_volume` : bounds of the layer's share of the volume, in place of `spans`. `claimed` : whether the claim names
        it.
    """

    construction: int
    skin: int
    share: Array
    spans: Spans = ((1.0, 0.0, 0.0),)
    by_volume: tuple[float, float] | None = None
    claimed: bool = False

    @property
    def built(self) -> Construction:
        """The construction as a record."""
        return CONSTRUCTIONS[self.construction]

    @property
    def typical(self) -> tuple[tuple[float, float], ...]:
        """A few values of the parameter that stand for all, with their shares; no layer is thicker than it is made."""
        if not self.built.by_thickness:
            return self.built.typical
        made = [(value, share) for value, share in self.built.typical if value <= self.spans[-1][2]]
        whole = sum(share for _, share in made)  # 0 for a flash thinner than all of them
        return tuple((value, share / whole) for value, share in made)


def joined(parts: list[Rows]) -> Rows:
    """Several sets of rows joined into one, without the hopeless ones."""
    rows = Rows(*(np.concatenate([getattr(p, n) for p in parts]) for n in Rows.__dataclass_fields__))
    weight = rows.weight
    return rows.kept(ROWS_DOWN_TO * weight.max()) if len(weight) else rows


@dataclass(frozen=True)
class Solver:
    """Bodies and readings, from which it makes the rows of each construction that is thought possible."""

    bodies: Bodies
    evidence: Evidence
    _level: Index = field(init=False)

    def __post_init__(self) -> None:
        volume = self.evidence.volume
        level = volume.level(self.bodies.sigma) if volume else np.zeros(len(self.bodies.v), dtype=np.intp)
        object.__setattr__(self, "_level", level)

    def rows(self, believed: list[Believed]) -> Rows:
        """The rows of all constructions."""
        known = [b for b in believed if b.share.any()]
        best = self._best(known, 0.0, PROBE) if self.evidence.observed else 0.0
        parts = []
        for b in known:
            parts.append(self._rows(b, best))
            best = max(best, float(parts[-1].weight.max(initial=0.0)))
        return joined(parts)

    def _best(self, believed: list[Believed], best: float, every: int) -> float:
        """Largest weight among some of the bodies; all others must come near it to be looked at."""
        for b in believed:
            some = np.zeros_like(b.share)
            some[::every] = b.share[::every]
            best = max(best, float(self._rows(replace(b, share=some), best).weight.max(initial=0.0)))
        return best

    def _rows(self, b: Believed, best: float) -> Rows:
        """Rows of one construction; those that cannot come near `best`, the largest weight so far, are left out."""
        if b.built.place is Place.NOWHERE:
            return self._bare(b, best)
        if not b.built.by_thickness:
            return joined([self._integrated(b, span, None, best) for span in b.spans])
        b = self.in_um(b)
        thickest = float(self.evidence.form.skin_um(MOST_SKIN))  # a core must be left
        edges = np.geomspace(b.spans[0][1], b.spans[-1][2], 240)
        scale = (edges, np.maximum.accumulate(self.evidence.form.skin_share(edges)))
        return joined([self._integrated(b, span, scale, best) for span in spans_up_to(b.spans, thickest)])

    def in_um(self, b: Believed) -> Believed:
        """The same with a layer's share of the volume turned into a thickness."""
        if b.by_volume is None:
            return b
        low, high = self.evidence.form.skin_um(np.array(b.by_volume))
        return replace(b, spans=((1.0, float(low), float(high)),), by_volume=None)

    def _bare(self, b: Believed, best: float) -> Rows:
        point = np.flatnonzero(b.share > 0)
        likelihood = np.ones(len(point))
        if self.evidence.volume:
            likelihood = self.evidence.volume.pdf(self.bodies.v[point], self._level[point])
        return self._finished(b, point, np.zeros(len(point)), b.share[point], likelihood, best)

    def _finished(
        self, b: Believed, point: Index, parameter: Array, prior: Array, likelihood: Array, best: float
    ) -> Rows:
        """Rows with the other readings included, for those that the density leaves any hope."""
        size = len(point)
        rows = Rows(np.full(size, b.construction), point, np.full(size, b.skin), parameter, prior, likelihood)
        if size:
            rows = rows.kept(max(HOPELESS * rows.weight.max(), ROWS_DOWN_TO * best / self.evidence.peak))
        if self.evidence.observed and len(rows.point):
            other = self.evidence.pdf(rows.candidates(self.bodies, self.evidence))
            rows = Rows(rows.construction, rows.point, rows.skin, rows.parameter, rows.prior, rows.likelihood * other)
        return rows

    def _integrated(
        self, b: Believed, span: tuple[float, float, float], scale: tuple[Array, Array] | None, best_so_far: float
    ) -> Rows:
        """Nodes in ln(parameter) over the range that the readings leave of one part of the prior."""
        share, lowest, highest = span
        start, stop = np.log(lowest), np.log(highest)
        edges, of_edges = scale or (np.geomspace(lowest, highest, 240),) * 2
        point = np.flatnonzero(b.share > 0)
        dense = 1 / self.evidence.layers.v[b.skin] if b.skin >= 0 else 0.0
        reading, body = self.evidence.volume, 1 / self.bodies.v
        if reading is not None:
            low, high = reading.window(self.bodies.sigma[point])
            low, high = window_of_share(body[point], dense, 1 / high, 1 / np.maximum(low, 1e-9))
            best, _ = window_of_share(
                body[point], dense, np.full(len(point), 1 / reading.v), np.full(len(point), 1 / reading.v)
            )
            a = np.clip(np.log(np.interp(low, of_edges, edges, left=lowest, right=np.inf)), start, stop)
            z = np.clip(np.log(np.interp(high, of_edges, edges, left=1e-9)), start, stop)
            c = np.clip(np.log(np.interp(best, of_edges, edges)), a, np.maximum(a, z))
            hope = b.share[point] * reading.pdf(self._v(b, point, np.exp(c), scale), self._level[point])
            keep = (a < z) & (hope * self.evidence.peak >= ROWS_DOWN_TO * best_so_far)
            point, a, z, c = point[keep], a[keep], z[keep], c[keep]
        else:
            a, z = np.full(len(point), start), np.full(len(point), stop)
            c = (a + z) / 2
        a, z, c = self._narrowed(b, point, a, z, c)
        nodes, weight = _nodes_about(a, z, c)
        parameter = np.exp(nodes)
        prior = b.share[point][:, None] * share / (stop - start) * weight
        likelihood = np.ones_like(prior)
        if reading is not None:
            likelihood = reading.pdf(self._v(b, point[:, None], parameter, scale), self._level[point][:, None])
        return self._finished(
            b, np.repeat(point, NODES), parameter.ravel(), prior.ravel(), likelihood.ravel(), best_so_far
        )

    def _v(self, b: Believed, point: Index, parameter: Array, scale: tuple[Array, Array] | None) -> Array:
        """Specific volume [cm3/g] of whole pieces as a function of their parameter."""
        part = parameter if scale is None else np.interp(parameter, *scale)
        dense = 1 / self.evidence.layers.v[b.skin] if b.skin >= 0 else 0.0
        return np.asarray(1 / ((1 - part) / self.bodies.v[point] + part * dense))

    def _narrowed(self, b: Believed, point: Index, a: Array, z: Array, c: Array) -> tuple[Array, Array, Array]:
        """Windows about the best parameter, from the readings that show it, where the density leaves much room."""
        wide = np.flatnonzero(z - a > WIDE)
        if b.skin < 0 or not len(wide):
            return a, z, c
        a, z, c = a.copy(), z.copy(), c.copy()
        for observed in self.evidence.observed:
            ends = self._quick(observed, b, point[wide], np.stack([a[wide], z[wide]], axis=1))
            if ends is None:
                continue
            row = wide[np.abs(ends[:, 1] - ends[:, 0]) > MOVES]
            steps = a[row, None] + (z - a)[row, None] * np.linspace(0, 1, SCAN)
            score = self._quick(observed, b, point[row], steps)
            if score is not None and len(row):
                low, high, best = _window_of_scores(steps, score)
                a[row], z[row] = np.maximum(a[row], low), np.maximum(np.minimum(z[row], high), a[row])
                c[row] = np.clip(best, a[row], z[row])
        return a, z, c

    def _quick(self, observed: Observed, b: Believed, point: Index, steps: Array) -> Array | None:
        """Signed scores of one reading along the logarithm of the parameter, (points, steps)."""
        grid = Candidates(
            self.bodies,
            self.evidence.layers,
            self.evidence.form,
            np.full(steps.size, b.construction),
            np.repeat(point, steps.shape[1]),
            np.full(steps.size, b.skin),
            np.exp(steps).ravel(),
        )
        score = observed.quick(grid)
        return None if score is None else score.reshape(steps.shape)


def spans_up_to(spans: Spans, most: float) -> Spans:
    """The parts of a prior that lie below `most`, with their shares scaled to add up to 1."""
    total = sum(part for part, low, _ in spans if low < most)
    return tuple((part / total, low, min(high, most)) for part, low, high in spans if low < most)


def share_below(spans: Spans, ln_parameter: Array) -> Array:
    """Prior share below values of ln(parameter), from parts that are uniform in the logarithm."""
    ends = [(part, np.log(low), np.log(high)) for part, low, high in spans]
    return np.asarray(sum(part * np.clip((ln_parameter - a) / (z - a), 0, 1) for part, a, z in ends) + 0 * ln_parameter)


def _window_of_scores(steps: Array, score: Array) -> tuple[Array, Array, Array]:
    """Range of each row in which a signed score is not far from 0, and where it passes 0 or comes nearest to it."""
    size = steps.shape[1]
    near = np.abs(score) < FAR
    near |= np.concatenate([np.diff(np.sign(score), axis=1) != 0, np.zeros((len(steps), 1), dtype=bool)], axis=1)
    some = near.any(axis=1)
    first = np.where(some, near.argmax(axis=1), 0)
    last = np.where(some, size - 1 - near[:, ::-1].argmax(axis=1), size - 1)
    at = np.arange(len(steps))
    best = np.abs(score).argmin(axis=1)
    other = np.clip(best + np.where(score[at, best] * score[at, np.maximum(best - 1, 0)] < 0, -1, 1), 0, size - 1)
    crosses = score[at, best] * score[at, other] < 0
    gap = np.where(crosses, score[at, best] - score[at, other], 1.0)
    share = np.where(crosses, score[at, best] / gap, 0.0)
    peak = steps[at, best] + share * (steps[at, other] - steps[at, best])
    return steps[at, np.maximum(first - 1, 0)], steps[at, np.minimum(last + 1, size - 1)], peak


def _nodes_about(a: Array, b: Array, c: Array) -> tuple[Array, Array]:
    """Nodes and weights (rows, NODES) for integrals from `a` to `b`, dense about `c`, where the integrand peaks.

    They are Gauss-Legendre nodes in s on each side, with x = c +- L s^2: evenly spaced nodes would step over a peak
    that is narrow compared with the window that its heavy tails need.
    """
    x, weight = np.polynomial.legendre.leggauss(NODES // 2)
    s = (1 + x) / 2
    left, right = (c - a)[:, None], (b - c)[:, None]
    nodes = np.concatenate([c[:, None] - left * s**2, c[:, None] + right * s**2], axis=1)
    return nodes, np.concatenate([left * s * weight, right * s * weight], axis=1)


def window_of_share(body: Array, skin: float, low: Array, high: Array) -> tuple[Array, Array]:
    """Volume shares of skin for which the density lies between `low` and `high` [g/cm3].

    density = body + share (skin - body). If skin and body are equally dense, either any share fits or none does.
    """
    contrast = skin - body
    alike = np.abs(contrast) < 1e-6
    safe = np.where(alike, 1.0, contrast)
    one, two = (low - body) / safe, (high - body) / safe
    a, b = np.minimum(one, two), np.maximum(one, two)
    fits = (body >= low) & (body <= high)
    return np.where(alike, np.where(fits, 0.0, 2.0), a), np.where(alike, np.where(fits, 1.0, 2.0), b)
