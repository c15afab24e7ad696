import numpy as np
import pytest

from alloysolve.physics.air import AIR_DENSITY, U_AIR_DENSITY, air_density_cipm_simplified


def test_default_lies_within_its_uncertainty_of_ordinary_rooms() -> None:
    rooms = air_density_cipm_simplified([18.0, 20.0, 25.0], [1030.0, 1013.25, 990.0], [30.0, 50.0, 60.0])
    assert np.all(np.abs(rooms - AIR_DENSITY) < 2 * U_AIR_DENSITY)


def test_follows_the_ideal_gas() -> None:
    # dry air of 28.9635 g/mol (Picard et al. 2008), R = 8.31446 J/(mol K): p M / (R T); Z differs by 4e-4
    ideal = 101325 * 28.9635e-3 / (8.31446 * 293.15) / 1000
    assert float(air_density_cipm_simplified(20, 1013.25, 0)) == pytest.approx(ideal, rel=6e-4)


def test_moist_air_is_lighter() -> None:
    dry, moist = air_density_cipm_simplified(25, 1013.25, [0, 80])
    assert moist < dry
