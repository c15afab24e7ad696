"""Coin types that are named beside an answer: only those of which mass, size and metal fit."""

from dataclasses import replace

import pytest

from alloysolve.advice.coin_types import MOST, coin_types, densities
from alloysolve.answer.document import Document
from alloysolve.answer.parts import CoinTypeData
from alloysolve.answer.solution import solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables
from alloysolve.words.coins import coin_line
from alloysolve.words.language import language
from alloysolve.words.terminal import answer
from tests.rows import every

TABLES = default_tables()
BY_ID = {c.id: c for c in TABLES.rows("coins")}
# densities [g/cm3]: copper clad with copper-nickel 8.92 (US Mint: 8.33 % nickel), silver 900 10.31, gold 900 17.2,
# brass 8.5, copper-nickel 8.94 (handbook values of the alloys)
HALF = {"mass": "11.34 g", "displaced": "1.27 g"}
DOLLAR = {"mass": "26.70 g", "displaced": "2.59 g"}
ANSWER = solve(Piece(density="8.9 g/cm3"), Settings()).document


def named(**piece):
    """Ids of the coin types that an answer names."""
    return [x.coin.id for x in coin_types(solve(Piece(**piece), Settings()))]


def test_without_a_claim_the_nearest_types_are_named():
    assert "US-50c-clad" in named(**HALF)
    assert named(mass="6.45 g", displaced="0.375 g")[0] == "FR-20F"
    assert named(mass="7.98 g", displaced="0.452 g", disc=["22.0 mm", "1.5 mm"])[0] == "UK-sov"


def test_no_more_than_three_and_types_of_one_metal_mass_and_size_are_one():
    found = coin_types(solve(Piece(mass="5.00 g", density="10.19 g/cm3"), Settings()))  # silver 835
    assert len(found) <= MOST
    lira = next(x for x in found if x.coin.id == "FR-1-Ag")
    assert lira.others >= 8  # the franc's sisters: six countries of the convention or its standard, Austria and Hungary


def test_a_size_that_was_measured_counts():
    assert "US-1d-Ag" in named(**DOLLAR, disc=["38.1 mm", "2.4 mm"])
    assert "US-1d-Ag" not in named(**DOLLAR, disc=["33.0 mm", "3.4 mm"])


@pytest.mark.parametrize("displaced", ["3.14 g", "2.35 g"])
def test_another_metal_of_the_same_mass_and_size_is_not_called_that_coin(displaced):
    """26.7 g of brass (8.5) or lead (11.3) of 38.1 mm: nothing is said of the silver dollar."""
    piece = {"mass": "26.70 g", "displaced": displaced, "disc": ["38.1 mm", "2.8 mm"]}
    assert not [i for i in named(**piece) if "Ag" in i]


def test_a_reading_that_speaks_against_a_type_keeps_it_out():
    assert named(mass="31.11 g", displaced="1.612 g")  # 19.3 g/cm3
    assert not named(mass="31.11 g", displaced="1.612 g", conductivity="18 MS/m")  # tungsten; gold has 45


def test_a_magnet_tells_steel_coins_from_others():
    steel = {"mass": "3.92 g", "displaced": "0.495 g"}  # 7.92 g/cm3
    assert "EU-5c" in named(**steel, magnet="strong")
    assert "EU-5c" not in named(**steel, magnet="none")
    layered = {"mass": "7.50 g", "displaced": "0.855 g"}  # 1 euro: centre with a core of nickel, no mean composition
    assert "EU-1e" in named(**layered, magnet="weak")
    assert "EU-1e" not in named(**layered, magnet="none")


def test_worn_coins_are_recognised_and_heavy_ones_are_not():
    """A silver dollar loses 1.5 % on average; nobody adds 4 %."""
    assert "US-1d-Ag" in named(mass="25.90 g", density="10.31 g/cm3")
    assert "US-1d-Ag" not in named(mass="27.80 g", density="10.31 g/cm3")
    assert "US-1d-Ag" not in named(mass="24.00 g", density="10.31 g/cm3")


def test_only_a_contradicted_claim_has_them():
    s = solve(Piece(claim="silver 900", **HALF), Settings())
    assert s.decision.code == "contradicted"
    assert any(x.coin.id == "US-50c-clad" or x.coin.composition == {"Cu": 75, "Ni": 25} for x in coin_types(s))
    assert not named(claim="silver 900", **DOLLAR)


@pytest.mark.parametrize(
    "other",
    [
        {"claim": "silver 900 ring"},
        {"note": "pendant"},
        {"name": "small bar"},
        {"bar": ["30 mm", "15 mm", "3 mm"]},
        {"parts": ["diamond 0.5 ct"]},
    ],
)
def test_what_is_no_coin_is_not_compared_with_coins(other):
    assert not named(**HALF, **other)


def test_a_piece_that_was_not_weighed_has_none():
    assert not named(density="8.9 g/cm3")
    assert not named(mass="11.34 g", magnet="none")


def test_several_pieces_weighed_together_are_compared_one_by_one():
    assert "US-50c-clad" in named(mass="113.4 g", displaced="12.70 g", count=10)


def test_densities_of_types_hold_the_published_ones():
    """Silver 900 10.31, gold 900 17.2, copper-nickel 8.94, aluminium 2.70 g/cm3 (handbooks); steel 7.85 to 7.95."""
    types = [BY_ID[i] for i in ("US-1d-Ag", "FR-20F", "US-5c", "JP-1y", "EU-5c")]
    low, high = densities(types, TABLES)
    for k, rho in enumerate((10.31, 17.2, 8.94, 2.70)):
        assert low[k] == high[k] == pytest.approx(rho, rel=6e-3)
    assert (low[4], high[4]) == (pytest.approx(7.87, abs=0.02), pytest.approx(7.97, abs=0.03))


def test_the_document_and_the_sentence():
    d = solve(Piece(**HALF, disc=["30.6 mm", "2.15 mm"]), Settings()).document
    first = d.coin_types[0]
    assert (first.id, first.years, first.mass_g) == ("US-50c-clad", "1971-", 11.34)
    assert first.made == {"face": {"Cu": 75.0, "Ni": 25.0}, "core": {"Cu": 100.0}}
    assert Document.from_dict(d.to_dict()) == d
    said = coin_line(d, language("en"), MOST)
    assert "United States 50 cents (copper with faces of copper-nickel), since 1971" in said
    for text in (answer(d), answer(d, more=True)):
        assert "United States 50 cents" in " ".join(text.split())


@every("c", BY_ID.values(), called=lambda c: c.id)
def test_every_type_has_words(c):
    data = CoinTypeData(
        c.id, c.issuer, c.coin, c.years, c.construction, c.layers or {"whole": c.composition}, c.mass_g, None, 1
    )
    said = coin_line(replace(ANSWER, coin_types=(data,)), language("en"), MOST)
    assert c.coin in said
    assert not {"iron", "{", "None"} & set(said.split())
