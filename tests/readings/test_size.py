"""The outline of a piece beside the volume of its metal, and coins beside the specification of their type."""

import math

import numpy as np
import pytest

from alloysolve.answer.solution import solve
from alloysolve.inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED
from alloysolve.inference.misfit import p_of
from alloysolve.inference.observe import evidence_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables
from alloysolve.readings.size import GRADES, graded, length_u
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


@pytest.mark.parametrize(("fill", "z"), [(0.62, 1.96), (0.80, 0.0), (0.97, -1.96)])
def test_fills_as_published_lie_within_two_deviations(fill, z):
    """95 % of coins fill 0.62 to 0.97 of their cylinder (coins.csv); the tail below is heavy."""
    o = size(**ROUND, disc=["38.60 mm", "3.00 mm"])
    assert o.score_of_volume(np.array([fill * o.read]))[0] == pytest.approx(z, abs=0.12)


def test_a_cylinder_cannot_hold_more_than_itself_but_a_ring_may_have_a_head():
    coin = size(**ROUND, disc=["38.60 mm", "2.20 mm"])
    ring = size(**ROUND, ring=["38.60 mm", "10.0 mm", "2.4 mm"])
    over = [abs(float(o.score_of_volume(np.array([1.3 * o.read]))[0])) for o in (coin, ring)]
    assert over[0] > over[1] > 3


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
    assert length_u(parse(text, "length", "")) == pytest.approx(u)


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


def test_lengths_are_no_reading_beside_stones():
    assert size(claim="18 ct", mass="5.00 g", displaced="0.33 g", parts=["ruby 0.3 g"], disc=["20 mm", "2 mm"]) is None


def test_grades_keep_the_share_of_sound_pieces():
    """p of a grade is the share of all pieces that are as rare or rarer: at least that of its normal score."""
    assert GRADES.sum() == pytest.approx(1)
    z = np.array([0.5, 2.0, 3.0, 4.5])
    o = size(**ROUND, disc=["38.60 mm", "3.00 mm"])
    from alloysolve.inference.evidence import Scores

    p = p_of(Scores({"size": graded(z)}, told={"size": (o.told(SILVER)[0], np.zeros(4, dtype=int))}))
    exact = [1.0, 0.0455, 0.0027, 6.8e-6]  # two-sided normal tails, any table
    assert (p >= np.array(exact)).all()
    assert (p[1:] <= 2.01 * np.array(exact)[1:]).all()


def test_the_reading_stands_beside_the_others_in_the_evidence():
    piece = Piece(**ROUND, disc=["38.6 mm", "3 mm"], magnet="none")
    s = solve(piece)
    assert s.evidence.names == ("weighing", "magnet", "size")
    assert evidence_of(piece, Settings(), TABLES, None).names == ("magnet", "size")
