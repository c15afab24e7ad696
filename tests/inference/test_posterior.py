"""Shares of belief over rows made by hand, and precious content against a calculation by hand."""

import math

import numpy as np
import pytest

from alloysolve.answer.solution import solve
from alloysolve.inference.groups import quantiles
from alloysolve.inference.posterior import ALIKE, Posterior, PriorShares
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral.believed import Believed
from alloysolve.integral.rows import Rows
from alloysolve.integral.solver import Solver, joined
from alloysolve.pieces.constructions import HOLLOW, HOMOGENEOUS, PLATED
from tests.bodies_of import ALL, LAYERS, VOID_PART, density_of, evidence, plated_v, some

GOLD, SILVER, NONE = ALL.law.index["Au"], ALL.law.index["Ag"], -1
EVERY = np.array([True])  # of one row


def bodies(*grades):
    return some(np.concatenate([np.flatnonzero(ALL.grade == ALL.grades.index(g)) for g in grades]))


def rows(*each):
    """Rows from (construction, point, skin, parameter, prior, likelihood)."""
    kinds, points, skins, parameters, priors, likelihoods = (np.array(c) for c in zip(*each, strict=True))
    return Rows(kinds, points, skins, parameters.astype(float), priors.astype(float), likelihoods.astype(float))


def posterior(of, made, other_prior=0.0, other_likelihood=1.0):
    size = len(of.systems)
    by_kind = {}
    for kind in {(int(c), int(s)) for c, s in zip(made.construction, made.skin, strict=True)}:
        mine = (made.construction == kind[0]) & (made.skin == kind[1])
        by_kind[kind] = np.bincount(of.system[made.point[mine]], made.prior[mine], minlength=size)
    prior = PriorShares(np.sum(list(by_kind.values()), axis=0), (by_kind,))
    return Posterior.of(of, LAYERS, made, prior, 0, other_prior, other_likelihood)


@pytest.mark.parametrize(
    ("values", "weight", "expected"),
    [
        (range(1, 1001), np.ones(1000), (25, 500, 975)),  # even weights: the 2.5, 50 and 97.5 % points
        ([3.0, 1.0, 2.0], [1.0, 94.0, 5.0], (1.0, 1.0, 2.0)),
        ([5.0], [0.2], (5.0, 5.0, 5.0)),
        ([1.0, 2.0], [0.5, 0.5], (1.0, 1.0, 2.0)),
    ],
)
def test_quantiles(values, weight, expected):
    assert quantiles(np.array(list(values), dtype=float), np.array(weight)) == expected


def test_quantiles_of_a_normal_sample_of_weights():
    x = np.linspace(-6, 6, 20001)
    low, likely, high = quantiles(x, np.exp(-(x**2) / 2))
    assert (low, likely, high) == pytest.approx((-1.95996, 0.0, 1.95996), abs=2e-3)


def test_belief_is_prior_times_likelihood():
    of = bodies("cartridge brass 70/30", "silver 925", "tungsten metal")
    p = posterior(
        of,
        rows(
            (HOMOGENEOUS, 0, NONE, 0, 0.4, 3.0),
            (HOMOGENEOUS, 1, NONE, 0, 0.1, 1.0),
            (PLATED, 0, SILVER, 5, 0.2, 2.0),
            (PLATED, 2, GOLD, 5, 0.2, 1.0),
        ),
        0.1,
        2.0,
    )
    total = 1.2 + 0.1 + 0.4 + 0.2 + 0.2
    assert p.total == pytest.approx(total)
    assert p.share == pytest.approx(np.array([1.2, 0.1, 0.4, 0.2]) / total)
    assert p.other == pytest.approx(0.2 / total)
    assert p.share.sum() + p.other == pytest.approx(1.0)
    found = p.systems()
    assert [set(s.metals) for s in found] == [{"Cu", "Zn"}, {"W"}, {"Ag", "Cu"}]
    assert found[0].metals == ("Cu", "Zn")  # the richest first
    assert [s.probability for s in found] == pytest.approx([1.6 / total, 0.2 / total, 0.1 / total])
    brass = found[0]
    assert [(c.construction, c.skin) for c in brass.constructions] == [("homogeneous", ""), ("plated", "Ag")]
    assert [c.probability for c in brass.constructions] == pytest.approx([1.2 / total, 0.4 / total])
    assert sum(c.probability for s in found for c in s.constructions) == pytest.approx(1 - p.other)


def test_bayes_factors_are_ratios_of_mean_likelihoods():
    of = bodies("cartridge brass 70/30", "silver 925", "tungsten metal")
    p = posterior(
        of,
        rows(
            (HOMOGENEOUS, 0, NONE, 0, 0.30, 2.0),
            (PLATED, 0, SILVER, 5, 0.10, 6.0),  # mean 3 over a prior of 0.4
            (HOMOGENEOUS, 1, NONE, 0, 0.20, 4.0),  # mean 4
            (HOMOGENEOUS, 2, NONE, 0, 0.30, 0.5),  # mean 0.5
        ),
        0.1,
        0.25,
    )
    brass, silver, tungsten = p.systems()
    assert [s.evidence for s in (brass, silver, tungsten)] == pytest.approx([3.0, 4.0, 0.5])
    assert brass.bayes_factor_against_next == pytest.approx(3 / 4)
    assert silver.bayes_factor_against_next == pytest.approx(8.0)
    assert tungsten.bayes_factor_against_next == pytest.approx(0.5 / 0.25)  # the last against something else
    assert {c.construction: c.evidence for c in brass.constructions} == pytest.approx(
        {"homogeneous": 2.0, "plated": 6.0}
    )


@pytest.mark.parametrize(
    ("ratio", "alike"), [(1.0, True), (2.9, True), (3.1, False), (1 / 2.9, True), (1 / 3.1, False)]
)
def test_alike_within_three(ratio, alike):
    of = bodies("cartridge brass 70/30", "silver 925")
    assert ALIKE == 3.0
    p = posterior(of, rows((HOMOGENEOUS, 0, NONE, 0, 0.9, 1.0), (HOMOGENEOUS, 1, NONE, 0, 0.1, ratio)))
    first, second = p.systems()
    assert not first.alike
    assert second.alike is alike


def test_parts_of_a_system_are_grouped_whatever_their_family():
    of = bodies("cartridge brass 70/30", "red brass 85/15", "silver 925")
    p = posterior(
        of,
        rows(
            (HOMOGENEOUS, 0, NONE, 0, 0.3, 1),
            (HOMOGENEOUS, 1, NONE, 0, 0.3, 1),
            (HOMOGENEOUS, 2, NONE, 0, 0.4, 1),
        ),
    )
    assert [s.probability for s in p.systems()] == pytest.approx([0.6, 0.4])
    low, likely, high = p.systems()[0].ranges["Zn"]
    assert (low, high) == pytest.approx((15, 30), abs=0.1)
    assert likely == pytest.approx(15, abs=0.1)  # half the belief lies at or below it
    assert p.systems()[0].grades == ("cartridge brass 70/30", "red brass 85/15")


def test_small_systems_are_left_out_and_their_belief_is_not():
    of = bodies("cartridge brass 70/30", "silver 925")
    p = posterior(of, rows((HOMOGENEOUS, 0, NONE, 0, 1.0, 1.0), (HOMOGENEOUS, 1, NONE, 0, 1.0, 1e-4)))
    assert [s.metals for s in p.systems()] == [("Cu", "Zn")]
    assert p.systems()[0].probability == pytest.approx(1 / 1.0001)


def test_free_parameters_have_ranges():
    of = bodies("cartridge brass 70/30")
    um = np.arange(1, 1001)
    made = rows(*((PLATED, 0, SILVER, t, 1.0, 1.0) for t in um), (HOLLOW, 0, NONE, 0.25, 100.0, 1.0))
    (brass,) = posterior(of, made).systems()
    plated, hollow = brass.constructions
    assert plated.skin_um == (25, 500, 975)
    assert plated.void_percent is None
    assert hollow.void_percent == (25, 25, 25)
    assert hollow.skin_um is None


def test_belief_outside_some_bodies_keeps_its_size():
    of = bodies("cartridge brass 70/30", "silver 925")
    made = rows((HOMOGENEOUS, 0, NONE, 0, 0.5, 1.0), (HOMOGENEOUS, 1, NONE, 0, 0.5, 3.0))
    p = posterior(of, made)
    kept = p.among(p.rows.point == 0, p.prior)
    assert [s.metals for s in kept.systems()] == [("Cu", "Zn")]
    assert kept.systems()[0].probability == pytest.approx(0.25)
    assert len(kept.rows.point) == 1


def test_holds_counts_bodies_from_a_share_up():
    of = bodies("cartridge brass 70/30", "silver 925")
    p = posterior(of, rows((HOMOGENEOUS, 0, NONE, 0, 0.75, 1.0), (HOMOGENEOUS, 1, NONE, 0, 0.25, 1.0)))
    assert p.holds("Zn", 30.0) == pytest.approx(0.75)
    assert p.holds("Zn", 30.1) == 0.0
    assert p.holds("Cu", 7.0) == pytest.approx(1.0)
    assert p.holds("Xx", 0.1) == 0.0


# --- precious content


def test_precious_content_of_a_plated_piece_by_hand():
    """10 um of silver all over a disc of 38.6 x 2.8 mm of brass: mass of the skin over mass of the piece."""
    shape = ("disc", (38.6, 2.8))
    body = bodies("cartridge brass 70/30")
    e = evidence(plated_v(body, "Ag", 10.0, shape), 0.001, shape=shape)
    p = posterior(body, rows((PLATED, 0, SILVER, 10.0, 1.0, 1.0)))
    d, t, um = 38.6, 2.8, 0.010
    whole, core = math.pi / 4 * d**2 * t, math.pi / 4 * (d - 2 * um) ** 2 * (t - 2 * um)
    skin, rest = (whole - core) * density_of("Ag"), core * 8.53  # brass 70/30: 8.53 g/cm3 (ASTM B36)
    share = p.rows.candidates(p.bodies, e).mass_part
    assert share == pytest.approx([skin / (skin + rest)], rel=1e-3)
    mass = (skin + rest) / 1000
    content = p.precious(["Ag", "Au"], share, mass, EVERY)
    assert set(content) == {"Ag"}
    assert content["Ag"].value == pytest.approx(skin / 1000, rel=1e-3)
    assert content["Ag"].unit == "g"
    assert p.precious(["Ag"], share, None, EVERY)["Ag"].value == pytest.approx(100 * skin / (skin + rest), rel=1e-3)


def test_precious_content_of_a_body_under_a_skin_is_diluted_by_it():
    body = bodies("silver 925")
    e = evidence(plated_v(body, "Au", 100.0), 0.001)
    p = posterior(body, rows((PLATED, 0, GOLD, 100.0, 1.0, 1.0)))
    share = p.rows.candidates(p.bodies, e).mass_part
    content = p.precious(["Ag", "Au"], share, 100.0, EVERY)
    assert content["Ag"].value == pytest.approx(92.5 * (1 - share[0]), rel=1e-9)
    assert content["Au"].value == pytest.approx(100 * share[0], rel=1e-9)


def test_a_skin_of_the_bodys_own_metal_adds_to_it():
    body = bodies("silver 925")
    e = evidence(plated_v(body, "Ag", 100.0), 0.001)
    p = posterior(body, rows((PLATED, 0, SILVER, 100.0, 1.0, 1.0)))
    share = p.rows.candidates(p.bodies, e).mass_part
    assert p.precious(["Ag"], share, 100.0, EVERY)["Ag"].value == pytest.approx(92.5 * (1 - share[0]) + 100 * share[0])


def test_precious_content_is_a_range_over_all_that_fits():
    of = bodies("cartridge brass 70/30", "silver 925")
    p = posterior(of, rows((HOMOGENEOUS, 0, NONE, 0, 0.6, 1.0), (HOMOGENEOUS, 1, NONE, 0, 0.4, 1.0)))
    silver = p.precious(["Ag"], np.zeros(2), 20.0, np.array([True, True]))["Ag"]
    assert (silver.low, silver.value, silver.high) == pytest.approx((0.0, 0.0, 18.5))
    assert silver.u == pytest.approx(18.5 * math.sqrt(0.6 * 0.4))


def test_traces_are_not_mentioned():
    of = bodies("cartridge brass 70/30")
    p = posterior(of, rows((HOMOGENEOUS, 0, NONE, 0, 1.0, 1.0)))
    assert p.precious(["Ag", "Au"], np.zeros(1), 20.0, EVERY) == {}


def test_empty_space_and_bare_bodies_have_no_skin():
    body = bodies("silver 925")
    made = rows((HOMOGENEOUS, 0, NONE, 0, 1.0, 1.0), (HOLLOW, 0, NONE, 0.3, 1.0, 1.0))
    assert made.candidates(body, evidence(0.1)).mass_part.tolist() == [0.0, 0.0]


def test_belief_of_a_whole_solve_sums_to_one():
    s = solve(Piece(claim="silver 999", mass="33.25 g", displaced="4.0 g", scale_step="0.1 g"), Settings())
    p = s.posterior
    assert p.share.sum() + p.other == pytest.approx(1.0, abs=1e-9)
    assert p.by_point.sum() + p.other == pytest.approx(1.0, abs=1e-9)
    assert sum(x.probability for x in p.systems(1e-12)) + s.other == pytest.approx(1.0, abs=1e-6)
    assert [x.probability for x in s.found] == sorted((x.probability for x in s.found), reverse=True)
    beside = s.beside_claim()
    assert sum(x.probability for x in beside) <= 1 - s.share_meeting_claim + 1e-9


def test_joined_rows_drop_only_what_is_hopeless():
    body = bodies("cartridge brass 70/30")
    solver = Solver(body, evidence(body.v[0], 0.001))
    bare, hollow = (Believed(HOMOGENEOUS, NONE, np.array([1e-9])), Believed(HOLLOW, NONE, np.array([1.0]), VOID_PART))
    parts = [solver.rows([bare]), solver.rows([hollow])]
    rows_of = joined(parts)
    assert rows_of.weight.max() == max(p.weight.max() for p in parts)
