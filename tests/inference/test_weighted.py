"""Weighted ware: a shell of silver around pitch, plaster, cement or steel, as claimed only where the claim says so."""

from __future__ import annotations

import numpy as np
import pytest

from alloysolve.answer.solution import Solution, solve
from alloysolve.inference.prior import WEIGHTED_AS_CLAIMED, prior_of
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.pieces.constructions import WEIGHTED
from alloysolve.words.terminal import answer
from tests.bodies_of import TABLES

MASS = 412.3  # g


def displaced(silver_g: float, filling: float) -> float:
    """Water [g] that a candlestick of `MASS` pushes aside, of which some is sterling silver; density of the rest."""
    return silver_g / 10.36 + (MASS - silver_g) / filling  # sterling: 10.36 g/cm3 (from memory, as handbooks have it)


def solved(claim: str, silver_g: float = 120.0, filling: float = 1.5) -> Solution:
    return solve(Piece(claim=claim, mass=MASS, displaced=round(displaced(silver_g, filling), 1)), Settings())


def share_weighted(claim: str) -> float:
    prior = prior_of(TABLES, parse_claim(claim, TABLES), True)
    return float(sum(b.share.sum() for b in prior.plain if b.construction == WEIGHTED))


def test_only_ware_that_may_be_weighted_is_believed_to_be() -> None:
    kind = TABLES.claim_priors["silver"]
    rest = (1 - kind.claim - kind.other) / (1 - kind.other)
    assert share_weighted("sterling silver spoon") == 0
    assert share_weighted("sterling silver candlestick") == pytest.approx(rest * kind.weighted)
    said = share_weighted("weighted sterling silver candlestick")
    assert said == pytest.approx(rest * kind.weighted + WEIGHTED_AS_CLAIMED * kind.claim)


@pytest.mark.parametrize("claim", ["sterling spoon", "sterling candlestick", "weighted sterling"])
def test_shares_add_up_whatever_is_said(claim: str) -> None:
    for level in prior_of(TABLES, parse_claim(claim, TABLES), True).levels:
        whole = sum(b.share.sum() for b in level)
        assert whole == pytest.approx(1 - TABLES.claim_priors["silver"].other, abs=1e-9)


def test_a_weighted_piece_is_as_claimed_where_the_claim_says_so() -> None:
    s = solved("weighted sterling candlestick")
    assert s.decision.code == "undecided"  # a weighing cannot tell a thin shell from a plated one
    assert s.share_meeting_claim > 0.5
    assert s.decision.p > 0.05


def test_it_is_not_what_is_claimed_elsewhere_and_nobody_is_contradicted_for_it() -> None:
    candlestick, spoon = solved("sterling candlestick"), solved("sterling spoon")
    assert candlestick.decision.code == "undecided"
    assert candlestick.share_meeting_claim < 0.5
    assert "pitch" in answer(candlestick.document) or "plaster" in answer(candlestick.document)
    assert spoon.decision.code == "contradicted"


@pytest.mark.parametrize(("silver_g", "filling"), [(60.0, 1.2), (90.0, 1.6), (120.0, 1.5), (200.0, 1.9)])
def test_the_silver_of_the_shell_is_within_what_it_is_said_to_hold(silver_g: float, filling: float) -> None:
    held = solved("weighted sterling candlestick", silver_g, filling).precious["Ag"]
    assert held.low <= 0.925 * silver_g <= held.high
    assert held.high < 0.75 * MASS  # never that of a solid piece


def test_the_answer_says_what_it_is_and_sends_nobody_to_soak_it() -> None:
    said = " ".join(answer(solved("weighted sterling candlestick").document, more=True).split())
    assert "Pitch, plaster or cement inside makes most of the weight" in said
    assert "filling in it must not be wetted" in said
    assert "Soak it" not in said
    assert "Likely slips" not in said


def test_a_shell_denser_than_silver_is_no_weighted_silver() -> None:
    s = solve(Piece(claim="weighted sterling candlestick", mass=MASS, displaced=36.5), Settings())  # 11.3 g/cm3: lead
    assert s.decision.code == "contradicted"


def test_no_other_claim_has_candidates_that_are_weighted() -> None:
    s = solve(Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g"), Settings())
    assert not np.any(s.posterior.rows.construction == WEIGHTED)
