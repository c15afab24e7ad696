"""The least fineness a weighing could have let pass, against handbook densities and a convolution of its own."""

import numpy as np
import pytest
from scipy import stats

from alloysolve.advice.fineness import fineness_seen
from alloysolve.inputs.claim import parse_claim
from alloysolve.pieces.shape import Form
from alloysolve.published.load import default_tables
from alloysolve.weighing.weigh import weigh

TABLES, FORM = default_tables(), Form("disc", (30.0, 3.0))
# silver-copper: table of practical silver alloys, metrology teaching pages, where it prints two decimals (one is 35 per
# mille of fineness); 500 by Karmarsch 1877
FINENESS, DENSITY = [500, 720, 925, 975], [9.633, 9.98, 10.36, 10.42]
OF_900 = float(np.interp(900, FINENESS, DENSITY))
SCATTER = 0.0016  # relative, of silver-copper about its law (the design's figure)


def seen(claim, mass, displaced, **given):
    return fineness_seen(TABLES, parse_claim(claim, TABLES), weigh(mass, displaced, **given), FORM)


def expected(u, air):
    """Fineness whose density makes the expected reading of 900 a one-in-twenty: t + normal + exponential, by sampling.

    u, air : relative, of the weighing.
    """
    rng = np.random.default_rng(1)
    n = 400_000
    error = SCATTER * stats.t.rvs(4, size=n, random_state=rng) / 2**0.5 + u * rng.normal(size=n)
    error += air * rng.exponential(size=n) if air else 0.0
    heavier = air - np.quantile(error, 0.025)  # the reading is that much denser than a piece of lower fineness gives
    return float(np.interp(OF_900 * (1 - heavier), DENSITY, FINENESS))


@pytest.mark.parametrize(
    ("step", "wetting"), [("0.001 g", "brushed"), ("0.01 g", "brushed"), ("0.1 g", "brushed"), ("0.01 g", "as usual")]
)
def test_a_weighing_sees_a_fall_in_fineness_as_large_as_its_uncertainty(step, wetting):
    w = weigh("31.1 g", "3.00 g", scale_step=step, wetting=wetting)
    found = fineness_seen(
        TABLES, parse_claim("silver 900", TABLES), w, FORM
    )  # copper alone beside the silver, as in the table
    by_sampling = expected(float(w.u_v / w.v), float(w.bubble_v / w.v))
    assert found == pytest.approx(by_sampling, abs=13)  # 0.1 % of the handbook's density is 7


@pytest.mark.parametrize("read", ["2.85 g", "3.00 g", "3.20 g"])
def test_it_is_of_the_weighing_not_of_what_it_read(read):
    assert seen("silver 925", "31.1 g", read) == pytest.approx(seen("silver 925", "31.1 g", "3.00 g"), abs=15)


def test_there_is_none_without_an_alloyed_precious_metal():
    assert seen("brass", "31.1 g", "3.6 g") is None
