"""What is called less fine holds less than is claimed, all of it."""

import pytest

from alloysolve.answer.solution import solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.words.findings import other_name
from alloysolve.words.language import language
from alloysolve.words.rows import row_name

SAY = language()


@pytest.mark.parametrize(
    ("claim", "rho", "metal"),
    [
        ("platinum 950", 20.3, "Pt"),
        ("platinum 950", 19.5, "Pt"),
        ("silver 999", 8.54, "Ag"),
        ("silver 925", 10.2, "Ag"),
        ("gold 750", 14.0, "Au"),
    ],
)
@pytest.mark.parametrize("hollow", [None, "possible"])
def test_nothing_that_may_be_as_fine_as_claimed_is_called_less_fine(claim, rho, metal, hollow):
    d = solve(Piece(claim=claim, mass="31 g", density=f"{rho} +- 0.05 g/cm3", hollow=hollow), Settings()).document
    least = float(claim.split()[1]) / 10
    assert d.claim.least_percent == pytest.approx(least, abs=0.1)
    named = 0
    for row in d.rows:
        if row.what == "system" and row.metals[0] == metal:
            named += 1
            for name in (row_name(row, d, SAY), other_name(d, row, SAY)):
                assert "less fine" not in name or row.ranges[metal][2] <= d.claim.least_percent
    assert named or hollow is None
