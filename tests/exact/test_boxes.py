"""The reference of other tests, least by boxes, against what is known without it."""

import numpy as np
import pytest

from .boxes import Interval, lowest, mean


def test_intervals_hold_all_that_a_formula_reaches():
    def formula(x, y):
        return np.hypot(x**2, 1) * np.exp(-y) - abs(x - y) / np.maximum(y, 0.25) + np.minimum(x, y) * np.log(y + 2)

    x, y = (np.linspace(low, low + 0.5, 51) for low in (-0.25, -0.125))
    reached = formula(*np.meshgrid(x, y))
    found = formula(Interval(x[0], x[-1]), Interval(y[0], y[-1]))
    assert found.low <= reached.min() < reached.max() <= found.high


def test_what_intervals_have_no_rule_for_is_refused():
    with pytest.raises(AssertionError, match="sin"):
        np.sin(Interval(0, 4))  # turns within
    with pytest.raises(AssertionError, match="zero"):
        1 / Interval(-1, 1)
    with pytest.raises(AssertionError, match="power"):
        Interval(-1, 1) ** 3


def test_the_lower_of_two_valleys_is_found():
    """(p - 0.2)^2 (p - 0.7)^2 - 0.01 p has a valley near each; the one of 0.7 is deeper, and a start at 0 misses it."""

    def valleys(w):
        p = w[..., 1]
        return (p - 0.2) ** 2 * (p - 0.7) ** 2 - 0.01 * p

    p = np.linspace(0, 1, 100_001)
    value, place = lowest(valleys, [(0, 1)], [], 1e-7)
    assert value == pytest.approx(valleys(np.stack([1 - p, p], axis=1)).min(), abs=1e-7)
    assert place[1] == pytest.approx(0.72, abs=0.02)


def test_a_corner_between_two_rules_is_found_and_a_clash_is_seen():
    rules = [lambda w: w[..., 2] - 0.3 * w[..., 1], lambda w: 0.5 - w[..., 0]]  # least of the third: 0.3 / 1.3 x 0.5
    value, place = lowest(lambda w: w[..., 2], [(0, 1)] * 2, rules, 1e-5)
    assert value == pytest.approx(0.15 / 1.3, abs=1e-5)
    assert place == pytest.approx([0.5, 0.5 / 1.3, 0.15 / 1.3], abs=1e-4)
    assert lowest(lambda w: w[..., 2], [(0, 1)] * 2, [*rules, lambda w: 0.1 - w[..., 2]], 1e-5)[0] == np.inf


def test_a_mean_is_the_sum_of_parts_times_values():
    assert mean([0.2, 0.3, 0.5], [1.0, 2.0, 4.0]) == pytest.approx(2.8)
