"""What would change the answer, and what a piece must be warned of."""

import math
from dataclasses import replace

import numpy as np
import pytest

from alloysolve.advice.findings import advise, density_span, expected_displaced
from alloysolve.advice.fineness import speaks_against_below
from alloysolve.answer.solution import solve
from alloysolve.inference.claimed import claim_bodies
from alloysolve.inference.decision import UNDECIDED
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables
from alloysolve.weighing.weigh import weigh
from alloysolve.words.findings import change_lines
from alloysolve.words.language import language
from alloysolve.words.proposals import blind_line

TABLES = default_tables()
WATER, AIR = 0.9982067, 0.0012  # g/cm3 at 20 degC, Tanaka et al. 2001; CIPM-2007 near sea level


def answer(**given):
    return solve(Piece(**given), Settings())


def notes(**given):
    return {n.code: n.values for n in answer(**given).advice.notes}


def test_the_water_a_good_piece_would_push_aside():
    """By the equation of weighing: G = m (rho_l - rho_a) / (rho - rho_a)."""
    bodies = claim_bodies(TABLES, parse_claim("silver 999", TABLES))
    span = density_span(bodies)
    assert span == pytest.approx((10.49, 10.50), abs=0.02)  # fine silver: handbook 10.49 g/cm3
    w = weigh("31.10 g", "3.60 g")
    low, high = expected_displaced(w, span)
    assert low == pytest.approx(31.10 * (WATER - AIR) / (span[1] - AIR), rel=1e-5)
    assert high == pytest.approx(31.10 * (WATER - AIR) / (span[0] - AIR), rel=1e-5)
    assert expected_displaced(None, span) is None
    assert expected_displaced(w, None) is None


def test_the_misreading_and_the_bubble_it_would_take():
    s = answer(claim="silver 999", mass="31.10 g", displaced="3.60 g")
    _, most = s.advice.claim_displaced_g
    assert s.advice.misread_g == pytest.approx(3.60 - most)
    volume = (3.60 - most) / WATER * 1000  # mm3 of water pushed aside too much
    assert s.advice.bubble_mm == pytest.approx(2 * (3 * volume / 4 / math.pi) ** (1 / 3), rel=1e-3)


def test_air_cannot_explain_a_piece_that_is_too_dense():
    s = answer(claim="silver 999", mass="31.10 g", displaced="2.00 g")
    assert s.advice.misread_g < 0
    assert s.advice.bubble_mm is None


def test_nothing_was_misread_within_the_claim():
    s = answer(claim="18 ct", mass="5.00 g", displaced="0.32 g")
    assert s.advice.misread_g == 0.0
    assert s.advice.bubble_mm is None


@pytest.mark.parametrize("given", [{"mass": "31.18 g", "displaced": "27.54 g"}])
def test_a_piece_lighter_than_metal_leads_to_the_likely_slip(given):
    found = notes(claim="silver 999", **given)["too light for metal"]["slips"]
    slips = dict(found)
    # mass in water typed as displaced: 31.18 g pushes aside 31.18 - 27.54 = 3.64 g, 8.54 g/cm3
    assert slips["in_water_typed_as_displaced"] == pytest.approx(8.54, abs=0.01)
    assert "rested_on_bottom" in slips
    assert "too light for metal" not in notes(**given)  # a stone may be as light: only a claim of metal says so


def test_a_reading_that_says_nothing_is_named():
    found = notes(claim="silver 999", density="9 +- 3 g/cm3")
    assert found["everything fits"]["low"] < 9 < found["everything fits"]["high"]
    assert "everything fits" not in notes(claim="silver 999", density="9 +- 0.3 g/cm3")


def test_a_mass_beside_the_nominal_one():
    # one troy ounce is 31.1035 g; 33 g is 6 % off, 31.3 g is ordinary
    off = notes(claim="silver 999 1 ozt", mass="33.0 g", displaced="3.15 g")
    assert off["mass is not the nominal one"]["nominal"] == pytest.approx(31.1035, abs=1e-4)
    assert "mass is not the nominal one" not in notes(claim="silver 999 1 ozt", mass="31.3 g", displaced="2.98 g")
    three = notes(claim="silver 999 1 ozt", mass="93.9 g", displaced="8.95 g", count=3)
    assert "mass is not the nominal one" not in three


def test_a_lone_weighing_against_the_claim_is_to_be_repeated():
    assert "weigh again" in notes(claim="silver 999", mass="33.25 g", displaced="4.0 g", scale_step="0.1 g")
    assert "weigh again" not in notes(claim="silver 999", mass="31.10 g", displaced="2.97 g")


def test_a_hollow_chain_is_not_to_be_weighed_again_for_being_light():
    assert "weigh again" not in notes(claim="9 ct rose gold chain", mass="6.00 g", displaced="0.75 g")


def test_a_finer_scale_where_the_step_decides():
    coarse = {"claim": "silver 999", "mass": "31.26 g", "displaced": "3.0 g", "scale_step": "0.1 g"}
    assert "finer scale" in notes(**coarse)
    assert answer(**coarse).decision.code == UNDECIDED
    assert answer(**{**coarse, "scale_step": "0.01 g"}).decision.code != UNDECIDED  # as the note said
    # with 0.01 g of 10 g too much else would still look like silver
    assert "finer scale" not in notes(claim="silver 999", mass="10.4 g", displaced="1.0 g", scale_step="0.1 g")
    assert "finer scale" not in notes(claim="silver 999", density="10.4 +- 1 g/cm3")  # no scale to be finer
    assert "finer scale" not in notes(claim="silver 999", mass="33.25 g", displaced="4.0 g", scale_step="0.1 g")


def test_more_repeats_where_their_scatter_decides():
    """Six weighings that scatter by 0.05 g: four times as many would do, whatever the scale."""
    apart = ["2.96 g", "3.056 g", "3.026 g", "2.99 g", "3.086 g", "3.002 g"]
    given = {"claim": "silver 925", "mass": "31.1 g", "wetting": "brushed"}
    assert notes(**given, displaced=apart)["more repeats"]["count"] == 24
    assert answer(**given, displaced=apart).decision.code == UNDECIDED
    assert answer(**given, displaced=4 * apart).decision.code != UNDECIDED  # as the note said
    on_steps = notes(**given, displaced=[f"{float(d.split()[0]):.2f} g" for d in apart], scale_step="0.04 g")
    assert "more repeats" not in on_steps  # 0.04 g / sqrt(6) stays, however often
    assert "weighing cannot decide" not in on_steps  # more weighings on a finer scale could
    alike = notes(**given, displaced=["3.11 g"] * 6, scale_step="0.1 g")  # no scatter to shrink
    assert "more repeats" not in alike
    assert "finer scale" in alike


def test_where_nothing_about_the_weighing_decides():
    """Gold and tungsten weigh alike on any scale."""
    found = notes(claim="gold 999", mass="3.1 g", displaced="0.16 g")
    assert "weighing cannot decide" in found
    assert "finer scale" not in found
    assert "weighing cannot decide" not in notes(claim="gold 999", density="19.3 +- 0.3 g/cm3")  # not weighed


def lowest(claim, **given):
    s = solve(Piece(claim=claim, **given), Settings())
    return speaks_against_below(TABLES, s.claim, s.evidence)


def shown(claim, **given):
    return solve(Piece(claim=claim, **given), Settings()).advice.would_show_below


def test_readings_contradict_metal_that_is_less_fine_by_as_much_as_contradicts_a_claim():
    """Silver 720 and 925 with copper are 9.98 and 10.36 g/cm3 (handbook); 1 in 10 000 is 3.89 deviations of a normal.

    The weighing has 0.05 g/cm3 and the alloy 0.16 %, which are 0.053 g/cm3 together.
    """
    found = shown("silver 925", density="10.36 +- 0.05 g/cm3")
    assert found == pytest.approx(np.interp(10.36 - 3.89 * 0.053, [9.98, 10.36], [720, 925]), abs=12)


def test_fine_metal_may_be_less_fine_with_the_scatter_of_an_alloy():
    """What fine gold reads like is not taken for a lower fineness that a claim of it could read like as well."""
    fine, alloy = (shown(claim, mass="31.1 g", displaced="1.61 g") for claim in ("gold 999", "gold 980"))
    assert fine == pytest.approx(alloy, abs=5)


@pytest.mark.parametrize(
    "given",
    [
        {"claim": "silver 925", "magnet": "none"},
        {"claim": "silver 925", "conductivity": "50 MS/m"},  # no density
        {"claim": "silver 925", "density": "10.3 +- 0.5 g/cm3"},  # nobody alloys silver of 400 in the same way
        {"claim": "silver 925", "density": "8.5 +- 0.02 g/cm3"},  # contradicted
    ],
)
def test_no_fineness_is_named_where_it_says_nothing(given):
    assert shown(**given) is None


def test_less_fine_metal_is_not_called_hidden_beside_the_fineness_that_would_have_shown():
    d = solve(Piece(claim="silver 999", mass="31.1 g", displaced="2.96 g"), Settings()).document
    assert "less fine metal" in [b.class_ for b in d.blind_spots]
    lowest = d.claim.would_show_below_per_mille
    assert f"less than {lowest:.0f} fine would have shown" in change_lines(d, language())[0]
    assert "less fine" not in blind_line(d, language())


def test_would_show_below_falls_with_the_uncertainty():
    close = lowest("silver 925", density="10.36 +- 0.005 g/cm3")
    usual = lowest("silver 925", density="10.36 +- 0.02 g/cm3")
    coarse = lowest("silver 925", density="10.36 +- 0.1 g/cm3")
    assert 925 >= close > usual > coarse > 400
    # silver 900 with copper is 10.31 g/cm3 (handbook): 0.2 % of u and 0.16 % of scatter, 1.9 u below 10.36
    assert 870 < usual < 915


def test_would_show_below_is_none_without_a_precious_claim():
    evidence = answer(density="8.5 g/cm3").evidence
    for text in ("brass", "gold plated"):
        assert speaks_against_below(TABLES, parse_claim(text, TABLES), evidence) is None
    assert speaks_against_below(TABLES, None, evidence) is None
    assert lowest("silver 999", density="8.5 +- 0.01 g/cm3") is None  # not even the claim passes


def test_fine_metal_is_debased_with_copper():
    # read like silver 900 with copper: 10.31 g/cm3 (handbook)
    found = lowest("silver 999", density="10.41 +- 0.05 g/cm3")
    assert 850 < found < 940  # down to 10.41 - 1.96 x 0.05 = 10.31 g/cm3


@pytest.mark.parametrize(
    ("given", "caution"),
    [
        ({"density": "11.3 +- 0.02 g/cm3"}, "lead"),
        ({"claim": "gilt brass", "density": "8.5 +- 0.02 g/cm3"}, "mercury"),
        ({"claim": "vermeil", "density": "10.4 +- 0.02 g/cm3"}, "mercury"),
        ({"claim": "silver 999", "density": "10.5 +- 0.02 g/cm3", "proof": True}, "proof coin"),
        ({"claim": "EU-10c", "density": "10.3 +- 0.02 g/cm3"}, "current money"),
        ({"claim": "silver 999", "density": "8.5 +- 0.02 g/cm3", "current_money": True}, "current money"),
        ({"claim": "18 ct", "mass": "5.00 g", "displaced": "0.33 g", "parts": ["pearl 0.3 g"]}, "do not wet"),
        ({"density": "10.4 +- 0.02 g/cm3", "surface_composition": "Ag 92.5 Cu 7.3 Cd 0.2"}, "cadmium"),
        ({"claim": "beryllium copper", "density": "8.26 +- 0.02 g/cm3"}, "beryllium"),  # unseen by X-rays
        ({"claim": "gold 999", "density": "19.25 +- 0.1 g/cm3", "surface_composition": "U 99"}, "uranium"),
        ({"density": "11.83 +- 0.05 g/cm3", "surface_composition": "Tl 99"}, "thallium"),
        ({"claim": "platinum 950", "density": "22.5 +- 0.1 g/cm3", "surface_composition": "Os 99"}, "osmium"),
    ],
)
def test_cautions_are_triggered(given, caution):
    assert caution in answer(**given).advice.cautions


@pytest.mark.parametrize(
    ("given", "caution"),
    [
        ({"claim": "gold 999", "density": "19.3 +- 0.02 g/cm3", "conductivity": "45 MS/m"}, "lead"),
        ({"claim": "CH-2F-835", "density": "10.2 +- 0.05 g/cm3"}, "current money"),
        ({"claim": "EU-10c", "density": "8.1 +- 0.05 g/cm3"}, "current money"),  # undecided: nothing speaks against it
        ({"claim": "EU-10c", "density": "10.3 +- 0.02 g/cm3", "current_money": False}, "current money"),
        ({"density": "10.4 +- 0.02 g/cm3", "surface_composition": "Ag 92.6 Cu 7.35 Cd 0.05"}, "cadmium"),
        ({"claim": "silver 999", "density": "10.5 +- 0.02 g/cm3", "current_money": True}, "current money"),
        ({"claim": "silver 999", "density": "10.5 +- 0.02 g/cm3"}, "proof coin"),
        ({"claim": "silver 999", "density": "10.5 +- 0.02 g/cm3"}, "mercury"),
    ],
)
def test_and_only_where_they_apply(given, caution):
    assert caution not in answer(**given).advice.cautions


def test_without_readings_of_weight_there_is_no_advice_about_weighing():
    s = answer(claim="silver 999", conductivity="60 MS/m")
    assert (s.advice.claim_displaced_g, s.advice.misread_g, s.advice.bubble_mm) == (None, None, None)
    assert s.advice.claim_density == pytest.approx((10.49, 10.50), abs=0.02)
    assert not {n.code for n in s.advice.notes} & {"weigh again", "finer scale", "everything fits"}
    bare = advise(replace(s, weighing=None, claim=None, decision=None, compared=None))
    assert (bare.claim_density, bare.would_show_below, bare.notes) == (None, None, ())
