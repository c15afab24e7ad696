import numpy as np
import pytest

from alloysolve.physics.water import water_density_slope_tanaka, water_density_tanaka


def test_densest_near_4_degrees() -> None:
    t = np.linspace(0, 40, 4001)
    rho = water_density_tanaka(t)
    assert t[np.argmax(rho)] == pytest.approx(3.98, abs=0.01)  # Tanaka et al. 2001: 3.983 degC
    assert rho.max() == pytest.approx(0.99997495, abs=1e-9)


def test_outside_its_range_it_says_nothing() -> None:
    assert np.isnan(water_density_tanaka([-0.1, 40.1])).all()
    assert np.isfinite(water_density_tanaka([0.0, 40.0])).all()


def test_slope_is_that_of_the_table() -> None:
    # Tanaka's table: 998.2067 at 20 degC; 997.9950 at 21 degC and 998.4077 at 19 degC, from memory
    assert float(water_density_slope_tanaka(20.0)) == pytest.approx((0.9979950 - 0.9984077) / 2, rel=2e-3)
    assert np.isfinite(water_density_slope_tanaka([0.0, 40.0])).all()
