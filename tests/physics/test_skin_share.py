"""Share of a body's volume that a skin takes."""

from __future__ import annotations

import numpy as np
import pytest

from alloysolve.physics.geometry import skin_volume_share

SHAPES = [
    ("bar", (50.0, 28.0, 2.6)),
    ("disc", (38.6, 2.4)),
    ("rod", (3.0, 60.0)),
    ("sphere", (10.0,)),
    ("ring", (21.0, 17.0, 4.0)),
    ("tube", (8.0, 6.0, 30.0)),
]


@pytest.mark.parametrize(
    ("shape", "sizes", "core"),
    [
        ("bar", (10.0, 8.0, 6.0), 8 * 6 * 4 / 480),
        ("disc", (10.0, 6.0), 8**2 * 4 / 600),
        ("rod", (6.0, 10.0), 4**2 * 8 / 360),
        ("sphere", (10.0,), 0.8**3),
    ],
)
def test_solid_shapes_lose_a_millimetre_all_over(shape: str, sizes: tuple[float, ...], core: float) -> None:
    assert float(skin_volume_share(shape, sizes, np.array(1.0))) == pytest.approx(1 - core)


@pytest.mark.parametrize("shape", ["ring", "tube"])
def test_a_band_is_covered_inside_as_well(shape: str) -> None:
    """Outer 30, inner 20, 10 wide: its wall of 5 keeps 3 and its width 8 where 1 mm is skin."""
    share = float(skin_volume_share(shape, (30.0, 20.0, 10.0), np.array(1.0)))
    assert share == pytest.approx(1 - (28**2 - 22**2) * 8 / ((30**2 - 20**2) * 10))


@pytest.mark.parametrize(("shape", "sizes"), SHAPES)
def test_share_grows_from_nothing_to_all(shape: str, sizes: tuple[float, ...]) -> None:
    share = skin_volume_share(shape, sizes, np.linspace(0, 40, 400))
    assert share[0] == pytest.approx(0, abs=1e-12)
    assert share[-1] == 1
    assert (np.diff(share) >= -1e-12).all()


@pytest.mark.parametrize(("shape", "sizes", "half_wall"), [("bar", (50.0, 28.0, 2.6), 1.3), ("sphere", (10.0,), 5.0)])
def test_all_is_skin_from_half_the_least_wall(shape: str, sizes: tuple[float, ...], half_wall: float) -> None:
    just_below, just_above = skin_volume_share(shape, sizes, np.array([0.999 * half_wall, half_wall]))
    assert just_below < 1
    assert just_above == 1


@pytest.mark.parametrize(("shape", "sizes"), SHAPES)
def test_a_thin_skin_is_surface_times_thickness(shape: str, sizes: tuple[float, ...]) -> None:
    one, two = skin_volume_share(shape, sizes, np.array([1e-4, 2e-4]))
    assert two / one == pytest.approx(2, rel=1e-3)


def test_copper_plated_zinc_cent() -> None:
    """2.500 g, 19.05 mm, core 99.2 % zinc, in all 97.5 % zinc and 2.5 % copper (United States Mint).

    So the plating is 1.71 % of the mass; the mint states 8 um. The mean thickness follows from the mass.
    """
    zinc, copper = 7.17, 8.94  # g/cm3 of the core and of the plating
    plate_mass = 1 - 0.975 / 0.992
    volume = 2500 * ((1 - plate_mass) / zinc + plate_mass / copper)  # mm3
    thick = volume / (np.pi / 4 * 19.05**2)
    share = skin_volume_share("disc", (19.05, thick), np.array([0.0072, 0.008]))
    mass_share = share * copper / (share * copper + (1 - share) * zinc)
    assert mass_share[0] == pytest.approx(plate_mass, rel=0.04)
    assert mass_share[1] == pytest.approx(plate_mass, rel=0.10)  # the mint rounds to a whole micrometre
