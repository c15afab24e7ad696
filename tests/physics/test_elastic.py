"""Moduli: conversions, mixtures between their bounds, clad plates."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from alloysolve.physics.elastic import bulk_and_shear, clad, mixed

MODULUS, POISSON = st.floats(10.0, 600.0), st.floats(0.05, 0.46)


@given(MODULUS, POISSON)
def test_a_mixture_of_one_metal_with_itself_is_that_metal(modulus: float, poisson: float) -> None:
    e, nu = mixed([0.3, 0.7], [modulus, modulus], [poisson, poisson])
    assert float(e) == pytest.approx(modulus, rel=1e-12)
    assert float(nu) == pytest.approx(poisson, abs=1e-12)


@given(st.floats(0.0, 1.0), MODULUS, MODULUS, POISSON, POISSON)
def test_a_mixture_lies_between_its_bounds(share: float, e1: float, e2: float, nu1: float, nu2: float) -> None:
    v = np.array([share, 1 - share])
    e, nu = mixed(v, [e1, e2], [nu1, nu2])
    for found, parts in zip(bulk_and_shear(e, nu), bulk_and_shear([e1, e2], [nu1, nu2]), strict=True):
        assert 1 / float((v / parts).sum()) * (1 - 1e-9) <= float(found) <= float((v * parts).sum()) * (1 + 1e-9)


def test_mixture_of_two_halves_by_hand() -> None:
    """nu = 0: K = E / 3 and G = E / 2 mix alike, so E is the mean of 75 and 66.67, arithmetic and harmonic."""
    e, nu = mixed([0.5, 0.5], [100.0, 50.0], [0.0, 0.0])
    assert float(e) == pytest.approx((75 + 200 / 3) / 2)
    assert float(nu) == pytest.approx(0.0, abs=1e-12)


@given(MODULUS, POISSON, st.lists(st.floats(0.01, 1.0), min_size=1, max_size=4))
def test_a_clad_plate_of_one_metal_is_plain(modulus: float, poisson: float, layers: list[float]) -> None:
    e, nu = clad(layers, [modulus] * len(layers), [poisson] * len(layers))
    assert (float(e), float(nu)) == pytest.approx((modulus, poisson), rel=1e-12)


def test_faces_count_most() -> None:
    """Faces of a sixth each: 1 - (2/3)^3 = 19/27 of the stiffness, whatever the unit of the thickness."""
    for unit in (1.0, 1750.0):
        e, _ = clad([unit / 6, unit / 3], [200.0, 100.0], [0.3, 0.3])
        assert float(e) == pytest.approx(100 * (1 + 19 / 27))


def test_rows_of_layers() -> None:
    e, nu = clad([[0.1, 0.9], [1.0, 0.0]], [[150.0, 120.0], [150.0, 120.0]], [0.3, 0.35])
    assert e.shape == nu.shape == (2,)
    assert float(e[1]) == pytest.approx(150.0)
