"""`alloysolve tables coins`: types found by what people write of them, as a table that can be read."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from tests.conftest import Run

GOLD_20 = "France 20 francs, gold"  # law of 7 germinal an XI: 155 to the kilogram, 6.4516 g


@pytest.mark.parametrize(
    ("which", "coin", "other"),
    [
        ("20 francs", GOLD_20, "France 10 francs"),
        ("francs gold 1907", GOLD_20, "silver"),
        ("6.45 g", GOLD_20, "United Kingdom sovereign"),  # 7.99 g
        ("6.45 g 21 mm", GOLD_20, "10 pence"),
        ("mass 6.45 g, diameter 21 mm", GOLD_20, "10 pence"),
        ("a gold coin 21 mm across", GOLD_20, "sovereign"),
        ("21 mm", GOLD_20, "sovereign"),  # 22.05 mm
        ("1907 france gold", GOLD_20, "Switzerland"),
        ("france silver", "France 5 francs, silver 900", GOLD_20),
        ("Swiss 5", "Switzerland 5 francs", "France"),
        ("half crown 1935", "United Kingdom half crown, silver 500 ", "copper-nickel"),
        ("canada platinum", "Canada 50 dollars, platinum 1 oz", "gold"),
        ("25 g 37 mm peru", "Peru 1 sol, silver 900", "France"),
        ("half dollar", "United States 50 cents", "New Zealand"),
        ("half dollar 1963", "United States 50 cents, silver", "clad"),
        ("dime", "United States 10 cents", "Australia"),
        ("quarter", "United States 25 cents", "Netherlands"),
        ("US nickel", "United States 5 cents", "25 cents"),
        ("US-1d-Ag", "United States 1 dollar, silver ", "Canada"),
    ],
)
def test_coin_types_are_found(run: Callable[..., Run], which: str, coin: str, other: str) -> None:
    lines = run("tables", "coins", which).out.splitlines()
    assert any(line.startswith(coin) for line in lines[1:]), lines
    assert not any(other in line for line in lines if not line.startswith("    ")), lines


def test_a_coin_is_one_line_of_a_table_and_few_show_their_sources(run: Callable[..., Run]) -> None:
    head, line, *cited = run("tables", "coins", "maria theresa").out.splitlines()
    assert head.split() == ["coin", "years", "mass", "size", "metal", "in", "percent"]
    assert line == "Austria Maria Theresa thaler 1780- 28.07 g 40 mm Ag 83.33, Cu 16.67"
    assert any("Museum" in c for c in cited)
    many = run("tables", "coins", "silver 1908").out
    assert many.splitlines()[-1].endswith("with their sources")
    assert "    " not in many.splitlines()[1][:4]


def test_found_coins_as_json(run: Callable[..., Run]) -> None:
    found = json.loads(run("tables", "coins", "US-1d-Ag", "--json").out)["coins"]
    assert "US-1d-Ag" in [c["id"] for c in found]


def test_a_name_that_is_in_no_table_is_answered_by_what_to_say(run: Callable[..., Run]) -> None:
    said = run("tables", "coins", "wanderer dollar")
    assert said.code == 2
    assert 'not a name in the tables: say country, value and year, for example "US silver dollar 1921"' in said.err
    assert run("tables", "coins", "US silver dollar 1921").code == 0


def test_words_of_a_search_need_no_quotes(run: Callable[..., Run]) -> None:
    assert run("tables", "coins", "21 mm", "6.45 g").out == run("tables", "coins", "21 mm 6.45 g").out


def test_a_number_without_a_unit_is_asked_for_it(run: Callable[..., Run]) -> None:
    said = run("tables", "coins", "gold 6.45").err
    assert 'expected a mass in g or a diameter in mm; write "6.45 g" or "6.45 mm"' in said


def test_what_is_not_found_names_the_nearest(run: Callable[..., Run]) -> None:
    said = run("tables", "coins", "hlf crown 1935")
    assert said.code == 2
    assert "United Kingdom half crown, silver 500" in said.err
    assert len(said.err) < 300
    assert run("tables", "metals", "silver").code == 2


def test_what_is_found_is_a_table_with_exact_names_first(run: Callable[..., Run]) -> None:
    lines = run("tables", "silver").out.splitlines()
    assert max(map(len, lines)) <= 100
    assert not any("_g_cm3" in line for line in lines)
    first = {name: next(n for n, line in enumerate(lines) if line.startswith(name)) for name in ("fine", "nickel")}
    assert first["fine"] < first["nickel"]
    # 925 parts of silver by definition; ASM Metals Handbook vol. 1: 10.36 g/cm3
    sterling = next(line for line in lines if line.startswith("silver 925 (sterling)"))
    assert sterling.split()[3:9] == ["Ag", "92.5,", "Cu", "7.5", "10.36", "+-"]


def test_of_many_rows_the_sources_are_numbered(run: Callable[..., Run]) -> None:
    lines = run("tables", "metals").out.splitlines()
    gold = next(line for line in lines if line.startswith("gold (Au)"))
    number = gold.split()[-1]
    assert any(line.split()[:1] == [number] and line.startswith("  ") for line in lines)


@pytest.mark.parametrize("name", ["skins", "SOURCES", "claims", "families", "inclusions"])
def test_every_table_keeps_to_a_hundred_columns(run: Callable[..., Run], name: str) -> None:
    assert max(map(len, run("tables", name).out.splitlines())) <= 100


def test_an_unknown_word_names_the_nearest_or_the_tables(run: Callable[..., Run]) -> None:
    assert 'the nearest known is "silver"' in run("tables", "silvr").err
    said = run("tables", "nonexisting").err
    assert "claims" in said
    assert "nearest" not in said
    assert len(said) < 300
