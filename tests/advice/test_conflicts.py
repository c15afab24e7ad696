"""Which readings disagree, estimated from candidates that stand for the prior, against integrals."""

from itertools import combinations

import numpy as np
import pytest

from alloysolve.advice.conflicts import DISAGREE, UNSURE, StandIns
from alloysolve.answer.solution import solve
from alloysolve.inference.find import posterior_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.readings.base import BODY

SILVER = {"claim": "silver 999", "mass": "31.18 g"}
AGREE = Piece(**SILVER, displaced="2.98 g", conductivity="104 %IACS", magnet="none")
APART = Piece(**SILVER, displaced="2.10 g", resistivity="1.6 uohm cm", magnet="none")


@pytest.mark.parametrize(("piece", "error"), [(AGREE, 0.1), (APART, UNSURE)])
def test_the_estimate_errs_less_than_is_allowed_for(piece, error):
    s = solve(piece, Settings())

    def mean(*names):
        return posterior_of(s.prior, s.evidence.only(*names), BODY).total

    found = StandIns(s).agreements()
    assert list(found) == list(combinations(s.evidence.names, 2))
    for (a, b), estimate in found.items():
        assert estimate == pytest.approx(np.log(mean(a, b) / (mean(a) * mean(b))), abs=error)


@pytest.mark.parametrize("piece", [AGREE, APART])
def test_what_one_reading_says_alone_is_about_what_its_integral_says(piece):
    s = solve(piece, Settings())
    for name in s.evidence.names:
        estimate, found = StandIns(s).posterior(name), posterior_of(s.prior, s.evidence.only(name), BODY)
        assert estimate.total == pytest.approx(found.total, rel=0.1)
        assert estimate.by_system == pytest.approx(found.by_system, abs=0.03)
        meets = s.prior.meets_claim
        assert estimate.by_point[meets].sum() == pytest.approx(found.by_point[meets].sum(), abs=0.03)


def test_readings_that_agree_are_no_conflict_and_the_worst_pair_is_named():
    assert solve(AGREE, Settings()).conflicts == ()
    (found,) = solve(APART, Settings()).conflicts
    assert found["readings"] == ["weighing", "conductivity"]
    assert found["log_agreement"] < DISAGREE
    assert [x["reading"] for x in found["alone"]] == found["readings"]
    by_weight, by_resistivity = found["alone"]
    assert by_weight["as_claimed"] < 0.01  # 31.18 / 2.10 is 14.8 g/cm3
    assert by_resistivity["as_claimed"] > 0.3  # 1.6 uohm cm is that of silver


def test_a_conflict_is_named_though_a_far_fetched_construction_fits_all_readings():
    """8.54 g/cm3 is brass (handbooks 8.53), 1.6 uohm cm silver; silver with 18 % of empty space fits both."""
    piece = Piece(**SILVER, displaced="3.64 g", resistivity="1.6 uohm cm", magnet="none")
    (found,) = solve(piece, Settings()).conflicts
    assert found["readings"] == ["weighing", "conductivity"]
    assert set(found["alone"][0]["metals"]) == {"Cu", "Zn"}
    assert set(found["alone"][1]["metals"]) == {"Ag"}
