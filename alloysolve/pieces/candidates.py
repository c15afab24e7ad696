"""Possible pieces as arrays: a body, what covers, fills or is joined to it, and how much of that there is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.materials import Layers
from ..arrays import Array, Index, Mask
from .constructions import AT, HOMOGENEOUS, Place
from .shape import Form


@dataclass(frozen=True)
class Candidates:
    """Possible pieces as arrays over pieces (n,).

    Attributes
    ----------
    construction : number in `CONSTRUCTIONS`. point : row of `bodies`: the body, or the shell of a cored piece.
    skin : number of the material in `layers` that covers, fills or is joined to it; -1 for none or empty space.
    parameter : thickness [um] of a skin or enriched surface, otherwise a share of the volume.
    """

    bodies: Bodies
    layers: Layers
    form: Form
    construction: Index
    point: Index
    skin: Index
    parameter: Array

    @classmethod
    def bare(cls, bodies: Bodies, layers: Layers, form: Form, point: Index | None = None) -> Candidates:
        """Pieces that consist of nothing but a body."""
        at = np.arange(len(bodies.v)) if point is None else point
        return cls(bodies, layers, form, np.full(len(at), HOMOGENEOUS), at, np.full(len(at), -1), np.zeros(len(at)))

    def some(self, rows: Index | Mask) -> Candidates:
        """Some of the pieces, by number or mask."""
        return Candidates(
            self.bodies,
            self.layers,
            self.form,
            self.construction[rows],
            self.point[rows],
            self.skin[rows],
            self.parameter[rows],
        )

    def __len__(self) -> int:
        return len(self.point)

    def of(self, construction: int) -> Mask:
        """Mask of the pieces of one construction."""
        return np.asarray(self.construction == construction)

    def at(self, place: Place) -> Mask:
        """Which pieces have that which is not the body in one place."""
        return np.asarray(AT[place][self.construction])

    @cached_property
    def covered(self) -> Mask:
        """Mask of the pieces that have a layer all over, given by its thickness."""
        return self.at(Place.OVER)

    @cached_property
    def faced(self) -> Mask:
        """Which pieces show another material than the body: a layer all over, or faces."""
        return np.asarray((self.skin >= 0) & (self.covered | self.at(Place.FACES)))

    @cached_property
    def part(self) -> Array:
        """Share of the volume that is not the body."""
        return Along.of(self).part[:, 0]

    @cached_property
    def v(self) -> Array:
        """Specific volume of the whole piece [cm3/g]; a strike is left out because it weighs too little."""
        dense = np.where(self.skin >= 0, 1 / self.layers.v[self.skin], 0.0)
        return np.asarray(1 / ((1 - self.part) / self.bodies.v[self.point] + self.part * dense))

    @cached_property
    def mass_part(self) -> Array:
        """Share of the mass that is not the body."""
        dense = np.where(self.skin >= 0, 1 / self.layers.v[self.skin], 0.0)
        return np.asarray(self.part * dense * self.v)

    @cached_property
    def depth_um(self) -> Array:
        """Thickness [um] of the outermost layer; 0 where there is none."""
        return Along.of(self).depth_um[:, 0]

    @cached_property
    def thickness_um(self) -> Array:
        """Layers [um] from the surface inwards (n, 3): the outermost, the strike, everything below; then air."""
        strike = np.where(self.covered & (self.skin >= 0), self.layers.strike_um[self.skin], 0.0)
        rest = np.maximum(self.form.thickness_um - self.depth_um - strike, 1.0)
        return np.stack([self.depth_um, strike, rest], axis=1)

    @cached_property
    def through_um(self) -> Array:
        """Layers [um] from face to face (n, 5): outermost, strike, everything between, strike, outermost."""
        outer, strike, rest = self.thickness_um.T
        inner = np.maximum(rest - outer - strike, 0.0)
        return np.stack([outer, strike, inner, strike, outer], axis=1)

    def through(self, of_body: Array, of_material: Array) -> Array:
        """A property of the layers of `through_um`, (n, 5), from its value per point and per material."""
        return self.stack(of_body, of_material)[:, [0, 1, 2, 1, 0]]

    def stack(self, of_body: Array, of_material: Array) -> Array:
        """A property of the layers of `thickness_um`, (n, 3), from its value per point and per material."""
        body, skin = of_body[self.point], of_material[self.skin]
        strike = of_material[self.layers.strike[self.skin]]
        cored, layered = self.at(Place.INSIDE), self.covered | self.at(Place.FACES)
        outer = np.where(layered, skin, body)
        return np.stack([outer, np.where(self.covered, strike, body), np.where(cored, skin, body)], axis=1)

    def beside(self, of_body: Array, of_material: Array) -> Array:
        """Mean of a property over body and part, weighted by volume, (n,); empty space is left out."""
        part = np.where(self.at(Place.VOID), 0.0, self.part)
        return np.asarray((1 - part) * of_body[self.point] + part * of_material[self.skin])


@dataclass(frozen=True)
class Along:
    """Pairs of a body and a material, each with several values of the free parameter.

    Attributes
    ----------
    pairs : one candidate of each pair; what it says of the parameter does not count. parameter : (pairs, steps),
        rising along each row.
    """

    pairs: Candidates
    parameter: Array

    @classmethod
    def of(cls, candidates: Candidates) -> Along:
        """Candidates as pairs of one step."""
        return cls(candidates, candidates.parameter[:, None])

    def some(self, rows: Index | Mask) -> Along:
        """Some of the pairs, by number or mask."""
        return Along(self.pairs.some(rows), self.parameter[rows])

    @cached_property
    def depth_um(self) -> Array:
        """Thickness [um] of the outermost layer at each step, (pairs, steps); 0 where there is none."""
        out = np.where(self.pairs.covered[:, None], self.parameter, 0.0)
        clad, cored = (np.flatnonzero(self.pairs.at(place)) for place in (Place.FACES, Place.INSIDE))
        out[clad] = self.parameter[clad] * self.pairs.form.thickness_um / 2
        out[cored] = self.pairs.form.skin_um(1 - self.parameter[cored])
        return np.asarray(out)

    @cached_property
    def part(self) -> Array:
        """Share of the volume that is not the body at each step, (pairs, steps)."""
        out, covered = np.array(self.parameter, dtype=float), np.flatnonzero(self.pairs.covered)
        out[covered] = self.pairs.form.skin_share(np.maximum(out[covered], 1e-9))
        return out

    @cached_property
    def candidates(self) -> Candidates:
        """All of them as candidates, pair by pair."""
        p, steps = self.pairs, self.parameter.shape[1]
        construction, point, skin = (np.repeat(x, steps) for x in (p.construction, p.point, p.skin))
        return Candidates(p.bodies, p.layers, p.form, construction, point, skin, self.parameter.ravel())

    @cached_property
    def v(self) -> Array:
        """Specific volume of the whole pieces [cm3/g], (pairs, steps)."""
        p = self.pairs
        body = 1 / p.bodies.v[p.point]
        dense = np.where(p.skin >= 0, 1 / p.layers.v[p.skin], 0.0)
        return np.asarray(1 / (body[:, None] + self.part * (dense - body)[:, None]))


def joined_candidates(parts: list[Candidates]) -> Candidates:
    """Several sets of pieces with the same bodies, joined into one."""
    first = parts[0]
    names = ("construction", "point", "skin", "parameter")
    return Candidates(
        first.bodies, first.layers, first.form, *(np.concatenate([getattr(p, n) for p in parts]) for n in names)
    )
