"""The command `weigh`: repeats that disagree, the morning check, and how old it is."""

import json

import pytest

APART = "2.97 3.20 3.64"
SAID = "The weighings disagree: 2.97, 3.20, 3.64 g lie 0.67 g apart, and 0.05 g is the most to expect. 3.64 g lies away"


@pytest.fixture
def shop(tmp_path):
    return tmp_path / "shop.toml"


def plain(text):
    return " ".join(text.split())


def test_repeats_that_disagree_come_before_anything_else(run):
    assert plain(run("weigh", "31.18", APART).out).startswith(SAID)
    assert plain(run("solve", "--claim", "silver 999", "--mass", "31.18", "--displaced", APART).out).startswith(SAID)
    assert "disagree" not in run("weigh", "31.18", "3.64 3.63").out


def test_they_come_first_in_json_and_on_the_page_and_in_a_list(run, tmp_path):
    assert [n["code"] for n in json.loads(run("weigh", "31.18", APART, "--json").out)["notes"]] == ["repeats disagree"]
    piece = tmp_path / "piece.toml"
    piece.write_text('mass = "31.18 g"\ndisplaced = ["2.97 g", "3.20 g", "3.64 g"]\nclaim = "silver 999"\n')
    assert json.loads(run("solve", str(piece), "--json").out)["notes"][0]["code"] == "repeats disagree"
    assert run("page", str(piece), "-o", str(tmp_path / "page.md")).code == 0
    page = plain((tmp_path / "page.md").read_text(encoding="utf-8"))
    assert page.partition("## The result ")[2].startswith("The weighings disagree")
    rows, out = tmp_path / "rows.csv", tmp_path / "out.jsonl"
    rows.write_text(f"claim,mass,displaced\nsilver 999,31.18 g,{APART} g\nsilver 999,31.18 g,3.64 3.63 g\n")
    assert "Rows whose weighings disagree: 1." in run("batch", str(rows), "-o", str(out)).out
    notes = [json.loads(line)["notes"] for line in out.read_text(encoding="utf-8").splitlines()]
    assert notes == [["repeats disagree"], []]


@pytest.mark.parametrize("claim", ["22 ct gold", "18 ct", "brass"])
def test_the_morning_check_refuses_a_claim_of_many_densities(run, shop, claim):
    said = run("weigh", "33.93", "1.93 1.94", "--known-good", "--claim", claim, "--save", "--settings", str(shop))
    assert said.code != 0
    assert "known within 0.5 %" in said.err
    assert 'check with a fine metal, such as "silver 999", or with a coin type' in said.err
    assert not shop.exists()


@pytest.mark.parametrize(("claim", "mass", "read"), [("silver 999", "31.10", "2.96 2.97"), ("FR-20F", "6.45", "0.375")])
def test_a_fine_metal_and_a_coin_type_check_a_scale(run, shop, claim, mass, read):
    said = run("weigh", mass, read, "--known-good", "--claim", claim, "--save", "--settings", str(shop))
    assert said.out.startswith("The scale reads right within")
    assert claim in shop.read_text(encoding="utf-8")


def test_weighings_that_disagree_check_no_scale(run, shop):
    known = ("--known-good", "--claim", "silver 999", "--save", "--settings", str(shop))
    said = run("weigh", "31.10", "2.96 3.01", *known)
    assert said.out.startswith("The weighings disagree")
    assert "reads right" not in said.out
    assert not shop.exists()


def test_a_settings_file_with_such_a_claim_is_refused_where_it_is_used(run, shop):
    shop.write_text('[scale.known_good]\nclaim = "22 ct gold"\nmass = "33.93 g"\ndisplaced = "1.93 g"\n')
    said = run("solve", "--claim", "silver 999", "--mass", "31.1", "--displaced", "2.97", "--settings", str(shop))
    assert said.code != 0
    assert said.err.startswith("error: settings.scale.known_good.claim: '22 ct gold'")


@pytest.mark.parametrize(("on", "old"), [("2026-02-09", False), ("2026-02-08", True)])
def test_a_check_older_than_a_month_is_said(run, shop, tmp_path, on, old):
    """Tests run on 2026-03-12: see conftest."""
    shop.write_text(f'[scale.known_good]\nclaim = "silver 999"\nmass = "31.10 g"\ndisplaced = "2.96 g"\non = {on}\n')
    given = ("--settings", str(shop))
    assert (
        "the known-good piece was last weighed 32 days ago" in plain(run("weigh", "31.1", "2.97", *given).out)
    ) is old
    piece = tmp_path / "piece.toml"
    piece.write_text('mass = "31.1 g"\ndisplaced = "2.97 g"\nclaim = "silver 999"\n')
    assert ("was last weighed 32 days ago" in plain(run("solve", str(piece), *given).out)) is old
    run("page", str(piece), "-o", str(tmp_path / "page.md"), *given)
    assert ("That was 32 days before" in plain((tmp_path / "page.md").read_text(encoding="utf-8"))) is old


def test_a_typed_density_says_which_uncertainty_was_taken(run):
    given = ("--claim", "silver 900", "--mass", "26.7 g", "--more")
    said = plain(run("solve", "--density", "10.0 g/cm3", *given).out)
    assert (
        "came without an uncertainty, so that of its last digit and of a usual weighing of this mass is taken" in said
    )
    assert not said.startswith("These readings speak against")
    stated = plain(run("solve", "--density", "10.0 +- 0.03 g/cm3", *given).out)
    assert "came without" not in stated
    assert stated.startswith("These readings speak against")


def test_a_saved_check_says_what_it_adds_to_every_density(run, shop):
    """Water 0.9982 and air 0.0012 g/cm3: 31.10 / 2.96 reads 10.477; fine silver has 10.49 to 10.50 (handbooks)."""
    check = ("weigh", "31.10", "2.96", "--known-good", "--claim", "silver 999", "--save", "--settings", str(shop))
    said = plain(run(*check).out)
    added = float(said.partition("until the next check ")[2].partition(" % is added to every density")[0])
    assert 0.1 < added < 0.25
    assert "where you brush them, say --wetting brushed" in said
    assert "a bubble or a slip" not in said
    off = run("weigh", "31.10", "2.99", *check[3:-1], str(shop.with_name("off.toml")))  # 1.2 % low, as with a bubble
    assert "If a bubble or a slip was the reason, this makes every density wrong" in plain(off.out)
    before, after = (
        json.loads(run("weigh", "31.18", "3.64", "--json", *given).out)["density"]["value"]
        for given in ((), ("--settings", str(shop)))
    )
    assert 100 * (after / before - 1) == pytest.approx(added, abs=0.006)  # said to two decimals


def test_a_check_that_reads_too_dense_takes_off(run, shop):
    """31.10 / 2.95 reads 10.51 g/cm3, fine silver has 10.49 to 10.50 (handbooks)."""
    check = ("weigh", "31.10", "2.95", "--known-good", "--claim", "silver 999", "--save", "--settings", str(shop))
    said = plain(run(*check).out)
    assert 0.1 < float(said.partition("until the next check ")[2].partition(" % is taken off every density")[0]) < 0.25


def test_several_numbers_after_the_mass_are_repeats(run):
    assert run("weigh", "31.18", "3.64", "3.63").out == run("weigh", "31.18", "3.64 3.63").out
    assert run("weigh", "31.18", "3.64", "3.63").out != run("weigh", "31.18", "3.64").out


def test_a_check_typed_as_the_mass_in_water_is_answered_by_how_to_type_it(run):
    said = run("weigh", "31.10", "28.14", "--known-good", "--claim", "silver 999")
    assert "28.14 looks like the mass in water: --in-water 28.14" in said.err
    assert "reads right" in run("weigh", "31.10", "--in-water", "28.14g", "--known-good", "--claim", "silver 999").out
    lead = run("weigh", "31.10", "12", "--known-good", "--claim", "silver 999")  # 2.6 g/cm3: any slip, not this one
    assert "looks like" not in lead.err


def test_swapped_numbers_are_asked_about(run):
    assert "were the two numbers swapped?" in run("weigh", "2.96", "31.10").err
    assert "swapped" not in run("weigh", "31.10", "33").err
