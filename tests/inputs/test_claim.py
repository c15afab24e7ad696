"""What people write on tickets and pieces, and what it means; finenesses are per mille by ISO 9202."""

import itertools
import math

import numpy as np
import pytest

from alloysolve.errors import InputError
from alloysolve.inference.claimed import claim_bodies, claim_candidates
from alloysolve.inputs.claim import METAL_NAMES, parse_claim
from alloysolve.pieces.shape import Form
from alloysolve.published.load import default_tables
from alloysolve.readings.magnet import magnetic_class_of
from tests.bodies_of import LAYERS
from tests.rows import every

TABLES = default_tables()
FORM = Form("disc", (24.0, 1.8))
CLAIMS = {r.claim: r for r in TABLES.rows("claims")}
EIGHTEEN = {f"gold 18 ct {c}" for c in ("yellow", "red", "green", "white nickel", "white palladium")}
FOURTEEN = {f"gold 14 ct {c}" for c in ("yellow", "red", "green", "white nickel", "white palladium")}


def regions(text):
    return {r.claim for r in parse_claim(text, TABLES).regions}


@every(
    "text, metal, named",
    [
        ("sterling", "Ag", {"silver 925"}),
        ("Sterling Silver", "Ag", {"silver 925"}),
        ("sterling silver ring", "Ag", {"silver 925"}),
        ("925", "Ag", {"silver 925"}),
        (".925 silver", "Ag", {"silver 925"}),
        ("silver 0,925", "Ag", {"silver 925"}),
        ("silver 92,5 %", "Ag", {"silver 925"}),
        ("fine silver", "Ag", {"silver 999"}),
        ("Ag999", "Ag", {"silver 999"}),
        ("silver 9999", "Ag", {"silver 999.9"}),
        ("silver 925 rhodium plated", "Ag", {"silver 925"}),
        ("18 ct", "Au", EIGHTEEN),
        ("18k gold", "Au", EIGHTEEN),
        ("18K yellow", "Au", {"gold 18 ct yellow"}),
        ("18 karat rose", "Au", {"gold 18 ct red"}),
        ("18 ct green", "Au", {"gold 18 ct green"}),
        ("18 ct white", "Au", {"gold 18 ct white nickel", "gold 18 ct white palladium"}),
        ("18 ct white palladium", "Au", {"gold 18 ct white palladium"}),
        ("white nickel gold 750", "Au", {"gold 18 ct white nickel"}),
        ("585", "Au", FOURTEEN),
        ("gold 585", "Au", FOURTEEN),
        ("gold 916,7", "Au", {"gold 916.7"}),
        ("gold 916.7", "Au", {"gold 916.7"}),
        ("22 ct yellow", "Au", {"gold 22 ct yellow"}),
        ("24 ct", "Au", {"gold 24 ct"}),
        ("gold 900 yellow", "Au", {"gold 900"}),
        ("platinum 950", "Pt", {"platinum 950"}),
        ("Pt950", "Pt", {"platinum 950"}),
        ("white palladium 950", "Pd", {"palladium 950"}),
    ],
)
def test_marks_of_fineness_and_carat(text, metal, named):
    claim = parse_claim(text, TABLES)
    assert {r.claim for r in claim.regions} == named
    assert (claim.metal, claim.kind) == (metal, METAL_NAMES[metal])
    assert claim.least == min(CLAIMS[name].limits[metal][0] for name in named)
    assert not claim.plated


@pytest.mark.parametrize(
    ("text", "skin", "share"),
    [
        ("gold filled 1/20 14 ct", "Au", 1 / 20),
        ("1/20 14k GF", "Au", 1 / 20),
        ("rolled gold", "Au", None),
        ("silver filled 1/10", "Ag", 1 / 10),
        ("silver plated", "Ag", None),
        ("EPNS", "Ag", None),
        ("gilt brass", "Au", None),
        ("vermeil", "Au", None),
        ("nickel plated brass", "Ni", None),
        ("silver plated copper", "Ag", None),
    ],
)
def test_plated_claims_name_the_skin(text, skin, share):
    claim = parse_claim(text, TABLES)
    assert (claim.skin_metal, claim.skin_share, claim.kind, claim.metal) == (skin, share, "base", "")
    assert claim.plated


@pytest.mark.parametrize("text", ["vermeil", "silver gilt", "gold plated sterling silver", "silver 925 gold plated"])
def test_gold_on_silver_is_one_claim_by_all_its_names(text):
    claim = parse_claim(text, TABLES)
    assert (claim.skin_metal, [r.claim for r in claim.regions]) == ("Au", ["silver 925"])
    assert claim.on_silver


def test_the_skin_of_a_filled_article_has_its_carat():
    assert {r.claim for r in parse_claim("gold filled 1/20 14 ct", TABLES).skin_regions} == FOURTEEN


@pytest.mark.parametrize("text", ["9 ct rose gold chain", "hollow 9 ct rose gold", "gold 375 rose bracelet"])
def test_chains_may_be_hollow(text):
    claim = parse_claim(text, TABLES)
    assert claim.hollow
    assert regions(text) == {"gold 9 ct red"}
    assert not parse_claim("9 ct rose gold", TABLES).hollow


@pytest.mark.parametrize(
    ("text", "families"),
    [
        ("brass", {"brass"}),
        ("nickel silver", {"nickel silver"}),
        ("nickel-silver", {"nickel silver"}),
        ("stainless steel", {"ferritic stainless steel", "austenitic stainless steel", "hardenable stainless steel"}),
    ],
)
def test_base_metals(text, families):
    claim = parse_claim(text, TABLES)
    assert (set(claim.families), claim.kind, claim.metal) == (families, "base", "")


def test_a_coin_type_brings_its_published_alloy_and_mass():
    claim = parse_claim("us-1d-ag", TABLES)  # 900 silver, 26.73 g
    assert (claim.coin.id, claim.kind, claim.metal, claim.nominal_mass_g) == (
        "US-1d-Ag",
        "silver",
        "Ag",
        26.73,
    )
    # Coinage Act of 1873, section 33: silver ingots may differ from the standard by three thousandths
    assert claim.regions[0].limits["Ag"] == pytest.approx((89.7, 90.3))
    assert parse_claim("Japan 5 yen", TABLES).coin.id == "JP-5y"


@pytest.mark.parametrize(
    ("coin", "alloy"),
    [("US-1d-Ag", "silver 900"), ("FR-20F", "gold 900"), ("AU-50c-Ag", "silver 800"), ("US-Pt-0.5oz", "platinum 999")],
)
def test_a_coin_type_is_no_looser_than_its_alloy(coin, alloy):
    """The same metal under another name: its density scatters no more, and its fineness is as narrow or narrower."""
    of_coin, of_alloy = (parse_claim(text, TABLES).regions[0] for text in (coin, alloy))
    assert of_coin.sigma_percent == of_alloy.sigma_percent
    widths = [high - low for low, high in (r.limits[of_coin.metal] for r in (of_coin, of_alloy))]
    assert widths[0] <= widths[1]


def test_a_base_coin_scatters_as_its_family_does():
    assert parse_claim("JP-5y", TABLES).regions[0].sigma_percent == TABLES.families["brass"].sigma_percent
    unknown = parse_claim("US-5c-war", TABLES).regions[0].sigma_percent  # copper, silver and manganese: no family
    assert unknown > TABLES.families["cupronickel"].sigma_percent


@every("coin", TABLES.rows("coins"), called=lambda c: c.id)
def test_every_coin_type_is_a_claim_or_says_why_not(coin):
    if coin.construction in ("clad", "plated"):
        claim = parse_claim(coin.id, TABLES)
        assert (claim.coin, claim.kind, claim.nominal_mass_g) == (coin, "base", coin.mass_g)
        assert (bool(claim.clad), claim.plated) == (coin.construction == "clad", coin.construction == "plated")
        assert claim_bodies(TABLES, claim) is None  # no one body is the whole of it
        assert len(claim_candidates(TABLES, claim, None, FORM, 0))
    elif coin.composition:
        claim = parse_claim(coin.id, TABLES)
        composition = coin.composition
        assert all(low <= composition[s] <= high for s, (low, high) in claim.regions[0].limits.items())
        assert len(claim_bodies(TABLES, claim).v)
    else:
        with pytest.raises(InputError, match="mean composition"):
            parse_claim(coin.id, TABLES)


@pytest.mark.parametrize("coin", [c for c in TABLES.rows("coins") if c.construction == "clad"], ids=lambda c: c.id)
def test_a_clad_coin_as_claimed_has_the_mean_composition_that_is_published(coin):
    """Clad from sheets bonded on both sides: faces and core by mass give what the Mint states of the whole coin."""
    pieces = claim_candidates(TABLES, parse_claim(coin.id, TABLES), None, FORM, 0)
    usual = pieces.some(pieces.parameter == np.median(pieces.parameter))
    faces = usual.mass_part[:, None] * LAYERS.w[usual.skin]
    mean = 100 * (faces + (1 - usual.mass_part)[:, None] * usual.bodies.w[usual.point]).mean(axis=0)
    for symbol, percent in coin.composition.items():
        # the core may hold half a percent of another metal
        assert mean[LAYERS.law.index[symbol]] == pytest.approx(percent, abs=0.5 if symbol == "Cu" else 0.2)
    low, middle, high = np.unique(pieces.parameter)
    assert middle - low == pytest.approx(high - middle)
    assert low < middle


def test_a_coin_of_plated_steel_is_drawn_and_has_copper_outside():
    """Euro cents are copper on steel (Regulation (EC) 975/98): a magnet lifts them."""
    pieces = claim_candidates(TABLES, parse_claim("EU-5c", TABLES), None, FORM, 0)
    assert {LAYERS.names[k] for k in set(pieces.skin)} == {"Cu"}
    iron = [i for i, s in enumerate(LAYERS.law.symbols) if s.startswith("Fe")]
    assert pieces.bodies.w[pieces.point][:, iron].sum(axis=1).min() > 0.8
    assert set(magnetic_class_of(pieces)) == {2}
    assert np.all((1 / pieces.v > 7.6) & (1 / pieces.v < 8.2))  # steel 7.85, copper 8.94: a few percent of copper


@every("text", CLAIMS)
def test_every_row_parses_to_itself(text):
    claim = parse_claim(text, TABLES)
    assert claim.regions == (CLAIMS[text],)
    assert claim.metal == CLAIMS[text].metal


@every("row", CLAIMS.values(), called=lambda r: r.claim)
def test_other_names_of_a_row_lead_to_it(row):
    for name in filter(None, row.also.split(";")):
        assert row.claim in regions(name), name


@every("family", TABLES.families.values(), called=lambda f: f.family)
def test_every_base_metal_family_parses_to_itself(family):
    for name in {family.family, family.words}:
        if family.system.split()[0] in METAL_NAMES:  # a precious metal needs its fineness
            with pytest.raises(InputError):
                parse_claim(name, TABLES)
        elif name == "nickel-copper":  # said of coins too, by people who mean copper-nickel
            with pytest.raises(InputError, match="cupronickel"):
                parse_claim(name, TABLES)
        else:
            assert family.family in parse_claim(name, TABLES).families, name


@pytest.mark.parametrize(
    ("text", "metals"),
    [
        ("900", {"silver", "gold", "platinum"}),
        ("950", {"silver", "platinum", "palladium"}),
        ("999", {"silver", "gold", "platinum", "palladium"}),
        ("750", {"silver", "gold"}),
    ],
)
def test_numbers_that_metals_share_are_asked_back(text, metals):
    with pytest.raises(InputError) as e:
        parse_claim(text, TABLES)
    assert (e.value.path, e.value.given) == ("claim", text)
    for metal in METAL_NAMES.values():
        assert (f'"{metal} {text}"' in e.value.expected) == (metal in metals)


def test_the_sources_of_shared_numbers_are_the_rows_of_the_table():
    for text in ("900", "950", "999", "750"):
        of_table = {METAL_NAMES[r.metal] for r in CLAIMS.values() if math.isclose(r.limits[r.metal][0], int(text) / 10)}
        with pytest.raises(InputError) as e:
            parse_claim(text, TABLES)
        assert all(metal in e.value.expected for metal in of_table)


@pytest.mark.parametrize("text", ["", "unobtainium", "gift", "ring", "of the"])
def test_what_is_no_claim(text):
    with pytest.raises(InputError) as e:
        parse_claim(text, TABLES)
    assert (e.value.path, e.value.given) == ("claim", text)
    assert "silver 999" in e.value.expected


@pytest.mark.parametrize("text", ["silver", "gold ring", "platinum"])
def test_a_metal_alone_is_asked_for_its_fineness(text):
    with pytest.raises(InputError, match=r"fineness or carat .* or leave the claim out"):
        parse_claim(text, TABLES)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("silver 100", "200 to 999.9"),
        ("silver 999 gold 999", "one metal"),
        ("gold filled 20/1", "below one"),
        ("plated", "metal of the skin"),
    ],
)
def test_impossible_marks(text, expected):
    with pytest.raises(InputError, match=expected):
        parse_claim(text, TABLES)


@pytest.mark.parametrize("text", ["1 oz silver 999", "silver 999 1 oz", "silver 999 1 ounce"])
def test_an_ounce_of_precious_metal_is_troy(text):
    assert parse_claim(text, TABLES).nominal_mass_g == pytest.approx(31.1034768)  # NIST SP 811, B.8


@pytest.mark.parametrize("text", ["1 oz copper", "1 oz silver plated copper"])
def test_any_other_ounce_is_refused_with_both_spelled_out(text):
    with pytest.raises(InputError) as e:
        parse_claim(text, TABLES)
    assert "ozt" in e.value.expected
    assert "oz av" in e.value.expected


@pytest.mark.parametrize(
    ("text", "grams"),
    [  # one troy ounce is 31.1034768 g
        ("1 ozt silver 999", 31.1034768),
        ("gold 999.9 1/10 ozt", 3.11034768),
        ("silver 925 5 g", 5.0),
        ("silver 925", None),
    ],
)
def test_nominal_mass(text, grams):
    assert parse_claim(text, TABLES).nominal_mass_g == (None if grams is None else pytest.approx(grams, rel=1e-9))


def test_a_fineness_between_rows_scales_the_nearest():
    claim = parse_claim("silver 935", TABLES)
    (region,) = claim.regions
    assert (claim.metal, claim.least, region.claim) == ("Ag", 93.5, "silver 935")
    assert region.limits["Ag"][0] == 93.5
    low, high = region.limits["Cu"]
    near = CLAIMS["silver 925"].limits["Cu"]
    assert (low, high) == pytest.approx([x * 6.5 / 7.5 for x in near])  # what is not silver: 6.5 in place of 7.5


def test_every_fineness_between_is_a_body_of_that_fineness():
    for metal, per_mille in itertools.product(("silver", "gold"), (333, 620, 870, 935, 990)):
        claim = parse_claim(f"{metal} {per_mille}", TABLES)
        bodies = claim_bodies(TABLES, claim)
        share = bodies.w[:, bodies.law.index[claim.metal]]
        assert share.min() >= per_mille / 1000 - 1e-9
        assert share.max() <= per_mille / 1000 + 0.0101


def test_18_ct_without_colour_spans_its_colours():
    bodies = claim_bodies(TABLES, parse_claim("18 ct", TABLES))
    # the lightest published, a nickel white gold with 4.1 % of zinc, is printed as 14.69; others hold up to 5.5 %
    assert 14.4 < 1 / bodies.v.max() < 14.69
    assert 1 / bodies.v.min() == pytest.approx(16.8, abs=0.15)
