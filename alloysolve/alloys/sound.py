"""Speed of sound in bodies and in the materials of layers, as arrays: published, or computed from the moduli."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from ..arrays import Array, Mask
from ..physics.sound import SCATTER, longitudinal_speed, speed_uncertainty
from ..published.load import Tables
from ..published.metals import SoundSpeed
from .bodies import Bodies
from .elastic import Elasticity, Same, elasticity_of_bodies, elasticity_of_layers, named_rows
from .law import FCC_IRON, MixingLaw
from .materials import layers_of

PURE = 0.99  # mass fraction from which a body has the published speed of its metal (judgement)
U_POISSON = 0.015  # u of any Poisson's ratio: elastic.csv gives 0.01 to 0.02


@dataclass(frozen=True)
class Speeds:
    """Speeds of the pressure wave [m/s] and their relative uncertainty `u`; arrays over points or materials."""

    speed: Array
    u: Array


def speeds_of_bodies(tables: Tables, bodies: Bodies) -> Speeds:
    """Speed of sound in each point: of its grade, of its family, of its metal if it is nearly pure, or computed.

    The first of these that is published counts. Published speeds are in sound_speeds.csv; none counts as better than
    `SCATTER`. Computed ones are those of `longitudinal_speed` from the moduli and the density. The arrays of the last
    few bodies are kept.
    """
    return _of_bodies(tables, Same(bodies))


@lru_cache(maxsize=8)
def _of_bodies(tables: Tables, key: Same) -> Speeds:
    bodies, rows = key.bodies, _rows(tables)
    out = _computed(elasticity_of_bodies(tables, bodies), 1 / bodies.v, bodies.sigma)
    _put_metals(out, rows, bodies.law, bodies.w)
    for where, row in named_rows(bodies, rows):
        _put(out, where, row)
    return out


@cache
def speeds_of_layers(tables: Tables) -> Speeds:
    """Speed of sound in each material of `layers_of`: of its metal if it is nearly pure, otherwise computed."""
    layers = layers_of(tables)
    v = np.where(layers.v > 0, layers.v, 1.0)  # carbon and its like have no volume, and make no layer
    out = _computed(elasticity_of_layers(tables), 1 / v, np.zeros(len(v)))
    _put_metals(out, _rows(tables), layers.law, layers.w)
    return out


def _rows(tables: Tables) -> dict[tuple[str, str], SoundSpeed]:
    return {(r.of, r.name): r for r in tables.rows("sound_speeds")}


def _computed(elastic: Elasticity, density: Array, u_density: Array) -> Speeds:
    return Speeds(
        longitudinal_speed(elastic.modulus, elastic.poisson, density),
        speed_uncertainty(elastic.poisson, U_POISSON, elastic.u, u_density),
    )


def _put_metals(out: Speeds, rows: dict[tuple[str, str], SoundSpeed], law: MixingLaw, w: Array) -> None:
    """Overwrites speeds with published ones where a composition is nearly one metal; both forms of iron count."""
    for k, symbol in enumerate(law.symbols):
        if ("metal", symbol) in rows:
            share = w[:, k] + w[:, law.index[FCC_IRON]] if symbol == "Fe" else w[:, k]
            _put(out, share >= PURE, rows["metal", symbol])


def _put(out: Speeds, where: Mask, row: SoundSpeed) -> None:
    """Overwrites speeds with a published row."""
    out.speed[where], out.u[where] = row.speed_m_s, max(SCATTER, row.u_speed_m_s / row.speed_m_s)
