"""A reading that fits only a rare alloy of the claim leaves it undecided, and the answer says so."""

import numpy as np
import pytest

from alloysolve.answer.solution import solve
from alloysolve.batch.files import Row
from alloysolve.batch.run import answer_rows
from alloysolve.inference.claimed import claim_bodies
from alloysolve.inference.commonness import usual_alloys
from alloysolve.inference.decision import NOT_CONTRADICTED, UNDECIDED, decide
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral.evidence import Scores
from alloysolve.published.load import default_tables
from alloysolve.words.language import language
from alloysolve.words.short import short_sentences
from tests.inference.answering import Answering

TABLES = default_tables()
USUAL, RARE = 0, 1  # two candidates as claimed
# silver 925 conducts 80 to 96 %IACS, as printed by makers of silver alloys (grades.csv: espi-sterling); 3 % of zinc in
# solid solution would bring it near 33, at 0.64 uohm cm for each percent of its atoms (Linde's rule, handbooks)
SOLID = {"claim": "silver 925", "mass": "31.1 g", "density": "10.33 +- 0.03 g/cm3", "magnet": "none"}
ZINC = {"conductivity": "29 %IACS"}


def decided(alike=None, measures=None, **z):
    found = {name: np.array(value, dtype=float) for name, value in z.items()}
    scores = Scores(found, alike or {}, measures=measures or {})
    return decide(scores, Answering(usual_at=(True, False)))


@pytest.mark.parametrize(
    ("z", "code"),
    [
        ({"conductivity": (5.0, 0.0)}, UNDECIDED),
        ({"conductivity": (5.0, 0.0), "weighing": (0.5, 0.5)}, UNDECIDED),
        ({"conductivity": (2.57, 0.0)}, NOT_CONTRADICTED),  # p 0.0102: 1 in 100 of the usual alloys may be left open
        ({"conductivity": (2.58, 0.0)}, UNDECIDED),
        ({"conductivity": (0.0, 0.0)}, NOT_CONTRADICTED),
        # two readings that point to the rare alloy each by itself bear each other out
        ({"conductivity": (5.0, 0.0), "weighing": (5.0, 0.0)}, NOT_CONTRADICTED),
    ],
)
def test_what_only_a_rare_alloy_explains_is_undecided(z, code):
    decision = decided(**z)
    assert decision.code == code
    assert decision.rare_alloy == (code == UNDECIDED)
    if code == UNDECIDED:
        assert decision.reasons[-1].values["reading"] == "conductivity"
        assert decision.reasons[0].values["scores"]["conductivity"] == z["conductivity"][USUAL]


def test_two_readings_of_one_kind_do_not_bear_each_other_out():
    two = {"conductivity": (5.0, 0.0), "conductivity 2": (5.0, 0.0)}
    assert decided({"conductivity": "meter", "conductivity 2": "meter"}, **two).code == UNDECIDED
    assert decided(**two).code == NOT_CONTRADICTED


def test_two_readings_of_one_property_do_not_bear_each_other_out():
    """A meter and a sliding magnet both feel how well the alloy conducts, whatever the reason is."""
    two = {"conductivity": (5.0, 0.0), "sliding_magnet": (5.0, 0.0)}
    assert decided(measures=dict.fromkeys(two, "conductivity"), **two).code == UNDECIDED
    timed = {"kind": "sliding_magnet", "value": 0.3, "known_good": "silver 999"}
    s = solve(Piece(**SOLID, reading=[{"kind": "conductivity", "value": ZINC["conductivity"]}, timed]), Settings())
    assert (s.decision.code, s.decision.rare_alloy) == (UNDECIDED, True)


@pytest.mark.parametrize(
    ("claim", "percent", "usual"),
    [
        ("silver 925", {"Ag": 92.5, "Cu": 7.5}, True),
        ("silver 925", {"Ag": 93.0, "Cu": 4.0, "Zn": 3.0}, False),
        ("silver 750", {"Ag": 75.0, "Cu": 20.0, "Zn": 5.0}, True),  # published (grades.csv: laudis-silver)
        ("silver 500", {"Ag": 50.0, "Cu": 40.0, "Ni": 5.0, "Zn": 5.0}, True),  # British coins (uk-coinage-act)
        ("18 ct", {"Au": 75.0, "Ag": 12.5, "Cu": 12.5}, True),
        ("18 ct", {"Au": 75.0, "Ni": 10.0, "Cu": 10.0, "Zn": 5.0}, True),
        ("platinum 950", {"Pt": 95.0, "Ir": 5.0}, True),
        ("platinum 850", {"Pt": 85.0, "Pd": 15.0}, True),
    ],
)
def test_usual_are_common_families_and_published_alloys_of_that_fineness(claim, percent, usual):
    said = parse_claim(claim, TABLES)
    bodies = claim_bodies(TABLES, said)
    w = 100 * bodies.w
    near = np.sum([np.abs(w[:, bodies.law.index[s]] - x) for s, x in percent.items()], axis=0).argmin()
    assert usual_alloys(TABLES, said, bodies)[near] == usual


@pytest.mark.parametrize("claim", ["brass", "pewter", "uranium", "silver plated", "silver 999", "gold 999"])
def test_whoever_names_a_family_or_a_pure_metal_asks_for_no_other_alloy(claim):
    said = parse_claim(claim, TABLES)
    bodies = claim_bodies(TABLES, said)
    assert bodies is None or usual_alloys(TABLES, said, bodies).all()


def test_sterling_that_conducts_like_brass_is_undecided_and_the_answer_says_why_and_what_would_tell():
    s = solve(Piece(**SOLID, **ZINC), Settings())
    assert (s.decision.code, s.decision.rare_alloy) == (UNDECIDED, True)
    text = " ".join(line for _, line in short_sentences(s.document, language()))
    assert "None of the usual alloys of that name would read so, only a rare one." in text
    assert "Alloyed as usual" not in text
    low, high = next(r for r in s.document.readings if r.kind == "conductivity").told_as_claimed
    assert low > 60
    assert high < 100
    deciding = {r["kind"] for r in s.next_readings if r["decides"]}
    assert "surface_composition" in deciding  # it lists zinc
    assert "sound_speed" not in deciding  # the alloys of silver sound alike
    assert "sliding_magnet" not in deciding  # it feels what the meter read


def test_x_rays_that_find_the_zinc_bear_it_out():
    assert solve(Piece(**SOLID, **ZINC, surface_composition="Ag 93.3 Cu 3.8 Zn 2.9"), Settings()).decision.code == (
        NOT_CONTRADICTED
    )


@pytest.mark.parametrize("iacs", ["80 %IACS", "88 %IACS", "96 %IACS"])
def test_ordinary_sterling_is_not_left_open(iacs):
    assert solve(Piece(**SOLID, conductivity=iacs), Settings()).decision.code == NOT_CONTRADICTED


def test_a_list_decides_as_one_piece_does():
    row = answer_rows([Row(1, {**SOLID, **ZINC}, {})], Settings(), "default")[0]
    assert (row["decision"], row["reasons"][-1]) == (UNDECIDED, "rare alloy")
