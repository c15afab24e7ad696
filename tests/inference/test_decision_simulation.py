"""Short form of the simulated weighings of sound pieces; the long one is a script under tests/independent."""

import numpy as np
import pytest

from alloysolve.inference.claimed import claim_bodies
from alloysolve.inputs.claim import parse_claim

from ..independent import decision_simulation as simulation

COUNT = 40_000

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(("name", "mass"), simulation.CLAIMS)
@pytest.mark.parametrize(("step", "wetting"), [("0.1 g", "as usual"), ("0.01 g", "brushed")])
def test_sound_pieces_are_hardly_ever_contradicted(name, mass, step, wetting):
    rng = np.random.default_rng(7)
    claim = claim_bodies(simulation.TABLES, parse_claim(name, simulation.TABLES))
    u, bubble, _ = simulation.of_weighing(claim, mass, step, wetting)
    p = simulation.p_of(simulation.drawn(claim, COUNT, u, bubble, rng), claim, u, bubble)
    # 1 in 10 000 allowed: 4 expected at most, and above 12 once in 4000 runs (Poisson)
    assert (p < simulation.FALSE_ALARM).sum() <= 12


def test_a_brass_piece_said_to_be_silver_is_found_out_on_any_scale():
    rng = np.random.default_rng(7)
    silver, brass = (
        claim_bodies(simulation.TABLES, parse_claim(n, simulation.TABLES)) for n in ("silver 999", "brass")
    )
    u, bubble, _ = simulation.of_weighing(silver, 31.1, "0.01 g", "as usual")
    p = simulation.p_of(simulation.drawn(brass, 2000, u, bubble, rng), silver, u, bubble)
    assert (p < simulation.FALSE_ALARM).mean() > 0.99
