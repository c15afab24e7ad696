"""Coin types by what people write of them: the sum of money, country, name, year, metal, mass and size."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from ..errors import InputError
from ..published.load import Tables
from ..published.wares import CoinType
from .claim_reading import read
from .claim_words import COUNTS, MONEY, Role, vocabulary
from .coin_money import NICKNAMES_OF, is_worth, money_said
from .coin_search import MEASURE, TOKEN, is_of_year, metals_of, plain_name, words_of

FILLERS = frozenset(("coin", "coins", "diameter", "wide", "across", "mass", "weight", "weighs", "and", "of", "a", "x"))
NEAR_MASS, NEAR_MM = 0.006, 0.15  # relative, and in mm: how far a search by mass and size reaches (judgement)


def find_types(text: str, tables: Tables) -> list[CoinType]:
    """The coin type of an id, or all of a sum of money ("half dollar"), or else of words; all other words fit too."""
    if named := [c for c in tables.rows("coins") if c.id.lower() == text.strip().lower()]:
        return named
    return _of_sum(text, tables) or _of_words(TOKEN.findall(plain_name(text)), tables.rows("coins"), tables)


def _of_sum(text: str, tables: Tables) -> list[CoinType]:
    """The types that are worth what a claim of this text would name; none where it names a unit of money at most."""
    try:
        said = read(text, tables)
    except InputError:
        return []
    money = money_said(said)
    if not money:
        return []
    sums, unit, used = money
    if len(used) == 1 and MONEY.get(said[used[0]].text, ("", 0.0))[1] == 1.0:
        return []  # "dollar" finds all dollars
    types = [c for c in tables.rows("coins") if is_worth(c, sums, tables)]
    called = any(said[i].role is Role.COIN for i in used) or (unit == "dollar" and said[used[0]].text in COUNTS)
    if called and not any(s.role is Role.ISSUER for s in said):  # "dime" and "half dollar" are words of North America
        types = [c for c in types if c.issuer in NICKNAMES_OF]
    rest = " ".join(s.text for i, s in enumerate(said) if i not in used)
    return _of_words(TOKEN.findall(plain_name(rest)), types, tables) if rest else types


def _of_words(tokens: Sequence[str], types: Sequence[CoinType], tables: Tables) -> list[CoinType]:
    """The types that every word, number, mass and size fits; none without a word."""
    tests = [_test(token, tables) for token in tokens if token not in FILLERS]
    return [c for c in types if tests and all(test(c) for test in tests)]


def _test(token: str, tables: Tables) -> Callable[[CoinType], bool]:
    """Whether one word or measure of a search fits a type."""
    if found := MEASURE.fullmatch(re.sub(r"grams?$", "g", token)):
        value = float(f"{found[1]}.{found[2] or 0}")
        digit = 0.5 * 10.0 ** -len(found[2] or "")
        if found[3] == "mm":
            return lambda c: _near(c.diameter_mm, value, max(digit, NEAR_MM))
        return lambda c: _near(c.mass_g, value, max(digit, NEAR_MASS * value))
    said = vocabulary(tables).get((token,))
    issuers = said.value if said and said.role is Role.ISSUER else ()
    if token[0].isdigit():
        return lambda c: token in words_of(c.coin) or is_of_year(c, token)

    def named(c: CoinType) -> bool:
        words = words_of(c.issuer, c.coin, c.construction, metals_of(c, tables))
        return c.issuer in issuers or any(w.startswith(token) for w in words)

    return named


def _near(published: float | None, value: float, tolerance: float) -> bool:
    return published is not None and abs(published - value) <= tolerance + 1e-9
