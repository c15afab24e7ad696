"""Where another belief would put another system first, the answer says so, from the rows of the one integration."""

from dataclasses import replace

import numpy as np
import pytest

from alloysolve.answer.solution import solve
from alloysolve.inference.commonness import named_prior
from alloysolve.inference.find import MadeRows, posterior_of
from alloysolve.inference.prior import prior_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral import solver as core
from alloysolve.integral.solver import Solver
from alloysolve.words.terminal import answer as text

WEIGHED = Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g")
SHOWING_STRIKES = Piece(claim="14 ct", mass="6.42 g", displaced="0.73 g", conductivity="25 %IACS", magnet="weak")
FILLED = Piece(claim="gold filled 1/20 14 ct", mass="6.42 g", displaced="0.73 g", magnet="none")
UNCLAIMED = Piece(density="8.85 +- 0.03 g/cm3")


@pytest.mark.parametrize("piece", [WEIGHED, SHOWING_STRIKES, FILLED, UNCLAIMED])
@pytest.mark.parametrize("name", ["default", "flat"])
def test_rows_made_for_two_priors_are_those_of_each(piece, name, monkeypatch):
    monkeypatch.setattr(core, "FEW", 0.0)  # otherwise some rows stand for others, and the draw differs
    monkeypatch.setattr(core, "HINTED", 0.0)
    s = solve(piece, Settings())
    prior = prior_of(s.tables, s.claim, s.may_be_hollow, named_prior(name))
    # a share of the mass becomes a thickness on the mean body of the prior in use, under the other prior too
    spans = [
        replace(b, spans=made.spans, by_volume=None)
        for b, made in zip(prior.levels[s.evidence.shows], s.every.made_for, strict=True)
    ]
    own = MadeRows(Solver(prior.bodies, s.evidence).rows(spans), tuple(spans))
    reweighed, integrated = s.every.under(prior, s.evidence), own.under(prior, s.evidence)
    assert reweighed.other == pytest.approx(integrated.other, abs=1e-3)
    assert reweighed.by_kind.keys() == integrated.by_kind.keys()
    for kind in integrated.by_kind:
        of_system = [np.bincount(p.bodies.system, p.by_kind[kind]) for p in (reweighed, integrated)]
        assert of_system[0] == pytest.approx(of_system[1], abs=1e-3)


def test_a_claimed_layer_keeps_its_share_beside_the_same_layer_of_any_thickness():
    s = solve(FILLED, Settings())
    holds = s.prior.layer.holds
    of_layer = [
        p.share[holds(p.rows.candidates(p.bodies, s.evidence))].sum()
        for p in (s.posterior, posterior_of(s.prior, s.evidence))
    ]
    assert of_layer[0] == pytest.approx(of_layer[1], abs=1e-3)


def test_a_first_answer_that_rests_on_belief_names_the_other():
    s, flat = (solve(UNCLAIMED, Settings(), prior=name) for name in ("default", "flat"))  # tin bronze, nickel silver
    assert s.first_under_other_prior.metals == flat.found[0].metals
    assert flat.first_under_other_prior.metals == s.found[0].metals
    assert "If every family were equally common, " in " ".join(text(s.document, more=True).split())


def test_a_first_answer_that_no_belief_changes_says_nothing():
    piece = Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g", conductivity="28 %IACS", magnet="none")
    s = solve(piece, Settings())
    assert s.first_under_other_prior is None
    assert "would come first" not in " ".join(text(s.document, more=True).split())
