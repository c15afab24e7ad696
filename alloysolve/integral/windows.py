"""Where the density leaves room for a layer, a slug or empty space: the cells with which the integration begins."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..alloys.bodies import Bodies
from ..arrays import Array, Index
from .believed import Believed, Spans, spans_up_to
from .cells import Cells, joined_cells, weighty
from .evidence import Evidence

MOST_SKIN = 0.9  # share of the volume; with more, there is hardly any body left
FAINT = 1e-9  # share of the weight by the density alone that is left out at once


@dataclass(frozen=True)
class Sheet:
    """Bodies in one part of the prior, under materials that weigh alike: a skin over each of its strikes.

    Attributes
    ----------
    believed : what is expected of each material. point, share : the bodies, and their share over all materials.
    low, high : ends of ln(parameter). per_ln : share of the prior per unit of it. least, most : the ends as shares of
        the volume. dense : density of the materials [g/cm3], 0 for empty space.
    """

    believed: tuple[Believed, ...]
    point: Index
    share: Array
    low: float
    high: float
    per_ln: float
    least: float
    most: float
    dense: float

    def cells(self, point: Index, low: Array, high: Array, most: Array) -> Iterator[Cells]:
        """Windows of some bodies under each material; `most` is the highest density of the reading in each."""
        size = len(point)
        for b in self.believed:
            each = b.share[point] * self.per_ln
            of = np.full(size, b.construction), point, np.full(size, b.skin)
            yield Cells(*of, each, low, high, each * (high - low) * most)


def windows(believed: list[Believed], bodies: Bodies, evidence: Evidence, level: Index) -> Cells:
    """One cell for each body under each construction, material and part of the prior, as far as its density fits.

    `level` : number of the tabulated scatter of each body.
    """
    sheets = [s for alike in _alike(believed, evidence) for s in _sheets(alike, evidence)]
    if not sheets:
        return joined_cells([])
    number = np.repeat(np.arange(len(sheets)), [len(s.point) for s in sheets])
    point, share = (np.concatenate([getattr(s, name) for s in sheets]) for name in ("point", "share"))
    low, high, least, most, per_ln, dense = (
        np.array([getattr(s, name) for s in sheets])[number]
        for name in ("low", "high", "least", "most", "per_ln", "dense")
    )
    above = np.ones(len(point))
    reading = evidence.volume
    if reading is not None:
        body = 1 / bodies.v[point]
        lightest, densest = (1 / x[point] for x in reading.window(bodies.sigma)[::-1])
        first, last = window_of_share(body, dense, lightest, densest)
        first, last = np.maximum(first, least), np.minimum(last, most)
        fits = np.flatnonzero(first < last)
        number, point, share, per_ln, body, dense = (x[fits] for x in (number, point, share, per_ln, body, dense))
        first, last, low, high = (x[fits] for x in (first, last, low, high))
        thickness = np.array([s.believed[0].built.by_thickness for s in sheets])[number]
        ends = (np.where(thickness, evidence.form.ln_um(x), np.log(x)) for x in (first, last))
        low, high = (np.clip(x, low, high) for x in ends)
        v = np.stack([1 / (body + x * (dense - body)) for x in (first, last)], axis=1)
        above = reading.most(v, level[point])[:, 0]
    most = share * per_ln * (high - low) * above
    some = np.flatnonzero(weighty(most, FAINT * float(most.sum())))
    number, point = number[some], point[some]
    low, high, above = low[some], high[some], above[some]
    parts: list[Cells] = []
    for sheet, (begin, end) in zip(sheets, pairwise(np.searchsorted(number, np.arange(len(sheets) + 1))), strict=True):
        parts += sheet.cells(point[begin:end], low[begin:end], high[begin:end], above[begin:end])
    return joined_cells(parts)


def _alike(believed: list[Believed], evidence: Evidence) -> list[list[Believed]]:
    """What is expected, gathered by all that the density depends on."""
    out: dict[tuple[int, int, Spans, tuple[float, float] | None], list[Believed]] = {}
    for b in believed:
        plain = int(evidence.layers.plain[b.skin]) if b.skin >= 0 else -1
        out.setdefault((b.construction, plain, b.spans, b.by_volume), []).append(b)
    return list(out.values())


def _sheets(alike: list[Believed], evidence: Evidence) -> Iterator[Sheet]:
    """One sheet for each part of the prior, cut where a reading changes all at once."""
    share = np.sum([b.share for b in alike], axis=0)
    point = np.flatnonzero(share > 0)
    first, form, layers = alike[0], evidence.form, evidence.layers
    thickness = first.built.by_thickness
    spans = first.in_um(form).spans
    if thickness:  # a core must be left
        spans = spans_up_to(spans, float(form.skin_um(MOST_SKIN)))
    dense = float(1 / layers.v[first.skin]) if first.skin >= 0 else 0.0
    breaks = evidence.breaks(first.skin) if thickness else ()
    for part, lowest, highest in spans:
        edges = [lowest, *(um for um in breaks if lowest < um < highest), highest]
        for low, high in pairwise(edges):
            ends = form.skin_share(np.array([low, high])) if thickness else np.array([low, high])
            per_ln = part / np.log(highest / lowest)
            least, most = (float(x) for x in ends)
            wide = float(np.log(low)), float(np.log(high))
            yield Sheet(tuple(alike), point, share[point], *wide, per_ln, least, most, dense)


def window_of_share(body: Array, skin: Array | float, low: Array, high: Array) -> tuple[Array, Array]:
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
