"""Cautions in words: what a piece may hold that harms, and what its readings need."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ..readings.registry import KINDS
from .language import Language
from .numbers import listed

MOST_NUMBERS = 4  # records that a caution names
DUST = ("lead", "cadmium", "beryllium", "mercury", "uranium", "thallium", "osmium")


def caution_words(codes: Iterable[str], say: Language, where: Mapping[str, str] | None = None) -> str:
    """The sentences of some cautions, those on harmful metals first; `where` adds in which records a metal may be."""
    codes = list(dict.fromkeys(codes))
    metals = [code for code in codes if code in DUST]
    parts = []
    if metals:
        first, *others = [say.say("caution", code) + (f" ({where[code]})" if where else "") for code in metals]
        names = [first, *(name[0].lower() + name[1:] for name in others)]
        parts.append(say.say("caution", "dust", metals=", ".join(names)))
        parts += [say.say("care", code) for code in metals if say.has("care", code)]
    return " ".join(parts + [say.say("caution", code) for code in codes if code not in DUST])


def cautions_of(kinds: Iterable[str]) -> list[str]:
    """Codes of the cautions that some kinds of readings need."""
    asked = set(kinds)
    return [of.caution for kind, of in KINDS.items() if of.caution and kind in asked]


def _some(numbers: list[str], say: Language) -> str:
    more = len(numbers) - MOST_NUMBERS
    return listed(numbers[:MOST_NUMBERS]) + (f" {say.say('records', 'more', count=more)}" if more > 0 else "")


def caution_of_records(codes: Iterable[tuple[int, Iterable[str]]], say: Language) -> str:
    """The sentences on harmful metals in some records, given by number with the codes of their cautions."""
    numbers: dict[str, list[str]] = {code: [] for code in DUST}
    for number, found in codes:
        for code in set(found) & set(DUST):
            numbers[code].append(str(number))
    where = {code: _some(found, say) for code, found in numbers.items() if found}
    return caution_words(where, say, where)
