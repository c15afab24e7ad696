"""Defaults are named where they could change the answer, and nowhere else."""

from dataclasses import replace

import pytest

from alloysolve.answer.solution import solve
from alloysolve.inputs.settings import Settings
from alloysolve.words.terminal import answer

SILVER = {"claim": "silver 900"}


def said(settings=None, **given):
    return " ".join(answer(solve(given, settings or Settings()).document).split())


def code(**given):
    return solve(given, Settings()).decision.code


def test_a_step_that_the_digits_contradict_is_named_where_it_decides():
    """31 g and 3.1 g speak against silver 900 on a scale of 0.01 g, and not on one of 0.1 g."""
    coarse = {**SILVER, "mass": "31 g", "displaced": "3.1 g"}
    assert code(**coarse) == "contradicted"
    assert code(**coarse, scale_step="0.1 g") == "undecided"
    assert 'Weighed in steps of 0.1 g, not of 0.01 g? Then add --scale-step "0.1 g".' in said(**coarse)


@pytest.mark.parametrize(
    "given",
    [
        {"mass": "31 g", "displaced": "3.1 g", "scale_step": "0.1 g"},  # it was said
        {"mass": "31.00 g", "displaced": "3.10 g"},  # the digits agree with the default
        {"mass": "31 g", "displaced": "3.10 g"},
        {"mass": "31 g", "displaced": "4.6 g"},  # contradicted on either scale
    ],
)
def test_a_step_is_not_named_where_it_changes_nothing(given):
    assert "Weighed in steps of" not in said(**SILVER, **given)


def test_without_a_claim_the_digits_are_enough():
    assert "Weighed in steps of 0.1 g" in said(mass="31 g", displaced="3.1 g")
    assert "Weighed in steps of" not in said(mass="31.00 g", displaced="3.10 g")


def test_digits_are_believed_beside_settings_too_and_a_temperature_that_was_chosen_is_not_questioned():
    made = replace(Settings(), origin="user folder")
    assert "Weighed in steps of 0.1 g" in said(made, **SILVER, mass="31 g", displaced="3.1 g")
    assert "The water counts" not in said(made, **SILVER, mass="31 g", displaced="3.1 g")


def test_the_temperature_of_the_water_is_named_where_it_decides():
    """Water of 25 degC is 0.12 % lighter than that of 20 (CIPM 2001): a bar at the edge is decided by it."""
    edge = next(g for g in ("3.08", "3.09", "3.10", "3.11") if decides_by_water(g))
    assert "The water counts here, and 20 degC was taken" in said(**SILVER, **weighed(edge))
    assert "The water counts" not in said(**SILVER, **weighed(edge), water="20 degC")
    assert "The water counts" not in said(**SILVER, **weighed("4.60"))


def weighed(displaced):
    return {"mass": "31.00 g", "displaced": f"{displaced} g"}


def decides_by_water(displaced):
    return len({code(**SILVER, **weighed(displaced), water=f"{t} degC") for t in (15, 20, 25)}) > 1
