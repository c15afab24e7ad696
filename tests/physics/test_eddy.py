"""Apparent conductivity of layers, depth of penetration, excluded skins, temperature."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from alloysolve.physics.eddy import (
    MU_0,
    apparent_conductivity,
    depth_of_penetration,
    model_uncertainty,
    resistivity_at,
    surface_admittance,
)

SILVER, BRASS = 60.9, 16.24  # MS/m
SIGMA = st.floats(0.5, 63.0)
FREQUENCY = st.floats(1e4, 1e6)


def by_matrices(sigma: np.ndarray, thickness_um: np.ndarray, mu_r: np.ndarray, frequency: float) -> complex:
    """H/E at the surface: E and H carried from the air behind through each layer by 2 x 2 matrices."""
    field = np.array([1.0, 0.0], dtype=complex)  # E, H at the back; H is 0 beside what metal carries
    for s, d, mu in list(zip(sigma * 1e6, thickness_um * 1e-6, mu_r, strict=True))[::-1]:
        k = np.sqrt(2j * np.pi * frequency * MU_0 * mu * s)
        cosh, sinh, eta = np.cosh(k * d), np.sinh(k * d), k / s
        field = np.array([[cosh, eta * sinh], [sinh / eta, cosh]]) @ field
    return complex(field[1] / field[0])


@given(SIGMA, FREQUENCY)
def test_thick_metal_gives_its_own_conductivity(sigma: float, frequency: float) -> None:
    assert float(apparent_conductivity([sigma], [np.inf], [1.0], frequency)) == pytest.approx(sigma, rel=1e-12)


@given(SIGMA, st.lists(st.floats(0.0, 1e4), min_size=1, max_size=5), FREQUENCY)
def test_layers_of_one_metal_are_one_body(sigma: float, cuts: list[float], frequency: float) -> None:
    layers = [*cuts, np.inf]
    found = apparent_conductivity([sigma] * len(layers), layers, [1.0] * len(layers), frequency)
    assert float(found) == pytest.approx(sigma, rel=1e-12)


def test_magnetic_metal_reads_its_conductivity_over_its_permeability() -> None:
    assert float(apparent_conductivity([10.0], [np.inf], [100.0], 6e4)) == pytest.approx(0.1, rel=1e-12)


def test_layers_against_transfer_matrices() -> None:
    rng = np.random.default_rng(1)
    shape = (300, 4)
    sigma, mu = rng.uniform(1, 63, shape), np.where(rng.random(shape) < 0.3, 40.0, 1.0)
    um, f = 10 ** rng.uniform(0, 2.3, shape), 10 ** rng.uniform(4, 6, 300)
    um[:, 3] = 800.0
    expected = [by_matrices(*row) for row in zip(sigma, um, mu, f, strict=True)]
    assert surface_admittance(sigma, um, mu, f) == pytest.approx(np.array(expected), rel=1e-10)


def test_a_plate_by_its_closed_form() -> None:
    """Air behind: Z = eta coth((1 + i) d / delta), here at d = delta."""
    k = (1 + 1j) / 1e-3
    z = k / (BRASS * 1e6) / np.tanh(1 + 1j)
    f = 1 / (np.pi * MU_0 * BRASS * 1e6 * 1e-6)  # delta of 1 mm
    expected = np.pi * MU_0 * f / z.real**2 / 1e6
    assert float(apparent_conductivity([BRASS], [1000.0], [1.0], f)) == pytest.approx(expected, rel=1e-12)


def test_a_foil_is_its_sheet_conductance() -> None:
    """d far below delta: Z = 1 / (sigma d), so pi f mu0 (sigma d)^2 and no loss of digits."""
    for um in (1e-3, 1e-6, 1e-9):
        expected = np.pi * MU_0 * 6e4 * (SILVER * um) ** 2 * 1e-6
        assert float(apparent_conductivity([SILVER], [um], [1.0], 6e4)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("thickness", [[0.0, 1e3], [1e9, 1e9], [1e-9, 1e9], [0.0, np.inf], [np.inf, 1.0]])
def test_no_thickness_overflows(thickness: list[float]) -> None:
    found = float(apparent_conductivity([SILVER, BRASS], thickness, [1.0, 1.0], 1e6))
    expected = BRASS if thickness[0] < 1 else SILVER
    assert found == pytest.approx(expected, rel=1e-4)


def test_a_layer_of_no_thickness_changes_nothing() -> None:
    two = apparent_conductivity([SILVER, BRASS], [10.0, 900.0], [1.0, 1.0], 6e4)
    three = apparent_conductivity([SILVER, 14.4, BRASS], [10.0, 0.0, 900.0], [1.0, 100.0, 1.0], 6e4)
    assert float(three) == pytest.approx(float(two), rel=1e-14)


def test_a_thin_good_skin_is_of_second_order() -> None:
    """The rise goes with the square of the thickness: a first-order skin would double, not quadruple."""
    rise = [float(apparent_conductivity([SILVER, BRASS], [t, np.inf], [1, 1], 6e4)) - BRASS for t in (1.0, 2.0)]
    assert rise[1] / rise[0] == pytest.approx(4, rel=0.02)


def test_order_of_layers_is_from_the_surface() -> None:
    on_top = float(apparent_conductivity([SILVER, BRASS], [200.0, np.inf], [1, 1], 4.8e5))
    assert on_top > 0.95 * SILVER


def test_the_real_part_counts() -> None:
    """A film that carries no current but lies between, such as varnish, adds i omega mu0 d to Z: nothing is read.

    Nearly no conductor stands for it here; by |Z| it would lower the reading by a third.
    """
    layers = ([1e-9, BRASS], [100.0, np.inf], [1.0, 1.0], 6e4)
    by_modulus = 2 * np.pi * MU_0 * 6e4 * abs(surface_admittance(*layers)) ** 2 * 1e-6
    assert float(apparent_conductivity(*layers)) == pytest.approx(BRASS, rel=1e-6)
    assert float(by_modulus) < 0.75 * BRASS


def test_rows_and_frequencies_broadcast() -> None:
    skins = np.stack([np.array([5.0, 20.0]), np.full(2, np.inf)], axis=-1)
    both = apparent_conductivity([SILVER, BRASS], skins[:, None, :], 1.0, np.array([6e4, 4.8e5]))
    assert both.shape == (2, 2)
    assert both[1, 0] == apparent_conductivity([SILVER, BRASS], skins[1], [1.0, 1.0], 6e4)


def test_depth_of_penetration_scales() -> None:
    base = float(depth_of_penetration(BRASS, 6e4))
    assert float(depth_of_penetration(4 * BRASS, 6e4)) == pytest.approx(base / 2)
    assert float(depth_of_penetration(BRASS, 24e4)) == pytest.approx(base / 2)
    assert float(depth_of_penetration(BRASS, 6e4, 100.0)) == pytest.approx(base / 10)


@pytest.mark.parametrize(("deltas", "expected"), [(6.0, 0.02), (2.5, 0.02), (2.0, 0.05), (1.5, 0.12), (0.5, 0.12)])
def test_uncertainty_of_a_bare_plate(deltas: float, expected: float) -> None:
    """Figures of the coil model; two layers of one metal count as one."""
    um = deltas * float(depth_of_penetration(BRASS, 6e4))
    assert float(model_uncertainty([BRASS], [um], [1.0], 6e4)) == pytest.approx(expected)
    assert float(model_uncertainty([30.0, 30.0], [0.0, np.inf], 1.0, 6e4)) == pytest.approx(0.02)


def test_uncertainty_of_skins_and_strikes() -> None:
    poor = model_uncertainty([SILVER, 3.0], [10.0, np.inf], [1.0, 1.0], 6e4)
    assert float(poor) == pytest.approx(np.hypot(0.02, 0.05))
    bare = model_uncertainty([SILVER, 3.0], [0.0, np.inf], [1.0, 1.0], 6e4)
    assert float(bare) == pytest.approx(0.02)
    assert float(model_uncertainty([SILVER, 20.0], [10.0, np.inf], [1.0, 1.0], 6e4)) == pytest.approx(0.02)
    strike = [model_uncertainty([SILVER, 14.4, BRASS], [10.0, 5.0, np.inf], [1, mu, 1], 6e4) for mu in (51, 1e5)]
    delta = float(depth_of_penetration(BRASS, 6e4)) / 1e3  # mm
    assert float(strike[0]) == pytest.approx(np.hypot(0.02, 0.09 * 2.5 * delta))
    assert float(strike[1]) == pytest.approx(np.hypot(0.02, 0.5))  # a coil over steel is no plane wave at all


def test_resistivity_at() -> None:
    found = resistivity_at([1.7241, 6.2], [[20.0], [30.0]], 0.0068)
    assert found == pytest.approx(np.array([[1.7241, 6.2], [1.7921, 6.268]]))
