"""Claims of a layer: what is as claimed, how likely that is, and what it then holds."""

from dataclasses import replace

import numpy as np
import pytest

from alloysolve import Piece, solve
from alloysolve.inference.layered import body_under, claimed_layer, content_as_claimed, layered_candidates
from alloysolve.inputs.claim import parse_claim
from alloysolve.pieces.constructions import CLAD, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.published.load import default_tables

TABLES = default_tables()
COIN = Form("disc", (24.0, 1.8))


def content(text, grams, form=COIN):
    return content_as_claimed(TABLES, parse_claim(text, TABLES), grams, form)


def layer_of(text):
    claim = parse_claim(text, TABLES)
    pieces, own = layered_candidates(TABLES, claim, COIN), body_under(TABLES, claim)
    return claimed_layer(TABLES, claim, pieces.bodies, own, pieces.bodies.coarse, ((1.0, 0.1, 40.0),)), pieces


@pytest.mark.parametrize(
    ("text", "grams", "holds"),
    [
        ("gold filled 1/20 14 ct", 6.2, {"Au": 6.2 / 20 * 14 / 24}),  # 0.18 g
        ("14/20 GF", 6.2, {"Au": 6.2 / 20 * 14 / 24}),
        ("1/10 12k GF", 10.0, {"Au": 0.5}),
        ("silver filled 1/10 925", 10.0, {"Ag": 0.925}),
        ("vermeil", 10.0, {"Ag": 9.25}),  # the gold is not counted: its area is not known
        ("gold plated silver 800", 10.0, {"Ag": 8.0}),
        ("half dollar 1967", 11.5, {"Ag": 4.6}),  # 40 % of 11.5 g, Coinage Act of 1965
        ("silver plated", 30.0, {}),  # no thickness is said
        ("gold plated brass 3 um", 5.0, {}),
        ("nickel plated steel", 30.0, {}),
        ("silver 925", 10.0, {"Ag": 9.25}),
        ("brass", 10.0, {}),
    ],
)
def test_what_a_piece_as_claimed_holds(text, grams, holds):
    found = content(text, grams, Form("disc", (24.0, 1.8), measured=False))
    assert set(found) == set(holds)
    for symbol, x in holds.items():
        assert found[symbol] == pytest.approx(x, rel=0.01)


def test_a_thickness_counts_where_the_size_is_known():
    """A disc of 24 x 1.8 mm has 10.4 cm2: 3 um of gold on it are 3.12 mm3, 60 mg."""
    area = 2 * np.pi / 4 * 24**2 + np.pi * 24 * 1.8
    grams = 8.5 * np.pi / 4 * 24**2 * 1.8 / 1000
    assert content("gold plated brass 24k 3 um", grams)["Au"] == pytest.approx(area * 3e-3 * 19.3e-3, rel=0.05)
    # vermeil: at least 2.5 um of fine gold (16 CFR 23.4), here of 18 ct
    least = content("18 ct vermeil", 10.36 * np.pi / 4 * 24**2 * 1.8 / 1000)["Au"]
    assert least > 0.95 * area * 2.5e-3 * 19.3e-3


def test_a_layer_thinner_than_said_is_not_as_claimed():
    layer, pieces = layer_of("gold filled 1/20 14 ct")
    assert pieces.of(PLATED).all()
    assert layer.holds(pieces).all()
    assert not layer.holds(replace(pieces, parameter=0.5 * pieces.parameter)).any()
    assert not layer.holds(replace(pieces, skin=np.full(len(pieces), pieces.layers.number("Ni")))).any()


def test_a_strike_under_a_layer_changes_no_claim():
    layer, pieces = layer_of("gold plated brass")
    number = pieces.layers.number("Au/Ni")
    struck = replace(pieces, skin=np.full(len(pieces), number))
    assert layer.holds(struck).all()
    assert layer.named(PLATED, number)
    assert not layer.named(CLAD, number)


@pytest.mark.parametrize(
    ("claim", "mass", "displaced", "likely"),
    [
        ("gold filled 1/20 14 ct", "6.2 g", "0.71 g", True),  # 8.7 g/cm3: a twentieth of gold on brass or bronze
        ("vermeil", "10 g", "0.97 g", True),  # 10.3 g/cm3: silver
        ("vermeil", "10 g", "1.18 g", False),  # 8.5 g/cm3: brass
        ("silver plated brass", "30 g", "3.55 g", True),
        ("silver plated brass", "30 g", "2.65 g", False),  # 11.3 g/cm3: lead
        ("half dollar 1967", "11.5 g", "1.21 g", True),  # 9.5 g/cm3
        ("half dollar 1967", "11.5 g", "1.288 g", False),  # 8.93 g/cm3: copper
        ("US-25c-clad", "5.67 g", "0.635 g", True),
    ],
)
def test_a_layered_claim_has_its_row(claim, mass, displaced, likely):
    found = solve(Piece(claim=claim, mass=mass, displaced=displaced))
    share = sum(r.share for r in found.document.rows if r.what == "as claimed")
    assert share == pytest.approx(found.share_as_claimed, abs=0.01)
    assert (share > 0.4) == likely
    assert (share < 0.05) == (not likely)
    assert sum(r.share for r in found.document.rows) == pytest.approx(1.0, abs=0.01)
