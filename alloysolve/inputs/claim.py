"""What a piece is said to be, read from the words that people use, as a region of compositions."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache

from ..errors import InputError
from ..published.load import Tables
from ..published.metals import Composition, Limits
from ..published.wares import ClaimRegion, CoinType
from .piece import Piece

METAL_WORDS = {
    "silver": "Ag",
    "ag": "Ag",
    "gold": "Au",
    "au": "Au",
    "platinum": "Pt",
    "plat": "Pt",
    "pt": "Pt",
    "palladium": "Pd",
    "pd": "Pd",
    "sterling": "Ag",
    "vermeil": "Ag",
}
METAL_NAMES = {"Ag": "silver", "Au": "gold", "Pt": "platinum", "Pd": "palladium"}
COLOURS = {"yellow": "yellow", "red": "red", "rose": "red", "pink": "red", "white": "white", "green": "green"}
SKIN_WORDS = {
    "rhodium": "Rh",
    "nickel": "Ni",
    "chrome": "Cr",
    "chromium": "Cr",
    "copper": "Cu",
    "tin": "Sn",
    "zinc": "Zn",
}
FILLED = {"filled", "rolled", "gf", "rgp"}
PLATED = {"plated", "plate", "gilt", "vermeil", "silvered", "epns", "ep", "gp", "gep", "hge"}
HOLLOW = {"chain", "hollow", "bracelet", "necklace"}
CARAT = re.compile(r"^(\d{1,2}(?:\.\d+)?)\s*(?:ct|k|kt|karat|carat)$")
COIN_TOLERANCE = 0.5  # percent by mass, of a precious coin without a published tolerance: the widest of coins.csv
UNKNOWN_COIN_SCATTER = 0.6  # percent, of a coin alloy that is in no claim and no family: that of carat gold (judgement)
EXAMPLES = '"silver 999", "sterling", "18 ct yellow", "platinum 950", "gold filled 1/20 14 ct" or "brass"'


@dataclass(frozen=True, eq=False)  # compared by identity, so that priors can be cached by claim
class Claim:
    """A claim as it was understood.

    Attributes
    ----------
    kind : row of claim_priors.csv that says what is expected before any reading.
    regions : what the body is said to be; any one of them will do. families : those that a base-metal claim names.
    metal : symbol of the claimed precious metal, or "". least : its least share in the body [percent].
    skin_metal, skin_share : metal of a plated claim, and its share of the mass, None if that is not said.
    clad : row of clad.csv of which a clad coin is made, or "".
    hollow : whether the claim itself allows empty space (chains). coin : row of coins.csv.
    """

    text: str
    kind: str
    metal: str = ""
    least: float = 0.0
    regions: tuple[ClaimRegion, ...] = ()
    families: tuple[str, ...] = ()
    skin_metal: str = ""
    skin_share: float | None = None
    clad: str = ""
    hollow: bool = False
    coin: CoinType | None = None
    nominal_mass_g: float | None = None
    words: tuple[str, ...] = field(default=())

    @property
    def plated(self) -> bool:
        """Whether the claim is of an article with a layer: plated, or "gold filled" in the sense of the trade."""
        return bool(self.skin_metal)


def allows_hollow(piece: Piece, claim: Claim | None) -> bool:
    """Whether the piece, or what it is said to be, may hold empty space."""
    return bool(piece.hollow) or bool(claim and claim.hollow)


@lru_cache(maxsize=256)
def parse_claim(text: str, tables: Tables) -> Claim:
    """A claim, read from text.

    Raises
    ------
    InputError
        For words that are not understood, or a number that may mean two metals ("900").
    """
    coin = _coin(text, tables)
    if coin:
        return _coin_claim(text, coin, tables)
    words, mass = _words(text)
    families = _families(words, tables)
    if families:
        return Claim(
            text,
            "base",
            families=families,
            hollow=any(w in HOLLOW for w in words),
            nominal_mass_g=mass,
            words=tuple(words),
        )
    metals = _metals(words)
    if metals and _skin_metal(words) == "Rh":  # a finish of white jewellery: the claim is about the body
        words = [w for w in words if w != "rhodium" and w not in PLATED]
    hollow = any(w in HOLLOW for w in words)
    if any(w in PLATED or w in FILLED for w in words):
        return _plated_claim(text, words, metals, tables, hollow, mass)
    regions = _regions(text, words, metals, tables)
    if regions:
        metal = regions[0].metal
        least = min(r.limits[metal][0] for r in regions)
        return Claim(
            text, METAL_NAMES[metal], metal, least, regions, hollow=hollow, nominal_mass_g=mass, words=tuple(words)
        )
    raise InputError(
        "claim", text, f"a claim such as {EXAMPLES}", _meant(words) or "write it so, or leave the claim out"
    )


def _meant(words: list[str]) -> str:
    """A question that proposes the text with its misspelt words corrected, or ""."""
    from difflib import get_close_matches

    known = [*METAL_WORDS, *COLOURS, *HOLLOW, *PLATED, *FILLED, *SKIN_WORDS]
    put_right = [
        w if w in known or not w.isalpha() or len(w) < 4 else next(iter(get_close_matches(w, known, 1, 0.75)), w)
        for w in words
    ]
    return f'did you mean "{" ".join(put_right)}"?' if put_right != words else ""


def _words(text: str) -> tuple[list[str], float | None]:
    """Lower-case words of a claim, without the nominal mass, and that mass; a carat mark ("18 ct") is one word."""
    from ..units import parse

    plain = re.sub(r"(\d),(\d)", r"\1.\2", text.lower().replace("‰", " ").replace("-", " "))
    plain = re.sub(r"\b(german silver|new silver|alpaca|alpacca|neusilber)\b", "nickel silver", plain)
    plain = re.sub(r"\bk\s?(\d{1,2})\b", r"\1ct", plain)
    plain = re.sub(r"(\d)\s*(karat|carat|kt|ct|k)\b", r"\1ct", plain)
    plain = re.sub(r"(\d)\s*%", r"\1%", plain)
    mass = None
    found = re.search(r"(\d+/\d+|\d+(?:\.\d+)?)\s*(ozt|oz|g|gram|grams|kg|dwt|tola)\b", plain)
    if found:
        top, _, bottom = found.group(1).partition("/")
        shown = f"{float(top) / float(bottom)} {found.group(2)}" if bottom else found.group(0)
        mass = parse(shown, "mass", "claim").value
        plain = plain.replace(found.group(0), " ")
    return re.findall(r"[a-z]+|\d+/\d+|[\d.]+(?:ct|%)?", plain), mass


def _regions(text: str, words: list[str], metals: list[str], tables: Tables) -> tuple[ClaimRegion, ...]:
    rows: list[ClaimRegion] = tables.rows("claims")
    if len(metals) > 1:
        raise InputError("claim", text, "one metal", "name one metal with its fineness")
    phrase = " ".join(w for w in words if w not in HOLLOW)
    exact = [r for r in rows if phrase in _names(r)]
    if exact:
        return tuple(exact)
    share = _fineness(words)
    if share is None:
        # further words do not hurt: "sterling silver ring"
        named = [r for r in rows if any(f" {name} " in f" {phrase} " for name in _names(r))]
        if named or not metals:
            return tuple(named)
        marks = ", ".join(sorted({r.claim for r in rows if r.metal == metals[0]})[:6])
        raise InputError("claim", text, f"a fineness or carat beside the metal, such as {marks}", "add it")
    matching = [r for r in rows if abs(r.limits[r.metal][0] - share) <= _tolerance(share)]
    if metals:
        matching = [r for r in matching if r.metal == metals[0]]
    elif any(w.endswith("ct") for w in words):
        matching = [r for r in matching if r.metal == "Au"]
    found = sorted({METAL_NAMES[r.metal] for r in matching})
    if len(found) > 1:
        mark = next(w for w in words if _share(w) is not None)
        number = " or ".join(f'"{m} {mark}"' for m in found)
        raise InputError(
            "claim", text, f"the metal too: {number}", _meant(words) or "write which metal it is said to be"
        )
    if matching:
        return _coloured(matching, words)
    metal = metals[0] if metals else "Au" if any(w.endswith("ct") for w in words) else ""
    if not metal:
        raise InputError("claim", text, "the metal too", _meant(words) or f"write for example {EXAMPLES}")
    return _between(text, share, _coloured([r for r in rows if r.metal == metal], words))


def _between(text: str, share: float, rows: tuple[ClaimRegion, ...]) -> tuple[ClaimRegion, ...]:
    """Regions for a fineness that is not in the table: the nearest of each colour, with alloying metals scaled."""
    metal = rows[0].metal
    alloyed = [r for r in rows if (r.limits[metal][0] < 99) == (share < 99) and r.limits[metal][0] < 99.99]
    if not 20 <= share < 100 or not alloyed:
        raise InputError("claim", text, "a fineness from 200 to 999.9 per mille", "check the mark")
    out = []
    for colour in dict.fromkeys(r.colour for r in alloyed):
        near = min((r for r in alloyed if r.colour == colour), key=lambda r: abs(r.limits[metal][0] - share))
        scale = (100 - share) / (100 - near.limits[metal][0])
        limits = {s: (low * scale, min(100.0, high * scale)) for s, (low, high) in near.limits.items() if s != metal}
        limits = {metal: (share, min(100.0, share + min(1.0, (100 - share) / 2))), **limits}
        out.append(replace(near, claim=f"{METAL_NAMES[metal]} {10 * share:g} {colour}".strip(), limits=limits))
    return tuple(out)


@cache
def _names_of(claim: str, also: str) -> tuple[str, ...]:
    return tuple(" ".join(_words(name)[0]) for name in (claim, *also.split(";")) if name.strip())


def _names(row: ClaimRegion) -> tuple[str, ...]:
    """The words of a row and of its other names, with carat marks written as in a claim."""
    return _names_of(row.claim, row.also)


def _coloured(rows: list[ClaimRegion], words: list[str]) -> tuple[ClaimRegion, ...]:
    """Rows of the colour that the words name, or of all colours if they name none."""
    colours = [COLOURS[w] for w in words if w in COLOURS]
    chosen = [r for r in rows if r.colour.split()[:1] == colours[-1:]]
    if not colours:
        chosen = rows
    second = [w for w in words if w in ("nickel", "palladium")]
    narrowed = [r for r in chosen if second and second[-1] in r.claim.split()[1:]]
    return tuple(narrowed or chosen or rows)


def _fineness(words: list[str]) -> float | None:
    """Share of the precious metal in percent, from "999", "0.925", "92.5%" or "18ct"."""
    found = {share for share in map(_share, words) if share is not None}
    if len(found) > 1:
        raise InputError("claim", " ".join(words), "one fineness or carat", "weigh parts of different fineness apart")
    return next(iter(found), None)


def _share(w: str) -> float | None:
    carat = CARAT.match(w)
    if carat:
        if not 0 < float(carat.group(1)) <= 24:
            raise InputError("claim", w, "a carat up to 24", "check the mark")
        return min(float(carat.group(1)) / 24 * 100, 99.9)  # 24 ct is sold as 999
    if re.fullmatch(r"[\d.]+%", w):
        return float(w[:-1])
    if re.fullmatch(r"\d*\.?\d+", w):
        number = float(w)
        if number <= 1:
            return number * 100
        if number >= 100:
            return number / 10 if number <= 1000 else number / 100
    return None


def _tolerance(share: float) -> float:
    """How far a mark may lie from the fineness of the table: "916" is 916.7, "585" is 14 ct, "999" is not 999.9."""
    return 0.03 if share >= 99 else 0.25


def _plated_claim(
    text: str, words: list[str], metals: list[str], tables: Tables, hollow: bool, mass: float | None
) -> Claim:
    """A claim of plating, such as "silver plated", "gold filled 1/20 14 ct" or "vermeil"."""
    share = None
    for w in words:
        if re.fullmatch(r"\d+/\d+", w):
            top, bottom = w.split("/")
            if not 0 < int(top) < int(bottom):
                raise InputError("claim", text, "a share below one such as 1/20", "write the mark as stamped")
            share = int(top) / int(bottom)
    skin = _skin_metal(words)
    if not skin:
        raise InputError("claim", text, "the metal of the skin too, such as silver plated", "name it")
    if skin == "Au" and "Ag" in metals and "vermeil" not in words:  # another name for gilt silver
        words = [*words, "vermeil"]
    rest = [w for w in words if not re.fullmatch(r"\d+/\d+", w)]
    regions: tuple[ClaimRegion, ...] = ()
    if _fineness(rest) is not None and "vermeil" not in words:
        regions = _regions(text, [w for w in rest if w not in PLATED and w not in FILLED], [skin], tables)
    known = {**SKIN_WORDS, **METAL_WORDS}
    body = [w for w in rest if w not in PLATED and w not in FILLED and known.get(w) != skin and not w.endswith("ct")]
    families = ("nickel silver",) if "epns" in words else _families(body, tables)
    return Claim(
        text,
        "base",
        families=families,
        skin_metal=skin,
        skin_share=share,
        regions=regions,
        hollow=hollow,
        nominal_mass_g=mass,
        words=tuple(words),
    )


def _skin_metal(words: list[str]) -> str:
    """Symbol of the metal of a skin: the one named just before "plated", otherwise the first; "" if none is named."""
    marks = [i for i, w in enumerate(words) if w in PLATED or w in FILLED]
    if not marks:
        return ""
    if {"gilt", "vermeil"} & set(words):
        return "Au"
    known = {**SKIN_WORDS, **METAL_WORDS}
    before = [known[w] for w in words[: marks[0]] if w in known]
    after = [known[w] for w in words[marks[0] :] if w in known]
    usual = (
        "Au"
        if any(w in FILLED or w in ("gp", "gep", "hge") for w in words)
        else "Ag"
        if {"epns", "ep", "silvered"} & set(words)
        else ""
    )
    return [*before[-1:], *after[:1], usual][0]


def _metals(words: list[str]) -> list[str]:
    """Symbols of the precious metals that are named; "white palladium" and "white nickel" are colours of gold."""
    named = [w for w in words if w in METAL_WORDS]
    carat = any(w.endswith("ct") for w in words)
    if "white" in words and (carat or len({METAL_WORDS[w] for w in named}) > 1):
        named = [w for w in named if w != "palladium"]
    return list(dict.fromkeys(METAL_WORDS[w] for w in named))


def _families(words: list[str], tables: Tables) -> tuple[str, ...]:
    """Base-metal families: the one of that name, or all whose names contain every word ("stainless steel")."""
    said = [w for w in words if w not in HOLLOW]
    base = [f for f in tables.families.values() if f.system.split()[0] not in METAL_NAMES]
    phrase = " ".join(said)
    exact = [f.family for f in base if phrase in (_plain(f.family), _plain(f.words))]
    if exact or not said or any(w in METAL_WORDS for w in said):
        return tuple(exact)
    return tuple(f.family for f in base if set(said) <= set(f"{_plain(f.family)} {_plain(f.words)}".split()))


def _plain(text: str) -> str:
    return text.lower().replace("-", " ")


def _coin(text: str, tables: Tables) -> CoinType | None:
    """A row of coins.csv, found by its id or by "issuer coin"."""
    plain = text.strip().lower()
    for c in tables.rows("coins"):
        if plain in (c.id.lower(), f"{c.issuer} {c.coin}".lower()):
            return c  # type: ignore[no-any-return]
    return None


def _coin_claim(text: str, coin: CoinType, tables: Tables) -> Claim:
    if layered := _layered_coin(text, coin, tables):
        return layered
    if not coin.composition:
        raise InputError(
            "claim",
            text,
            "a coin type whose mean composition is published",
            "leave the claim out, or name the metal of its skin, such as copper plated",
        )
    main = max(coin.composition, key=lambda s: coin.composition[s])
    limits = {
        s: (max(0.0, p - 1.0), min(100.0, p + 1.0))
        for s, p in sorted(coin.composition.items(), key=lambda item: -item[1])
    }
    if main in METAL_NAMES:
        fine = coin.composition[main]
        slack = coin.fineness_tolerance_percent or min(COIN_TOLERANCE, (100 - fine) / 2)
        limits[main] = (fine - slack, min(100.0, fine + slack))
    region = ClaimRegion(text, main, "", "", limits, _scatter_of(coin.composition, tables), coin.source, "")
    precious = main if main in METAL_NAMES else ""
    return Claim(
        text,
        METAL_NAMES.get(main, "base"),
        precious,
        limits[main][0] if precious else 0.0,
        (region,),
        coin=coin,
        nominal_mass_g=coin.mass_g,
    )


def _scatter_of(composition: Composition, tables: Tables) -> float:
    """Scatter [percent] of the density of a coin's alloy: that of the claim or the family that it belongs to."""
    regions = [(r.limits, r.sigma_percent) for r in tables.rows("claims")]
    regions += [(f.limits, f.sigma_percent) for f in tables.families.values()]
    near = (sigma for limits, sigma in regions if _within(composition, limits))
    return next(near, UNKNOWN_COIN_SCATTER)


def _within(composition: Composition, limits: Limits) -> bool:
    """Whether a composition lies in a region and holds no metal that the region does not name."""
    named = all(low <= composition.get(s, 0.0) <= high for s, (low, high) in limits.items())
    return named and set(composition) <= set(limits)


def _layered_coin(text: str, coin: CoinType, tables: Tables) -> Claim | None:
    """The claim of a clad or plated coin type whose stock is in the tables; None for all others.

    The skin of a plated coin has the share of the mass that the published mean composition gives.
    """
    layers = coin.layers
    if coin.construction == "clad":
        faces = {r.name: r.composition for r in tables.rows("skins")}
        for stock in tables.rows("clad"):
            if layers.get("core") == {"Cu": 100.0} and layers.get("face") == faces.get(stock.faces):
                return Claim(text, "base", clad=stock.name, coin=coin, nominal_mass_g=coin.mass_g)
    if coin.construction == "plated" and len(layers.get("plate", {})) == 1:
        skin, core = next(iter(layers["plate"])), max(layers["core"], key=lambda m: layers["core"][m])
        families = tuple(
            f.family
            for f in tables.families.values()
            if f.system == core
            and f.base != "never"
            and all(a <= layers["core"].get(m, 0.0) <= b for m, (a, b) in f.limits.items())
        )
        share = coin.composition.get(skin, 0.0) / 100 or None
        return Claim(
            text, "base", families=families, skin_metal=skin, skin_share=share, coin=coin, nominal_mass_g=coin.mass_g
        )
    return None
