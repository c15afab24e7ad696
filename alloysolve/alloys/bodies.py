"""Bodies: compositions with their predicted properties, as arrays."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array, Index
from .groups import Groups
from .law import MixingLaw

NEAR_V, NEAR_RESISTIVITY = 0.04, 0.2  # relative widths of a group of bodies that are near one another
LIKE_FROM = 0.003  # mass fraction from which a metal tells groups of bodies apart
RESISTIVITY_SCATTER = 0.07  # relative scatter about the fitted rule, from temper and minor metals
NOT_A_BODY = frozenset("C P S B Si Se Te As N O H Li U Be Ge Fe-fcc Hg Ga Tl".split())  # noqa: SIM905
MAGNETIC = ("none", "slight", "strong")


@dataclass(frozen=True)
class Bodies:
    """Compositions with predicted properties; arrays over points.

    Attributes
    ----------
    w : mass fractions (points, metals). v : specific volume [cm3/g]. sigma : its relative scatter.
    resistivity : [uohm cm]. u_resistivity : its relative scatter. magnetic : class number in `MAGNETIC`.
    family : number in `names`; grade : number in `grades`, -1 for none. system : number in `systems`.
    weight : share of the point within its family, sums to 1 per family. coarse : the same with only every fourth
        region point, for constructions whose free parameter smears the composition anyway.
    parts : the sets that these points were joined from, if any. Their properties are known by part.
    """

    law: MixingLaw
    names: tuple[str, ...]
    grades: tuple[str, ...]
    systems: tuple[tuple[str, ...], ...]
    w: Array
    v: Array
    sigma: Array
    resistivity: Array
    u_resistivity: Array
    magnetic: Index
    family: Index
    grade: Index
    system: Index
    weight: Array
    coarse: Array
    parts: tuple[Bodies, ...] = ()

    @cached_property
    def main(self) -> Index:
        """Number of the metal of which each point holds most."""
        if self.parts:
            return np.concatenate([b.main for b in self.parts])
        return np.asarray(np.argmax(self.w, axis=1))

    @cached_property
    def like(self) -> Groups:
        """Bodies of one family, with the same metals, in shares of the same tenths."""
        metals, tenths = self.w > LIKE_FROM, np.rint(10 * self.w)
        weight = np.random.default_rng(0).random((2, self.w.shape[1]))  # all but surely different for different shares
        key = tenths @ weight[0] + metals @ weight[1] + self.family
        return Groups.by(np.unique(np.round(key, 9), return_inverse=True)[1].ravel(), self.v)

    @cached_property
    def near(self) -> Groups:
        """Bodies of nearly one density and resistivity, equally magnetic."""
        boxes = [np.floor(np.log(self.v) / NEAR_V), np.floor(np.log(self.resistivity) / NEAR_RESISTIVITY)]
        key = np.stack([*(b - b.min() for b in boxes), self.magnetic]).astype(np.intp)
        return Groups.by(np.ravel_multi_index(tuple(key), tuple(key.max(axis=1) + 1)), self.v)

    def share_of(self, points: Index, symbols: Sequence[str]) -> Array:
        """Mass fractions (points, symbols) of some metals; iron counts in both its forms."""
        index = self.law.index
        w = self.w[np.ix_(points, np.array([index[s] for s in symbols], dtype=np.intp))]
        if "Fe" in symbols:
            w[:, list(symbols).index("Fe")] += self.w[points, index["Fe-fcc"]]
        return w


def joined_bodies(parts: Sequence[Bodies]) -> Bodies:
    """Several sets of bodies over one mixing law joined into one; families, grades and systems are renumbered."""
    systems: dict[tuple[str, ...], int] = {}
    families, grades, family, grade, system = 0, 0, [], [], []
    for b in parts:
        family.append(b.family + families)
        grade.append(np.where(b.grade >= 0, b.grade + grades, -1))
        system.append(np.array([systems.setdefault(s, len(systems)) for s in b.systems], dtype=np.intp)[b.system])
        families, grades = families + len(b.names), grades + len(b.grades)
    columns = {
        name: np.concatenate([getattr(b, name) for b in parts])
        for name in ("w", "v", "sigma", "resistivity", "u_resistivity", "magnetic", "weight", "coarse")
    }
    return Bodies(
        parts[0].law,
        tuple(itertools.chain.from_iterable(b.names for b in parts)),
        tuple(itertools.chain.from_iterable(b.grades for b in parts)),
        tuple(systems),
        family=np.concatenate(family),
        grade=np.concatenate(grade),
        system=np.concatenate(system),
        parts=tuple(parts),
        **columns,
    )
