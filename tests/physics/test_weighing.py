import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from alloysolve.physics import weighing as w

MASS = st.floats(0.1, 1000)
DENSITY = st.floats(1.5, 22.6)
LIQUID = st.floats(0.7, 1.4)
AIR = st.floats(0.0009, 0.0013)


@given(MASS, DENSITY, LIQUID, AIR)
def test_formula_is_exact_for_both_set_ups_whatever_the_weights(m: float, rho: float, rho_l: float, rho_a: float):
    """From the forces: a balance adjusted with weights of 8 g/cm3 reads force / (1 - rho_a/8)."""
    V, adjusted = m / rho, 1 - rho_a / 8.0
    in_air = V * (rho - rho_a) / adjusted
    in_liquid = V * (rho - rho_l) / adjusted  # hung below the balance
    gain = V * (rho_l - rho_a) / adjusted  # the beaker carries the buoyancy; risen liquid displaces air
    assert float(w.density_from_weighing(in_air, gain, rho_l, rho_a)) == pytest.approx(rho, rel=1e-9)
    difference = in_air - in_liquid
    assert float(w.density_from_weighing(in_air, difference, rho_l, rho_a)) == pytest.approx(rho, rel=1e-9)


@given(MASS, DENSITY, LIQUID, AIR)
def test_displaced_mass_is_the_inverse(m: float, rho: float, rho_l: float, rho_a: float) -> None:
    G = w.displaced_mass(m, rho, rho_l, rho_a)
    assert float(w.density_from_weighing(m, G, rho_l, rho_a)) == pytest.approx(rho, rel=1e-12)


def test_arrays_broadcast() -> None:
    rho = w.density_from_weighing(np.full((3, 1), 31.1), [2.97, 3.64], 0.998, 0.0012)
    assert rho.shape == (3, 2)


def test_smallest_useful_mass_meets_its_target() -> None:
    m = float(w.smallest_useful_mass(13.1, 0.01, 0.01, 0.9982))
    G = m * 0.9982 / 13.1
    assert 0.01 / np.sqrt(6) / G == pytest.approx(0.01, rel=1e-12)


def test_wire_is_a_cylinder() -> None:
    # pi/4 x 0.3^2 x 30 mm3 of water = 2.12 mg
    assert float(w.wire_displaced_mass(0.3, 30.0, 1.0)) == pytest.approx(2.12e-3, rel=1e-3)


def test_surface_pulls_in_proportion_to_the_circumference() -> None:
    # pi x 1 mm x 72.75 mN/m = 0.22855 mN = 23.31 mg
    assert float(w.meniscus_pull(1.0)) == pytest.approx(0.02331, rel=1e-3)
