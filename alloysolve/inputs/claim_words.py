"""The vocabulary of claims: every word or phrase that is understood, with its role (claim_words.csv)."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum, auto
from functools import cache
from typing import Any

from ..published.load import Tables
from ..published.wares import ClaimRegion, ClaimWords

METAL_NAMES = {"Ag": "silver", "Au": "gold", "Pt": "platinum", "Pd": "palladium"}


class Carat(float):
    """A fineness [percent] that was given as a carat, which is always gold."""


class Role(Enum):
    """What a word does in a claim."""

    MATERIAL = auto()  # a metal or an alloy
    FINENESS = auto()  # percent of the precious metal, from a mark, a share or a carat
    FINE = auto()  # "fine", "pure": a fineness where none is given, else no news
    FRACTION = auto()  # 1/20
    COLOUR = auto()
    LAYER = auto()  # plated, clad, filled, gilt
    LINK = auto()  # with, on, over, under
    MASS = auto()
    THICKNESS = auto()  # of a layer [um]
    YEAR = auto()
    ISSUER = auto()
    UNIT = auto()  # of money
    COIN = auto()  # a nickname of a coin
    NUMBER = auto()  # a number whose meaning depends on what follows
    HOLLOW = auto()
    WEIGHTED = auto()  # filled with pitch, plaster or cement, or on a rod of steel
    WEIGHTED_WARE = auto()  # often so, also where nobody says it
    SOLID = auto()
    TWO_METAL = auto()
    STAMP = auto()  # stamped, hallmarked
    PLAIN = auto()  # understood, and without effect on what the piece is made of
    QUERY = auto()  # understood, but no claim by itself: the user is asked
    UNKNOWN = auto()


@dataclass(frozen=True, slots=True)
class Said:
    """One word or phrase of a claim; `before` : "-" if joined to the word before it, "," if set apart from it."""

    role: Role
    text: str
    value: Any = None
    before: str = ""


@dataclass(frozen=True, slots=True)
class Material:
    """A metal or alloy that a claim names.

    `metal` : symbol of a precious metal, or "". rows : regions of a name that says the fineness too ("sterling").
    families : of a base metal or base alloy. layer : what a layer of it is called in the tables, or "".
    """

    metal: str = ""
    rows: tuple[ClaimRegion, ...] = ()
    families: tuple[str, ...] = ()
    layer: str = ""


@dataclass(frozen=True, slots=True)
class Layer:
    """A word for a layer.

    `skin` : the material if none is named, or "". body : likewise. clad : on both faces of a strip.
    least_um : least thickness in fine metal, where a law states one.
    """

    skin: str = ""
    body: str = ""
    clad: bool = False
    least_um: float | None = None


ROLES = {
    "link": Role.LINK,
    "hollow": Role.HOLLOW,
    "weighted": Role.WEIGHTED,
    "weighted ware": Role.WEIGHTED_WARE,
    "solid": Role.SOLID,
    "two metals": Role.TWO_METAL,
    "stamp": Role.STAMP,
    "fine": Role.FINE,
    "article": Role.PLAIN,
    "other": Role.PLAIN,
}
UNITS = {  # units of money, with the words for them
    **{"cent": "cent cents c", "dollar": "dollar dollars usd", "euro": "euro euros eur"},
    **{"euro cent": "eurocent eurocents", "penny": "penny pennies pence p", "pound": "pound pounds gbp quid"},
    **{"shilling": "shilling shillings", "crown": "crown crowns", "florin": "florin florins"},
    **{"sovereign": "sovereign sovereigns", "franc": "franc francs f fr frs sfr chf", "centime": "centime centimes"},
    **{"rappen": "rappen", "mark": "mark marks", "reichsmark": "reichsmark rm", "pfennig": "pfennig pfennigs pfg"},
    **{"deutsche mark": "dm dmark", "lira": "lira lire", "centesimo": "centesimo centesimi"},
    **{"peseta": "peseta pesetas ptas", "centimo": "centimo centimos", "real": "real reales"},
    **{"peso": "peso pesos", "centavo": "centavo centavos", "yen": "yen", "sen": "sen", "yuan": "yuan"},
    **{"gulden": "gulden guilder guilders", "ducat": "ducat ducats", "thaler": "thaler thalers taler talers"},
    **{"schilling": "schilling schillings", "groschen": "groschen", "krone": "krone kronen kroner krona kronor korona"},
    **{"ore": "ore", "rand": "rand", "rupee": "rupee rupees", "anna": "anna annas", "paise": "paise paisa"},
    **{"rouble": "rouble roubles ruble rubles", "kopeck": "kopeck kopecks kopek kopeks"},
    **{"drachma": "drachma drachmas", "lepta": "lepta", "leu": "leu lei", "bani": "bani", "dinar": "dinar dinars"},
    **{"para": "para", "lev": "lev leva", "stotinki": "stotinki", "escudo": "escudo escudos", "libra": "libra"},
    **{"sol": "sol soles", "kurush": "kurush", "balboa": "balboa", "piastre": "piastre piastres"},
    **{"markka": "markka markkaa", "zloty": "zloty zlotys", "koruna": "koruna korun"},
}
MONEY: dict[str, tuple[str, float]] = {  # word: unit, and how many of it
    **{word: (unit, 1.0) for unit, words in UNITS.items() for word in words.split()},
    **{"deutsche mark": ("deutsche mark", 1.0), "euro cent": ("euro cent", 1.0), "euro cents": ("euro cent", 1.0)},
    **{"sixpence": ("penny", 6.0), "threepence": ("penny", 3.0), "halfpenny": ("penny", 0.5)},
    **{"farthing": ("penny", 0.25), "farthings": ("penny", 0.25), "halfcrown": ("crown", 0.5)},
}
# units whose words mean nothing else; "mark", "crown" and others count as money only beside what makes a coin of them
ALWAYS_MONEY = {"dollar", "cent", "euro", "euro cent", "pound", "penny", "franc", "centime", "rappen", "yen"}
COUNTS = {"half": 0.5, "quarter": 0.25}
NICKNAMES = {"quarter": 0.25, "quarters": 0.25, "dime": 0.1, "dimes": 0.1}  # dollars
LATER = ("other", "article", "issuer", "asked")  # of a phrase with several roles, the others count


@cache
def vocabulary(tables: Tables) -> Mapping[tuple[str, ...], Said]:
    """Every phrase that is understood, as a tuple of words."""
    rows: list[ClaimWords] = [r for r in tables.rows("claim_words") if r.role != "standard"]
    out: dict[tuple[str, ...], Said] = {}
    for row in sorted(rows, key=lambda r: LATER.index(r.role) if r.role in LATER else len(LATER)):
        for phrase in phrases(row.words):
            out[phrase] = _said(row, phrase, out.get(phrase), tables)
    for family in tables.families.values():
        if family.system.split()[0] not in METAL_NAMES:
            for name in (family.family, family.words):
                out.setdefault(_plain(name), Said(Role.MATERIAL, family.words, Material(families=(family.family,))))
    for words, of in standards(tables).items():
        out[words] = Said(Role.MATERIAL, " ".join(words), Material(of[0].metal, of, layer=of[0].metal))
    for word in MONEY:
        out.setdefault((word,), Said(Role.UNIT if MONEY[word][0] in ALWAYS_MONEY else Role.PLAIN, word))
    for word, worth in NICKNAMES.items():
        out[word,] = Said(Role.COIN, word, worth)
    return out


@cache
def with_coins(tables: Tables) -> Mapping[tuple[str, ...], Said]:
    """The vocabulary with the words of the names of coin types ("trade dollar"), which take time to load."""
    words = {word for coin in tables.rows("coins") for word in re.findall("[a-z]{3,}", coin.coin.lower())}
    return {**{(word,): Said(Role.PLAIN, word) for word in sorted(words)}, **vocabulary(tables)}


def phrases(words: str) -> Iterator[tuple[str, ...]]:
    """The phrases of a cell, as tuples of words."""
    return (tuple(phrase.split()) for phrase in words.split(";") if phrase)


def _said(row: ClaimWords, phrase: tuple[str, ...], known: Said | None, tables: Tables) -> Said:
    text = " ".join(phrase)
    if row.role == "precious metal":
        return Said(Role.MATERIAL, text, Material(row.means, layer=row.layer))
    if row.role == "base metal":
        return Said(Role.MATERIAL, text, Material(families=_families(row, tables), layer=row.layer))
    if row.role == "colour":
        return Said(Role.COLOUR, text, () if row.means == "several" else (row.means,))
    if row.role == "layer":
        return Said(Role.LAYER, text, Layer(row.layer, row.body, row.bond == "clad", row.least_um))
    if row.role == "issuer":  # "french" is said of euros and of francs
        return Said(Role.ISSUER, text, (*(known.value if known and known.role is Role.ISSUER else ()), row.means))
    if row.role == "asked":
        return Said(Role.QUERY, text, row.means)
    return Said(ROLES[row.role], text)


def _families(row: ClaimWords, tables: Tables) -> tuple[str, ...]:
    if row.families.startswith("* "):
        word = row.families[2:]
        return tuple(f.family for f in tables.families.values() if word in f"{f.family} {f.words}".split())
    return tuple(filter(None, row.families.split(";")))


def _plain(text: str) -> tuple[str, ...]:
    return tuple(text.lower().replace("-", " ").split())


@cache
def standards(tables: Tables) -> dict[tuple[str, ...], tuple[ClaimRegion, ...]]:
    """Names of claims.csv that say metal and fineness in words alone, such as "sterling" and "coin gold"."""
    out: dict[tuple[str, ...], tuple[ClaimRegion, ...]] = {}
    of_words = {r.means: r.words for r in tables.rows("claim_words") if r.role == "standard"}
    for row in tables.rows("claims"):
        for name in f"{row.also};{of_words.get(row.claim, '')}".split(";"):
            words = _plain(name)
            if words and "".join(words).isalpha() and not {"fine", "pure"} & set(words):
                out[words] = (*out.get(words, ()), row)
    return out
