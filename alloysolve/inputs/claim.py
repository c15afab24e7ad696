"""What a piece is said to be, read from the words that people use, as a region of compositions."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

from ..errors import InputError
from ..published.load import Tables
from ..published.wares import ClaimRegion, CoinType
from .claim_coins import CoinFound, coin_named, coin_said, is_of_mass
from .claim_fineness import of_composition
from .claim_layers import Layered, layered, without_finish
from .claim_plain import Plain, plain
from .claim_reading import grams, read
from .claim_words import METAL_NAMES, Role, Said
from .piece import Piece

__all__ = ["METAL_NAMES", "Claim", "allows_hollow", "parse_claim"]

LONGEST = 300  # letters of a claim; what is longer is no claim, and reading it takes the square of its length


@dataclass(frozen=True, eq=False)  # compared by identity, so that priors can be cached by claim
class Claim:
    """A claim as it was understood.

    Attributes
    ----------
    kind : row of claim_priors.csv that says what is expected before any reading.
    regions : what the body is said to be; any one of them will do. families : those that a base-metal claim names.
    metal : symbol of the claimed precious metal of a piece without a layer, or "". least : its least share [percent].
    skin_metal, skin_material : main metal of the layer of a plated claim, and what the tables call that layer.
    skin_regions : fineness of the layer, if it is said. skin_share : its share of the mass. skin_um : its
        thickness [um], as said. skin_fine_um : the least that a law asks for, in fine metal. None if not known.
    clad : row of clad.csv of which a clad coin is made, or "".
    hollow : whether the claim itself allows empty space (chains, candlesticks). weighted : whether it says that pitch,
        plaster or cement makes the weight. may_be_weighted : whether it is of ware that often is so filled.
    coin : row of coins.csv.
    """

    text: str
    kind: str
    metal: str = ""
    least: float = 0.0
    regions: tuple[ClaimRegion, ...] = ()
    families: tuple[str, ...] = ()
    skin_metal: str = ""
    skin_material: str = ""
    skin_regions: tuple[ClaimRegion, ...] = ()
    skin_share: float | None = None
    skin_um: float | None = None
    skin_fine_um: float | None = None
    clad: str = ""
    hollow: bool = False
    weighted: bool = False
    may_be_weighted: bool = False
    coin: CoinType | None = None
    nominal_mass_g: float | None = None
    words: tuple[str, ...] = field(default=())

    @property
    def plated(self) -> bool:
        """Whether the claim is of an article with a layer: plated, or "gold filled" in the sense of the trade."""
        return bool(self.skin_metal)

    @property
    def on_silver(self) -> bool:
        """Whether the claim is of a layer on a body of silver, as vermeil and silver gilt are."""
        return self.plated and bool(self.regions) and self.regions[0].metal == "Ag"


def allows_hollow(piece: Piece, claim: Claim | None) -> bool:
    """Whether the piece, or what it is said to be, may hold empty space."""
    return bool(piece.hollow) or bool(claim and claim.hollow)


@lru_cache(maxsize=1024)
def parse_claim(text: str, tables: Tables) -> Claim:
    """A claim, read from text.

    A claim is a coin type, or a material with or without a layer. Every word has a role, or is an error that names it.

    Raises
    ------
    InputError
        For words that are not understood, that deny or doubt, or that contradict each other, and for a number that may
        mean two metals ("900").
    """
    if len(text) > LONGEST:
        raise InputError(
            "claim", text, f"up to {LONGEST} letters", "say the metal and its fineness, and put the rest in note"
        )
    if coin := coin_named(text, tables):
        return _of_coin(text, coin, tables)
    said = read(text, tables)
    if coin := coin_said(text, said, tables):
        _check_mass(text, said, coin.coin)
        return _of_coin(text, coin, tables)
    mass, said = _mass(text, without_finish(said))
    words, roles = tuple(s.text for s in said), {s.role for s in said}
    weighted = Role.WEIGHTED in roles
    may_be = weighted or Role.WEIGHTED_WARE in roles
    found = layered(text, said, tables) or plain(text, said, tables)
    claim = _of_layers(text, found) if isinstance(found, Layered) else _of_plain(text, found)
    return replace(
        claim,
        nominal_mass_g=grams(mass, text, troy=bool(claim.metal)) if mass else None,
        hollow=may_be or Role.HOLLOW in roles,
        weighted=weighted,
        may_be_weighted=may_be,
        words=(*words, *claim.words),
    )


def _mass(text: str, said: list[Said]) -> tuple[Said | None, list[Said]]:
    """The mass that a claim states, and its other words."""
    masses = [s for s in said if s.role is Role.MASS]
    if len(masses) > 1:
        expected = f'one mass, not both "{masses[0].text}" and "{masses[1].text}"'
        raise InputError("claim", text, expected, "leave one out")
    return (masses[0] if masses else None), [s for s in said if s.role is not Role.MASS]


def _check_mass(text: str, said: list[Said], coin: CoinType) -> None:
    """A mass beside a coin type must be that of the type."""
    masses = [s for s in said if s.role is Role.MASS]
    if coin.mass_g and not all(is_of_mass(coin, s, text) for s in masses):
        expected = f"the mass of {coin.id}, {coin.mass_g:g} g, or none"
        raise InputError("claim", text, expected, "leave the mass out, or claim the metal alone")


def _of_plain(text: str, found: Plain) -> Claim:
    if found.families:
        return Claim(text, "base", families=found.families)
    metal = found.regions[0].metal
    if metal not in METAL_NAMES:
        return Claim(text, "base", regions=found.regions)
    least = min(r.limits[metal][0] for r in found.regions)
    return Claim(text, METAL_NAMES[metal], metal, least, found.regions)


def _of_layers(text: str, found: Layered) -> Claim:
    if found.clad:
        return Claim(text, "base", clad=found.clad)
    on_silver = bool(found.regions) and found.regions[0].metal == "Ag" and found.skin_metal == "Au"
    return Claim(
        text,
        "base",
        regions=found.regions,
        families=found.families,
        skin_metal=found.skin_metal,
        skin_material=found.skin_material,
        skin_regions=found.skin_regions,
        skin_share=found.share,
        skin_um=found.um,
        skin_fine_um=found.fine_um,
        words=("vermeil",) if on_silver else (),
    )


def _of_coin(text: str, found: CoinFound, tables: Tables) -> Claim:
    coin = found.coin
    if found.clad:
        return Claim(text, "base", clad=found.clad, coin=coin, nominal_mass_g=coin.mass_g)
    if found.skin:
        return Claim(
            text,
            "base",
            families=found.families,
            skin_metal=found.skin,
            skin_material=found.skin,
            skin_share=coin.composition.get(found.skin, 0.0) / 100 or None,
            coin=coin,
            nominal_mass_g=coin.mass_g,
        )
    region = of_composition(text, coin.composition, coin.source, coin.fineness_tolerance_percent, tables)
    precious = region.metal if region.metal in METAL_NAMES else ""
    return Claim(
        text,
        METAL_NAMES.get(region.metal, "base"),
        precious,
        region.limits[region.metal][0] if precious else 0.0,
        (region,),
        coin=coin,
        nominal_mass_g=coin.mass_g,
    )
