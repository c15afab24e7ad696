"""Which of the readings gives the density, and what the shop settings add to it."""

import numpy as np
import pytest

from alloysolve.errors import InputError
from alloysolve.inference.known_good import reference_piece
from alloysolve.inference.weigh_piece import density_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.physics.geometry import bar
from alloysolve.published.load import default_tables
from alloysolve.weighing.weigh import from_density, from_dimensions, weigh

TABLES = default_tables()


def density(settings=None, **given):
    return density_of(Piece(**given), settings or Settings(), TABLES)


def test_weighed_in_either_set_up():
    one = density(mass="31.18 g", displaced="3.64 g")
    other = density(mass="31.18 g", in_water="27.54 g")
    assert one.density.value == pytest.approx(other.density.value, rel=1e-9)
    assert one.route == "weighing"
    assert one.density.value == pytest.approx(weigh("31.18 g", "3.64 g").density.value, rel=1e-12)


def test_given_directly():
    assert density(density="8.54 +- 0.02 g/cm3") == from_density("8.54 +- 0.02 g/cm3")
    assert density(density="8.54 g/cm3", mass="31.18 g", bar=["50 mm", "28 mm", "2.6 mm"]).route == "density"


def test_from_dimensions_where_nothing_was_weighed_in_water():
    w = density(mass="31.18 g", bar=["50.0 mm", "28.0 mm", "2.60 mm"])
    assert w.route == "dimensions"
    assert w.density.value == pytest.approx(31.18 / (0.98 * 5.0 * 2.8 * 0.26))  # rounded edges
    assert w.density.value == from_dimensions("31.18 g", "bar", ["50 mm", "28 mm", "2.6 mm"]).density.value
    weighed = density(mass="31.18 g", displaced="3.64 g", bar=["50.0 mm", "28.0 mm", "2.60 mm"])
    assert weighed.route == "weighing"


@pytest.mark.parametrize(
    "given",
    [
        {},
        {"mass": "31.18 g"},
        {"bar": ["50 mm", "28 mm", "2.6 mm"]},
        {"mass": "62.4 g", "bar": ["50 mm", "28 mm", "2.6 mm"], "count": 2},
    ],
)
def test_no_density_from_these(given):
    assert density(**given) is None


def test_two_densities_are_refused():
    with pytest.raises(InputError) as e:
        density(mass="31.18 g", displaced="3.64 g", density="8.5 g/cm3")
    assert (e.value.path, e.value.given) == ("density", "8.5 g/cm3")


def test_the_settings_reach_the_weighing():
    settings = Settings.from_dict(
        {"scale": {"step": "0.1 g", "thread": "0.2 mm", "water": "25 degC", "wetting": "dry dip"}}
    )
    w = density(settings, mass="31.18 g", displaced="3.64 g")
    expected = weigh("31.18 g", "3.64 g", scale_step=0.1, thread=0.2, water=25.0, wetting="dry dip")
    assert (w.v, w.u_v, w.bubble_v) == pytest.approx((expected.v, expected.u_v, expected.bubble_v), rel=1e-12)


def test_the_piece_overrides_the_settings():
    settings = Settings.from_dict({"scale": {"step": "0.1 g", "water": "25 degC", "wetting": "dry dip"}})
    w = density(settings, mass="31.18 g", displaced="3.64 g", scale_step="0.01 g", water="20 degC", wetting="brushed")
    expected = weigh("31.18 g", "3.64 g", scale_step="0.01 g", water="20 degC", wetting="brushed")
    assert (w.v, w.u_v, w.bubble_v) == pytest.approx((expected.v, expected.u_v, expected.bubble_v), rel=1e-12)


def test_another_liquid_replaces_the_water():
    w = density(mass="31.18 g", displaced="2.88 g", liquid_density="0.789 g/cm3")  # ethanol at 20 degC, CRC Handbook
    assert w.liquid == 0.789
    assert w.density.value == pytest.approx(31.18 * (0.789 - 0.0012) / 2.88 + 0.0012, rel=1e-9)


def test_the_area_of_a_known_shape_holds_the_bubbles():
    w = density(mass="31.18 g", displaced="3.64 g", bar=["50 mm", "28 mm", "2.60 mm"], wetting="as usual")
    area = float(bar(50, 28, 2.6)[1])  # mm2
    assert w.bubble_v == pytest.approx(0.4 * area / 100 / 1000 / 31.18, rel=1e-3)  # 0.4 mm3 per cm2, as mean


def test_several_like_pieces_and_parts():
    three = density(mass="93.54 g", displaced="10.92 g", count=3)
    assert three.density.value == pytest.approx(density(mass="31.18 g", displaced="3.64 g").density.value, rel=1e-9)
    with_stone = density(mass="5.00 g", displaced="0.40 g", parts=["diamond 0.5 carat"])
    stone_g, stone_cm3 = 0.1, 0.1 / 3.51  # diamond 3.51 g/cm3 (handbook); 0.5 carat is 0.1 g
    by_hand = (5.00 - stone_g) / (0.40 / (0.9982067 - 0.0012) * (1 - 0.0012 * 0.4 / 5.0) - stone_cm3)
    assert with_stone.density.value == pytest.approx(by_hand, rel=2e-3)


def test_a_known_good_piece_carries_its_claim():
    settings = Settings().with_known_good("silver 999", "31.10 g", ["2.97 g", "2.98 g"])
    piece = reference_piece(settings.scale.known_good, TABLES)
    assert piece.density == pytest.approx(10.49, abs=0.02)  # fine silver, handbook
    assert 0 < piece.u < 0.03
    assert [q.value for q in piece.displaced] == [2.97, 2.98]


def test_a_known_good_piece_leaves_the_wetting_of_later_pieces_alone():
    """A check that was brushed with care says nothing of the next piece: unsaid, it is wetted as usual."""
    scale = {"known_good": {"claim": "silver 999", "mass": "31.10 g", "displaced": ["2.96 g"]}}
    ways = ({}, {"wetting": "as usual"}, {"wetting": "brushed"})
    air = [
        density(Settings.from_dict({"scale": {**scale, **way}}), mass="31.18 g", displaced="3.64 g").bubble_v
        for way in ways
    ]
    assert air[0] == air[1]
    assert air[0] == pytest.approx(4 * air[2])  # 0.4 and 0.1 mm3 per cm2


def test_a_known_good_piece_takes_out_what_is_common():
    """A scale that reads all water 1 % high: the ratio to the good piece is right again."""
    plain = density(mass="31.18 g", displaced="3.64 g")
    settings = Settings().with_known_good("silver 999", "31.10 g", [f"{31.10 / 10.497 * 0.997 * 1.01:.4f} g"])
    corrected = density(settings, mass="31.18 g", displaced="3.64 g")
    assert corrected.density.value / plain.density.value == pytest.approx(1.01, abs=2e-3)


def test_a_plated_piece_is_no_known_good_one():
    settings = Settings().with_known_good("silver plated", "31.10 g", ["2.97 g"])
    with pytest.raises(InputError) as e:
        density(settings, mass="31.18 g", displaced="3.64 g")
    assert e.value.path == "settings.scale.known_good.claim"


def test_scatter_of_repeats_is_kept():
    w = density(mass="31.18 g", displaced=["3.64 g", "3.60 g", "3.68 g"])
    assert w.u_v > density(mass="31.18 g", displaced="3.64 g").u_v
    assert np.isfinite(w.dof)
