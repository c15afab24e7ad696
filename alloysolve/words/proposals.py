"""What to do next: the reading to take, what those taken could not show, and the cautions that all of it needs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ..answer.document import NO_CLAIM, Document
from ..answer.parts import BlindSpot, NextReading
from ..inference.classes import MEDIUM_UM, THIN_UM
from ..inference.decision import CONTRADICTED, UNDECIDED
from .cautions import caution_words, cautions_of
from .language import Language
from .names import Names, body_words, called, mm, part_words
from .numbers import either

BLIND_SHOWN = 3
LESS_FINE = "less fine metal"  # the class of blind spots
CLEAR = 0.9  # probability from which what fits is told apart well enough
OWNED_ENOUGH = 0.8  # of the worth of the best reading, from which one that the shop can take is enough
APART = 1.01  # ratio from which two expected values are worth printing beside each other


def next_line(d: Document, say: Language) -> str:
    """The sentences on the most useful reading of those the shop can take and of all others.

    If none helps, the sentence on what an assay office would do.
    """
    first = next_shown(d)
    if first is None:
        return say.say("note", "laboratory") if d.code == UNDECIDED else ""
    lines = [say.say("note", "next" if first.owned else "next_elsewhere", reading=_expected(d, first, say))]
    better = better_elsewhere(d, first)
    lines += [say.say("note", "elsewhere", reading=called(d, better.kind, say))] if better else []
    return " ".join(lines)


def _expected(d: Document, r: NextReading, say: Language) -> str:
    """A reading not yet taken, with what it would show if that tells anything apart; a laboratory needs no forecast."""
    kind = called(d, r.kind, say)
    if r.other is None or (d.code == UNDECIDED and not _tells_claim(r)) or kind != say.say(r.kind, "name"):
        return kind
    unit = "" if isinstance(r.other, str) else f" {r.unit}"
    body = body_words(Names.of(d), r.family, r.metals, say)
    if r.layer:
        body += say.say("page", "layer_plain", skin=part_words(Names.of(d), r.layer, say))
    if d.code != UNDECIDED:
        return say.say("note", "tells_body", kind=kind, other=_shown(r.other, r.unit) + unit, body=body)
    return say.say(
        "note", "tells_claim", kind=kind, claim=_shown(r.claim, r.unit) + unit, other=_shown(r.other, r.unit), body=body
    )


def next_shown(d: Document) -> NextReading | None:
    """The reading to propose, of those that the shop can take if any of them helps.

    For an open claim these are readings that may decide it, or would print another value for what else fits; one that
    may decide it elsewhere goes before one that only narrows what fits.
    """
    if d.code == UNDECIDED:
        telling = replace(
            d, next_readings=tuple(r for r in d.next_readings if r.decides or (r.owned and _tells_claim(r)))
        )
        if found := _best(telling, True) or _best(telling, False):
            return found
    return _best(d, True) or _best(d, False)


def better_elsewhere(d: Document, first: NextReading) -> NextReading | None:
    """A reading that the shop cannot take and that would tell clearly more than the first one it can take."""
    other = _best(d, False) if first.owned else None
    return other if other and first.worth < OWNED_ENOUGH * other.worth else None


def _best(d: Document, owned: bool) -> NextReading | None:
    """The best reading that the shop owns, or does not own; none if nothing is left to tell apart."""
    found = [r for r in d.next_readings if r.owned == owned]
    if d.code == UNDECIDED:
        return next((r for r in found if _tells_claim(r)), next(iter(found), None))
    settled = d.code not in (NO_CLAIM, CONTRADICTED)
    if settled or not d.beside_claim or d.beside_claim[0].share > CLEAR:
        return None
    return next(iter(found), None)


def _tells_claim(r: NextReading) -> bool:
    """Whether a reading would print another value for what else fits than for the claim."""
    return r.claim is not None and r.other is not None and _differ(r.claim, r.other, r.unit)


def _differ(claim: Any, other: Any, unit: str) -> bool:
    """Whether two expected values differ once they are printed."""
    if isinstance(other, str):
        return bool(claim != other)
    outside = not claim[0] / APART < other < claim[1] * APART
    return outside and _shown(other, unit) not in _shown(claim, unit).split("-")


def _shown(value: Any, unit: str) -> str:
    """One expected value, or a range, as people are shown it."""
    if isinstance(value, str):
        return value
    low, high = (_rounded(x, unit) for x in (value if isinstance(value, tuple) else (value, value)))
    return low if low == high else f"{low}-{high}"


def _rounded(x: float, unit: str) -> str:
    if unit == "g/cm3":  # two digits would not tell a metal of 10 from one of 10.4
        return f"{x:.1f}"
    if x >= 1000:
        return f"{round(x, -1):.0f}"
    return f"{x:.0f}" if x >= 9.5 or x < 0.05 else f"{x:.1f}"


def blind_line(d: Document, say: Language) -> str:
    """The sentence on what these readings could not show, with the readings that would, if any would."""
    spots = blind_spots_beside(d, BLIND_SHOWN, say)
    closing = [called(d, b.closed_by[0], say) if b.closed_by else "" for b in spots]
    names = [say.say("blind", b.class_) for b in spots]
    if not names:
        return ""
    if closing[0] and len(set(closing)) == 1:
        return say.say("note", "blind_one", classes=either(names, say), reading=closing[0])
    items = [
        say.say("note", "blind_closed", spot=name, reading=reading) if reading else name
        for name, reading in zip(names, closing, strict=True)
    ]
    return say.say("note", "blind", classes=either(items, say))


def layers_line(d: Document, say: Language) -> str:
    """The sentence on what a thin, a plated and a thick layer are, if what the readings could not show names one."""
    if not any(b.class_.partition(" layer over ")[1] for b in blind_spots_beside(d, BLIND_SHOWN, say)):
        return ""
    return say.say("note", "layers", thin=mm(THIN_UM), plated=mm(MEDIUM_UM))


def blind_spots_shown(d: Document, most: int, say: Language) -> list[BlindSpot]:
    """The classes of blind spots that have words; of many, only the first few."""
    return [b for b in d.blind_spots if say.has("blind", b.class_)][:most]


def blind_spots_beside(d: Document, most: int, say: Language) -> list[BlindSpot]:
    """The same without less fine metal, if a sentence of its own says from which fineness down that would show."""
    said = d.claim is not None and d.claim.would_show_below_per_mille is not None
    spots = blind_spots_shown(d, len(d.blind_spots), say)
    return [b for b in spots if not (said and b.class_ == LESS_FINE)][:most]


def cautions(d: Document, say: Language) -> str:
    """The fixed caution, and those that this piece and the readings proposed for it call for."""
    return " ".join([say.say("caution", "fixed"), caution_words(called_for(d, say), say)]).rstrip()


def called_for(d: Document, say: Language) -> list[str]:
    """Codes of the cautions of this piece, and of the readings that this shop is to take; a laboratory has its own."""
    following = next_shown(d)
    proposed = {b.closed_by[0] for b in blind_spots_shown(d, BLIND_SHOWN, say) if b.closed_by}
    proposed |= {following.kind} if following else set()
    return [*d.cautions, *cautions_of(kind for kind in proposed if d.owns(kind))]
