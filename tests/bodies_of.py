"""What several tests share: one published body out of all, and readings made for it."""

from dataclasses import replace

import numpy as np

from alloysolve.alloys.families import all_bodies
from alloysolve.alloys.materials import layers_of
from alloysolve.inference.covered import spans_of
from alloysolve.integral.evidence import Evidence
from alloysolve.physics.geometry import skin_volume_share
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import HOLLOW, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.published.load import default_tables
from alloysolve.readings.error_model import VolumeLikelihood
from alloysolve.readings.reading import Circumstances
from alloysolve.readings.registry import Conductivity, Magnet

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
MAGNET = {r.magnetic: (r.none, r.weak, r.strong) for r in TABLES.rows("magnet") if r.made == "with parts"}
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


LAYERS = layers_of(TABLES)
SKIN_PARTS, VOID_PART = (spans_of(TABLES, construction, "silver") for construction in (PLATED, HOLLOW))


def evidence(v=None, u=0.001, bubble=0.0, resistivity=(), magnet="", shape=DISC):
    """Readings; `u` and `bubble` are relative to v [cm3/g]; resistivities of the whole piece [uohm cm] with u."""
    volume = None if v is None else VolumeLikelihood(v, u * v, bubble * v)
    form = Form(*shape)
    about = Circumstances(TABLES, form)
    readings = [Conductivity(f"{rho} uohm cm", f"{100 * u_rho} %") for rho, u_rho in resistivity]
    names = ["conductivity" if k == 0 else f"conductivity {k + 1}" for k in range(len(readings))]
    if magnet:
        readings, names = [*readings, Magnet(magnet)], [*names, "magnet"]
    observed = tuple(r.observed(name, about) for r, name in zip(readings, names, strict=True))
    return Evidence(volume, observed, form, LAYERS)


def bare(bodies, shape=DISC):
    """Bodies as bare pieces."""
    return Candidates.bare(bodies, LAYERS, Form(*shape))


def plated_v(body, skin, um, shape=DISC):
    """Specific volume of a body under `um` of a metal: shares of volume times densities."""
    part = float(skin_volume_share(*shape, np.array(um / 1000)))
    return 1 / ((1 - part) / body.v[0] + part * density_of(skin))
