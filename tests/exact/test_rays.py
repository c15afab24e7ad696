"""Mixtures that agree with several readings, against the exact triples, fine grids and bounds."""

import itertools

import numpy as np
import pytest

from alloysolve import Conductivity, Magnet, Measured, bounds, mixtures, weigh
from alloysolve.alloys.law import mixing_law
from alloysolve.exact.density import BUBBLES, SCATTER, usable_metals, volume_of
from alloysolve.exact.rays import Rays
from alloysolve.published.load import default_tables

from ..independent import peers
from .test_ranges import U, room, simplex
from .triples import triple_ranges

TABLES = default_tables()
LAW = mixing_law(TABLES)
GRID = simplex(3, 200)
NEAR = 0.2  # points, as said in the docstring of `mixtures`
CASES = [
    (["Cu", "Ni", "Zn"], 8.70, 30.0),  # nickel silver
    (["Ag", "Cu", "Zn"], 9.60, 4.0),
    (["Au", "Ag", "Cu"], 15.5, 14.0),  # 18 ct gold
    (["Cu", "Sn", "Pb"], 8.80, 12.0),
    (["Cu", "Al", "Fe"], 7.60, 13.0),
    (["Au", "Pd", "Ag"], 16.0, 20.0),
    (["Pt", "Cu", "W"], 19.0, 35.0),
    (["Sn", "Pb", "Sb"], 7.60, 15.0),
]


def conductivity(resistivity):
    return Conductivity(172.41 / resistivity, u=U * 172.41 / resistivity, unit="%IACS")


def ranges_of(row, size=3):
    return [[row[f"metal_{n}_{end}_percent"] / 100 for n in range(1, size + 1)] for end in ("low", "high")]


def most_room_at(share, k, metals, density, resistivity):
    """The most room that a mixture with this share of metal k leaves, of 20 001 on the line."""
    t = (1 - share) * np.linspace(0, 1, 20001)
    w = np.empty((len(t), 3))
    w[:, k], w[:, (k + 1) % 3], w[:, (k + 2) % 3] = share, t, 1 - share - t
    return room(w, metals, density, 0.01, resistivity).max()


@pytest.mark.parametrize(("metals", "density", "resistivity"), CASES)
@pytest.mark.parametrize("both", [False, True])
def test_ranges_of_a_triple_hold_all_that_a_grid_finds_and_end_where_a_mixture_agrees(
    metals, density, resistivity, both
):
    read = resistivity if both else None
    evidence = [conductivity(resistivity)] if both else None
    row = mixtures(Measured(density, 0.01, "g/cm3"), metals, ["triple"], evidence=evidence).iloc[0]
    low, high = ranges_of(row)
    fits = GRID[room(GRID, metals, density, 0.01, read) >= 0]
    assert len(fits) > 10
    assert (low <= fits.min(axis=0) + NEAR / 100).all()
    assert (high >= fits.max(axis=0) - NEAR / 100).all()
    for end in (low, high):  # a thousandth of a range at the end itself: rays are straight between their nodes
        assert all(most_room_at(share, k, metals, density, read) > -1e-4 for k, share in enumerate(end))


@pytest.mark.parametrize(("metals", "density", "resistivity"), CASES[:4])
def test_ranges_are_those_of_bounds(metals, density, resistivity):
    """Two ways to the same ends; `bounds` is exact here or too narrow, never too wide."""
    found = bounds(Measured(density, 0.01, "g/cm3"), metals, conductivity=conductivity(resistivity))
    row = mixtures(Measured(density, 0.01, "g/cm3"), metals, ["triple"], evidence=[conductivity(resistivity)]).iloc[0]
    low, high = (100 * np.array(end) for end in ranges_of(row))
    assert (low <= found.low_percent + NEAR).all()
    assert (high >= found.high_percent - NEAR).all()


@pytest.mark.parametrize("density", [4.4, 8.31, 10.3, 17.46])
def test_no_triple_that_has_the_density_is_missed(density):
    """The exact triples take one scatter for all mixtures, the least there is: all of them are listed, and as wide."""
    metals = usable_metals(TABLES)
    read = volume_of(Measured(density, 0.01, "g/cm3"))
    at = [LAW.index[m] for m in metals]
    square, place = np.ix_(at, at), {n: k for k, n in enumerate(at)}
    beside = [(place[i], place[j], place[third], least, change) for i, j, third, least, change in LAW.conditional]
    exact = triple_ranges(
        LAW.molar_volume[at],
        LAW.molar_mass[at],
        LAW.k0[square],
        LAW.k1[square],
        *read.limits(np.asarray(SCATTER)),
        beside,
    )
    frame = mixtures(Measured(density, 0.01, "g/cm3"), metals, ["triple"]).set_index("metals")
    frame = frame.reindex([" ".join(triple) for triple in itertools.combinations(metals, 3)])[exact.reaches]
    low, high = (frame[[f"metal_{n}_{end}_percent" for n in (1, 2, 3)]].to_numpy() for end in ("low", "high"))
    assert not np.isnan(low).any()
    short = np.maximum(low - 100 * exact.low[exact.reaches], 100 * exact.high[exact.reaches] - high).max(axis=1)
    assert np.quantile(short, 0.999) < NEAR
    assert short.max() < 0.5


def test_a_conductivity_narrows_every_pair_to_what_a_fine_line_finds():
    metals, density, resistivity = ["Cu", "Zn", "Ni", "Sn", "Al", "Ag", "Fe", "Mn"], 8.4, 7.0
    frame = mixtures(Measured(density, 0.01, "g/cm3"), metals, ["pair"], evidence=[conductivity(resistivity)])
    line = np.linspace(0, 1, 20001)
    for pair in itertools.combinations(metals, 2):
        fits = line[room(np.stack([line, 1 - line], axis=1), list(pair), density, 0.01, resistivity) >= 0]
        rows = frame[frame.metals == " ".join(pair)]
        assert bool(len(fits)) == bool(len(rows)), pair
        if len(fits):
            ends = rows.metal_1_low_percent.min(), rows.metal_1_high_percent.max()
            assert ends == pytest.approx((100 * fits.min(), 100 * fits.max()), abs=0.03), pair
            assert rows.metal_1_high_percent.to_numpy() == pytest.approx(100 - rows.metal_2_low_percent.to_numpy())


def test_ranges_only_become_narrower_with_a_conductivity():
    density = Measured(8.31, 0.03, "g/cm3")
    wide, narrow = (mixtures(density, sizes=["triple"], evidence=e) for e in (None, [Conductivity("28 %IACS")]))
    both = narrow.merge(wide, on="metals", suffixes=("", "_wide"))
    assert len(both) == len(narrow) < 0.6 * len(wide)
    left, was = (
        sum(both[f"metal_{n}_high_percent{x}"] - both[f"metal_{n}_low_percent{x}"] for n in (1, 2, 3))
        for x in ("", "_wide")
    )
    assert (left <= was + NEAR).all()
    assert (left < 0.9 * was).mean() > 0.7


def test_a_magnet_leaves_out_what_it_would_pull_composition_by_composition():
    """An alloy of iron is pulled strongly from 60 % iron and cobalt together (`magnetic_class`)."""
    density = Measured(7.9, 0.02, "g/cm3")
    free = mixtures(density, ["Fe", "Cr", "Ni"], ["triple"]).iloc[0]
    not_pulled = mixtures(density, ["Fe", "Cr", "Ni"], ["triple"], evidence=[Magnet("none")]).iloc[0]
    pulled = mixtures(density, ["Fe", "Cr", "Ni"], ["triple"], evidence=[Magnet("strong")]).iloc[0]
    assert free.metal_1_high_percent > 90
    assert not_pulled.metal_1_high_percent == pytest.approx(60, abs=NEAR)
    assert not_pulled.metal_1_low_percent == pytest.approx(free.metal_1_low_percent, abs=NEAR)
    assert pulled.metal_1_high_percent == pytest.approx(free.metal_1_high_percent, abs=NEAR)
    assert not len(mixtures(density, ["Cr", "Cu", "Zn"], evidence=[Magnet("strong")]))


def test_no_triple_at_all_is_an_empty_frame():
    assert not len(mixtures("12 +- 0.01 g/cm3", ["Al", "Mg", "Ti"], evidence=[Conductivity("28 %IACS")]))


def test_distances_are_one_at_the_limits():
    read = volume_of(weigh("31.18 g", "3.64 g", wetting="dry dip"))
    assert read.bubble > 0
    model = np.array([0.0, 0.01])
    low, high = read.limits(np.hypot(model, SCATTER))
    assert read.apart(low, model) == pytest.approx([-1, -1])
    assert read.apart(high, model) == pytest.approx([1, 1])
    assert high + low == pytest.approx(2 * read.v - BUBBLES * read.bubble)


def linear(values, middle, half):
    """Distance from a reading that is linear in the mass fractions."""
    return lambda metals, parts: ((values[metals] * parts).sum(axis=-1) - middle) / half


VALUES, HALF = np.array([[5.0, 10.0, 16.0], [2.0, 60.0, 10.0]]), np.array([0.01, 0.08])


def narrow(point):
    """Two readings of a mixture, each a thousandth of what there is, and the corners of what agrees with both."""
    middle = VALUES @ point
    density, other = (linear(*each) for each in zip(VALUES, middle, HALF, strict=True))
    ends = [middle + HALF * (a, b) for a in (-1, 1) for b in (-1, 1)]
    return Rays(density, (other,)), np.array([np.linalg.solve([*VALUES, [1, 1, 1]], [*end, 1]) for end in ends])


@pytest.mark.parametrize("inside", [(0.37, 0.33, 0.30), (0.21, 0.52, 0.27), (0.30, 0.08, 0.62), (0.62, 0.11, 0.27)])
def test_two_narrow_readings_leave_their_parallelogram(inside):
    """It lies between two rays, so that along neither of them both readings hold."""
    rays, corners = narrow(inside)
    assert corners.min() > 0
    found = rays.ranges(np.array([[0, 1, 2]]))
    assert found.low[0] == pytest.approx(corners.min(axis=0), abs=5e-4)
    assert found.high[0] == pytest.approx(corners.max(axis=0), abs=5e-4)


@pytest.mark.parametrize("outside", [(-0.01, 0.65, 0.36), (-0.01, 0.4, 0.61), (0.4, -0.01, 0.61), (0.4, 0.61, -0.01)])
def test_what_only_seemed_to_agree_between_nodes_is_dropped(outside):
    rays, corners = narrow(outside)
    assert corners.min(axis=1).max() < 0
    assert not len(rays.ranges(np.array([[0, 1, 2]])).of)


def test_slivers_beside_a_side_are_never_too_wide():
    """Ideal rule, forty metals: corners of polytopes are exact, and a sliver of a third metal is easily overshot."""
    rows = peers.rows_of(*peers.forty())
    slivers = np.array([[13, 14, 39], [14, 15, 39], [10, 30, 32], [13, 14, 35], [10, 12, 39], [14, 15, 35]])
    exact, found = (way(rows, slivers) for way in (peers.corners, peers.by_rays))
    assert exact[0].all()
    assert found[0].all()
    assert (found[1] >= exact[1] - 2e-3).all()
    assert (found[2] <= exact[2] + 2e-3).all()
