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
    "solid": Role.SOLID,
    "two metals": Role.TWO_METAL,
    "stamp": Role.STAMP,
    "fine": Role.FINE,
    "article": Role.PLAIN,
    "other": Role.PLAIN,
}
MONEY = {  # unit: parts of the main unit that it is, and the money it belongs to
    **dict.fromkeys(("cent", "cents", "c"), (100, ("dollar", "euro"))),
    **dict.fromkeys(("dollar", "dollars", "usd"), (1, ("dollar",))),
    **dict.fromkeys(("euro", "euros", "eur"), (1, ("euro",))),
    **dict.fromkeys(("eurocent", "eurocents", "euro cent"), (100, ("euro",))),
    "penny": (100, ("pound", "dollar")),
    **dict.fromkeys(("p", "pence", "pennies"), (100, ("pound",))),
    **dict.fromkeys(("pound", "pounds", "gbp", "quid"), (1, ("pound",))),
    **dict.fromkeys(("franc", "francs", "f", "fr", "frs", "sfr", "chf"), (1, ("franc",))),
    **dict.fromkeys(("centime", "centimes", "rappen"), (100, ("franc",))),
    "yen": (1, ("yen",)),
    **dict.fromkeys(("real", "reales"), (1, ("reales",))),
}
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
        out.setdefault((word,), Said(Role.UNIT, word))
    for word, worth in NICKNAMES.items():
        out[word,] = Said(Role.COIN, word, worth)
    for coin in tables.rows("coins"):  # "trade dollar", "12-sided"
        for word in re.findall("[a-z]{3,}", coin.coin.lower()):
            out.setdefault((word,), Said(Role.PLAIN, word))
    return out


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
