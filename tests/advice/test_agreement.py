"""How each reading agrees with what fits best and with the claim."""

import pytest

from alloysolve.advice.agreement import agreement, scores_of_first
from alloysolve.answer.solution import solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.pieces.constructions import HOLLOW, PLATED
from alloysolve.readings.registry import Conductivity

BRASS_BAR = {"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"}


def answer(**given):
    return solve(Piece(**given), Settings())


@pytest.mark.parametrize(
    ("score", "code"),
    [(0.0, "agrees"), (-1.96, "agrees"), (1.97, "strained"), (-3.3, "strained"), (3.31, "no"), (-9.0, "no")],
)
def test_words_of_agreement(score, code):  # 1 in 20 and 1 in 1000, two-sided
    assert agreement(score) == code


def test_one_row_per_reading_in_order():
    s = answer(**BRASS_BAR, conductivity="27 %IACS", magnet="none")
    rows = s.reading_rows()
    assert [r["name"] for r in rows] == ["weighing", "conductivity", "magnet"]
    assert [r["sees"] for r in rows] == ["all of it", "the body", "all of it"]
    assert rows[1]["value"] == "27 %IACS"
    assert [r["agrees"] for r in rows] == ["agrees"] * 3  # with brass
    assert [r["claim_agrees"] for r in rows] == ["no", "no", "agrees"]  # with silver


def test_several_readings_of_one_kind_have_names_and_places():
    readings = [
        {"kind": "conductivity", "value": "27 %IACS", "place": "face"},
        {"kind": "conductivity", "value": "28 %IACS", "place": "rim"},
    ]
    rows = answer(**BRASS_BAR, reading=readings).reading_rows()
    assert [(r["name"], r["place"]) for r in rows[1:]] == [
        ("conductivity", "face"),
        ("conductivity 2", "rim"),
    ]
    assert all(r["agrees"] for r in rows)


def test_without_a_claim_nothing_is_compared_with_it():
    rows = answer(mass="31.18 g", displaced="3.64 g", magnet="none").reading_rows()
    assert all(r["claim_agrees"] is None for r in rows)
    assert all(r["agrees"] == "agrees" for r in rows)


def test_a_strange_reading_does_not_agree():
    """The density of gold with the resistivity of brass: whatever comes first, something is strained."""
    rows = answer(claim="gold 999", density="19.3 +- 0.01 g/cm3", conductivity="27 %IACS").reading_rows()
    assert {r["name"]: r["claim_agrees"] for r in rows} == {"weighing": "agrees", "conductivity": "no"}


@pytest.mark.parametrize(
    "given",
    [
        BRASS_BAR,
        {"claim": "gold 999", "mass": "31.10 g", "displaced": "1.61 g"},
        {"claim": "9 ct rose gold chain", "mass": "6.00 g", "displaced": "0.75 g"},
    ],
)
def test_rows_predict_the_volume_their_likelihood_was_taken_at(given):
    """For every construction, the likelihood of a row is that of its own predicted volume."""
    s = answer(**given)
    rows, bodies, volume = s.posterior.rows, s.posterior.bodies, s.evidence.volume
    pieces, level = rows.candidates(bodies, s.evidence), volume.level(bodies.sigma)
    for construction in set(rows.construction):
        for row in (rows.construction == construction).nonzero()[0][::997]:
            expected = float(volume.pdf(pieces.v[[row]], level[rows.point[[row]]])[0])
            # a skin's share is read from a table of thickness; a steep tail shows its rounding
            assert rows.likelihood[row] == pytest.approx(expected, rel=0.05, abs=1e-9 * rows.likelihood.max())
    assert {PLATED, HOLLOW} <= set(rows.construction)


def test_the_best_row_of_the_first_system_is_scored():
    s = answer(**BRASS_BAR)
    assert abs(scores_of_first(s)["weighing"][0]) < 1.96
    assert set(scores_of_first(s)) == {"weighing"}


def test_a_meter_of_known_frequency_sees_a_depth():
    """Copper at 60 Hz: 8.53 mm; at 1 MHz 66.1 um (standard values, from memory)."""
    for frequency, um in (("60 Hz", 8530), ("1 MHz", 66.1)):
        piece = Piece(density="8.9 g/cm3", reading=[Conductivity("100 %IACS", frequency=frequency)])
        row = solve(piece, Settings()).reading_rows()[1]
        assert row["sees"] == "a depth"
        assert row["sees_um"] == pytest.approx(um, rel=2e-3)
    assert solve(Piece(conductivity="100 %IACS"), Settings()).reading_rows()[0]["sees_um"] is None
