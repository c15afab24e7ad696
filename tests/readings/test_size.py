"""The outline of a piece beside the volume of its metal, and coins beside the specification of their type."""

import math

import numpy as np
import pytest
from scipy.special import ndtr

from alloysolve.answer.solution import solve
from alloysolve.batch.looked_up import is_covered
from alloysolve.inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED
from alloysolve.inference.misfit import p_of
from alloysolve.inference.observe import evidence_of
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral.evidence import Scores
from alloysolve.published.load import default_tables
from alloysolve.readings.error_model import mixture_score
from alloysolve.readings.size import GRADES, graded, written_u
from alloysolve.units import parse
from tests.bodies_of import bare, published

TABLES = default_tables()
SILVER = bare(published("fine silver"))
ROUND = {"claim": "silver 999", "mass": "31.10 g", "displaced": "2.96 g"}  # 10.49 g/cm3


def size(**piece):
    s = solve(Piece(**piece))
    return next((o for o in s.evidence.observed if o.kind == "size"), None)


def outline(diameter, thickness):
    return math.pi / 4 * diameter**2 * thickness / 1000  # cm3


def test_the_outline_of_a_coin_is_its_rim_cylinder():
    o = size(**ROUND, disc=["38.60 mm", "3.00 mm"])
    assert o.read == pytest.approx(outline(38.6, 3.0))
    # a coin fills 0.80 of it (median of the coins of coins.csv); 31.10 g of silver of 10.49 g/cm3 (CRC Handbook)
    assert o.expected(SILVER)[0] == pytest.approx(31.10 / 10.49 / 0.80, rel=1e-3)


@pytest.mark.parametrize(("fill", "z"), [(0.62, 1.96), (0.80, 0.0), (1.0, -1.96)])
def test_fills_as_published_lie_within_two_deviations(fill, z):
    """95 % of coins fill 0.62 to 0.97 of their cylinder (coins.csv), flat medals all; the tail below is heavy."""
    o = size(**ROUND, disc=["38.60 mm", "3.00 mm"])
    assert o.score_of_volume(np.array([fill * o.read]))[0] == pytest.approx(z, abs=0.12)


def test_an_answer_says_what_such_a_coin_usually_takes_up():
    s = solve(Piece(**ROUND, disc=["38.6 mm", "6 mm"]))
    row = next(r for r in s.document.readings if r.kind == "size")
    metal = 31.10 / 10.49  # cm3, of which a coin or medal fills 0.62 to all
    assert row.told_as_claimed == pytest.approx((metal, metal / 0.62), rel=5e-3)
    assert (row.below_claim, row.value) == (False, pytest.approx(outline(38.6, 6), rel=0.02))


def test_a_cylinder_cannot_hold_more_than_itself_but_a_ring_may_have_a_head():
    coin = size(**ROUND, disc=["38.60 mm", "2.20 mm"])
    ring = size(**ROUND, ring=["38.60 mm", "10.0 mm", "2.4 mm"])
    over = [abs(float(o.score_of_volume(np.array([1.3 * o.read]))[0])) for o in (coin, ring)]
    assert over[0] > over[1] > 3


def test_a_cast_bar_fills_less_than_a_struck_one():
    """Round edges and sloping sides: 0.88 of the outline is no fault, 0.60 is (judgement)."""
    kilo = {"claim": "silver 999", "mass": "1000.2 g", "displaced": "95.2 g"}
    cast, odd = (size(**kilo, bar=["120.0 mm", "52.0 mm", f"{95.3 / fill / 6.24:.1f} mm"]) for fill in (0.88, 0.60))
    assert cast.score(SILVER)[0] == 0
    assert odd.score(SILVER)[0] > 3


def test_empty_space_that_is_closed_off_counts_as_part_of_the_piece():
    o = size(**ROUND, disc=["38.60 mm", "6.00 mm"])
    steps = [float(abs(o.score_of_volume(np.array([v]))[0])) for v in (2.96, 4.0, 5.6)]
    assert steps == sorted(steps, reverse=True)


def test_a_chain_may_be_open_inside():
    of_chain = size(**{**ROUND, "claim": "silver 999 chain"}, rod=["8 mm", "200 mm"])
    assert of_chain.score(SILVER)[0] == 0


@pytest.mark.parametrize(
    ("text", "u"),
    [
        ("38.60 mm", 0.02),
        ("38.6 mm", 0.1 / 12**0.5),
        ("6 mm", 1 / 12**0.5),
        ("3,9 cm", 1 / 12**0.5),
        ("6 +- 0.1 mm", 0.1),
    ],
)
def test_a_length_is_as_good_as_it_was_written(text, u):
    """The last digit is rounded: a rectangle, whose deviation is its width over the root of 12."""
    assert written_u(parse(text, "length", ""), 0.02) == pytest.approx(u)


def test_a_round_that_is_too_thick_for_its_water_is_named():
    s = solve(Piece(**ROUND, disc=["38.6 mm", "6 mm"]))
    assert s.decision.code == UNDECIDED
    note = next(n for n in s.advice.notes if n.code == "fills too little")
    assert note.values["fill"] == pytest.approx(31.10 / 10.49 / outline(38.6, 6), rel=5e-3)
    row = next(r for r in s.document.readings if r.kind == "size")
    assert (row.agrees, row.claim_agrees) == ("no", "no")


def test_a_round_that_is_too_thin_for_its_water_is_named():
    s = solve(Piece(**ROUND, disc=["38.6 mm", "2.2 mm"]))
    assert s.decision.code == UNDECIDED
    assert "fills too much" in {n.code for n in s.advice.notes}


def test_a_usual_size_does_not_dilute_what_was_weighed():
    given = {"claim": "silver 999", "mass": "31.10 g", "displaced": "3.30 g"}
    assert solve(Piece(**given)).decision.code == CONTRADICTED
    assert solve(Piece(**given, disc=["38.6 mm", "3.2 mm"])).decision.code == CONTRADICTED
    sure = {"claim": "silver 900", "density": "10.31 +- 0.01 g/cm3", "mass": "26.7 g"}
    assert solve(Piece(**sure, disc=["38.1 mm", "2.8 mm"])).decision.code == NOT_CONTRADICTED


def test_without_water_the_lengths_are_the_density_and_no_second_reading():
    s = solve(Piece(claim="silver 999", mass="31.10 g", disc=["38.6 mm", "3 mm"]))
    assert s.evidence.names == ("weighing",)
    assert s.weighing.route == "dimensions"


def test_a_length_typed_wrong_does_not_turn_the_belief():
    """2.2 mm for 2.9 mm: no metal fits, but that it is silver stays likelier than that it is none of the tables."""
    s = solve(Piece(**ROUND, disc=["38.6 mm", "2.2 mm"]))
    assert s.share_as_claimed > 0.9
    assert "too much" in next(n.code for n in s.advice.notes if n.code.startswith("fills"))


def test_a_coarse_weighing_leaves_the_fill_open():
    """2.84 g on a scale of 0.01 g: 0.19 g of water is 4 % either way, and 106 % of the outline may be less than all."""
    ring = {"claim": "18 ct", "mass": "2.84 g", "displaced": "0.19 g", "ring": ["21.0 mm", "18.6 mm", "2.4 mm"]}
    assert not {n.code for n in solve(Piece(**ring)).advice.notes} & {"fills too much", "fills too little"}


def test_lengths_are_no_reading_beside_stones():
    assert size(claim="18 ct", mass="5.00 g", displaced="0.33 g", parts=["ruby 0.3 g"], disc=["20 mm", "2 mm"]) is None


def test_grades_keep_the_share_of_sound_pieces():
    """p of a grade is the share of all pieces that are as rare or rarer: at least that of its normal score."""
    assert GRADES.sum() == pytest.approx(1)
    z = np.array([0.5, 2.0, 3.0, 4.5])
    o = size(**ROUND, disc=["38.60 mm", "3.00 mm"])
    p = p_of(Scores({"size": graded(z)}, told={"size": (o.told(SILVER)[0], np.zeros(4, dtype=int))}))
    exact = [1.0, 0.0455, 0.0027, 6.8e-6]  # two-sided normal tails, any table
    assert (p >= np.array(exact)).all()
    assert (p[1:] <= 2.01 * np.array(exact)[1:]).all()


def test_the_reading_stands_beside_the_others_in_the_evidence():
    piece = Piece(**ROUND, disc=["38.6 mm", "3 mm"], magnet="none")
    s = solve(piece)
    assert s.evidence.names == ("weighing", "magnet", "size")
    assert evidence_of(piece, Settings(), TABLES, None).names == ("magnet", "size")


# --- coin types: the silver dollar has 26.73 g by law (412.5 grains, Act of 1878), 38.1 mm and a rim of 2.4 mm

DOLLAR = {"claim": "US-1d-Ag", "density": "10.31 +- 0.02 g/cm3"}  # silver 900 by the cells of silver and copper
LAW_G = 1.5 * 0.06479891  # 1.5 grains above or below (Coinage Act of 1873, section 37)


def checks(**piece):
    s = solve(Piece(**DOLLAR, **piece))
    o = next(o for o in s.evidence.observed if o.kind == "coin_type")
    return {c.what: c for c in o.checks}


def test_mass_and_lengths_are_compared_with_those_of_the_type():
    found = checks(mass="26.73 g", disc=["38.10 mm", "2.40 mm"])
    assert {what: c.nominal for what, c in found.items()} == {"mass": 26.73, "diameter": 38.1, "thickness": 2.4}
    assert found["mass"].u == pytest.approx(LAW_G / 3**0.5, abs=0.002)  # rectangular, and the last digit of the scale
    assert set(checks(mass="26.73 g")) == {"mass"}


def test_wear_takes_mass_away_and_never_adds_any():
    """7 % were lost by a dollar worn nearly smooth (forums.collectors.com, discussion 616327)."""
    light, heavy = (abs(checks(mass=f"{26.73 * (1 + x):.2f} g")["mass"].score) for x in (-0.07, 0.07))
    assert light < 3.3 < 10 < heavy


@pytest.mark.parametrize(
    ("given", "note"),
    [
        ({"mass": "29.40 g"}, "mass is not the nominal one"),  # 10 % too heavy
        ({"mass": "20.00 g"}, "mass is not the nominal one"),  # a quarter too light: no coin wears so far
        ({"mass": "26.72 g", "disc": ["39.10 mm", "2.40 mm"]}, "diameter is not the nominal one"),
        ({"mass": "26.72 g", "disc": ["38.10 mm", "3.20 mm"]}, "thickness is not the nominal one"),
    ],
)
def test_another_mass_or_size_speaks_against_the_type_and_is_named(given, note):
    s = solve(Piece(**DOLLAR, **given))
    assert s.decision.code == CONTRADICTED
    assert s.decision.reasons[-1].values["reading"] == "coin_type"
    assert note in {n.code for n in s.advice.notes}
    # the metal is as claimed: it is another piece of it
    assert s.share_as_claimed < 0.05
    assert s.beside_claim()[0].metals == ("Ag", "Cu")
    assert s.beside_claim()[0].probability > 0.5


@pytest.mark.parametrize(
    "given", [{"mass": "26.73 g"}, {"mass": "26.10 g"}, {"mass": "26.72 g", "disc": ["38.1 mm", "2.4 mm"]}]
)
def test_a_coin_of_the_type_agrees_and_is_likely(given):
    s = solve(Piece(**DOLLAR, **given))
    row = next(r for r in s.document.readings if r.kind == "coin_type")
    assert row.claim_agrees == "agrees"
    assert s.share_as_claimed > 0.9


def test_a_copy_made_to_size_is_not_ruled_out_by_its_size():
    """Another metal of the mass and size of the dollar: the reading is nearly as likely."""
    s = solve(Piece(**DOLLAR, mass="26.72 g"))
    o = next(o for o in s.evidence.observed if o.kind == "coin_type")
    brass, coin = bare(published("cartridge brass 70/30")), bare(published("silver 900"))
    assert o.score(brass) == o.between(brass, coin) == 0
    assert 1 < o.pdf(coin)[0] / o.pdf(brass)[0] < 30
    assert o.other == o.pdf(brass)[0]


def test_of_sound_coins_fewer_than_one_in_ten_thousand_is_contradicted():
    """Drawn from the stated laws: tolerance, wear, and two lengths, for 200 000 dollars."""
    rng = np.random.default_rng(5)
    found = checks(mass="26.73 g", disc=["38.10 mm", "2.40 mm"])
    worst = np.zeros(200_000)
    for c in found.values():
        r = rng.normal(0, c.u, len(worst)) + rng.exponential(c.worn, len(worst))
        z = mixture_score(r, c.u, np.zeros(len(r)), c.worn)
        worst = np.maximum(worst, np.abs(z))
    p = 1 - (1 - 2 * ndtr(-worst)) ** 4  # three checks, and the outline rests on the same lengths
    assert (p < 1e-3).mean() == pytest.approx(1e-3, rel=0.4)


def test_a_list_solves_coin_types():
    claim = parse_claim("US-1d-Ag", TABLES)
    assert not is_covered(Piece(claim="US-1d-Ag", mass="26.73 g", displaced="2.59 g"), claim)
    assert is_covered(Piece(**DOLLAR), claim)
