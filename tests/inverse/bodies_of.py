"""What several tests share: one published body out of all, and readings made for it."""

from dataclasses import replace

import numpy as np

from alloysolve.access import default_tables
from alloysolve.inverse.bodies import all_bodies
from alloysolve.inverse.constructions import Evidence
from alloysolve.inverse.likelihood import VolumeLikelihood
from alloysolve.physics.layers import skin_volume_share

TABLES = default_tables()
ALL = all_bodies(TABLES)
COLUMNS = (
    "w",
    "v",
    "sigma",
    "resistivity",
    "u_resistivity",
    "magnetic",
    "family",
    "grade",
    "system",
    "weight",
    "coarse",
)
MAGNET = {r.magnetic: (r.none, r.weak, r.strong) for r in TABLES.rows("magnet")}
DISC = ("disc", (30.0, 2.0))  # mm


def some(points):
    """The bodies with only these points."""
    return replace(ALL, **{name: getattr(ALL, name)[points] for name in COLUMNS})


def published(name):
    """One published grade."""
    return some(np.flatnonzero(ALL.grade == ALL.grades.index(name)))


def density_of(symbol):
    """Density of a metal in the mixing law [g/cm3]."""
    law, k = ALL.law, ALL.law.index[symbol]
    return law.molar_mass[k] / law.molar_volume[k]


def evidence(v=None, u=0.001, bubble=0.0, resistivity=(), magnet="", shape=DISC):
    """Readings; `u` and `bubble` are relative to v [cm3/g]."""
    volume = None if v is None else VolumeLikelihood(v, u * v, bubble * v)
    return Evidence(volume, tuple(resistivity), magnet, MAGNET, lambda um: skin_volume_share(*shape, um / 1000))


def plated_v(body, skin, um, shape=DISC):
    """Specific volume of a body under `um` of a metal: shares of volume times densities."""
    part = float(skin_volume_share(*shape, np.array(um / 1000)))
    return 1 / ((1 - part) / body.v[0] + part * density_of(skin))
