"""From a metal, a fineness and colours to regions of compositions."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from ..errors import InputError
from ..published.load import Tables
from ..published.metals import Composition, Limits
from ..published.wares import ClaimRegion
from .claim_words import METAL_NAMES, Carat, Said

PURE = 99.0  # percent, from which a fineness agrees with 24 ct
COIN_TOLERANCE = 0.5  # percent by mass, of a precious coin without a published tolerance: the widest of coins.csv
OTHERS = 1.0  # percent, by which any other metal of a stated composition may differ
UNKNOWN_SCATTER = 0.6  # percent, of an alloy that is in no claim and no family: that of carat gold (judgement)

# of jewellery and of bars: finenesses of ISO 9202, and 999 as common practice
USUAL = {"Ag": ("925", "999"), "Au": ("18 ct", "999"), "Pt": ("950", "999"), "Pd": ("500", "999")}
OUNCES = re.compile(r"(\d+(?:[./]\d+)?)[\s-]*(?:troy\s+)?(?:ozt?|ozs|ounces?)\b", re.IGNORECASE)


def tolerance(share: float) -> float:
    """How far a mark may lie from the fineness of the table: "916" is 916.7, "585" is 14 ct, "999" is not 999.9."""
    return 0.03 if share >= 99 else 0.25


def rows_of(share: float, tables: Tables) -> list[ClaimRegion]:
    """Rows of claims.csv with this fineness [percent]."""
    return [r for r in tables.rows("claims") if abs(r.limits[r.metal][0] - share) <= tolerance(share)]


def one_share(marks: Sequence[Said], text: str) -> float | None:
    """The fineness that all marks agree on, in percent; None without a mark. "750 18 ct" is one fineness."""
    if not marks:
        return None
    first, finest = marks[0], max(float(m.value) for m in marks)
    for other in marks[1:]:
        pure = finest >= PURE and any(isinstance(m.value, Carat) and m.value >= PURE for m in (first, other))
        if abs(other.value - first.value) > (100 - PURE if pure else tolerance(finest)):
            expected = f'one fineness or carat, not both "{first.text}" and "{other.text}"'
            raise InputError("claim", text, expected, "weigh parts of different fineness apart")
    return finest if finest >= PURE else float(first.value)


def metal_of_share(text: str, mark: Said, tables: Tables) -> str:
    """The metal of a fineness that stands alone: gold for a carat, otherwise the one metal that has such a standard."""
    if isinstance(mark.value, Carat):
        return "Au"
    metals = sorted({METAL_NAMES[r.metal] for r in rows_of(mark.value, tables)})
    if len(metals) == 1:
        return next(s for s, name in METAL_NAMES.items() if name == metals[0])
    number = " or ".join(f'"{m} {mark.text}"' for m in metals)
    expected = f"the metal too: {number}" if number else f'the metal of "{mark.text}" too'
    raise InputError("claim", text, expected, "write which metal it is said to be")


def regions(
    text: str, metal: str, share: float, colours: Iterable[str], alloyed: Iterable[str], tables: Tables
) -> tuple[ClaimRegion, ...]:
    """Regions of one metal at a fineness [percent], of the colours that are named.

    `alloyed` : "nickel" or "palladium", of which a white gold is said to be made.
    """
    matching = [r for r in rows_of(share, tables) if r.metal == metal]
    if matching:
        return coloured(matching, colours, alloyed)
    return _between(text, share, coloured([r for r in tables.rows("claims") if r.metal == metal], colours, alloyed))


def coloured(rows: Sequence[ClaimRegion], colours: Iterable[str], alloyed: Iterable[str]) -> tuple[ClaimRegion, ...]:
    """Rows of any of the colours, or of all colours if none is named."""
    colours, alloyed = list(colours), list(alloyed)
    chosen = [r for r in rows if not colours or r.colour.split()[:1] in ([c] for c in colours)]
    narrowed = [r for r in chosen if alloyed and alloyed[-1] in r.claim.split()[1:]]
    return tuple(narrowed or chosen or rows)


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
        out.append(near._replace(claim=f"{METAL_NAMES[metal]} {10 * share:g} {colour}".strip(), limits=limits))
    return tuple(out)


def of_composition(
    text: str, composition: Composition, source: str, slack: float | None, tables: Tables
) -> ClaimRegion:
    """The region of a stated composition [percent], the richest metal first.

    `slack` : the greatest lawful deviation of a precious metal [percent], None if none is published.
    """
    ordered = sorted(composition.items(), key=lambda item: -item[1])
    limits = {s: (max(0.0, p - OTHERS), min(100.0, p + OTHERS)) for s, p in ordered}
    main, most = ordered[0]
    if main in METAL_NAMES:
        slack = slack or min(COIN_TOLERANCE, (100 - most) / 2)
        limits[main] = (most - slack, min(100.0, most + slack))
    return ClaimRegion(text, main, "", "", limits, _scatter_of(composition, tables), source, "")


def _scatter_of(composition: Composition, tables: Tables) -> float:
    """Scatter [percent] of the density of a coin's alloy: that of the claim or the family that it belongs to."""
    regions = [(r.limits, r.sigma_percent) for r in tables.rows("claims")]
    regions += [(f.limits, f.sigma_percent) for f in tables.families.values()]
    near = (sigma for limits, sigma in regions if _within(composition, limits))
    return next(near, UNKNOWN_SCATTER)


def _within(composition: Composition, limits: Limits) -> bool:
    """Whether a composition lies in a region and holds no metal that the region does not name."""
    named = all(low <= composition.get(s, 0.0) <= high for s, (low, high) in limits.items())
    return named and set(composition) <= set(limits)


def missing(text: str, metal: str) -> InputError:
    """The question after the fineness of a precious metal, with the usual ones; a weight in ounces is that of a bar."""
    name, ounces = METAL_NAMES[metal], OUNCES.search(text)
    usual = [f"{name} 999 {ounces[1]} ozt"] if ounces else [f"{name} {x}" for x in USUAL[metal]]
    step = "write for example " + " or ".join(f'"{x}"' for x in usual) + ", or leave the claim out"
    return InputError("claim", text, "a fineness or carat beside the metal", step)
