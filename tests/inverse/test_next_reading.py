"""The reading that would tell the claim from what else fits."""

import pickle

import pytest

from alloysolve.inverse.piece import Piece
from alloysolve.inverse.settings import Settings
from alloysolve.inverse.solve import solve

RING = {"claim": "18 ct", "mass": "2.84 g", "displaced": "0.19 g"}


def answer(**given):
    return solve(Piece(**given), Settings())


def test_conductivity_tells_carat_gold_from_tungsten_copper():
    """Handbook: 18 ct gold of any colour reads 5 to 15 %IACS; tungsten-copper 75/25 to 50/50 reads 35 to 60."""
    (reading,) = answer(**RING).next_readings
    low, high = reading["claim"]
    assert (reading["kind"], reading["unit"], set(reading["metals"])) == ("conductivity", "%IACS", {"W", "Cu"})
    assert 4 < low < high < 18
    assert 30 < reading["other"] < 60


@pytest.mark.parametrize(
    "given",
    [
        {**RING, "conductivity": "12 %IACS"},  # taken already
        {"mass": "2.84 g", "displaced": "0.19 g"},  # no claim to tell apart
        {"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"},  # decided
        {"claim": "gold filled 1/20 14 ct", "mass": "8.77 g", "displaced": "1.00 g"},  # nothing said of the body
        {"claim": "platinum 950", "mass": "8.41 g", "displaced": "0.41 g"},  # platinum alloys read like the claim
    ],
)
def test_nothing_is_suggested(given):
    assert answer(**given).next_readings == ()


def test_a_solution_can_be_sent_to_another_process():
    s = answer(**RING)
    assert pickle.loads(pickle.dumps(s)).to_json() == s.to_json()
