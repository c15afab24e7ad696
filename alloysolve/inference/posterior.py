"""Probabilities over joint rows: by system, by candidate, with ranges and precious content."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.materials import Layers
from ..arrays import Array, Index, Mask
from ..measured import Measured
from ..pieces.constructions import BY_NAME, CONSTRUCTIONS, Construction, Place
from .rows import Rows

ALIKE = 3.0  # likelihood ratio within which two candidates cannot be told apart
SHOWN_FROM = 0.01  # mass fraction from which a metal's range is given
CANDIDATE_RANGES_FROM = 5e-3  # share of belief
LISTED_FROM = 1e-3  # probability of the last system that is listed
LEFT_OUT = 1e-3  # probability of the rows that are too unlikely to matter for the precious content
MOSTLY, MATTERS = 0.5, 0.1  # shares of a system from which a family names it alone, and from which it may name it
TRACE = 0.0005  # mass fraction below which a precious metal is not mentioned


@dataclass(frozen=True)
class ConstructionFound:
    """A construction of one system, with its free parameters.

    Attributes
    ----------
    metals : the system, base metal first. construction : name of one of `constructions.CONSTRUCTIONS`.
    skin : symbol, or name in skins.csv, of what covers, fills or is joined to it, or "". strike : symbol of what lies
        under the skin, or "". family : the likeliest family of its body.
    probability : of this construction. evidence : mean likelihood over its own prior (for Bayes factors).
    ranges : symbol -> (low, likely, high) mass percent of the body.
    skin_um, void_percent, part_percent : (low, likely, high) or None; the last is the share by volume of faces, slug
        or joined part. grades : nearest published grades.
    """

    metals: tuple[str, ...]
    construction: str
    skin: str
    strike: str
    family: str
    probability: float
    evidence: float
    ranges: Mapping[str, tuple[float, float, float]]
    skin_um: tuple[float, float, float] | None
    void_percent: tuple[float, float, float] | None
    part_percent: tuple[float, float, float] | None
    grades: tuple[str, ...]

    @property
    def built(self) -> Construction:
        """The construction as a record."""
        return BY_NAME[self.construction]


@dataclass(frozen=True)
class System:
    """A metal system, with all its candidates together."""

    metals: tuple[str, ...]
    probability: float
    evidence: float
    bayes_factor_against_next: float
    alike: bool  # whether these readings cannot tell it from the first
    ranges: Mapping[str, tuple[float, float, float]]
    grades: tuple[str, ...]
    constructions: tuple[ConstructionFound, ...]


def quantiles(values: Array, weight: Array) -> tuple[float, float, float]:
    """Weighted 2.5 %, 50 % and 97.5 % points: the values at which the cumulated weight passes each share."""
    order = np.argsort(values)
    cumulated = np.cumsum(weight[order])
    low, likely, high = values[order[points_passed(cumulated)]]
    return float(low), float(likely), float(high)


def points_passed(cumulated: Array) -> Index:
    """Numbers (..., 3) at which weights cumulated along the last axis pass 2.5 %, 50 % and 97.5 % of their sum."""
    passed = [(cumulated < share * cumulated[..., -1:]).sum(axis=-1) for share in (0.025, 0.5, 0.975)]
    return np.asarray(np.minimum(np.stack(passed, axis=-1), cumulated.shape[-1] - 1))


def _quantiles_above(values: Array, weight: Array) -> tuple[float, float, float]:
    """`quantiles` of values that are never negative and mostly 0; the zeros are not sorted."""
    some = np.flatnonzero(values > 0)
    none = weight.sum() - weight[some].sum()
    return quantiles(np.append(values[some], 0.0), np.append(weight[some], max(none, 0.0)))


@dataclass(frozen=True)
class PriorShares:
    """Total prior share by system number, and by (construction, group of skins) and system number.

    The latter is given for each level of what readings show (`Prior.levels`).
    """

    by_system: Array
    by_kind: tuple[Mapping[tuple[int, int], Array], ...]


@dataclass(frozen=True)
class Posterior:
    """Rows with their probabilities; `other` is that of "something else".

    `by_kind` : probability per point for each (construction, group of skins).
    """

    bodies: Bodies
    layers: Layers
    level: int
    rows: Rows
    share: Array
    total: float
    other: float
    other_evidence: float
    prior: PriorShares
    by_kind: Mapping[tuple[int, int], Array]
    rows_of: Mapping[tuple[int, int], Mask]

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
        share = weight / total
        group = np.where(rows.skin >= 0, layers.group[rows.skin], -1)
        rows_of = {kind: (rows.construction == kind[0]) & (group == kind[1]) for kind in prior.by_kind[level]}
        size = len(bodies.v)
        by_kind: dict[tuple[int, int], Array] = {
            kind: np.asarray(np.bincount(rows.point[m], share[m], minlength=size), dtype=float)
            for kind, m in rows_of.items()
        }
        return cls(
            bodies, layers, level, rows, share, total, of_other / total, other_likelihood, prior, by_kind, rows_of
        )

    @cached_property
    def by_point(self) -> Array:
        """Probability of each body, over all constructions together."""
        return np.asarray(np.sum(list(self.by_kind.values()), axis=0))

    def systems(self, down_to: float = LISTED_FROM) -> list[System]:
        """Systems in order of probability, down to a least one."""
        shares = np.bincount(self.bodies.system, self.by_point, minlength=len(self.bodies.systems))
        order = [int(s) for s in np.argsort(-shares, kind="stable") if shares[s] >= down_to]
        evidence = [self._evidence(shares[s], self.prior.by_system[s]) for s in order]
        out = []
        for place, s in enumerate(order):
            following = evidence[place + 1] if place + 1 < len(order) else self.other_evidence
            alike = place > 0 and evidence[0] / ALIKE <= evidence[place] <= evidence[0] * ALIKE
            points = self._points(s, self.by_point)
            out.append(
                System(
                    self._metals(s, points, self.by_point),
                    float(shares[s]),
                    evidence[place],
                    evidence[place] / following if following > 0 else float("inf"),
                    alike,
                    self.ranges(points, self.by_point),
                    self._grades(points, self.by_point),
                    tuple(self._constructions(s)),
                )
            )
        return out

    def among(self, keep: Mask, prior: PriorShares) -> Posterior:
        """The posterior over some of the rows only; `prior` is that of the rows that are kept."""
        size = len(self.bodies.v)
        rows_of = {kind: mask[keep] for kind, mask in self.rows_of.items()}
        rows, share = self.rows.some(keep), self.share[keep]
        by_kind: dict[tuple[int, int], Array] = {
            kind: np.asarray(np.bincount(rows.point[m], share[m], minlength=size), dtype=float)
            for kind, m in rows_of.items()
        }
        return replace(self, rows=rows, share=share, prior=prior, by_kind=by_kind, rows_of=rows_of)

    def _evidence(self, share: float, prior: float) -> float:
        """Mean likelihood of a group over its prior."""
        return float(share * self.total / prior) if prior > 0 else 0.0

    def _points(self, system: int, share: Array) -> Index:
        points = self.bodies.of_system(system)
        return points[share[points] > 0]

    def _constructions(self, system: int) -> Iterable[ConstructionFound]:
        """Candidates of one system in order of probability."""
        found = []
        for (construction, skin), by_point in self.by_kind.items():
            points = self._points(system, by_point)
            share = float(by_point[points].sum())
            if share <= 0:
                continue
            built = CONSTRUCTIONS[construction]
            parameter = self.parameter((construction, skin), system) if share >= 1e-3 else None
            found.append(
                ConstructionFound(
                    self._metals(system, points, by_point),
                    built.name,
                    self.layers.skin_name(skin) if skin >= 0 else "",
                    self.layers.strike_name(skin) if skin >= 0 else "",
                    self._family(points, by_point),
                    share,
                    self._evidence(share, self.prior.by_kind[self.level][construction, skin][system]),
                    self.ranges(points, by_point) if share >= CANDIDATE_RANGES_FROM else {},
                    parameter if built.by_thickness else None,
                    _percent(parameter) if built.place is Place.VOID else None,
                    _percent(parameter) if built.by_share else None,
                    self._grades(points, by_point),
                )
            )
        return sorted(found, key=lambda c: -c.probability)

    def parameter(self, kind: tuple[int, int], system: int) -> tuple[float, float, float]:
        """95 % range of the free parameter of a candidate: skin thickness [um] or share of the volume."""
        systems, parameter, share = self._columns[kind]
        mine = slice(*np.searchsorted(systems, [system, system + 1]))
        return quantiles(parameter[mine], share[mine])

    @cached_property
    def _columns(self) -> dict[tuple[int, int], tuple[Index, Array, Array]]:
        """System, free parameter and probability of the rows of each kind, in order of the system."""
        rows, out = self.rows, {}
        system = self.bodies.system[rows.point]
        for kind, mask in self.rows_of.items():
            mine = np.flatnonzero(mask)
            mine = mine[np.argsort(system[mine], kind="stable")]
            out[kind] = (system[mine], rows.parameter[mine], self.share[mine])
        return out

    def _family(self, points: Index, share: Array) -> str:
        """The family that most of the belief goes to; if none has most of it, the plainest of those that matter."""
        shares = np.bincount(self.bodies.family[points], share[points])
        best = int(np.argmax(shares))
        if shares[best] < MOSTLY * shares.sum():
            able = np.flatnonzero(shares >= MATTERS * shares.sum())
            best = int(
                min(able, key=lambda k: (self._metals_beside(points[self.bodies.family[points] == k]), -shares[k]))
            )
        return self.bodies.names[best]

    def _metals_beside(self, points: Index) -> int:
        """Number of metals that some bodies hold."""
        return int((self.bodies.w[points].max(axis=0) >= SHOWN_FROM).sum())

    def _metals(self, system: int, points: Index, share: Array) -> tuple[str, ...]:
        """The metals of a system, the richest first."""
        metals = self.bodies.systems[system]
        mean = share[points] @ self.bodies.share_of(points, metals)
        return tuple(metals[i] for i in np.argsort(-mean, kind="stable"))

    def ranges(self, points: Index, share: Array) -> dict[str, tuple[float, float, float]]:
        """95 % ranges [percent] of the metals of the bodies that matter, the richest first."""
        used = np.flatnonzero(self.bodies.w[points].max(axis=0) >= SHOWN_FROM)
        symbols = list(dict.fromkeys(self.bodies.law.symbols[i].removesuffix("-fcc") for i in used))
        w = self.bodies.share_of(points, symbols)
        weight = share[points]
        mean = weight @ w / weight.sum()
        out = {}
        for i in np.argsort(-mean, kind="stable"):
            if mean[i] < SHOWN_FROM / 4:
                break
            low, likely, high = quantiles(100 * w[:, i], weight)
            if high >= 100 * SHOWN_FROM:
                out[symbols[i]] = (low, likely, high)
        return out

    def _grades(self, points: Index, share: Array, most: int = 3) -> tuple[str, ...]:
        """Published grades with the highest probability."""
        named = points[self.bodies.grade[points] >= 0]
        order = named[np.argsort(-share[named], kind="stable")][:most]
        return tuple(self.bodies.grades[self.bodies.grade[i]] for i in order)

    def precious(
        self, symbols: Iterable[str], skin_mass_share: Array, mass_g: float | None, among: Mask
    ) -> dict[str, Measured]:
        """Content of each precious metal over some of the rows: 95 % range, in grams if the mass is known.

        `skin_mass_share` is per row. "Something else" has no composition and is left out.
        """
        out: dict[str, Measured] = {}
        scale, unit = (mass_g, "g") if mass_g else (100.0, "%")
        index = self.bodies.law.index
        keep = among & (self.share >= _threshold(self.share[among], LEFT_OUT))
        if not keep.any():
            return out
        point, skin = self.rows.point[keep], self.rows.skin[keep]
        share, skin_part = self.share[keep], skin_mass_share[keep]
        points, where = np.unique(point, return_inverse=True)
        for s in [s for s in symbols if s in index]:
            in_body = self.bodies.w[points, index[s]]
            in_skin = np.where(skin >= 0, self.layers.w[skin, index[s]], 0.0) * skin_part
            if max(in_body.max(), in_skin.max()) < TRACE:
                continue
            part = in_body[where] * (1 - skin_part) + in_skin
            low, likely, high = _quantiles_above(part, share)
            if high >= TRACE:
                mean = share @ part / share.sum()
                u = float(np.sqrt(share @ (part - mean) ** 2 / share.sum()))
                out[s] = Measured(likely * scale, u * scale, unit, low * scale, high * scale)
        return out

    def holds(self, symbol: str, from_percent: float) -> float:
        """Probability of pieces whose body, layer, slug or joined part holds at least this share of a metal."""
        if symbol not in self.bodies.law.index:
            return 0.0
        at, least = self.bodies.law.index[symbol], from_percent / 100 - 1e-9
        enough = self.bodies.w[self.rows.point, at] >= least
        beside = (self.rows.skin >= 0) & (self.layers.w[self.rows.skin, at] >= least)
        return float(self.share[enough | beside].sum())


def _threshold(share: Array, left_out: float) -> float:
    """The probability below which rows together hold no more than `left_out` of the whole."""
    if not len(share):
        return 0.0
    ordered = np.sort(share)
    return float(ordered[np.searchsorted(np.cumsum(ordered), left_out * ordered.sum())])


def _percent(span: tuple[float, float, float] | None) -> tuple[float, float, float] | None:
    return (100 * span[0], 100 * span[1], 100 * span[2]) if span else None
