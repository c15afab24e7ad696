"""Resistivity of alloys: Nordheim's rule with two more orders, two phases, %IACS."""

from __future__ import annotations

import numpy as np
import pytest

from alloysolve.physics.resistivity import iacs_from_resistivity, resistivity_nordheim, two_phase_factor

SIZE = 4


@pytest.mark.parametrize(
    ("resistivity", "iacs"),
    [
        (1.7241, 100.0),  # IEC 60028:1925: 100 %IACS is 0.017241 ohm mm2/m
        (3.4482, 50.0),
        (1.59, 108.4),  # silver, handbook resistivity
    ],
)
def test_iacs(resistivity: float, iacs: float) -> None:
    assert float(iacs_from_resistivity(resistivity)) == pytest.approx(iacs, abs=0.05)


def test_iacs_is_58_ms_per_m() -> None:
    resistivity = 100 / 58.0  # uohm cm of 58.0 MS/m, IEC 60028:1925
    assert float(iacs_from_resistivity(resistivity)) == pytest.approx(100.0, abs=0.01)


@pytest.mark.parametrize("order", [0, 1, 2])
def test_each_order_against_loops(order: int) -> None:
    rng = np.random.default_rng(order)
    x = rng.dirichlet(np.ones(SIZE), 6)
    pure = rng.random(SIZE) * 10
    c = rng.normal(size=(3, SIZE, SIZE)) * 50
    c0, c1, c2 = (np.triu(m, 1) for m in c)
    used = [m if k == order else np.zeros((SIZE, SIZE)) for k, m in enumerate((c0, c1, c2))]
    expected = []
    for row in x:
        total = float(row @ pure)
        for i in range(SIZE):
            for j in range(i + 1, SIZE):
                total += row[i] * row[j] * used[order][i, j] * (row[i] - row[j]) ** order
        expected.append(total)
    found = resistivity_nordheim(x, pure, used[0] + used[0].T, used[1] - used[1].T, used[2] + used[2].T)
    assert found == pytest.approx(expected, rel=1e-12)


def test_nordheim_is_highest_in_the_middle() -> None:
    c0 = np.array([[0.0, 40.0], [40.0, 0.0]])
    zero = np.zeros((2, 2))
    found = resistivity_nordheim(np.array([[0.5, 0.5]]), np.array([2.0, 2.0]), c0, zero, zero)
    assert found == pytest.approx([12.0])  # 2 + 40 / 4


def test_two_phase_factor() -> None:
    factor = two_phase_factor(np.array([0.0, 0.01, 0.5]), 0.26, 0.01)
    assert factor == pytest.approx([1.0, 1 + 0.26 * (1 - np.exp(-1)), 1.26])
