"""The mixing law of the tables: arrays, interstitials, austenite, terms beside a third metal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from alloysolve.alloys.law import INTERSTITIAL, MixingLaw, law_with, mixing_law
from alloysolve.published.load import default_tables
from alloysolve.published.metals import Pair


@pytest.fixture(scope="module")
def law() -> MixingLaw:
    return mixing_law(default_tables())


def _density(law: MixingLaw, composition: dict[str, float], iron: str = "") -> float:
    return float(1 / law.specific_volume(law.fractions([composition], iron))[0])


def _row(first: str, second: str) -> Pair:
    """The plain row of a pair, whichever metal it names first."""
    return next(r for r in default_tables().rows("pairs") if {r.first, r.second} == {first, second} and not r.beside)


def test_fractions_sum_to_one(law: MixingLaw) -> None:
    w = law.fractions([{"Cu": 70, "Zn": 29.7}, {"Ag": 100}])
    assert w.sum(axis=1) == pytest.approx([1, 1])
    assert w[0, law.index["Cu"]] == pytest.approx(70 / 99.7)


def test_columns_agree_with_fractions(law: MixingLaw) -> None:
    compositions = [{"Fe": 71, "Cr": 19, "Ni": 10}, {"Fe": 64, "Cr": 0, "Ni": 36}]
    percent = np.array([[c["Cr"], c["Fe"], c["Ni"]] for c in compositions])
    for iron in ("", "fcc"):
        found = law.columns(["Cr", "Fe", "Ni"], percent, iron)
        assert found == pytest.approx(law.fractions(compositions, iron))


def test_iron_of_austenite_is_another_column(law: MixingLaw) -> None:
    w = law.fractions([{"Fe": 71, "Cr": 19, "Ni": 10}], "fcc")
    assert w[0, law.index["Fe"]] == 0
    assert w[0, law.index["Fe-fcc"]] == pytest.approx(0.71)


def test_austenite_is_denser_than_ferrite_of_its_composition(law: MixingLaw) -> None:
    """Stainless 304 is 7.93 (data sheets: 7.9 to 8.03); with ferrite's iron it would come out lighter."""
    composition = {"Fe": 71, "Cr": 18.5, "Ni": 8.8, "Mn": 1.2}
    assert _density(law, composition, "fcc") == pytest.approx(7.93, rel=0.015)
    assert _density(law, composition, "fcc") > _density(law, composition) + 0.03


@pytest.mark.parametrize("symbol", [s for s in INTERSTITIAL if s in default_tables().metals])
def test_interstitials_count_mass_but_no_volume(law: MixingLaw, symbol: str) -> None:
    assert law.molar_volume[law.index[symbol]] == 0
    with_it = _density(law, {"Fe": 99, symbol: 1})
    assert with_it == pytest.approx(7.874 / 0.99, rel=0.004)  # iron's cell, and one part in 99 more mass


def test_symmetry_of_the_terms(law: MixingLaw) -> None:
    for matrix in (law.k0, law.c0, law.c2, law.u_k, law.u_c):
        assert np.array_equal(matrix, matrix.T)
        assert not matrix.diagonal().any()
    for matrix in (law.k1, law.c1):
        assert np.array_equal(matrix, -matrix.T)
        assert matrix.any()


@pytest.mark.parametrize("pair", [("Cu", "Zn"), ("Zn", "Cu"), ("Ag", "Au"), ("Cu", "Sn")])
def test_a_pair_follows_its_row(law: MixingLaw, pair: tuple[str, str]) -> None:
    """Specific volume and resistivity of 60 mass percent of one metal, from the row by hand."""
    row = _row(*pair)
    metals = default_tables().metals
    n = {s: w / metals[s].molar_mass_g_mol for s, w in zip(pair, (0.6, 0.4), strict=True)}
    total = sum(n.values())
    x1, x2 = n[row.first] / total, n[row.second] / total
    ideal = 0.6 / metals[pair[0]].density_g_cm3 + 0.4 / metals[pair[1]].density_g_cm3
    v = ideal + total * x1 * x2 * (row.excess_0_cm3_mol + row.excess_1_cm3_mol * (x1 - x2))
    rho = sum(n[s] / total * (metals[s].resistivity_uohm_cm or 0) for s in pair)
    rho += (
        x1
        * x2
        * (
            row.resistivity_0_uohm_cm
            + row.resistivity_1_uohm_cm * (x1 - x2)
            + row.resistivity_2_uohm_cm * (x1 - x2) ** 2
        )
    )
    w = law.fractions([{pair[0]: 60, pair[1]: 40}])
    assert law.specific_volume(w)[0] == pytest.approx(v, rel=1e-12)
    assert law.resistivity_of(w)[0][0] == pytest.approx(rho, rel=1e-12)


def test_scatter_of_a_triple_adds_the_squares_of_its_pairs(law: MixingLaw) -> None:
    symbols, part = ("Au", "Ag", "Pd"), (50, 30, 20)
    w = law.fractions([dict(zip(symbols, part, strict=True))])
    n = np.array([p / 100 / law.molar_mass[law.index[s]] for s, p in zip(symbols, part, strict=True)])
    x = n / n.sum()
    volume = float(x @ [law.molar_volume[law.index[s]] for s in symbols])
    squares, squares_rho = 0.0, 0.0
    for i, j in ((0, 1), (0, 2), (1, 2)):
        a, b = law.index[symbols[i]], law.index[symbols[j]]
        squares += (x[i] * x[j] * law.u_k[a, b]) ** 2
        squares_rho += (x[i] * x[j] * law.u_c[a, b]) ** 2
    rho, u_rho = law.resistivity_of(w)
    assert law.u_pairs(w)[0] == pytest.approx(np.sqrt(squares) / volume, rel=1e-12)
    assert u_rho[0] * rho[0] == pytest.approx(np.sqrt(squares_rho), rel=1e-12)


def test_nickel_zinc_term_holds_only_beside_copper(law: MixingLaw) -> None:
    i, j = law.index["Ni"], law.index["Zn"]
    (term,) = [t for t in law.conditional if {t[0], t[1]} == {i, j}]
    assert term[2] == law.index["Cu"]
    assert term[3] == pytest.approx(0.40)
    plain = replace(law, conditional=())
    below, above = (law.fractions([{"Cu": c, "Ni": 18, "Zn": 82 - c}]) for c in (39, 55))
    assert law.specific_volume(below) == pytest.approx(plain.specific_volume(below), rel=1e-14)
    n = above[0] / law.molar_mass
    change = law.specific_volume(above)[0] - plain.specific_volume(above)[0]
    assert change == pytest.approx(term[4] * n[i] * n[j] / n.sum(), rel=1e-9)
    assert change < 0  # nickel silver is denser than its pairs say


def test_conditional_row_gives_the_whole_term(law: MixingLaw) -> None:
    """The row beside copper states the term itself, not a change."""
    row = next(r for r in default_tables().rows("pairs") if r.beside)
    i, j = law.index[row.first], law.index[row.second]
    (term,) = [t for t in law.conditional if {t[0], t[1]} == {i, j}]
    assert law.k0[i, j] + term[4] == pytest.approx(row.excess_0_cm3_mol)


def test_two_phases_raise_the_resistivity_of_silver_copper(law: MixingLaw) -> None:
    (_, _, share, scale) = next(t for t in law.two_phase if {t[0], t[1]} == {law.index["Ag"], law.index["Cu"]})
    plain = replace(law, two_phase=())
    for silver in (99.0, 92.5, 50.0, 7.5):
        w = law.fractions([{"Ag": silver, "Cu": 100 - silver}])
        ratio = law.resistivity_of(w)[0] / plain.resistivity_of(w)[0]
        assert ratio == pytest.approx(1 + share * (1 - np.exp(-min(silver, 100 - silver) / 100 / scale)))


def test_two_phase_factor_fades_where_a_third_metal_dissolves_both(law: MixingLaw) -> None:
    plain = replace(law, two_phase=())
    w = law.fractions([{"Au": 75, "Ag": 15, "Cu": 10}])
    ratio = law.resistivity_of(w)[0] / plain.resistivity_of(w)[0]
    share = law.two_phase[0][2]
    assert ratio == pytest.approx(1 + 0.25 * share, rel=1e-3)


def test_resistivity_stays_above_a_part_of_the_linear_rule(law: MixingLaw) -> None:
    sunk = replace(law, c0=law.c0 - 1000.0)
    w = law.fractions([{"Cu": 50, "Zn": 50}])
    x = w[0] / law.molar_mass / (w[0] / law.molar_mass).sum()
    assert sunk.resistivity_of(w)[0][0] == pytest.approx(0.3 * float(x @ law.resistivity))


def test_law_with_the_shipped_rows_is_the_mixing_law(law: MixingLaw) -> None:
    again = law_with(default_tables(), default_tables().rows("pairs"))
    w = law.fractions([g.composition for g in default_tables().grades.values()])
    assert np.array_equal(again.specific_volume(w), law.specific_volume(w))
    assert np.array_equal(again.resistivity_of(w)[0], law.resistivity_of(w)[0])


def test_law_with_other_rows_follows_them() -> None:
    rows = default_tables().rows("pairs")
    row = _row("Cu", "Zn")
    heavier = [r._replace(excess_0_cm3_mol=r.excess_0_cm3_mol - 0.1) if r == row else r for r in rows]
    plain, changed = law_with(default_tables(), rows), law_with(default_tables(), heavier)
    brass = {"Cu": 70.0, "Zn": 30.0}
    assert _density(changed, brass) > _density(plain, brass)
    assert _density(changed, {"Cu": 100}) == pytest.approx(8.935)
