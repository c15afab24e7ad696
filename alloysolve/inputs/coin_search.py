"""Coin types by what people write of them: country, name, year, metal, mass and size; and the nearest ones."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from difflib import SequenceMatcher
from functools import cache

from ..published.load import Tables
from ..published.wares import CoinType
from .claim_words import Role, vocabulary

TOKEN = re.compile(r"\d+(?:[.,]\d+)?\s*(?:g|grams?|mm)(?![a-z])|\d+(?:[./]\d+)?|[^\W\d]+", re.IGNORECASE)
MEASURE = re.compile(r"(\d+)(?:[.,](\d+))?\s*(g|mm)", re.IGNORECASE)
NEAR_MASS, NEAR_MM = 0.006, 0.15  # relative, and in mm: how far a search by mass and size reaches (judgement)
CLOSE = 0.75  # likeness of two words from which one may be the other misspelt
LISTED, LETTERS = 4, 110  # coin types that a message names, and in how many letters


def find_types(text: str, tables: Tables) -> list[CoinType]:
    """The coin type of an id, or all that every word, number, mass and size of a text fits."""
    if named := [c for c in tables.rows("coins") if c.id.lower() == text.strip().lower()]:
        return named
    tests = [_test(token, tables) for token in TOKEN.findall(_plain(text))]
    return [c for c in tables.rows("coins") if tests and all(test(c) for test in tests)]


def nearest(text: str, types: Sequence[CoinType], most: int = LISTED) -> list[CoinType]:
    """The types whose country, name and years share most words with a text, the nearest first."""
    said = [t for t in TOKEN.findall(_plain(text)) if not MEASURE.fullmatch(t)]

    def score(c: CoinType) -> float:
        words = words_of(c.issuer, c.coin)
        return sum(max([_likeness(t, w) for w in words] + [0.5 * is_of_year(c, t)]) for t in said)

    return sorted(types, key=score, reverse=True)[:most]  # of equally near ones, in the order of the table


def listed(types: Sequence[CoinType]) -> str:
    """Some types by their full names, each of which is a claim, and how many more there are."""
    out: list[str] = []
    for c in types[:LISTED]:
        name = f'"{c.issuer} {c.coin}" ({c.years})'
        if out and len(", ".join([*out, name])) > LETTERS:
            break
        out.append(name)
    more = len(types) - len(out)
    return ", ".join(out) + (f" or {more} more" if more else "")


def is_of_year(c: CoinType, year: str | int) -> bool:
    """Whether a type was struck in a year; False for what is no year."""
    text = str(year)
    if not re.fullmatch(r"\d{4}", text):
        return False
    first, dash, last = c.years.partition("-")
    return int(first) <= int(text) <= int(last or (9999 if dash else first))


@cache
def words_of(*texts: str) -> frozenset[str]:
    """The words and numbers of a name, without signs."""
    return frozenset(TOKEN.findall(_plain(" ".join(texts))))


def _plain(text: str) -> str:
    return text.lower().replace("-", " ")


def _likeness(a: str, b: str) -> float:
    if a == b:
        return 1.0
    ratio = SequenceMatcher(None, a, b).ratio() if min(len(a), len(b)) > 2 and a[0] == b[0] else 0.0
    return 0.9 * ratio if ratio >= CLOSE else 0.0


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


def metals_of(c: CoinType, tables: Tables) -> str:
    """The metals of a type by name, the greatest share of any of its parts first."""
    shares: dict[str, float] = {}
    for part in [c.composition, *c.layers.values()]:
        for symbol, percent in part.items():
            shares[symbol] = max(percent, shares.get(symbol, 0.0))
    return " ".join(tables.metals[s].name for s, _ in sorted(shares.items(), key=lambda item: -item[1]))
