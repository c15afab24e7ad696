"""A claim of a coin type: its id, its issuer and name, or what people call it ("silver dollar 1921")."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

from ..errors import InputError
from ..published.load import Tables
from ..published.wares import CoinType
from .claim_words import MONEY, Material, Role, Said

OF_ISSUER = {"Euro area": "euro", "United Kingdom": "pound", "Switzerland": "franc", "Japan": "yen"} | {
    "France": "franc",
    "Spanish America": "reales",
}  # all others count in dollars
OF_NICKNAMES = ("United States", "Canada")  # "quarter", "dime"
NEEDED = ("trade", "proof", "bullion")  # such a type is meant only if this word is said
NEEDED_OR_YEAR = ("wartime", "silver")  # or a year
SIGNS = ("dollar", "euro", "pound", "yen")  # units that may stand before the number
LEAST_LETTERS = 3  # of a word that may be part of a coin's name
SHOWN = 6  # coin types that a question names
SAME = 1.0  # percent by which a fineness may differ from that of the table
AMOUNT = re.compile(
    r"((?:\d[\d./]*\s*(?:/|and)?\s*)+)(c|p|F|cents?|dollars?|euro|pence|penny|pounds?|francs?|yen|reales)\b"
)


@dataclass(frozen=True)
class CoinFound:
    """A coin type, and how it is built: the clad stock, or the metal of its plating and the families of its core."""

    coin: CoinType
    clad: str = ""
    skin: str = ""
    families: tuple[str, ...] = ()


def coin_named(text: str, tables: Tables) -> CoinFound | None:
    """The coin type of an id, or of issuer and name as the table has them."""
    plain = text.strip().lower()
    for c in tables.rows("coins"):
        if plain in (c.id.lower(), f"{c.issuer} {c.coin}".lower()):
            return _built(text, c, tables)
    return None


def coin_said(text: str, said: Sequence[Said], tables: Tables) -> CoinFound | None:
    """The coin type that words describe; None if they name no sum of money.

    Raises
    ------
    InputError
        If none or several of the types in the table are meant.
    """
    money = _money(said)
    if money is None:
        return None
    amount, units, used = money
    rest = [s for i, s in enumerate(said) if i not in used]
    same = [c for c in tables.rows("coins") if round(amount, 4) in _amounts(c, units)]
    if any(said[i].role is Role.COIN for i in used):
        same = [c for c in same if c.issuer in OF_NICKNAMES]
    left = [c for c in same if all(_fits(c, s, tables) for s in rest)]
    said_of_it = [s.text.split() for s in rest if s.role in (Role.PLAIN, Role.MATERIAL)]
    heard = [w for words in said_of_it for w in words if len(w) >= LEAST_LETTERS]
    for word in heard:  # "trade", "round": those that are so called, if any are
        left = [c for c in left if any(w.startswith(word) for w in _words_of(c.coin))] or left
    needed = NEEDED if any(s.role is Role.YEAR for s in rest) else (*NEEDED, *NEEDED_OR_YEAR)
    unsaid = {w for w in needed if not any(w.startswith(word) for word in heard)}
    left = [c for c in left if not _words_of(c.coin) & unsaid] or left
    if len(left) == 1:
        return _built(text, left[0], tables)
    what = " ".join(said[i].text for i in used)
    if not left:
        odd = next((s.text for s in rest if same and not any(_fits(c, s, tables) for c in same)), what)
        near = f", such as {_listed(same)}" if same else ""
        expected = f'a coin type that is in the tables{near}; none of them is "{odd}"'
        raise InputError("claim", text, expected, 'claim its metal instead, such as "silver 900" or "copper-nickel"')
    step = "add the country, the year or the metal, or write the id"
    raise InputError("claim", text, f'one coin type; "{what}" may be {_listed(left)}', step)


def _listed(coins: Sequence[CoinType]) -> str:
    shown = [f"{c.id} ({c.issuer}, {c.coin})" for c in coins[:SHOWN]]
    return ", ".join(shown) + (" and others" if len(coins) > SHOWN else "")


def _money(said: Sequence[Said]) -> tuple[float, tuple[str, ...], list[int]] | None:
    """The sum that the words name: amount in the main unit, the money it may be, and the positions of its words."""
    for i, s in enumerate(said):
        if s.role is Role.COIN:
            after = i + 1 < len(said) and said[i + 1].text in ("dollar", "dollars")
            return s.value, ("dollar",), [i, i + 1] if after else [i]
        if s.role is not Role.UNIT or s.text not in MONEY:
            continue
        parts, units = MONEY[s.text]
        used, number = [i], 1.0
        if i and said[i - 1].role in (Role.NUMBER, Role.FRACTION, Role.FINENESS, Role.YEAR):
            used, number = [i - 1, i], _number(said[i - 1])
        elif i + 1 < len(said) and said[i + 1].role in (Role.NUMBER, Role.FINENESS) and s.text in SIGNS:
            used, number = [i, i + 1], _number(said[i + 1])  # "$ 5"
        elif i and said[i - 1].text == "half":
            used, number = [i - 1, i], 0.5
        elif len(s.text) == 1:
            continue
        after = i + 1 < len(said) and said[i + 1].text in ("cent", "cents", "c")
        if s.text == "euro" and after:
            parts, units, used = 100, ("euro",), [*used, i + 1]
        return number / parts, units, used
    return _nickname(said)


def _nickname(said: Sequence[Said]) -> tuple[float, tuple[str, ...], list[int]] | None:
    """Five cents from "US nickel" or "Canadian nickel", where no other metal is named."""
    metals = [i for i, s in enumerate(said) if s.role is Role.MATERIAL]
    issuer = any(s.role is Role.ISSUER and set(s.value) & {"United States", "Canada"} for s in said)
    other = any(s.role in (Role.FINENESS, Role.LAYER, Role.MASS) for s in said)
    if issuer and len(metals) == 1 and said[metals[0]].text == "nickel" and not other:
        return 0.05, ("dollar",), metals
    return None


def _number(s: Said) -> float:
    if s.role is Role.FRACTION:
        return float(s.value[0] / s.value[1])
    return float(s.text) if s.role is Role.FINENESS and re.fullmatch(r"[\d.]+", s.text) else float(s.value)


@cache
def _amounts_of(coin: str) -> tuple[tuple[float, str], ...]:
    found = AMOUNT.match(coin)
    if not found:
        return ((1.0, "dollar"),) if coin.lower().startswith("trade dollar") else ()
    unit = found[2].lower()
    return tuple((float(x), unit) for x in re.findall(r"\d+(?:\.\d+)?", found[1]))


def _amounts(c: CoinType, units: tuple[str, ...]) -> set[float]:
    """Amounts of a coin type, if its money is one of those."""
    money = OF_ISSUER.get(c.issuer, "dollar")
    out = set()
    for x, unit in _amounts_of(c.coin):
        parts, named = MONEY.get(unit, (1, ()))
        of = "euro" if "euro" in named and unit != "c" and unit not in ("cent", "cents") else money
        if of in units:
            out.add(round(x / parts, 4))
    return out


@cache
def _words_of(coin: str) -> frozenset[str]:
    return frozenset(re.findall(r"[a-z]+|\d+", coin.lower().replace("-", " ")))


def _fits(c: CoinType, s: Said, tables: Tables) -> bool:
    """Whether a word may be said of a coin type."""
    check = CHECKS.get(s.role)
    said_of_it = bool(set(s.text.replace("-", " ").split()) <= _words_of(f"{c.coin} {c.construction} {c.shape}"))
    return check is None or said_of_it or check(c, s, tables)


def _of_year(c: CoinType, s: Said, tables: Tables) -> bool:
    first, _, last = c.years.partition("-")
    to = int(last) if last else 9999 if "-" in c.years else int(first)
    return int(first) <= int(s.value) <= to


def _of_fineness(c: CoinType, s: Said, tables: Tables) -> bool:
    main = max(c.composition.values(), default=0.0)
    return any(abs(x - s.value) <= SAME for m, x in c.composition.items() if m in ("Ag", "Au", "Pt", "Pd") or x == main)


def _of_material(c: CoinType, s: Said, tables: Tables) -> bool:
    """Whether a coin type is of a material, throughout or in one of its layers."""
    of: Material = s.value
    parts = [c.composition, *c.layers.values()]
    if of.metal:
        fine = {of.rows[0].limits[of.metal][0]} if of.rows else set()
        main = [p for p in parts if p and max(p, key=lambda m: p[m]) == of.metal]
        return bool(main) and all(_of_fineness(c, Said(Role.FINENESS, "", x), tables) for x in fine)
    limits = [tables.families[f].limits for f in of.families]
    return any(p and all(a <= p.get(m, 0.0) <= b for m, (a, b) in one.items()) for p in parts for one in limits)


def _of_layer(c: CoinType, s: Said, tables: Tables) -> bool:
    return bool(c.construction == "clad" if s.value.clad else c.construction.startswith("plated"))


CHECKS: dict[Role, Callable[[CoinType, Said, Tables], bool]] = {
    Role.YEAR: _of_year,
    Role.FINENESS: _of_fineness,
    Role.MATERIAL: _of_material,
    Role.LAYER: _of_layer,
    Role.ISSUER: lambda c, s, tables: c.issuer in s.value,
    Role.TWO_METAL: lambda c, s, tables: c.construction == "bimetal",
    Role.NUMBER: lambda c, s, tables: False,
    Role.FRACTION: lambda c, s, tables: False,
    Role.UNIT: lambda c, s, tables: s.text in ("euro", "usd", "eur", "dollar"),
    Role.STAMP: lambda c, s, tables: False,
    Role.HOLLOW: lambda c, s, tables: False,
    Role.THICKNESS: lambda c, s, tables: False,
}


def _built(text: str, c: CoinType, tables: Tables) -> CoinFound:
    """A coin type with its stock or plating; an error if its mean composition is not known either."""
    layers = c.layers
    if c.construction == "clad":
        made = {r.name: r.composition for r in tables.rows("skins")} | {"copper": {"Cu": 100.0}}
        stock = [
            r
            for r in tables.rows("clad")
            if layers.get("core") == made.get(r.core) and layers.get("face") == made.get(r.faces)
        ]
        if stock:
            share = _share_of_faces(c)
            return CoinFound(c, clad=min(stock, key=lambda r: abs(r.share - share)).name)
    if c.construction == "plated" and len(layers.get("plate", {})) == 1:
        core = max(layers["core"], key=lambda m: layers["core"][m])
        families = tuple(
            f.family
            for f in tables.families.values()
            if f.system == core
            and f.base != "never"
            and all(a <= layers["core"].get(m, 0.0) <= b for m, (a, b) in f.limits.items())
        )
        return CoinFound(c, skin=next(iter(layers["plate"])), families=families)
    if not c.composition:
        expected = f"a coin type whose mean composition is published; that of {c.id} is not"
        step = "weigh it without a claim and compare its mass and size, or claim a coin type of one metal"
        raise InputError("claim", text, expected, step)
    return CoinFound(c)


def _share_of_faces(c: CoinType) -> float:
    """Mass fraction of both faces of a clad coin, from the metal in which faces and core differ most."""
    face, core = c.layers["face"], c.layers["core"]
    metal = max(face, key=lambda m: abs(face[m] - core.get(m, 0.0)))
    in_core = core.get(metal, 0.0)
    return (c.composition.get(metal, 0.0) - in_core) / (face[metal] - in_core)
