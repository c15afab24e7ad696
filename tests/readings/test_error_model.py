"""Likelihoods of density and resistivity readings against quadrature and scipy's own distributions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from alloysolve.readings.error_model import (
    DOF,
    LEVELS,
    MANY,
    VolumeLikelihood,
    emg_pdf,
    emg_tails,
    mixture_pdf,
    mixture_score,
    ratio_pdf,
    ratio_score,
    scale_mixture,
)
from tests.error_by_hand import direct_pdf, direct_score

T = stats.t(DOF, scale=np.sqrt(1 - 2 / DOF))  # of standard deviation 1
BODY = np.linspace(-2, 2, 61)  # deviations; the mixture cuts the far tails on purpose


def test_scale_mixture_is_student_t_in_the_body() -> None:
    scales, weights = scale_mixture()
    assert weights.sum() == pytest.approx(1)
    density = (weights * stats.norm.pdf(BODY[:, None], scale=scales)).sum(axis=1)
    below = (weights * stats.norm.cdf(BODY[:, None], scale=scales)).sum(axis=1)
    assert density == pytest.approx(T.pdf(BODY), rel=0.025)
    assert below == pytest.approx(T.cdf(BODY), abs=1e-3)


def test_scatter_has_the_standard_deviation_it_is_given() -> None:
    scales, weights = scale_mixture()
    assert 0.85 < (weights * scales**2).sum() <= 1  # the tails are cut on purpose


def test_scale_mixture_has_heavier_tails_than_a_normal() -> None:
    scales, weights = scale_mixture()
    outside = 2 * float((weights * stats.norm.sf(3.5, scale=scales)).sum())
    assert 0.5 < outside / (2 * T.sf(3.5)) < 1  # cut on purpose
    assert outside > 4 * 2 * stats.norm.sf(3.5)


@pytest.mark.parametrize(("s", "b"), [(1.0, 0.05), (1.0, 0.5), (1.0, 3.0), (0.2, 1.0), (0.05, 2.0)])
def test_normal_plus_exponential_against_scipy(s: float, b: float) -> None:
    r = np.linspace(-6 * s, 6 * s + 12 * b, 241)
    other = stats.exponnorm(b / s, scale=s)
    below, above = emg_tails(r, np.array(s), b)
    assert emg_pdf(r, np.array(s), b) == pytest.approx(other.pdf(r), rel=1e-6, abs=1e-12)
    assert below == pytest.approx(other.cdf(r), abs=1e-9)
    assert above == pytest.approx(other.sf(r), rel=1e-6, abs=1e-12)


def test_without_a_bubble_the_error_is_normal() -> None:
    r = np.linspace(-8, 8, 33)
    below, above = emg_tails(r, np.array(1.5), 0.0)
    assert emg_pdf(r, np.array(1.5), 0.0) == pytest.approx(stats.norm.pdf(r, scale=1.5), rel=1e-12)
    assert below == pytest.approx(stats.norm.cdf(r, scale=1.5), rel=1e-12)
    assert above == pytest.approx(stats.norm.sf(r, scale=1.5), rel=1e-12)


def test_left_tail_keeps_its_digits() -> None:
    """Eight scales below: the sum is rarer than the normal alone, and not a difference of rounded numbers."""
    s, b, r = 1.0, 0.7, -8.0
    below, _ = emg_tails(np.array(r), np.array(s), b)
    expected, _ = integrate.quad(lambda e: stats.expon.pdf(e, scale=b) * stats.norm.cdf(r - e, scale=s), 0, 8)
    assert float(below) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("b", [0.0, 0.4])
def test_whole_error_integrates_to_one(b: float) -> None:
    r = np.linspace(-40, 80, 60001)
    assert integrate.trapezoid(mixture_pdf(r, 1.0, np.array(0.8), b), r) == pytest.approx(1, abs=1e-4)


def _whole_error(r: float, u: float, model: float, b: float) -> float:
    """Density of t scatter plus normal error plus exponential bubble by quadrature, nothing shared."""
    other = stats.exponnorm(b / u, scale=u) if b > 0 else stats.norm(scale=u)
    span = 60 * model
    value, _ = integrate.quad(
        lambda t: T.pdf(t / model) / model * other.pdf(r - t), -span, span, points=[0.0, r], limit=400
    )
    return float(value)


READING = VolumeLikelihood(v=0.1170, u=0.00035, bubble=0.0006)


@pytest.mark.parametrize("relative", [0.001, 0.004, 0.012])
@pytest.mark.parametrize("off", [-0.015, -0.004, 0.0, 0.004, 0.01])
def test_table_of_a_density_reading_against_quadrature(relative: float, off: float) -> None:
    """`off` is by how much the prediction is above the reading, relative."""
    predicted = READING.v * (1 + off)
    level = READING.level(np.array([relative]))
    scale = float(LEVELS[level[0]])
    found = float(READING.pdf(np.array([predicted]), level)[0])
    exact = _whole_error(READING.v - predicted, READING.u, scale * READING.v, READING.bubble)
    peak = _whole_error(0.0, READING.u, scale * READING.v, READING.bubble)
    assert scale == pytest.approx(relative, rel=0.01)  # the nearest of the tabulated levels
    assert found == pytest.approx(exact, rel=0.03, abs=2e-3 * peak)


def test_air_on_the_piece_makes_it_read_too_light() -> None:
    """A reading above the prediction in volume is more likely than one as far below."""
    level = READING.level(np.array([0.002]))
    off = 0.006 * READING.v
    above, below = (READING.pdf(np.array([READING.v - d]), level)[0] for d in (off, -off))
    assert above > 5 * below


def test_beyond_the_table_nothing_is_likely() -> None:
    level = READING.level(np.array([0.001]))
    assert READING.pdf(np.array([0.05, 0.2]), level).tolist() == [0.0, 0.0]


def test_levels_are_clipped_at_the_ends() -> None:
    assert READING.level(np.array([0.0, 1e-6, 0.3, 5.0])).tolist() == [0, 0, len(LEVELS) - 1, len(LEVELS) - 1]


@pytest.mark.parametrize("relative", [0.0005, 0.005, 0.05])
def test_window_leaves_out_only_what_is_hopeless(relative: float) -> None:
    low, high = READING.window(np.array([relative]))
    level = READING.level(np.array([relative]))
    peak = READING.pdf(np.linspace(low[0], high[0], 2001), level).max()
    outside = np.concatenate([np.linspace(0.5, 1, 200) * low[0], np.linspace(1, 2, 200) * high[0]])
    assert READING.pdf(outside, level).max() < 1e-3 * peak
    assert low[0] < READING.v < high[0]


def test_score_is_the_normal_point_as_rare_as_the_reading() -> None:
    u, model, b = 1.0, 0.8, 0.4
    grid = np.linspace(-40, 60, 100001)
    pdf = np.array(mixture_pdf(grid, u, np.array(model), b))
    for r in (-2.5, -0.5, 1.0, 4.0):
        below = integrate.trapezoid(pdf[grid <= r], grid[grid <= r])
        assert float(mixture_score(np.array(r), u, np.array(model), b)) == pytest.approx(
            stats.norm.ppf(below), abs=2e-3
        )


def test_score_of_a_sharp_prediction_is_the_plain_ratio() -> None:
    exact = VolumeLikelihood(v=0.1, u=0.0005, bubble=0.0)
    predicted = np.array([0.1, 0.0990, 0.1015])
    assert exact.score(predicted, np.array(1e-9)) == pytest.approx([0.0, 2.0, -3.0], abs=1e-6)


def test_score_has_no_limit_in_either_tail() -> None:
    score = mixture_score(np.array([-30.0, 30.0]), 1.0, np.array(0.0), 0.0)
    assert score == pytest.approx([-30.0, 30.0], rel=1e-3)


def test_ratios_are_compared_by_their_logarithm() -> None:
    r = np.log(6.0 / np.array([6.0 / 1.2, 6.0, 6.0 * 1.2]))
    low, middle, high = ratio_pdf(r, 0.04, np.array(0.07))
    assert low == pytest.approx(high, rel=1e-9)
    assert middle > low
    assert middle == pytest.approx(_whole_error(0.0, 0.04, 0.07, 0.0), rel=0.02)
    score = ratio_score(r, 0.04, np.array(0.07))
    assert score[0] > 1.5  # 20 % off with 8 % of scatter, heavy tails
    assert score == pytest.approx([-score[2], 0.0, score[2]], abs=1e-9)


RNG = np.random.default_rng(7)
SOME = 20_000
MODEL = np.exp(RNG.uniform(np.log(1e-4), np.log(1.0), SOME))  # from nothing to nearly all of the variance, u = 0.02
AWAY = RNG.uniform(-15.9, 15.9, SOME) * np.hypot(0.02, MODEL)


def test_table_of_the_error_without_air_against_its_normals() -> None:
    """0.1 % of the peak, 0.1 % up to three deviations, 1 % up to eight; nothing breaks further out."""
    found, exact = mixture_pdf(AWAY, 0.02, MODEL, 0.0), direct_pdf(AWAY, 0.02, MODEL, 0.0)
    z, peak = np.abs(AWAY) / np.hypot(0.02, MODEL), direct_pdf(np.zeros(SOME), 0.02, MODEL, 0.0)
    wrong = np.abs(found / exact - 1)
    assert (np.abs(found - exact) / peak).max() < 1e-3
    assert wrong[z < 3].max() < 1e-3
    assert wrong[z < 8].max() < 1e-2
    assert wrong.max() < 3e-2


def test_table_of_scores_without_air_against_its_normals() -> None:
    apart = np.abs(mixture_score(AWAY, 0.02, MODEL, 0.0) - direct_score(AWAY, 0.02, MODEL, 0.0))
    assert apart.max() < 0.01


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 1.0])
def test_error_without_air_against_a_numerical_convolution(share: float) -> None:
    """Normal and t folded by scipy; the mixture is within 2.5 % of t in the body."""
    u, model = np.sqrt(1 - share), np.sqrt(share)
    at = np.array([0.0, 0.6, 1.5, 2.4])
    if share == 0:
        folded = stats.norm.pdf(at)
    elif share == 1:
        folded = T.pdf(at)
    else:
        folded = np.array([_whole_error(float(r), u, model, 0.0) for r in at])
    assert mixture_pdf(at, u, np.array(model), 0.0) == pytest.approx(folded, rel=0.025)


@pytest.mark.parametrize(("u", "air"), [(2e-4, 4e-4), (2e-4, 0.0), (3e-4, 3e-3), (3e-3, 1e-4), (1e-5, 3e-4)])
def test_tables_of_a_weighing_against_its_normals(u: float, air: float) -> None:
    """Densities are within 0.5 % of the peak and 1.5 % up to three deviations, at the level; scores within 0.03."""
    reading = VolumeLikelihood(v=0.095, u=u, bubble=air)
    some = slice(None, MANY)
    relative = np.exp(RNG.uniform(np.log(1e-3), np.log(0.08), MANY))
    level = reading.level(relative)
    model = LEVELS[level] * reading.v
    width = np.hypot(u, model)
    r = RNG.uniform(-3, 3, MANY) * width + RNG.uniform(0, 3, MANY) * air
    found, exact = reading.pdf(reading.v - r, level), direct_pdf(r, u, model, air)
    peak = direct_pdf(np.zeros(MANY), u, width / np.sqrt(2), air)
    assert np.abs(found / exact - 1).max() < 0.015
    assert (np.abs(found - exact) / np.maximum(peak, exact)).max() < 0.005
    assert LEVELS[level] == pytest.approx(relative, rel=0.01)
    v = reading.v - 2 * r[some]
    exact = direct_score(reading.v - v, u, relative * v, air)
    assert np.abs(reading.score(v, relative) - exact).max() < 0.03
