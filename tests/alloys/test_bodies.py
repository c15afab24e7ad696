"""Bodies: even points inside regions, weights, systems, published values, pairs and triples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import qmc

from alloysolve.alloys.bodies import MAGNETIC, NOT_A_BODY, Bodies, joined_bodies
from alloysolve.alloys.claimed_regions import Region, region_bodies
from alloysolve.alloys.families import FREE_SIGMA, all_bodies, family_bodies
from alloysolve.alloys.law import law_with, mixing_law
from alloysolve.alloys.regions import even_points, region_corners, region_points, standard_compositions, within
from alloysolve.published.load import default_tables
from alloysolve.published.metals import Limits
from tests.rows import every

FAMILIES = list(default_tables().families)


@pytest.fixture(scope="module")
def bodies() -> Bodies:
    return all_bodies(default_tables())


def _family(bodies: Bodies, name: str) -> np.ndarray:
    return np.flatnonzero(bodies.family == bodies.names.index(name))


def _grade(bodies: Bodies, name: str) -> int:
    return int(np.flatnonzero(bodies.grade == bodies.grades.index(name))[0])


@pytest.mark.parametrize("dimensions", [1, 2, 3, 5])
def test_even_points_are_more_even_than_random_ones(dimensions: int) -> None:
    points = even_points(256, dimensions)
    assert points.shape == (256, dimensions)
    assert ((points >= 0) & (points < 1)).all()
    random = np.random.default_rng(3).random((40, 256, dimensions))
    typical = np.median([qmc.discrepancy(r) for r in random])
    assert qmc.discrepancy(points) < 0.4 * typical


def test_even_points_in_one_dimension_leave_no_gap() -> None:
    points = np.sort(even_points(100, 1)[:, 0])
    assert np.diff(points).max() < 2 / 100
    assert np.array_equal(even_points(100, 1), even_points(200, 1)[:100])


@every("family", FAMILIES)
def test_region_points_lie_inside_the_limits(family: str) -> None:
    limits = default_tables().families[family].limits
    symbols, percent = region_points(limits, 192)
    low, high = np.array([limits[s] for s in symbols]).T
    assert len(percent) >= 1 if len(limits) == 1 else len(percent) >= 96
    assert (percent >= low - 1e-9).all()
    assert (percent <= high + 1e-9).all()
    assert percent.sum(axis=1) == pytest.approx(np.full(len(percent), 100))


@given(st.floats(0, 20), st.floats(20.5, 45))
def test_region_points_fill_the_range_of_a_pair(low: float, high: float) -> None:
    _, percent = region_points({"Cu": (50.0, 100.0), "Zn": (low, high)}, 200)
    assert percent[:, 1].min() <= low + 0.02 * (high - low)
    assert percent[:, 1].max() >= high - 0.02 * (high - low)


def test_region_without_a_composition_is_refused() -> None:
    with pytest.raises(ValueError, match="no composition"):
        region_points({"Cu": (90.0, 95.0), "Zn": (20.0, 30.0)}, 20)


def test_corners_of_a_region() -> None:
    """Copper 50 to 80, zinc 10 to 45, nickel 5 to 25: a hexagon cut by the sum."""
    limits: Limits = {"Cu": (50.0, 80.0), "Zn": (10.0, 45.0), "Ni": (5.0, 25.0)}
    corners = {tuple(c) for c in region_corners(limits)}
    assert corners == {(50, 45, 5), (50, 25, 25), (65, 10, 25), (80, 10, 10), (80, 15, 5)}


def test_limits_of_a_sum_cut_corners_off() -> None:
    """The same hexagon, with zinc and nickel from 20 to 40 together: copper from 60 to 80."""
    limits: Limits = {"Cu": (50.0, 80.0), "Zn": (10.0, 45.0), "Ni": (5.0, 25.0), "Zn+Ni": (20.0, 40.0)}
    corners = {tuple(c) for c in region_corners(limits)}
    assert corners == {(60, 35, 5), (60, 15, 25), (65, 10, 25), (80, 10, 10), (80, 15, 5)}
    symbols, percent = region_points(limits, 192)
    assert symbols == ["Cu", "Zn", "Ni"]
    assert len(percent) == 192
    assert percent[:, 1:].sum(axis=1).max() <= 40 + 1e-9
    assert within({"Cu": 60, "Zn": 25, "Ni": 15}, limits)
    assert not within({"Cu": 55, "Zn": 30, "Ni": 15}, limits)


def test_a_coarse_density_counts_only_where_the_law_knows_less(bodies: Bodies) -> None:
    """Silver 800 is printed as 10.1 and as 10.133 (two sources of 1877 and later); the law knows it to 0.2 %."""
    for name, published, relied_on in [
        ("silver 800", 10.10, False),  # coarse, 0.4 %
        ("silver 925", 10.36, True),  # three digits
    ]:
        at = int(np.flatnonzero(bodies.grade == bodies.grades.index(name))[0])
        assert (abs(1 / bodies.v[at] - published) < 1e-6) == relied_on


@pytest.mark.parametrize("column", ["weight", "coarse"])
def test_weights_sum_to_one_per_family(bodies: Bodies, column: str) -> None:
    weight = getattr(bodies, column)
    assert (weight >= 0).all()
    assert np.bincount(bodies.family, weight) == pytest.approx(np.ones(len(bodies.names)))


@pytest.mark.parametrize("family", ["brass", "silver-copper", "nickel white gold"])
def test_names_carry_sixty_percent_of_a_family(bodies: Bodies, family: str) -> None:
    mine = _family(bodies, family)
    limits = default_tables().families[family].limits
    standard = [c for c in standard_compositions(default_tables()) if within(c, limits)]
    named = int((bodies.grade[mine] >= 0).sum()) + len(standard)
    for column in (bodies.weight, bodies.coarse):
        assert column[mine[:named]].sum() == pytest.approx(0.6)
    assert np.ptp(bodies.weight[mine[:named]]) == pytest.approx(0, abs=1e-12)
    assert np.ptp(bodies.weight[mine[named:]]) == pytest.approx(0, abs=1e-12)


def test_coarse_points_are_every_fourth(bodies: Bodies) -> None:
    region = bodies.grade[_family(bodies, "pair")] < 0
    kept = (bodies.coarse[_family(bodies, "pair")] > 0) & region
    assert kept.sum() == pytest.approx(len(region) / 4, abs=1)


def test_every_grade_stands_once_with_its_published_values(bodies: Bodies) -> None:
    grades = default_tables().grades
    assert sorted(bodies.grades) == sorted(grades)
    assert sorted(bodies.grade[bodies.grade >= 0]) == list(range(len(grades)))
    brass = _grade(bodies, "cartridge brass 70/30")
    assert bodies.v[brass] == pytest.approx(1 / 8.53)  # mill data page
    assert bodies.resistivity[brass] == pytest.approx(172.41 / 28)  # 28 %IACS
    assert bodies.u_resistivity[brass] == pytest.approx(0.04)
    assert bodies.sigma[brass] == pytest.approx(max(0.013 / 8.53, 0.0015))


def test_a_grade_without_conductivity_gets_the_prediction(bodies: Bodies) -> None:
    grade = default_tables().grades["nickel silver 65-18"]
    assert grade.conductivity_iacs is None
    row = _grade(bodies, grade.name)
    rho, u = bodies.law.resistivity_of(bodies.law.fractions([grade.composition]))
    assert bodies.resistivity[row] == pytest.approx(rho[0])
    assert bodies.u_resistivity[row] == pytest.approx(np.hypot(u[0], 0.07))


@every("family", FAMILIES)
def test_predictions_are_those_of_the_law(bodies: Bodies, family: str) -> None:
    mine = _family(bodies, family)
    mine = mine[bodies.grade[mine] < 0]
    row = default_tables().families[family]
    porosity, sigma = row.porosity_percent / 100, row.sigma_percent / 100
    assert bodies.v[mine] == pytest.approx(bodies.law.specific_volume(bodies.w[mine]) * (1 + porosity), rel=1e-9)
    scatter = np.sqrt(sigma**2 + porosity**2 + bodies.law.u_pairs(bodies.w[mine]) ** 2)
    assert bodies.sigma[mine] == pytest.approx(scatter, rel=1e-9)
    assert bodies.resistivity[mine] == pytest.approx(bodies.law.resistivity_of(bodies.w[mine])[0], rel=1e-9)
    assert {MAGNETIC[k] for k in bodies.magnetic[mine]} == {row.magnetic}


@pytest.mark.parametrize("family", ["pair", "triple"])
def test_free_pairs_and_triples_follow_the_law_as_well(bodies: Bodies, family: str) -> None:
    some = _family(bodies, family)[::37]
    w = bodies.w[some]
    size = {"pair": 2, "triple": 3}[family]
    assert ((w > 0).sum(axis=1) == size).all()
    assert w.sum(axis=1) == pytest.approx(np.ones(len(some)))
    assert w[w > 0].min() >= 0.05 - 1e-12
    assert bodies.v[some] == pytest.approx(bodies.law.specific_volume(w), rel=1e-9)
    rho, u_rho = bodies.law.resistivity_of(w)
    assert bodies.resistivity[some] == pytest.approx(rho, rel=1e-9)
    assert bodies.u_resistivity[some] == pytest.approx(np.hypot(u_rho, 0.07), rel=1e-9)
    assert bodies.sigma[some] == pytest.approx(np.hypot(FREE_SIGMA / 100, bodies.law.u_pairs(w)), rel=1e-9)
    unwanted = [bodies.law.index[s] for s in NOT_A_BODY if s in bodies.law.index]
    assert not w[:, unwanted].any()


def test_every_pair_of_body_metals_is_there(bodies: Bodies) -> None:
    metals = [s for s in default_tables().metals if s not in NOT_A_BODY]
    supports = {tuple(np.flatnonzero(row)) for row in bodies.w[_family(bodies, "pair")]}
    assert len(supports) == len(metals) * (len(metals) - 1) // 2


@pytest.mark.parametrize(
    ("grade", "system"),
    [
        ("cartridge brass 70/30", {"Cu", "Zn"}),
        ("beryllium copper CuBe2", {"Cu", "Be"}),  # the family's own metals count below 5 % as well
        ("phosphor bronze 5 %", {"Cu", "Sn"}),
        ("free-cutting brass", {"Cu", "Zn"}),  # 2.75 % lead
        ("leaded gunmetal 85-5-5-5", {"Cu", "Sn", "Pb", "Zn"}),  # exactly 5 % counts
        ("stainless steel 304", {"Fe", "Cr", "Ni"}),  # austenite's iron is iron
        ("cemented carbide 6 % cobalt", {"W", "Co"}),  # carbon sits between the atoms
    ],
)
def test_system_of_a_grade(bodies: Bodies, grade: str, system: set[str]) -> None:
    assert set(bodies.systems[bodies.system[_grade(bodies, grade)]]) == system


def test_share_counts_iron_in_both_its_forms(bodies: Bodies) -> None:
    points = np.array([_grade(bodies, "stainless steel 304"), _grade(bodies, "stainless steel 430")])
    share = bodies.share_of(points, ["Cr", "Fe"])
    assert share[:, 1] == pytest.approx([0.71, 0.82], abs=0.002)


def test_left_out_grades_are_gone() -> None:
    name = "cartridge brass 70/30"
    rest = family_bodies(default_tables(), [name])
    assert name not in rest.grades
    assert len(rest.v) == len(all_bodies(default_tables()).v) - 1


def test_bodies_of_another_law() -> None:
    heavier = law_with(default_tables(), [])  # no pair terms: the ideal rule
    ideal = family_bodies(default_tables(), law=heavier)
    mine = _family(ideal, "brass")
    mine = mine[ideal.grade[mine] < 0]
    density = 1 / (ideal.w[mine] @ (heavier.molar_volume / heavier.molar_mass))
    assert 1 / ideal.v[mine] == pytest.approx(density)


@pytest.mark.parametrize(
    ("composition", "inside"),
    [
        ({"Cu": 70, "Zn": 30}, True),
        ({"Cu": 70, "Zn": 29.2, "Fe": 0.8}, True),  # others up to 1 %
        ({"Cu": 70, "Zn": 28, "Fe": 2}, False),
        ({"Cu": 95.9, "Zn": 3.8}, True),  # 0.2 below its limit
        ({"Cu": 97, "Zn": 3}, False),
        ({"Cu": 50, "Zn": 50}, False),
    ],
)
def test_within(composition: dict[str, float], inside: bool) -> None:
    assert within(composition, {"Cu": (55.0, 96.0), "Zn": (4.0, 45.0)}) is inside


def test_standard_compositions_stand_at_their_fineness() -> None:
    claims = default_tables().rows("claims")
    standard = standard_compositions(default_tables())
    for claim, composition in zip(claims, standard, strict=True):
        assert sum(composition.values()) == pytest.approx(100)
        if len(claim.limits) > 1:
            assert composition[claim.metal] == pytest.approx(claim.limits[claim.metal][0])
    sterling = next(c for claim, c in zip(claims, standard, strict=True) if claim.claim == "silver 925")
    assert sterling["Ag"] == pytest.approx(92.5)


def test_joined_bodies_keep_names_grades_and_systems() -> None:
    one = Region("one", {"Cu": (60.0, 70.0), "Zn": (30.0, 40.0)}, 0.3, own=("Cu",))
    two = Region("two", {"Ag": (80.0, 99.0), "Cu": (1.0, 20.0)}, 0.3, own=("Ag",))
    three = Region("three", {"Cu": (55.0, 65.0), "Zn": (35.0, 45.0)}, 0.3)
    first = region_bodies(default_tables(), [one])
    second = region_bodies(default_tables(), [two, three])
    joined = joined_bodies([first, second])
    assert joined.names == ("one", "two", "three")
    assert len(joined.v) == len(first.v) + len(second.v)
    named = [(joined.names[f], joined.systems[s]) for f, s in zip(joined.family, joined.system, strict=True)]
    expected = [(b.names[f], b.systems[s]) for b in (first, second) for f, s in zip(b.family, b.system, strict=True)]
    assert named == expected
    named_grades = [joined.grades[g] for g in joined.grade if g >= 0]
    assert named_grades == [b.grades[g] for b in (first, second) for g in b.grade if g >= 0]


def test_grades_of_joined_bodies_are_renumbered(bodies: Bodies) -> None:
    joined = joined_bodies([bodies, bodies])
    row = _grade(bodies, "silver 925")
    assert joined.grades[joined.grade[len(bodies.v) + row]] == bodies.grades[bodies.grade[row]]
    assert joined.grade[len(bodies.v) + row] == bodies.grade[row] + len(bodies.grades)


def test_region_bodies_hold_the_corners_of_their_region() -> None:
    limits: Limits = {"Ag": (92.5, 95.8), "Cu": (4.2, 7.5)}
    found = region_bodies(default_tables(), [Region("silver 925", limits, 0.16)])
    silver = 100 * found.w[:, mixing_law(default_tables()).index["Ag"]]
    assert silver.min() == pytest.approx(92.5)
    assert silver.max() == pytest.approx(95.8)
