"""The quadrature against plain Monte Carlo, in short; tests/independent/sampler.py prints the long form."""

import pytest

from ..independent.sampler import PIECES, compare

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("name", PIECES)
def test_shares_agree_with_sampling(name):
    *systems, something_else = compare(PIECES[name], 400_000)
    rows = [row for row in systems if row[1] > 0.01]  # few draws hit what is rarer
    assert len(rows) >= 4
    rows.append(something_else)  # its share shows the sum over all the others
    for metals, quadrature, share, error in rows:
        # 4 standard errors over some 20 comparisons at a fixed seed; 3 % for steps of the tabulated scatter
        assert quadrature == pytest.approx(share, abs=4 * error + 0.03 * share), (name, metals)
