"""Tones of discs, bars and rods: how they scale, where they end, what the grid does."""

from __future__ import annotations

import runpy

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from alloysolve.physics import resonance as r
from alloysolve.published.load import default_tables, folder

ROWS = default_tables().rows("disc_factors")
GRID = r.disc_grid(*zip(*[(f.mode, f.poisson, f.thickness_over_radius, f.factor) for f in ROWS], strict=True))
SIZE = st.floats(10.0, 100.0)
MATERIAL = (80.0, 0.37, 10.49)


def test_the_grid_returns_its_rows() -> None:
    for row in ROWS:
        found = r.disc_factor(row.poisson, row.thickness_over_radius, GRID)
        assert found[GRID.modes.index(row.mode)] == pytest.approx(row.factor, rel=1e-12)


def test_between_rows_the_grid_is_right_to_a_thousandth() -> None:
    """Against the equations of elasticity, solved anew with fewer powers than for the table."""
    ritz = runpy.run_path(str(folder() / "make_disc_factors.py"))
    for poisson, ratio in ((0.325, 0.125), (0.375, 0.325), (0.425, 0.175)):
        found = dict(zip(GRID.modes, r.disc_factor(poisson, ratio, GRID), strict=True))
        for mode in ("2,0", "0,1"):
            parity, place = ritz["MODES"][mode]
            omega = ritz["angular_frequencies"](ritz["disc_integral"](ratio), poisson, parity, 12, 5)
            factors = omega * np.sqrt(12 * (1 - poisson**2)) / ratio
            assert found[mode] == pytest.approx(factors[factors > 0.5][place], rel=1e-3)


def test_beyond_the_grid_there_is_no_number() -> None:
    for poisson, ratio in ((0.1, 0.1), (0.49, 0.1), (0.3, 0.51), (0.3, -0.01), (np.nan, 0.1)):
        assert np.isnan(r.disc_factor(poisson, ratio, GRID)).all()
    assert np.isfinite(r.disc_factor(0.45, 0.5, GRID)).all()


def test_short_rods_and_bars_have_no_number() -> None:
    """ASTM E1876 gives its formula of rods for four diameters and more (from memory)."""
    for slim, there in ((4.0, True), (3.9, False), (2.0, False), (0.5, False)):
        assert np.isfinite(r.rod_flexure(100.0, 0.3, 8.0, 10 * slim, 10.0)) == there
        assert np.isfinite(r.bar_flexure(100.0, 0.3, 8.0, 10 * slim, 9.0, 10.0)) == there


def test_an_incomplete_grid_is_refused() -> None:
    with pytest.raises(ValueError, match="leave out"):
        r.disc_grid(["2,0"] * 3, [0.3, 0.3, 0.4], [0.1, 0.2, 0.1], [5.2, 5.1, 4.9])


@given(SIZE, st.floats(1.5, 3.0))
def test_discs_of_one_form_sound_with_the_inverse_of_their_size(diameter: float, scale: float) -> None:
    mass = 10.49e-3 * np.pi / 4 * diameter**3 * 0.07
    small, large = (r.disc(*MATERIAL, m, d, GRID) for m, d in ((mass, diameter), (mass * scale**3, diameter * scale)))
    assert large == pytest.approx(small / scale, rel=1e-9)


def test_diameter_enters_a_thin_disc_with_its_fourth_power() -> None:
    thin = r.disc_grid(["2,0"] * 4, [0.3, 0.3, 0.4, 0.4], [0.0, 0.5, 0.0, 0.5], [5.3] * 4)
    one, other = (float(r.disc(*MATERIAL, 10.0, d, thin)[0]) for d in (38.0, 38.0 * 1.01))
    assert np.log(one / other) / np.log(1.01) == pytest.approx(4.0, rel=1e-9)


def test_many_candidates_at_once() -> None:
    e, nu, rho = np.array([110.0, 80.0, 411.0]), np.array([0.35, 0.37, 0.28]), np.array([8.53, 10.49, 19.25])
    rows = r.disc(e, nu, rho, 31.1, 38.6, GRID)
    assert rows.shape == (3, len(GRID.modes))
    for n in range(3):
        assert rows[n] == pytest.approx(r.disc(e[n], nu[n], rho[n], 31.1, 38.6, GRID))
    assert r.bar(e, nu, rho, 31.1, 50.0, 28.0).shape == (3, 2)


@given(SIZE, st.floats(2.0, 8.0))
def test_slim_bar_is_euler_bernoulli(length: float, modulus: float) -> None:
    """First root of cos x cosh x = 1 is 4.730041: f = x^2 / (2 pi L^2) sqrt(E I / (rho A))."""
    t = length / 400
    expected = 4.730041**2 / (2 * np.pi * length**2) * np.sqrt(modulus / 8.0) * t / np.sqrt(12) * 1e6
    assert float(r.bar_flexure(modulus, 0.3, 8.0, length, 2 * t, t)) == pytest.approx(expected, rel=2e-4)
    round_rod = expected * np.sqrt(12) / 4  # radius of gyration d / 4 instead of t / sqrt(12)
    assert float(r.rod_flexure(modulus, 0.3, 8.0, length, t)) == pytest.approx(round_rod, rel=2e-4)


def test_thick_bars_are_slower_than_slim_theory() -> None:
    """Timoshenko: shear and rotation take 2 to 4 % at a length of ten thicknesses."""
    ratio = [float(r.bar_flexure(100.0, 0.3, 8.0, 100.0, 10.0, t)) / t for t in (0.01, 10.0)]
    assert 0.96 < ratio[1] / ratio[0] < 0.98


def test_square_section_twists_as_saint_venant_says() -> None:
    """Torsion constant 0.14058 a^4 over polar moment a^4 / 6: c = sqrt(G / rho) sqrt(0.84346), f = c / (2 L)."""
    modulus, poisson, rho, long, a = 100.0, 0.3, 8.0, 100.0, 2.0
    shear = modulus / (2 * (1 + poisson))
    expected = np.sqrt(shear / rho * 0.14058 * 6) / (2 * long) * 1e6
    assert float(r.bar_torsion(modulus, poisson, rho, long, a, a)) == pytest.approx(expected, rel=1e-3)


def test_wide_thin_strip_twists_as_saint_venant_says() -> None:
    """b >> t, and long: c = sqrt(G / rho) 2 t / b."""
    modulus, poisson, rho, long, b, t = 100.0, 0.3, 8.0, 40000.0, 100.0, 1.0
    expected = np.sqrt(modulus / (2 * (1 + poisson)) / rho) * 2 * t / b / (2 * long) * 1e6
    assert float(r.bar_torsion(modulus, poisson, rho, long, b, t)) == pytest.approx(expected, rel=0.02)


def test_bar_takes_its_thickness_from_the_mass() -> None:
    mass = 10.49e-3 * 50 * 28 * 2.6
    both = r.bar(*MATERIAL, mass, 50.0, 28.0)
    assert both[0] == pytest.approx(float(r.bar_flexure(*MATERIAL, 50.0, 28.0, 2.6)))
    assert both[1] == pytest.approx(float(r.bar_torsion(*MATERIAL, 50.0, 28.0, 2.6)))


def test_uncertainty_of_a_prediction() -> None:
    """0.5 % in the diameter is 2 % in the tone, 10 % in the modulus 5 %."""
    assert float(r.model_uncertainty(0.0, struck=False)) == 0.05
    assert float(r.model_uncertainty(0.0)) == 0.08
    assert float(r.model_uncertainty(4 * 0.005, 0.0, 0.0, 0.1)) == pytest.approx(np.sqrt(0.08**2 + 0.02**2 + 0.05**2))
    assert float(r.model_uncertainty(0.0, 0.01, 0.02, struck=False)) == pytest.approx(
        np.sqrt(0.05**2 + 0.01**2 + 0.03**2)
    )


def test_nearest_peak() -> None:
    index, away = r.nearest_peak([[4700.0, 8300.0], [7000.0, np.nan]], [4650.0, 8400.0, 12000.0])
    assert index[0].tolist() == [0, 1]
    assert index[1, 0] == 1
    assert away[0] == pytest.approx([np.log(4650 / 4700), np.log(8400 / 8300)])
    assert np.isnan(away[1, 1])
