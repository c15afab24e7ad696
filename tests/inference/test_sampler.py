"""The quadrature against Monte Carlo; tests/independent/sampler.py prints both."""

import pytest

from ..independent.sampler import PIECES, compare

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("name", PIECES)
def test_shares_agree_with_sampling(name):
    rows = compare(PIECES[name], 600_000)
    assert len(rows) >= 5
    for of, quadrature, share, error in rows:  # three standard errors over some 130 comparisons at a fixed seed
        assert quadrature == pytest.approx(share, abs=max(0.005, 3 * error)), (name, of)
