"""The lowest tones of candidates, from their sizes, mass and moduli."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from ..alloys.elastic import Elasticity
from ..arrays import Array
from ..physics import resonance
from ..pieces.stiffness import elasticity_of_pieces
from ..published.load import Tables

if TYPE_CHECKING:
    from ..pieces.candidates import Candidates
    from ..pieces.shape import Form


SHAPES = ("disc", "bar", "rod")
DISC_MODES = ("2,0", "0,1")  # the two lowest, except for "3,0", which is weak where a coin is held
BEYOND = 0.2  # relative, added where a candidate is thicker than the formulas of discs and bars reach (judgement)


@cache
def disc_grid_of(tables: Tables) -> resonance.DiscFactors:
    """The factors of free discs (disc_factors.csv)."""
    rows = tables.rows("disc_factors")
    return resonance.disc_grid(
        *zip(*[(r.mode, r.poisson, r.thickness_over_radius, r.factor) for r in rows], strict=True)
    )


def too_thick(form: Form, tables: Tables) -> bool:
    """Whether a piece is measured as thicker than the formulas of its shape reach, so that none is used."""
    if form.shape == "disc":
        diameter, thickness = form.sizes
        return bool(thickness > disc_grid_of(tables).ratio[-1] * diameter / 2)
    if form.shape == "rod":
        return form.sizes[1] < resonance.SLIM * form.sizes[0]
    return max(form.sizes[:2]) < resonance.SLIM * form.sizes[2]


def tones_of_pieces(tables: Tables, candidates: Candidates, u_sizes: float, u_mass: float) -> tuple[Array, Array]:
    """Lowest tones of each candidate [Hz], (n, modes), rising, and their relative model uncertainty, (n,).

    There are two modes for a disc or bar, and one for a rod. The thickness is the mean one, from mass, face and
    density.

    Parameters
    ----------
    u_sizes, u_mass : relative, of a tone from the lengths, and of the mass.
    """
    form, density = candidates.form, 1 / candidates.v
    thickness = mean_thickness(form, density)
    found = elasticity_of_pieces(tables, candidates, 1e3 * thickness)
    tones, beyond = _predicted(tables, form, found, density, thickness)
    rod = form.shape == "rod"  # its tone goes with the root of the density, not with the power 3/2
    u_density = candidates.bodies.sigma[candidates.point] / (3 if rod else 1)
    model = resonance.model_uncertainty(
        np.hypot(u_sizes, beyond), 0.0 if rod else u_mass, u_density, found.u, struck=not rod
    )
    return np.sort(tones, axis=1), model


def mean_thickness(form: Form, density: Array) -> Array:
    """Mean thickness [mm] from the mass and the face; for a rod, its diameter."""
    if form.shape == "rod":
        return np.full(len(density), form.sizes[0])
    area = math.pi / 4 * form.sizes[0] ** 2 if form.shape == "disc" else form.sizes[0] * form.sizes[1]
    return resonance.mean_thickness(form.mass_g or 0.0, density, area)


def _predicted(tables: Tables, form: Form, found: Elasticity, density: Array, thickness: Array) -> tuple[Array, Array]:
    """Tones [Hz], and the uncertainty that is added where the formulas do not reach."""
    none, mass = np.zeros(len(density)), form.mass_g or 0.0
    if form.shape == "rod":
        d, long = form.sizes
        return resonance.rod_flexure(found.modulus, found.poisson, density, long, d)[:, None], none
    if form.shape == "bar":
        long, wide = max(form.sizes[:2]), min(form.sizes[:2])
        over = np.maximum(thickness / (0.999 * long / resonance.SLIM), 1.0)  # tones go with the thickness
        tones = resonance.bar(found.modulus, found.poisson, density, mass / over, long, wide) * over[:, None]
        return tones, np.where(over > 1, BEYOND, 0.0)
    grid, d = disc_grid_of(tables), form.sizes[0]
    over = np.maximum(thickness / (0.999 * grid.ratio[-1] * d / 2), 1.0)
    nu = np.clip(found.poisson, grid.poisson[0], grid.poisson[-1])
    every = resonance.disc(found.modulus, nu, density, mass / over, d, grid)
    tones = every[:, [grid.modes.index(m) for m in DISC_MODES]] * over[:, None]
    return tones, np.where(over > 1, BEYOND, 0.0)
