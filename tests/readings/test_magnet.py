"""A hand magnet: what a pull says of a coin or bar, of the body of a jewel, and of a clasp."""

import pytest

from alloysolve.answer.solution import solve
from alloysolve.inference.decision import FALSE_ALARM
from alloysolve.inference.observe import circumstances_of
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables
from alloysolve.readings.registry import Magnet, read_reading
from tests.bodies_of import bare, published

TABLES = default_tables()
SILVER = bare(published("fine silver"))
BAR, CHAIN = {"claim": "silver 999 bar"}, {"claim": "silver 925 chain"}


def observed(answer, place="", **piece):
    piece = Piece(**piece, magnet="none")
    about = circumstances_of(piece, Settings(), TABLES, SILVER.form, parse_claim(piece.claim, TABLES))
    return Magnet(answer, place).observed("magnet", about)


def chance(answer, place="", **piece):
    """How often silver gives an answer."""
    return float(observed(answer, place, **piece).pdf(SILVER)[0])


def test_a_strong_pull_on_a_bar_is_rarer_than_a_false_alarm():
    """Nobody takes the pull of steel for none on a bar; on a chain a clasp may be what is pulled (both judgement)."""
    assert chance("strong", **BAR) < FALSE_ALARM < 0.01 < chance("strong", **CHAIN)
    assert chance("none", **BAR) > chance("none", **CHAIN) > 0.9


@pytest.mark.parametrize("place", ["shank", "middle of the chain"])
def test_a_pull_on_the_body_of_a_jewel_counts_as_on_a_bar(place):
    assert chance("strong", place, **CHAIN) == chance("strong", **BAR)


@pytest.mark.parametrize("place", ["clasp", "the springs", "Pin at the back"])
def test_what_a_magnet_does_to_a_clasp_says_nothing_of_the_piece(place):
    taken = observed("strong", place, **CHAIN)
    steel = bare(published("carbon steel 0.1 %"))
    assert taken.pdf(SILVER) == taken.pdf(steel) == taken.other
    assert taken.score(SILVER) == taken.between(steel, SILVER) == 0
    assert taken.of_part


def test_a_jewel_that_is_pulled_is_asked_where():
    assert observed("strong", **CHAIN).remark == observed("weak", **CHAIN).remark == "magnet"
    silent = [observed("none", **CHAIN), observed("strong", "clasp", **CHAIN), observed("strong", **BAR)]
    assert [o.remark for o in silent] == ["", "", ""]


@pytest.mark.parametrize(
    ("said", "answer", "place"),
    [
        ("strong at the clasp", "strong", "clasp"),
        ("none on the chain", "none", "chain"),
        ("weak, shank", "weak", "shank"),
        ("strong", "strong", ""),
    ],
)
def test_the_place_may_stand_beside_the_answer(said, answer, place):
    assert read_reading(said, "magnet", "magnet") == Magnet(answer, place)


@pytest.mark.parametrize(
    ("said", "answer"),
    [
        *((said, "none") for said in ("nein", "non", "no")),
        *((said, "weak") for said in ("schwach", "faible", "débil")),
        *((said, "strong") for said in ("ja", "si", "stark", "Fort", "fuerte")),
    ],
)
def test_answers_may_be_german_french_or_spanish(said, answer):
    assert Magnet(said).answer == answer


def test_a_part_is_shown_without_a_verdict():
    taken = [{"kind": "magnet", "value": "strong", "place": "clasp"}]
    s = solve(Piece(**CHAIN, mass="12.00 g", displaced="1.16 g", reading=taken))
    shown = s.document.readings[1]
    assert (shown.sees, shown.agrees, shown.claim_agrees) == ("a part", None, None)
