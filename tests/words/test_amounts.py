"""What is said of the precious metal in a piece: what the likely rows hold, and nothing from rarer ones."""

from __future__ import annotations

from dataclasses import replace

import pytest

from alloysolve.answer.document import Document
from alloysolve.answer.rows import AS_CLAIMED, FINER, NOT_SHOWN, SOMETHING_ELSE, SYSTEM, Amount, Row
from alloysolve.answer.solution import solve
from alloysolve.inputs.settings import Settings
from alloysolve.words.amounts import amount_sentences
from alloysolve.words.language import language

SAY = language()
NONE = "No precious metal is likely in it."


@pytest.fixture(scope="module")
def bar() -> Document:
    """A contradicted bar of 20 g, whose rows each test replaces."""
    return solve({"claim": "silver 999", "mass": "20 g", "density": "8.5 g/cm3"}, Settings()).document


def row(share: float, metals: str, **held: tuple[float, float, float]) -> Row:
    """A row of one system with what it holds [g]: low, likely, high."""
    holds = {symbol: Amount(*found, "g", share) for symbol, found in held.items()}
    return Row(SYSTEM, share, metals=tuple(metals.split()), family="pair", holds=holds)


def said(d: Document, rows: list[Row], **pooled: tuple[float, float, float]) -> list[str]:
    """The sentences on these rows, with what they hold together."""
    precious = {symbol: Amount(*found, "g", sum(r.share for r in rows)) for symbol, found in pooled.items()}
    return amount_sentences(replace(d, rows=tuple(rows), precious=precious), SAY)


def test_what_is_surely_there_is_said_as_a_range(bar):
    assert said(bar, [row(0.97, "Ag Cu", Ag=(18, 18.4, 18.6))], Ag=(18, 18.4, 18.6)) == [
        "It holds 18.0 to 18.6 g of silver."
    ]
    assert said(bar, [row(0.8, "Ag Cu", Ag=(18, 18.4, 18.6))], Ag=(18, 18.4, 18.6)) == [
        "It probably holds 18.0 to 18.6 g of silver."
    ]


def test_a_thin_layer_is_a_bound(bar):
    assert said(bar, [row(0.97, "Cu Zn", Ag=(0, 0.1, 1.2))], Ag=(0, 0.1, 1.2)) == [
        "It holds no precious metal, or at most 1.2 g of silver."
    ]


def test_less_than_the_scale_shows_is_none(bar):
    assert said(bar, [row(0.97, "Cu Zn", Ag=(0, 0.0, 0.009))], Ag=(0, 0, 0.009)) == [NONE]


def test_what_only_some_rows_hold_is_said_of_these_rows(bar):
    rows = [row(0.6, "Pb Sb"), row(0.2, "Ag Cu", Ag=(15, 16, 17)), row(0.1, "Ag Sn", Ag=(18, 18.1, 18.2))]
    assert said(bar, rows, Ag=(0, 0, 18)) == [
        NONE,
        "It would hold 15.0 to 18.2 g of silver only if it is silver-copper or silver-tin (3 in 10).",
    ]


def test_what_most_rows_hold_is_likely(bar):
    rows = [row(0.6, "Ag Cu", Ag=(15, 16, 17)), row(0.3, "Pb Sb")]
    assert said(bar, rows, Ag=(0, 15.5, 17)) == ["It probably holds about 15.5 g of silver, and at most 17 g."]


@pytest.mark.parametrize("rows", [[row(0.04, "Ag Cu", Ag=(15, 16, 17))] * 20, [Row(SOMETHING_ELSE, 1.0)]])
def test_where_nothing_is_likely_no_amount_is_said(bar, rows):
    assert said(bar, rows) == ["These readings cannot say how much precious metal it holds."]


def test_an_open_claim_says_what_it_would_hold(bar):
    assert bar.claim is not None
    d = replace(bar, claim=replace(bar.claim, decision="undecided"))
    as_claimed = Row(AS_CLAIMED, 0.9, metals=("Ag",), holds={"Ag": Amount(19.9, 19.95, 20, "g", 0.9)})
    assert said(d, [as_claimed, row(0.1, "Pb Sb")], Ag=(0, 19.9, 20)) == [
        "If it is as claimed, it holds 19.9 to 20.0 g of silver."
    ]
    rarer = [replace(as_claimed, share=0.2), row(0.8, "Pb Sb")]
    assert said(d, rarer, Ag=(0, 0, 20)) == [
        "If it is as claimed, it holds 19.9 to 20.0 g of silver.",
        "Otherwise no precious metal is likely in it.",
    ]


def test_metal_as_claimed_and_finer_metal_go_by_one_name(bar):
    rows = [row(0.55, "Pb Sb")]
    rows += [Row(what, 0.2, metals=("Ag",), holds={"Ag": Amount(30, 31, 31, "g", 0.4)}) for what in (FINER, AS_CLAIMED)]
    assert "It would hold 30 to 31 g of silver only if it is as claimed or finer (4 in 10)." in said(
        bar, rows, Ag=(0, 0, 31)
    )


def test_a_bound_counts_no_row_rarer_than_1_in_20():
    piece = {"claim": "silver 999", "mass": "100 g", "density": "10.22 +- 0.01 g/cm3", "conductivity": "33 %IACS"}
    s = solve(piece, Settings())
    counted = [r for r in s.document.rows if r.share >= 0.05 and r.what == SYSTEM]
    assert [r.metals for r in counted] == [("Mo",)]
    assert s.precious["Ag"].high < 5.0  # a layer; silver alloys of this density hold 80 g
    assert counted[0].holds["Ag"].high == pytest.approx(s.precious["Ag"].high, abs=0.1)
    assert s.share_counted == pytest.approx(counted[0].share, abs=0.002)
    assert [m.covers for m in s.document.precious.values()] == [pytest.approx(s.share_counted, abs=0.001)]


def test_a_layer_as_claimed_is_said_though_nobody_knows_how_thick_it_is(bar):
    assert bar.claim is not None
    d = replace(bar, claim=replace(bar.claim, decision="undecided"))
    layer = Row(AS_CLAIMED, 0.9, holds={"Ag": Amount(0, 0.1, 4, "g", 0.9)})
    assert said(d, [layer], Ag=(0, 0.1, 4)) == ["If it is as claimed, it holds about 0.1 g of silver, and at most 4 g."]
    rarer = [replace(layer, share=0.2), row(0.7, "Cu Zn", Ag=(0, 0.02, 3))]
    assert said(d, rarer, Ag=(0, 0.05, 3.5))[1:] == [
        "Otherwise it holds none, or at most 3.5 g of silver.",
    ]


def test_a_claim_that_says_its_share_says_what_it_holds_then():
    """1/20 of 14 ct by mass of 6.2 g is 0.31 g of 14 ct, and 585 of 1000 of that are gold: 0.18 g."""
    d = solve({"claim": "gold filled 1/20 14 ct", "mass": "6.2 g", "displaced": "0.71 g"}, Settings()).document
    claimed = d.row(AS_CLAIMED)
    assert claimed is not None
    assert claimed.holds["Au"].likely == pytest.approx(6.2 / 20 * 0.585, abs=0.005)
    assert "If it is as claimed, it holds 0.18 g of gold" in amount_sentences(d, SAY)[0]


def test_where_most_of_the_belief_is_in_rare_rows_no_amount_is_said(bar):
    rows = [row(0.1, "Cu Zn", Ag=(0, 0.1, 1.2)), row(0.06, "Cu Sn"), Row(NOT_SHOWN, 0.84, largest=0.04)]
    assert said(bar, rows, Ag=(0, 0, 1.2)) == ["These readings cannot say how much precious metal it holds."]


def test_what_less_than_half_of_all_belief_holds_is_not_probable(bar):
    rows = [row(0.4, "Ag", Ag=(31, 31, 31)), row(0.3, "Cu"), Row(SOMETHING_ELSE, 0.3)]
    assert said(bar, rows, Ag=(0, 31, 31)) == ["It would hold 31 g of silver only if it is silver (4 in 10)."]
