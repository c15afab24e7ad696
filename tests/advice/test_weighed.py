"""What is said of a density before it is relied on."""

from datetime import date, timedelta

import pytest

from alloysolve.advice.weighed import DISAGREE, OLD_CHECK, about_weighed
from alloysolve.inference.weigh_piece import density_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings, today
from alloysolve.published.load import default_tables
from alloysolve.weighing.weigh import OF_OTHERS, OF_WEIGHING

TABLES = default_tables()


def notes(settings=None, **given):
    piece, shop = Piece(**given), settings or Settings()
    return {n.code: n.values for n in about_weighed(piece, density_of(piece, shop, TABLES), shop)}


def checked(days, **scale):
    on = (today() - timedelta(days)).isoformat()
    good = {"claim": "silver 999", "mass": "31.10 g", "displaced": "2.96 g", "on": on}
    return Settings.from_dict({"scale": {**scale, "known_good": good}})


def test_repeats_that_disagree_come_first():
    found = notes(checked(99), mass="31.18 g", displaced="2.97 3.20 3.64 g")
    assert list(found) == [DISAGREE, OLD_CHECK]
    assert found[DISAGREE]["readings_g"] == (2.97, 3.20, 3.64)
    assert (found[DISAGREE]["odd_g"], found[DISAGREE]["left_out"]) == (3.64, False)
    assert notes(mass="31.18 g", displaced="3.64 3.63 g") == {}


@pytest.mark.parametrize(("days", "scale", "old"), [(31, {}, False), (32, {}, True), (8, {"check_days": 7}, True)])
def test_a_check_older_than_the_limit_is_said(days, scale, old):
    found = notes(checked(days, **scale), mass="31.18 g", displaced="3.64 g")
    assert (OLD_CHECK in found) is old
    if old:
        assert found[OLD_CHECK] == {"days": days, "most": scale.get("check_days", 31)}


def test_a_check_says_nothing_of_what_was_not_weighed():
    assert notes(checked(99), density="10.3 +- 0.1 g/cm3") == {}
    assert notes(checked(99), magnet="none", claim="silver 999") == {}


def test_the_day_can_be_set_for_answers_that_shall_be_repeatable(monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772323200")  # 2026-03-01 by any calendar of seconds since 1970
    assert today() == date(2026, 3, 1)


def test_which_uncertainty_was_taken_is_said():
    assert list(notes(density="10.0 g/cm3")) == [OF_OTHERS]
    assert list(notes(density="10.0 g/cm3", mass="26.7 g")) == [OF_WEIGHING]
    assert notes(density="10.0 +- 0.1 g/cm3") == {}
