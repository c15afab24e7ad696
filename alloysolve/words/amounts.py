"""Sentences on the precious metal in a piece: what the likely rows hold, and no hope from the others."""

from __future__ import annotations

from collections.abc import Mapping

from ..answer.document import Document
from ..answer.rows import AS_CLAIMED, FINER, SYSTEM, Amount, Row
from ..inference.decision import UNDECIDED
from ..inference.find import COUNTED_FROM
from .language import Language
from .names import Names, layer_phrase, span_words, told_apart
from .numbers import amount, both, chance, either

MOST = 2  # metals that are mentioned
LEAST_SHOWN = {"g": 0.01, "%": 0.1}  # content below which a precious metal is not mentioned
CERTAIN = 0.05  # of the high value: if the low one is above it, the metal is surely there
MATTERS = 0.2  # of the high value: a lower likely one is not worth naming beside it
SURE = 0.95  # share of all that fits from which what it holds is said without "probably"
ENOUGH = 0.5  # of all belief: less than this says neither what a piece probably holds nor that it holds none


def amount_sentences(d: Document, say: Language) -> list[str]:
    """Sentences on the precious metals in a piece, those that are surely there first."""
    counted = [r for r in d.rows if r.what in (AS_CLAIMED, FINER, SYSTEM) and r.share >= COUNTED_FROM]
    if d.nothing_known or not counted:
        return [say.say("content", "unknown")]
    claimed = next((r for r in counted if r.what == AS_CLAIMED and d.code == UNDECIDED), None)
    lines = _holds_if(claimed, say) if claimed else []
    if lines and d.fits_claim:
        return lines
    covered = sum(r.share for r in counted)
    if covered < ENOUGH:
        return lines or [say.say("content", "unknown")]
    told = claimed if lines else None
    lines += _holds("holds" if covered >= SURE else "probably", d.precious, say)
    possible = [(s, m) for s, m in _shown(d.precious) if not _certain(m)][: MOST - len(lines)]
    said = {s: found for s, m in possible if (found := _possible(d, s, m, counted, told, say))}
    bare = sum(r.share for r in counted if r is not told and not any(_certain(m) for m in r.holds.values()))
    none_likely = bare >= ENOUGH * (1 - (told.share if told else 0.0)) or not said
    if len(lines) == (told is not None) and none_likely and not any(key == "about" for key, _ in said.values()):
        small = [_item(s, d.precious[s], say) for s, (key, _) in said.items() if key == "at_most"]
        key = "none_otherwise" if told else "none"
        lines.append(say.say("content", f"{key}_or" if small else key, amounts=_both(small, say)))
        said = {s: found for s, found in said.items() if found[0] != "at_most"}
    return [*lines, *(line for _, line in said.values())]


def _item(symbol: str, m: Amount, say: Language) -> str:
    return say.say("content", "item", amount=f"{amount(m.high)} {m.unit}", metal=say.metal(symbol))


def _both(items: list[str], say: Language) -> str:
    return both(items, say)


def _shown(found: Mapping[str, Amount]) -> list[tuple[str, Amount]]:
    """Contents worth mentioning, the most plentiful first."""
    return sorted(((s, m) for s, m in found.items() if m.high >= LEAST_SHOWN[m.unit]), key=lambda x: -x[1].high)


def _certain(m: Amount) -> bool:
    return m.low > CERTAIN * m.high and m.low >= LEAST_SHOWN[m.unit]


def _holds(key: str, found: Mapping[str, Amount], say: Language) -> list[str]:
    """The sentence on the metals that are surely there; none if there are none."""
    items = [
        say.say("content", "item", amount=amount_span(m.low, m.high, m.unit, say), metal=say.metal(s))
        for s, m in _shown(found)
        if _certain(m)
    ]
    return [say.say("content", key, amounts=_both(items, say))] if items else []


def _holds_if(claimed: Row, say: Language) -> list[str]:
    """The sentence on what a piece as claimed holds; of a layer whose thickness nobody knows, what is likely."""
    found = _holds("holds_if", claimed.holds, say)
    for symbol, m in [] if found else _shown(claimed.holds)[:1]:
        metal, likely, high = say.metal(symbol), f"{amount(m.likely)} {m.unit}", f"{amount(m.high)} {m.unit}"
        key = "about_if" if m.likely >= LEAST_SHOWN[m.unit] else "at_most_if"
        return [say.say("content", key, metal=metal, likely=likely, high=high)]
    return found


def amount_span(low: float, high: float, unit: str, say: Language) -> str:
    """Two amounts as a range, with the same decimals at both ends."""
    ends = amount(low), amount(high)
    decimals = max(len(x.partition(".")[2]) for x in ends)
    low_words, high_words = (f"{float(x):.{decimals}f} {unit}" for x in ends)
    return span_words(low_words, high_words, say)


def _possible(
    d: Document, symbol: str, m: Amount, counted: list[Row], told: Row | None, say: Language
) -> tuple[str, str] | None:
    """The sentence on a metal that may be absent, with its key; None if only `told` would hold it."""
    metal, high = say.metal(symbol), f"{amount(m.high)} {m.unit}"
    having = [r for r in counted if symbol in r.holds and _certain(r.holds[symbol])]
    odds = sum(r.share for r in having)
    if m.likely > MATTERS * m.high and odds >= ENOUGH:
        likely = f"{amount(m.likely)} {m.unit}"
        if likely == high:
            return "about", say.say("content", "probably", amounts=_item(symbol, m, say))
        return "about", say.say("content", "about", metal=metal, likely=likely, high=high)
    if not having:
        return "at_most", say.say("content", "at_most", metal=metal, high=high)
    if having == [told]:
        return None
    found = [r.holds[symbol] for r in having]
    span = amount_span(min(x.low for x in found), max(x.high for x in found), m.unit, say)
    names = list(dict.fromkeys(_named(d, r, symbol, say) for r in having if r.what == SYSTEM))
    meeting = {r.what for r in having} - {SYSTEM}
    if meeting:
        key = "claimed_or_finer" if len(meeting) > 1 else "finer" if FINER in meeting else "as_claimed"
        names.insert(0, say.say("content", key))
    body = either(names, say)
    return "only_if", say.say("content", "only_if", metal=metal, amount=span, body=body, chance=chance(odds, say))


def _named(d: Document, row: Row, symbol: str, say: Language) -> str:
    """What a system would be; its layer is named if the metal is not in its body."""
    layer = "" if symbol in row.ranges else layer_phrase(row.layer, Names.of(d), say, plain=True)
    return told_apart(Names.of(d), row.family, row.metals, say) + layer
