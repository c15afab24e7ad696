"""Class of answer to a hand magnet from iron, nickel and cobalt."""

from __future__ import annotations

import numpy as np
import pytest

from alloysolve.physics.magnet import NONE, SLIGHT, STRONG, magnetic_class


@pytest.mark.parametrize(
    ("iron", "nickel", "cobalt", "expected"),
    [
        (0.0, 0.0, 0.0, NONE),  # brass
        (0.99, 0.0, 0.0, STRONG),  # steel
        (0.0, 0.99, 0.0, STRONG),  # nickel
        (0.0, 0.0, 0.95, STRONG),  # cobalt
        (0.0, 0.25, 0.0, NONE),  # cupronickel of coins
        (0.0, 0.66, 0.0, SLIGHT),  # nickel-copper 66/32 is near its Curie point at room temperature
        (0.06, 0.0, 0.06, SLIGHT),
        (0.02, 0.3, 0.02, NONE),
    ],
)
def test_class(iron: float, nickel: float, cobalt: float, expected: int) -> None:
    found = magnetic_class(np.array([iron]), np.array([nickel]), np.array([cobalt]))
    assert found.tolist() == [expected]


def test_more_of_a_magnetic_metal_never_answers_less() -> None:
    share = np.linspace(0, 1, 101)
    none = np.zeros_like(share)
    for each in ((share, none, none), (none, share, none), (none, none, share)):
        assert (np.diff(magnetic_class(*each)) >= 0).all()
