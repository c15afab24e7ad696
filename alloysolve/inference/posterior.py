"""Probabilities over joint rows: by system, by construction, with ranges and precious content."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.materials import Layers
from ..arrays import Array, Index, Mask, distinct
from ..integral.rows import Rows
from ..measured import Measured
from ..pieces.constructions import CONSTRUCTIONS, Place
from .groups import Groups, Range, fractions, quantiles_by
from .systems import ConstructionFound, System

ALIKE = 3.0  # likelihood ratio within which two candidates cannot be told apart
CANDIDATE_FROM = 1e-5  # probability of a construction of a system from which it is told apart
STEP = 5e-6  # probability for which one of several unlikely bodies may stand where compositions are summed up
CANDIDATE_PARAMETER_FROM, CANDIDATE_RANGES_FROM = 1e-3, 5e-3  # probability
LISTED_FROM = 1e-3  # probability of the last system that is listed
LEFT_OUT = 1e-3  # share of the rows of a group that are too unlikely to matter for its precious content
TRACE = 0.0005  # mass fraction below which a precious metal is not mentioned
HALVINGS = 64  # bins of probabilities, each half as large as the next


def reads_alike(first: float, other: float) -> bool:
    """Whether readings cannot tell two candidates apart, from their mean likelihoods."""
    return first / ALIKE <= other <= first * ALIKE


@dataclass(frozen=True)
class PriorShares:
    """Total prior share by system number, and by (construction, group of skins) and system number.

    The latter is given for each level of what readings show (`Prior.levels`).
    """

    by_system: Array
    by_kind: Sequence[Mapping[tuple[int, int], Array]]


@dataclass(frozen=True)
class Runs:
    """Rows of one body and one kind that stand together: number of the kind, body, share of belief, first row."""

    kind: Index
    point: Index
    share: Array
    first: Index


@dataclass(frozen=True)
class Posterior:
    """Rows with their probabilities; `other` is that of "something else"."""

    bodies: Bodies
    layers: Layers
    level: int
    rows: Rows
    share: Array
    total: float
    other: float
    other_evidence: float
    prior: PriorShares

    @classmethod
    def of(
        cls,
        bodies: Bodies,
        layers: Layers,
        rows: Rows,
        prior: PriorShares,
        level: int,
        other_prior: float,
        other_likelihood: float,
    ) -> Posterior:
        """Prior times likelihood, normalised over all rows and "something else", which remains if nothing fits."""
        weight, of_other = rows.weight, other_prior * other_likelihood
        total = float(weight.sum() + of_other)
        if total <= 0:  # readings that neither a body nor any other metal can give together
            total = of_other = other_prior
        return cls(bodies, layers, level, rows, weight / total, total, of_other / total, other_likelihood, prior)

    @cached_property
    def kinds(self) -> tuple[tuple[int, int], ...]:
        """What is told apart: constructions, each with its group of skins or -1."""
        return tuple(self.prior.by_kind[self.level])

    @cached_property
    def runs(self) -> Runs:
        """Rows in runs of one body and kind."""
        r = self.rows
        if not len(r.point):
            none = np.zeros(0, dtype=np.intp)
            return Runs(none, none, np.zeros(0), none)
        begins = (np.diff(r.point) != 0) | (np.diff(r.skin) != 0) | (np.diff(r.construction) != 0)
        first = np.concatenate([[0], np.flatnonzero(begins) + 1])
        skin = r.skin[first]
        group = np.where(skin >= 0, self.layers.group[skin], -1)
        number = np.full((len(CONSTRUCTIONS), int(self.layers.group.max()) + 2), -1)
        for n, (construction, of) in enumerate(self.kinds):
            number[construction, of + 1] = n
        return Runs(number[r.construction[first], group + 1], r.point[first], np.add.reduceat(self.share, first), first)

    @cached_property
    def by_point(self) -> Array:
        """Probability of each body, over all constructions together."""
        return np.asarray(np.bincount(self.runs.point, self.runs.share, len(self.bodies.v)), dtype=float)

    @cached_property
    def by_kind(self) -> Mapping[tuple[int, int], Array]:
        """Probability of each body for each of `kinds`."""
        runs, size = self.runs, len(self.bodies.v)
        of = [runs.kind == n for n in range(len(self.kinds))]
        return {
            kind: np.asarray(np.bincount(runs.point[m], runs.share[m], size), dtype=float)
            for kind, m in zip(self.kinds, of, strict=True)
        }

    @cached_property
    def by_system(self) -> Array:
        """Probability of each system."""
        size = len(self.bodies.systems)
        return np.asarray(np.bincount(self.bodies.system[self.runs.point], self.runs.share, size), dtype=float)

    @cached_property
    def described(self) -> dict[int, System]:
        """Systems that were asked for, by number."""
        return {}

    def systems(self, down_to: float = LISTED_FROM, most: int | None = None) -> list[System]:
        """Systems in order of probability, down to a least one; only the first few if a number is given."""
        shares = self.by_system
        order = [int(s) for s in np.argsort(-shares, kind="stable") if shares[s] >= down_to]
        evidence = [self._evidence(shares[s], self.prior.by_system[s]) for s in order]
        following = [*evidence[1:], self.other_evidence][: len(evidence)]  # none, where only something else fits
        factor = [e / f if f > 0 else float("inf") for e, f in zip(evidence, following, strict=True)]
        alike = [n > 0 and reads_alike(evidence[0], e) for n, e in enumerate(evidence)]
        listed = order[:most]
        self._describe([s for s in listed if s not in self.described])
        for n, s in enumerate(listed):
            self.described[s] = replace(
                self.described[s],
                probability=float(shares[s]),
                evidence=evidence[n],
                bayes_factor_against_next=factor[n],
                alike=alike[n],
            )
        return [self.described[s] for s in listed]

    def _describe(self, listed: Sequence[int]) -> None:
        """Adds systems to `described`, not yet compared with each other."""
        if not listed:
            return
        of_system, constructions = self._grouped(listed)
        ranges, grades = of_system.ranges(np.ones(len(listed), dtype=bool)), of_system.grades()
        for n, s in enumerate(listed):
            metals = of_system.metals(n, self.bodies.systems[s])
            self.described[s] = System(metals, 0.0, 0.0, 0.0, False, ranges[n], grades[n], tuple(constructions[n]))

    def _grouped(self, listed: Sequence[int]) -> tuple[Groups, list[list[ConstructionFound]]]:
        """The bodies of some systems, and their constructions in order of probability."""
        runs, kinds = self.runs, len(self.kinds)
        place = np.full(len(self.bodies.systems), -1)
        place[list(listed)] = np.arange(len(listed))
        of_run = place[self.bodies.system[runs.point]]
        pair = np.where(of_run >= 0, of_run * kinds + runs.kind, -1)
        order = np.argsort(pair, kind="stable")[np.count_nonzero(pair < 0) :]
        kept, share = thinned(pair[order], runs.share[order])
        order = order[kept]
        point = runs.point[order]
        w = fractions(self.bodies, point)
        numbers, begin = np.unique(pair[order], return_index=True)
        end = [len(order)]
        of_system = Groups(
            self.bodies, point, share, w, np.searchsorted(pair[order], np.arange(len(listed) + 1) * kinds)
        )
        of_pair = Groups(self.bodies, point, share, w, np.concatenate([begin, end]))
        return of_system, self._constructions(listed, of_pair, numbers, pair)

    def _constructions(
        self, listed: Sequence[int], groups: Groups, numbers: Index, pair: Index
    ) -> list[list[ConstructionFound]]:
        """Constructions of each system in order of probability, from groups of one pair of system and kind each."""
        out: list[list[ConstructionFound]] = [[] for _ in listed]
        shares = np.bincount(pair + 1, self.runs.share, numbers[-1] + 2)[numbers + 1]
        ranges = groups.ranges(shares >= CANDIDATE_RANGES_FROM)
        families, grades = groups.families(), groups.grades()
        parameters = self._parameters(numbers[shares >= CANDIDATE_PARAMETER_FROM], pair)
        for n, (number, share) in enumerate(zip(numbers.tolist(), shares.tolist(), strict=True)):
            if share < CANDIDATE_FROM:
                continue
            place, kind = divmod(number, len(self.kinds))
            construction, skin = self.kinds[kind]
            built, parameter = CONSTRUCTIONS[construction], parameters.get(number)
            out[place].append(
                ConstructionFound(
                    groups.metals(n, self.bodies.systems[listed[place]]),
                    built.name,
                    self.layers.skin_name(skin) if skin >= 0 else "",
                    self.layers.strike_name(skin) if skin >= 0 else "",
                    families[n],
                    share,
                    self._evidence(share, self.prior.by_kind[self.level][construction, skin][listed[place]]),
                    ranges[n],
                    parameter if built.by_thickness else None,
                    _percent(parameter) if built.place is Place.VOID else None,
                    _percent(parameter) if built.by_share else None,
                    grades[n],
                )
            )
        return [sorted(found, key=lambda c: -c.probability) for found in out]

    def _parameters(self, wanted: Index, pair: Index) -> dict[int, Range]:
        """95 % range of the free parameter of some pairs of system and kind: thickness [um] or share of the volume.

        `pair` : the pair of each run.
        """
        free = np.array([CONSTRUCTIONS[c].place is not Place.NOWHERE for c, _ in self.kinds])
        wanted = wanted[free[wanted % len(self.kinds)]]
        if not len(wanted):
            return {}
        place = np.full(int(pair.max()) + 2, -1)
        place[wanted] = np.arange(len(wanted))
        each = np.repeat(place[pair], np.diff(np.append(self.runs.first, len(self.rows.point))))
        some = np.flatnonzero(each >= 0)
        found = quantiles_by(each[some], self.rows.parameter[some], self.share[some], len(wanted))
        return {int(n): (float(a), float(b), float(c)) for n, (a, b, c) in zip(wanted, found, strict=True)}

    def among(self, keep: Mask, prior: PriorShares) -> Posterior:
        """The posterior over some of the rows only; `prior` is that of the rows that are kept."""
        out = replace(self, rows=self.rows.some(keep), share=self.share[keep], prior=prior)
        touched = set(distinct(self.bodies.system[self.rows.point[~keep]]).tolist())
        out.described.update({s: found for s, found in self.described.items() if s not in touched})
        return out

    def _evidence(self, share: float, prior: float) -> float:
        """Mean likelihood of a group over its prior."""
        return float(share * self.total / prior) if prior > 0 else 0.0

    def ranges(self, of: Mask) -> dict[str, Range]:
        """95 % ranges [percent] of the metals of some bodies together, the richest first; of a mask over the points."""
        at = np.flatnonzero(of[self.runs.point])
        if not len(at):
            return {}
        point = self.runs.point[at]
        every = Groups(self.bodies, point, self.runs.share[at], fractions(self.bodies, point), np.array([0, len(at)]))
        return every.ranges(np.array([True]))[0]

    def precious(
        self, symbols: Iterable[str], skin_mass_share: Array, mass_g: float | None, among: Mask
    ) -> dict[str, Measured]:
        """Content of each precious metal over some of the rows: 95 % range, in grams if the mass is known.

        `skin_mass_share` is per row. "Something else" has no composition and is left out.
        """
        return self.precious_by(symbols, skin_mass_share, mass_g, np.where(among, 0, -1), 1)[0]

    def precious_by(
        self, symbols: Iterable[str], skin_mass_share: Array, mass_g: float | None, group: Index, count: int
    ) -> list[dict[str, Measured]]:
        """`precious` of each of `count` groups of rows, from the number of the group of each row, -1 for none."""
        out: list[dict[str, Measured]] = [{} for _ in range(count)]
        scale, unit = (mass_g, "g") if mass_g else (100.0, "%")
        index = self.bodies.law.index
        keep = _that_matter(group, self.share, count)
        number, point, skin = group[keep], self.rows.point[keep], self.rows.skin[keep]
        share, skin_part = self.share[keep], skin_mass_share[keep]
        total = np.bincount(number, share, count)
        for s in [s for s in symbols if s in index]:
            in_skin = np.where(skin >= 0, self.layers.w[skin, index[s]], 0.0) * skin_part
            part = self.bodies.w[point, index[s]] * (1 - skin_part) + in_skin
            some = np.flatnonzero(part > 0)
            if not len(some) or part.max() < TRACE:
                continue
            none = np.maximum(total - np.bincount(number[some], share[some], count), 0.0)
            groups = np.append(number[some], np.arange(count))  # all rows without it stand as one of content 0
            ends = quantiles_by(groups, np.append(part[some], np.zeros(count)), np.append(share[some], none), count)
            mean = np.bincount(number, share * part, count) / np.maximum(total, 1e-300)
            u = np.sqrt(np.bincount(number, share * (part - mean[number]) ** 2, count) / np.maximum(total, 1e-300))
            for g in np.flatnonzero((ends[:, 2] >= TRACE) & (total > 0)):
                low, likely, high = (ends[g] * scale).tolist()
                out[g][s] = Measured(likely, float(u[g]) * scale, unit, low, high)
        return out

    def holds(self, symbol: str, from_percent: float) -> float:
        """Probability of pieces whose body, layer, slug or joined part holds at least this share of a metal."""
        if symbol not in self.bodies.law.index:
            return 0.0
        at, least = self.bodies.law.index[symbol], from_percent / 100 - 1e-9
        skin = self.rows.skin[self.runs.first]
        beside = (skin >= 0) & (self.layers.w[skin, at] >= least)
        return float(self.runs.share[(self.bodies.w[self.runs.point, at] >= least) | beside].sum())


def _that_matter(group: Index, share: Array, count: int) -> Index:
    """The rows of each group without the unlikeliest, which together hold no more than `LEFT_OUT` of it.

    Probabilities are compared by their powers of two.
    """
    some = np.flatnonzero((group >= 0) & (share > 0))
    power = np.clip(np.frexp(share[some])[1] + HALVINGS - 1, 0, HALVINGS - 1)
    table = np.bincount(group[some] * HALVINGS + power, share[some], count * HALVINGS).reshape(count, HALVINGS)
    cut = (np.cumsum(table, axis=1) <= LEFT_OUT * table.sum(axis=1, keepdims=True)).sum(axis=1)
    return np.asarray(some[power >= cut[group[some]]])


def thinned(group: Index, share: Array, step: float = STEP) -> tuple[Index, Array]:
    """Numbers and shares of some entries, of which an unlikely one stands for its neighbours of `step` together.

    `group` : the group of each, in rising order; its first entry is kept.
    """
    small = share < step
    steps = np.floor(np.cumsum(np.where(small, share, 0.0)) / step + 0.5)
    stands = small & (np.diff(steps, prepend=0.0) > 0)
    kept = np.flatnonzero(~small | stands | (np.diff(group, prepend=-1) > 0))
    return kept, np.where(stands, step, share)[kept]


def _percent(span: Range | None) -> Range | None:
    return (100 * span[0], 100 * span[1], 100 * span[2]) if span else None
