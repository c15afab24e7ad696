"""Integrals over skin thickness and void share against adaptive quadrature of the same integrand."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from alloysolve.integral.believed import Believed
from alloysolve.integral.evidence import OTHER_DENSITY
from alloysolve.integral.solver import ROWS_DOWN_TO, Solver
from alloysolve.integral.windows import MOST_SKIN
from alloysolve.physics.geometry import skin_volume_share
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import CLAD, CORED, HOLLOW, HOMOGENEOUS, PLATED
from alloysolve.readings.error_model import LEVELS
from alloysolve.readings.reading import Circumstances
from alloysolve.readings.registry import Conductivity
from tests.bodies_of import (
    ALL,
    DISC,
    LAYERS,
    MAGNET,
    SKIN_PARTS,
    TABLES,
    VOID_PART,
    density_of,
    evidence,
    plated_v,
    published,
)
from tests.error_by_hand import direct_pdf

ONE = np.array([1.0])


def bare_rows(body, e, share=ONE):
    return Solver(body, e).rows([Believed(HOMOGENEOUS, -1, share)])


def plated_rows(body, e, skin):
    return Solver(body, e).rows([Believed(PLATED, skin, ONE, SKIN_PARTS)])


def hollow_rows(body, e):
    return Solver(body, e).rows([Believed(HOLLOW, -1, ONE, VOID_PART)])


def tabulated_scatter(e, body):
    """The relative scatter that the density reading is tabulated for nearest the body's (2 % apart)."""
    volume = e.volume
    return float(LEVELS[int(volume.level(body.sigma)[0])])


def by_quadrature(e, body, predicted_v, parts):
    """Sum over log-uniform parts of the mean likelihood, by quad between break points about the peak."""
    scatter = tabulated_scatter(e, body) * e.volume.v

    def likelihood(x):
        r = e.volume.v - np.array([predicted_v(math.exp(v)) for v in np.atleast_1d(x)])
        return direct_pdf(r, e.volume.u, np.array(scatter), e.volume.bubble)

    total = 0.0
    for share, low, high in parts:
        start, stop = math.log(low), math.log(high)
        x = np.linspace(start, stop, 4001)
        peak = x[np.argmax(likelihood(x))]
        near = sorted({start, stop, *(p for d in (0.003, 0.03, 0.3) for p in (peak - d, peak + d) if start < p < stop)})
        whole = sum(quad(lambda x: likelihood(x)[0], a, b, limit=200)[0] for a, b in itertools.pairwise(near))
        total += share * whole / (stop - start)
    return total


def feasible_parts(e):
    """The parts of the prior of thickness that leave a core, with their shares made up to 1."""
    thickest = brentq(lambda t: float(e.form.skin_share(np.array([t]))[0]) - MOST_SKIN, 0.1, 5000.0)
    parts = [(share, low, min(high, thickest)) for share, low, high in SKIN_PARTS if low < thickest]
    return [(share / sum(s for s, _, _ in parts), low, high) for share, low, high in parts]


@pytest.mark.parametrize(
    ("core", "skin", "um", "u", "bubble", "within"),
    [
        # a thin skin moves the density by less than the reading's error: a smooth integrand
        ("tungsten metal", "Au", 3.0, 0.0002, 0.0, 3e-3),
        ("tungsten metal", "Au", 0.3, 0.001, 0.003, 1e-3),
        ("cartridge brass 70/30", "Ag", 3.0, 0.0005, 0.003, 1e-3),
        # a peak at the end of one prior part and in the middle of the other
        ("cartridge brass 70/30", "Ag", 37.0, 0.0005, 0.0003, 0.02),
        ("cartridge brass 70/30", "Ag", 300.0, 0.0004, 0.0, 0.02),
        ("cartridge brass 70/30", "Ag", 300.0, 0.002, 0.003, 0.02),
        ("cartridge brass 70/30", "Ag", 300.0, 0.02, 0.003, 0.02),
    ],
)
def test_plated_integral(core, skin, um, u, bubble, within):
    body = published(core)
    e = evidence(plated_v(body, skin, um), u, bubble)
    rows = plated_rows(body, e, body.law.index[skin])
    expected = by_quadrature(e, body, lambda t: plated_v(body, skin, t), feasible_parts(e))
    assert rows.weight.sum() == pytest.approx(expected, rel=within)
    assert set(rows.construction) == {PLATED}
    assert set(rows.skin) == {body.law.index[skin]}


@pytest.mark.parametrize(("void", "u", "bubble"), [(0.02, 0.001, 0.003), (0.3, 0.001, 0.003), (0.3, 0.0003, 0.0)])
def test_hollow_integral(void, u, bubble):
    body = published("silver 925")
    e = evidence(body.v[0] / (1 - void), u, bubble)
    rows = hollow_rows(body, e)
    expected = by_quadrature(e, body, lambda s: body.v[0] / (1 - s), VOID_PART)
    assert rows.weight.sum() == pytest.approx(expected, rel=0.02)
    assert set(rows.construction) == {HOLLOW}
    mean = rows.weight @ rows.parameter / rows.weight.sum()
    assert mean == pytest.approx(void, abs=0.01)  # the body's own scatter moves it by less


def test_gold_on_tungsten_is_not_lost_to_homogeneous_gold():
    """3 um of gold on tungsten reads like gold; neither may win by an error of the integral."""
    tungsten, gold = published("tungsten metal"), published("fine gold")
    e = evidence(plated_v(tungsten, "Au", 3.0), 0.0005, 0.0)
    plated = plated_rows(tungsten, e, tungsten.law.index["Au"]).weight.sum()
    bare_gold = bare_rows(gold, e).weight.sum()
    expected = by_quadrature(e, tungsten, lambda t: plated_v(tungsten, "Au", t), feasible_parts(e))
    scatter = tabulated_scatter(e, gold) * e.volume.v
    of_gold = direct_pdf(np.array(e.volume.v - gold.v[0]), e.volume.u, np.array(scatter), 0.0)
    assert plated / bare_gold == pytest.approx(expected / float(of_gold), rel=5e-3)


@pytest.mark.parametrize("core", ["tungsten metal", "cartridge brass 70/30", "silver 925"])
@pytest.mark.parametrize("bubble", [0.0, 0.003, 0.01])
def test_the_window_loses_less_than_a_millionth(core, bubble):
    body = published(core)
    e = evidence(body.v[0], 0.001, bubble)
    low, high = (float(x[0]) for x in e.volume.window(body.sigma))
    scatter = tabulated_scatter(e, body) * e.volume.v

    def mass(a, b):
        return quad(
            lambda v: float(direct_pdf(np.array(e.volume.v - v), e.volume.u, np.array(scatter), e.volume.bubble)),
            a,
            b,
            limit=400,
        )[0]

    wide = 40 * scatter + 40 * e.volume.u + 60 * e.volume.bubble
    outside = mass(e.volume.v - wide, low) + mass(high, e.volume.v + wide)
    assert outside < 1e-6


def test_homogeneous_is_prior_times_likelihood_of_every_reading():
    body = published("cartridge brass 70/30")
    e = evidence(body.v[0] * 1.001, 0.001, 0.003, resistivity=[(6.2, 0.01)], magnet="none")
    rows = bare_rows(body, e, np.array([0.25]))
    volume = direct_pdf(
        np.array(e.volume.v - body.v[0]),
        e.volume.u,
        np.array(tabulated_scatter(e, body) * e.volume.v),
        e.volume.bubble,
    )
    r = math.log(body.resistivity[0] / 6.2)
    rho = direct_pdf(np.array(r), 0.01, body.u_resistivity[:1], 0.0)[0]
    assert rows.construction.tolist() == [HOMOGENEOUS]
    assert rows.weight[0] == pytest.approx(0.25 * float(volume) * rho * MAGNET["none"][0], rel=2e-3)


def test_without_a_density_every_thickness_is_as_likely_as_before():
    body = published("cartridge brass 70/30")
    e = evidence(magnet="none")
    own = MAGNET["none"][0]
    for rows in (plated_rows(body, e, body.law.index["Ag"]), hollow_rows(body, e), bare_rows(body, e)):
        assert rows.weight.sum() == pytest.approx(own, rel=1e-9)
        assert rows.likelihood == pytest.approx(own, rel=1e-12)
    rows = plated_rows(body, e, body.law.index["Ag"])
    thin = rows.prior[rows.parameter < SKIN_PARTS[0][2]].sum()
    assert thin == pytest.approx(SKIN_PARTS[0][0], rel=1e-9)


def test_body_and_skin_conduct_side_by_side():
    body = published("cartridge brass 70/30")  # silver conducts four times as well
    silver = body.law.index["Ag"]
    bare = plated_rows(body, evidence(resistivity=[(body.resistivity[0], 0.01)]), silver)
    assert bare.parameter[np.argmax(bare.likelihood)] < 5  # um
    share = float(skin_volume_share(*DISC, np.array(0.2)))
    whole = 1 / ((1 - share) / body.resistivity[0] + share / body.law.resistivity[silver])
    thick = plated_rows(body, evidence(resistivity=[(whole, 0.01)]), silver)
    assert thick.parameter[np.argmax(thick.likelihood)] == pytest.approx(200, rel=0.4)  # nodes are wide apart


def test_a_weighing_so_coarse_that_any_density_fits_leaves_every_thickness():
    body = published("cartridge brass 70/30")
    e = evidence(1 / 9.0, 0.12, 0.05)  # relative: eight deviations reach below 0
    assert 0 < e.volume.window(body.sigma)[0][0] < 1 / 30
    rows = plated_rows(body, e, body.law.index["Ag"])
    assert rows.prior.sum() == pytest.approx(1.0, rel=1e-6)


def test_a_body_that_cannot_reach_the_reading_has_no_rows():
    body = published("cartridge brass 70/30")
    e = evidence(1 / 15.0, 0.001)  # heavier than brass or silver can be
    assert len(plated_rows(body, e, body.law.index["Ag"]).weight) == 0
    assert len(hollow_rows(body, e).weight) == 0
    assert bare_rows(body, e).weight.sum() == 0.0
    too_light = evidence(1 / 5.0, 0.001)
    assert hollow_rows(body, too_light).weight.sum() > 0
    assert len(plated_rows(body, too_light, body.law.index["Ag"]).weight) == 0


def test_a_skin_as_dense_as_its_body_may_have_any_thickness():
    body = published("silver 925")
    silver = 1 / density_of("Ag")
    body.v[:] = silver
    rows = plated_rows(body, evidence(silver, 0.001), body.law.index["Ag"])
    assert rows.prior.sum() == pytest.approx(1.0, rel=1e-6)


def test_rows_that_cannot_matter_are_dropped():
    body = published("tungsten metal")
    rows = plated_rows(body, evidence(plated_v(body, "Au", 3.0), 0.0005, 0.003), body.law.index["Au"])
    assert rows.weight.min() >= ROWS_DOWN_TO * rows.weight.max()


def test_something_else_is_even_in_the_logarithm_of_each_reading():
    # one reading of v: density of v is that of ln(rho) over v; ranges 0.5 to 25 g/cm3, 1.5 to 200 uohm cm
    assert evidence(0.12).other_likelihood() == pytest.approx(1 / math.log(50) / 0.12, rel=1e-12)
    both = evidence(0.12, resistivity=[(6.0, 0.01), (6.1, 0.01)])
    apart = math.log(6.1 / 6.0) / 2  # what two readings of one piece differ by is no broader for something else
    own = float(direct_pdf(np.array([apart]), 0.01, np.array([0.015]), 0.0)[0])
    assert both.other_likelihood() == pytest.approx(OTHER_DENSITY / 0.12 / math.log(200 / 1.5) * own, rel=1e-3)
    total = sum(evidence(magnet=m).other_likelihood() for m in ("none", "weak", "strong"))
    assert total == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(
    ("construction", "shell", "part", "share", "span", "within"),
    [
        (CORED, "fine gold", "Pb", 0.2, (0.02, 0.9), 0.02),  # lead in gold: the density fixes the share
        (CORED, "fine gold", "W", 0.4, (0.02, 0.9), 0.01),  # tungsten in gold: it does not
        (CLAD, "oxygen-free copper", "copper-nickel", 0.333, (0.30, 0.37), 0.01),
    ],
)
def test_slugs_and_faces_are_integrated_over_their_share(construction, shell, part, share, span, within):
    body, number = published(shell), LAYERS.number(part)
    dense = 1 / LAYERS.v[number]

    def whole(x):
        return 1 / ((1 - x) / body.v[0] + x * dense)

    e = evidence(whole(share), 0.001)
    rows = Solver(body, e).rows([Believed(construction, number, ONE, ((1.0, *span),))])
    assert rows.weight.sum() == pytest.approx(by_quadrature(e, body, whole, [(1.0, *span)]), rel=within)
    assert set(rows.construction) == {construction}


@pytest.mark.parametrize("value", [1.0, 0.97])  # read over expected
@pytest.mark.parametrize(
    ("construction", "core", "part", "parameter", "hertz", "within"),
    [  # 80 um of silver seen at 500 kHz (95 um deep); gold on tungsten; nickel on brass; slug under a wall; faces
        (PLATED, "cartridge brass 70/30", "Ag", 80.0, 500e3, 0.02),
        (PLATED, "tungsten metal", "Au", 200.0, 60e3, 0.03),
        (PLATED, "cartridge brass 70/30", "Ni", 6.0, 500e3, 0.03),
        (PLATED, "cartridge brass 70/30", "Au/Ni", 1.0, 60e3, 0.02),
        (CORED, "fine gold", "W", 0.6, 10e3, 0.03),
        (CLAD, "oxygen-free copper", "copper-nickel", 0.333, 60e3, 0.02),
    ],
)
def test_a_meter_of_known_frequency_is_integrated_over_thickness_and_share(
    construction, core, part, parameter, hertz, within, value
):
    """Without a density: the likelihood summed over 4000 thicknesses or shares, evenly in the logarithm."""
    body, number, empty = published(core), LAYERS.number(part), evidence(magnet="none")

    def candidates(x):
        one = np.ones(len(x), dtype=int)
        return Candidates(body, LAYERS, empty.form, construction * one, 0 * one, number * one, np.asarray(x))

    about = Circumstances(TABLES, empty.form)
    middle = Conductivity("30 MS/m", "1 %", frequency=hertz).observed("conductivity", about)
    read = value * float(middle.predict(candidates([parameter]))[0][0])
    e = replace(empty, observed=(Conductivity(f"{read} MS/m", "1 %", frequency=hertz).observed("conductivity", about),))
    spans = feasible_parts(e) if construction == PLATED else [(1.0, 0.02, 0.9)]
    expected = 0.0
    for share, low, high in spans:
        x = np.geomspace(low, high, 4001)
        y = e.pdf(candidates(x))
        expected += share * float((y[1:] + y[:-1]).sum() / 2 / 4000)
    given = SKIN_PARTS if construction == PLATED else ((1.0, 0.02, 0.9),)
    rows = Solver(body, e).rows([Believed(construction, number, ONE, given)])
    assert rows.weight.sum() == pytest.approx(expected, rel=within)


@pytest.mark.parametrize(("um", "u_rho"), [(200.0, 0.01), (800.0, 0.01), (800.0, 0.05)])
@pytest.mark.parametrize("light", [1.0, 1.01])  # read over expected, of the volume
def test_a_resistivity_that_says_more_than_the_density_leads_the_integral(um, u_rho, light):
    """Silver is nearly as dense as lead and conducts thirteen times better: the peak is where the resistivity says."""
    body, number, empty = published("lead 99.9"), LAYERS.number("Ag"), evidence(magnet="none")

    def candidates(x):
        one = np.ones(len(x), dtype=int)
        return Candidates(body, LAYERS, empty.form, PLATED * one, 0 * one, number * one, np.asarray(x))

    part = float(empty.form.skin_share(np.array([um]))[0])  # of the volume, which carries current beside the body
    rho = 1 / ((1 - part) / body.resistivity[0] + part / LAYERS.resistivity[number])
    e = evidence(plated_v(body, "Ag", um) * light, 0.005, resistivity=[(rho, u_rho)])
    level = e.volume.level(body.sigma)
    expected = 0.0
    for share, low, high in feasible_parts(e):
        some = candidates(np.geomspace(low, high, 8001))
        y = e.pdf(some) * e.volume.pdf(some.v, level)
        expected += share * float((y[1:] + y[:-1]).sum() / 2 / 8000)
    rows = Solver(body, e).rows([Believed(PLATED, number, ONE, SKIN_PARTS)])
    assert rows.weight.sum() == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize(
    ("shape", "sizes", "core"),
    [  # of a layer of 1 mm all over: what is left, by elementary geometry
        ("bar", (50.0, 28.0, 4.0), 48 * 26 * 2 / (50 * 28 * 4)),
        ("disc", (30.0, 4.0), (28 / 30) ** 2 * 2 / 4),
        ("rod", (10.0, 30.0), (8 / 10) ** 2 * 28 / 30),
        ("sphere", (20.0,), (18 / 20) ** 3),
        ("ring", (22.0, 18.0, 6.0), (20**2 - 20**2) / (22**2 - 18**2)),
        ("tube", (30.0, 20.0, 40.0), (28**2 - 22**2) * 38 / ((30**2 - 20**2) * 40)),
    ],
)
def test_share_of_a_layer_by_shape(shape, sizes, core):
    assert float(skin_volume_share(shape, sizes, np.array(1.0))) == pytest.approx(1 - core, rel=1e-12)
    assert float(skin_volume_share(shape, sizes, np.array(0.0))) == pytest.approx(0.0, abs=1e-15)
    assert float(skin_volume_share(shape, sizes, np.array(20.0))) == 1.0
    thick = np.linspace(0, 20, 200)
    assert np.all(np.diff(skin_volume_share(shape, sizes, thick)) >= -1e-12)


def test_the_shape_decides_what_a_skin_weighs():
    """A ball has less surface per volume than a disc of the same volume: its skin weighs less."""
    ball, plate = ("sphere", (13.92,)), DISC  # both 1414 mm3
    t = np.array(0.01)
    assert skin_volume_share(*ball, t) < skin_volume_share(*plate, t)
    body = published("cartridge brass 70/30")
    assert plated_v(body, "Au", 10.0, plate) < plated_v(body, "Au", 10.0, ball) < body.v[0]
    assert ALL.law.index["Au"] >= 0
