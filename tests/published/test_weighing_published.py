"""Water, air, weighing and geometry against published numbers; each row names its source and tolerance."""

from collections.abc import Callable

import numpy as np
import pytest

from alloysolve.physics import air, geometry, water, weighing
from alloysolve.weighing.weigh import weigh

TANAKA = "Tanaka et al., Metrologia 38 (2001) 301, table of the density of water (air-free, 101325 Pa)"
ITTC = "ITTC 7.5-02-01-03 table 1, the same numbers as IAPWS-95 at 101325 Pa; differs by up to 1e-6 g/cm3"
MASSCOR = "test data of the R package masscor 0.0.7.1 (2024), approximation formula of CIPM-2007"
MASSCOR_FULL = "the same test data, full CIPM-2007; the approximation is good to 2e-4 relative in its range"
BALANCE_MANUAL = "a balance manual's worked example of air buoyancy, manualshelf.com, p. 84"
HYDRO = "hydrostatic equation for beaker and below-balance set-ups in a balance manual, easymanua.ls, p. 64-65"
DENSITY_KIT = "instructions of a density kit, manuzoid.com.de, 3.4: 0.3 mg per 10 mm of 0.2 mm wire"
GEOMETRY = "identities of solid geometry; surface is the derivative of the volume under plating"
COMMON = "common practice, no source"
WEIGHING_NOTE = "computed by hand from the hydrostatic equation with Tanaka's water"

# name, computed, published, tolerance in the unit of the value, source
ROWS: list[tuple[str, Callable[[], object], float, float, str]] = [
    # half a unit of the last printed digit, 1e-7 g/cm3
    *(
        (f"water {t} degC", (lambda t=t: water.water_density_tanaka(t)), v / 1000, 0.6e-7, TANAKA)
        for t, v in (
            (0, 999.8428),
            (4, 999.9749),
            (15, 999.1026),
            (20, 998.2067),
            (25, 997.0470),
            (30, 995.6488),
        )
    ),
    *(
        (f"water IAPWS {t} degC", (lambda t=t: water.water_density_tanaka(t)), v / 1000, 1e-6, ITTC)
        for t, v in ((4, 999.9749), (10, 999.7025), (15, 999.1026), (20, 998.2072), (30, 995.6495))
    ),
    (
        "air 25 degC, 760 mmHg, 40 %",
        lambda: air.air_density_cipm_simplified(25, 1013.25, 40),
        1.1787e-3,
        2e-7,
        MASSCOR,
    ),
    # 730 mmHg = 973.25 hPa
    (
        "air 10 degC, 730 mmHg, 40 %",
        lambda: air.air_density_cipm_simplified(10, 973.2533, 40),
        1.19569e-3,
        2.4e-7,
        MASSCOR_FULL,
    ),
    # 40 degC lies outside the range of the approximation: 5e-4 relative
    (
        "air 40 degC, 760 mmHg, 40 %",
        lambda: air.air_density_cipm_simplified(40, 1013.25, 40),
        1.11497e-3,
        6e-7,
        MASSCOR_FULL,
    ),
    (
        "beaker set-up",
        lambda: weighing.density_from_weighing(31.1046076, 2.9553439, 0.997773, 0.0012),
        10.49,
        3e-6,
        HYDRO,
    ),
    (
        "below the balance",
        lambda: weighing.density_from_weighing(31.1046076, 31.1046076 - 28.1492637, 0.997773, 0.0012),
        10.49,
        3e-6,
        HYDRO,
    ),
    (
        "0.2 mm wire, 10 mm",
        lambda: 1000 * weighing.wire_displaced_mass(0.2, 10, 0.998),
        0.3,
        0.05,
        DENSITY_KIT,
    ),
    ("33.25 g, 4.0 g, 20 degC", lambda: weigh(33.25, 4.0, scale_step=0.1).density.value, 8.29, 0.005, COMMON),
    (
        "the same with water as 1.000 and no air",
        lambda: weighing.density_from_weighing(33.25, 4.0, 1.0, 0.0),
        8.31,
        0.005,
        COMMON,
    ),
    ("disc 38.6 x 2.98 area", lambda: geometry.disc(38.6, 2.98)[1], 2701.795, 0.005, GEOMETRY),
    ("sphere 20 area", lambda: geometry.sphere(20)[1], 1256.637, 0.001, GEOMETRY),
    ("ring 21/18 x 4 area", lambda: geometry.ring(21, 18, 4)[1], 673.8716, 0.001, GEOMETRY),
    ("tube 10/8 x 20 area", lambda: geometry.tube(10, 8, 20)[1], 1187.522, 0.001, GEOMETRY),
]


@pytest.mark.parametrize(("name", "computed", "published", "tolerance", "source"), ROWS, ids=[r[0] for r in ROWS])
def test_published_value(
    name: str, computed: Callable[[], object], published: float, tolerance: float, source: str
) -> None:
    assert float(computed()) == pytest.approx(published, abs=tolerance), source  # type: ignore[arg-type]


def percent(with_: float, without: float) -> float:
    return 100 * (without / with_ - 1)


# What is lost by leaving something out, in percent of the density, as worked out by hand from
# rho = m (rho_l - rho_a)/G + rho_a; silver 10.49, gold 19.30, 14 ct 13.1 g/cm3; rounded as printed.
def test_ignoring_the_buoyancy_of_air() -> None:
    G = weighing.displaced_mass(31.1, 10.49, 0.998207, 0.0012)
    ignored = weighing.density_from_weighing(31.1, G, 0.998207, 0.0)
    assert percent(10.49, float(ignored)) == pytest.approx(0.11, abs=0.005), WEIGHING_NOTE


def test_taking_water_at_22_degrees_as_one() -> None:
    rho_l = water.water_density_tanaka(22.0)
    assert percent(float(rho_l), 1.0) == pytest.approx(0.22, abs=0.005), WEIGHING_NOTE


@pytest.mark.parametrize(
    ("mass", "rho", "printed", "tolerance"),
    [(31.1, 10.49, 0.14, 0.005), (31.1, 19.30, 0.26, 0.006), (5.0, 13.1, 1.1, 0.05)],
)
def test_a_scale_step_of_10_mg_alone(mass: float, rho: float, printed: float, tolerance: float) -> None:
    G = float(weighing.displaced_mass(mass, rho, 0.9982067, 0.0012))
    w = weigh(mass, G, scale_step=0.01)
    row = next(r for r in w.budget if r.part == "scale_step")
    assert row.moves_percent == pytest.approx(printed, abs=tolerance), WEIGHING_NOTE
    smallest = weighing.smallest_useful_mass(rho, 0.01, printed / 100, 0.9982067)
    assert float(smallest) == pytest.approx(mass, rel=tolerance / printed + 0.002), WEIGHING_NOTE


def test_a_wire_of_0_30_mm_30_mm_under_water() -> None:
    plain, hung = weigh(31.10, 2.98), weigh(31.10, 2.98, thread="0.30 mm", thread_length="30 mm")
    assert percent(plain.density.value, hung.density.value) == pytest.approx(0.07, abs=0.005), WEIGHING_NOTE
    assert "thread" in [r.part for r in hung.budget]
    assert "thread" not in [r.part for r in plain.budget]


def test_ten_grams_of_gold_on_a_scale_of_0_1_g_is_skew() -> None:
    # triangular over +-0.1 g: 95 % within 0.1 (1 - sqrt(0.05)) = 0.0776 g of 0.5166 g
    G = float(weighing.displaced_mass(10.0, 19.3, 0.9982067, 0.0012))
    rho = weigh(10.0, G, scale_step=0.1, wetting=0.0).density
    assert rho.low == pytest.approx(16.8, abs=0.05), WEIGHING_NOTE
    assert rho.high == pytest.approx(22.7, abs=0.05), WEIGHING_NOTE
    assert rho.high - rho.value > 1.2 * (rho.value - rho.low)


def test_twenty_like_coins_together_are_surer_than_one() -> None:
    # the step is shared by all: its share falls by the count
    one, twenty = weigh(24.91, 2.41, wetting=0.0), weigh(498.2, 48.2, count=20, wetting=0.0)
    step = [next(r.moves_percent for r in w.budget if r.part == "scale_step") for w in (one, twenty)]
    assert step[0] / step[1] == pytest.approx(20, rel=1e-3)


def test_bubble_that_would_explain_a_brass_bar() -> None:
    # 31.18 g: silver would push aside 2.96 g, 3.64 g was read; 0.68 g of water is a ball of 11 mm
    missing = 3.64 - float(weighing.displaced_mass(31.18, 10.49, 0.9982067, 0.0012))
    assert float(geometry.sphere_diameter(1000 * missing / 0.9982067)) == pytest.approx(11, abs=0.2)
    assert np.isclose(float(geometry.sphere(10.9)[0]), 678.1, atol=0.1)  # 4/3 pi r^3
