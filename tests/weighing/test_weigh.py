"""The budget of a weighing: what counts, what does not, and what each option moves."""

import json
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from alloysolve.errors import InputError
from alloysolve.measured import Measured
from alloysolve.physics.weighing import displaced_mass
from alloysolve.units import parse
from alloysolve.weighing.repeats import Repeats, coverage_ratio, error_limit, welch_satterthwaite
from alloysolve.weighing.weigh import (
    BudgetRow,
    ReferencePiece,
    Weighing,
    Weighings,
    from_density,
    from_dimensions,
    likely_slips,
    typed_densities,
    weigh,
)

WATER_20, AIR = 0.9982067, 0.0012


def row(w: Weighing, part: str) -> BudgetRow:
    return next(r for r in w.budget if r.part == part)


def gain(mass: float, rho: float) -> float:
    return float(displaced_mass(mass, rho, WATER_20, AIR))


# limits of the skew error against closed forms


@pytest.mark.parametrize("p", [0.005, 0.025, 0.5, 0.975, 0.995])
@pytest.mark.parametrize(
    ("name", "half_width", "u", "dof", "mean", "exact"),
    [
        ("normal", 0.0, 1.0, np.inf, 0.0, stats.norm()),
        ("Student 1", 0.0, 1.0, 1.0, 0.0, stats.t(1)),
        ("Student 2.5", 0.0, 1.0, 2.5, 0.0, stats.t(2.5)),
        ("triangular", 2.0, 0.0, np.inf, 0.0, stats.triang(0.5, -2, 4)),
        ("exponential", 0.0, 0.0, np.inf, 3.0, stats.expon(scale=3)),
        ("normal and exponential", 0.0, 1.0, np.inf, 2.0, stats.exponnorm(2)),
        ("narrow normal and exponential", 0.0, 0.1, np.inf, 2.0, stats.exponnorm(20, 0, 0.1)),
    ],
)
def test_error_limit_against_closed_forms(name, half_width, u, dof, mean, exact, p):  # type: ignore[no-untyped-def]
    got = error_limit(p, *(np.full(3, x) for x in (half_width, u, dof, mean)))
    scale = half_width + u + mean
    # a grid of 2048 cells over 95 % of a Student with one degree of freedom is the coarsest
    assert got == pytest.approx(np.full(3, exact.ppf(p)), abs=2e-3 * scale * (10 if dof == 1.0 else 1))


def test_error_limit_of_a_triangular_and_an_exponential_part_against_an_integral() -> None:
    """F(x) = integral over the triangle of 1 - exp(-(x - y)/b), done with a fine midpoint rule."""
    a, b = 1.0, 0.7
    y = (np.arange(200_000) + 0.5) / 100_000 - 1
    weight = (1 - np.abs(y)) / 100_000
    for p in (0.025, 0.975):
        x = float(error_limit(p, *(np.array([v]) for v in (a, 0.0, np.inf, b)))[0])
        cdf = np.sum(weight * -np.expm1(-np.maximum(x - y, 0) / b))
        assert cdf == pytest.approx(p, abs=2e-4)


def test_error_limit_keeps_missing_pieces_apart() -> None:
    one = np.ones(2)
    got = error_limit(0.975, 0 * one, np.array([1.0, np.nan]), np.inf * one, 0 * one)
    assert got[0] == pytest.approx(1.96, abs=1e-3)
    assert np.isnan(got[1])


def test_many_pieces_are_the_pieces_one_by_one() -> None:
    rng = np.random.default_rng(1)
    args = [rng.uniform(0, 1, 700), rng.uniform(0.1, 1, 700), rng.uniform(2, 50, 700), rng.uniform(0, 1, 700)]
    together = error_limit(0.975, *args)
    for i in (0, 255, 256, 699):
        alone = error_limit(0.975, *(x[i : i + 1] for x in args))[0]
        assert together[i] == pytest.approx(alone, rel=1e-12)  # processors round rows together and alone differently


def test_coverage_ratio_is_students_t() -> None:
    # JCGM 100:2008 table G.2, p = 95 %: 12.71, 4.30, 2.57, 1.98 for 1, 2, 5, 100
    got = coverage_ratio(np.array([1.0, 2.0, 5.0, 100.0, np.inf])) * 1.959964
    assert got == pytest.approx([12.71, 4.30, 2.57, 1.984, 1.96], abs=0.005)


def test_welch_satterthwaite_example() -> None:
    # JCGM 100:2008, G.4.1 example: relative u 0.25, 0.57, 0.82 %, dof 9, 4, 14 give 19.0
    us, dofs = (0.25, 0.57, 0.82), (9.0, 4.0, 14.0)
    got = welch_satterthwaite([np.array([u]) for u in us], [np.array([d]) for d in dofs])
    assert got[0] == pytest.approx(19.0, abs=0.05)


def test_repeats_are_standard_statistics() -> None:
    r = Repeats.of(np.array([[1.0, 2.0, 4.0], [3.0, np.nan, np.nan], [np.nan] * 3]))
    assert r.mean[:2] == pytest.approx([7 / 3, 3.0])
    assert r.u[:2] == pytest.approx([stats.sem([1, 2, 4]), 0.0])
    assert list(r.n) == [3, 1, 0]
    assert math.isnan(r.mean[2])


# scale step and repeats


def test_repeats_that_read_alike_never_shrink_the_step() -> None:
    one, five = weigh(2.84, 0.19), weigh(2.84, "0.19 0.19 0.19 0.19 0.19 g")
    assert row(five, "scale_step").size > 2.9  # mg
    assert five.u_v == one.u_v
    assert five.density == one.density
    assert "repeats_read_alike" in five.notes
    assert "repeats_read_alike" not in one.notes


def test_scatter_is_students_t_and_the_step_is_not_added_twice() -> None:
    readings = [3.60, 3.64, 3.68]
    w = weigh(31.18, readings, wetting=0, water="20 +- 0.001 degC")
    assert "scale_step" not in [r.part for r in w.budget]
    assert row(w, "repeats").size / 1000 == pytest.approx(stats.sem(readings))
    assert w.dof == pytest.approx(2, rel=0.01)
    half = stats.t.ppf(0.975, 2) * stats.sem(readings)  # in g of 3.64
    assert 1.959964 * w.u_v / w.v == pytest.approx(half / 3.64, rel=2e-3)
    assert w.density.low == pytest.approx(w.density.value / (1 + half / 3.64), rel=1e-3)
    assert "few_repeats" in w.notes


def test_step_stands_where_it_is_larger() -> None:
    many = [3.63, 3.64, 3.65, 3.66] * 20  # s / sqrt(n) = 1.3 mg, less than 4.1 mg
    w = weigh(31.18, many)
    assert row(w, "scale_step").size == pytest.approx(10 / math.sqrt(6))
    assert w.displaced_g == pytest.approx(3.645)
    assert w.dof == math.inf


def test_two_readings_one_step_apart_are_no_scatter() -> None:
    w = weigh(31.18, ["3.64 g", "3.63 g"])
    assert row(w, "scale_step").size == pytest.approx(10 / math.sqrt(6))
    assert "few_repeats" not in w.notes


def test_repeated_mass_counts_in_both_set_ups() -> None:
    beaker = weigh([31.10, 31.20, 31.30], 3.64)
    assert row(beaker, "mass").size / 1000 == pytest.approx(stats.sem([31.1, 31.2, 31.3]))
    below = weigh([31.10, 31.20, 31.30], in_water=27.56)
    both = math.hypot(stats.sem([31.1, 31.2, 31.3]), 0.01 / math.sqrt(12))
    assert row(below, "repeats").size / 1000 == pytest.approx(both)
    wet = weigh(31.20, in_water=[27.46, 27.56, 27.66])
    assert row(wet, "repeats").size / 1000 == pytest.approx(math.hypot(stats.sem([0, 0.1, 0.2]), 0.01 / math.sqrt(12)))


def test_linearity_counts_once_for_each_reading_of_the_gain() -> None:
    assert row(weigh(31.18, 3.64, u_scale="2 mg"), "linearity").size == pytest.approx(2)
    assert row(weigh(31.18, in_water=27.54, u_scale="2 mg"), "linearity").size == pytest.approx(2 * math.sqrt(2))


def test_both_set_ups_agree() -> None:
    beaker, below = weigh(31.18, 3.64), weigh(31.18, in_water=27.54)
    assert beaker.density.value == pytest.approx(below.density.value, rel=1e-9)
    assert beaker.density.low == pytest.approx(below.density.low, rel=1e-4)


# bubbles


def test_bubbles_move_the_upper_limit_only() -> None:
    w = [weigh(31.18, 3.64, wetting=x).density for x in ("brushed", 0.2, "as usual", "dry dip")]
    assert len({d.low for d in w}) == 1
    assert len({d.value for d in w}) == 1
    assert [d.high for d in w] == sorted({d.high for d in w})
    assert w[0].low < w[0].value < w[0].high


def test_bubble_mean_is_the_wetting_times_the_area() -> None:
    w = weigh(31.1, 2.97, area=2701.8, wetting="as usual")  # 27.018 cm2 x 0.4 mm3 = 10.81 mm3
    r = row(w, "bubbles")
    assert r.size == pytest.approx(10.807 * WATER_20, rel=1e-3)
    assert r.one_sided
    assert w.bubble_v == pytest.approx(0.010807 / 31.1, rel=1e-3)
    assert r.moves_percent == pytest.approx(100 * w.bubble_v / w.v)


def test_default_area_is_that_of_a_coin() -> None:
    # 2964 mm3 as a disc 13 times as wide as thick: d = (52 V / pi)^(1/3) = 36.6 mm
    w = weigh(31.1, gain(31.1, 10.49))
    V = 31.1 / 10.49 * 1000
    d = (52 * V / math.pi) ** (1 / 3)
    area = math.pi * d**2 / 2 + math.pi * d * d / 13
    assert row(w, "bubbles").size == pytest.approx(0.4 * area / 100 * WATER_20, rel=1e-6)


def test_many_small_pieces_hold_more_air_than_one_large() -> None:
    one, twenty = weigh(498.2, 48.2), weigh(498.2, 48.2, count=20)
    assert row(twenty, "bubbles").size / row(one, "bubbles").size == pytest.approx(20 ** (1 / 3), rel=1e-6)


@pytest.mark.parametrize(("wetting", "mm3"), [("brushed", 2.5), ("as usual", 6.0), ("dry dip", 15.0)])
def test_loop_and_thread_hold_air_however_small_the_piece(wetting: str, mm3: float) -> None:
    small = weigh(2.5, gain(2.5, 10.3), wetting=wetting)  # a coin of 5 cm2
    assert row(small, "bubbles").size == pytest.approx(mm3 * WATER_20)
    assert row(weigh(2.5, gain(2.5, 10.3), area=500, wetting=wetting), "bubbles").size == row(small, "bubbles").size
    column = weigh(np.array([2.5, 2.5]), np.array([gain(2.5, 10.3)] * 2), wetting=wetting)
    assert column[1] == small
    assert row(weigh(100.0, gain(100.0, 10.3), wetting=wetting), "bubbles").size > 1.5 * mm3 * WATER_20
    assert row(weigh(2.5, gain(2.5, 10.3), wetting=0.4), "bubbles").size < 0.4 * 6  # a number is taken as it is


def test_the_least_air_counts_once_per_weighing() -> None:
    """Small coins weighed together hang in one loop: three have 14 cm2, twenty have 92 cm2."""
    area = 4.59  # cm2, of 2.5 g at 10.3 g/cm3 as a disc 13 times as wide as thick: 15.9 mm wide
    one, three, twenty = (weigh(n * 2.5, gain(n * 2.5, 10.3), count=n) for n in (1, 3, 20))
    assert row(three, "bubbles").size == row(one, "bubbles").size
    assert row(twenty, "bubbles").size == pytest.approx(0.4 * 20 * area * WATER_20, rel=0.01)


# liquid, air, thread


def test_water_temperature_and_its_uncertainty() -> None:
    assert weigh(31.18, 3.64).liquid == pytest.approx(WATER_20, abs=1e-7)
    assert weigh(31.18, 3.64, water="30 degC").liquid == pytest.approx(0.9956488, abs=1e-7)  # Tanaka 2001
    default, told, exact = (
        row(weigh(31.18, 3.64, water=t), "liquid").size for t in (None, "20 degC", "20 +- 0.01 degC")
    )
    # 0.000206 g/(cm3 K) at 20 degC, with 0.0001 for the water itself
    assert default == pytest.approx(math.hypot(0.000206, 0.0001), rel=0.01)
    assert told == pytest.approx(math.hypot(0.000103, 0.0001), rel=0.01)
    assert exact == pytest.approx(0.0001, rel=0.01)


def test_another_liquid() -> None:
    w = weigh(31.18, 3.64 * 0.789, liquid_density="0.789 +- 0.001 g/cm3")
    assert w.liquid == 0.789
    assert row(w, "liquid").moves_percent == pytest.approx(0.1 / 0.789, rel=0.01)


def test_air_moves_little() -> None:
    w = weigh(31.18, 3.64, air="0.00095 g/cm3")
    assert w.air == 0.00095
    assert w.density.value > weigh(31.18, 3.64).density.value
    assert row(w, "air").moves_percent < 0.01


def test_budget_is_the_numerical_derivative() -> None:
    """Every row against the change of the density when that input is moved by its size."""
    base = {"water": "20 degC", "thread": "0.2 mm", "u_scale": 0.002}
    w = weigh(31.18, 3.64, **base)
    rho = w.density.value
    moved = {
        "scale_step": weigh(31.18, 3.64 + row(w, "scale_step").size / 1000, **base),
        "linearity": weigh(31.18, 3.642, **base),
        "mass": weigh(31.18 + row(w, "mass").size / 1000, 3.64, **base),
        "liquid": weigh(31.18, 3.64, liquid_density=w.liquid + row(w, "liquid").size, thread="0.2 mm"),
        "air": weigh(31.18, 3.64, air=0.0012 + row(w, "air").size, **base),
        "thread": weigh(31.18, 3.64 + row(w, "thread").size / 1000, **base),
        "bubbles": weigh(31.18, 3.64 + row(w, "bubbles").size / 1000, **base),
    }
    for part, other in moved.items():
        change = 100 * abs(other.density.value / rho - 1)
        assert row(w, part).moves_percent == pytest.approx(change, rel=0.02), part


def test_u_v_is_the_root_sum_of_squares() -> None:
    w = weigh(31.18, 3.64, thread="0.2 mm", u_scale="2 mg")
    total = math.sqrt(sum(r.moves_percent**2 for r in w.budget if not r.one_sided))
    assert 100 * w.u_v / w.v == pytest.approx(total, rel=1e-9)
    assert w.density.u == pytest.approx(w.density.value * total / 100, rel=1e-9)


def test_uncertainty_written_with_a_reading_is_kept() -> None:
    assert row(weigh(31.18, "3.64 +- 0.02 g"), "linearity").size == pytest.approx(20)
    assert row(weigh("31.18 +- 0.02 g", 3.64), "mass").size == pytest.approx(math.hypot(20, 10 / math.sqrt(6)))


def test_thread_uncertainty_can_be_given() -> None:
    assert row(weigh(31.10, 2.98, thread=0.3, u_thread="0.5 mg"), "thread").size == pytest.approx(0.5)
    # 30 % of the 2.117 mg it pushes aside; a pull of up to pi 0.3 mm 72.75 mN/m = 6.992 mg, triangular
    expected = math.hypot(0.3 * 2.117, 6.992 / math.sqrt(6))
    assert row(weigh(31.10, 2.98, thread=0.3), "thread").size == pytest.approx(expected, rel=1e-3)


# known-good piece


def reference(read_low_by: float = 0.0) -> ReferencePiece:
    return ReferencePiece(10.49, 0.01, 31.10, gain(31.10, 10.49 * (1 - read_low_by)))


def test_known_good_piece_reading_one_percent_low_moves_the_answer_one_percent() -> None:
    plain = weigh(31.18, 3.64)
    moved = weigh(31.18, 3.64, known_good=reference(0.01))
    assert moved.density.value / plain.density.value == pytest.approx(1 / 0.99, rel=1e-6)
    assert moved.displaced_mm3 == pytest.approx(1000 * 31.18 / moved.density.value)
    assert "known_good_differs" in moved.notes
    agreeing = weigh(31.18, 3.64, known_good=reference())
    assert agreeing.density.value == pytest.approx(plain.density.value, rel=1e-6)
    assert "known_good_differs" not in agreeing.notes


def test_known_good_piece_has_its_own_uncertainty() -> None:
    w = weigh(31.18, 3.64, known_good=reference(), wetting=0)
    step = 0.01 / math.sqrt(6)
    expected = math.sqrt((step / gain(31.10, 10.49)) ** 2 + (step / 31.10) ** 2 + (0.01 / 10.49) ** 2)
    assert row(w, "known_good").moves_percent == pytest.approx(100 * expected, rel=1e-3)
    # air on the known-good piece scatters by as much as it is on average (exponential)
    air = row(weigh(31.10, gain(31.10, 10.49), wetting="as usual"), "bubbles").moves_percent
    wet = weigh(31.18, 3.64, known_good=reference(), wetting="as usual")
    assert row(wet, "known_good").moves_percent == pytest.approx(math.hypot(100 * expected, air), rel=1e-3)
    assert w.u_v > weigh(31.18, 3.64).u_v


def test_known_good_piece_removes_a_wrong_water() -> None:
    """Readings taken in a liquid that nobody knows: the ratio does not need to know it."""
    spirit = 0.93
    piece = float(displaced_mass(31.18, 8.53, spirit, AIR))
    ref = ReferencePiece(10.49, 0.01, 31.10, float(displaced_mass(31.10, 10.49, spirit, AIR)))
    assert weigh(31.18, piece).density.value > 9.1
    assert weigh(31.18, piece, known_good=ref).density.value == pytest.approx(8.53, rel=2e-5)


# parts


def test_a_stone_is_taken_off() -> None:
    ring, stone = 3.0 / 13.1, 0.1 / 3.52  # cm3: 14 ct gold with half a carat of diamond
    G = (3.1 / (ring + stone) - AIR) ** -1 * 3.1 * (WATER_20 - AIR)
    w = weigh(3.1, G, parts=[(0.1, 3.52, 0.01, 0.0)])
    assert w.density.value == pytest.approx(13.1, rel=1e-6)
    assert (w.mass_g, w.body_g) == (3.1, pytest.approx(3.0))
    assert w.displaced_mm3 == pytest.approx(1000 * ring)
    assert row(w, "parts").moves_percent == pytest.approx(100 * stone * 0.01 / 3.52 / ring, rel=1e-6)


def test_a_part_of_uncertain_mass_costs_certainty() -> None:
    sure, default = (weigh(3.1, 0.25, parts=[p]) for p in ((0.1, 3.52, 0.01, 0.0), (0.1, 3.52, 0.01)))
    heavier = weigh(3.1, 0.25, parts=[(0.105, 3.52, 0.0, 0.0)])
    move = 100 * abs(heavier.density.value / default.density.value - 1)
    both = math.hypot(move, row(sure, "parts").moves_percent)
    assert row(default, "parts").moves_percent == pytest.approx(both, rel=0.05)


def test_a_part_without_mass_is_noted() -> None:
    w = weigh(3.1, 0.25, parts=[(None, 3.52, 0.01)])
    assert w.density.value == weigh(3.1, 0.25).density.value
    assert "part_mass_unknown" in w.notes


def test_where_air_counts_for_more_than_the_scale_it_is_said() -> None:
    """6 mg of air are 2.5 % of a coin of 2.5 g; 10 mg of the crown are 0.4 %."""
    assert "air_counts" in weigh(2.5, gain(2.5, 10.3)).notes
    assert "air_counts" not in weigh(2.5, gain(2.5, 10.3), scale_step="0.1 g").notes  # the scale is worse
    assert "air_counts" not in weigh(26.7, gain(26.7, 10.3)).notes
    assert "air_counts" not in weigh(50.0, gain(50.0, 10.3), count=20).notes


# columns


def test_columns_are_the_pieces_one_by_one() -> None:
    m, g, t = np.array([31.18, 31.10, 2.84]), np.array([3.64, 2.97, 0.19]), np.array([20.0, 22.0, 18.0])
    ws = weigh(m, g, water=t, scale_step="0.001 g", count=np.array([1, 1, 1]))
    assert isinstance(ws, Weighings)
    assert len(ws) == 3
    for i in range(3):
        assert ws[i] == weigh(m[i], g[i], water=t[i], scale_step="0.001 g")


def test_columns_keep_bad_pieces_with_a_reason() -> None:
    frame = pd.DataFrame(
        {
            "m": [31.18, np.nan, 5.0, 5.0, -1.0, 5.0, 31.18],
            "g": [3.64, 1.0, 6.0, 0.0, 1.0, 0.1, 3.64],
            "t": [20, 20, 20, 20, 20, 20, 90],
        },
        index=list("abcdefg"),
    )
    ws = weigh(frame.m, frame.g, water=frame.t)
    out = ws.frame()
    assert list(out.index) == list("abcdefg")
    assert list(out.reason) == [
        "",
        "missing",
        "more_displaced_than_weighed",
        "not_positive",
        "not_positive",
        "density_out_of_range",
        "liquid_unknown",
    ]
    numbers = out.drop(columns="reason")
    assert numbers.notna().all(axis=1).tolist() == [True] + [False] * 6
    assert out.loc["a", "density_g_cm3"] == pytest.approx(8.5415, abs=1e-4)


def test_columns_of_text_and_of_repeats() -> None:
    ws = weigh(pd.Series(["31,18 g", "1 ozt", "1 oz"]), np.array([["3.64", "3.63"], ["2.97", "2.97"], ["1", "1"]]))
    assert ws[0].displaced_g == pytest.approx(3.635)
    assert ws[1].mass_g == pytest.approx(31.1034768)
    assert list(ws.reason) == ["", "", "missing"]


def test_columns_of_in_water_and_one_mass_for_all() -> None:
    ws = weigh(31.18, in_water=np.array([27.54, 28.2, 32.0]))
    assert ws[0] == weigh(31.18, in_water=27.54)
    assert ws.reason[2] == "in_water_not_less"
    with pytest.raises(InputError):
        weigh(np.ones(3), np.ones(2))


def test_no_pieces_at_all() -> None:
    assert len(weigh(np.zeros(0), np.zeros(0)).frame()) == 0


def test_known_good_over_columns() -> None:
    ws = weigh(
        np.array([31.18, 31.1]),
        np.array([3.64, 2.97]),
        known_good=reference(0.01),
        water=np.array([np.nan, 20]),
    )
    assert ws.reason[0] == "liquid_unknown"
    one = weigh(31.1, 2.97, known_good=reference(0.01), water=20)
    assert ws[1].v == pytest.approx(one.v, rel=1e-12)


# bad input

ERRORS = [
    (
        (31.18, 32.0),
        {},
        "displaced: 32.0: expected less than the mass in air, 31.18 g; "
        "check that the piece hung free of the bottom and that the water pushed aside was typed",
    ),
    (
        (31.18,),
        {"in_water": "33 g"},
        "in_water: '33 g': expected less than the mass in air, 31.18 g; "
        "check that mass in air and in water were not swapped; a piece that floats cannot be weighed so",
    ),
    (
        (31.18, 0.5),
        {},
        "displaced: 0.5: expected a density from 0.5 to 25 g/cm3 together with mass 31.18 g; "
        "check the units and the decimal mark of both",
    ),
    (
        (31.18,),
        {},
        "displaced: nothing given: expected either the mass of water pushed aside or in_water; "
        "give the one your set-up reads",
    ),
    (
        (31.18, 3.6),
        {"in_water": 27.5},
        "displaced: 3.6: expected either the mass of water pushed aside or in_water; give the one your set-up reads",
    ),
    ((31.18, 3.6), {"water": 60}, "water: 60: expected 0 to 40 degC; give it with its unit, 70 degF or 21 degC"),
    (
        (31.18, 3.6),
        {"wetting": "brush"},
        'wetting: \'brush\': expected one of "brushed", "as usual", "dry dip"; the nearest known is "brushed"',
    ),
    (
        (31.18, 0.01),
        {"thread": 1, "thread_length": 50},
        "displaced: 0.01: expected more than the thread alone pushes aside; check the diameter of the thread in mm",
    ),
    (
        (3.1, 0.25),
        {"parts": [(3.2, 8.0, 0.1)]},
        "displaced: 0.25: expected more mass and volume than the parts have together; check the mass of each part",
    ),
]


@pytest.mark.parametrize(("args", "options", "message"), ERRORS)
def test_errors_word_for_word(args: tuple[float, ...], options: dict[str, object], message: str) -> None:
    with pytest.raises(InputError) as e:
        weigh(*args, **options)  # type: ignore[arg-type]
    assert str(e.value) == message


@pytest.mark.parametrize(
    ("options", "path"),
    [
        ({"count": 0}, "count"),
        ({"count": "x"}, "count"),
        ({"area": -1}, "area"),
        ({"wetting": -1}, "wetting"),
        ({"scale_step": 0}, "scale_step"),
        ({"parts": [(1.0,)]}, "parts[0]"),
        ({"thread": "x"}, "thread"),
        ({"liquid_density": 0}, "liquid_density"),
        ({"air": "5 kg"}, "air"),
        ({"known_good": (10.49, 0.01, 31.1, 32.0)}, "known_good.displaced"),
    ],
)
def test_every_option_names_its_place(options: dict[str, object], path: str) -> None:
    with pytest.raises(InputError) as e:
        weigh(31.18, 3.64, **options)  # type: ignore[arg-type]
    assert e.value.path == path


def test_quantities_are_shown_as_written() -> None:
    with pytest.raises(InputError) as e:
        weigh(parse("31,18", "mass", "mass"), [parse("33 g", "mass", "displaced")])
    assert e.value.given == ["33 g"]


# other routes


def test_direct_density() -> None:
    w = from_density("8.54 +- 0.02 g/cm3")
    assert (w.density.value, w.density.u) == (8.54, 0.02)
    assert w.u_v == pytest.approx(0.02 / 8.54**2)
    assert w.bubble_v == 0
    assert w.mass_g is None
    assert from_density(8.54) == typed_densities([parse(8.54, "density", "density")])[0]
    skew = Measured(8.54, 0.02, "g/cm3", 8.52, 8.60)
    assert from_density(skew).density is skew
    for bad in ("0.4 g/cm3", 26, "x", Measured(8.54, 0.0, "g/cm3")):
        with pytest.raises(InputError):
            from_density(bad)


def test_dimensions_of_a_bar() -> None:
    lengths = ["50.0 mm", "28.0 mm", "2.60 mm"]
    w = from_dimensions("31.18 g", "bar", lengths, fill=1)
    assert w.density.value == pytest.approx(31.18 / 3.64)
    expected = math.sqrt(sum((0.02 / x) ** 2 for x in (50, 28, 2.6)) + (0.005 / 31.18) ** 2)
    assert w.u_v / w.v == pytest.approx(expected, rel=1e-6)
    rounded = from_dimensions("31.18 g", "bar", lengths)  # edges and lettering: never heavier than the plain shape
    assert rounded.density.value > w.density.value
    assert rounded.density.low <= w.density.value <= rounded.density.high


def test_dimensions_of_a_struck_coin_are_wide() -> None:
    # a coin fills 0.62 to 0.97 of the cylinder over its rim, median 0.80 (published coin specifications)
    w = from_dimensions(31.1, "disc", [40.6, 2.98])
    plain = math.pi / 4 * 4.06**2 * 0.298
    assert w.density.value == pytest.approx(31.1 / (0.80 * plain))
    assert w.density.low == pytest.approx(31.1 / (0.97 * plain), rel=0.01)
    assert w.density.high == pytest.approx(31.1 / (0.62 * plain), rel=0.01)
    assert from_dimensions(31.1, "disc", [40.6, 2.98], fill=1).density.value == pytest.approx(31.1 / plain)


@pytest.mark.parametrize(
    ("shape", "lengths"),
    [
        ("ring", [18, 21, 4]),
        ("tube", [8, 8, 20]),
        ("disc", [38]),
        ("cone", [1, 2]),
        ("bar", [500, 280, 26]),
        ("sphere", ["-1"]),
    ],
)
def test_dimensions_that_cannot_be(shape: str, lengths: list[object]) -> None:
    with pytest.raises(InputError) as e:
        from_dimensions(31.18, shape, lengths)
    assert e.value.path.startswith((shape, "shape"))


def test_likely_slips() -> None:
    slips = dict(likely_slips("31.18 g", "27.54 g"))
    assert slips["in_water_typed_as_displaced"] == pytest.approx(weigh(31.18, in_water=27.54).density.value)
    assert slips["rested_on_bottom"] is None
    assert dict(likely_slips(1.0, 3.0))["mass_in_ozt"] == pytest.approx(weigh("1 ozt", 3.0).density.value)
    assert dict(likely_slips(31.18, 0.3)) == {
        "displaced_decimal_mark": pytest.approx(weigh(31.18, 3.0).density.value),
        "mass_decimal_mark": pytest.approx(weigh(3.118, 0.3).density.value),
    }
    assert likely_slips(31.18, 3.64) == []


# properties


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0.5, 500),
    st.floats(1.5, 22.0),
    st.sampled_from([0.1, 0.01, 0.001]),
    st.sampled_from(["brushed", "as usual", "dry dip"]),
)
def test_range_holds_the_value_and_a_finer_scale_narrows_it(m: float, rho: float, step: float, wetting: str) -> None:
    G = gain(m, rho)
    w = weigh(m, G, scale_step=step, wetting=wetting)
    assert w.density.value == pytest.approx(rho, rel=1e-6)
    assert 0.5 <= w.density.low < w.density.value < w.density.high <= 25
    finer = weigh(m, G, scale_step=step / 10, wetting=wetting)
    assert finer.density.low >= w.density.low - 1e-9
    assert finer.u_v < w.u_v


def test_a_scale_too_coarse_is_told_not_hidden() -> None:
    w = weigh(1.0, 0.05, scale_step=0.1)
    assert w.density.high == 25
    assert {"range_cut", "wide_range"} <= set(w.notes)
    json.dumps([w.density.low, w.density.high, w.u_v], allow_nan=False)


def test_same_input_same_answer() -> None:
    assert weigh(31.18, [3.60, 3.64, 3.68]) == weigh(31.18, [3.60, 3.64, 3.68])


def test_a_known_good_piece_is_brushed_and_the_next_one_wetted_as_usual() -> None:
    ref = (10.49, 0.01, "31.10 g", ["2.97 g", "2.96 g"])  # as a plain sequence
    unsaid, brushed = (weigh(31.18, 3.64, known_good=ref, wetting=w) for w in (None, "brushed"))
    assert row(unsaid, "bubbles").size / row(brushed, "bubbles").size == pytest.approx(4, rel=1e-3)  # 0.4 and 0.1
    assert row(unsaid, "known_good").size == row(brushed, "known_good").size
