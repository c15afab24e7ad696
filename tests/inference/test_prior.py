"""What is believed before any reading: it sums to 1, by every kind, claim and name."""

import json
import math

import numpy as np
import pytest

from alloysolve.alloys.families import all_bodies
from alloysolve.answer.collect import prior_hash
from alloysolve.answer.solution import solve
from alloysolve.errors import InputError
from alloysolve.inference.claim_regions import CLAIM_SLACK
from alloysolve.inference.claimed import claim_bodies, claim_candidates
from alloysolve.inference.commonness import DEFAULT, FLAT, family_weights, named_prior
from alloysolve.inference.covered import spans_of
from alloysolve.inference.prior import prior_of
from alloysolve.inputs.claim import METAL_NAMES, parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.pieces.constructions import ASSEMBLED, CLAD, CONSTRUCTIONS, CORED, ENRICHED, HOLLOW, HOMOGENEOUS, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.published.load import Tables, default_tables
from alloysolve.readings.base import BODY, STRIKES, SURFACE
from tests.rows import every

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
    return prior_of(TABLES, parse_claim(text, TABLES) if text else None, hollow, named_prior(name))


FORM = Form("disc", (38.6, 3.0))


def of(p, construction):
    """Share of each point in one construction, all materials together."""
    return sum((b.share for b in p.plain if b.construction == construction), np.zeros(len(p.bodies.v)))


def skins(p):
    plated = [b for b in p.plain if b.construction == PLATED]
    return {k: sum(b.share for b in plated if b.skin == k) for k in {b.skin for b in plated}}


@pytest.mark.parametrize("text", CLAIMS)
@pytest.mark.parametrize("hollow", [False, True])
@pytest.mark.parametrize("name", ["default", "flat"])
def test_shares_sum_to_one(text, hollow, name):
    p = prior(text, hollow, name)
    assert p.other > 0
    for level in p.levels:  # whatever the readings can tell apart
        assert sum(b.share.sum() for b in level) + p.other == pytest.approx(1.0, abs=1e-9)
        assert all(b.share.min() >= 0 for b in level)


@pytest.mark.parametrize("kind", TABLES.claim_priors.values(), ids=lambda k: k.kind)
def test_rows_of_the_kinds_sum_to_one(kind):
    # beside the claim: less fine, constructions of families, arbitrary pairs and triples, something else
    of_families = sum(getattr(kind, c.key) for c in CONSTRUCTIONS if c.key != "enriched")  # enriched: of the bare ones
    assert kind.less_fine + of_families + kind.pairs + kind.triples + kind.other == pytest.approx(1.0)


@pytest.mark.parametrize("text", CLAIMS)
def test_shares_by_system_and_construction_add_up(text):
    p = prior(text)
    shares = p.shares
    assert shares.by_system.sum() + p.other == pytest.approx(1.0, abs=1e-9)
    for by_kind in shares.by_kind:
        assert np.sum(list(by_kind.values()), axis=0) == pytest.approx(shares.by_system, abs=1e-12)
    beside = p.shares_beside.by_system
    assert np.all(beside <= shares.by_system + 1e-12)
    assert (beside.sum() < shares.by_system.sum() - 0.1) == (parse_claim(text, TABLES) is not None if text else False)
    brass = p.bodies.systems.index(("Cu", "Zn"))
    mine = p.bodies.system == brass
    assert shares.by_system[brass] == pytest.approx(sum(b.share[mine].sum() for b in p.plain))


def of_claim(p):
    """Mask of the points of the claim's own region: they stand last."""
    own = 0 if p.claim_bodies is None else len(p.claim_bodies.v)
    return np.arange(len(p.bodies.v)) >= len(p.bodies.v) - own


@pytest.mark.parametrize("text", ["silver 999", "18 ct", "platinum 950", "brass"])
def test_the_claim_has_its_share_and_may_be_hollow(text):
    kind = TABLES.claim_priors[parse_claim(text, TABLES).kind]
    solid, either = prior(text), prior(text, hollow=True)
    assert solid.homogeneous[of_claim(solid)].sum() == pytest.approx(kind.claim)
    assert of(solid, HOLLOW)[of_claim(solid)].sum() == 0
    assert either.homogeneous[of_claim(either)].sum() == pytest.approx(kind.claim / 2)
    assert of(either, HOLLOW)[of_claim(either)].sum() == pytest.approx(kind.claim / 2)
    assert not of(solid, PLATED)[of_claim(solid)].any()


def test_a_plated_claim_believes_in_its_skin_only():
    p = prior("gold plated")
    assert {p.layers.names[k] for k in p.skins} >= {"Au", "gold 750", "gold 585", "gold 375"}  # no carat is said
    assert of(p, PLATED).sum() > 0.5
    assert {prior("14 ct gold plated").layers.names[k] for k in prior("14 ct gold plated").skins} == {"gold 585"}
    assert p.claim_bodies is None
    assert not of_claim(p).any()
    assert not p.meets_claim.any()


def test_no_body_is_plated_with_its_own_metal():
    p = prior(None)
    metals = {skin: share for skin, share in skins(p).items() if skin < p.bodies.w.shape[1]}
    assert len(metals) > 5  # the others are no metals: titanium nitride, lacquer
    for skin, share in metals.items():
        of_skin = p.bodies.w[:, skin] > 0.9
        assert of_skin.any()
        assert share[of_skin].sum() == pytest.approx(0.0, abs=1e-15)


def test_shares_of_skins_are_those_of_the_table():
    p = prior(None)
    kind = TABLES.claim_priors["none"]
    whole = sum(kind.skins.values())
    for symbol, share in kind.skins.items():
        of_skin = skins(p)[p.layers.number(symbol)].sum()
        assert of_skin == pytest.approx(kind.plated * share / whole, rel=1e-9)


def test_flat_gives_every_family_the_same():
    flat = family_weights(TABLES, "silver", FLAT)
    assert set(flat) == set(TABLES.families)
    assert set(flat.values()) == {1 / len(TABLES.families)}
    words = {w.word: w.weight for w in TABLES.rows("commonness")}
    usual = family_weights(TABLES, "silver", DEFAULT)
    assert sum(usual.values()) == pytest.approx(1.0)
    brass, heavy = (words[TABLES.families[f].silver] for f in ("brass", "tungsten heavy alloy"))
    assert usual["brass"] / usual["tungsten heavy alloy"] == pytest.approx(brass / heavy)


def test_a_prior_of_ones_own_is_a_file(tmp_path):
    file = tmp_path / "own.csv"
    file.write_text("family,weight\nbrass,3\nlead,1\n")
    shares = family_weights(TABLES, "silver", named_prior(file))
    assert (shares["brass"], shares["lead"]) == pytest.approx((0.75, 0.25), rel=1e-3)
    assert sum(shares.values()) == pytest.approx(1)
    assert shares["zinc"] < 1e-5
    s = solve(Piece(density="8.53 +- 0.2 g/cm3"), Settings(), prior=str(file))
    assert s.found[0].metals == ("Cu", "Zn")
    assert {m for f in s.found[:1] for m in f.metals} <= {"Cu", "Zn"}
    hashed = json.loads(s.to_json())["prior"]["sha256"]
    file.write_text("family,weight\nbrass,2\nlead,1\n")
    assert prior_hash(TABLES, named_prior(file)) != hashed


@pytest.mark.parametrize(
    ("text", "path", "given"),
    [
        ("family,weight\nbras,3\n", "line 2", "bras"),
        ("family,weight\nbrass,3\nlead,-1\n", "line 3", "-1"),
        ("family,weight\nbrass,much\n", "line 2", "much"),
        ("family,weight\nbrass,0\n", "prior", None),
        ("", "line 1", ""),
        ("family;weight\nbrass;3\n", "line 1", "family;weight"),
    ],
)
def test_a_bad_file_of_weights_names_the_line(tmp_path, text, path, given):
    file = tmp_path / "own.csv"
    file.write_text(text)
    with pytest.raises(InputError) as e:
        family_weights(TABLES, "silver", named_prior(file))
    assert e.value.path.endswith(path)
    assert given is None or e.value.given == given


def test_a_file_that_is_not_there_is_refused():
    with pytest.raises(InputError, match="can be read"):
        family_weights(TABLES, "silver", named_prior("nowhere.csv"))


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
    others = p.alternatives(FORM)
    outside = ~p.meets_claim
    # a shell as claimed with a slug is not what is claimed; joined parts do not make it another metal
    expected = sum(
        b.share.sum() if b.construction == CORED else b.share[outside].sum()
        for b in p.plain
        if b.construction != ASSEMBLED
    )
    assert others.prior.sum() == pytest.approx(expected, rel=1e-9)
    least = p.claim_bodies.w[:, p.bodies.law.index["Ag"]].min() if text == "silver 999" else None
    if least:  # no alternative is as heavy as silver and conducts like it
        bare = others.candidates.of(HOMOGENEOUS)
        rho = others.candidates.bodies.resistivity[others.candidates.point]
        like_silver = bare & (np.abs(others.candidates.v * 10.49 - 1) < 1e-3) & (np.abs(np.log(rho / 1.59)) < 0.02)
        assert others.prior[like_silver].sum() < 1e-3


def test_alternatives_read_as_skins_and_voids_make_them():
    p = prior("silver 999")
    others = p.alternatives(FORM)
    silver = p.bodies.law.index["Ag"]
    point = np.flatnonzero((skins(p)[silver] > 0) & ~p.meets_claim)[0]
    rho_skin = p.bodies.law.molar_mass[silver] / p.bodies.law.molar_volume[silver]
    for um, _ in CONSTRUCTIONS[PLATED].typical:  # share of the layer in a disc of 38.6 x 3 mm, by elementary geometry
        share = 1 - (1 - 2 * um / 38600) ** 2 * (1 - 2 * um / 3000)
        predicted = 1 / ((1 - share) / p.bodies.v[point] + share * rho_skin)
        assert np.any(np.isclose(others.candidates.v, predicted, rtol=1e-9))
    hollow = np.flatnonzero((of(p, HOLLOW) > 0) & ~p.meets_claim)[0]
    assert np.any(np.isclose(others.candidates.v, p.bodies.v[hollow] / 0.9, rtol=1e-12))


@every("row", TABLES.rows("claims"), called=lambda r: r.claim)
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


@pytest.mark.parametrize(
    ("claim", "composition", "system"),
    [  # coin acts: gold 900 with copper alone, old gold 900 with silver alone or with both; sterling; 14 ct green
        ("gold 900", {"Au": 90, "Cu": 10}, "Au Cu"),
        ("gold 900", {"Au": 90, "Ag": 10}, "Ag Au"),
        ("gold 900", {"Au": 90, "Ag": 5, "Cu": 5}, "Ag Au Cu"),
        ("silver 925", {"Ag": 94, "Cu": 6}, "Ag Cu"),  # silver-copper, though 94.9/4.1/1 is thinkable too
        ("gold 14 ct green", {"Au": 58.5, "Ag": 41.5}, "Ag Au"),
    ],
)
def test_each_composition_of_a_claim_names_its_own_system(claim, composition, system):
    bodies = claim_bodies(TABLES, parse_claim(claim, TABLES))
    wanted = bodies.law.fractions([composition])
    nearest = int(np.abs(bodies.w - wanted).sum(axis=1).argmin())
    assert " ".join(bodies.systems[bodies.system[nearest]]) == system


def test_a_coin_of_nickel_is_attracted_and_one_of_silver_is_not():
    # nickel is ferromagnetic up to 354 degC (CRC Handbook of Chemistry and Physics)
    nickel = claim_bodies(TABLES, parse_claim("CA-5c-Ni", TABLES))
    silver = claim_bodies(TABLES, parse_claim("CA-5c-Ag925", TABLES))
    assert set(nickel.magnetic) == {2}
    assert set(silver.magnetic) == {0}


def test_bodies_under_a_claimed_skin():
    claim = parse_claim("gold filled 1/20 14 ct", TABLES)
    bonded = claim_candidates(TABLES, claim, None, FORM, 0)
    bare = all_bodies(TABLES)
    low, high = 12.4, 14.8  # g/cm3, 14 ct gold of every colour: common practice, no source
    skin = (bonded.v - (1 - bonded.mass_part) * bare.v[bonded.point]) / bonded.mass_part
    assert np.median(bonded.mass_part) == pytest.approx(1 / 20, rel=2e-3)  # by table of thicknesses
    assert (low < 1 / skin).all()
    assert (1 / skin < high).all()
    precious = {n for n, f in TABLES.families.items() if f.system.split()[0] in METAL_NAMES}
    assert not {bare.names[i] for i in set(bare.family[bonded.point])} & precious
    assert claim_bodies(TABLES, parse_claim("gold filled 1/20 14 ct", TABLES)) is None


def test_vermeil_has_a_body_of_silver():
    bodies = claim_candidates(TABLES, parse_claim("vermeil", TABLES), None, FORM, 0).bodies
    assert bodies.w[:, bodies.law.index["Ag"]].min() >= 0.925 - 1e-9
    assert math.isclose(1 / bodies.v.mean(), 10.36, rel_tol=0.01)  # sterling, handbook value 10.36 g/cm3


def rest_of(kind):
    """What the claim leaves to each column of the kinds, beside "something else"."""
    return (1 - kind.claim - kind.other) / (1 - kind.other)


@pytest.mark.parametrize("text", ["silver 925", "gold 18 ct yellow", "platinum 950"])
def test_slugs_and_joined_parts_go_into_a_body_as_claimed(text):
    p, kind = prior(text), TABLES.claim_priors[parse_claim(text, TABLES).kind]
    for construction, word in ((CORED, "cored"), (ASSEMBLED, "assembled")):
        rows = {p.layers.number(r.part): r for r in TABLES.rows("inserts") if r.construction == word}
        found = {b.skin: b for b in p.plain if b.construction == construction}
        weights = {k: getattr(r, kind.kind) for k, r in rows.items() if getattr(r, kind.kind)}
        assert set(found) == set(weights)
        assert of(p, construction).sum() == pytest.approx(rest_of(kind) * getattr(kind, word))
        for k, b in found.items():
            assert not b.share[~of_claim(p)].any()
            assert b.spans == ((1.0, rows[k].least, rows[k].most),)
            assert b.share.sum() / of(p, construction).sum() == pytest.approx(weights[k] / sum(weights.values()))


@pytest.mark.parametrize("text", [None, "brass", "gold plated"])
def test_without_a_claim_on_a_body_nothing_is_cored(text):
    assert not {CORED, ASSEMBLED} & {b.construction for b in prior(text).plain}


@pytest.mark.parametrize("text", ["silver 925", "gold 18 ct yellow", None])
def test_surfaces_of_silver_and_gold_alloys_may_be_finer_than_the_body(text):
    p, kind = prior(text), TABLES.claim_priors[parse_claim(text, TABLES).kind if text else "none"]
    assert ENRICHED not in {b.construction for level in p.levels[:SURFACE] for b in level}
    found = [b for b in p.levels[SURFACE] if b.construction == ENRICHED]
    bare = next(b for b in p.levels[SURFACE] if b.construction == HOMOGENEOUS)
    assert {p.layers.names[b.skin] for b in found} == {"Ag", "Au"}
    for b in found:
        at = p.bodies.law.index[p.layers.names[b.skin]]
        some = b.share > 0
        assert np.all(p.bodies.w[some].argmax(axis=1) == at)
        assert p.bodies.w[some, at].max() < 0.995  # there is nothing to take out of fine metal
        assert b.share[some] == pytest.approx(kind.enriched * p.homogeneous[some])
        assert bare.share[some] == pytest.approx((1 - kind.enriched) * p.homogeneous[some])


@pytest.mark.parametrize("text", ["silver 999", "gold plated", None])
def test_strikes_take_their_share_of_skins_where_a_reading_shows_them(text):
    p, kind = prior(text), TABLES.claim_priors[parse_claim(text, TABLES).kind if text else "none"]
    whole = {p.layers.names[k]: share.sum() for k, share in skins(p).items()}
    brushed_on = {"fire gilding", "lacquer"}  # everything else is plated
    for level, metals in ((STRIKES, {"Ni"}), (SURFACE, {"Ni", "Cu"})):
        plated = [b for b in p.levels[level] if b.construction == PLATED]
        for row in TABLES.rows("strikes"):
            for skin, share in whole.items():
                here = (skin, row.metal, row.um)
                mine = sum(
                    b.share.sum()
                    for b in plated
                    if here == (p.layers.skin_name(b.skin), p.layers.strike_name(b.skin), p.layers.strike_um[b.skin])
                )
                there = row.metal in metals and row.metal != skin and skin not in brushed_on
                expected = pytest.approx(getattr(row, kind.kind) * share if there else 0.0)
                assert mine == expected, (level, skin, row.metal, row.um)


def test_clad_stock_has_its_core_and_its_spread():
    p, kind = prior(None), TABLES.claim_priors["none"]
    found = {b.skin: b for b in p.plain if b.construction == CLAD}
    stock = {p.layers.number(r.faces): r for r in TABLES.rows("clad")}
    assert set(found) == set(stock)
    assert of(p, CLAD).sum() == pytest.approx(rest_of(kind) * kind.clad)
    for skin, b in found.items():
        core = {"silver 209": "billon"}.get(stock[skin].core, stock[skin].core)  # the nearest bodies to a composition
        assert {p.bodies.names[i] for i in p.bodies.family[b.share > 0]} == {core}
        ((_, low, high),) = b.spans
        assert (low + high) / 2 == pytest.approx(stock[skin].share)
        assert (high - low) / math.sqrt(12) == pytest.approx(stock[skin].u_share)  # standard deviation, even spread


def test_a_clad_coin_is_not_its_own_alternative():
    claim = parse_claim("US-25c-clad", TABLES)
    p = prior("US-25c-clad")
    assert of(p, CLAD).sum() > 0.4
    others = p.alternatives(FORM).candidates
    assert p.layers.number("copper-nickel") not in others.skin[others.of(CLAD)]
    assert p.layers.number("manganese brass") in others.skin[others.of(CLAD)]
    assert claim_candidates(TABLES, claim, None, FORM, 0).of(CLAD).all()
    plated = prior("gold plated").alternatives(FORM).candidates
    under = {plated.bodies.names[i] for i in plated.bodies.family[plated.point[plated.of(PLATED)]]}
    assert "silver-copper" in under  # gold on silver is more than was claimed, but it is another thing
    assert not under & {"brass", "copper", "nickel silver"}


def test_what_is_claimed_may_have_a_finer_surface_where_a_reading_shows_it():
    claim = parse_claim("silver 925", TABLES)
    own = claim_bodies(TABLES, claim)
    assert set(claim_candidates(TABLES, claim, own, FORM, BODY).construction) == {HOMOGENEOUS}
    seen = claim_candidates(TABLES, claim, own, FORM, SURFACE)
    assert set(seen.construction) == {HOMOGENEOUS, ENRICHED}
    assert seen.parameter.max() <= 30  # um: depth bound of surface enrichment
    fine = parse_claim("silver 999", TABLES)
    every = claim_candidates(TABLES, fine, claim_bodies(TABLES, fine), FORM, SURFACE)
    assert set(every.construction) == {HOMOGENEOUS}


def test_parts_of_every_thickness_sum_to_one_and_stand_in_a_table(tmp_path):
    for kind in TABLES.claim_priors:
        for construction in (PLATED, HOLLOW, ENRICHED):
            spans = spans_of(TABLES, construction, kind)
            assert sum(share for share, _, _ in spans) == pytest.approx(1.0)
            assert all(least < most for _, least, most in spans)
            assert [most for _, _, most in spans[:-1]] == [least for _, least, _ in spans[1:]]
    file = tmp_path / "spans.csv"  # a shop that only meets thick gold
    file.write_text(
        "construction,kind,share,least,most,source\nplated,gold,0.1,0.1,40,judgement\nplated,gold,0.9,40,2000,judgement\n"
    )
    own = Tables([file])
    p = prior_of(own, parse_claim("gold 999", own), False)
    of_gold = {b.spans for b in p.plain if b.construction == PLATED and b.skin == p.layers.number("Au")}
    assert of_gold == {((0.1, 0.1, 40.0), (0.9, 40.0, 2000.0))}


def test_no_layer_is_thicker_than_it_is_ever_made():
    """Rhodium comes from a bath alone; ASTM B634 ends at 6.25 um (from memory), so that 10 um is far enough."""
    of_platinum = prior("platinum 950")
    rhodium, platinum = (of_platinum.layers.number(m) for m in ("Rh", "Pt"))
    most = {b.skin: b.spans[-1][2] for b in of_platinum.plain if b.construction == PLATED}
    assert most == {rhodium: 10.0, platinum: 2000.0}  # platinum is rolled and bonded as well
    every = of_platinum.alternatives(Form("disc", (30.0, 2.0), measured=False)).candidates
    assert every.parameter[every.skin == rhodium].max() <= 10.0 < every.parameter[every.skin == platinum].max()
