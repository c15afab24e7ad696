"""Which pieces are made in one, as coins and bars are."""

import pytest

from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.ware import made_in_one
from alloysolve.published.load import default_tables

TABLES = default_tables()


@pytest.mark.parametrize(
    ("claim", "piece", "expected"),
    [
        ("silver 999", {}, True),  # fine metal: bars and coins
        ("gold 900", {}, True),  # the metal of coins
        ("US-1d-Ag", {}, True),
        ("silver 925", {}, False),  # mostly jewels and tableware
        ("18k yellow", {}, False),
        ("silver 925", {"note": "medal of 1911"}, True),
        ("silver 925", {"disc": ["38 mm", "3 mm"]}, True),
        ("silver 925 pendant", {"disc": ["38 mm", "3 mm"]}, False),
        ("silver 999 chain", {}, False),
        ("gold 999", {"ring": ["22 mm", "19 mm", "4 mm"]}, False),
        ("gold plated", {}, False),
        ("brass", {}, False),
    ],
)
def test_made_in_one(claim, piece, expected):
    assert made_in_one(parse_claim(claim, TABLES), Piece(claim=claim, **piece)) is expected


def test_without_a_claim_the_shape_decides():
    assert made_in_one(None, Piece(bar=["50 mm", "28 mm", "3 mm"]))
    assert not made_in_one(None, Piece(mass="5 g"))
