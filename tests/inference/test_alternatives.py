"""Candidates that stand for all that is not the claim, against all of them."""

from dataclasses import replace

import numpy as np
import pytest

from alloysolve.answer.solution import solve
from alloysolve.inference.classes import KINDS
from alloysolve.inference.compare import Known
from alloysolve.inference.decision import COUNTS_FROM
from alloysolve.inference.misfit import contradicted
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings

PIECES = {
    "silver": Piece(claim="silver 999", mass="31.18 g", displaced="2.98 g", conductivity="104 %IACS", magnet="none"),
    "ring": Piece(claim="18 ct", mass="5.20 g", displaced="0.34 g"),
    "chain": Piece(claim="14 ct yellow chain", mass="11.2 g", displaced="0.86 g", conductivity="16 %IACS"),
    "brass": Piece(claim="brass", mass="20.00 g", displaced="2.37 g", magnet="none"),
    "plated": Piece(claim="silver plated", mass="20.00 g", displaced="2.30 g"),
}


@pytest.fixture(scope="module", params=PIECES)
def compared(request):
    """A claim compared by the candidates that stand for all, and by all."""
    s = solve(PIECES[request.param], Settings())
    every = s.prior.every_alternative().of_form(s.prior.bodies, s.prior.layers, s.evidence.form)
    return s.compared, replace(s.compared, others=lambda: every, known=Known())


def test_they_hold_the_whole_prior_and_each_kind_its_share(compared):
    few, every = compared
    assert len(few.prior) < len(every.prior) / 2
    assert few.prior.sum() == pytest.approx(every.prior.sum(), rel=1e-12)
    shares = [np.bincount(c.kinds + 1, c.prior, len(KINDS) + 1) for c in compared]
    assert shares[0] == pytest.approx(shares[1], abs=2e-4)


def test_readings_exclude_as_much_of_them_as_of_all(compared):
    names = tuple(compared[0].claim_scores)
    for left_out in ("", *names) if len(names) > 1 else ("",):
        shown = [contradicted(c.alternative_scores({left_out}), c.claim_scores, 1e-4, {left_out}) for c in compared]
        whole = [c.prior[m].sum() / c.prior.sum() for c, m in zip(compared, shown, strict=True)]
        assert whole[0] == pytest.approx(whole[1], abs=0.002)
        for kind in range(len(KINDS)):
            few, every = (
                [c.prior[(c.kinds == kind) & m].sum() for m in (True, s)] for c, s in zip(compared, shown, strict=True)
            )
            if every[0] >= COUNTS_FROM:
                assert few[1] / few[0] == pytest.approx(every[1] / every[0], abs=0.005)
