"""The sentence on a claim that stays open although it is probably true: what is likely, and what has not been shown."""

from __future__ import annotations

from ..answer.document import Document
from ..answer.rows import AS_CLAIMED
from ..inference.decision import UNDECIDED
from .findings import PROBABLY, rare_alloy
from .language import Language
from .names import Names, called, kind_taken, told_apart
from .numbers import chance, listed
from .proposals import blind_spots_shown, next_shown


def open_sentence(d: Document, say: Language, style: str = "open") -> str:
    """The sentence, or "" if the claim is not open or not likely; `style` is the section of its words.

    A page for a seller ("page_open") calls readings by what they show, everything else by their names. The short
    answer ("open_short") says how likely the claim is in a sentence of its own.
    """
    if d.claim is None or d.code != UNDECIDED or d.share_meeting_claim < PROBABLY:
        return ""
    claimed, words = d.row(AS_CLAIMED), chance(d.share_meeting_claim, say)
    finer = claimed is not None and chance(claimed.share, say) != words and say.has(style, "likely_finer")
    likely = say.say(style, "likely_finer" if finer else "likely", chance=words)
    if any(r.code == "meets it otherwise" for r in d.claim.reasons):
        return say.say(style, "otherwise", likely=likely)
    following = next_shown(d)
    reading = ""
    if following is not None and following.decides:
        reading = called(d, following.kind, say, "help" if style == "page_open" else "name")
    if rare_alloy(d):
        closed = reading and say.has(style, "rare_closed")
        return say.say(style, "rare_closed" if closed else "rare", likely=likely, reading=reading)
    speaking = _disagreeing(d)
    if speaking:
        names = listed([say.say(kind, "title" if style == "page_open" else "name") for kind in speaking])
        return say.say(style, "reading" if len(speaking) == 1 else "readings", likely=likely, readings=names)
    missing = _not_ruled_out(d, say)
    if not missing:
        return say.say(style, "more", likely=likely)
    return say.say(style, "closed" if reading else "kind", likely=likely, kind=missing, reading=reading)


def _disagreeing(d: Document) -> list[str]:
    """Kinds of the readings that by themselves speak against the claim, from the reasons of the decision."""
    named: list[str] = []
    for r in d.claim.reasons if d.claim else ():
        if r.code == "one reading alone":
            named.append(str(r.values["reading"]))
        elif r.code == "speaks against":
            named += [str(name) for name in r.values["readings"]]
    return list(dict.fromkeys(kind_taken(d, name) for name in named))


def _not_ruled_out(d: Document, say: Language) -> str:
    """What else it may be: the kind that the decision names, or the commonest blind spot, or the likeliest body."""
    reasons = d.claim.reasons if d.claim else ()
    kinds = [str(r.values["kind"]) for r in reasons if r.code == "kind not shown"]
    kinds += [b.class_ for b in blind_spots_shown(d, 1, say)]
    if kinds:
        return say.say("blind", kinds[0])
    first = d.beside_claim[:1]
    return told_apart(Names.of(d), first[0].family, first[0].metals, say) if first else ""
