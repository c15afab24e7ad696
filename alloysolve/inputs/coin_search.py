"""The names of coin types, and the types whose names are nearest to what people write of them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import SequenceMatcher
from functools import cache

from ..published.load import Tables
from ..published.wares import CoinType

TOKEN = re.compile(r"\d+(?:[.,]\d+)?\s*(?:g|grams?|mm)(?![a-z])|\d+(?:[./]\d+)?|[^\W\d]+", re.IGNORECASE)
MEASURE = re.compile(r"(\d+)(?:[.,](\d+))?\s*(g|mm)", re.IGNORECASE)
CLOSE = 0.75  # likeness of two words from which one may be the other misspelt
# what to say of the brand or nickname of a coin
SAY = 'say country, value and year, for example "US silver dollar 1921"'
CALLED = f"not a name in the tables: {SAY}"
LISTED, LETTERS = 4, 110  # coin types that a message names, and in how many letters


def nearest(text: str, types: Sequence[CoinType], most: int = LISTED) -> list[CoinType]:
    """The types whose country, name and years share most words with a text, the nearest first."""
    said = [t for t in TOKEN.findall(plain_name(text)) if not MEASURE.fullmatch(t)]

    def score(c: CoinType) -> float:
        words = words_of(c.issuer, c.coin)
        return sum(max([_likeness(t, w) for w in words] + [0.5 * is_of_year(c, t)]) for t in said)

    return sorted(types, key=score, reverse=True)[:most]  # of equally near ones, in the order of the table


def listed(types: Sequence[CoinType], more: bool = True) -> str:
    """Some types by their full names, each of which is a claim, and how many more there are."""
    out: list[str] = []
    for c in types[:LISTED]:
        name = f'"{c.issuer} {c.coin}" ({c.years})'
        if out and len(", ".join([*out, name])) > LETTERS:
            break
        out.append(name)
    left = len(types) - len(out)
    return ", ".join(out) + (f" or {left} more" if left and more else "")


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
    return frozenset(TOKEN.findall(plain_name(" ".join(texts))))


def plain_name(text: str) -> str:
    """Text as names are compared: in lower case, without hyphens."""
    return text.lower().replace("-", " ")


def _likeness(a: str, b: str) -> float:
    if a == b:
        return 1.0
    ratio = SequenceMatcher(None, a, b).ratio() if min(len(a), len(b)) > 2 and a[0] == b[0] else 0.0
    return 0.9 * ratio if ratio >= CLOSE else 0.0


def metals_of(c: CoinType, tables: Tables) -> str:
    """The metals of a type by name, the greatest share of any of its parts first."""
    shares: dict[str, float] = {}
    for part in [c.composition, *c.layers.values()]:
        for symbol, percent in part.items():
            shares[symbol] = max(percent, shares.get(symbol, 0.0))
    return " ".join(tables.metals[s].name for s, _ in sorted(shares.items(), key=lambda item: -item[1]))
