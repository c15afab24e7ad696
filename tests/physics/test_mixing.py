"""Specific volume of mixtures: ideal rule and excess terms."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from alloysolve.physics.mixing import excess_volume, moles_per_gram, pair_products

Array = NDArray[np.float64]
SIZE = 5


@pytest.fixture
def terms() -> tuple[Array, Array, Array]:
    """Moles per gram of seven mixtures, K0 and K1 of all pairs of five metals."""
    rng = np.random.default_rng(7)
    n = rng.random((7, SIZE)) / 60
    k0, k1 = rng.normal(size=(2, SIZE, SIZE))
    return n, np.triu(k0, 1) + np.triu(k0, 1).T, np.triu(k1, 1) - np.triu(k1, 1).T


def _by_loops(n: Array, k0: Array, k1: Array) -> float:
    """Redlich-Kister sum over pairs, as it stands in the literature: N sum x_i x_j (K0 + K1 (x_i - x_j))."""
    total = n.sum()
    x = n / total
    molar = 0.0
    for i in range(SIZE):
        for j in range(i + 1, SIZE):
            molar += x[i] * x[j] * (k0[i, j] + k1[i, j] * (x[i] - x[j]))
    return float(total * molar)


def test_moles_per_gram() -> None:
    n = moles_per_gram(np.array([0.5, 0.5]), np.array([50.0, 200.0]))
    assert n == pytest.approx([0.01, 0.0025])


def test_excess_volume_against_a_double_loop(terms: tuple[Array, Array, Array]) -> None:
    n, k0, k1 = terms
    assert excess_volume(n, k0, k1) == pytest.approx([_by_loops(row, k0, k1) for row in n], rel=1e-12)


def test_excess_volume_does_not_depend_on_the_order_of_metals(terms: tuple[Array, Array, Array]) -> None:
    n, k0, k1 = terms
    order = [3, 0, 4, 2, 1]
    again = excess_volume(n[:, order], k0[np.ix_(order, order)], k1[np.ix_(order, order)])
    assert again == pytest.approx(excess_volume(n, k0, k1), rel=1e-12)


def test_k1_lifts_the_side_of_its_first_metal() -> None:
    k0, k1 = np.zeros((2, 2)), np.array([[0.0, 1.0], [-1.0, 0.0]])
    first_rich, second_rich = excess_volume(np.array([[0.8, 0.2], [0.2, 0.8]]), k0, k1)
    assert first_rich == pytest.approx(0.8 * 0.2 * 0.6)
    assert second_rich == pytest.approx(-first_rich)


def test_a_quarter_of_k0_at_equal_atomic_shares() -> None:
    k0 = np.array([[0.0, 2.0], [2.0, 0.0]])
    assert excess_volume(np.array([0.5, 0.5]), k0, np.zeros((2, 2))) == pytest.approx(0.5)


def test_pure_metals_have_no_excess(terms: tuple[Array, Array, Array]) -> None:
    _, k0, k1 = terms
    assert excess_volume(np.eye(SIZE) / 50, k0, k1) == pytest.approx(np.zeros(SIZE), abs=1e-15)


def test_excess_volume_scales_with_the_amount(terms: tuple[Array, Array, Array]) -> None:
    n, k0, k1 = terms
    assert excess_volume(3 * n, k0, k1) == pytest.approx(3 * excess_volume(n, k0, k1), rel=1e-12)


def test_pair_products_are_what_the_terms_multiply(terms: tuple[Array, Array, Array]) -> None:
    n, k0, k1 = terms
    first, second = np.triu_indices(SIZE, 1)
    zero, one = pair_products(n, first, second)
    assert zero @ k0[first, second] + one @ k1[first, second] == pytest.approx(excess_volume(n, k0, k1), rel=1e-12)
