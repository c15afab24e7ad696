"""Short form of the calibration by simulation; the long one is a script under tests/independent."""

from dataclasses import replace

import numpy as np
import pytest

from ..independent import calibration

PIECES = 320

pytestmark = pytest.mark.slow


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


def test_probabilities_pushed_towards_0_and_1_would_be_found(found):
    """The check has teeth."""
    pushed = []
    for f in found:
        p = np.asarray(f.probability)
        pushed.append(replace(f, probability=list(p**2 / (p**2 + (1 - p) ** 2))))
    assert any(abs(right - said) > 3.3 * se + 0.01 for said, right, se in calibration.bins(pushed, 4))
