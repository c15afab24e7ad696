import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from alloysolve.errors import InputError
from alloysolve.physics.mixing import excess_volume, moles_per_gram

from .all_pairs import pair_intervals
from .triple_turns import unit_roots
from .triples import triple_ranges

# Copper, nickel, zinc: lattice densities [g/cm3] (copper NIST 11256/34), molar masses [g/mol] (IUPAC).
RHO = np.array([8.935, 8.908, 7.134])
MASS = np.array([63.546, 58.693, 65.38])
# Cu-Zn and Cu-Ni fitted to published brasses and cupronickels [cm3/mol]; the nickel-zinc term of nickel
# silver is -0.03942 cm3/g per unit of w_Ni w_Zn, turned into mole form at 55/18/27.
K0 = np.array([[0, 0.029, -1.116], [0.029, 0, 0], [-1.116, 0, 0]])
K1 = np.array([[0, 0, 0.321], [0, 0, 0], [-0.321, 0, 0]])
NICKEL_SILVER = np.array([0.55, 0.18, 0.27])
NI_ZN = -0.03942 * MASS[1] * MASS[2] * (NICKEL_SILVER / MASS).sum()


def volume(w, V, M, k0, k1):
    n = moles_per_gram(np.asarray(w), M)
    return n @ V + excess_volume(n, k0, k1)


def antisymmetric(a, b, c, sign=-1.0):
    k = np.array([[0.0, a, b], [0.0, 0.0, c], [0.0, 0.0, 0.0]])
    return k + sign * k.T


def fits_on_line(i, share, V, M, k0, k1, v_lo, v_hi):
    """Is there a mixture with w_i = share in the band? Exact along the line, by roots in power form."""
    j, k = (n for n in range(3) if n != i)

    def at(t):
        w = np.empty((len(t), 3))
        w[:, i], w[:, j], w[:, k] = share, (1 - share) * t, (1 - share) * (1 - t)
        return w

    nodes = at(np.linspace(0, 1, 4))
    marks = list(np.linspace(0, 1, 9))
    for level in (v_lo, v_hi):
        cubic = (volume(nodes, V, M, k0, k1) - level) * moles_per_gram(nodes, M).sum(axis=1) ** 2
        if np.abs(cubic).max() > 0:
            found = np.roots(np.polyfit(np.linspace(0, 1, 4), cubic / np.abs(cubic).max(), 3))
            marks += [r.real for r in found if abs(r.imag) < 1e-6 and 0 <= r.real <= 1]
    marks = np.sort(marks)
    v = volume(at(np.concatenate([marks, (marks[1:] + marks[:-1]) / 2])), V, M, k0, k1)
    return bool(((v >= v_lo) & (v <= v_hi)).any())


def grid(step):
    n = round(1 / step)
    return np.array([(a, b, n - a - b) for a in range(n + 1) for b in range(n + 1 - a)]) / n


def check_against_lines(V, M, k0, k1, v_lo, v_hi, lines=25):
    found = triple_ranges(V, M, k0, k1, v_lo, v_hi)
    grow = 1e-9 * v_hi
    for i in range(3):
        low, high = found.low[0, i], found.high[0, i]
        for share in (min(low + 1e-7, high), max(high - 1e-7, low)):  # the ends are met
            assert fits_on_line(i, share, V, M, k0, k1, v_lo - grow, v_hi + grow)
        beyond = [low - 2e-6, high + 2e-6, *np.linspace(0, 1, lines)]
        for share in beyond:  # nothing lies outside
            if 0 <= share <= 1 and not low - 1e-6 <= share <= high + 1e-6:
                assert not fits_on_line(i, share, V, M, k0, k1, v_lo, v_hi)
    return found


METALS = st.tuples(*[st.tuples(st.floats(10, 240), st.floats(2, 23))] * 3)
EXCESS = st.tuples(*[st.one_of(st.just(0.0), st.floats(-4, 4))] * 3)
SKEW = st.one_of(st.just((0.0, 0.0, 0.0)), st.tuples(*[st.one_of(st.just(0.0), st.floats(-1.5, 1.5))] * 3))


@settings(max_examples=150, deadline=None)
@given(METALS, EXCESS, SKEW, st.tuples(*[st.floats(0.02, 1)] * 3), st.floats(1e-5, 0.05), st.floats(0.05, 0.95))
def test_random_triples_line_by_line(metals, excess, skew, shares, width, below):
    M, rho = np.array(metals).T
    V, k0, k1 = M / rho, antisymmetric(*excess, sign=1.0), antisymmetric(*skew)
    w = np.array(shares) / sum(shares)
    v = float(volume(w, V, M, k0, k1))
    assume(v > 0.01)
    v_lo, v_hi = v * (1 - width * below), v * (1 + width * (1 - below))
    found = check_against_lines(V, M, k0, k1, v_lo, v_hi)
    assert found.reaches[0]
    assert (found.low[0] <= w + 1e-9).all()
    assert (found.high[0] >= w - 1e-9).all()
    assert (found.inside[0] > 0).all()
    assert found.inside[0].sum() == pytest.approx(1, abs=1e-12)
    assert v_lo * (1 - 1e-9) <= volume(found.inside[0], V, M, k0, k1) <= v_hi * (1 + 1e-9)


@settings(max_examples=60, deadline=None)
@given(EXCESS, SKEW, st.booleans(), st.floats(1e-6, 1e-2))
def test_near_the_greatest_and_least_volume(excess, skew, greatest, width):
    # metals that are nearly alike: the excess rules, and islands without any feasible pair are common
    M, V = np.array([60.0, 62.0, 58.0]), np.array([6.6, 6.8, 6.5])
    k0, k1 = antisymmetric(*excess, sign=1.0), antisymmetric(*skew)
    w = grid(0.02)
    v = volume(w, V, M, k0, k1)
    top = w[v.argmax() if greatest else v.argmin()]
    level = float(v.max() if greatest else v.min())
    found = check_against_lines(V, M, k0, k1, level * (1 - width), level * (1 + width))
    assert found.reaches[0]
    assert (found.low[0] <= top + 1e-9).all()
    assert (found.high[0] >= top - 1e-9).all()


def test_island_without_any_pair_is_a_circle():
    # equal metals and equal K0: v - v_pure = K0 q / M with q = (1 - sum x^2) / 2, so a level is a circle
    # about the middle and its extremes are (1 +- sqrt(4 - 12 q)) / 3; pairs reach q = 1/4, the middle has 1/3
    V, M, k0 = np.full(3, 10.0), np.full(3, 100.0), antisymmetric(6, 6, 6, sign=1.0)
    low, high = 0.1 + 0.06 * 0.29, 0.1 + 0.06 * 0.32
    assert np.isnan(pair_intervals(V, M, k0, None, low, high)[0]).all()
    found = triple_ranges(V, M, k0, None, low, high)
    half = math.sqrt(4 - 12 * 0.29)
    assert found.low[0] == pytest.approx([(1 - half) / 3] * 3, abs=1e-9)
    assert found.high[0] == pytest.approx([(1 + half) / 3] * 3, abs=1e-9)
    assert low < volume(found.inside[0], V, M, k0, 0 * k0) < high  # the middle itself is above the band
    assert not triple_ranges(V, M, k0, None, 0.1 + 0.06 * 0.334, 0.2).reaches[0]
    assert triple_ranges(V, M, k0, None, 0.1 + 0.06 * 0.333, 0.2).reaches[0]


def test_island_with_k1():
    # a small K1 on top of the circle moves its ends a little and takes the other way of solving
    V, M, k0 = np.full(3, 10.0), np.full(3, 100.0), antisymmetric(6, 6, 6, sign=1.0)
    found = check_against_lines(V, M, k0, antisymmetric(1e-4, 0, 0), 0.1 + 0.06 * 0.29, 0.1 + 0.06 * 0.32, 200)
    half = math.sqrt(4 - 12 * 0.29)
    assert found.low[0] == pytest.approx([(1 - half) / 3] * 3, abs=1e-4)
    assert found.low[0, 2] != pytest.approx((1 - half) / 3, abs=1e-8) or found.low[0, 0] != found.low[0, 1]


def test_region_bulges_beyond_its_edges():
    # the circle again: pairs meet q = 0.2 at x (1 - x) = 0.2, that is 0.7236; the arc inside reaches 0.7550
    V, M, k0 = np.full(3, 10.0), np.full(3, 100.0), antisymmetric(6, 6, 6, sign=1.0)
    band = 0.1 + 0.06 * 0.2, 0.1 + 0.06 * 0.26
    assert np.nanmax(pair_intervals(V, M, k0, None, *band)[1]) == pytest.approx((1 + math.sqrt(0.2)) / 2, abs=1e-9)
    found = triple_ranges(V, M, k0, None, *band)
    assert found.low[0] == pytest.approx([0, 0, 0], abs=1e-12)
    assert found.high[0] == pytest.approx([(1 + math.sqrt(1.6)) / 3] * 3, abs=1e-9)


def test_ideal_rule_against_a_linear_program():
    rng = np.random.default_rng(11)
    M, rho = rng.uniform(20, 210, 9), rng.uniform(2, 22, 9)
    v = 1 / rho
    v_lo, v_hi = 1 / 9.1, 1 / 8.9
    found = triple_ranges(M / rho, M, None, None, v_lo, v_hi)
    for t, metals in enumerate(itertools.combinations(range(9), 3)):
        few = v[list(metals)]
        for i in range(3):
            for sign, end in ((1, found.low), (-1, found.high)):
                lp = linprog(
                    sign * np.eye(3)[i],
                    A_ub=[few * 10, -few * 10],
                    b_ub=[v_hi * 10, -v_lo * 10],
                    A_eq=[[1, 1, 1]],
                    b_eq=[1],
                )
                assert found.reaches[t] == (lp.status == 0)
                if lp.status == 0:
                    assert end[t, i] == pytest.approx(sign * lp.fun, abs=1e-6)
        if not found.reaches[t]:
            assert np.isnan(found.low[t]).all()
            assert np.isnan(found.high[t]).all()
            assert np.isnan(found.inside[t]).all()


def many(seed, size=8):
    rng = np.random.default_rng(seed)
    M, rho = rng.uniform(20, 210, size), rng.uniform(3, 20, size)
    some = rng.random((size, size))
    k0 = np.triu(rng.normal(0, 1.5, (size, size)) * (some < 0.6), 1)
    k1 = np.triu(rng.normal(0, 0.5, (size, size)) * (some < 0.2), 1)
    return M / rho, M, k0 + k0.T, k1 - k1.T


def test_order_and_limits_per_triple():
    V, M, k0, k1 = many(5)
    triples = list(itertools.combinations(range(8), 3))
    v_lo = np.random.default_rng(6).uniform(0.06, 0.15, len(triples))
    v_hi = v_lo * 1.02
    found = triple_ranges(V, M, k0, k1, v_lo, v_hi)
    assert 5 < found.reaches.sum() < len(triples)
    for t, metals in enumerate(triples):
        m = list(metals)
        one = triple_ranges(V[m], M[m], k0[np.ix_(m, m)], k1[np.ix_(m, m)], v_lo[t], v_hi[t])
        assert found.reaches[t] == one.reaches[0]
        for whole, part in zip(found[1:], one[1:], strict=True):
            assert whole[t] == pytest.approx(part[0], abs=1e-8, nan_ok=True)


def test_one_band_for_all_is_the_same_as_that_band_for_each():
    V, M, k0, k1 = many(7)
    one = triple_ranges(V, M, k0, k1, 0.11, 0.112)
    each = triple_ranges(V, M, k0, k1, np.full(56, 0.11), np.full(56, 0.112))
    for a, b in zip(one, each, strict=True):
        assert np.array_equal(a, b, equal_nan=True)


def test_a_triple_holds_what_its_pairs_hold():
    V, M, k0, k1 = many(9)
    lo, hi = pair_intervals(V, M, k0, k1, 0.1, 0.101)
    found = triple_ranges(V, M, k0, k1, 0.1, 0.101)
    pairs = {ij: p for p, ij in enumerate(zip(*np.triu_indices(8, 1), strict=True))}
    for t, (i, j, k) in enumerate(itertools.combinations(range(8), 3)):
        for a, b in ((i, j), (i, k), (j, k)):
            p = pairs[a, b]
            if not np.isnan(lo[p, 0]):
                place = (i, j, k).index(a)
                assert found.low[t, place] <= lo[p, 0] + 1e-12
                assert found.high[t, place] >= np.nanmax(hi[p]) - 1e-12


def test_nickel_silver_is_among_what_has_its_density():
    # published 8.70 g/cm3 for 55/18/27; the ideal rule says 8.36 there and allows at most 12 % zinc
    band = 1 / 8.72, 1 / 8.68
    found = triple_ranges(MASS / RHO, MASS, K0, K1, *band, beside=[(1, 2, 0, 0.4, NI_ZN)])
    assert (found.low[0] <= NICKEL_SILVER).all()
    assert (found.high[0] >= NICKEL_SILVER).all()
    for without in (
        triple_ranges(MASS / RHO, MASS, None, None, *band),
        triple_ranges(MASS / RHO, MASS, K0, K1, *band),
    ):
        assert without.high[0, 2] < 0.2


def test_nickel_silver_composition_is_inside_with_the_term_that_gives_its_density():
    n = NICKEL_SILVER / MASS
    without = volume(NICKEL_SILVER, MASS / RHO, MASS, K0, K1)
    change = float((1 / 8.70 - without) * n.sum() / (n[1] * n[2]))
    assert -3.6 < change < -2.4
    found = triple_ranges(MASS / RHO, MASS, K0, K1, 1 / 8.701, 1 / 8.699, beside=[(1, 2, 0, 0.4, change)])
    assert (found.low[0] < NICKEL_SILVER).all()
    assert (found.high[0] > NICKEL_SILVER).all()


@pytest.mark.parametrize("rho", [8.3, 8.5, 8.7, 8.85])
@pytest.mark.parametrize("change", [NI_ZN, 3.0])
def test_term_beside_enough_copper_against_a_grid(rho, change):
    band = 1 / (rho + 0.03), 1 / (rho - 0.03)
    found = triple_ranges(MASS / RHO, MASS, K0, K1, *band, beside=[(2, 1, 0, 0.4, change)])
    w = grid(0.002)
    n = moles_per_gram(w, MASS)
    v = volume(w, MASS / RHO, MASS, K0, K1) + np.where(w[:, 0] >= 0.4, change * n[:, 1] * n[:, 2] / n.sum(axis=1), 0)
    fits = w[(v >= band[0]) & (v <= band[1])]
    assert (fits >= found.low[0] - 1e-12).all()
    assert (fits <= found.high[0] + 1e-12).all()
    assert fits.min(axis=0) == pytest.approx(found.low[0], abs=0.004)
    assert fits.max(axis=0) == pytest.approx(found.high[0], abs=0.004)
    n = found.inside[0] / MASS
    v = volume(found.inside[0], MASS / RHO, MASS, K0, K1) + (found.inside[0, 0] >= 0.4) * change * n[1] * n[2] / n.sum()
    assert band[0] <= v <= band[1]


def test_term_beside_nothing_is_the_pair_term_and_beside_too_much_is_none():
    band = 1 / 8.72, 1 / 8.68
    changed = K0 + antisymmetric(0, 0, NI_ZN, sign=1.0)
    always = triple_ranges(MASS / RHO, MASS, K0, K1, *band, beside=[(1, 2, 0, 0.0, NI_ZN)])
    never = triple_ranges(MASS / RHO, MASS, K0, K1, *band, beside=[(1, 2, 0, 1.5, NI_ZN)])
    for found, k0 in ((always, changed), (never, K0)):
        plain = triple_ranges(MASS / RHO, MASS, k0, K1, *band)
        assert found.low == pytest.approx(plain.low, abs=1e-9)
        assert found.high == pytest.approx(plain.high, abs=1e-9)


def test_only_the_part_of_an_island_beside_too_little_of_the_third():
    # the disc q >= 0.29 about the middle, cut at w_1 = 0.3: beyond, a strong term leaves nothing in the band
    V, M, k0 = np.full(3, 10.0), np.full(3, 100.0), antisymmetric(6, 6, 6, sign=1.0)
    found = triple_ranges(V, M, k0, None, 0.1 + 0.06 * 0.29, 0.2, beside=[(1, 2, 0, 0.3, -1000.0)])
    half = math.sqrt(4 - 12 * 0.29)
    assert (found.low[0, 0], found.high[0, 0]) == pytest.approx(((1 - half) / 3, 0.3), abs=1e-9)
    # on the cut w_2 w_3 = 0.29 - 0.3 * 0.7 = 0.08; the greatest w_2 of the disc itself lies below the cut
    assert found.high[0, 1] == pytest.approx((1 + half) / 3, abs=1e-9)
    assert found.inside[0, 0] < 0.3


def test_terms_beside_two_metals_of_one_triple():
    # one term beside copper, one beside nickel: four cells, against a grid
    band = 1 / 8.63, 1 / 8.57
    rules = [(1, 2, 0, 0.4, NI_ZN), (0, 2, 1, 0.3, 1.5)]
    found = triple_ranges(MASS / RHO, MASS, K0, K1, *band, beside=rules)
    w = grid(0.002)
    n = moles_per_gram(w, MASS)
    v = volume(w, MASS / RHO, MASS, K0, K1)
    for i, j, third, least, change in rules:
        v = v + np.where(w[:, third] >= least, change * n[:, i] * n[:, j] / n.sum(axis=1), 0)
    fits = w[(v >= band[0]) & (v <= band[1])]
    assert fits.min(axis=0) == pytest.approx(found.low[0], abs=0.004)
    assert fits.max(axis=0) == pytest.approx(found.high[0], abs=0.004)


@pytest.mark.parametrize("beside", [(1, 1, 0, 0.4, 1.0), (1, 7, 0, 0.4, 1.0), (-1, 1, 0, 0.4, 1.0)])
def test_bad_positions(beside):
    with pytest.raises(InputError, match=r"^beside: "):
        triple_ranges(MASS / RHO, MASS, K0, K1, 0.11, 0.12, beside=[beside])


def test_limits_of_wrong_length():
    with pytest.raises(InputError, match=r"^v_hi: "):
        triple_ranges(MASS / RHO, MASS, K0, K1, 0.11, [0.12, 0.12])


@settings(max_examples=150, deadline=None)
@given(st.lists(st.floats(-1, 2), min_size=6, max_size=6))
def test_no_root_in_the_unit_interval_is_missed(roots):
    # Bernstein form of prod (t - r) from its values at seven nodes
    roots = np.sort(roots)
    assume(np.diff(roots).min() > 1e-2)
    nodes = np.linspace(0, 1, 7)
    values = np.prod(nodes[:, None] - roots, axis=1)
    basis = np.array([[math.comb(6, m) * t**m * (1 - t) ** (6 - m) for m in range(7)] for t in nodes])
    f = np.linalg.solve(basis, values)
    which, found = unit_roots(f[:, None], np.array([1e-14 * np.abs(f).max()]))
    assert (which == 0).all()
    for r in roots[(roots > 1e-3) & (roots < 1 - 1e-3)]:
        assert np.abs(found - r).min(initial=1) < 1e-6
    assert len(found) <= 2 * len(roots)


def test_root_where_an_interval_is_halved():
    # (t - 1/2) times factors without a root inside, so that the value at 1/2 is rounding
    nodes = np.linspace(0, 1, 7)
    basis = np.array([[math.comb(6, m) * t**m * (1 - t) ** (6 - m) for m in range(7)] for t in nodes])
    for seed in range(200):
        others = 1 + np.random.default_rng(seed).uniform(0.1, 1, 5)
        f = np.linalg.solve(basis, np.prod(nodes[:, None] - [0.5, *others], axis=1))
        _, found = unit_roots(f[:, None], np.zeros(1))
        assert np.abs(found - 0.5).min(initial=1) < 1e-6
