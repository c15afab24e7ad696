"""The main job as a whole: what a solution holds and what it says of pieces made up on paper."""

import math

import numpy as np
import pytest

from alloysolve.advice.fineness import speaks_against_below
from alloysolve.answer.solution import solve
from alloysolve.errors import InputError
from alloysolve.inference.decision import CONTRADICTED, UNDECIDED
from alloysolve.inference.observe import evidence_of, form_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings, tables_of
from alloysolve.measured import Measured
from alloysolve.published.load import Tables, default_tables
from alloysolve.readings.registry import Conductivity, Magnet
from alloysolve.weighing.weigh import weigh

TABLES = default_tables()
BRASS = {"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"}


def answer(**given):
    return solve(Piece(**given), Settings())


def systems(solution, most=99):
    return [set(s.metals) for s in solution.found[:most]]


def test_a_mapping_is_a_piece():
    assert solve(BRASS, Settings()).to_json() == answer(**BRASS).to_json()


def test_nothing_to_solve():
    for given in ({}, {"claim": "silver 999"}, {"mass": "31.18 g"}):
        with pytest.raises(InputError) as e:
            answer(**given)
        assert e.value.expected == "at least one reading"
        assert "displaced" in e.value.next_step


def test_any_reading_alone_can_be_solved():
    for given in (
        {"density": 8.5},
        {"magnet": "strong"},
        {"conductivity": "28 %IACS"},
        {"mass": "31.18 g", "bar": ["50 mm", "28 mm", "2.6 mm"]},
    ):
        s = answer(**given)
        assert s.decision is None
        assert s.found
        assert 0 < s.other < 1


def test_frames_have_a_row_per_metal_of_each_system_and_construction():
    s = answer(**BRASS)
    one = s.systems.drop_duplicates("system")
    assert list(one.metals) == [" ".join(x.metals) for x in s.found]
    assert list(one.probability) == pytest.approx([x.probability for x in s.found], rel=5e-3)  # as it is written
    for number, rows in s.systems.groupby("system"):
        assert dict(zip(rows.metal, rows.likely_percent, strict=True)) == {
            m: pytest.approx(likely, rel=5e-3) for m, (_, likely, _) in s.found[number - 1].ranges.items()
        }
    built = [c for x in s.found for c in x.constructions if c.probability >= 1e-3]
    each = s.candidates.drop_duplicates("candidate")
    assert sorted(zip(each.metals, each.construction, each.skin, strict=True)) == sorted(
        (" ".join(c.metals), c.construction, c.skin) for c in built
    )
    assert list(each.probability) == sorted(each.probability, reverse=True)
    assert (s.systems.low_percent <= s.systems.likely_percent).all()
    assert (s.systems.likely_percent <= s.systems.high_percent).all()
    assert "<table" in s._repr_html_()


def test_frames_have_the_same_columns_whatever_was_found():
    frames = [answer(**BRASS), answer(magnet="strong"), answer(density="24.9 +- 0.01 g/cm3")]
    for name in ("systems", "candidates"):
        first, *others = (getattr(s, name) for s in frames)
        assert {"metal", "low_percent", "likely_percent", "high_percent"} < set(first.columns)
        for other in others:
            assert list(other.columns) == list(first.columns)
            assert dict(other.dtypes[other.columns.str.endswith(("percent", "um"))]) == {
                c: np.dtype(float) for c in first.columns if c.endswith(("percent", "um"))
            }


def test_readings_are_put_in_their_units():
    piece = Piece(density=8.5, reading=[Conductivity("100 %IACS"), Conductivity("10 +- 0.5 uohm cm"), Magnet("weak")])
    e = evidence_of(piece, Settings(), TABLES, weigh("31.18 g", "3.64 g"))
    # 100 %IACS is 1.7241 uohm cm (IEC 60028); the meter of the settings has 1 %
    first, second, magnet = e.observed
    assert (100 / first.read, first.u) == pytest.approx((1.7241, 0.01), rel=1e-4)
    assert (100 / second.read, second.u) == pytest.approx((10.0, 0.05), rel=1e-4)
    assert (magnet.name, magnet.text) == ("magnet", "weak")
    assert e.volume.v == pytest.approx(weigh("31.18 g", "3.64 g").v)
    assert e.volume.bubble > 0
    strict = Settings.from_dict({"readings": {"conductivity": {"u": "5 %"}}})
    assert evidence_of(piece, strict, TABLES, None).observed[0].u == pytest.approx(0.05)


def test_the_dimensions_give_the_share_of_a_skin():
    share = form_of(Piece(density=8.5, bar=["50 mm", "28 mm", "2.6 mm"]), None).skin_share
    by_hand = 1 - (50 - 0.02) * (28 - 0.02) * (2.6 - 0.02) / (50 * 28 * 2.6)
    assert float(share(np.array([10.0]))[0]) == pytest.approx(by_hand, rel=1e-9)


def test_without_dimensions_a_coin_of_that_volume_is_assumed():
    w = weigh("31.18 g", "3.64 g")
    share = form_of(Piece(**BRASS), w).skin_share
    volume = float(w.displaced_mm3)
    t = (4 * volume / (math.pi * 169)) ** (1 / 3)  # a disc 13 times as wide as thick
    d = 13 * t
    by_hand = 1 - ((d - 0.02) ** 2 * (t - 0.02)) / (d**2 * t)
    assert float(share(np.array([10.0]))[0]) == pytest.approx(by_hand, rel=1e-6)
    four = form_of(Piece(**BRASS, count=4), w).skin_share  # smaller pieces have more skin for their volume
    assert float(four(np.array([10.0]))[0]) > float(share(np.array([10.0]))[0])


def test_a_thick_skin_needs_a_thick_piece():
    """0.5 mm of gold all over cannot be on a bar of 0.9 mm: the skin ranges follow the dimensions."""
    thin = answer(density="19.3 +- 0.02 g/cm3", bar=["50 mm", "28 mm", "0.9 mm"])
    for system in thin.found:
        for c in system.constructions:
            if c.skin_um and c.skin == "Au" and "W" not in system.metals and c.probability > 0.001:
                assert c.skin_um[0] > 300  # nearly all of it


def test_a_claim_is_decided_by_misfit_against_its_region():
    assert answer(**BRASS).decision.code == CONTRADICTED
    assert answer(**{**BRASS, "claim": "brass"}).decision.code != CONTRADICTED
    assert answer(claim="silver 925", density="10.36 +- 0.01 g/cm3").decision.p > 0.5
    assert answer(claim="gold 18 ct yellow", density="15.4 +- 0.05 g/cm3").decision.p > 0.5  # handbook 15.2 to 15.9
    assert (
        answer(claim="silver 999", density="10.49 +- 0.01 g/cm3", conductivity="8 %IACS", magnet="none").decision.code
        != "not contradicted"
    )


def test_a_plated_claim_is_of_base_metal():
    assert answer(claim="silver plated", density="8.5 +- 0.01 g/cm3").decision.p > 0.05  # brass
    solid = answer(claim="silver plated", density="10.49 +- 0.01 g/cm3", conductivity="104 %IACS")
    assert solid.found[0].metals == ("Ag",)
    bonded = answer(claim="gold filled 1/20 14 ct", density="8.75 +- 0.02 g/cm3")
    assert bonded.decision.p > 0.05
    assert bonded.precious["Au"].low < 100 * 0.585 / 20 < bonded.precious["Au"].high  # 2.9 % of gold


def test_vermeil_is_silver():
    assert answer(claim="vermeil", density="10.38 +- 0.02 g/cm3").decision.p > 0.05
    assert answer(claim="vermeil", density="8.6 +- 0.02 g/cm3").decision.code == CONTRADICTED


def test_a_nickel_coin_may_be_drawn_by_the_magnet():
    """A coin of pure nickel, 8.9 g/cm3 (handbook), is attracted; that is no misfit of its claim."""
    decision = answer(claim="CA-5c-Ni", density="8.90 +- 0.02 g/cm3", magnet="strong").decision
    assert decision.p > 0.05
    assert answer(claim="CA-5c-CN", density="8.94 +- 0.02 g/cm3", magnet="strong").decision.p < 0.05


def test_hollow_may_be_said_by_the_piece_or_the_claim():
    light = {"mass": "6.00 g", "displaced": "0.75 g"}
    assert answer(claim="gold 9 ct red", **light).decision.code == CONTRADICTED
    for given in ({"claim": "gold 9 ct red", "hollow": "possible"}, {"claim": "9 ct rose gold chain"}):
        s = answer(**given, **light)
        assert s.decision.code == UNDECIDED
        assert any(c.construction == "hollow or porous" and "Au" in x.metals for x in s.found for c in x.constructions)
    dense = answer(claim="9 ct rose gold chain", mass="6.00 g", displaced="0.28 g")
    assert dense.decision.code == CONTRADICTED  # 21 g/cm3, denser than any gold: empty space makes nothing denser


def test_without_a_claim_nothing_is_compared_and_nothing_decided():
    s = answer(**BRASS)
    assert s.claim
    unclaimed = answer(**{k: v for k, v in BRASS.items() if k != "claim"})
    assert (unclaimed.decision, unclaimed.claimed) == (None, None)
    assert s.claimed.bodies is s.prior.claim_bodies


@pytest.mark.parametrize("prior", ["default", "flat"])
def test_the_prior_has_a_name(prior):
    s = solve(Piece(**BRASS), Settings(), prior=prior)
    assert s.prior.name == prior
    by_settings = solve(Piece(**BRASS), Settings.from_dict({"answers": {"prior": prior}}))
    assert [x.metals for x in by_settings.found] == [x.metals for x in s.found]


def test_evidence_does_not_depend_on_how_common_a_family_is():
    """Within one system the mean likelihood moves little; the probability moves with the prior."""
    usual, flat = (solve(Piece(**BRASS), Settings(), prior=p) for p in ("default", "flat"))
    zinc = [[x for x in s.posterior.systems(1e-12) if x.metals == ("Zn",)] for s in (usual, flat)]
    if all(zinc):
        assert zinc[0][0].evidence == pytest.approx(zinc[1][0].evidence, rel=0.2)
    assert usual.density == flat.density


def test_precious_content_covers_the_fineness_that_the_readings_do_not_speak_against():
    s = answer(claim="silver 925", mass="20.00 g", density="10.36 +- 0.02 g/cm3")
    assert s.decision.code != CONTRADICTED
    assert s.precious["Ag"].unit == "g"
    assert s.precious["Ag"].low <= 20.0 * speaks_against_below(s.tables, s.claim, s.evidence) / 1000 + 1e-9
    assert s.precious["Ag"].low <= s.precious["Ag"].value <= s.precious["Ag"].high <= 20.0


def test_a_table_of_the_shop_changes_the_answer(tmp_path):
    file = tmp_path / "claim_priors.csv"
    header, *rows = default_tables().files("claim_priors")[0].read_text(encoding="utf-8").splitlines()
    sure = [r.replace("silver,0.5,", "silver,0.99,") for r in rows if r.startswith("silver,")]
    file.write_text("\n".join([header, *sure]) + "\n", encoding="utf-8")
    settings = Settings.from_dict({"tables": {"extra": [str(file)]}})
    usual = answer(claim="silver 999", density="10.4 +- 0.1 g/cm3")
    shop = solve(Piece(claim="silver 999", density="10.4 +- 0.1 g/cm3"), settings)
    assert shop.share_meeting_claim > usual.share_meeting_claim
    assert shop.decision.p == usual.decision.p
    assert tables_of(settings) is tables_of(settings)  # read once
    assert isinstance(tables_of(settings), Tables)
    assert tables_of(Settings()) is default_tables()


def test_measured_densities_are_taken_as_they_are():
    s = answer(density=Measured(8.54, 0.02, "g/cm3"))
    assert (s.density.value, s.density.u) == (8.54, 0.02)
    assert answer(magnet="none").density is None


def test_heavier_tails_than_normal_forgive_a_little():
    """No sound piece 0.04 % off is thrown out: the scatter of published alloys counts."""
    assert answer(claim="silver 999", density="10.50 +- 0.0005 g/cm3").decision.code != CONTRADICTED


def test_more_precise_readings_say_more():
    tops = [answer(density=f"8.54 +- {u} g/cm3").found[0].probability for u in (1.0, 0.1, 0.01)]
    assert tops[0] < tops[-1]
    spread = [answer(density=f"10.36 +- {u} g/cm3", conductivity="80 %IACS").precious["Ag"] for u in (0.5, 0.02)]
    assert spread[1].high - spread[1].low < spread[0].high - spread[0].low
