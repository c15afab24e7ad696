"""The quadrature against Monte Carlo; tests/independent/sampler.py prints both."""

import pytest

from ..independent.sampler import PIECES, compare

pytestmark = pytest.mark.slow


# sampling gives brass with tin and lead 0.37, two integrals over the predictions of the readings 0.39: not explained
OPEN = pytest.mark.xfail(strict=True, reason="sampling and integrals differ by 0.02 under nickel, frequency unknown")
NICKEL = "nickel skin, frequency unknown"


@pytest.mark.parametrize("name", [pytest.param(n, marks=OPEN) if n == NICKEL else n for n in PIECES])
def test_shares_agree_with_sampling(name):
    rows = compare(PIECES[name], 600_000)
    assert len(rows) >= 5
    for of, quadrature, share, error in rows:  # three standard errors over some 130 comparisons at a fixed seed
        assert quadrature == pytest.approx(share, abs=max(0.005, 3 * error)), (name, of)
