"""All readings of a piece together: which err together, what is left without one, and "something else"."""

import math

import numpy as np
import pytest
from scipy import stats

from alloysolve.inference.observe import circumstances_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral.evidence import WEIGHING, Evidence
from alloysolve.readings.base import BODY, STRIKES, SURFACE
from alloysolve.readings.registry import Conductivity, Magnet, SurfaceComposition
from tests.bodies_of import DISC, LAYERS, MAGNET, TABLES, Form, bare, evidence, published

BRASS = published("cartridge brass 70/30")


def with_readings(*readings, volume=None):
    form = Form(*DISC)
    about = circumstances_of(Piece(magnet="none"), Settings(), TABLES, form)
    observed = tuple(r.observed(f"{r.kind} {k}", about) for k, r in enumerate(readings))
    return Evidence(volume, observed, form, LAYERS)


def of_t(r, u, model):
    """Density of a normal error of `u` and a t of 4 degrees of freedom of deviation `model` at `r`, by a plain sum."""
    e, t = np.linspace(-8, 8, 4001), stats.t(4, scale=model / 2**0.5)
    return float((stats.norm.pdf(e) * t.pdf(r - u * e)).sum() * (e[1] - e[0]))


def test_readings_of_different_kinds_err_apart():
    e = evidence(BRASS.v[0], 0.001, resistivity=[(6.2, 0.03)], magnet="none")
    r = math.log(BRASS.resistivity[0] / 6.2)
    expected = of_t(r, 0.03, float(BRASS.u_resistivity[0])) * MAGNET["none"][0]
    assert e.pdf(bare(BRASS)) == pytest.approx([expected], rel=0.01)


def test_two_conductivities_share_the_scatter_of_the_model():
    """Their mean is as uncertain as the model; ten readings alike do not make it more certain."""
    predicted, model = float(BRASS.resistivity[0]), float(BRASS.u_resistivity[0])
    off = predicted * math.exp(2.5 * model)
    one = evidence(resistivity=[(off, 0.01)])
    ten = evidence(resistivity=[(off, 0.01)] * 10)
    best_one, best_ten = evidence(resistivity=[(predicted, 0.01)]), evidence(resistivity=[(predicted, 0.01)] * 10)
    for a, b, u in ((one, best_one, 0.01), (ten, best_ten, 0.01 / math.sqrt(10))):
        ratio = float(a.pdf(bare(BRASS))[0] / b.pdf(bare(BRASS))[0])
        assert ratio == pytest.approx(of_t(2.5 * model, u, model) / of_t(0.0, u, model), rel=0.05)


def test_two_conductivities_of_one_body_that_differ_speak_against_every_body_alike():
    """20 % apart where each has 1 %: whatever the piece is, and "something else" too."""
    p = float(BRASS.resistivity[0])
    alike, apart = evidence(resistivity=[(p, 0.01)] * 2), evidence(resistivity=[(p / 1.1, 0.01), (p * 1.1, 0.01)])
    body = float(apart.pdf(bare(BRASS))[0] / alike.pdf(bare(BRASS))[0])
    other = apart.other_likelihood() / alike.other_likelihood()
    assert body < 0.05
    assert body == pytest.approx(other, rel=1e-3)


def test_scores_go_by_name_the_weighing_first():
    e = evidence(BRASS.v[0] * 1.03, 0.001, resistivity=[(6.2, 0.03)], magnet="strong")
    assert e.names == (WEIGHING, "conductivity", "magnet")
    scores = e.scores(bare(BRASS))
    assert tuple(scores) == e.names
    assert scores[WEIGHING][0] > 3  # 3 % too light
    assert scores["magnet"][0] == pytest.approx(math.sqrt(-2 * math.log(MAGNET["none"][2] / MAGNET["none"][0])))


def test_without_one_reading_and_with_some_only():
    e = evidence(BRASS.v[0], 0.001, resistivity=[(6.2, 0.03)], magnet="none")
    assert e.only(WEIGHING, "conductivity").names == (WEIGHING, "conductivity")
    assert e.only("conductivity", "magnet").names == ("conductivity", "magnet")
    assert e.only("magnet").names == ("magnet",)
    assert e.only(WEIGHING, "magnet").names == (WEIGHING, "magnet")
    assert e.only(WEIGHING, "conductivity").pdf(bare(BRASS)) * MAGNET["none"][0] == pytest.approx(e.pdf(bare(BRASS)))


def test_no_body_is_likelier_than_the_peak():
    e = evidence(resistivity=[(float(BRASS.resistivity[0]), 0.01)], magnet="none")
    assert e.pdf(bare(BRASS))[0] < e.peak
    narrow = BRASS.u_resistivity.copy()
    BRASS.u_resistivity[:] = 0.03
    try:
        assert e.pdf(bare(BRASS))[0] < e.peak < 3 * e.pdf(bare(BRASS))[0]
    finally:
        BRASS.u_resistivity[:] = narrow


def test_what_readings_can_show_of_layers():
    unknown, known = Conductivity("28 %IACS"), Conductivity("28 %IACS", frequency="60 kHz")
    surface = SurfaceComposition("Ag 99.9")
    assert with_readings().shows == with_readings(unknown).shows == BODY
    assert with_readings(known, Magnet("none")).shows == STRIKES
    assert with_readings(unknown, surface).shows == SURFACE
    assert with_readings(known, surface).surface == ("surface_composition 1",)
