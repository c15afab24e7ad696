import subprocess
import sys

import numpy as np
import pytest
from scipy.optimize import linprog

from alloysolve.errors import InputError, SolverError
from alloysolve.exact.cuts import (
    Constraint,
    Curve,
    at_least,
    at_most,
    mixture_within,
    nearest_within,
    ranges_within,
    ratio,
)
from alloysolve.physics.mixing import excess_volume, moles_per_gram

from .boxes import lowest, mean, squares
from .triples import triple_ranges

# silver, copper, zinc, nickel: lattice densities [g/cm3], molar masses [g/mol] (IUPAC)
RHO = np.array([10.50, 8.935, 7.134, 8.908])
MASS = np.array([107.868, 63.546, 65.38, 58.693])
V = 1 / RHO
# Cu-Zn as fitted to published brasses, Ag-Cu 0.077 to published coin alloys [cm3/mol]
K0 = np.zeros((4, 4))
K0[1, 2] = K0[2, 1] = -1.116
K0[0, 1] = K0[1, 0] = 0.077
K1 = np.zeros((4, 4))
K1[1, 2], K1[2, 1] = 0.321, -0.321


def excess(w):
    return excess_volume(moles_per_gram(w, MASS[: w.shape[-1]]), *(k[: w.shape[-1], : w.shape[-1]] for k in (K0, K1)))


def density_band(v_lo, v_hi, v_pure, excess):
    """Limits on the specific volume [cm3/g]: linear by the ideal rule, curved with an `excess`."""
    name = f"density {1 / v_hi:.4g} to {1 / v_lo:.4g} g/cm3"
    if excess is None:
        return Constraint(name, tuple(v_pure / v_lo), 1.0, v_hi / v_lo)
    return Curve(name, lambda w: (w @ v_pure + excess(w)) / v_lo, 1.0, v_hi / v_lo)


def composition_bounds(v_lo, v_hi, v_pure, excess=None, rules=()):
    return ranges_within(mixture_within(len(v_pure), [*rules, density_band(v_lo, v_hi, v_pure, excess)]))


def nearest_composition(target, v_lo, v_hi, v_pure, excess=None, rules=(), weights=None):
    mixture = mixture_within(len(v_pure), [*rules, density_band(v_lo, v_hi, v_pure, excess)])
    return nearest_within(mixture, np.asarray(target), np.ones(len(target)) if weights is None else weights)


def test_ideal_rule_is_the_closed_form():
    rng = np.random.default_rng(2)
    for _ in range(8):
        M, rho = rng.uniform(20, 210, 3), rng.uniform(3, 21, 3)
        v = rng.dirichlet(np.ones(3)) @ (1 / rho)
        exact = triple_ranges(M / rho, M, None, None, v * 0.997, v * 1.002)
        found = composition_bounds(v * 0.997, v * 1.002, 1 / rho)
        assert found.low == pytest.approx(exact.low[0], abs=1e-6)
        assert found.high == pytest.approx(exact.high[0], abs=1e-6)


def test_four_metals_and_constraints_against_another_solver():
    rules = [at_least(4, 0, 0.3), at_most(4, 2, 0.2), *ratio(4, 1, 3, 1.0, 6.0), at_most(4, 3, 0.0)]
    rules = [*rules[:-1], Constraint("zinc and nickel", (0, 0, 1.0, 1.0), high=0.25)]
    found = composition_bounds(1 / 9.3, 1 / 9.2, V, None, rules)
    a = np.array([[-1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 1.0], [0, 1, 0, -6.0], [0, 0, 1, 1], 10 * V, -10 * V])
    b = [-0.3, 0.2, 0, 0, 0.25, 10 / 9.2, -10 / 9.3]
    for i in range(4):
        for sign, end in ((1, found.low), (-1, found.high)):
            lp = linprog(sign * np.eye(4)[i], A_ub=a, b_ub=b, A_eq=np.ones((1, 4)), b_eq=[1])
            assert end[i] == pytest.approx(sign * lp.fun, abs=1e-6)
        assert found.at_low[i, i] == found.low[i]
        assert found.at_high[i, i] == found.high[i]


def test_a_metal_that_is_left_out():
    found = composition_bounds(1 / 9.3, 1 / 9.2, V, None, [at_most(4, 3, 0.0)])
    exact = triple_ranges(MASS[:3] / RHO[:3], MASS[:3], None, None, 1 / 9.3, 1 / 9.2)
    assert found.high[3] == 0
    assert found.high[:3] == pytest.approx(exact.high[0], abs=1e-6)


@pytest.mark.parametrize("rho", [7.6, 8.4, 8.9, 9.6])
def test_excess_against_the_exact_triple(rho):
    band = 1 / (rho * 1.004), 1 / (rho * 0.996)
    found = composition_bounds(*band, V[:3], excess)
    exact = triple_ranges(MASS[:3] / RHO[:3], MASS[:3], K0[:3, :3], K1[:3, :3], *band)
    # one tangent point may be approached only to the last gain worth a step
    assert found.low == pytest.approx(exact.low[0], abs=1e-5)
    assert found.high == pytest.approx(exact.high[0], abs=1e-5)
    for w in (*found.at_low, *found.at_high):
        v = w @ V[:3] + excess(w)
        assert band[0] * (1 - 1e-6) <= v <= band[1] * (1 + 1e-6)


def test_brass_is_richer_in_zinc_than_the_ideal_rule_allows():
    # 8.31 +- 0.06: the ideal rule alone stops near 38 %, published brass of 40 % zinc is 8.39 (UNS C28000)
    band = 1 / 8.37, 1 / 8.25
    rules = [at_most(4, 0, 0.0), at_most(4, 3, 0.0)]
    ideal = composition_bounds(*band, V, None, rules)
    real = composition_bounds(*band, V, excess, rules)
    assert ideal.high[2] < 0.38
    assert real.low[2] < 0.42 < real.high[2]


def test_clash_is_named_without_the_innocent():
    rules = [at_least(4, 0, 0.9, "silver at least 900"), at_most(4, 3, 0.05, "nickel at most 5 %")]
    with pytest.raises(SolverError) as error:
        composition_bounds(1 / 8.4, 1 / 8.3, V, None, rules)
    assert error.value.given == "silver at least 900; density 8.3 to 8.4 g/cm3"
    assert "\n" not in str(error.value)


def test_clash_among_constraints_alone():
    rules = [at_least(4, 0, 0.6), at_least(4, 1, 0.5), at_most(4, 2, 0.1)]
    with pytest.raises(SolverError) as error:
        nearest_composition([0.5, 0.5, 0, 0], 1 / 9.7, 1 / 9.5, V, excess, rules)
    assert error.value.given == "metal 0 at least 0.6; metal 1 at least 0.5"


def test_density_that_no_mixture_has():
    with pytest.raises(SolverError, match=r"density 19\.2 to 19\.4 g/cm3"):
        composition_bounds(1 / 19.4, 1 / 19.2, V)


def test_nearest_of_a_composition_that_fits_is_itself():
    w = np.array([0.1, 0.5, 0.3, 0.1])
    v = w @ V + excess(w)
    assert nearest_composition(w, v * 0.999, v * 1.001, V, excess) == pytest.approx(w, abs=1e-5)


def test_nearest_is_the_foot_of_the_perpendicular():
    # ideal rule, one level: target + (level - v . target) p / (p . p), p = v without its mean (sum stays 1)
    w, level = np.array([0.3, 0.3, 0.2, 0.2]), 1 / 9.0
    p = V - V.mean()
    by_hand = w + (level - V @ w) * p / (p @ p)
    assert (by_hand > 0).all()
    assert nearest_composition(w, level, level, V) == pytest.approx(by_hand, abs=1e-5)


def v_by_hand(w):
    """v [cm3/g] of silver, copper, zinc and nickel, pair by pair: of boxes as of compositions."""
    parts = [w[..., k] for k in range(4)]
    total = mean(parts, 1 / MASS)
    x = [part / mass / total for part, mass in zip(parts, MASS, strict=True)]
    pairs = [x[i] * x[j] * (K0[i, j] + K1[i, j] * (x[i] - x[j])) for i, j in ((0, 1), (1, 2))]
    return mean(parts, V) + total * sum(pairs)


def test_nearest_with_excess_and_weights_is_the_nearest_of_all():
    w, weights, band = np.array([0.25, 0.55, 0.2, 0.0]), np.array([1.0, 4.0, 2.0, 1.0]), (1 / 8.45, 1 / 8.40)
    found = nearest_composition(w, *band, V, excess, [at_least(4, 3, 0.1)], weights)
    assert v_by_hand(found) == pytest.approx(V @ found + excess(found), rel=1e-12)
    rules = [lambda x: v_by_hand(x) - band[0], lambda x: band[1] - v_by_hand(x)]
    value, place = lowest(lambda x: squares(x, w, weights), [(0, 1), (0, 1), (0.1, 1)], rules, 1e-6)  # nickel from 10 %
    assert weights @ (found - w) ** 2 == pytest.approx(value, abs=1.1e-6)  # a tenth for what the program calls kept
    assert found == pytest.approx(place, abs=0.002)  # about the root of the gap


@pytest.mark.parametrize(
    ("call", "path"),
    [
        (lambda: composition_bounds(0.12, 0.11, V), "constraints"),
        (lambda: composition_bounds(0.11, 0.12, V, None, [Constraint("short", (1.0, 0.0))]), "constraints"),
        (
            lambda: composition_bounds(0.11, 0.12, V, None, [Constraint("x", (1.0, 0, 0, 0), 0.5, 0.4)]),
            "constraints",
        ),
    ],
)
def test_bad_input_names_the_place(call, path):
    with pytest.raises(InputError) as error:
        call()
    assert error.value.path == path


def test_a_failed_solve_is_never_hidden(monkeypatch):
    import cvxpy as cp

    def fails(self, **options):
        raise cp.SolverError("stopped")

    monkeypatch.setattr(cp.Problem, "solve", fails)
    with pytest.raises(SolverError, match="stopped"):
        nearest_composition([0.5, 0.5, 0, 0], 1 / 9.3, 1 / 9.2, V)


def test_cvxpy_is_left_alone_where_linear_programs_do():
    code = "import sys; from alloysolve import bounds; bounds(8.5, ['Cu', 'Zn']); print('cvxpy' in sys.modules)"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.split() == ["False"]


def test_heavy_packages_wait_until_they_are_needed():
    code = "import sys, alloysolve.exact.cuts as b; print('cvxpy' in sys.modules, 'scipy' in sys.modules)"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.split() == ["False", "False"]
