import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloysolve.errors import InputError
from alloysolve.exact.pairs import cubic_roots, quadratic_roots
from alloysolve.physics.mixing import excess_volume, moles_per_gram

from .all_pairs import pair_intervals

# Element densities of the lattice set [g/cm3] and molar masses [g/mol] (IUPAC); copper 8.935 (NIST 11256/34).
CU, NI, ZN = (8.935, 63.546), (8.908, 58.693), (7.134, 65.38)


def law(*metals):
    rho, mass = np.array(metals).T
    return mass / rho, mass


def symmetric(k0):
    return np.array([[0.0, k0], [k0, 0.0]])


def volume(first, V, M, k0, k1):
    """v of a pair by the forward physics, for mass fractions of the first metal."""
    w = np.stack([first, 1 - np.asarray(first)], axis=-1)
    n = moles_per_gram(w, M)
    return n @ V + excess_volume(n, symmetric(k0), np.array([[0.0, k1], [-k1, 0.0]]))


def intervals(V, M, k0, k1, v_lo, v_hi):
    lo, hi = pair_intervals(V, M, symmetric(k0), np.array([[0.0, k1], [-k1, 0.0]]), v_lo, v_hi)
    return [(a, b) for a, b in zip(lo[0], hi[0], strict=True) if not np.isnan(a)]


def test_ideal_pair_is_the_rule_of_mixture():
    # 1/rho = w/10.503 + (1 - w)/8.935: by hand for 10.0 and 10.2 g/cm3
    V, M = law((10.503, 107.868), CU)
    by_hand = [(1 / 8.935 - 1 / rho) / (1 / 8.935 - 1 / 10.503) for rho in (10.0, 10.2)]
    assert intervals(V, M, 0, 0, 1 / 10.2, 1 / 10.0) == [pytest.approx(tuple(by_hand), abs=1e-12)]


def test_cartridge_brass_needs_the_excess_term():
    # published 8.53 g/cm3 for 70/30 (UNS C26000 data sheets); Cu-Zn terms fitted to published brasses,
    # rms 0.10 %, so the band is 8.53 +- 0.15 %
    V, M = law(CU, ZN)
    band = 1 / (8.53 * 1.0015), 1 / (8.53 * 0.9985)
    ((low, high),) = intervals(V, M, -1.116, 0.321, *band)
    assert low < 0.70 < high < 0.72
    ((_, ideal),) = [intervals(V, M, 0, 0, *band)[0]]
    assert not 0.69 < ideal < 0.71


def test_turning_point_inside_gives_two_intervals():
    # a term as strong as that of nickel and zinc in nickel silver: the least v lies inside the pair
    V, M = law(NI, ZN)
    w = np.linspace(0, 1, 200_001)
    v = volume(w, V, M, -2.4, 0)
    turn = w[v.argmin()]
    assert 0.6 < turn < 0.98
    level = (v.min() + V[0] / M[0]) / 2
    first, second = intervals(V, M, -2.4, 0, level, level * 1.0003)
    assert first[1] < turn < second[0]
    ends = volume(np.array([*first, *second]), V, M, -2.4, 0)
    assert ends == pytest.approx(level * np.array([1.0003, 1.0, 1.0, 1.0003]), rel=1e-12)


def test_touching_band_at_the_turning_point_is_one_interval():
    V, M = law(NI, ZN)
    w = np.linspace(0, 1, 2_000_001)
    v = volume(w, V, M, -2.4, 0)
    ((a, b),) = intervals(V, M, -2.4, 0, v.min() * 0.9, v.min() * (1 + 1e-7))
    inside = w[v <= v.min() * (1 + 1e-7)]
    assert (a, b) == pytest.approx((inside[0], inside[-1]), abs=1e-6)


def test_three_intervals():
    # equal metals, only K1: v - v_pure = K1 x (1-x) (2x-1) / M, odd about the middle, zero at 0, 1/2 and 1
    V, M = np.array([10.0, 10.0]), np.array([100.0, 100.0])
    found = intervals(V, M, 0, 1.0, 0.1 - 1e-4, 0.1 + 1e-4)
    assert len(found) == 3
    x = np.sort(np.roots([-2, 3, -1, 0.01]).real)  # x (1-x) (2x-1) = -0.01: two of the ends
    assert found[0] == pytest.approx((0.0, x[x > 0][0]), abs=1e-9)
    assert found[1] == pytest.approx((x[x > 0][1], 1 - x[x > 0][1]), abs=1e-9)
    assert found[2] == pytest.approx((1 - x[x > 0][0], 1.0), abs=1e-9)


def test_k1_sign_refers_to_the_first_metal():
    V, M = law(CU, ZN)
    first = intervals(V, M, -1.116, 0.321, 1 / 8.4, 1 / 8.3)
    turned = intervals(V[::-1], M[::-1], -1.116, -0.321, 1 / 8.4, 1 / 8.3)
    assert turned[0] == pytest.approx((1 - first[0][1], 1 - first[0][0]), abs=1e-12)


def test_single_level_and_pure_metal_at_the_limit():
    V, M = law(CU, ZN)
    ((a, b),) = intervals(V, M, -1.116, 0.321, 1 / 8.4, 1 / 8.4)
    assert a == pytest.approx(b, abs=1e-12)
    assert volume(a, V, M, -1.116, 0.321) == pytest.approx(1 / 8.4, rel=1e-13)
    assert intervals(V, M, 0, 0, 0.1, V[0] / M[0]) == [(1.0, 1.0)]
    assert intervals(V, M, 0, 0, 0.05, 0.06) == []


def test_metals_of_one_density():
    V, M = law((10.0, 60.0), (10.0, 120.0))
    assert intervals(V, M, 0, 0, 0.0999, 0.1001) == [(0.0, 1.0)]
    assert intervals(V, M, 0, 0, 0.101, 0.102) == []


def test_interstitial_has_mass_and_no_volume():
    # 1 % carbon in iron 7.874: v = 0.99 / 7.874
    lo, hi = pair_intervals([55.845 / 7.874, 0.0], [55.845, 12.011], None, None, 0.99 / 7.874, 1.0)
    assert (lo[0, 0], hi[0, 0]) == pytest.approx((0.99, 1.0), abs=1e-12)


def test_order_and_limits_per_pair():
    rng = np.random.default_rng(3)
    M, rho = rng.uniform(30, 200, 7), rng.uniform(4, 20, 7)
    K0 = np.triu(rng.normal(0, 1, (7, 7)), 1)
    K1 = np.triu(rng.normal(0, 0.4, (7, 7)), 1)
    K0, K1 = K0 + K0.T, K1 - K1.T
    v_lo = rng.uniform(0.05, 0.12, 21)
    v_hi = v_lo * rng.uniform(1, 1.1, 21)
    lo, hi = pair_intervals(M / rho, M, K0, K1, v_lo, v_hi)
    assert lo.shape == hi.shape == (21, 3)
    for p, (i, j) in enumerate(zip(*np.triu_indices(7, 1), strict=True)):
        one = intervals((M / rho)[[i, j]], M[[i, j]], K0[i, j], K1[i, j], v_lo[p], v_hi[p])
        assert [x for x in zip(lo[p], hi[p], strict=True) if not np.isnan(x[0])] == [
            pytest.approx(x, abs=1e-11) for x in one
        ]


PAIR = {
    "M": st.tuples(st.floats(10, 250), st.floats(10, 250)),
    "rho": st.tuples(st.floats(1.5, 23), st.floats(1.5, 23)),
    "k0": st.one_of(st.just(0.0), st.floats(-4, 4)),
    "k1": st.one_of(st.just(0.0), st.floats(-2, 2)),
    "at": st.floats(0, 1),
    "width": st.floats(1e-6, 0.1),
}


@settings(max_examples=300, deadline=None)
@given(**PAIR)
def test_against_a_dense_scan(M, rho, k0, k1, at, width):
    M, V = np.array(M), np.array(M) / np.array(rho)
    w = np.linspace(0, 1, 4001)
    v = volume(w, V, M, k0, k1)
    level = float(volume(at, V, M, k0, k1))
    v_lo, v_hi = level - width * abs(level) / 2, level + width * abs(level)
    found = intervals(V, M, k0, k1, v_lo, v_hi)
    slack = 1e-9 * np.abs(v).max()
    covered = np.zeros(len(w), dtype=bool)
    for a, b in found:
        assert 0 <= a <= b <= 1
        covered |= (w >= a - 1e-9) & (w <= b + 1e-9)
        inner = volume(np.linspace(a, b, 50), V, M, k0, k1)
        assert inner.min() >= v_lo - slack
        assert inner.max() <= v_hi + slack
        for end, corner in ((a, 0.0), (b, 1.0)):
            off = min(abs(volume(end, V, M, k0, k1) - limit) for limit in (v_lo, v_hi))
            assert end == corner or off <= slack
    assert covered[(v >= v_lo + slack) & (v <= v_hi - slack)].all()
    assert found == sorted(found)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.floats(-2, 3), min_size=3, max_size=3), st.sampled_from([1.0, -2.5, 1e-6]))
def test_cubic_roots_are_found_where_they_were_put(roots, lead):
    roots = np.sort(roots)
    power = lead * np.poly(roots)[::-1]
    bernstein = np.array([[1, 0, 0, 0], [1, 1 / 3, 0, 0], [1, 2 / 3, 1 / 3, 0], [1, 1, 1, 1]]) @ power
    found = cubic_roots(bernstein[:, None])[:, 0]
    apart = np.min(np.diff(roots)) > 1e-3
    for r in roots[(roots > 1e-6) & (roots < 1 - 1e-6)]:
        if apart:
            assert np.nanmin(np.abs(found - r)) < 1e-9
    for f in found[~np.isnan(found)]:
        assert np.min(np.abs(roots - f)) < (1e-9 if apart else 1e-4)


def test_quadratic_roots_without_leading_term():
    # 2 t - 1 as a quadratic: coefficients -1, 0, 1; and (t - 1/4)(t - 3/4): 3/16, -5/16, 3/16
    roots = quadratic_roots(np.array([[-1.0, 3 / 16], [0.0, -5 / 16], [1.0, 3 / 16]]))
    assert np.nanmin(np.abs(roots[:, 0] - 0.5)) < 1e-15
    assert np.sort(roots[:, 1]) == pytest.approx([0.25, 0.75], abs=1e-15)


V2, M2 = law(CU, ZN)


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"M": [63.5, -1.0]}, "M"),
        ({"V": [7.0]}, "V"),
        ({"V": [7.0, np.nan]}, "V"),
        ({"K0": [[0, 1], [2, 0]]}, "K0"),
        ({"K1": [[0, 1], [1, 0]]}, "K1"),
        ({"K0": [[0, 1, 2], [1, 0, 3], [2, 3, 0]]}, "K0"),
    ],
)
def test_bad_input_names_the_place_in_one_line(change, path):
    call = {"V": V2, "M": M2, "K0": None, "K1": None, "v_lo": 0.11, "v_hi": 0.12} | change
    with pytest.raises(InputError) as error:
        pair_intervals(**call)
    assert error.value.path == path
    assert "\n" not in str(error.value)
