"""Eddy-current readings and resistivity with temperature against cited numbers; tolerance and source in each row."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

from alloysolve.physics.eddy import (
    MU_0,
    apparent_conductivity,
    depth_of_penetration,
    resistivity_at,
    surface_admittance,
)
from alloysolve.published.load import default_tables

IACS = 0.58  # MS/m per %IACS; 100 %IACS = 58 MS/m, IEC 60028:1925
SILVER, BRASS, NICKEL = (
    105 * IACS,
    28 * IACS,
    14.4,
)  # fine silver 105 to 108 %IACS; C26000; nickel 6.93 uohm cm


@pytest.mark.parametrize(
    ("sigma", "frequency", "um", "tolerance"),
    [
        (58.0, 60.0, 8530.0, 10.0),  # copper at mains frequency 8.53 mm, from memory, standard value
        (58.0, 1e6, 66.1, 0.1),  # copper at 1 MHz 66.1 um, from memory, standard value
        (
            IACS,
            1e5,
            2090.0,
            50.0,
        ),  # titanium of 1 %IACS at 100 kHz: "about 2 mm", check file of an eddy-current lesson
    ],
)
def test_depth_of_penetration(sigma: float, frequency: float, um: float, tolerance: float) -> None:
    assert float(depth_of_penetration(sigma, frequency)) == pytest.approx(um, abs=tolerance)


def reading(skin_um: float, frequency: float) -> float:
    """%IACS of 28 %IACS brass under silver."""
    return float(apparent_conductivity([SILVER, BRASS], [skin_um, 2600.0], [1.0, 1.0], frequency)) / IACS


@pytest.mark.parametrize(
    ("skin_um", "frequency", "iacs", "tolerance"),
    [
        # computed before and apart from this program for a bar of 2.6 mm; half a unit of the printed digit,
        # and 0.5 %IACS at 480 kHz for silver of 100 to 108 %IACS
        (0.0, 60e3, 28.0, 0.05),
        (10.0, 60e3, 28.4, 0.05),
        (20.0, 480e3, 36.0, 0.5),
        (25.0, 480e3, 40.0, 0.5),
    ],
)
def test_silver_on_brass(skin_um: float, frequency: float, iacs: float, tolerance: float) -> None:
    assert reading(skin_um, frequency) == pytest.approx(iacs, abs=tolerance)


# Relative permeability of plated nickel, low, likely, high: nickel-phosphorus rich in phosphorus is not magnetic (from
# memory); 12 measured on nickel formed by plating ("Fully batch fabricated magnetic microactuators using a two
# layer LIGA process", abstract); 100 to 600 is bulk nickel (tables of permeability), whose surface can have far less
# ("Inductance of a coil on a thick ferromagnetic metal plate", abstract: about 10 um with little permeability).
NICKEL_PLATE_MU_R = (1.0, 12.0, 100.0)


def test_nickel_strike_pulls_the_reading_down() -> None:
    """5 um of nickel under 10 um of silver: "about 20.5" lies inside the range of plated nickel, at mu_r near 50."""

    def struck(mu: float) -> float:
        layers = ([SILVER, NICKEL, BRASS], [10.0, 5.0, 2600.0], [1.0, mu, 1.0])
        return float(apparent_conductivity(*layers, 60e3)) / IACS

    low, likely, high = (struck(mu) for mu in NICKEL_PLATE_MU_R)
    assert low > 28.0 > likely > 26.0 > 20.5 > high
    assert struck(50.0) == pytest.approx(20.5, abs=0.1)


def test_recursion_equals_reflection_coefficients() -> None:
    """Layer by layer with reflection coefficients and phases, as in Nafiah's report (2020), eq. (9), to 1e-12."""
    sigma, um, f = np.array([60.0, 16.0]), 50.0, 1e5
    k = np.sqrt(2j * np.pi * f * MU_0 * sigma * 1e6)
    eta = k / (sigma * 1e6)
    back = (eta[1] - eta[0]) / (eta[1] + eta[0]) * np.exp(-2 * k[0] * um * 1e-6)
    z = eta[0] * (1 + back) / (1 - back)
    found = 1 / complex(surface_admittance(sigma, [um, np.inf], [1.0, 1.0], f))
    assert abs(found / z - 1) < 1e-12


def test_standard_copper() -> None:
    """IEC 60028:1925: 1.7241 uohm cm at 20 degC and 0.00393 per K, so conductivity falls by 0.393 % per K."""
    slope = 0.00393 * 1.7241
    at = resistivity_at(1.7241, [20.0, 21.0, 30.0], slope)
    assert 100 / at[0] == pytest.approx(58.0, abs=0.005)
    assert at[0] / at[1] == pytest.approx(1 - 0.00393, abs=2e-5)
    assert at[2] == pytest.approx(1.7241 * 1.0393)


class Slope(NamedTuple):
    """Published resistivities of one metal [uohm cm] at two temperatures [K]."""

    metal: str
    cold: tuple[float, float]
    warm: tuple[float, float]
    source: str


MATULA = "Matula, J. Phys. Chem. Ref. Data 8 (1979) 1147, tables 2 and 5"
CRC = "CRC Handbook, resistivity of pure metals, p. 12-40"
SLOPES = [
    Slope("Cu", (273.15, 1.541), (300, 1.723), MATULA),
    Slope("Cu", (293, 1.676), (350, 2.061), MATULA),
    Slope("Au", (273.15, 2.029), (300, 2.249), MATULA),
    Slope("Au", (273, 2.051), (300, 2.271), CRC),
    Slope("Ag", (273, 1.467), (300, 1.629), CRC),
    Slope("Al", (273, 2.417), (300, 2.733), CRC),
]


@pytest.mark.parametrize("row", SLOPES, ids=lambda row: row.metal)
def test_slopes_of_the_table(row: Slope) -> None:
    """2 %: the last digit of the figures is 0.3 to 0.6 % of their difference, and the two sources differ by 1 %."""
    published = (row.warm[1] - row.cold[1]) / (row.warm[0] - row.cold[0])
    table = {r.metal: r for r in default_tables().rows("temperature")}
    assert table[row.metal].slope_uohm_cm_K == pytest.approx(published, rel=0.02), row.source


# Ho et al., J. Phys. Chem. Ref. Data 12 (1983) 183: aluminium per cent by mass, uohm cm at 273 and 300 K
ALUMINIUM_COPPER = [
    ("Al", 99, 2.51, 2.82),
    ("Al", 90, 3.36, 3.67),
    ("Cu", 1, 4.46, 4.65),
    ("Cu", 5, 9.43, 9.68),
]


@pytest.mark.parametrize(("host", "percent", "cold", "warm"), ALUMINIUM_COPPER)
def test_alloys_share_the_slope_of_their_host(host: str, percent: int, cold: float, warm: float) -> None:
    """Within 2 u of the table; were the slope in proportion to the resistivity the last would have 0.038."""
    row = next(r for r in default_tables().rows("temperature") if r.metal == host)
    rounding = 0.01 / 27
    assert abs((warm - cold) / 27 - row.slope_uohm_cm_K) < 2 * row.u_slope_uohm_cm_K + rounding


@pytest.mark.parametrize(
    ("metal", "coefficient"),
    [
        # per K at 20 degC, table of temperature coefficients of the elements
        ("Ag", 0.003819),
        ("Au", 0.003715),
        ("Cu", 0.004041),
        ("Al", 0.004308),
        ("Pt", 0.003729),
        ("Zn", 0.003847),
        ("Ni", 0.005866),
        ("Fe", 0.005671),
        ("W", 0.004403),
        ("Mo", 0.004579),
        # the same from another table
        ("Sn", 0.0045),
        ("Pb", 0.0039),
    ],
)
def test_slopes_against_temperature_coefficients(metal: str, coefficient: float) -> None:
    """Coefficient times the resistivity of the metal at 20 degC; 5 %, for two sources of iron differ by so much."""
    resistivity = default_tables().metals[metal].resistivity_uohm_cm
    row = next(r for r in default_tables().rows("temperature") if r.metal == metal)
    assert resistivity is not None
    assert row.slope_uohm_cm_K == pytest.approx(coefficient * resistivity, rel=0.05)
