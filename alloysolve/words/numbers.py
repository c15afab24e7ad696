"""How numbers and metals are written for people."""

from __future__ import annotations

import math
from collections.abc import Mapping

from ..answer.rows import Span
from .language import Language

ROUND_ODDS = (12, 15, 20, 30, 50, 100, 200, 500, 1000)


def chance(p: float, say: Language) -> str:
    """A probability in words: "9 in 10", "1 in 50".

    Between 1 in 10 and 9 in 10 in tenths; beyond, the nearest of a few round odds.
    """
    if p > 0.985:
        return say.say("table", "over_99")
    if p > 0.965:
        return say.say("table", "in_fifty")
    if p > 0.925:
        return say.say("table", "in_twenty")
    if p >= 0.095:
        return _tenths(min(9, max(1, round(10 * p))), say)
    return say.say("table", "one_in", n=min(ROUND_ODDS, key=lambda n: abs(math.log(n * p))))


def _tenths(k: int, say: Language) -> str:
    """So many tenths; a language may call five of them a half."""
    return say.say("table", "half") if k == 5 else say.say("table", "in_ten", k=k)


def under(p: float, say: Language) -> str:
    """The least of the round odds that is not below a probability: "1 in 50", "3 in 10"."""
    if p > 1 / ROUND_ODDS[0]:
        return _tenths(min(10, math.ceil(10 * p)), say)
    return say.say("table", "one_in", n=max(n for n in ROUND_ODDS if p * n <= 1 + 1e-9))


def amount(x: float) -> str:
    """An amount, which is rounded already: at most two decimals, never a power of ten."""
    return f"{x:.2f}".rstrip("0").rstrip(".")


def coarse(x: float, digits: int = 2) -> str:
    """A number in some digits, or as many as stand before the point, never a power of ten.

    >>> coarse(99.7), coarse(0.123), coarse(1234.0, 3)
    ('100', '0.12', '1234')
    """
    return f"{x:.0f}" if x >= 10 ** (digits - 1) - 0.5 else f"{x:.{digits}g}"


def grams(g: float, decimals: int = 2) -> str:
    """A mass in grams."""
    return f"{g:.{decimals}f} g"


def span(low: float, high: float, decimals: int = 0) -> str:
    """Two numbers as a range, or as one number if they read the same."""
    a, b = f"{low:.{decimals}f}", f"{high:.{decimals}f}"
    return a if a == b else f"{a}-{b}"


def length(um: float) -> str:
    """A thickness, in micrometres below 100 um, otherwise in millimetres."""
    if um < 0.95:
        return "under 1 um"
    return f"{um:.0f} um" if um < 99.5 else f"{coarse(um / 1000)} mm"


def length_span(low: float, high: float) -> str:
    """A range of thickness in one unit."""
    if high < 99.5 or (low < 99.5 and high < 999.5):
        return f"{span(low, high)} um"
    a, b = coarse(low / 1000), coarse(high / 1000)
    return f"{a} mm" if a == b else f"{a}-{b} mm"


def composition(ranges: Mapping[str, Span], say: Language, width: int) -> str:
    """Ranges of the main metals in mass percent, as many as fit the width."""
    parts: list[str] = []
    for symbol, ends in ranges.items():
        low, high = ends[0] or 0.0, ends[2] or 0.0
        if high < 1.5 or (parts and high < 5):
            continue
        part = f"{say.metal(symbol)} {span(low, high)} %"
        if parts and len(", ".join([*parts, part])) > width:
            break
        parts.append(part)
    if len(ranges) == 1 and (next(iter(ranges.values()))[0] or 0.0) > 97:
        return say.metal(next(iter(ranges)))
    return ", ".join(parts)


def capital(text: str) -> str:
    """A text that begins with a capital letter."""
    return text[:1].upper() + text[1:]


def listed(items: list[str]) -> str:
    """Items as a list in a sentence."""
    return ", ".join(items)


def either(items: list[str], say: Language) -> str:
    """Items of which one holds: "a", "a or b", "a, b or c"."""
    return _joined("page", "either", items, say)


def both(items: list[str], say: Language) -> str:
    """Items that hold together: "a", "a and b", "a, b and c"."""
    return _joined("content", "both", items, say)


def _joined(section: str, key: str, items: list[str], say: Language) -> str:
    return say.say(section, key, first=listed(items[:-1]), second=items[-1]) if items[1:] else listed(items)


def columns(rows: list[list[str]], widths: list[int]) -> list[str]:
    """Rows as left-aligned columns; the last column is as wide as its text."""
    return [" ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]
