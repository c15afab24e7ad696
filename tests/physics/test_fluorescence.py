"""Fluorescence of layered metals: limits, sums over depth and the inverse, with attenuations made up here."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from alloysolve.physics.fluorescence import (
    absorption,
    apparent_composition,
    attenuation,
    bulk_ratio,
    exciting_beam,
    layer_ratio,
    layered_ratio,
    seen_depth,
)

NAN = float("nan")
# rows absorb, columns are the lines of three metals [cm2/g]; the order of magnitude of silver, copper and zinc
X = np.array([[70.0, 340.0, 290.0], [45.0, 88.0, 75.0], [50.0, 105.0, 83.0]])
SKIN, BRASS = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.63, 0.37])
UNSEEN = np.column_stack([X, np.full(3, NAN)])
UNSEEN = np.vstack([UNSEEN, [0.5, 3.0, 2.5, NAN]])  # a fourth metal absorbs a little and has no line


def test_interpolation_is_exact_on_a_power_law() -> None:
    grid = np.array([1.0, 5.0, 40.0])
    found = attenuation([2.0, 20.0], grid, 1000 * grid**-2.7)
    assert found == pytest.approx([1000 * 2.0**-2.7, 1000 * 20.0**-2.7], rel=1e-12)


def test_interpolation_keeps_both_sides_of_an_edge() -> None:
    grid, mu = np.array([5.0, 8.979, 8.9792, 20.0]), np.array([190.0, 38.0, 278.0, 34.0])
    assert attenuation(8.9789, grid, mu) == pytest.approx(38.0, rel=1e-3)
    assert attenuation(8.9793, grid, mu) == pytest.approx(278.0, rel=1e-3)


def test_no_attenuation_outside_the_grid_or_without_an_energy() -> None:
    grid, mu = np.array([1.0, 50.0]), np.array([1000.0, 5.0])
    assert np.isnan(attenuation([0.9, 51.0, NAN], grid, mu)).all()


def test_beam_lies_above_every_edge_it_must_excite() -> None:
    beam = exciting_beam(28.0, np.array([8.98, 29.2, NAN]))
    assert beam[:2] == pytest.approx([28.0, 1.095 * 29.2])
    assert np.isnan(beam[2])


def test_absorption_on_the_way_in_and_out() -> None:
    grid = np.array([1.0, 100.0])
    grids = [(grid, 1000 * grid**-1.0), (grid, 500 * grid**-2.0)]
    found = absorption(grids, np.array([4.0, 10.0]), np.array([20.0, 40.0]), angle_in=30.0, angle_out=90.0)
    expected = [[50 / 0.5 + 250, 25 / 0.5 + 100], [1.25 / 0.5 + 31.25, 0.3125 / 0.5 + 5]]
    assert found == pytest.approx(np.array(expected), rel=1e-12)


def test_one_beam_serves_all_lines_at_45_degrees() -> None:
    grid = np.array([1.0, 100.0])
    found = absorption([(grid, 1000 / grid)] * 2, np.array([4.0, NAN]), 20.0)
    assert found[:, 0] == pytest.approx(2**0.5 * (250 + 50), rel=1e-12)
    assert np.isnan(found[:, 1]).all()


def test_pure_metals_give_one_and_an_alloy_what_sherman_says() -> None:
    assert bulk_ratio(np.eye(3), X) == pytest.approx(np.eye(3))
    expected = [0, 0.63 * 88 / (0.63 * 88 + 0.37 * 105), 0.37 * 83 / (0.63 * 75 + 0.37 * 83)]
    assert bulk_ratio(BRASS, X) == pytest.approx(expected, rel=1e-12)


def test_a_metal_without_a_line_absorbs_and_gives_nothing() -> None:
    w = np.array([0.0, 0.5, 0.0, 0.5])
    assert bulk_ratio(w, UNSEEN) == pytest.approx([0, 0.5 * 88 / (0.5 * 88 + 0.5 * 3), 0, 0])


def depth_sum(layers, core, x):
    """Intensities summed over thin slices, from the surface down."""
    edges = np.concatenate([np.linspace(0, 0.02, 40001), np.linspace(0.02, 0.5, 40001)[1:]])  # g/cm2
    middle, width = (edges[1:] + edges[:-1]) / 2, np.diff(edges)
    bounds = np.cumsum([m for _, m in layers])
    w = np.array([*(w for w, _ in layers), core])[np.searchsorted(bounds, middle)]
    rate = w @ x
    above = np.cumsum(rate * width[:, None], axis=0) - rate * width[:, None] / 2
    return np.diag(x) * (w * np.exp(-above) * width[:, None]).sum(axis=0)


@pytest.mark.parametrize(
    "layers",
    [
        [(SKIN, 0.004)],
        [(np.array([0.9, 0.1, 0.0]), 0.002)],
        [(SKIN, 0.003), (np.array([0.0, 1.0, 0.0]), 0.005)],  # a strike between skin and core
    ],
)
def test_layers_agree_with_a_sum_over_depth(layers) -> None:
    assert layered_ratio(layers, BRASS, X) == pytest.approx(depth_sum(layers, BRASS, X), rel=2e-3)


def test_no_skin_is_the_core_and_a_thick_skin_hides_it() -> None:
    found = layer_ratio(SKIN, 10.5, np.array([0.0, 1e5]), BRASS, X)
    assert found[0] == pytest.approx(bulk_ratio(BRASS, X))
    assert found[1] == pytest.approx(bulk_ratio(SKIN, X))


def test_layers_of_the_core_s_own_alloy_are_not_seen() -> None:
    assert layered_ratio([(BRASS, 0.003), (BRASS, 0.01)], BRASS, X) == pytest.approx(bulk_ratio(BRASS, X))


def test_thickness_and_density_are_a_mass_per_area() -> None:
    found = layer_ratio(SKIN, 10.0, 4.0, BRASS, X)  # 10 g/cm3 times 4 um are 0.004 g/cm2
    assert found == pytest.approx(layered_ratio([(SKIN, 0.004)], BRASS, X), rel=1e-12)


def test_rows_are_independent() -> None:
    cores = np.array([BRASS, [0.0, 0.9, 0.1], [0.1, 0.9, 0.0]])
    t, density = np.array([0.5, 5.0, 12.0]), np.array([10.5, 10.0, 9.5])
    found = layer_ratio(SKIN, density, t, cores, X)
    printed = apparent_composition(found, X)
    depth = seen_depth(SKIN, density, cores, X)
    for i in range(3):
        alone = layer_ratio(SKIN, density[i], t[i], cores[i], X)
        assert found[i] == pytest.approx(alone)
        assert printed[i] == pytest.approx(apparent_composition(alone, X), abs=1e-7)
        assert depth[i] == pytest.approx(seen_depth(SKIN, density[i], cores[i], X), rel=1e-5)


@given(st.lists(st.floats(0, 1), min_size=3, max_size=3).filter(lambda w: sum(w) > 0.01), st.floats(0.1, 10))
def test_a_bare_alloy_is_printed_as_it_is_at_any_strength_of_the_beam(parts, strength) -> None:
    w = np.array(parts) / sum(parts)
    assert apparent_composition(strength * bulk_ratio(w, X), X) == pytest.approx(w, abs=1e-7)


def test_only_listed_metals_are_printed() -> None:
    listed = np.array([True, True, False])
    ratio = layer_ratio(SKIN, 10.5, 4.0, BRASS, X)
    printed = apparent_composition(ratio, X, listed)
    assert printed[2] == 0
    assert printed.sum() == pytest.approx(1)
    assert printed[:2] == pytest.approx(apparent_composition(ratio[:2], X[:2, :2]))


def test_a_metal_without_a_line_is_printed_as_zero() -> None:
    printed = apparent_composition(bulk_ratio(np.array([0.5, 0.4, 0.0, 0.1]), UNSEEN), UNSEEN)
    assert printed[3] == 0
    assert printed.sum() == pytest.approx(1)


def test_nothing_listed_is_seen() -> None:
    listed = np.array([False, True, True])
    assert np.isnan(apparent_composition(bulk_ratio(SKIN, X), X, listed)[1:]).all()


@pytest.mark.parametrize("departure", [0.5, 0.075, 0.001])
def test_depth_is_where_the_core_s_share_falls_to_the_departure(departure: float) -> None:
    t = seen_depth(SKIN, 10.5, BRASS, X, departure)
    printed = apparent_composition(layer_ratio(SKIN, 10.5, t, BRASS, X), X)
    assert printed[1:].sum() == pytest.approx(departure, rel=1e-4)


def test_departures_may_be_many() -> None:
    found = seen_depth(SKIN, 10.5, BRASS, X, np.array([0.5, 0.1, 0.001]))
    assert found.shape == (3,)
    assert (np.diff(found) > 0).all()


def test_depth_counts_from_the_skin_s_own_composition() -> None:
    """A skin with copper in it over brass: the copper of the skin is no sign of the core."""
    sterling = np.array([0.925, 0.075, 0.0])
    t = seen_depth(sterling, 10.4, BRASS, X)
    printed = apparent_composition(layer_ratio(sterling, 10.4, t, BRASS, X), X)
    assert np.abs(printed - sterling).sum() / 2 == pytest.approx(0.001, rel=1e-3)


def test_cores_that_cannot_show_have_no_depth() -> None:
    assert seen_depth(SKIN, 10.5, SKIN, X) == pytest.approx(0, abs=1e-6)
    assert seen_depth(SKIN, 10.5, BRASS, X, listed=np.array([True, False, False])) == pytest.approx(0, abs=1e-6)
    silver, light = np.array([1.0, 0, 0, 0]), np.array([0, 0, 0, 1.0])
    assert seen_depth(silver, 10.5, light, UNSEEN) == pytest.approx(0, abs=1e-6)
