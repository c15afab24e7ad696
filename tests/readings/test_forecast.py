"""What X-rays would print of pieces that were not yet read: it is typed in as it stands, and agrees with its claim."""

import numpy as np
import pytest

from alloysolve.advice.next_reading import typical
from alloysolve.errors import InputError
from alloysolve.inference.claimed import claim_bodies, claim_candidates
from alloysolve.inference.observe import circumstances_of
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables
from alloysolve.readings.base import BODY
from alloysolve.readings.registry import KINDS, SurfaceComposition
from tests.published.test_readings_published import DOLLAR, piece
from tests.rows import every

TABLES = default_tables()
CLAIMS = [r.claim for r in TABLES.rows("claims")] + [r.id for r in TABLES.rows("coins")]


def forecast(claim=None):
    about = circumstances_of(Piece(magnet="none"), Settings(), TABLES, DOLLAR, claim)
    return KINDS["surface_composition"].trial(about), about


@every("text", CLAIMS)
def test_what_is_forecast_of_a_claim_can_be_typed_in_and_agrees_with_it(text):
    try:
        claim = parse_claim(text, TABLES)
    except InputError:
        return  # not a claim that can be tested, e.g. a coin of two metals
    own = claim_bodies(TABLES, claim)
    claimed = claim_candidates(TABLES, claim, own, DOLLAR, BODY)
    trial, about = forecast(claim)
    (typed,) = trial.typed(typical(claimed))
    reading = SurfaceComposition(typed)
    assert 99 < reading.total < 101
    shares = list(reading.shares.values())
    assert shares == sorted(shares, reverse=True)  # main metals first
    assert np.abs(reading.observed("reading", about).score(claimed)).min() < 1.96


def test_a_bare_alloy_is_printed_as_it_is():
    """A thick alloy of listed metals is printed with its own composition, however far from fine metal it is."""
    trial, _ = forecast(parse_claim("9 ct", TABLES))
    (typed,) = trial.typed(piece("silver 925"))
    assert SurfaceComposition(typed).shares == pytest.approx({"Ag": 92.5, "Cu": 7.5}, abs=0.1)


def test_steel_under_thin_gold_is_mostly_printed_as_steel():
    # 0.2 um of gold pass nine tenths of the iron line (mass attenuation about 370 cm2/g near 6.4 keV, NIST)
    trial, _ = forecast(parse_claim("gold 750", TABLES))
    (typed,) = trial.typed(piece("carbon steel 0.1 %", "Au", 0.2))
    shares = SurfaceComposition(typed).shares
    assert next(iter(shares)) == "Fe"
    assert 0 < shares["Au"] < 50


def test_what_a_piece_as_claimed_would_print_is_said_in_the_percent_of_the_instrument():
    """9 ct holds 37.5 % gold, whatever was printed of the piece in hand."""
    claim = parse_claim("9 ct", TABLES)
    claimed = claim_candidates(TABLES, claim, claim_bodies(TABLES, claim), DOLLAR, BODY)
    reading = SurfaceComposition("Au 99 Cu 1").observed("reading", forecast(claim)[1])
    shown = reading.shown(claimed)
    assert 37 < shown.min() < shown.max() < 42
