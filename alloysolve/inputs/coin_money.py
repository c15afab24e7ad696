"""Sums of money: what a coin type's name says it is worth, and what the words of a claim say."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

from ..published.load import Tables
from ..published.wares import CoinType
from .claim_words import COUNTS, MONEY, Role, Said

Sum = tuple[float, str]  # amount and unit
DECIMAL = 1971  # from this year a penny is a hundredth of a pound, before a 240th (Decimal Currency Act 1969)
NICKNAMES_OF = ("United States", "Canada")  # whose coins are called "quarter", "dime", "nickel"
ALSO = {  # other unit of a coin (shillings only where the issuer has them), with how many of it make one of the first
    "euro cent": ("cent", 1),
    "rappen": ("centime", 1),
    "reichsmark": ("mark", 1),
    "deutsche mark": ("mark", 1),
    "crown": ("shilling", 5),
    "florin": ("shilling", 2),
}
PARTS = {  # hundredths of each unit
    **dict.fromkeys(("dollar", "rand", "gulden"), "cent"),
    **{"euro": "euro cent", "franc": "centime", "pound": "penny", "mark": "pfennig", "yen": "sen", "peso": "centavo"},
    **{"rupee": "paise", "lira": "centesimo", "peseta": "centimo", "krone": "ore", "schilling": "groschen"},
}
NUMBERS = (Role.NUMBER, Role.FRACTION, Role.FINENESS, Role.YEAR)
SIGNS = ("dollar", "euro", "pound", "yen")  # units that may stand before the number
OUNCE = re.compile(r"(?:oz|ozt|toz|ounce)")
NAMED = re.compile(
    rf"(?:({'|'.join(COUNTS)}|\d+(?:\.\d+)?) )?(?:trade )?({'|'.join(sorted(MONEY, key=len, reverse=True))})(?![a-z])"
)


def _exact(amount: float) -> float:
    return round(amount, 4)


@cache
def _named(coin: str) -> Sum | None:
    """The sum that a coin type is named after; None for coins without one ("gold 1 oz")."""
    found = NAMED.search(coin.lower())
    if not found:
        return None
    unit, parts = MONEY[found[2]]
    count = COUNTS.get(found[1]) or float(found[1] or 1)
    return _exact(count * parts), unit


@cache
def sums_of(issuer: str, name: str, years: str, tables: Tables) -> frozenset[Sum]:
    """All sums that a coin type may be said to be: ten rappen are ten centimes and a tenth of a franc."""
    own = _named(name)
    if own is None:
        return frozenset()
    amount, unit = own
    out = {own}
    other, times = ALSO.get(unit, ("", 0))
    if other and (other != "shilling" or other in _units_of(issuer, tables)):  # Austria's florins are none
        out.add((_exact(amount * times), other))
    if unit == "penny" and int(years[:4]) < DECIMAL:
        return frozenset(out)
    whole = [u for u, part in PARTS.items() if part in (unit, other)]
    return frozenset(out | {(_exact(amount / 100), u) for u in whole if u in _units_of(issuer, tables)})


@cache
def _units_of(issuer: str, tables: Tables) -> frozenset[str]:
    """The units of money in which an issuer's types are counted."""
    found = [_named(c.coin) for c in tables.rows("coins") if c.issuer == issuer]
    return frozenset(unit for _, unit in filter(None, found))


def is_worth(c: CoinType, sums: frozenset[Sum], tables: Tables) -> bool:
    """Whether a coin type is worth one of some sums."""
    return bool(sums & sums_of(c.issuer, c.coin, c.years, tables))


def money_said(said: Sequence[Said]) -> tuple[frozenset[Sum], str, list[int]] | None:
    """The sums that the words may mean, the unit of the first, and the positions of its words; None without money."""
    for i, s in enumerate(said):
        if s.role is Role.COIN:
            after = i + 1 < len(said) and said[i + 1].text in ("dollar", "dollars")
            if after or i + 1 == len(said) or said[i + 1].text not in MONEY:
                return frozenset({(100 * s.value, "cent")}), "dollar", [i, i + 1] if after else [i]
    for i, s in enumerate(said):
        if s.text not in MONEY:
            continue
        unit, parts = MONEY[s.text]
        amount, used = _counted(said, i)
        if amount is None and len(s.text) == 1:
            continue
        if unit == "euro" and i + 1 < len(said) and said[i + 1].text in ("cent", "cents", "c"):
            unit, used = "euro cent", [*used, i + 1]
        total = _exact((1.0 if amount is None else amount) * parts)
        sums = {(total, unit)}
        if unit in ("crown", "florin"):
            sums.add((_exact(total * ALSO[unit][1]), ALSO[unit][0]))
        if s.text in ("penny", "pennies"):
            sums.add((total, "cent"))  # as people call it in North America
        return frozenset(sums), unit, used
    return _five_cents(said)


def is_ounce(s: Said) -> bool:
    """Whether a word is a mass in ounces, of which coins know only the troy ounce."""
    return s.role is Role.MASS and bool(OUNCE.match(re.sub(r"[\s.]|troy|av", "", s.value[1])))


def _counted(said: Sequence[Said], i: int) -> tuple[float | None, list[int]]:
    """The number beside a unit of money, None without one, and the positions of both."""
    before = said[i - 1] if i else None
    if before is not None and before.text in COUNTS:
        return COUNTS[before.text], [i - 1, i]
    if before is not None and before.role in NUMBERS:
        more = i > 1 and before.role is Role.FRACTION and said[i - 2].role is Role.NUMBER
        return _number(before) + (_number(said[i - 2]) if more else 0.0), [*([i - 2] if more else []), i - 1, i]
    after = said[i + 1] if i + 1 < len(said) else None
    if after is not None and said[i].text in SIGNS and after.role in (Role.NUMBER, Role.FINENESS):
        return _number(after), [i, i + 1]  # "$ 5"
    return None, [i]


def _number(s: Said) -> float:
    if s.role is Role.FRACTION:
        part, of = s.value
        return float(part / of)
    return float(s.text) if s.role is Role.FINENESS and re.fullmatch(r"[\d.]+", s.text) else float(s.value)


def _five_cents(said: Sequence[Said]) -> tuple[frozenset[Sum], str, list[int]] | None:
    """Five cents from "US nickel" or "Canadian nickel", where no other metal is named."""
    metals = [i for i, s in enumerate(said) if s.role is Role.MATERIAL]
    issuer = any(s.role is Role.ISSUER and set(s.value) & set(NICKNAMES_OF) for s in said)
    other = any(s.role in (Role.FINENESS, Role.LAYER, Role.MASS) for s in said)
    if issuer and len(metals) == 1 and said[metals[0]].text == "nickel" and not other:
        return frozenset({(5.0, "cent")}), "dollar", metals
    return None
