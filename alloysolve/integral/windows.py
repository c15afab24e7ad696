"""Where the density leaves room for a layer, a slug or empty space: the cells with which the integration begins.

First for groups of bodies that are like one another, then for the bodies of those groups that are worth it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.groups import Groups
from ..arrays import Array, Index
from ..pieces.candidates import Along, Candidates
from ..pieces.constructions import Place
from .believed import Believed, spans_up_to
from .cells import Cells, some_for_all, weighty
from .evidence import Evidence

MOST_SKIN = 0.9  # share of the volume; with more, there is hardly any body left
LEAST_BY_DENSITY = 1e-9  # share of the weight by the density alone that is left out at once
WALLS = (0.5, 0.75, 0.875, 0.94)  # shares of a slug between which the wall around it changes little enough
EQUAL = 1e-6  # g/cm3, between densities that count as equal


@dataclass(frozen=True)
class Sheet:
    """One part of the prior of a construction under one material.

    Attributes
    ----------
    believed : what is expected of the material. low, high : ends of ln(parameter). per_ln : share of the prior per unit
        of it. least, most : the ends as shares of the volume. dense : density of the material [g/cm3], 0 for empty
        space.
    """

    believed: Believed
    low: float
    high: float
    per_ln: float
    least: float
    most: float
    dense: float

    @property
    def construction(self) -> int:
        """Number of the construction."""
        return self.believed.construction

    @property
    def skin(self) -> int:
        """Number of the material."""
        return self.believed.skin

    @property
    def thickness(self) -> bool:
        """Whether the parameter is a thickness [um] and not a share of the volume."""
        return self.believed.built.by_thickness


class Windows:
    """Cells of groups of bodies, and of the bodies in them.

    Attributes
    ----------
    cells : one for each group under each material, as far as the density of any of its bodies fits; `point` is the body
        that speaks for the group.
    """

    def __init__(self, believed: list[Believed], bodies: Bodies, groups: Groups, evidence: Evidence) -> None:
        self.bodies, self.evidence = bodies, evidence
        parts = [groups.within(b.share > 0) for b in believed]
        self.groups = Groups.joined(parts)
        self._share = np.concatenate([b.share[p.order] for b, p in zip(believed, parts, strict=True)])
        sheets = [list(_sheets(b, evidence)) for b in believed]
        names = ("construction", "skin", "thickness", "low", "high", "per_ln", "least", "most", "dense")
        self._columns = {name: np.array([getattr(s, name) for each in sheets for s in each]) for name in names}
        begin = np.cumsum([0] + [len(p) for p in parts])
        self.group = np.concatenate([np.arange(*begin[k : k + 2]) for k, each in enumerate(sheets) for _ in each])
        self.sheet = np.repeat(
            np.arange(len(self._columns["low"])), [len(parts[k]) for k, e in enumerate(sheets) for _ in e]
        )
        low, high, above = self._room(self.sheet, self._ends(), self._scatter())
        each = np.add.reduceat(self._share, self.groups.begin[:-1])[self.group] * self._columns["per_ln"][self.sheet]
        most = each * (high - low) * above
        some = np.flatnonzero(weighty(most, LEAST_BY_DENSITY * float(most.sum())))
        cells = Cells(*self._of(self.groups.speaker[self.group], self.sheet), each, low, high, most)
        self.sheet, self.group, self.cells = self.sheet[some], self.group[some], cells.some(some)

    def by_density(self, steps: Array) -> Array:
        """The highest density of the weighing for any body of each group between steps of ln(parameter)."""
        if self.evidence.volume is None:
            return np.ones((len(steps), steps.shape[1] - 1))
        parameter = np.exp(steps)
        v = np.array([self._along(point, parameter).v for point in self._ends()])
        low, high = v.min(axis=0), v.max(axis=0)
        low, high = np.minimum(low[:, :-1], low[:, 1:]), np.maximum(high[:, :-1], high[:, 1:])
        scatter = [np.repeat(s, low.shape[1]) for s in self._scatter()]
        return self._highest(np.stack([low.ravel(), high.ravel()]), scatter).reshape(low.shape)

    def members(self, row: Index, low: Array, high: Array, held: Array, few: float) -> tuple[Cells, Index]:
        """Cells of the bodies of some groups, between ends of ln(parameter), and from which of the groups each comes.

        `held` : about what each group holds there; of bodies that hold less than `few` of it, one stands for several.
        """
        place, of = self.groups.places(self.group[row])
        share = self._share[place]
        whole = np.bincount(of, share, len(row))
        kept, times = some_for_all(share * (held / whole)[of], few)
        place, of = place[kept], of[kept]
        point, sheet = self.groups.order[place], self.sheet[row][of]
        each = share[kept] * times * self._columns["per_ln"][sheet]
        first, last, above = self._room(sheet, [point], [self.bodies.sigma[point]])
        first, last = np.maximum(first, low[of]), np.minimum(last, high[of])
        fits = np.flatnonzero(first < last)
        cells = Cells(*self._of(point, sheet), each, first, last, each * (last - first) * above)
        return cells.some(fits), of[fits]

    def _ends(self) -> list[Index]:
        """The densest and the lightest body of each cell."""
        return [self.groups.densest[self.group], self.groups.lightest[self.group]]

    def _scatter(self) -> list[Array]:
        """The widest and the narrowest scatter of the density in each cell."""
        sigma, groups = self.bodies.sigma, self.groups
        return [groups.largest(sigma)[self.group], -groups.largest(-sigma)[self.group]]

    def _of(self, point: Index, sheet: Index) -> tuple[Index, Index, Index]:
        """Construction, body and material of cells."""
        return self._columns["construction"][sheet], point, self._columns["skin"][sheet]

    def _along(self, point: Index, parameter: Array) -> Along:
        e = self.evidence
        construction, point, skin = self._of(point, self.sheet)
        return Along(Candidates(self.bodies, e.layers, e.form, construction, point, skin, parameter[:, 0]), parameter)

    def _room(self, sheet: Index, ends: list[Index], scatter: list[Array]) -> tuple[Array, Array, Array]:
        """Ends of ln(parameter) between which the density fits, and the highest density of the weighing there.

        `ends` : bodies, or the densest and the lightest of several. `scatter` : theirs, the widest first.
        """
        low, high, least, most, dense = (self._columns[n][sheet] for n in ("low", "high", "least", "most", "dense"))
        reading = self.evidence.volume
        if reading is None:
            return low, high, np.ones(len(sheet))
        lightest, densest = (1 / x for x in reading.window(scatter[0])[::-1])
        body = [1 / self.bodies.v[end] for end in ends]
        each = [window_of_share(b, dense, lightest, densest) for b in body]
        first, last = np.min([x for x, _ in each], axis=0), np.max([x for _, x in each], axis=0)
        if len(ends) > 1:  # of bodies some lighter and some denser than the material, any share may fit
            around = (body[1] < dense + EQUAL) & (dense < body[0] + EQUAL)
            first, last = np.where(around, least, first), np.where(around, most, last)
        first = np.maximum(first, least)
        last = np.maximum(np.minimum(last, most), first)
        thickness, form = self._columns["thickness"][sheet], self.evidence.form
        low, high = (np.clip(np.where(thickness, form.ln_um(x), np.log(x)), low, high) for x in (first, last))
        v = np.array([1 / (b + x * (dense - b)) for b in body for x in (first, last)])
        return low, high, self._highest(v, scatter)

    def _highest(self, v: Array, scatter: list[Array]) -> Array:
        """The highest density of the weighing between the extremes of specific volumes, (n,); `v` : (any, n)."""
        reading = self.evidence.volume
        between = np.stack([v.min(axis=0), v.max(axis=0)], axis=1)
        each = [reading.most(between, reading.level(s))[:, 0] for s in scatter] if reading else [np.ones(v.shape[1])]
        return np.asarray(np.max(each, axis=0))


def _sheets(b: Believed, evidence: Evidence) -> Iterator[Sheet]:
    """One sheet for each part of the prior, cut where a reading changes all at once."""
    form, thickness = evidence.form, b.built.by_thickness
    spans = b.in_um(form).spans
    if thickness:  # a core must be left
        spans = spans_up_to(spans, float(form.skin_um(MOST_SKIN)))
    dense = float(1 / evidence.layers.v[b.skin]) if b.skin >= 0 else 0.0
    breaks = evidence.breaks(b.skin) if thickness else WALLS if b.built.place is Place.INSIDE else ()
    for part, lowest, highest in spans:
        edges = [lowest, *(um for um in breaks if lowest < um < highest), highest]
        for low, high in pairwise(edges):
            least, most = form.skin_share(np.array([low, high])) if thickness else (low, high)
            per_ln = part / np.log(highest / lowest)
            yield Sheet(b, np.log(low), np.log(high), per_ln, float(least), float(most), dense)


def window_of_share(body: Array, skin: Array | float, low: Array, high: Array) -> tuple[Array, Array]:
    """Volume shares of skin for which the density lies between `low` and `high` [g/cm3].

    density = body + share (skin - body). If skin and body are equally dense, either any share fits or none does.
    """
    contrast = skin - body
    alike = np.abs(contrast) < EQUAL
    safe = np.where(alike, 1.0, contrast)
    one, two = (low - body) / safe, (high - body) / safe
    a, b = np.minimum(one, two), np.maximum(one, two)
    fits = (body >= low) & (body <= high)
    return np.where(alike, np.where(fits, 0.0, 2.0), a), np.where(alike, np.where(fits, 1.0, 2.0), b)
