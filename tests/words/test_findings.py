"""Lines beside the fit: what is proposed, what could not be shown, which readings disagree, and their cautions."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from alloysolve.answer.parts import Coded, NextReading
from alloysolve.answer.records import Record
from alloysolve.answer.rows import SYSTEM, Row
from alloysolve.answer.solution import solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.words.amounts import amount_sentences
from alloysolve.words.findings import change_lines, conflict_lines, note_lines, rivals_line
from alloysolve.words.headline import first_sentence, second_sentence
from alloysolve.words.language import language
from alloysolve.words.proposals import _shown, _tells_claim, blind_line, cautions, next_line
from alloysolve.words.short import short_sentences
from alloysolve.words.terminal import answer as text
from alloysolve.words.terminal import short_paragraphs

SAY = language()
X_RAYS = "X-rays harm"


def answer(**given):
    return solve(Piece(**given), Settings()).document


def test_a_watch_case_that_is_pulled_names_a_body_and_asks_for_its_parts():
    lines = " ".join(text(answer(claim="silver 925 watch case", magnet="weak")).split())
    assert "stainless steel" in lines
    assert "part of steel is pulled too: try the rest alone" in lines
    assert "Unusual" not in lines  # the remark says why


def test_a_density_by_size_is_said_with_its_range():
    d = answer(claim="gold 999", mass="31.1 g", bar="24 x 15 x 4.55 mm")
    low, high = d.density.low, d.density.high
    assert high - low > 0.1
    assert f"g/cm3 ({low:.2f} to {high:.2f})." in first_sentence(d, SAY)


def test_a_blind_spot_names_the_reading_that_closes_it_and_no_other():
    s = answer(claim="silver 999", mass="31.1 g", displaced="2.96 g", conductivity="103 %IACS", magnet="none")
    closed = {b.class_: b.closed_by for b in s.blind_spots}
    line = blind_line(s, SAY)
    assert "surface_composition" in closed["less fine metal"]
    assert "less fine metal" not in line  # the fineness that would have shown is said instead
    assert "surface_composition" not in closed["core of lighter metal"]  # a slug under a thick wall
    assert "filling of lighter metal (X-rays" not in line


@pytest.mark.parametrize(
    ("given", "harms"),
    [
        ({"claim": "silver 925", "density": "10.36 +- 0.03 g/cm3", "surface_composition": "Ag 92.5 Cu 7.5"}, True),
        ({"claim": "18 ct", "mass": "2.84 g", "displaced": "0.19 g"}, False),  # proposed at a laboratory
        ({"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g", "conductivity": "28 %IACS"}, False),
    ],
)
def test_x_rays_carry_their_caution_where_they_were_used_or_are_proposed(given, harms):
    s = answer(**given)
    assert (X_RAYS in cautions(s, SAY)) == harms
    for more in (False, True):
        assert (X_RAYS in " ".join(text(s, more).split())) == harms


def test_a_shop_that_owns_x_rays_is_proposed_them_with_their_caution_and_no_laboratory():
    shop = Settings.from_dict({"readings": {"own": ["surface composition"]}})
    s = solve(Piece(claim="18 ct", mass="2.84 g", displaced="0.19 g"), shop).document
    for more in (False, True):
        said = " ".join(text(s, more).split())
        assert X_RAYS in said
        assert "laboratory" not in said
        assert "Most useful next: X-rays" in said


def test_what_the_shop_owns_is_proposed_first_and_a_better_reading_elsewhere_after_it():
    """Where the shop has a sliding magnet, a reading it cannot take and that tells clearly more is named after it."""
    shop = Settings.from_dict({"readings": {"own": ["sliding magnet"]}})
    s = solve(Piece(claim="gold 999", mass="31.1 g", displaced="1.61 g"), shop).document
    assert next_line(s, SAY).startswith("Most useful next: sliding magnet")
    assert ". Elsewhere: " in next_line(s, SAY)
    none = solve(Piece(claim="gold 999", mass="31.1 g", displaced="1.61 g"), Settings()).document
    assert next_line(none, SAY).startswith("Most useful next, elsewhere: ")


@pytest.mark.parametrize("own", [[], ["conductivity"]])
def test_scale_magnet_and_loupe_are_owned_by_every_shop(own):
    shop = Settings.from_dict({"readings": {"own": own}})
    d = solve(Piece(density="8.8 +- 0.03 g/cm3"), shop).document
    assert [kind for kind in ("weighing", "magnet", "colour") if not d.owns(kind)] == []
    assert d.owns("conductivity") == bool(own)
    assert not d.owns("surface_composition")


def test_two_readings_of_one_kind_are_told_apart_by_their_place():
    readings = [
        {"kind": "conductivity", "value": "105 %IACS", "frequency": "60 kHz", "place": "rim"},
        {"kind": "conductivity", "value": "10 %IACS", "frequency": "60 kHz", "place": "field"},
    ]
    s = answer(claim="silver 999", density="10.49 +- 0.02 g/cm3", reading=readings)
    line = " ".join(conflict_lines(s, SAY))
    assert "rim" in line or "field" in line


def test_a_reading_that_fits_nothing_known_alone_says_so():
    s = answer(claim="gold 999", mass="31.1 g", displaced="1.61 g", surface_composition="Te 99")  # in no body
    assert "X-rays disagree: alone the first says gold, the second says something else." in conflict_lines(s, SAY)[0]


def test_the_dust_of_a_metal_may_need_a_sentence_of_its_own():
    words = cautions(answer(claim="gold 999", density="19.2 +- 0.1 g/cm3", surface_composition="U 99"), SAY)
    assert "Uranium possible: do not file, saw, grind, heat, melt or acid-test it." in words
    assert "radioactive" in words


def test_without_an_open_claim_the_reading_that_tells_what_fits_apart_is_proposed():
    unsure = answer(density="8.8 +- 0.03 g/cm3")
    assert next_line(unsure, SAY).startswith("Most useful next")
    sure = answer(claim="silver 999", mass="31.18 g", displaced="3.64 g", conductivity="28 %IACS", magnet="none")
    assert next_line(sure, SAY) == ""


def rows_of(d, *rows):
    """An answer with these rows of systems: share, family, metals; and nothing else."""
    made = [Row(SYSTEM, share, metals=tuple(metals.split()), family=family) for share, family, metals in rows]
    return replace(d, rows=tuple(made), systems=d.systems[:1])


@pytest.fixture(scope="module")
def spoon():
    return solve(Piece(claim="silver 800", mass="52.31 g", displaced="5.33 g", magnet="none"), Settings()).document


def test_the_first_guess_is_the_same_in_every_form_of_an_answer(spoon):
    """Two less fine alloys of 0.25 each are likelier than bismuth with 0.4."""
    d = rows_of(spoon, (0.4, "bismuth", "Bi"), (0.25, "pair", "Ag Cu"), (0.25, "triple", "Ag Cu Ni"))
    assert spoon.code == "contradicted"
    assert second_sentence(d, SAY) == "It fits less fine silver."
    short = [text for _, text in short_sentences(d, SAY)]
    assert "Most likely less fine silver: 5 in 10." in short
    assert Record(1, datetime.now(UTC), d, Path("x")).summary.metals == ("Ag", "Cu")
    bismuth = rows_of(spoon, (0.6, "bismuth", "Bi"), (0.2, "pair", "Ag Cu"), (0.2, "triple", "Ag Cu Ni"))
    assert second_sentence(bismuth, SAY) == "It fits bismuth."


def test_short_and_full_answer_name_the_same_rivals_and_never_the_first_row_itself(spoon):
    d = rows_of(spoon, (0.4, "pair", "Ag Cu"), (0.2, "triple", "Ag Cu Ni"), (0.1, "pair", "Cu Zn"), (0.1, "pair", "Bi"))
    d = replace(d, rows=tuple(replace(r, alike_the_first=k > 0) for k, r in enumerate(d.rows)))
    line = "These would read much the same, but are rarer: copper-zinc, bismuth."
    assert rivals_line(d, SAY) == line
    assert rivals_line(d, SAY, ["bismuth"]) == "Copper-zinc would read much the same, but is rarer."


def test_what_it_holds_is_said_however_little_room_there_is():
    d = solve(Piece(claim="half dollar", mass="12.5 g", displaced="1.21 g"), Settings()).document
    assert amount_sentences(d, SAY)[0] in " ".join(short_paragraphs(d, SAY))


def test_a_bubble_is_not_all_that_would_change_what_two_readings_say():
    weighed = {"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"}
    assert "Only an air bubble" in change_lines(answer(**weighed), SAY, "short")[0]
    assert change_lines(answer(**weighed, magnet="strong"), SAY, "short") == []


def test_no_bubble_is_blamed_for_a_piece_that_is_too_dense():
    light, dense = (answer(claim="silver 999", mass="31.18 g", displaced=w) for w in ("3.64 g", "2.50 g"))
    again = Coded("weigh again", {})
    assert "brush" in str(note_lines(replace(light, notes=(again,)), SAY))
    assert "brush" not in str(note_lines(replace(dense, notes=(again,)), SAY))


def test_two_densities_that_print_alike_tell_nothing_apart():
    made = NextReading("weighing", True, 1.0, 0.0, True, 0.0, 0.0, "g/cm3", (10.0, 10.04), 9.85, ("Ag",), "pair", None)
    assert _tells_claim(made)
    assert not _tells_claim(replace(made, claim=(10.21, 10.24), other=10.15, unit="g/cm3"))
    assert _shown((10.0, 10.44), "g/cm3") == "10.0-10.4"


def test_two_blind_spots_are_joined_by_or():
    d = answer(claim="gold 999", mass="31.1 g", displaced="1.61 g")
    two = [replace(d.blind_spots[0], class_=name, closed_by=()) for name in ("empty space inside", "clad faces")]
    assert blind_line(replace(d, blind_spots=tuple(two)), SAY) == (
        "These readings could not show empty space inside or clad faces."
    )


def test_the_grams_of_a_ring_with_stones_are_said_to_count_them():
    ring = {"claim": "18 ct yellow", "mass": "4.21 g", "displaced": "0.29 g"}
    with_stones = answer(**ring, parts=["3 x diamond 0.05 ct"])
    assert "4.21 g of it, its stones or other parts included, would push aside" in first_sentence(with_stones, SAY)
    assert "4.21 g of it would push aside" in first_sentence(answer(**ring), SAY)
