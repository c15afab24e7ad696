"""What comes first for a density that the claim does not have: what such pieces are made of, and no curiosity.

Densities are those of handbooks, and midway between them. What such pieces are made of instead is common practice, no
source: base metal under a layer, or less fine metal of the same kind; what is brittle, or known to laboratories only,
never comes first.
"""

import pytest

from alloysolve.answer.solution import solve
from alloysolve.inference.prior import prior_of
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables

CURIOUS = {"Bi", "In", "Mo", "Nb", "Tl", "Cd", "Zr", "Ta", "U", "Os"}


def first(claim, rho):
    s = solve(Piece(claim=claim, mass="40 g", density=f"{rho} +- 0.02 g/cm3", magnet="none"), Settings())
    return set(s.beside_claim()[0].metals)


@pytest.mark.parametrize("claim", ["silver 800", "silver 925", "silver 999"])
@pytest.mark.parametrize(
    ("rho", "metals"),
    [
        (8.2, None),  # near bismuth-tin 8.2: brittle
        (8.5, {"Cu", "Zn"}),  # brass 70/30 8.53
        (8.7, {"Cu", "Ni", "Zn"}),  # nickel silver 8.7
        (9.5, {"Ag", "Cu"}),  # billon
        (9.81, {"Ag", "Cu"}),  # bismuth has 9.8, silver 600 too
        (9.98, {"Ag", "Cu"}),  # the eutectic of 72 % silver
    ],
)
def test_a_light_piece_said_to_be_silver(claim, rho, metals):
    found = first(claim, rho)
    assert not found & CURIOUS
    if metals:
        assert metals <= found | {"Pb"}  # leaded brass is brass


@pytest.mark.parametrize(
    ("claim", "rho", "metals"),
    [
        ("gold 750", 10.2, {"Ag", "Cu"}),  # molybdenum 10.22
        ("platinum 950", 10.22, {"Ag", "Cu"}),
        ("platinum 950", 9.8, {"Ag", "Cu"}),
        ("platinum 950", 8.6, {"Cu", "Ni", "Zn"}),  # niobium 8.57
        ("platinum 950", 11.85, {"Pd"}),  # thallium 11.85
    ],
)
def test_a_light_piece_said_to_be_gold_or_platinum(claim, rho, metals):
    assert metals <= first(claim, rho)


def test_sterling_is_thought_to_be_silver_and_copper_mostly_and_less_often_with_zinc():
    """Most sterling holds copper alone, some castings hold zinc: common practice, no source."""
    bodies = prior_of(default_tables(), parse_claim("silver 925", default_tables()), False).claim_bodies
    zinc = bodies.w[:, bodies.law.index["Zn"]] > 0.005
    assert 0.1 < bodies.weight[zinc].sum() < 0.4
