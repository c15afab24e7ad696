"""Whether a piece is said to be made in one, like a coin or bar, or may have parts of another metal, like a jewel."""

from __future__ import annotations

import re

from .claim import Claim
from .piece import Piece

WORD = re.compile(r"[a-z]+")
IN_ONE = frozenset(WORD.findall("bar bullion coin ingot medal medallion round token"))
WITH_PARTS = frozenset(
    WORD.findall(
        "bangle bracelet brooch buckle case chain charm clasp clip cross cufflink cufflinks earring earrings fork "
        "jewel jewellery jewelry knife lid locket necklace pendant pin ring signet spoon stud studs tiepin watch"
    )
)
NO_COIN = frozenset(WORD.findall("bar ingot medal medallion candlestick tray bowl cup"))
COIN_METALS = frozenset(("silver 900", "gold 900", "gold 916.7", "gold 986"))  # rows of claims.csv
FINE_FROM = 98.5  # percent: such metal is too soft for clasps and springs, and is sold as bars and coins (judgement)


def made_in_one(claim: Claim | None, piece: Piece | None = None) -> bool:
    """Whether a piece is a bar, coin or medal, which has no clasp, spring or pin.

    The words of claim, name and note go first, then the shape, then the metal: fine metal, and the metals of coins.
    """
    said, shape = _said(claim, piece), _shape(piece)
    coin = bool(claim and claim.coin)
    if said & WITH_PARTS or shape in ("ring", "tube") or (claim and not coin and (claim.hollow or claim.plated)):
        return False
    if said & IN_ONE or shape in ("bar", "disc") or coin:
        return True
    regions = claim.regions if claim else ()
    return bool(regions) and all(r.limits[r.metal][0] >= FINE_FROM or r.claim in COIN_METALS for r in regions)


def may_be_coin(claim: Claim | None, piece: Piece) -> bool:
    """Whether nothing says that a piece is no coin: a jewel, a bar, a shape other than a disc, stones or parts."""
    other = _said(claim, piece) & (WITH_PARTS | NO_COIN)
    return not (other or piece.parts or piece.hollow) and _shape(piece) in ("", "disc")


def _said(claim: Claim | None, piece: Piece | None) -> set[str]:
    text = f"{claim.text if claim else ''} {f'{piece.name} {piece.note}' if piece else ''}"
    return set(WORD.findall(text.lower()))


def _shape(piece: Piece | None) -> str:
    return piece.shape[0] if piece and piece.shape else ""
