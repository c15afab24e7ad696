"""A magnet that slides: drag against an integral of the heat, times against a stepped run."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad, solve_ivp

from alloysolve.physics import sliding


def drag_by_heat(moment: float, sigma: float, height: float, thickness: float) -> float:
    """Heat over the square of the speed [N s/m], lengths in m: sigma |dA/dx|^2 over the plate.

    The vector potential of an upright dipole runs round its axis, so its change as the dipole moves is the whole
    electric field. Over all directions x, |dA/dx|^2 is the mean of its slope and of A / s, squared.
    """

    # A = mu0 m / (4 pi) s / (s^2 + z^2)^(3/2)
    def heat(s: float, z: float) -> float:
        d2 = s * s + z * z
        slope = d2**-1.5 - 3 * s * s * d2**-2.5
        return np.pi * s * (slope**2 + d2**-3)

    total, _ = dblquad(heat, height, height + thickness, 0, 60 * height, epsrel=1e-8)
    return float(sigma * (sliding.MU_0 * moment / (4 * np.pi)) ** 2 * total)


@pytest.mark.parametrize("thickness", [1.0, 3.0, 20.0])
def test_drag_is_the_heat_over_the_square_of_the_speed(thickness: float) -> None:
    found = sliding.drag(0.5, sliding.drag_conductivity([58.0], [thickness], 5.0), 5.0)
    assert float(found) == pytest.approx(drag_by_heat(0.5, 58e6, 5e-3, thickness * 1e-3), rel=1e-4)


@given(st.lists(st.floats(0.0, 50.0), min_size=1, max_size=5), st.floats(0.5, 20.0))
def test_layers_of_one_metal_are_one_body(layers: list[float], height: float) -> None:
    shares = sliding.layer_shares([*layers, np.inf], height)
    assert float(shares.sum()) == pytest.approx(1.0, rel=1e-12)
    assert (shares >= -1e-15).all()
    assert float(sliding.drag_conductivity([30.0] * (len(layers) + 1), [*layers, np.inf], height)) == pytest.approx(
        30.0
    )


def test_a_skin_counts_little() -> None:
    """20 um of silver on brass under a magnet 5 mm away: 3 * 0.02 / 5 = 1.2 % of the drag of a thick conductor."""
    share = sliding.layer_shares([0.02, 2.98], 5.0)
    assert float(share[0]) == pytest.approx(0.012, rel=0.01)


def test_seen_depth() -> None:
    deep = float(sliding.seen_depth(5.0, 0.9))
    assert float(sliding.layer_shares([deep], 5.0)[0]) == pytest.approx(0.9)


def stepped(drag: float, way: float, inertia: float = 1.0) -> float:
    """Time to slide `way` from rest at acceleration 1 against `drag` times speed, by stepping."""

    def there(_: float, y: np.ndarray) -> float:
        return float(y[0] - way)

    there.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(
        lambda _, y: [y[1], 1 - drag / inertia * y[1]], (0, 1e4), [0.0, 0.0], events=there, rtol=1e-9, atol=1e-10
    )
    return float(run.t_events[0][0])


@pytest.mark.parametrize(("drag", "inertia"), [(0.0, 1.0), (0.05, 1.0), (0.3, 1.0), (2.0, 1.0), (0.5, 0.7)])
@pytest.mark.parametrize("way", [0.2, 3.0, 40.0])
def test_times_against_a_stepped_run(drag: float, inertia: float, way: float) -> None:
    good, free = stepped(1.0, way), np.sqrt(2 * way)
    found = sliding.time_ratio(drag, good / free, inertia)
    assert float(found) == pytest.approx(stepped(drag, way, inertia) / good, rel=1e-5)


@given(st.floats(0.01, 10.0), st.floats(1.01, 100.0))
def test_times_lie_between_free_and_final_speed(drag: float, slowing: float) -> None:
    ratio = float(sliding.time_ratio(drag, slowing))
    low, high = sorted((drag, 1.0))
    assert max(low, 1 / slowing) * (1 - 1e-6) <= ratio <= max(high, 1 / slowing) * (1 + 1e-6)
    assert float(sliding.time_ratio(drag)) == pytest.approx(drag, rel=1e-6)


def test_the_same_drag_takes_the_same_time() -> None:
    assert sliding.time_ratio(1.0, [1.0001, 1.5, 4.0, np.inf]) == pytest.approx(1.0, rel=1e-9)


def test_nothing_that_brakes() -> None:
    """As on wood: one over the slowing."""
    assert sliding.time_ratio(0.0, [1.5, 4.0]) == pytest.approx([1 / 1.5, 0.25], rel=1e-6)


def test_a_piece_of_twice_the_mass_goes_twice_as_fast_on_a_magnet() -> None:
    assert float(sliding.time_ratio(1.0, np.inf, 2.0)) == pytest.approx(0.5)
