"""A claim of a coin type: its id, its issuer and name, or what people call it ("silver dollar 1921")."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ..errors import InputError
from ..published.load import Tables
from ..published.wares import CoinType
from .claim_reading import grams
from .claim_words import METAL_NAMES, MONEY, Material, Role, Said
from .coin_money import NICKNAMES_OF, is_ounce, is_worth, money_said
from .coin_search import is_of_year, listed, nearest, words_of

HOME = {"dollar": "United States"} | dict.fromkeys(  # whose coin is meant where nobody says a country
    ("pound", "penny", "shilling", "crown", "florin", "sovereign"), "United Kingdom"
)
# a type so called is meant only if this word is said; of the second, or a year; of the third, or if no other is left
ONLY_SAID, SAID_OR_DATED = ("theresa",), ("oz",)
RARE = ("trade", "proof", "large", "clad", "9999")
RARE_WITHOUT_YEAR = ("wartime", "silver", "gold", "platinum", "palladium")  # or a year, if others are struck
LEAST_LETTERS = 3  # of a word that may be part of a coin's name
SAME = 1.0  # percent by which a fineness may differ from that of the table
SAME_MASS = 0.03  # relative difference of a mass that is said from that of a coin type
ALIKE_MASS, ALIKE_MM = 0.005, 0.6  # types no further apart are one claim, whoever struck them
OF_MONEY = frozenset((*MONEY, "oz"))
OF_ID = re.compile(r"[a-z]{2}-\S+")
MADE = ("bar", "ingot", "medal", "medallion", "round", "ring", "chain", "bracelet")  # what is no coin


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
    if not OF_ID.fullmatch(plain) and OF_MONEY.isdisjoint(re.findall("[a-z]+", plain)):
        return None  # the table takes time to load
    for c in tables.rows("coins"):
        if plain in (c.id.lower(), f"{c.issuer} {c.coin}".lower()):
            return _built(text, c, tables)
    return None


def coin_said(text: str, said: Sequence[Said], tables: Tables) -> CoinFound | None:
    """The coin type that words describe; None if they name no sum of money and no coin of an ounce.

    Raises
    ------
    InputError
        If none of the types in the table is meant, or several that differ.
    """
    money = money_said(said)
    sums, unit, used = money or (frozenset(), "", [])
    if not money and not _of_an_ounce(said):
        return None
    every = tables.rows("coins")
    same = [c for c in every if (is_worth(c, sums, tables) if money else "oz" in words_of(c.coin))]
    if unit == "dollar" and any(said[i].role is Role.COIN for i in used):
        same = [c for c in same if c.issuer in NICKNAMES_OF]
    surely = any(said[i].role in (Role.UNIT, Role.COIN) for i in used) and money
    if not same and not surely:
        return None
    rest = [s for i, s in enumerate(said) if i not in used]
    left = _meant(same, rest, unit, [said[i].text for i in used], tables)
    if left and all(alike(left[0], c) for c in left[1:]):
        return _built(text, left[0], tables)
    if not left and not surely and len(used) < 2:
        return None  # "silver crown 900" is a metal
    raise _question(text, left, same, [said[i].text for i in used], rest, tables)


def _of_an_ounce(said: Sequence[Said]) -> bool:
    """Whether a country, a precious metal and ounces are said, and no article: "South Africa gold 1 oz"."""
    roles = {s.role for s in said}
    named = {Role.ISSUER, Role.MATERIAL} <= roles and any(is_ounce(s) for s in said)
    return named and not any(s.text in MADE or s.role is Role.LAYER for s in said)


def _meant(same: list[CoinType], rest: Sequence[Said], unit: str, money: list[str], tables: Tables) -> list[CoinType]:
    """Of types of one value, those that all other words fit; usual ones where nothing is said of rare ones."""
    left = [c for c in same if all(_fits(c, s, tables) for s in rest)]
    said_of_it = [s.text.split() for s in rest if s.role in (Role.PLAIN, Role.MATERIAL)]
    heard = [w for words in said_of_it for w in words if len(w) >= LEAST_LETTERS]
    heard += [f"{10 * s.value:g}" for s in rest if s.role is Role.FINENESS]
    heard += ["oz"] if any(is_ounce(s) for s in rest) else []
    left = _so_called(left, heard)  # "trade", "round"
    if not any(s.role is Role.ISSUER for s in rest):
        left = [c for c in left if c.issuer == HOME.get(unit)] or left
    left = _so_called(left, money)  # "kronen" or "kronor"
    left = [c for c in left if all(is_of_mass(c, s, s.text) for s in rest if s.role is Role.MASS)] or left
    dated = any(s.role is Role.YEAR for s in rest)
    left = _without(left, ONLY_SAID, heard)
    left = _without(left, SAID_OR_DATED, heard) or (left if dated else [])
    left = _without(left, RARE, heard) or left
    usual = _without(left, RARE_WITHOUT_YEAR, heard)
    return usual if not dated and any(c.years.endswith("-") for c in usual) else left


def _so_called(types: list[CoinType], words: Sequence[str]) -> list[CoinType]:
    """The types in whose names words stand, each as far as any type is left."""
    for word in words:
        types = [c for c in types if any(w.startswith(word) for w in words_of(c.coin))] or types
    return types


def _without(types: list[CoinType], rare: Sequence[str], heard: list[str]) -> list[CoinType]:
    """The types in whose names none of some words stands that nobody said."""
    unsaid = {w for w in rare if not any(w.startswith(word) for word in heard)}
    return [c for c in types if not words_of(c.coin) & unsaid]


def alike(a: CoinType, b: CoinType) -> bool:
    """Whether two types are of one metal, mass and size."""
    mass = a.mass_g and b.mass_g and abs(a.mass_g / b.mass_g - 1) <= ALIKE_MASS
    size = a.diameter_mm and b.diameter_mm and abs(a.diameter_mm - b.diameter_mm) <= ALIKE_MM
    made = [(c.construction, c.layers, c.composition) for c in (a, b)]
    return bool(mass and size) and made[0] == made[1]


def _question(
    text: str, left: list[CoinType], same: list[CoinType], money: list[str], rest: Sequence[Said], tables: Tables
) -> InputError:
    """What to ask where no type or several are meant, with the nearest ones."""
    if left:
        step = "add the country, the year or the metal"
        return InputError("claim", text, f"one coin type; this may be {listed(left)}", step)
    odd = next((s.text for s in rest if same and not any(_fits(c, s, tables) for c in same)), " ".join(money))
    found = listed(nearest(text, same or tables.rows("coins")), more=False)
    expected = f'a coin type of the tables, such as {found}; none is "{odd}"'
    return InputError("claim", text, expected, "or claim its metal")


def _fits(c: CoinType, s: Said, tables: Tables) -> bool:
    """Whether a word may be said of a coin type."""
    check = CHECKS.get(s.role)
    said_of_it = bool(set(s.text.replace("-", " ").split()) <= words_of(f"{c.coin} {c.construction} {c.shape}"))
    return check is None or said_of_it or check(c, s, tables)


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


def is_of_mass(c: CoinType, s: Said, text: str) -> bool:
    """Whether a mass is that of a type or of its precious metal; an ounce of a coin is a troy ounce."""
    said, whole = grams(s, text, troy=True), c.mass_g or 0.0
    fine = max([c.composition.get(m, 0.0) for m in METAL_NAMES]) / 100 * whole
    return any(abs(said - mass) <= SAME_MASS * mass for mass in (whole, fine))


CHECKS: dict[Role, Callable[[CoinType, Said, Tables], bool]] = {
    Role.YEAR: lambda c, s, tables: is_of_year(c, s.value),
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
    Role.WEIGHTED: lambda c, s, tables: False,
    Role.WEIGHTED_WARE: lambda c, s, tables: False,
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
