"""A claim of one material, without a layer: a precious metal with its fineness, a base metal, or a composition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..errors import InputError
from ..kept import Arrays, kept
from ..published.load import Tables
from ..published.wares import ClaimRegion
from .claim_fineness import metal_of_share, missing, of_composition, one_share, regions
from .claim_reading import EXAMPLES, read
from .claim_words import METAL_NAMES, Carat, Material, Role, Said

SUM = (98.0, 102.0)  # percent, of a composition that is stated in full
ALLOYED_WITH = {"Pt": ("Ir", "Ru", "Rh", "Co", "Cu", "Pd"), "Pd": ("Ru", "Ag", "Cu")}  # as in claims.csv
COLOURLESS = ("white",)  # said of silver, platinum and palladium too
STRAY = {  # roles without a meaning in such a claim, with what is expected and the next step
    Role.NUMBER: ('what "{}" counts or measures', 'write for example "18 ct", "18 g" or "silver 800"'),
    Role.FRACTION: ('"{}" only beside a layer, such as "gold filled 1/20 14 ct"', "say what is plated or filled"),
    Role.THICKNESS: ('"{}" only beside a layer, such as "gold plated 3 um"', "say what is plated"),
    Role.UNIT: ('a coin type of the tables or a metal; "{}" alone is neither', 'write its metal, such as "silver 900"'),
    Role.COIN: ('a coin type of the tables or a metal; "{}" alone is neither', 'write its metal, such as "silver 900"'),
    Role.TWO_METAL: (
        'one metal, or a coin type that is in the tables; "{}" is said of two metals that are weighed as one',
        "leave the claim out, or claim the metal of one part and test that part by itself",
    ),
}


@dataclass(frozen=True)
class Plain:
    """What a claim of one material allows: regions, or families of base metals."""

    regions: tuple[ClaimRegion, ...] = ()
    families: tuple[str, ...] = ()


def plain(text: str, said: Sequence[Said], tables: Tables) -> Plain:
    """The material of a claim without a layer."""
    _check_hollow(text, said)
    if composition := _composition(said):
        return Plain((of_composition(text, composition, "", None, tables),))
    for s in said:
        if s.role in STRAY:
            expected, step = STRAY[s.role]
            raise InputError("claim", text, expected.format(s.text), step)
    _check_carat(text, said)
    if exact := _names(tables).get(_key(said)):
        return Plain(exact)
    marks = [s for s in said if s.role is Role.FINENESS]
    colours = [c for s in said if s.role is Role.COLOUR for c in s.value]
    others = _named_beside(said)
    material, alloyed = _one_material(text, [s for s in said if s not in others], colours)
    if material is None:
        if not marks:
            raise InputError("claim", text, f"a claim such as {EXAMPLES}", "name the metal, or leave the claim out")
        material = Material(metal_of_share(text, marks[0], tables))
    if not material.metal:
        return Plain(families=_base(text, said, material, marks, tables))
    _check_colour(text, said, material)
    share = one_share(marks, text)
    if material.rows:
        return Plain(_standard(text, said, material, marks))
    if share is None:
        raise missing(text, material.metal)
    found = regions(text, material.metal, share, colours, alloyed, tables)
    return Plain(tuple(_alloyed_with(r, others) for r in found) if others else found)


def _check_carat(text: str, said: Sequence[Said]) -> None:
    carat = next((s.text for s in said if isinstance(s.value, Carat)), "")
    other = next((s.text for s in said if s.role is Role.MATERIAL and s.value.metal not in ("", "Au")), "")
    gold = any(s.role is Role.MATERIAL and s.value.metal == "Au" for s in said) or any(
        s.role is Role.COLOUR for s in said
    )
    if carat and other and not gold:
        expected = f'gold beside "{carat}", which is no fineness of "{other}"'
        raise InputError("claim", text, expected, "give the fineness in thousandths instead")


def _check_hollow(text: str, said: Sequence[Said]) -> None:
    solid = [s.text for s in said if s.role is Role.SOLID]
    if solid and any(s.text == "hollow" for s in said):
        raise InputError("claim", text, f'either "{solid[0]}" or "hollow"', "leave one out")


def _composition(said: Sequence[Said]) -> dict[str, float]:
    """Metals with their shares [percent], if a claim states all of them, such as "copper 75 nickel 25"."""
    parts = [s for s in said if s.role in (Role.MATERIAL, Role.NUMBER, Role.FINENESS)]
    named = [s for s in parts if s.role is Role.MATERIAL]
    if len(named) < 2 or len(parts) != 2 * len(named) or any(not _symbol(s) for s in named):
        return {}
    first, second = (parts[::2], parts[1::2])
    metals, shares = (first, second) if first[0].role is Role.MATERIAL else (second, first)
    if any(s.role is not Role.MATERIAL for s in metals) or any(isinstance(s.value, Carat) for s in shares):
        return {}
    for bare in (1.0, 0.1):  # "950 Plat 50 Irid" is in thousandths
        out = {
            _symbol(m): float(s.value) * (bare if s.role is Role.NUMBER else 1.0)
            for m, s in zip(metals, shares, strict=True)
        }
        if len(out) == len(metals) and SUM[0] <= sum(out.values()) <= SUM[1]:
            return out
    return {}


def _symbol(said: Said) -> str:
    """Symbol of a pure metal, or ""."""
    of: Material = said.value
    return "" if of.rows or len(of.families) > 1 or not of.layer[:1].isupper() else of.layer


def _named_beside(said: Sequence[Said]) -> list[Said]:
    """Metals of which platinum or palladium is said to be alloyed, such as the iridium of "platinum 950 iridium"."""
    named = [s for s in said if s.role is Role.MATERIAL]
    main = [s for s in named if s.value.metal in ALLOYED_WITH]
    if len({s.value.metal for s in main}) != 1 and not (main and main[0].value.metal == "Pt"):
        return []
    allowed = ALLOYED_WITH[main[0].value.metal]
    return [s for s in named if _symbol(s) in allowed and s.value.metal != main[0].value.metal]


def _alloyed_with(region: ClaimRegion, others: Sequence[Said]) -> ClaimRegion:
    """A region with the other metals that a claim names, and no more."""
    named = {region.metal, *(_symbol(s) for s in others)}
    name = " ".join([region.claim, *(s.text for s in others)])
    return region._replace(claim=name, limits={s: x for s, x in region.limits.items() if s in named})


def _one_material(text: str, said: Sequence[Said], colours: list[str]) -> tuple[Material | None, list[str]]:
    """The material, and what a white gold is said to be alloyed with: "palladium" and "nickel" are then no metals."""
    named = [s for s in said if s.role is Role.MATERIAL]
    gold = any(s.value.metal == "Au" for s in named) or any(isinstance(s.value, Carat) for s in said)
    alloyed: list[str] = []
    if gold and "white" in colours:
        with_it = {"Pd": "palladium", "Ni": "nickel"}
        alloyed = [with_it[s.value.layer] for s in named if s.value.layer in with_it]
        named = [s for s in named if s.value.layer not in with_it]
    if not named:
        return (Material("Au") if gold else None), alloyed
    first = named[0]
    for other in named[1:]:
        if other.value.metal != first.value.metal or (not first.value.metal and other.value != first.value):
            expected = f'one metal, not both "{first.text}" and "{other.text}"'
            step = "name the one that the piece is said to be made of, with its fineness"
            raise InputError("claim", text, expected, step)
    return next((s.value for s in named if s.value.rows), first.value), alloyed


def _base(
    text: str, said: Sequence[Said], material: Material, marks: Sequence[Said], tables: Tables
) -> tuple[str, ...]:
    """Families of a base metal, which has no fineness unless it is pure ("copper 999") and no colour."""
    name = next(s.text for s in said if s.role is Role.MATERIAL)
    if not material.families:
        raise InputError(
            "claim", text, f'the body too: "{name}" is known as a layer only', f'write "{name} plated brass"'
        )
    for mark in marks:
        limits = [tables.families[f].limits for f in material.families]
        pure = len(limits) == 1 and len(tables.families[material.families[0]].system.split()) == 1
        if not pure or isinstance(mark.value, Carat) or mark.value < next(iter(limits[0].values()))[0]:
            expected = f'either "{name}" or "{mark.text}", which is no fineness of {name}'
            step = f'say which is claimed: {name}, or the metal that "{mark.text}" stands for'
            raise InputError("claim", text, expected, step)
    for s in said:
        if s.role is Role.COLOUR and s.value:
            expected = f'no colour beside "{name}"; "{s.text}" is said of gold'
            raise InputError("claim", text, expected, f'write "{name}" alone, or the gold with its carat')
    return material.families


def _check_colour(text: str, said: Sequence[Said], material: Material) -> None:
    for s in said:
        if s.role is Role.COLOUR and material.metal != "Au" and any(c not in COLOURLESS for c in s.value):
            name = METAL_NAMES[material.metal]
            step = f'write "{name}" with its fineness, or what it is plated with, such as "gold plated silver 925"'
            raise InputError("claim", text, f'no colour beside {name}; "{s.text}" is said of gold', step)


def _standard(text: str, said: Sequence[Said], material: Material, marks: Sequence[Said]) -> tuple[ClaimRegion, ...]:
    """Regions of a name that says the fineness, such as "sterling"; a mark beside it must agree."""
    name = next(s for s in said if s.role is Role.MATERIAL and s.value.rows)
    low = material.rows[0].limits[material.metal][0]
    one_share([Said(Role.FINENESS, name.text, low), *marks], text)
    return material.rows


def _key(said: Sequence[Said]) -> tuple[str, ...]:
    """What a claim says of the material, whatever the order of its words."""
    marks = [s for s in said if s.role is Role.FINENESS]
    out = [f"{s.value:.3f}" for s in marks]
    for s in said:
        if s.role is Role.MATERIAL:
            out.append(s.value.metal if s.value.metal and not s.value.rows else s.text)
        elif s.role is Role.COLOUR:
            out += [f"colour {c}" for c in s.value]
        elif s.role is Role.FINE and not marks:
            out.append("fine" if s.text in ("fine", "fein") else "pure")
    return tuple(sorted(set(out)))


@cache
def _names(tables: Tables) -> dict[tuple[str, ...], tuple[ClaimRegion, ...]]:
    """Rows of claims.csv by all their names."""
    rows = tables.rows("claims")
    named = kept("names", tables.version, ("published", "inputs"), lambda: _names_read(tables))
    out: dict[tuple[str, ...], tuple[ClaimRegion, ...]] = {}
    for key, number in zip(named["key"].tolist(), named["row"].tolist(), strict=True):
        words = tuple(key.split("\n"))
        out[words] = (*out.get(words, ()), rows[number])
    return out


def _names_read(tables: Tables) -> Arrays:
    """What each name says, one word in a line, and the number of its row."""
    pairs = [
        ("\n".join(_key(read(name, tables))), number)
        for number, row in enumerate(tables.rows("claims"))
        for name in filter(None, (row.claim, *row.also.split(";")))
    ]
    key, number = zip(*dict.fromkeys(pairs), strict=True)
    return {"key": np.array(key), "row": np.array(number)}
