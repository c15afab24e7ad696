"""The shape of a piece: layers all over it and what a meter looks through, by elementary geometry."""

import math

import numpy as np
import pytest

from alloysolve.inference.observe import form_of
from alloysolve.inputs.piece import Piece
from alloysolve.pieces.shape import USUAL_RATIO, USUAL_VOLUME, Form
from alloysolve.weighing.weigh import weigh

# lengths [mm]; what is left of the volume under a layer of t mm; what a meter looks through [um]
SHAPES = [
    ("bar", (50.0, 28.0, 2.6), lambda t: (50 - 2 * t) * (28 - 2 * t) * (2.6 - 2 * t) / (50 * 28 * 2.6), 2600),
    ("disc", (38.6, 3.0), lambda t: (38.6 - 2 * t) ** 2 * (3 - 2 * t) / (38.6**2 * 3), 3000),
    ("rod", (4.0, 80.0), lambda t: (4 - 2 * t) ** 2 * (80 - 2 * t) / (4**2 * 80), 4000),
    ("sphere", (12.0,), lambda t: (12 - 2 * t) ** 3 / 12**3, 12000),
    # inside and outside are covered: the hole grows smaller
    ("ring", (21.0, 18.0, 5.0), lambda t: ((21 - 2 * t) ** 2 - (18 + 2 * t) ** 2) * (5 - 2 * t) / (117 * 5), 1500),
    ("tube", (10.0, 8.0, 60.0), lambda t: ((10 - 2 * t) ** 2 - (8 + 2 * t) ** 2) * (60 - 2 * t) / (36 * 60), 1000),
]


@pytest.mark.parametrize(("shape", "sizes", "core", "through"), SHAPES, ids=[s[0] for s in SHAPES])
def test_a_layer_all_over_takes_the_rest_of_the_volume(shape, sizes, core, through):
    um = np.array([0.5, 10.0, 300.0])
    share = Form(shape, sizes).skin_share(um)
    # formulas of offset bodies give the edges of a box and a cylinder exactly
    assert share == pytest.approx([1 - core(t / 1000) for t in um], rel=1e-9)


@pytest.mark.parametrize(("shape", "sizes", "core", "through"), SHAPES, ids=[s[0] for s in SHAPES])
def test_thickness_and_share_go_both_ways(shape, sizes, core, through):
    form = Form(shape, sizes)
    for um in (0.3, 7.0, 60.0, 450.0):
        # read from a table of 400 thicknesses, 3 % apart, between which a share is nearly straight
        assert float(form.skin_um(1 - core(um / 1000))) == pytest.approx(um, rel=1e-3)
    assert float(form.skin_um(0.0)) <= 0.1
    assert np.all(np.diff(form.skin_um(np.linspace(0, 1, 50))) >= 0)


@pytest.mark.parametrize(("shape", "sizes", "core", "through"), SHAPES, ids=[s[0] for s in SHAPES])
def test_a_meter_looks_through_the_thinnest_way(shape, sizes, core, through):
    assert Form(shape, sizes).thickness_um == pytest.approx(through)


def test_a_flat_washer_is_looked_through_by_its_height():
    assert Form("ring", (30.0, 10.0, 2.0)).thickness_um == pytest.approx(2000)


def test_the_dimensions_of_a_piece_are_its_form():
    form = form_of(Piece(density=8.5, mass="31.18 g", bar=["50 mm", "28 mm", "2.6 mm"], count=2), None)
    assert (form.shape, form.sizes, form.measured) == ("bar", (50.0, 28.0, 2.6), True)
    assert form.mass_g == pytest.approx(31.18 / 2)  # of one piece


@pytest.mark.parametrize("count", [1, 4])
def test_without_dimensions_a_coin_of_the_weighed_volume_is_assumed(count):
    w = weigh("31.18 g", "3.64 g")
    form = form_of(Piece(mass="31.18 g", displaced="3.64 g", count=count), w)
    d, t = form.sizes
    assert (form.shape, form.measured) == ("disc", False)
    assert d / t == pytest.approx(13)  # crowns and dollars: 38.1 x 2.4 to 40 x 3; common practice, no source
    assert math.pi / 4 * d**2 * t == pytest.approx(3640 / 0.998 / count, rel=0.003)  # 3.64 g of water, one piece


def test_without_anything_a_coin_of_usual_size_is_assumed():
    form = form_of(Piece(magnet="none"), None)
    d, t = form.sizes
    assert math.pi / 4 * d**2 * t == pytest.approx(USUAL_VOLUME)
    assert d / t == pytest.approx(USUAL_RATIO)
    assert (form.measured, form.mass_g) == (False, None)
