"""A claim of a body under a layer: plated, filled, gilt, clad."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..errors import InputError
from ..published.load import Tables
from ..published.wares import ClaimRegion
from .claim_clad import stock_said
from .claim_fineness import missing, one_share, regions, rows_of
from .claim_words import METAL_NAMES, Carat, Layer, Material, Role, Said, vocabulary

WITH = ("with", "in", "by")  # words after "plated" that the skin follows
ON = ("on", "onto", "over", "upon", "atop")
SILVER = 92.5  # fineness of the silver under gold if none is said: vermeil and silver gilt (us-ftc-23)
OF_CARAT = (8, 24)  # in "14/20" the first number is a carat: 1/20 of 14 ct
FINISHES = ("Rh", "Ru")  # a finish of white jewellery: the claim is about what lies under it
LEAST_FINENESS = 20.0  # percent; below it a share is that of the layer in the whole


@dataclass(frozen=True)
class Layered:
    """What a claim of a layer says: the layer, how much of it there is, and the body."""

    skin_metal: str = ""
    skin_material: str = ""
    skin_regions: tuple[ClaimRegion, ...] = ()
    share: float | None = None
    um: float | None = None
    fine_um: float | None = None
    regions: tuple[ClaimRegion, ...] = ()
    families: tuple[str, ...] = ()
    clad: str = ""


def without_finish(said: list[Said]) -> list[Said]:
    """The words without a finish of rhodium or ruthenium, where they name a precious metal too."""
    finish: set[int] = set()
    for i, s in enumerate(said):
        if s.role is Role.MATERIAL and s.value.layer in FINISHES:
            finish |= {i, *_layer_of(i, said)}
    rest = [s for i, s in enumerate(said) if i not in finish]
    precious = any(s.role is Role.FINENESS or (s.role is Role.MATERIAL and s.value.metal) for s in rest)
    return rest if precious and len(finish) > 1 else said


def _layer_of(at: int, said: Sequence[Said]) -> list[int]:
    """Positions of the words that make a metal a finish: "plated" after it, or "plated with" before it."""
    if at + 1 < len(said) and said[at + 1].role is Role.LAYER:
        return [at + 1]
    if at > 1 and said[at - 1].role is Role.LINK and said[at - 2].role is Role.LAYER:
        return [at - 1, at - 2]
    return []


def layered(text: str, said: Sequence[Said], tables: Tables) -> Layered | None:
    """The layer and the body of a claim; None if it names no layer."""
    layers = [i for i, s in enumerate(said) if s.role is Role.LAYER]
    if not layers and (on := _on(said)):
        said = [*said[:on], Said(Role.LAYER, said[on].text, Layer()), *said[on:]]
        layers = [on]
    if not layers:
        return None
    of, at = _one_layer(text, said, layers), layers[-1]
    skin, bodies = _skin_and_bodies(text, said, layers, of, tables)
    body = _one_body(text, bodies, of, tables)
    fine = [(i, s) for i, s in enumerate(said) if s.role is Role.FINENESS]
    marks = [(i, s) for i, s in fine if isinstance(s.value, Carat) or s.value >= LEAST_FINENESS]
    if of.clad and (stock := stock_said(skin.value, body, [m for _, m in marks], tables)):
        return Layered(clad=stock.name)
    share, carat = _share_of_layer(text, said)
    of_skin, of_body, body = _marks(text, said, skin, body, marks, at, tables)
    of_skin = of_skin or carat
    _check_strays(text, said, of_body)
    _check_gold(text, said, skin, body)
    colours = [c for s in said if s.role is Role.COLOUR for c in s.value]
    material: Material = skin.value
    if not material.layer:
        expected = f'a layer that the tables know in place of "{skin.text}"'
        raise InputError("claim", text, expected, "leave the claim out, or name the body alone")
    fineness = one_share(of_skin, text)
    skin_rows = material.rows or (regions(text, material.metal, fineness, colours, (), tables) if fineness else ())
    families, body_rows = _body(text, skin, body, of_body, colours, tables)
    thick = [s.value for s in said if s.role is Role.THICKNESS]
    return Layered(
        _main(material.layer, tables),
        material.layer,
        skin_rows,
        share,
        thick[0] if thick else None,
        None if thick else of.least_um,
        body_rows,
        families,
    )


def _on(said: Sequence[Said]) -> int:
    """Position of "on" or "over" between two materials ("gold on silver"), 0 if there is none."""
    kinds = [s.role is Role.MATERIAL for s in said]
    for i, s in enumerate(said):
        if s.role is Role.LINK and s.text in ON and any(kinds[:i]) and any(kinds[i + 1 :]):
            return i
    return 0


def _one_layer(text: str, said: Sequence[Said], layers: Sequence[int]) -> Layer:
    """What the words for the layer say together."""
    of = [said[i].value for i in layers]
    for name in ("skin", "body"):
        found = {getattr(x, name) for x in of if getattr(x, name)}
        if len(found) > 1:
            raise _two_layers(text, said[layers[0]], said[layers[1]])
    return Layer(
        next((x.skin for x in of if x.skin), ""),
        next((x.body for x in of if x.body), ""),
        any(x.clad for x in of),
        max((x.least_um for x in of if x.least_um), default=None),
    )


def _two_layers(text: str, one: Said, two: Said) -> InputError:
    return InputError(
        "claim",
        text,
        f'one layer, not both "{one.text}" and "{two.text}"',
        "name the outermost layer and the body alone",
    )


def _skin_and_bodies(
    text: str, said: Sequence[Said], layers: Sequence[int], of: Layer, tables: Tables
) -> tuple[Said, list[Said]]:
    """The material of the layer, and the other materials that are named."""
    named = [i for i, s in enumerate(said) if s.role is Role.MATERIAL]
    skins: dict[str, int] = {}
    for at in layers:
        after, before = [i for i in named if i > at], [i for i in named if i < at]
        link = at + 1 < len(said) and said[at + 1].role is Role.LINK and said[at + 1].text in WITH
        links = [i for i in range(at) if said[i].role is Role.LINK and said[i].text in WITH]
        link = link or bool(links and after and not any(i > links[-1] for i in before))  # "with a layer of silver"
        on = len(after) > 1 and any(s.role is Role.LINK and s.text in ON for s in said[after[0] : after[1]])
        skin = before[-1] if before and not link else after[0] if after and (link or on) else None
        if said[at].value.skin and not link:
            skin = None
        if skin is not None:
            skins.setdefault(said[skin].value.layer, skin)
    if of.skin:
        own = [i for i in named if said[i].value.layer == of.skin]
        if skins and set(skins) != {of.skin}:  # "silver gilt": what stands before it is the body
            skins = {}
        skin_word = said[own[0]] if own else _default(of.skin, tables)
        if len(own) > 1:
            own = own[:1]
        return skin_word, [said[i] for i in named if i not in own]
    if len(skins) > 1:
        one, two = (said[i] for i in list(skins.values())[:2])
        raise _two_layers(text, one, two)
    if not skins:
        word = said[layers[0]].text
        step = f'name it, such as "silver {word}"'
        raise InputError("claim", text, f'the metal of the skin too, before "{word}"', step)
    (at,) = skins.values()
    bodies = [said[i] for i in named if i != at]
    if not bodies and len(said[at].text.split()) > 1 and said[at].before != "-" and at + 1 in layers:
        _check_two_words(text, said[at], said[at + 1], tables)
    return said[at], bodies


def _default(symbol: str, tables: Tables) -> Said:
    if symbol in METAL_NAMES:
        return Said(Role.MATERIAL, METAL_NAMES[symbol], Material(symbol, layer=symbol))
    return Said(Role.MATERIAL, symbol, Material(layer=symbol))


def _check_two_words(text: str, skin: Said, word: Said, tables: Tables) -> None:
    """Asks about "nickel silver plated": nickel silver over something, or silver over nickel."""
    *first, last = skin.text.split()
    known = vocabulary(tables)
    if not skin.value.rows and all(known.get((w,)) and known[w,].role is Role.MATERIAL for w in (*first, last)):
        one, other = f"{'-'.join((*first, last))} {word.text}", f"{' '.join(first)}, {last} {word.text}"
        expected = f'either "{one}" or "{last} {word.text} {" ".join(first)}"'
        raise InputError("claim", text, expected, f'"{skin.text}" may be one metal or two: "{other}"')


def _one_body(text: str, bodies: Sequence[Said], of: Layer, tables: Tables) -> Said | None:
    """The one body that is named, or that the word for the layer brings along; None if neither."""
    distinct = list({(s.value.metal or s.value): s for s in bodies}.values())
    standard = [s for s in bodies if s.value.rows]
    if len(distinct) > 1:
        expected = f'one body under the layer, not both "{distinct[0].text}" and "{distinct[1].text}"'
        raise InputError("claim", text, expected, 'write it as "gold plated silver 925": layer, then body')
    own = vocabulary(tables).get(tuple(of.body.split())) if of.body else None
    if own and distinct:
        body = distinct[0]
        if body.value.metal != own.value.metal or not set(own.value.families) >= set(body.value.families):
            expected = f'"{own.text}" under the layer, or another word for it; "{body.text}" is no such body'
            raise InputError(
                "claim", text, expected, f'write for example "plated {body.text}" with the metal of the layer'
            )
        if not body.value.rows and body.value.metal:
            return body
    return standard[0] if standard else distinct[0] if distinct else own


def _share_of_layer(text: str, said: Sequence[Said]) -> tuple[float | None, list[Said]]:
    """Share of the mass from "1/20", and the carat of "14/20", which is 1/20 of 14 ct."""
    share, carat = None, []
    for s in said:
        if s.role is Role.FINENESS and not isinstance(s.value, Carat) and s.value < LEAST_FINENESS:  # "5 % gold filled"
            share = s.value / 100
        if s.role is not Role.FRACTION:
            continue
        top, bottom = s.value
        if not 0 < top < bottom:
            raise InputError(
                "claim", text, f'a share below one such as 1/20 in place of "{s.text}"', "write the mark as stamped"
            )
        if OF_CARAT[0] <= top <= OF_CARAT[1]:
            carat, top = [Said(Role.FINENESS, s.text, Carat(top / 24 * 100))], 1
        share = top / bottom
    return share, carat


def _marks(
    text: str,
    said: Sequence[Said],
    skin: Said,
    body: Said | None,
    marks: Sequence[tuple[int, Said]],
    layer: int,
    tables: Tables,
) -> tuple[list[Said], list[Said], Said | None]:
    """Which marks of fineness belong to the skin and which to the body; a mark alone may be the body ("plated 925")."""
    where = {id(s): i for i, s in enumerate(said)}
    of_skin: list[Said] = []
    of_body: list[Said] = []
    for at, mark in marks:
        to_skin, to_body = _suits(mark, skin, tables), body is not None and _suits(mark, body, tables)
        if to_skin and to_body and body is not None:
            near = min((skin, body), key=lambda s: (abs(where.get(id(s), layer) - at), where.get(id(s), layer) < at))
            to_skin, to_body = near is skin, near is body
        if to_skin and not to_body:
            of_skin.append(mark)
        elif to_body:
            of_body.append(mark)
        elif body is None and (metal := _only_metal(mark, tables)):
            body = Said(Role.MATERIAL, METAL_NAMES[metal], Material(metal, layer=metal))
            of_body.append(mark)
        else:
            known = " or ".join(f'"{s.text}"' for s in (skin, body) if s is not None)
            expected = f'a fineness of {known} in place of "{mark.text}"'
            raise InputError("claim", text, expected, "say which metal it belongs to, or leave it out")
        stamp = next((s for s in said if s.role is Role.STAMP), None)
        if stamp and mark in of_skin and at > where[id(stamp)]:
            expected = f'either "{skin.text}" as a layer or "{mark.text}" throughout; "{stamp.text}" leaves that open'
            raise InputError("claim", text, expected, "say which is claimed")
    return of_skin, of_body, body


def _only_metal(mark: Said, tables: Tables) -> str:
    """The metal of a fineness that no other metal has as a standard ("925"), or ""."""
    metals = {"Au"} if isinstance(mark.value, Carat) else {r.metal for r in rows_of(mark.value, tables)}
    return metals.pop() if len(metals) == 1 else ""


def _suits(mark: Said, of: Said, tables: Tables) -> bool:
    """Whether a fineness may be that of a material."""
    metal = of.value.metal
    if not metal:
        return False
    if isinstance(mark.value, Carat) or metal == "Au":
        return metal == "Au" and _only_metal(mark, tables) in ("", "Au")
    return True


def _check_gold(text: str, said: Sequence[Said], skin: Said, body: Said | None) -> None:
    """Colours are said of gold alone; "white" is said of other precious metals too."""
    metals = [s.value.metal for s in (skin, body) if s is not None]
    for s in said:
        if s.role is Role.COLOUR and "Au" not in metals and not ("white" in s.value and any(metals)):
            expected = f'no colour beside "{skin.text}"; "{s.text}" is said of gold'
            raise InputError("claim", text, expected, f'leave "{s.text}" out')


def _check_strays(text: str, said: Sequence[Said], of_body: Sequence[Said]) -> None:
    thick = [s for s in said if s.role in (Role.THICKNESS, Role.FRACTION)]
    for one, other in pairwise(thick):
        expected = f'one thickness or share of the layer, not both "{one.text}" and "{other.text}"'
        raise InputError("claim", text, expected, "leave one out")
    for s in said:
        if s.role in (Role.NUMBER, Role.UNIT, Role.COIN, Role.TWO_METAL):
            raise InputError("claim", text, f'what "{s.text}" means beside a layer', "leave it out, or write its unit")
        if s.role is Role.SOLID and not of_body:
            expected = f'either "{s.text}" or a layer'
            raise InputError("claim", text, expected, "say which is claimed")


def _body(
    text: str, skin: Said, body: Said | None, marks: list[Said], colours: list[str], tables: Tables
) -> tuple[tuple[str, ...], tuple[ClaimRegion, ...]]:
    """Families, or regions of a precious body."""
    if body is None:
        return (), ()
    material: Material = body.value
    if not material.metal:
        if not material.families:
            raise InputError(
                "claim", text, f'another body than "{body.text}", which is known as a layer only', "name it"
            )
        if _same(skin.value, material):
            raise _same_metal(text, skin, body)
        return material.families, ()
    if material.metal == skin.value.metal:
        raise _same_metal(text, skin, body)
    if material.rows:
        one_share([Said(Role.FINENESS, body.text, material.rows[0].limits[material.metal][0]), *marks], text)
        return (), material.rows
    share = one_share(marks, text)
    if share is None and material.metal != "Ag":
        raise missing(text, material.metal)
    return (), regions(text, material.metal, SILVER if share is None else share, colours, (), tables)


def _same(skin: Material, body: Material) -> bool:
    return bool(skin.families) and skin.families == body.families


def _same_metal(text: str, skin: Said, body: Said) -> InputError:
    expected = f'a body of another metal than the layer; "{skin.text}" and "{body.text}" are one'
    return InputError("claim", text, expected, "name the body, or leave the layer out")


def _main(layer: str, tables: Tables) -> str:
    """Symbol of the main metal of a layer."""
    row = next((r for r in tables.rows("skins") if r.name == layer), None)
    return max(row.composition, key=lambda s: row.composition[s]) if row else layer
