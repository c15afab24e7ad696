"""Materials of skins, strikes, faces and parts: what they are made of, and how they are numbered."""

import numpy as np
import pytest

from alloysolve.alloys.materials import MAGNETIC
from alloysolve.published.load import default_tables
from tests.bodies_of import LAYERS

TABLES = default_tables()
LAW = LAYERS.law
PLAIN = len(LAW.symbols) + sum(r.name not in LAW.index for r in TABLES.rows("skins"))
STRIKES = TABLES.rows("strikes")


def test_the_first_materials_are_the_metals():
    assert LAYERS.names[: len(LAW.symbols)] == LAW.symbols
    assert np.array_equal(LAYERS.w[: len(LAW.symbols)], np.eye(len(LAW.symbols)))
    for symbol, density in (("Au", 19.3), ("Ag", 10.5), ("Cu", 8.94), ("Ni", 8.9), ("W", 19.25), ("Rh", 12.4)):
        assert 1 / LAYERS.v[LAYERS.number(symbol)] == pytest.approx(density, rel=2e-3)  # CRC Handbook, g/cm3
    for symbol, rho in (("Ag", 1.59), ("Cu", 1.68), ("Au", 2.21), ("W", 5.3), ("Zn", 5.9), ("Pb", 20.8)):
        assert LAYERS.resistivity[LAYERS.number(symbol)] == pytest.approx(rho, rel=0.05)  # CRC Handbook, uohm cm


@pytest.mark.parametrize(
    ("name", "density", "resistivity"),
    [  # g/cm3 and uohm cm, of the wrought alloys
        ("gold 750", (15.2, 15.7), (10, 17)),  # 18 ct yellow: 15.4 to 15.5, from memory
        ("gold 585", (13.0, 13.6), (9, 20)),  # 14 ct yellow: 13.07 to 13.4, from memory
        ("silver 925", (10.3, 10.4), (1.7, 2.3)),  # sterling: 10.36; about 88 to 96 %IACS, from memory
        ("copper-nickel", (8.9, 9.0), (32, 38)),  # 8.94; C71300 about 5 %IACS: 34.5, from memory
        ("manganese brass", (8.2, 8.7), (15, 60)),  # of manganese brass, from memory
    ],
)
def test_alloys_of_skins_are_near_their_published_figures(name, density, resistivity):
    k = LAYERS.number(name)
    assert density[0] < 1 / LAYERS.v[k] < density[1]
    assert resistivity[0] < LAYERS.resistivity[k] < resistivity[1]
    composition = {LAW.symbols[i]: 100 * x for i, x in enumerate(LAYERS.w[k]) if x}
    assert composition == pytest.approx(next(r.composition for r in TABLES.rows("skins") if r.name == name))


def test_every_material_is_whole():
    assert LAYERS.w.sum(axis=1) == pytest.approx(np.ones(len(LAYERS.names)))
    assert len(set(LAYERS.names)) == len(LAYERS.names)
    size = len(LAYERS.names)
    for name in ("w", "v", "resistivity", "mu_r", "magnetic", "strike", "strike_um", "group"):
        assert len(getattr(LAYERS, name)) == size, name
    metal = np.array([LAYERS.skin_name(k) not in ("C", "N", "O", "H") for k in range(size)])  # these take no room
    assert (LAYERS.v[metal] > 0.04).all()  # cm3/g: nothing is denser than 25 g/cm3
    assert (LAYERS.resistivity[metal] > 1.5).all()
    assert (LAYERS.mu_r >= 1).all()


def test_what_a_magnet_draws():
    drawn = {n for n, m in zip(LAYERS.names[:PLAIN], LAYERS.magnetic, strict=False) if m}
    assert {"Fe", "Ni", "Co"} <= drawn  # the three metals that are ferromagnetic at room temperature
    assert not drawn & {"Cu", "Ag", "Au", "W", "Zn", "copper-nickel", "gold 750", "silver 925"}
    assert MAGNETIC[LAYERS.magnetic[LAYERS.number("Fe")]] == "strong"
    assert MAGNETIC[LAYERS.magnetic[LAYERS.number("Ni")]] == "slight"  # a plated layer pulls less than steel
    assert LAYERS.mu_r[LAYERS.number("Ni")] == pytest.approx(12)  # of plated nickel, physics/eddy.py
    assert MAGNETIC[LAYERS.magnetic[LAYERS.number("Co")]] == "strong"


def test_plated_nickel_conducts_less_than_annealed_nickel():
    """7.5 to 11 uohm cm from a bath, 6.9 annealed (from memory): the row of the skins stands for the layer."""
    assert 7.5 < LAYERS.resistivity[LAYERS.number("Ni")] < 11
    assert TABLES.metals["Ni"].resistivity_uohm_cm == pytest.approx(6.9, rel=0.03)


def test_there_is_every_skin_over_every_strike():
    assert len(LAYERS.names) == PLAIN * (1 + len(STRIKES))
    assert (LAYERS.strike[:PLAIN] == -1).all()
    assert (LAYERS.strike_um[:PLAIN] == 0).all()
    for block, row in enumerate(STRIKES, start=1):
        here = slice(block * PLAIN, (block + 1) * PLAIN)
        assert (LAYERS.strike[here] == LAYERS.number(row.metal)).all()
        assert (LAYERS.strike_um[here] == row.um).all()
        for name in ("w", "v", "resistivity", "mu_r", "magnetic"):  # the skin is the same with and without
            assert np.array_equal(getattr(LAYERS, name)[here], getattr(LAYERS, name)[:PLAIN]), name


def test_materials_shown_as_one_have_the_same_skin_and_strike_metal():
    groups = {}
    for k, name in enumerate(LAYERS.names):
        groups.setdefault((LAYERS.skin_name(k), LAYERS.strike_name(k)), []).append(k)
        assert LAYERS.skin_name(k) == LAYERS.names[k % PLAIN], name
    assert len(groups) == PLAIN * (1 + len({r.metal for r in STRIKES}))
    for numbers in groups.values():
        assert {int(g) for g in LAYERS.group[numbers]} == {numbers[0]}  # the first of them


def test_a_skin_over_nickel_by_name():
    gold = LAYERS.number("Au")
    over = [k for k, n in enumerate(LAYERS.names) if n.startswith("Au/Ni")]
    assert [LAYERS.strike_um[k] for k in over] == [r.um for r in STRIKES if r.metal == "Ni"]
    for k in over:
        assert (LAYERS.skin_name(k), LAYERS.strike_name(k)) == ("Au", "Ni")
        assert LAYERS.group[k] == LAYERS.number("Au/Ni")
    assert (LAYERS.skin_name(gold), LAYERS.strike_name(gold)) == ("Au", "")
    assert LAYERS.group[gold] == gold
