"""Acids and touch needles by carat: what people say, what each carat does, and what it does to an answer."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from alloysolve.answer.solution import Solution, solve
from alloysolve.errors import InputError
from alloysolve.inference.observe import circumstances_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import HOMOGENEOUS, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.readings.outermost import SkinAnswer
from alloysolve.readings.registry import read_reading
from alloysolve.readings.touch import ANSWERS, FORMS, OTHERS, read_touch
from alloysolve.words.terminal import answer
from tests.bodies_of import LAYERS, TABLES, published

BAR = Form("bar", (50.0, 28.0, 3.0))
ABOUT = circumstances_of(Piece(), Settings(), TABLES, BAR)
ROWS = TABLES.rows("touch")


@pytest.mark.parametrize(
    ("kind", "said", "text"),
    [
        ("acid", "14 ct acid: stayed", "14 ct acid: stayed"),
        ("acid", "18k acid: gone", "18 ct acid: gone"),
        ("acid", "Gone with 18 karat acid", "18 ct acid: gone"),
        ("acid", "585 acid: partly gone", "585 acid: faded"),
        ("acid", "1000 acid: stayed", "1000 acid: stayed"),
        ("acid", "22 ct: no reaction", "22 ct acid: stayed"),
        ("acid", "14ct faded", "14 ct acid: faded"),
        ("acid", "red", "as silver"),
        ("streak", "matches 14 ct needle", "matches 14 ct needle"),
        ("streak", "paler than 18k", "paler than 18 ct needle"),
        ("streak", "redder than the 585 needle", "deeper than 585 needle"),
        ("streak", "same as 9 ct", "matches 9 ct needle"),
    ],
)
def test_what_people_say_is_understood_and_written_back(kind: str, said: str, text: str) -> None:
    reading = SkinAnswer(kind, said)
    assert reading.text == text
    assert SkinAnswer(kind, text) == reading
    held = Piece(**{kind: said})
    assert Piece.from_dict(held.to_dict()) == held


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("acid", "14 ct acid: not gone"),  # a word that denies is never skipped
        ("acid", "14 ct acid"),
        ("acid", "30 ct acid: gone"),
        ("acid", "5 acid: gone"),
        ("acid", "purple"),
        ("streak", "paler than 14 ct, redder than 18 ct"),
        ("streak", "nearly 14 ct"),
    ],
)
def test_what_is_not_understood_lists_the_forms(kind: str, said: str) -> None:
    with pytest.raises(InputError) as error:
        read_reading({"kind": kind, "value": said}, "reading[0]")
    form = FORMS["acid" if kind == "acid" else "needle"]
    assert form in str(error.value)
    assert error.value.path == "reading[0].value"


def usual(kind: str, said: str, *of: object) -> str:
    """The answer that is likeliest on a piece, for the acid or needle of what was said."""
    observed = SkinAnswer(kind, said).observed(kind, ABOUT)
    grade, construction, skin, um = (*of, HOMOGENEOUS, "", 0.0)[:4] if len(of) == 1 else of
    number = np.array([LAYERS.number(skin) if skin else -1])
    piece = Candidates(
        published(grade), LAYERS, BAR, np.array([construction]), np.array([0]), number, np.array([float(um)])
    )
    return observed.words[int(observed.expected(piece)[0])]


@pytest.mark.parametrize(
    ("grade", "carat", "answer"),
    [
        # a streak stays under the acid of its own and lower carats, and is dissolved by that of a higher one
        # (Villavecchia, Treatise on Applied Analytical Chemistry: acids for finenesses of 350-500, 500-750, above 750)
        ("gold 750 yellow", 14, "stayed"),
        ("gold 750 yellow", 18, "stayed"),
        ("gold 750 yellow", 22, "gone"),
        ("gold 375 yellow", 9, "stayed"),
        ("gold 375 yellow", 14, "gone"),
        ("gold 375 yellow", 18, "gone"),
        ("fine gold", 22, "stayed"),
        # one about two carats less fades slowly and leaves grains (guides to acid kits)
        ("gold 750 yellow", 20, "faded"),
        # base metals and silver are gone under any of them (common practice, no source)
        ("cartridge brass 70/30", 9, "gone"),
        ("electrolytic tough pitch copper", 14, "gone"),
        ("nickel silver 65-18", 14, "gone"),
        ("silver 925", 18, "gone"),
        ("fine platinum", 18, "stayed"),
    ],
)
def test_an_acid_dissolves_what_is_less_fine(grade: str, carat: int, answer: str) -> None:
    assert usual("acid", f"{carat} ct acid: gone", grade) == answer


@pytest.mark.parametrize(
    ("grade", "carat", "answer"),  # common practice, no source
    [
        ("gold 750 yellow", 18, "matches"),
        ("gold 750 yellow", 14, "deeper"),
        ("gold 375 yellow", 18, "paler"),
        ("gold 18 ct red", 18, "deeper"),
        ("cartridge brass 70/30", 14, "paler"),
        ("electrolytic tough pitch copper", 14, "deeper"),
        ("fine silver", 14, "paler"),
    ],
)
def test_a_needle_shows_less_gold_paler(grade: str, carat: int, answer: str) -> None:
    assert usual("streak", f"matches {carat} ct", grade) == answer


def test_the_skin_answers_and_not_the_body() -> None:
    assert usual("acid", "18 ct acid: gone", "cartridge brass 70/30", PLATED, "Au", 3.0) == "stayed"
    assert usual("acid", "18 ct acid: gone", "cartridge brass 70/30", PLATED, "gold 585", 3.0) == "gone"


def test_shares_of_answers_add_up_and_none_is_impossible() -> None:
    for by, words in ANSWERS.items():
        assert sum(OTHERS[by]) == pytest.approx(1)
        of = [row for row in ROWS if row.reading == by]
        assert [row.surface for row in of if not row.holds] == [of[-1].surface]
        for row in of:
            assert set(row.answers) == set(words), row.surface
            assert sum(row.answers.values()) == pytest.approx(100), row.surface
            assert min(row.answers.values()) >= 0.2, row.surface  # a wrong bottle, a slip of the pen (judgement)


@pytest.mark.parametrize("carat", [8, 9, 10, 14, 18, 22, 24])
def test_every_gold_has_a_class_of_gold(carat: int) -> None:
    """From 30 % on: bands of carats leave no gap, whatever the acid."""
    touch = read_touch("acid", f"{carat} ct acid: gone", "acid")
    assert touch is not None
    bands = [c.holds["Au"] for c in touch.classes(ROWS) if "Au" in c.holds and "Ni+Pd+Pt" not in c.holds]
    bands = sorted(band for band in bands if band[0] <= band[1])
    assert (bands[0][0], bands[-1][1]) == (30, 100)
    assert all(low <= high for (_, high), (low, _) in pairwise(bands))


RING = {"claim": "14 ct yellow", "mass": "4.1 g", "displaced": "0.31 g"}


def solved(*readings: dict[str, str], **given: str) -> Solution:
    return solve(Piece(**(RING | given), reading=list(readings)), Settings())


@pytest.mark.parametrize(("word", "unusual"), [("stayed", False), ("faded", True)])
def test_gold_that_fades_under_its_own_acid_is_unusual_and_the_short_answer_says_so(word: str, unusual: bool) -> None:
    """An acid is made to leave gold of its own carat (Villavecchia)."""
    d = solved({"kind": "acid", "value": f"14 ct acid: {word}"}).document
    assert d.reading("acid").claim_agrees == ("strained" if unusual else "agrees")
    said = f"Unusual for a piece as claimed: acid (14 ct acid: {word})."
    assert (said in answer(d).split("\n")) == unusual


def test_two_acids_enclose_a_carat_and_count_as_one_in_the_decision() -> None:
    stayed, gone = ({"kind": "acid", "value": f"{ct} ct acid: {word}"} for ct, word in ((14, "stayed"), (18, "gone")))
    plain, both = solved(), solved(stayed, gone)
    assert both.share_meeting_claim > plain.share_meeting_claim
    assert both.decision.code == "undecided"  # gold plate of 14 ct answers alike
    wrong = [{"kind": "acid", "value": f"{ct} ct acid: gone"} for ct in (9, 10, 14)]
    assert solved(*wrong).decision.code == "undecided"  # one hand, one set of bottles
    assert solved(*wrong).share_meeting_claim < plain.share_meeting_claim


def test_acid_on_a_carat_brings_its_caution() -> None:
    assert "acid" in solved({"kind": "acid", "value": "14 ct acid: stayed"}).advice.cautions
