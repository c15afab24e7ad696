"""Speed of sound: one formula against another, gauges there and back, layers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from alloysolve.physics import sound

MODULUS, POISSON, DENSITY = st.floats(10.0, 600.0), st.floats(0.01, 0.45), st.floats(1.7, 23.0)


@given(MODULUS, POISSON, DENSITY)
def test_pressure_wave_by_the_other_formula(modulus: float, poisson: float, density: float) -> None:
    """E (1 - nu) / (rho (1 + nu) (1 - 2 nu))."""
    squared = modulus * (1 - poisson) / (density * (1 + poisson) * (1 - 2 * poisson))
    assert float(sound.longitudinal_speed(modulus, poisson, density)) == pytest.approx(1e3 * np.sqrt(squared))


def test_a_rod_without_sideways_strain_carries_sqrt_e_over_rho() -> None:
    assert float(sound.longitudinal_speed(200.0, 0.0, 8.0)) == pytest.approx(5000.0)


def test_echo_there_and_back() -> None:
    """2.98 mm at 3650 m/s take 2 * 2.98 / 3.65 = 1.6329 us."""
    assert float(sound.speed_from_time(2.98, 1.63288)) == pytest.approx(3650, rel=1e-4)


@given(st.floats(0.5, 20.0), st.floats(1500.0, 7000.0), st.floats(1500.0, 7000.0))
def test_gauge_there_and_back(true: float, speed: float, set_speed: float) -> None:
    shown = true * set_speed / speed  # the same time of flight, whatever the gauge believes
    assert float(sound.speed_from_gauge(shown, true, set_speed)) == pytest.approx(speed)


def test_layers_add_their_times() -> None:
    """1 mm at 3000 and 1 mm at 6000 m/s: 1/3 + 1/6 = 1/2 us, so 4000 m/s."""
    assert float(sound.layered_speed([1.0, 1.0], [3000.0, 6000.0])) == pytest.approx(4000.0)
    rows = sound.layered_speed([[1.0, 0.0], [0.0, 2.0]], [3240.0, 5180.0])
    assert rows == pytest.approx([3240.0, 5180.0])


def test_uncertainty_of_a_speed() -> None:
    """By small differences of the speed itself."""
    nu, step = 0.42, 1e-6
    up, down = (float(sound.longitudinal_speed(80.0, nu + s, 19.3)) for s in (step, -step))
    slope = np.log(up / down) / (2 * step)
    found = float(sound.speed_uncertainty(nu, 0.02, 0.04, 0.002))
    assert found == pytest.approx(np.sqrt(0.03**2 + (slope * 0.02) ** 2 + 0.02**2 + 0.001**2), rel=1e-6)
    assert float(sound.speed_uncertainty(0.3, 0.0)) == pytest.approx(0.03)
    assert float(sound.reading_uncertainty(0.03, 0.04)) == pytest.approx(0.05)
