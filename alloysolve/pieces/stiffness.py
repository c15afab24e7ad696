"""Young's modulus and Poisson's ratio of whole pieces, layers and inserts included, as arrays."""

from __future__ import annotations

import numpy as np

from ..alloys.elastic import Elasticity, elasticity_of_bodies, elasticity_of_layers
from ..arrays import Array
from ..physics import elastic
from ..published.load import Tables
from .candidates import Candidates
from .constructions import Place

UNFELT = 0.002  # of the half thickness: a thinner layer shifts a tone by less than 0.3 % of its difference in modulus
INSERT_U, JOINED_U = 0.15, 0.3  # relative, from how well a slug is held and parts are joined (judgement)
THICKER = 1.01  # layers of a piece end short of its middle plane


def elasticity_of_pieces(tables: Tables, candidates: Candidates, thickness_um: Array) -> Elasticity:
    """Elastic constants of plain plates that bend like whole pieces, (n,): skins, faces and slugs by `elastic.clad`.

    Parameters
    ----------
    thickness_um : mean thickness of each piece [um], from its mass.

    Empty space leaves between ``(1 - p)^2`` of the modulus (pores throughout) and nearly all of it (a shell): the
    middle is taken, with half of the logarithm as its limits. A rod is taken as a plate, which matters if its skin is
    thick.
    """
    body, material = elasticity_of_bodies(tables, candidates.bodies), elasticity_of_layers(tables)
    e, nu, u = (x[candidates.point] for x in (body.modulus, body.poisson, body.u))
    layers = _half_layers(candidates, thickness_um)
    cored, joined, hollow = candidates.at(Place.INSIDE), candidates.at(Place.BESIDE), candidates.at(Place.VOID)
    row = np.flatnonzero((layers[:, 0] > UNFELT * thickness_um / 2) & (candidates.skin >= 0))
    if len(row):
        some, um, names = candidates.some(row), layers[row], ("modulus", "poisson", "u")
        moduli, ratios, of_each = (some.stack(getattr(body, n), getattr(material, n)) for n in names)
        e[row], nu[row] = elastic.clad(um, moduli, ratios)
        u[row] = elastic.clad(um, moduli * (1 + of_each), ratios)[0] / e[row] - 1
    e[joined] = candidates.some(joined).beside(body.modulus, material.modulus)
    solid = np.where(hollow, np.maximum(1 - candidates.part, 1e-3), 1.0)
    u = np.sqrt(u**2 + (np.log(solid) ** 2) / 3 + (INSERT_U * cored) ** 2 + (JOINED_U * joined) ** 2)
    return Elasticity(e * solid, nu, u)


def _half_layers(candidates: Candidates, thickness_um: Array) -> Array:
    """Layers [um] from the face to the middle plane (n, 3): `Candidates.thickness_um` in a piece of this thickness.

    The thickness of a skin stays the same; faces and walls, which are shares, scale with the piece.
    """
    half = thickness_um / 2
    um = candidates.thickness_um
    outer = np.where(candidates.covered, um[:, 0], um[:, 0] * thickness_um / candidates.form.thickness_um)
    outer = np.minimum(outer, half / THICKER)
    strike = np.minimum(um[:, 1], half / THICKER - outer)
    return np.stack([outer, strike, half - outer - strike], axis=1)
