"""What is believed before any reading: it sums to 1, by every kind, claim and name."""

import math

import numpy as np
import pytest

from alloysolve.access import default_tables
from alloysolve.errors import InputError
from alloysolve.inverse.bodies import all_bodies
from alloysolve.inverse.claims import METAL_NAMES, parse_claim
from alloysolve.inverse.priors import (
    CLAIM_SLACK,
    SKIN_NODES,
    VOID_NODES,
    claim_bodies,
    family_weights,
    plated_claim_bodies,
    prior_of,
)

TABLES = default_tables()
CLAIMS = [
    None,
    "silver 999",
    "sterling",
    "gold 999",
    "18 ct",
    "platinum 950",
    "palladium 950",
    "brass",
    "JP-5y",
    "gold plated",
    "silver plated",
    "vermeil",
    "gold filled 1/20 14 ct",
    "9 ct rose gold chain",
]


def prior(text, hollow=False, name="default"):
    return prior_of(TABLES, parse_claim(text, TABLES) if text else None, hollow, name)


def total(p):
    return p.homogeneous.sum() + p.hollow.sum() + sum(x.sum() for x in p.plated.values()) + p.other


@pytest.mark.parametrize("text", CLAIMS)
@pytest.mark.parametrize("hollow", [False, True])
@pytest.mark.parametrize("name", ["default", "flat"])
def test_shares_sum_to_one(text, hollow, name):
    p = prior(text, hollow, name)
    assert total(p) == pytest.approx(1.0, abs=1e-9)
    assert p.other > 0
    arrays = [p.homogeneous, p.hollow, *p.plated.values()]
    assert all(a.min() >= 0 for a in arrays)


@pytest.mark.parametrize("kind", TABLES.kinds.values(), ids=lambda k: k.kind)
def test_rows_of_the_kinds_sum_to_one(kind):
    # beside the claim: less fine, constructions of families, arbitrary pairs and triples, something else
    of_families = kind.homogeneous + kind.plated + kind.hollow
    assert kind.less_fine + of_families + kind.pairs + kind.triples + kind.other == pytest.approx(1.0)


@pytest.mark.parametrize("text", CLAIMS)
def test_shares_by_system_and_construction_add_up(text):
    p = prior(text)
    shares = p.shares
    assert shares.by_system.sum() + p.other == pytest.approx(1.0, abs=1e-9)
    assert np.sum(list(shares.by_kind.values()), axis=0) == pytest.approx(shares.by_system, abs=1e-15)
    outside = ~p.meets_claim
    inside_too = p.shares_among(outside).by_system + p.shares_among(~outside).by_system
    assert inside_too == pytest.approx(shares.by_system, abs=1e-15)
    brass = p.bodies.systems.index(("Cu", "Zn"))
    mine = p.bodies.system == brass
    assert shares.by_system[brass] == pytest.approx(
        p.homogeneous[mine].sum() + p.hollow[mine].sum() + sum(x[mine].sum() for x in p.plated.values())
    )


def of_claim(p):
    """Mask of the points of the claim's own region: they stand last."""
    own = 0 if p.claim_bodies is None else len(p.claim_bodies.v)
    return np.arange(len(p.bodies.v)) >= len(p.bodies.v) - own


@pytest.mark.parametrize("text", ["silver 999", "18 ct", "platinum 950", "brass"])
def test_the_claim_has_its_share_and_may_be_hollow(text):
    kind = TABLES.kinds[parse_claim(text, TABLES).kind]
    solid, either = prior(text), prior(text, hollow=True)
    assert solid.homogeneous[of_claim(solid)].sum() == pytest.approx(kind.claim)
    assert solid.hollow[of_claim(solid)].sum() == 0
    assert either.homogeneous[of_claim(either)].sum() == pytest.approx(kind.claim / 2)
    assert either.hollow[of_claim(either)].sum() == pytest.approx(kind.claim / 2)
    assert not any(x[of_claim(solid)].any() for x in solid.plated.values())


def test_a_plated_claim_believes_in_its_skin_only():
    p = prior("gold plated")
    assert [p.bodies.law.symbols[k] for k in p.plated] == ["Au"]
    assert p.plated[p.bodies.law.index["Au"]].sum() > 0.5
    assert p.claim_bodies is None
    assert not of_claim(p).any()
    assert not p.meets_claim.any()


def test_no_body_is_plated_with_its_own_metal():
    p = prior(None)
    for skin, share in p.plated.items():
        of_skin = p.bodies.w[:, skin] > 0.9
        assert of_skin.any()
        assert share[of_skin].sum() == pytest.approx(0.0, abs=1e-15)


def test_shares_of_skins_are_those_of_the_table():
    p = prior(None)
    kind = TABLES.kinds["none"]
    whole = sum(kind.skins.values())
    for symbol, share in kind.skins.items():
        of_skin = p.plated[p.bodies.law.index[symbol]].sum()
        assert of_skin == pytest.approx(kind.plated * share / whole, rel=1e-9)


def test_flat_gives_every_family_the_same():
    flat = family_weights(TABLES, "silver", "flat")
    assert set(flat) == set(TABLES.families)
    assert set(flat.values()) == {1 / len(TABLES.families)}
    words = {w.word: w.weight for w in TABLES.rows("commonness")}
    usual = family_weights(TABLES, "silver", "default")
    assert sum(usual.values()) == pytest.approx(1.0)
    brass, heavy = (words[TABLES.families[f].silver] for f in ("brass", "W heavy alloy"))
    assert usual["brass"] / usual["W heavy alloy"] == pytest.approx(brass / heavy)


def test_an_unknown_prior_is_refused():
    with pytest.raises(InputError) as e:
        prior("silver 999", name="hopeful")
    assert (e.value.path, e.value.given) == ("prior", "hopeful")


def test_meets_claim_is_a_matter_of_the_claimed_metal():
    p = prior("sterling")
    silver = p.bodies.w[:, p.bodies.law.index["Ag"]]
    assert np.array_equal(p.meets_claim, of_claim(p) | (silver >= 0.925 - CLAIM_SLACK))
    brass = prior("brass")
    named = np.array([n == "brass" for n in brass.bodies.names])[brass.bodies.family]
    assert np.array_equal(brass.meets_claim, named | of_claim(brass))


def test_finer_is_beyond_the_region_of_the_claim():
    p = prior("gold 14 ct yellow")
    gold = p.bodies.w[:, p.bodies.law.index["Au"]]
    assert p.finer[gold > 0.7].all()
    assert not p.finer[gold < 0.58].any()
    assert not p.finer[of_claim(p)].any()
    assert not prior("silver 999").finer.any()


@pytest.mark.parametrize("text", ["silver 999", "platinum 950", "brass"])
def test_alternatives_are_what_does_not_meet_the_claim(text):
    p = prior(text)
    others = p.alternatives(np.zeros(len(SKIN_NODES)))  # skins of no volume: the bodies themselves
    outside = ~p.meets_claim
    expected = p.homogeneous[outside].sum() + p.hollow[outside].sum() + sum(x[outside].sum() for x in p.plated.values())
    assert others.prior.sum() == pytest.approx(expected, rel=1e-9)
    assert sum(share for _, share in VOID_NODES) == pytest.approx(1.0)
    assert sum(share for _, share in SKIN_NODES) == pytest.approx(1.0)
    least = p.claim_bodies.w[:, p.bodies.law.index["Ag"]].min() if text == "silver 999" else None
    if least:  # no alternative is as heavy as silver and conducts like it
        like_silver = (np.abs(others.v * 10.49 - 1) < 1e-3) & (np.abs(np.log(others.resistivity / 1.59)) < 0.02)
        assert others.prior[like_silver].sum() < 1e-3


def test_alternatives_read_as_skins_and_voids_make_them():
    p = prior("silver 999")
    part = np.array([0.1, 0.2, 0.3])
    others = p.alternatives(part)
    silver = p.bodies.law.index["Ag"]
    point = np.flatnonzero((p.plated[silver] > 0) & ~p.meets_claim)[0]
    rho_skin = p.bodies.law.molar_mass[silver] / p.bodies.law.molar_volume[silver]
    for share in part:
        predicted = 1 / ((1 - share) / p.bodies.v[point] + share * rho_skin)
        assert np.any(np.isclose(others.v, predicted, rtol=1e-12))
    hollow = np.flatnonzero((p.hollow > 0) & ~p.meets_claim)[0]
    assert np.any(np.isclose(others.v, p.bodies.v[hollow] / 0.9, rtol=1e-12))


@pytest.mark.parametrize("row", TABLES.rows("claims"), ids=lambda r: r.claim)
def test_bodies_of_a_claim_lie_in_its_region(row):
    claim = parse_claim(row.claim, TABLES)
    bodies = claim_bodies(TABLES, claim)
    index = bodies.law.index
    assert bodies.w.sum(axis=1) == pytest.approx(1.0)
    for symbol in TABLES.metals:
        low, high = row.limits.get(symbol, (0.0, 0.0))
        share = 100 * bodies.w[:, index[symbol]]
        if symbol == next(iter(row.limits)):  # the balance takes up what the others leave
            low = min(low, 100 - sum(x[0] for s, x in row.limits.items() if s != symbol))
        assert share.min() >= low - 1e-6, symbol
        assert share.max() <= high + 1e-6, symbol


def test_a_coin_of_nickel_is_attracted_and_one_of_silver_is_not():
    # nickel is ferromagnetic up to 354 degC (CRC Handbook of Chemistry and Physics)
    nickel = claim_bodies(TABLES, parse_claim("CA-5c-Ni", TABLES))
    silver = claim_bodies(TABLES, parse_claim("CA-5c-Ag925", TABLES))
    assert set(nickel.magnetic) == {2}
    assert set(silver.magnetic) == {0}


def test_bodies_under_a_claimed_skin():
    filled = plated_claim_bodies(TABLES, parse_claim("gold filled 1/20 14 ct", TABLES))
    bare = all_bodies(TABLES)
    family = filled.names[filled.family[0]]
    point = int(np.flatnonzero(np.all(bare.w == filled.w[0], axis=1))[0])
    low, high = 12.4, 14.8  # g/cm3, 14 ct gold of every colour: common practice, no source
    skin = (filled.v[0] - 0.95 * bare.v[point]) / 0.05  # one twentieth of the mass
    assert low < 1 / skin < high
    precious = {n for n, f in TABLES.families.items() if f.system.split()[0] in METAL_NAMES}
    assert not {filled.names[i] for i in set(filled.family)} & precious
    assert family in TABLES.families
    assert claim_bodies(TABLES, parse_claim("gold filled 1/20 14 ct", TABLES)) is None


def test_vermeil_has_a_body_of_silver():
    bodies = plated_claim_bodies(TABLES, parse_claim("vermeil", TABLES))
    assert bodies.w[:, bodies.law.index["Ag"]].min() >= 0.925 - 1e-9
    assert math.isclose(1 / bodies.v.mean(), 10.36, rel_tol=0.01)  # sterling, handbook value 10.36 g/cm3
