"""Sliding magnet as a reading: ratios of times by drag, what wood says, what the known-good piece must be."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from alloysolve.answer.solution import solve
from alloysolve.errors import InputError
from alloysolve.inference.observe import circumstances_of
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import CLAD, CORED, HOLLOW, HOMOGENEOUS, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.readings.base import ALL
from alloysolve.readings.reading import Circumstances
from alloysolve.readings.registry import read_reading
from alloysolve.readings.sliding import ObservedSliding, SlidingMagnet
from tests.bodies_of import LAYERS, TABLES, published

BAR = Form("bar", (50.0, 28.0, 3.0))
FAR = {"time": "28 s", "known_good_time": "100 s", "wood_time": "0.2 s"}  # drag rules all the way


def about(claim: str = "silver 999", form: Form = BAR) -> Circumstances:
    return circumstances_of(Piece(), Settings(), TABLES, form, parse_claim(claim, TABLES) if claim else None)


def read(claim: str = "silver 999", form: Form = BAR, **keys) -> ObservedSliding:
    return SlidingMagnet(**keys).observed("sliding_magnet", about(claim, form))


def piece(grade: str, construction: int = HOMOGENEOUS, skin: str = "", parameter: float = 0.0, form: Form = BAR):
    number = LAYERS.number(skin) if skin else -1
    return Candidates(published(grade), LAYERS, form, *(np.array([x]) for x in (construction, 0, number, parameter)))


def test_brass_takes_the_time_of_its_conductivity() -> None:
    """28 over 105 %IACS (cartridge brass by its producers; fine silver 104 to 106)."""
    observed = read(**FAR)
    assert float(observed.drag_ratio(piece("cartridge brass 70/30"))[0][0]) == pytest.approx(28 / 105, rel=0.04)
    assert float(observed.expected(piece("cartridge brass 70/30"))[0]) == pytest.approx(0.27, rel=0.05)
    assert abs(observed.score(piece("cartridge brass 70/30"))[0]) < 1
    assert abs(observed.score(piece("fine silver"))[0]) > 3.5


def test_the_known_good_piece_takes_its_own_time() -> None:
    for claim, grade in (("silver 999", "fine silver"), ("gold 999", "fine gold")):
        assert float(read(claim, value=1).expected(piece(grade))[0]) == pytest.approx(1.0, abs=0.05), grade
    for claim, grade in (("silver 925", "silver 925"), ("gold 18 ct yellow", "gold 18 ct yellow 3N type")):
        assert abs(float(read(claim, value=1).score(piece(grade))[0])) < 1, grade  # within what the claim leaves open


def test_another_known_good_piece_than_the_claim() -> None:
    """Gold beside a silver bar: resistivities 2.2 and 1.6 uohm cm (CRC Handbook)."""
    of_gold = read("silver 999", known_good="gold 999", **FAR)
    assert float(of_gold.expected(piece("fine silver"))[0]) == pytest.approx(2.2 / 1.6, rel=0.04)


def heat_share(top: float, bottom: float, height: float) -> float:
    """Share of the Joule heat of a slow upright dipole between two depths [mm], by integrals over the conductor.

    Field of a moving dipole ~ r z / (r^2 + z^2)^(5/2), squared, times 2 pi r.
    """

    def slab(z: float) -> float:
        return quad(lambda r: r * (r * z / (r * r + z * z) ** 2.5) ** 2, 0, np.inf)[0]

    between, all_of_it = (quad(slab, height + a, height + b)[0] for a, b in ((top, bottom), (0.0, 400.0)))
    return between / all_of_it


def test_layers_share_the_drag_by_their_depth() -> None:
    """Copper-nickel faces of 0.5 mm on 3 mm of copper, both faces; shares by integrating the Joule heat."""
    observed = read("copper", **FAR)
    clad = piece("electrolytic tough pitch copper", CLAD, "copper-nickel", 1 / 3)
    front, core, back = (heat_share(a, b, 5.0) for a, b in ((0.0, 0.5), (0.5, 2.5), (2.5, 3.0)))
    face = LAYERS.resistivity[LAYERS.number("copper-nickel")]
    ratio = published("electrolytic tough pitch copper").resistivity[0] / face
    expected = (core + (front + back) * ratio) / (front + core + back)
    bare = float(observed.drag_ratio(piece("electrolytic tough pitch copper"))[0][0])
    assert float(observed.drag_ratio(clad)[0][0]) / bare == pytest.approx(expected, rel=1e-3)


def test_plating_is_not_felt_and_a_slug_is() -> None:
    observed = read(**FAR)
    bare, plated, cored = (
        float(observed.drag_ratio(piece("cartridge brass 70/30", *of))[0][0])
        for of in ((), (PLATED, "Ag", 10.0), (CORED, "Cu", 0.7))
    )
    assert plated == pytest.approx(bare, rel=0.03)  # 10 of 3000 um, in front 1 % of the drag of silver
    assert cored > 2 * bare


def test_on_tungsten_under_gold_it_takes_less_than_half_the_time() -> None:
    """18.9 over 45.5 MS/m (resistivities 5.28 and 2.2 uohm cm, CRC Handbook)."""
    observed = read("gold 999", **FAR)
    assert float(observed.expected(piece("tungsten metal", PLATED, "Au", 5.0))[0]) == pytest.approx(0.42, rel=0.05)


def test_near_the_time_on_wood_it_only_bounds_the_drag() -> None:
    """Known-good four times slower than wood; a time just over that on wood fits lead (8 %IACS) and titanium alike."""
    observed = read(time="1.02 s", known_good_time="4 s", wood_time="1 s")
    poor = [piece(g) for g in ("lead 99.9", "titanium grade 2", "stainless steel 304")]
    z = [float(observed.score(p)[0]) for p in poor if not p.bodies.magnetic[0]]
    assert len(z) >= 2
    assert max(map(abs, z)) < 1
    assert max(z) - min(z) < 1  # and cannot tell them apart
    assert abs(float(observed.score(piece("fine silver"))[0])) > 3.5  # but it is not silver
    drag = [float(observed.drag_ratio(p)[0][0]) for p in poor]
    assert max(drag) / min(drag) > 3


def test_near_the_time_on_wood_what_nobody_knows_of_the_drag_hardly_matters() -> None:
    observed = read(time="1.02 s", known_good_time="4 +- 0.01 s", wood_time="1 +- 0.01 s")
    porous = piece("titanium grade 2", HOLLOW, "", 0.5)
    assert float(observed.drag_ratio(porous)[1][0]) > 0.3
    assert float(observed.predict(porous)[1][0]) < 0.12  # 10 % of friction is left


def test_without_a_time_on_wood_a_small_ratio_says_less() -> None:
    """0.28 of the drag takes 0.28 to 0.38 of the time, as the slowing is from infinity down to four."""
    value, model = read(value="0.28").predict(piece("cartridge brass 70/30"))
    assert 0.27 < float(value[0]) < 0.38
    # the span of the logarithms over the root of 12, beside 10 % of friction
    assert float(model[0]) > math.hypot(0.1, math.log(0.38 / 0.28) / math.sqrt(12))
    assert float(read(value="0.28").predict(piece("titanium grade 2"))[1][0]) > 2 * float(model[0])
    assert float(read(value="0.28").predict(piece("fine silver"))[0][0]) == pytest.approx(1, abs=0.05)


def test_a_magnet_that_is_pulled_says_next_to_nothing() -> None:
    observed = read(value="0.1")
    assert float(observed.predict(piece("carbon steel 0.1 %"))[1][0]) >= 1
    assert abs(float(observed.score(piece("carbon steel 0.1 %"))[0])) < 2


def test_less_metal_brakes_less() -> None:
    value, model = read(**FAR).drag_ratio(piece("fine silver", HOLLOW, "", 0.4))
    assert float(value[0]) == pytest.approx(0.6, rel=0.05)
    assert float(model[0]) > 0.2  # pores or a shell: nobody knows


@pytest.mark.parametrize(("mm", "um"), [(3.0, ALL), (20.0, 5772.0)])
def test_it_sees_some_millimetres(mm: float, um: float) -> None:
    """5 mm (10^(1/3) - 1) = 5.772 mm hold nine tenths of the drag."""
    form = Form("bar", (50.0, 28.0, mm))
    assert read(form=form, value=1).sees(piece("fine silver", form=form))[0] == pytest.approx(um, rel=1e-3)


def test_times_and_their_repeats_make_the_ratio() -> None:
    """Means 1.2 and 4.0 s, each time 0.1 s by hand: u^2 = (0.1 / sqrt(2) / 1.2)^2 + (0.1 / 4)^2."""
    reading = SlidingMagnet(time="1.15 1.25 s", known_good_time="4 s")
    assert reading.value == pytest.approx(0.3)
    assert reading.u / reading.value == pytest.approx(math.hypot(0.1 / math.sqrt(2) / 1.2, 0.1 / 4.0), rel=1e-9)
    assert reading.slowing is None
    assert SlidingMagnet(time=1.2, known_good_time=4, wood_time=0.5).slowing == pytest.approx(8.0)


def test_times_that_scatter_more_than_by_hand_count_so() -> None:
    reading = SlidingMagnet(time=["1 s", "2 s", "3 s"], known_good_time="4 +- 0.0001 s")
    assert reading.u / reading.value == pytest.approx(1.0 / math.sqrt(3) / 2.0, rel=1e-6)  # sd 1 s, mean 2 s


@pytest.mark.parametrize(
    ("keys", "u"),
    [
        ({"value": 0.28}, 0.014),
        ({"value": "28 +- 2 %"}, 0.02),
        ({"value": 0.28, "u": 0.02}, 0.02),
        ({"value": 0.28, "u": "10 %"}, 0.028),
        ({"time": 1, "known_good_time": 4, "u": "4 %"}, 0.01),
    ],
)
def test_uncertainty_of_the_ratio(keys: dict, u: float) -> None:
    assert SlidingMagnet(**keys).u == pytest.approx(u, rel=1e-9)


@pytest.mark.parametrize(
    "table",
    [
        {"value": "0.28"},
        {"value": "28 %", "u": "5 %", "known_good": "silver 999", "place": "face"},
        {"time": "1.1 s 1.2 s", "known_good_time": "4.1 s", "wood_time": "0.5 s", "known_good": "gold 999"},
    ],
)
def test_a_table_gives_the_same_reading_again(table: dict) -> None:
    reading = read_reading({"kind": "sliding_magnet", **table}, "reading[0]")
    assert reading.to_dict() == {"kind": "sliding_magnet", **table}
    assert read_reading(reading.to_dict(), "reading[0]") == reading
    held = Piece(reading=[reading])
    assert Piece.from_dict(held.to_dict()) == held


TWO = "the ratio in one of two ways: value; time and known_good_time with or without wood_time"


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ({"time": "1 s"}, f"reading[0]: 'time': expected {TWO}; give the lines of exactly one of them"),
        (
            {"value": 0.3, "wood_time": "1 s"},
            f"reading[0]: 'value wood_time': expected {TWO}; give the lines of exactly one of them",
        ),
        (
            {"known_good_time": "1 s"},
            "reading[0].value: '': expected its time over that on the known-good piece: 0.28; or the lines time, "
            "known_good_time; give the value that was read",
        ),
        (
            {"value": "0.28 mm"},
            "reading[0].value: '0.28 mm': expected a ratio above zero, as a number or in %; write for example \"0.28\"",
        ),
        (
            {"value": "28"},
            "reading[0].value: '28': expected a ratio from 0.005 to 20; check the decimal marks; the time on this "
            "piece comes first",
        ),
        (
            {"time": "1 s", "known_good_time": "4 g"},
            "reading[0].known_good_time: '4 g': expected a time in s, ms, us or min; write for example \"0.5 s\"",
        ),
        (
            {"time": "1 s", "known_good_time": "4 s", "wood_time": "5 s"},
            "reading[0].wood_time: '5 s': expected a time below that on the known-good piece, 4 s; time both again at "
            "the same slope",
        ),
        (
            {"value": 0.3, "u": "some"},
            "reading[0].u: 'some': expected an uncertainty above zero, as a number or in %; write for example \"5 %\"",
        ),
    ],
)
def test_bad_readings_name_place_value_and_next_step(table: dict, message: str) -> None:
    with pytest.raises(InputError) as error:
        read_reading({"kind": "sliding_magnet", **table}, "reading[0]")
    assert str(error.value) == message


@pytest.mark.parametrize(
    ("claim", "known_good", "given"),
    [
        ("", "", ""),
        ("silver 999", "unobtainium", "unobtainium"),
        ("silver plated", "", "silver plated"),
        ("silver 999", "silver plated brass", "silver plated brass"),
    ],
)
def test_nothing_known_to_compare_with(claim: str, known_good: str, given: str) -> None:
    with pytest.raises(InputError) as error:
        read(claim, value=0.3, known_good=known_good)
    assert error.value.path == "sliding_magnet.known_good"
    assert error.value.given == given
    assert error.value.next_step


def test_a_silver_bar_on_which_it_slides_as_on_brass_does_not_match() -> None:
    fits, fails = (
        solve(Piece(claim="silver 999", bar="50 x 28 x 3 mm", sliding_magnet=r), Settings()) for r in ("0.98", "0.3")
    )
    assert fails.decision.code == "contradicted"
    assert fits.decision.code != "contradicted"
