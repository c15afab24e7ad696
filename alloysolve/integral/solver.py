"""Constructions weighed against the readings, as rows of one body with one value of the free parameter.

The free parameter (skin thickness, share of a slug, of faces, of empty space) is integrated where it can matter. Every
reading says how likely it can be at most between two values of the parameter. So cells (`cells`) that together hold
next to nothing are left out, the others are split, until the weight changes little from one to the next; then each is
integrated by a few nodes.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.groups import Groups
from ..arrays import Array, Index, Mask
from ..pieces.candidates import Along, Candidates
from ..pieces.constructions import Place
from ..special import legendre_rule
from .believed import Believed
from .cells import Cells, few_of, joined_cells, some_for_all, thinned, weighty
from .evidence import Evidence
from .rows import Rows
from .windows import Windows

LEFT_OUT = 3e-5  # share of the weight that may be in what is never integrated, so that less than 1e-4 is (tested)
LEAST_BARE = 1e-9  # share of the weight of bare bodies that is left out before each reading
PROBED = 150  # bare bodies and cells that are looked at first, to know how likely the best are
PARTS = (4, 5, 5, 4)  # into which cells are split, one time after the other
# A cell is integrated as it is if its middle node finds less than so many times the fuller of the others, if no node
# finds so many times another, and, the first time, if it can hold less than so many times what its nodes find. Then
# three nodes miss the integral over a normal curve by less than 1 %.
PEAKED, STEEP, HIDDEN = 1.5, 12.0, 10.0
UNEVEN = 300.0  # how many times what a neighbour can hold a cell may hold, to be tried at nodes at all
LIGHT = 0.03  # share of the weight, in the lightest cells together, that is not split again
FEW = 1e-4  # share of the weight; of cells that can hold less, one stands for several
CROWD = 20000  # the most cells that are followed where readings disagree so much that bounds tell little
THRONG = 150000  # about the most bodies that are then asked at first
LEAST_HELD = 1e-7  # share of what such bodies can hold that is left out before each reading
SPOKEN = 4  # parts of its window for which one body speaks for those like it
HINTED = 5e-5  # share of the weight; of cells that hold less by what one like them says, one stands for several
UNLIKE = 1000.0  # how many times likelier than the one that speaks for it a cell may be (measured)
UNHEARD = 0.25  # share of the weight, in steps of `HINTED`, of bodies that are asked whatever one like them says
LOOSE = 3.0  # how many times more may be left out at most of whole windows, which hold far less than they can hold
TELLING = 1e4  # times the weight found that bounds may add up to, if they are to say where the weight is
LEAST = 1e-300  # in place of nothing
NODES = 3  # of each cell
ROWS_DOWN_TO = 1e-7  # rows below this share of the largest are dropped


def joined(parts: list[Rows]) -> Rows:
    """Several sets of rows joined into one, without the hopeless ones."""
    if not parts:
        none = np.zeros(0)
        return Rows(*(none.astype(np.intp),) * 3, none, none, none)
    rows = Rows(*(np.concatenate([getattr(p, n) for p in parts]) for n in Rows.__dataclass_fields__))
    weight = rows.weight
    return rows.kept(ROWS_DOWN_TO * weight.max()) if len(weight) else rows


def alike(one: Array, two: Array) -> Array:
    """Shares by two measures, that of each added up to 1: what either finds heavy is."""
    return np.asarray(one / max(float(one.sum()), LEAST) + two / max(float(two.sum()), LEAST))


@dataclass(frozen=True)
class Solver:
    """Bodies and readings, from which it makes the rows of each construction that is thought possible.

    `known` : weight that stands beside the rows, that of "something else". `left_out` : share of the whole weight that
    may be in what is never integrated.
    """

    bodies: Bodies
    evidence: Evidence
    known: float = 0.0
    left_out: float = LEFT_OUT
    _level: Index = field(init=False)

    def __post_init__(self) -> None:
        volume = self.evidence.volume
        level = volume.level(self.bodies.sigma) if volume else np.zeros(len(self.bodies.v), dtype=np.intp)
        object.__setattr__(self, "_level", level)

    def rows(self, believed: list[Believed]) -> Rows:
        """The rows of all constructions."""
        known = [b for b in believed if b.share.any()]
        parts = [self._bare(b) for b in known if b.built.place is Place.NOWHERE]
        total = self.known + sum(float(rows.weight.sum()) for rows in parts)
        built = [b for b in known if b.built.place is not Place.NOWHERE]
        if built:
            parts.append(self._integrated(Windows(built, self.bodies, self._groups, self.evidence), total))
        return joined(parts)

    @property
    def _groups(self) -> Groups:
        """The bodies in groups that the readings can hardly tell apart."""
        return self.bodies.like if self.evidence.sees_more else self.bodies.near

    def _bare(self, b: Believed) -> Rows:
        """Rows of pieces that are nothing but a body; some stand for others of which each holds little."""
        point, volume = np.flatnonzero(b.share > 0), self.evidence.volume
        size, likelihood = len(point), np.ones(len(point))
        if volume:
            likelihood = volume.pdf(self.bodies.v[point], self._level[point])
        of = np.full(size, b.construction), point, np.full(size, b.skin)
        rows = Rows(*of, np.zeros(size), b.share[point], likelihood)
        if self.evidence.observed and size > PROBED:
            best = rows.some(np.argpartition(-rows.weight, PROBED)[:PROBED])
            least = max(self.known, float(self._asked(best).weight.sum()))
            rows = rows.some(weighty(rows.weight * self.evidence.peak, self.left_out * least))
        rows = self._asked(rows)
        kept, times = some_for_all(rows.weight, FEW * max(self.known, float(rows.weight.sum())))
        rows = rows.some(kept)
        return replace(rows, prior=rows.prior * times)

    def _asked(self, rows: Rows) -> Rows:
        """Rows with all readings included; those that are hopeless are left out on the way."""
        for group in self.evidence.groups:
            rows = rows.some(weighty(rows.weight, LEAST_BARE * float(rows.weight.sum())))
            if not len(rows.point):
                break
            found = self.evidence.pdf_of(group, rows.candidates(self.bodies, self.evidence))
            rows = replace(rows, likelihood=rows.likelihood * found)
        return rows

    def _integrated(self, windows: Windows, total: float) -> Rows:
        """Rows of cells, beside a total weight that is known already.

        One body speaks for all of its group at equal steps of ln(parameter). Groups that are hopeless by what it says
        are left out; of bodies that hold little by it, some stand for the others.
        """
        groups = windows.cells
        steps = groups.edges(SPOKEN)
        dense, said = self._said(windows, steps)
        held = dense * said
        low, high = steps[:, :-1].ravel(), steps[:, 1:].ravel()

        def members(part: Index, about: Array = held, few: float = 0.0) -> tuple[Cells, Array]:
            cells, of = windows.members(part // SPOKEN, low[part], high[part], about[part], few)
            return cells, cells.most * said[part[of]]

        least = total + self._best(*members(np.argsort(-held, kind="stable")[:PROBED]), total)
        telling = held.sum() <= TELLING * least
        if not telling:
            middle = groups.each[:, None] * self._likelihood(groups, (steps[:, :-1] + steps[:, 1:]) / 2)
            found = (middle * np.diff(steps, axis=1)).ravel()
            least = max(least, total + self._best(*members(np.argsort(-found, kind="stable")[:PROBED]), total))
        some = np.flatnonzero(weighty(held * UNLIKE, self.left_out * LOOSE * least))
        # bodies may be unlike the one that speaks for them: part of those asked are taken by the density alone
        heard = min(said.max(initial=0.0) / UNLIKE, UNHEARD * least / max(float(dense[some].sum()), LEAST))
        about, few = dense * np.maximum(said, heard), HINTED * least
        if not telling:
            about, few = alike(about, found), 1 / THRONG
        cells, _ = members(some, about, few)
        cells, _ = self._split(cells, 1, least)
        cells, _ = self._fewer(cells, FEW * least)
        return self._found(cells, least)

    def _said(self, windows: Windows, steps: Array) -> tuple[Array, Array]:
        """The most that each group can hold between steps by the density, and times how much by other readings.

        Both are (groups x parts,).
        """
        groups = windows.cells
        said = np.ones((len(groups), SPOKEN))
        dense = groups.each[:, None] * np.diff(steps, axis=1) * windows.by_density(steps)
        a = self._along(groups, steps)
        for group in self.evidence.groups:
            best = (dense * said).max(axis=1)
            some = weighty(best, LEAST_HELD * float(best.sum()))
            said[~some] = 0.0
            said[some] *= self.evidence.most_of(group, a.some(some))
        return dense.ravel(), said.ravel()

    def _best(self, cells: Cells, about: Array, total: float) -> float:
        """Weight of those cells that hold most; `about` : about what each holds."""
        if not len(cells):
            return 0.0
        best = np.argsort(-about, kind="stable")[:PROBED]
        cells, _ = self._split(cells.some(best), PARTS[0], total)
        return float(self._at_nodes(cells)[1].mean(axis=1).sum()) / 2

    def _found(self, cells: Cells, total: float) -> Rows:
        """Rows of cells, which are split until their nodes find what they can hold."""
        done: list[Rows] = []
        for turn, parts in enumerate(PARTS):
            last = turn + 1 == len(PARTS)
            cells, even = self._split(cells, parts, total)
            light = ~weighty(cells.most, LIGHT * total)
            cells, kept = self._fewer(cells, FEW * total)
            even, light = even[kept], light[kept]
            ready = light | even | last
            left, cells, light = cells.some(~ready), cells.some(ready), light[ready]
            rows, each = self._at_nodes(cells)
            outer, inner = np.maximum(each[:, 0], each[:, 2]), each[:, 1]
            top, least = np.maximum(outer, inner), each.min(axis=1)
            seen = (inner <= PEAKED * outer) & (top <= STEEP * least)
            if turn == 0:
                seen &= cells.most <= HIDDEN * top
            seen |= light | last
            done.append(rows.some(np.repeat(seen, NODES)))
            total = max(total, sum(float(rows.weight.sum()) for rows in done))
            cells = joined_cells([left, cells.some(~seen)])
            if not len(cells):
                break
        return joined(done)

    def _fewer(self, cells: Cells, few: float) -> tuple[Cells, Index]:
        """Cells with one for several of those that can hold little, and which of the cells they are.

        Where they are too many, bounds tell little: half of what counts is what the middle of each cell finds.
        """
        held = cells.most
        if len(cells) > CROWD and float(held.sum()) > few * CROWD:
            middle = (cells.low + cells.high)[:, None] / 2
            found = cells.each * (cells.high - cells.low) * self._likelihood(cells, middle)[:, 0]
            held = alike(held, found)
            few = few_of(held, CROWD)
        return thinned(cells, held, few)

    def _split(self, cells: Cells, parts: int, total: float) -> tuple[Cells, Mask]:
        """Cells cut into equal parts, and which of these have no neighbour that holds far less.

        Those that hold next to nothing are left out, reading by reading.
        """
        left_out = self.left_out * total
        ahead = self.evidence.peak
        if parts > 1:
            cells = cells.some(weighty(cells.most, left_out))
        most = self._by_density(cells, parts) if parts > 1 else cells.most[:, None]
        for group in self.evidence.groups:
            some = weighty(most.sum(axis=1) * ahead, left_out)
            cells, most = cells.some(some), most[some]
            most = most * self.evidence.most_of(group, self._along(cells, cells.edges(parts)))
            ahead /= self.evidence.peak_of(group)
        if parts == 1 and total > 0:  # whole windows hold far less than they can hold
            left_out *= float(np.clip(most.sum() / (4 * total), 1.0, LOOSE))
        beside = np.pad(most, ((0, 0), (1, 1)), mode="edge")
        even = most <= UNEVEN * np.minimum(beside[:, :-2], beside[:, 2:])
        cells = replace(cells.repeated(parts), most=most.ravel())
        some = weighty(cells.most, left_out)
        return cells.some(some), even.ravel()[some]

    def _by_density(self, cells: Cells, parts: int) -> Array:
        """The most that equal parts of each cell can hold by the density alone, (cells, parts)."""
        held = (cells.each * (cells.high - cells.low) / parts)[:, None]
        reading = self.evidence.volume
        if reading is None:
            return np.repeat(held, parts, axis=1)
        return held * reading.most(self._along(cells, cells.edges(parts)).v, self._level[cells.point])

    def _along(self, cells: Cells, ln_parameter: Array) -> Along:
        """Cells as pairs with values of ln(parameter), (cells, steps)."""
        pairs = Candidates(
            self.bodies,
            self.evidence.layers,
            self.evidence.form,
            cells.construction,
            cells.point,
            cells.skin,
            np.exp(ln_parameter[:, 0]),
        )
        return Along(pairs, np.exp(ln_parameter))

    def _at_nodes(self, cells: Cells) -> tuple[Rows, Array]:
        """Rows of cells by Gauss-Legendre nodes in ln(parameter), and what each finds in its cell, (cells, nodes)."""
        x, weight = legendre_rule(NODES)
        wide = cells.high - cells.low
        at = cells.low[:, None] + wide[:, None] * x
        likelihood, held = self._likelihood(cells, at), (cells.each * wide)[:, None]
        construction, point, skin = (np.repeat(n, NODES) for n in (cells.construction, cells.point, cells.skin))
        prior = (held * weight).ravel()
        return Rows(construction, point, skin, np.exp(at).ravel(), prior, likelihood.ravel()), held * likelihood

    def _likelihood(self, cells: Cells, ln_parameter: Array) -> Array:
        """Likelihood of all readings at values of ln(parameter), (cells, steps)."""
        a = self._along(cells, ln_parameter)
        out = np.ones(ln_parameter.shape)
        if self.evidence.volume:
            out = self.evidence.volume.pdf(a.v, self._level[cells.point][:, None])
        for group in self.evidence.groups:
            out = out * self.evidence.along_of(group, a)
        return out
