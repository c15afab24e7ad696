"""Repeats that disagree: when they are called so, which one is named, and when it is left out."""

import numpy as np
import pytest
from scipy import integrate, stats

from alloysolve.weighing.repeats import RANGE, RANGE_OF, agreement
from alloysolve.weighing.weigh import weigh


def odd(*readings, sigma=0.01):
    """What is said of one row of readings: None if they agree, otherwise the odd one and whether it is left out."""
    found = agreement(np.array([readings]), np.array([sigma]))
    return (float(found.odd[0]), bool(found.left_out[0])) if np.isfinite(found.apart[0]) else None


@pytest.mark.parametrize(("n", "most"), [*zip(RANGE_OF, RANGE, strict=True)])
def test_one_honest_set_in_a_hundred_lies_further_apart(n, most):
    """The range of n normal values: P(range < w) = n times the integral of phi(x) (Phi(x + w) - Phi(x))^(n - 1)."""

    def density(x):
        return n * stats.norm.pdf(x) * (stats.norm.cdf(x + most) - stats.norm.cdf(x)) ** (n - 1)

    assert integrate.quad(density, -9, 9, epsabs=1e-9)[0] == pytest.approx(0.99, abs=2e-5)


@pytest.mark.parametrize("n", range(2, 11))
def test_repeats_at_the_critical_range_agree_and_a_little_further_disagree(n):
    most = 0.01 * RANGE[RANGE_OF.index(n)]
    between = [3.0 + most / 2] * (n - 2)
    assert odd(3.0, *between, 3.0 + 0.999 * most) is None
    assert odd(3.0, *between, 3.0 + 1.001 * most) is not None


def test_of_two_none_can_be_named():
    assert np.isnan(odd(3.20, 3.64)[0])


def test_the_one_away_from_the_others_is_named():
    assert odd(2.97, 3.20, 3.64) == (3.64, False)
    assert odd(3.64, 2.97, 3.63) == (2.97, False)  # in any order; of three it is kept, as nobody knows which is wrong
    assert np.isnan(odd(2.97, 3.20, 3.43)[0])  # evenly spread: none
    assert odd(3.64, 3.63, 3.65, 3.46, 3.64) == (3.46, True)
    assert odd(3.60, 3.70, 3.80, 4.50) == (4.50, False)  # the others disagree as well


def test_rows_of_different_length():
    readings = np.array([[3.64, 3.63, np.nan], [2.97, 3.20, 3.64], [3.64, np.nan, np.nan], [np.nan] * 3])
    found = agreement(readings, np.full(4, 0.01))
    assert np.isfinite(found.apart).tolist() == [False, True, False, False]
    assert found.apart[1] == pytest.approx(0.67)


def test_a_weighing_says_that_its_repeats_disagree():
    w = weigh(31.18, ["2.97 g", "3.20 g", "3.64 g"])
    assert (w.disagreement.odd_g, w.disagreement.left_out) == (3.64, False)
    assert w.disagreement.apart_g == pytest.approx(0.67)
    # a step of 10 mg twice, rectangular, and air of 10 mg: 4.12 sqrt(4.1^2 + 10.3^2) = 46 mg of three repeats
    assert w.disagreement.allowed_g == pytest.approx(0.046, abs=0.002)
    assert weigh(31.18, ["3.64 g", "3.63 g", "3.64 g"]).disagreement is None
    inside = weigh(31.18, in_water=["28.21 g", "27.98 g", "27.54 g"])  # the same, read in water
    assert inside.disagreement.odd_g == 27.54
    assert inside.disagreement.apart_g == pytest.approx(0.67)


def test_a_coarse_scale_and_a_scatter_that_was_stated_explain_more():
    assert weigh(31.18, ["3.6 g", "3.7 g"], scale_step="0.1 g").disagreement is None
    assert weigh(31.18, ["3.6 g", "3.7 g"]).disagreement is not None
    assert weigh(31.18, ["3.60 g", "3.70 g"], u_scale="50 mg").disagreement is None
    assert weigh(31.18, ["3.60 g", "3.64 g"], wetting="brushed").disagreement is not None
    assert weigh(31.18, ["3.60 g", "3.64 g"], wetting="dry dip").disagreement is None


def test_one_of_many_is_left_out_of_the_mean():
    kept, strange = ["3.64 g", "3.63 g", "3.64 g", "3.65 g"], "3.46 g"  # two digits swapped
    w, clean = weigh("31.18 g", [*kept, strange]), weigh("31.18 g", kept)
    assert (w.disagreement.odd_g, w.disagreement.left_out) == (3.46, True)
    assert w.density.value == pytest.approx(clean.density.value, rel=1e-12)
    assert clean.disagreement is None


def test_columns_of_pieces_leave_out_by_row():
    displaced = np.array([[3.64, 3.63, 3.64, 3.65], [3.64, 3.63, 3.64, 3.20]])
    w = weigh(np.array([31.18, 31.18]), displaced)
    assert w[0].disagreement is None
    assert w[1] == weigh(31.18, [3.64, 3.63, 3.64, 3.20])
    assert w[1].disagreement.left_out
