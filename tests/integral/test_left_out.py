"""What the solver never integrates, and the rows that it drops, hold next to nothing of the belief in random pieces."""

import numpy as np
import pytest

from alloysolve.inference.commonness import DEFAULT
from alloysolve.inference.find import find
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral import solver as core
from alloysolve.integral.solver import Solver
from alloysolve.published.load import default_tables
from tests.independent.drawn_pieces import drawn

HOLDS = 1e-4  # share of belief
NOTHING = 1e-8  # left out where nothing is left out
ENDLESS = (0, 1, 7, 12, 15, 16, 20, 23, 38, 41, 47, *range(50, 61), 63, 64, 65, 70, 74, 75, 76, 77, 78)  # minutes each
QUICK = (3, 4, 9, 10, 11, 13, 14, 18, 21, 22)


def solver_of(number):
    """What is believed of a piece, the weight of "something else", and how its solver is made."""
    found = find(Piece.from_dict(drawn(number, x_rays=False)), Settings(), default_tables(), DEFAULT)
    prior, evidence = found.prior, found.evidence
    other = prior.other * evidence.other_likelihood()
    return list(prior.levels[evidence.shows]), other, lambda left_out: Solver(prior.bodies, evidence, other, left_out)


def pairs(rows):
    """A number for each construction, body and material."""
    return (rows.construction * 10**6 + rows.point) * 1000 + rows.skin + 1


def check(number, monkeypatch):
    believed, other, solver = solver_of(number)
    kept = solver(core.LEFT_OUT).rows(believed).weight.sum() + other
    monkeypatch.setattr(core, "ROWS_DOWN_TO", 1e-13)
    whole = solver(core.LEFT_OUT).rows(believed).weight.sum() + other
    assert kept == pytest.approx(whole, rel=HOLDS)
    monkeypatch.setattr(core, "HINTED", 0.0)
    monkeypatch.setattr(core, "FEW", 0.0)  # otherwise one cell may stand for others, which are not left out
    monkeypatch.setattr(core, "CROWD", 10**9)
    monkeypatch.setattr(core, "LEAST_BARE", 1e-13)
    every = solver(NOTHING).rows(believed)
    gone = ~np.isin(pairs(every), pairs(solver(core.LEFT_OUT).rows(believed)))
    assert every.weight[gone].sum() < HOLDS * (every.weight.sum() + other)


@pytest.mark.parametrize("number", QUICK)
def test_what_is_left_out_holds_next_to_nothing(number, monkeypatch):
    check(number, monkeypatch)


@pytest.mark.slow
@pytest.mark.parametrize("number", [n for n in range(91) if n not in (*QUICK, *ENDLESS)])
def test_what_is_left_out_holds_next_to_nothing_in_many_pieces(number, monkeypatch):
    check(number, monkeypatch)
