"""All readings of one piece, ready to be compared with candidates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np

from ..alloys.materials import Layers
from ..arrays import Array, Index
from ..pieces.candidates import Along, Candidates
from ..pieces.shape import Form
from ..readings.base import BODY, STIFFNESS, Observed
from ..readings.error_model import VolumeLikelihood, mixture_pdf, ratio_pdf, ratio_pdf_between
from ..readings.ratio import Ratio, bound_by_parts

OTHER_DENSITY = 1 / np.log(25 / 0.5)  # per unit of ln(density), uniform over 0.5 to 25 g/cm3
WEIGHING = "weighing"
_OWN = 0.015  # relative scatter of the layered model from one frequency or place to the next (judgement)


class Scores(dict[str, Array]):
    """Normal score of each reading for some candidates, by the name of the reading.

    `alike` : for readings whose predictions err together, the name of what they share (`Observed.counts_with`).
    `told` : for answers in words, how often each class gives each answer, and the class of each candidate.
    `measures` : the property of the alloy that a reading measures, where readings that are not alike measure it too.
    """

    def __init__(
        self,
        found: Mapping[str, Array],
        alike: Mapping[str, str] = MappingProxyType({}),
        told: Mapping[str, tuple[Array, Index]] = MappingProxyType({}),
        measures: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        super().__init__(found)
        self.alike, self.told, self.measures = alike, told, measures

    def some(self, at: Index) -> Scores:
        """The scores of some of the candidates."""
        told = {name: (shares, number[at]) for name, (shares, number) in self.told.items()}
        return Scores({name: z[at] for name, z in self.items()}, self.alike, told, self.measures)


@dataclass(frozen=True)
class Evidence:
    """All readings of a piece, ready to be compared with candidates.

    Attributes
    ----------
    volume : the density reading, if any. observed : the others. form : shape of the piece.
    layers : materials that may cover or fill it.
    """

    volume: VolumeLikelihood | None
    observed: tuple[Observed, ...]
    form: Form
    layers: Layers

    @cached_property
    def shows(self) -> int:
        """What these readings can show of layers: `BODY`, also `STRIKES` of nickel, or any `SURFACE`."""
        return max((o.shows for o in self.observed), default=BODY)

    @cached_property
    def surface(self) -> tuple[str, ...]:
        """Names of the readings that see the surface only."""
        return tuple(o.name for o in self.observed if o.surface)

    @cached_property
    def sees_more(self) -> bool:
        """Whether any reading tells bodies apart that have one density, resistivity and magnetism."""
        return any(o.surface or o.measures == STIFFNESS for o in self.observed)

    @cached_property
    def peak(self) -> float:
        """The largest likelihood that the readings other than the density can have."""
        return float(np.prod([o.peak for o in self.observed]))

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all readings, the weighing first."""
        return ((WEIGHING,) if self.volume else ()) + tuple(o.name for o in self.observed)

    def only(self, *names: str) -> Evidence:
        """The evidence of only some of the readings."""
        return replace(
            self,
            volume=self.volume if WEIGHING in names else None,
            observed=tuple(o for o in self.observed if o.name in names),
        )

    def pdf(self, candidates: Candidates) -> Array:
        """Likelihood of all readings but the density, for each candidate, (n,)."""
        out = np.ones(len(candidates))
        for group in self.groups:
            out = out * self.pdf_of(group, candidates)
        return out

    @cached_property
    def groups(self) -> list[list[Observed]]:
        """Readings in groups that share the scatter of the model, those that take least effort first."""
        out: dict[str, list[Observed]] = {}
        for o in sorted(self.observed, key=lambda o: o.effort):
            out.setdefault(o.shares_model or o.name, []).append(o)
        return list(out.values())

    def pdf_of(self, group: list[Observed], candidates: Candidates) -> Array:
        """Likelihood of the readings of one group, for each candidate, (n,)."""
        return group[0].pdf(candidates) if len(group) == 1 else _together(group, Along.of(candidates))[:, 0]

    def along_of(self, group: list[Observed], a: Along) -> Array:
        """Likelihood of the readings of one group, for pairs at each of their steps, (pairs, steps)."""
        return group[0].along(a) if len(group) == 1 else _together(group, a)

    def most_of(self, group: list[Observed], a: Along) -> Array:
        """About the highest likelihood of the readings of one group between each two steps, (pairs, steps - 1)."""
        return group[0].most(a) if len(group) == 1 else _together_between(group, a)

    @staticmethod
    def peak_of(group: list[Observed]) -> float:
        """The largest likelihood that the readings of one group can have."""
        return float(np.prod([o.peak for o in group]))

    def breaks(self, skin: int) -> tuple[float, ...]:
        """Thicknesses [um] of a skin at which a reading changes all at once, in rising order."""
        return tuple(sorted({um for o in self.observed for um in o.breaks(self.layers, skin)}))

    @cached_property
    def alike(self) -> Mapping[str, str]:
        """What readings share whose predictions err together, by their names."""
        return {o.name: o.counts_with for o in self.observed if o.counts_with}

    def scores(self, candidates: Candidates) -> Scores:
        """Normal score of every reading for each candidate."""
        out = {}
        if self.volume is not None:
            out[WEIGHING] = self.volume.score(candidates.v, candidates.bodies.sigma[candidates.point])
        told = {o.name: found for o in self.observed if (found := o.told(candidates)) is not None}
        measures = {o.name: o.measures for o in self.observed if o.measures}
        return Scores(out | {o.name: o.score(candidates) for o in self.observed}, self.alike, told, measures)

    def other_likelihood(self) -> float:
        """Likelihood of "something else": broad and independent over the same readings."""
        out = OTHER_DENSITY / self.volume.v if self.volume else 1.0
        return float(out * np.prod([_other_of(group) for group in self.groups]))


def _other_of(group: list[Observed]) -> float:
    """Likelihood of a group of readings under "something else": their mean is broad, their differences are not."""
    ratios = [o for o in group if isinstance(o, Ratio)]
    if not ratios:
        return float(np.exp(np.mean(np.log([o.other for o in group]))))
    if len(ratios) < 2:
        return float(np.prod([o.other for o in group]))
    logs = np.log([o.read for o in ratios])
    away = [mixture_pdf(logs[[k]] - logs.mean(), ratios[k].u, np.array([_OWN]), 0.0)[0] for k in range(1, len(logs))]
    return float(ratios[0].other * np.prod(away))


def _together(group: list[Observed], a: Along) -> Array:
    """Density of several readings whose predictions err together, of pairs at each of their steps.

    Their mean carries the scatter of the model, which does not average away; their differences do not carry it.
    Readings of several values each, and answers in words, count as one, by the geometric mean of their densities.
    """
    if not _of_one_value(group):
        return _geometric_mean([o.along(a) for o in group])
    (mean, u_mean, model), away = _mean_and_away(group, a)
    out = ratio_pdf(mean, u_mean, model)
    for r, u in away:
        out = out * ratio_pdf(r, u, np.array(_OWN))
    return out


def _together_between(group: list[Observed], a: Along) -> Array:
    """About the highest density of `_together` between neighbouring steps."""
    if not _of_one_value(group):
        return _geometric_mean([o.most(a) for o in group])
    alike = len({o.conditions for o in group if isinstance(o, Ratio)}) == 1  # the same difference whatever is below

    def bound(b: Along) -> Array:
        beyond = np.max(np.broadcast_arrays(*(o.beyond(b) for o in group if isinstance(o, Ratio))), axis=0)
        (mean, u_mean, model), away = _mean_and_away(group, b)
        out = ratio_pdf_between(mean, u_mean, model, beyond)
        for r, u in away:
            # a difference may rise and fall between two steps, as far as the mean and the reading go apart
            low, high = (f(r[:, :-1], r[:, 1:]) for f in (np.minimum, np.maximum))
            swing = np.abs(np.diff(mean, axis=1)) + np.abs(np.diff(r + mean, axis=1)) + beyond
            swing = np.zeros((1, 1)) if alike else swing
            near = np.maximum(np.maximum(low - swing, -high - swing), 0.0)
            out = out * ratio_pdf(near, u, np.array([[_OWN]]))
        return out

    return bound_by_parts(a, bound)


def _of_one_value(group: list[Observed]) -> bool:
    return all(isinstance(o, Ratio) and not o.several for o in group)


def _geometric_mean(each: list[Array]) -> Array:
    return np.asarray(np.exp(np.mean(np.log(np.array(each) + 1e-300), axis=0)))


def _mean_and_away(group: list[Observed], a: Along) -> tuple[tuple[Array, float, Array], list[tuple[Array, float]]]:
    """Mean logarithm of read over predicted with its uncertainty and model, and the differences from it with theirs.

    One of the differences follows from the others and is left out.
    """
    ratios = [o for o in group if isinstance(o, Ratio)]
    found = [o.predict_along(a) for o in ratios]
    r = np.array([np.log(o.read / value) for o, (value, _) in zip(ratios, found, strict=True)])
    u, mean = np.array([o.u for o in ratios]), r.mean(axis=0)
    model = np.max([m for _, m in found], axis=0)
    away = [(r[k] - mean, float(u[k])) for k in range(1, len(ratios))]
    return (mean, float(np.sqrt((u**2).sum()) / len(u)), model), away
