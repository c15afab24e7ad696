"""Short form of the calibration by simulation; the long one is a script under tests/independent."""

import numpy as np
import pytest

from ..independent import calibration

PIECES = 320


@pytest.fixture(scope="module")
def found():
    return calibration.run(PIECES, workers=1)


def test_ranges_hold_as_often_as_they_say(found):
    for name in ("in_range", "metal_in_range"):
        x = np.array([getattr(f, name) for f in found])
        x = x[np.isfinite(x)]
        # 95 % said; of n pieces a share below this comes up once in 1000 runs of a program that is right
        assert x.mean() > 0.95 - 3.1 * np.sqrt(0.95 * 0.05 / len(x))


def test_probabilities_are_right_as_often_as_they_say(found):
    for said, right, se in calibration.bins(found, 4):
        assert abs(right - said) < 3.3 * se + 0.01


def test_the_truth_lies_anywhere_in_the_belief(found):
    rank = np.array([f.rank for f in found])
    rank = rank[np.isfinite(rank)]
    assert rank.mean() == pytest.approx(0.5, abs=3.3 * np.sqrt(1 / 12 / len(rank)))


def test_a_range_that_is_too_narrow_would_be_found(found):
    """The check has teeth: probabilities pushed towards 0 and 1 fail it."""
    p = np.concatenate([f.probability for f in found])
    right = np.concatenate([f.right for f in found]).astype(float)
    pushed = p**2 / (p**2 + (1 - p) ** 2)
    middle = (p > 0.2) & (p < 0.8)
    score = np.mean((right - p)[middle] ** 2) - np.mean((right - pushed)[middle] ** 2)
    assert score < 0  # the stated ones predict better
