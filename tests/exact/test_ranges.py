"""Any number of metals under readings and limits, against grids, boxes and published alloys."""

import itertools
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import numpy as np
import pytest

from alloysolve import (
    Conductivity,
    InputError,
    Measured,
    SolverError,
    SurfaceComposition,
    bounds,
    mixtures,
    nearest,
    weigh,
)
from alloysolve.alloys.law import mixing_law
from alloysolve.exact import programs
from alloysolve.published.load import default_tables

from .boxes import lowest, mean, squares

LAW = mixing_law(default_tables())
NICKEL_SILVER = Measured(8.70, 0.01, "g/cm3")  # 55/18/27, handbook density 8.70 g/cm3
U = 0.002  # of a conductivity reading, relative


def by_hand(w, metals):
    """v [cm3/g], its relative scatter, ln of resistivity and its scatter: the laws written out pair by pair."""
    at = [LAW.index[m] for m in metals]
    parts, molar_mass, molar_volume = [w[..., k] for k in range(len(at))], LAW.molar_mass[at], LAW.molar_volume[at]
    total = mean(parts, 1 / molar_mass)
    x = [part / mass / total for part, mass in zip(parts, molar_mass, strict=True)]
    ideal, rho = mean(x, molar_volume), mean(x, LAW.resistivity[at])
    least_rho = 0.3 * rho
    excess, scatter, scatter_rho, factor = 0.0, 0.0, 0.0, 1.0
    for a, b in itertools.combinations(range(len(at)), 2):
        i, j, both, apart = at[a], at[b], x[a] * x[b], x[a] - x[b]
        excess = excess + both * (LAW.k0[i, j] + LAW.k1[i, j] * apart)
        rho = rho + both * (LAW.c0[i, j] + LAW.c1[i, j] * apart + LAW.c2[i, j] * apart**2)
        scatter, scatter_rho = scatter + (both * LAW.u_k[i, j]) ** 2, scatter_rho + (both * LAW.u_c[i, j]) ** 2
        for p, q, share, scale in LAW.two_phase:
            if {i, j} == {p, q}:
                lesser = np.minimum(parts[a], parts[b])
                factor = factor * (1 + share * (parts[a] + parts[b]) * (1 - np.exp(-lesser / scale)))
    for i, j, third, least, change in LAW.conditional:
        if {i, j, third} <= set(at):
            both = x[at.index(i)] * x[at.index(j)]
            excess = excess + np.where(parts[at.index(third)] >= least, change * both, 0.0)
    rho = np.maximum(rho * factor, least_rho)
    v = mean(parts, molar_volume / molar_mass) + total * excess
    return v, np.sqrt(scatter) / ideal, np.log(rho), np.sqrt(scatter_rho) / rho


def room(w, metals, density, u, resistivity=None):
    """How much of each 95 % range is left: all are positive where a composition fits."""
    v, model, log_rho, model_rho = by_hand(w, metals)
    left = 1.959964 * np.hypot(u / density, np.hypot(model, 0.003)) - abs(v * density - 1)
    if resistivity:
        # 2 % is what adjusting a meter leaves, 7 % the scatter of alloys about the rule
        half = 1.959964 * np.sqrt(U**2 + 0.02**2 + model_rho**2 + 0.07**2)
        left = np.minimum(left, half - abs(log_rho - np.log(resistivity)))
    return left


def simplex(size, steps):
    bars = itertools.combinations(range(steps + size - 1), size - 1)
    return np.array([np.diff((-1, *bar, steps + size - 1)) - 1 for bar in bars]) / steps


GRIDS = {3: simplex(3, 160), 4: simplex(4, 48)}
CASES = [
    (["Cu", "Ni", "Zn"], 8.70, None),
    (["Cu", "Ni", "Zn"], 8.70, 30.0),
    (["Ag", "Cu", "Zn"], 9.60, 4.0),
    (["Cu", "Zn", "Sn", "Pb"], 8.60, 8.0),
    (["Au", "Ag", "Cu", "Pd"], 15.5, 14.0),
    (["Sn", "Pb", "Sb", "Cu"], 7.60, 15.0),
]


@pytest.mark.parametrize(("metals", "density", "resistivity"), CASES)
def test_ranges_hold_all_that_a_grid_finds_and_end_where_it_ends(metals, density, resistivity):
    reading = (
        None if resistivity is None else Conductivity(172.41 / resistivity, unit="%IACS", u=U * 172.41 / resistivity)
    )
    found = bounds(Measured(density, 0.01, "g/cm3"), metals, conductivity=reading)
    grid = GRIDS[len(metals)]
    fits = grid[room(grid, metals, density, 0.01, resistivity) >= 0]
    assert len(fits) > 5
    assert (found.low_percent <= 100 * fits.min(axis=0) + 0.01).all()
    assert (found.high_percent >= 100 * fits.max(axis=0) - 0.01).all()
    # a corner of the region can be a sliver between the points: two steps of the grid and a half
    step = 100 * 2.5 / {3: 160, 4: 48}[len(metals)]
    assert (found.low_percent >= 100 * fits.min(axis=0) - step).all()
    assert (found.high_percent <= 100 * fits.max(axis=0) + step).all()


GAP = 1e-4  # mass fraction: no composition ends a range farther out than the one found by boxes, by more than this
SHORT = 1e-5  # mass fraction by which a search may count as at rest before the end: programs.REST


def test_four_metals_with_every_kind_of_limit_end_where_no_composition_is_left():
    """Every limit ends the range of some metal, so each that is lost or moved by 1 % shows."""
    metals = ["Zn", "Cu", "Sn", "Pb"]
    found = bounds(
        "8.60 +- 0.01 g/cm3",
        metals,
        at_least={"Cu": 65},
        at_most={"Pb": 4},
        ratios={("Zn", "Sn"): (4, 14)},
        conductivity=Conductivity(172.41 / 9.0, unit="%IACS", u=U * 172.41 / 9.0),
    )
    limits = [(0.65, 1), (0, 1), (0, 0.04)]  # of all but zinc, which is the rest
    rules = [
        lambda w: w[..., 0] - 4 * w[..., 2],
        lambda w: 14 * w[..., 2] - w[..., 0],
        lambda w: room(w, metals, 8.60, 0.01, 9.0),
    ]
    for k in range(4):
        low, _ = lowest(lambda w, k=k: w[..., k], limits, rules, GAP)
        high = -lowest(lambda w, k=k: -w[..., k], limits, rules, GAP)[0]
        assert low - GAP - SHORT <= found.low_percent[k] / 100 <= low + SHORT
        assert high - SHORT <= found.high_percent[k] / 100 <= high + GAP + SHORT


def test_no_composition_that_fits_is_nearer_than_the_nearest():
    """From one grade, the coin silver of 90 parts; and from whichever of its compositions a claim allows."""
    metals, grade = ["Ag", "Cu", "Zn"], np.array([0.9, 0.1, 0.0])
    found = nearest("coin silver", "9.90 +- 0.01 g/cm3", metals, at_least={"Zn": 2})
    w = found.nearest_percent.to_numpy() / 100
    rules = [lambda w: room(w, metals, 9.90, 0.01)]
    value, place = lowest(lambda w: squares(w, grade, np.ones(3)), [(0, 1), (0.02, 1)], rules, 1e-6)
    assert ((w - grade) ** 2).sum() == pytest.approx(value, abs=1.1e-6)  # a tenth for what the program calls kept
    assert w == pytest.approx(place, abs=0.002)  # about the root of the gap
    assert found.claim_percent.to_numpy() == pytest.approx(100 * grade)
    assert found.apart_percent.to_numpy() == pytest.approx(100 * (w - grade), abs=1e-9)
    nearer = nearest("silver 900", "9.90 +- 0.01 g/cm3", metals, at_least={"Zn": 2})
    assert (nearer.apart_percent**2).sum() <= (found.apart_percent**2).sum() + 1e-3
    assert nearer.claim_percent[0] >= 90 - 0.5  # within what the law allows the claim


def test_a_composition_that_fits_is_its_own_nearest():
    found = nearest("C26000", "8.53 +- 0.01 g/cm3")  # published 8.53 g/cm3
    assert found.nearest_percent.to_numpy() == pytest.approx([70, 30], abs=0.01)


# zinc [%] and density [g/cm3]: Copper Development Association, UNS C22000 to C28000
@pytest.mark.parametrize(("zinc", "density"), [(10, 8.80), (20, 8.67), (30, 8.53), (35, 8.47), (40, 8.39)])
def test_brasses_hold_the_zinc_they_are_published_with(zinc, density):
    found = bounds(Measured(density, 0.005, "g/cm3"), ["Cu", "Zn"]).set_index("metal")
    assert found.loc["Zn", "low_percent"] < zinc < found.loc["Zn", "high_percent"]


def test_brass_goes_beyond_what_the_ideal_rule_allows():
    """8.36 +- 0.01: volumes that add up allow 35 % of zinc at most; published brass of 42 % lies there."""
    ideal = (1 / 8.36 - 1 / 8.935) / (1 / 7.134 - 1 / 8.935)  # lattice densities of copper and zinc
    most = ideal + 1.96 * np.hypot(0.01 / 8.36, 0.003) / 8.36 / (1 / 7.134 - 1 / 8.935)
    found = bounds("8.36 +- 0.01 g/cm3", ["Cu", "Zn"]).set_index("metal")
    assert most < 0.35
    assert found.loc["Zn", "low_percent"] < 42 < found.loc["Zn", "high_percent"]


def test_ranges_are_those_of_the_listing_of_triples():
    found = bounds(NICKEL_SILVER, ["Cu", "Ni", "Zn"]).set_index("metal")
    row = mixtures(NICKEL_SILVER, ["Cu", "Ni", "Zn"], sizes=["triple"]).iloc[0]
    for n in (1, 2, 3):  # the listing samples in steps of a twelfth where nickel-zinc is poorly known
        metal = row[f"metal_{n}"]
        assert found.loc[metal, "low_percent"] <= row[f"metal_{n}_low_percent"] + 0.1
        assert found.loc[metal, "low_percent"] >= row[f"metal_{n}_low_percent"] - 100 / 12
        assert found.loc[metal, "high_percent"] >= row[f"metal_{n}_high_percent"] - 0.1
        assert found.loc[metal, "high_percent"] <= row[f"metal_{n}_high_percent"] + 100 / 12


def test_limits_are_kept():
    found = bounds(
        NICKEL_SILVER,
        ["Cu", "Ni", "Zn", "Pb"],
        at_least={"Cu": 50},
        at_most={"Ni": 20},
        ratios={("Cu", "Zn"): (1.5, 2.5)},
        without=["Pb"],
    ).set_index("metal")
    assert found.loc["Cu", "low_percent"] >= 50 - 1e-4
    assert found.loc["Ni", "high_percent"] <= 20 + 1e-4
    assert found.loc["Pb", "high_percent"] == pytest.approx(0, abs=1e-4)
    for metal, percent in (("Cu", 55), ("Ni", 18), ("Zn", 27)):
        assert found.loc[metal, "low_percent"] <= percent <= found.loc[metal, "high_percent"]


def test_a_conductivity_narrows_nickel_silver_and_keeps_it():
    metals, known = ["Cu", "Ni", "Zn"], {"Cu": 40}  # with less the excess of nickel and zinc is a class default
    wide = bounds(NICKEL_SILVER, metals, at_least=known).set_index("metal")
    narrow = bounds(NICKEL_SILVER, metals, at_least=known, conductivity="5.5 %IACS").set_index("metal")  # handbook
    for metal in ("Cu", "Ni"):  # zinc is held by the density
        left, was = (frame.high_percent[metal] - frame.low_percent[metal] for frame in (narrow, wide))
        assert left < 0.8 * was
    for metal, percent in (("Cu", 55), ("Ni", 18), ("Zn", 27)):
        assert narrow.loc[metal, "low_percent"] <= percent <= narrow.loc[metal, "high_percent"]


def test_a_resistivity_says_the_same_as_a_conductivity_without_what_adjusting_a_meter_leaves():
    """28 %IACS are 6.1575 uohm cm; a meter is adjusted on bare metals within 2 %, a resistivity needs no adjusting."""
    meter = bounds(metals=["Cu", "Zn"], conductivity="28 +- 0.5 %IACS")
    u = np.hypot(0.5 / 28, 0.02)
    whole = bounds(metals=["Cu", "Zn"], conductivity=f"{172.41 / 28} +- {172.41 / 28 * u} uohm cm")
    assert meter.low_percent.to_numpy() == pytest.approx(whole.low_percent.to_numpy(), abs=0.01)


def test_a_surface_holds_what_it_prints_within_its_uncertainty():
    found = bounds(metals=["Ag", "Cu", "Zn"], surface="Ag 92.4 Cu 7.6 Zn <0.2").set_index("metal")
    # 0.05 and 0.5 % of the share of the reading, 0.3 points and 1.2 x 4 p (1 - p) of the model
    half = 1.96 * np.hypot(0.05 + 0.005 * 92.4, 0.3 + 1.2 * 4 * 0.924 * 0.076)
    assert found.loc["Ag", "low_percent"] == pytest.approx(92.4 - half, abs=0.01)
    assert 0.2 < found.loc["Zn", "high_percent"] < 1.2


def test_a_metal_that_the_surface_does_not_list_is_free_and_one_that_it_lists_is_not():
    """The printed shares are those among the metals it lists: lead beside them lowers them all."""
    print_out = "Cu 55 Ni 18 Zn 27"
    free = bounds(NICKEL_SILVER, ["Cu", "Ni", "Zn", "Pb"], surface=print_out).set_index("metal")
    seen = SurfaceComposition(print_out, listed="Pb")
    closed = bounds(NICKEL_SILVER, ["Cu", "Ni", "Zn", "Pb"], surface=seen).set_index("metal")
    assert free.loc["Pb", "high_percent"] > 5
    assert closed.loc["Pb", "high_percent"] < 1.2
    assert free.loc["Cu", "low_percent"] < closed.loc["Cu", "low_percent"] - 3
    assert closed.loc["Cu", "low_percent"] < 55 < closed.loc["Cu", "high_percent"]


def test_a_surface_of_nothing_that_is_listed_is_no_surface():
    """An instrument prints of metals that are there: not of tungsten that it does not list."""
    found = bounds(metals=["Ag", "Cu", "W"], surface="Ag 90 Cu 10").set_index("metal")
    assert found.loc["W", "high_percent"] == pytest.approx(70, abs=0.1)


@pytest.mark.parametrize(
    ("given", "clash"),
    [
        ({"at_least": {"Zn": 90}, "at_most": {"Ni": 20}}, "Zn at least 90 %; density 8.7 g/cm3"),
        ({"at_least": {"Zn": 45}, "surface": "Cu 55 Ni 18 Zn 27"}, "Zn at least 45 %; surface Cu 55 Ni 18 Zn 27"),
        # copper with a fifth of zinc conducts half as well (32 %IACS, UNS C24000), with nickel less
        ({"conductivity": "60 %IACS", "at_most": {"Cu": 80}}, "Cu at most 80 %; conductivity 60 %IACS"),
        (
            {"ratios": {("Cu", "Ni"): (1, 2)}, "at_least": {"Cu": 55}, "at_most": {"Ni": 25}},
            "Cu at least 55 %; Ni at most 25 %; Cu:Ni 1 to 2",
        ),
        ({"without": ["Zn"], "at_least": {"Zn": 1}}, "Zn at least 1 %; without Zn"),
    ],
)
def test_limits_that_clash_are_named_without_the_innocent(given, clash):
    with pytest.raises(SolverError) as error:
        bounds(NICKEL_SILVER, ["Cu", "Ni", "Zn"], **given)
    assert error.value.path == "constraints"
    assert error.value.given == clash


def test_a_density_that_no_mixture_has_is_named():
    with pytest.raises(SolverError, match=r"density 8\.7"):
        bounds(NICKEL_SILVER, ["Ag", "Cu"])  # both denser
    with pytest.raises(SolverError, match=r"density 8\.7"):
        nearest("silver 925", NICKEL_SILVER, ["Ag", "Cu"])


@pytest.mark.parametrize("status", ["optimal_inaccurate", "infeasible", "user_limit"])
def test_a_quadratic_solver_that_does_not_end_well_is_an_error(monkeypatch, status):
    import cvxpy as cp

    monkeypatch.setattr(cp.Problem, "status", property(lambda self: status))
    with pytest.raises(SolverError) as error:
        nearest("silver 925", "10.1 g/cm3", ["Ag", "Cu"])
    assert error.value.given == status
    assert "widen" in error.value.next_step


def test_a_linear_solver_that_does_not_end_well_is_an_error(monkeypatch):
    import scipy.optimize

    ended = SimpleNamespace(status=4, message="numerical difficulties", x=np.full(6, 1 / 3))
    monkeypatch.setattr(scipy.optimize, "linprog", lambda *problem, **options: ended)
    with pytest.raises(SolverError) as error:
        bounds(NICKEL_SILVER, ["Cu", "Ni", "Zn"])
    assert error.value.given == "numerical difficulties"
    assert "widen" in error.value.next_step


def test_a_search_along_a_curved_side_comes_to_rest():
    """Steps that come to six tenths of what the linear form promised must grow again: 100 of them did not arrive."""
    metals, resistivity, u = ["Cu", "Zn", "Sn", "Pb"], 8.0, 0.02
    reading = Conductivity(172.41 / resistivity, u=u * 172.41 / resistivity, unit="%IACS")
    found = bounds(Measured(8.60, 0.01, "g/cm3"), metals, conductivity=reading)
    grid = GRIDS[4]
    v, model, log_rho, model_rho = by_hand(grid, metals)
    fits = np.abs(v * 8.60 - 1) <= 1.959964 * np.hypot(0.01 / 8.60, np.hypot(model, 0.003))
    fits &= np.abs(log_rho - np.log(resistivity)) <= 1.959964 * np.sqrt(u**2 + model_rho**2 + 0.07**2)
    assert (found.low_percent <= 100 * grid[fits].min(axis=0) + 0.01).all()
    assert (found.high_percent >= 100 * grid[fits].max(axis=0) - 0.01).all()


def test_a_search_that_does_not_come_to_rest_is_an_error(monkeypatch):
    monkeypatch.setattr(programs, "STEPS", 1)
    with pytest.raises(SolverError, match="comes to rest"):
        bounds(NICKEL_SILVER, ["Cu", "Ni", "Zn"])


def test_another_density_needs_no_new_program(monkeypatch):
    nearest("silver 925", "10.10 +- 0.01 g/cm3", ["Ag", "Cu"])

    def anew(self, *shape):
        raise AssertionError(f"compiled again: {shape}")

    monkeypatch.setattr(programs.Program, "__init__", anew)
    found = nearest("silver 900", "9.90 +- 0.02 g/cm3", ["Ag", "Cu"])
    assert found.nearest_percent[0] < 75


def test_programs_are_parametrised_for_good():
    """cvxpy keeps what it compiled only for problems that are disciplined in their parameters."""
    assert programs.Program(3, 2).problem.is_dpp()


def test_threads_do_not_meet_in_one_program():
    def one(density):
        return nearest("silver 925", Measured(density, 0.01, "g/cm3"), ["Ag", "Cu"]).nearest_percent.to_numpy()

    densities = [9.8, 9.9, 10.0, 10.1]
    alone = [one(d) for d in densities]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(one, densities))
    assert np.array(together) == pytest.approx(np.array(alone), abs=1e-3)


@pytest.mark.parametrize(
    ("given", "path"),
    [
        ({"metals": ["Cu", "Xx"]}, "metals"),
        ({"metals": ["Cu", "Zn", "Cu"]}, "metals"),
        ({"metals": ["Cu", "Zn"], "at_least": {"Ag": 3}}, "at_least"),
        ({"metals": ["Cu", "Zn"], "at_most": {"Cu": 120}}, "at_most.Cu"),
        ({"metals": ["Cu", "Zn"], "ratios": {("Cu", "Zn"): (3, 2)}}, "ratios"),
        ({"metals": ["Cu", "Zn"], "ratios": {("Cu", "Sn"): (1, 2)}}, "ratios"),
        ({"metals": ["Cu", "Zn"], "without": ["Sn"]}, "without"),
        ({"metals": ["Cu", "Zn"], "surface": "Ag 90 Cu 10"}, "surface"),
        ({"metals": ["Cu", "Zn"], "surface": "Cu"}, "surface"),
        ({"metals": ["Cu", "Zn"], "conductivity": "28 ohm"}, "conductivity"),
    ],
)
def test_what_cannot_be_used_is_refused_with_its_place(given, path):
    with pytest.raises(InputError) as error:
        bounds("8.5 g/cm3", **given)
    assert error.value.path == path


def test_nothing_given_and_many_pieces_are_refused():
    with pytest.raises(InputError, match="a reading or a limit"):
        bounds(metals=["Cu", "Zn"])
    with pytest.raises(InputError, match=r"weighed\[0\]"):
        bounds(weigh(np.array([31.18, 31.1]), np.array([3.64, 3.6])), ["Cu", "Zn"])
    with pytest.raises(InputError, match="the metals of"):
        nearest("silver 925", "10.3 g/cm3", ["Cu", "Zn"])


def test_a_weighing_may_be_lighter_by_bubbles_only():
    bubbly, clean = (
        bounds(weigh("31.18 g", "3.64 g", wetting=w), ["Cu", "Zn"]).set_index("metal") for w in ("dry dip", 0.0)
    )
    assert bubbly.loc["Cu", "high_percent"] > clean.loc["Cu", "high_percent"] + 5
    assert bubbly.loc["Cu", "low_percent"] == pytest.approx(clean.loc["Cu", "low_percent"], abs=0.2)


@pytest.mark.parametrize("claim", ["silver plated", "Xy 92.5", ""])
def test_nearest_goes_from_a_claim_on_a_solid_metal_or_a_grade(claim):
    with pytest.raises(InputError) as error:
        nearest(claim, "10.1 g/cm3")
    assert error.value.path == "claim"
