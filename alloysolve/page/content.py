"""The sentences of a page for a seller: short, and in the order in which people ask."""

from __future__ import annotations

import re

from ..advice.agreement import AGREES
from ..advice.weighed import OLD_CHECK
from ..answer.document import NO_CLAIM, Document
from ..answer.rows import AS_CLAIMED, LIKELY_FROM, at_most
from ..inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED
from ..readings.registry import KINDS
from ..words.cautions import DUST
from ..words.findings import blamed
from ..words.language import Language
from ..words.names import Names, body_words, claim_words, kind_of, layer_phrase, noun, values_of
from ..words.numbers import coarse, either, grams, listed
from ..words.open_claim import open_sentence
from ..words.proposals import blind_spots_beside
from ..words.records import printable
from ..words.rows import point
from .readings import would_help

MOST_ROWS, MOST_METALS, METALS_WIDTH = 5, 2, 60
MOST_BLIND = 4


def sentence(d: Document, say: Language) -> str:
    """The result in one sentence."""
    return say.say("page", d.code, piece=noun(d, say), claim=claim_words(d, say))


def paragraph(d: Document, say: Language) -> str:
    """The result in a few sentences, with hardly a number."""
    piece = noun(d, say)
    if d.code == NOT_CONTRADICTED:
        return f"{sentence(d, say)} {say.say('page', 'not_who', piece=piece)}"
    if d.code == NO_CLAIM:
        return f"{sentence(d, say)} {_fits(d, say)}"
    still_open = open_sentence(d, say, "page_open")
    return f"{sentence(d, say)} {still_open or f'{_why(d, say, piece)} {_fits(d, say)}'}"


def _why(d: Document, say: Language, piece: str) -> str:
    """The sentence that says in plain words what speaks against the claim."""
    if d.code == UNDECIDED:
        strained = any(abs(r.score_under_claim or 0.0) > AGREES for r in d.readings)
        return say.say("page", "why_strained" if strained else "why_agree")
    against = blamed(d)
    if not against:
        return say.say("page", "why_together", piece=piece)
    reading, gaps = d.reading(against), {"piece": piece, "claim": claim_words(d, say)}
    if reading is not None and against != "weighing":
        kind, way = kind_of(against), "why_less" if reading.below_claim else "why_more"
        return say.say(kind, way if say.has(kind, way) else "why", **gaps)
    w, span = d.density, d.claim.density_g_cm3 if d.claim else None
    lighter = w is not None and span is not None and w.value < span[0]
    if w is not None and w.route == "weighing":
        return say.say("page", "why_more" if lighter else "why_less", **gaps)
    return say.say("page", "why_lighter" if lighter else "why_heavier", **gaps)


def _fits(d: Document, say: Language) -> str:
    if d.nothing_known:
        return say.say("page", "fits_something_else")
    one = d.first_system
    if d.fits_claim:
        return say.say("page", "fits_as_claimed")
    if d.code == UNDECIDED and d.systems[0].probability < LIKELY_FROM:
        return say.say("page", "fits_several")
    if one is None:
        return say.say("page", "fits_finer")
    body = body_words(Names.of(d), one.family, one.metals, say)
    return say.say("page", "fits", body=body, layer=layer_phrase(one.layer, Names.of(d), say, plain=True))


def blind_lines(d: Document, say: Language) -> list[str]:
    """Sentences on what the readings cannot show, and on the fineness below which they would have shown it."""
    spots = blind_spots_beside(d, MOST_BLIND, say)
    words = [say.say("blind", b.class_) for b in spots]
    lines = (
        [say.say("page", "blind_list", classes=either(words[:2], say))] if words else [say.say("page", "blind_none")]
    )
    lines += [say.say("page", "blind_more", classes=either(words[2:], say))] if words[2:] else []
    lowest = d.claim.would_show_below_per_mille if d.claim else None
    lines.append(say.say("page", "lowest", fineness=f"{lowest:.0f}") if lowest else say.say("page", "lowest_none"))
    return [*lines, say.say("page", "blind_maker"), *would_help(d, spots, say)]


def likely_rows(d: Document, say: Language) -> list[tuple[str, str]]:
    """Rows of what the piece probably is, each with its chance in words; one row stands for all that is not shown."""
    rows = [point(r, d, say, MOST_METALS, METALS_WIDTH) for r in at_most(d.rows, MOST_ROWS)]
    if d.claim and d.claim.decision and d.row(AS_CLAIMED) is None:  # every seller asks about the claim
        rows.append((say.say("page", "likely_under"), say.say("page", "as_claimed", claim=claim_words(d, say))))
    return rows


def alike_note(rows: list[tuple[str, str]], say: Language) -> list[str]:
    """The sentence that explains "reads alike", if a row says so."""
    return [say.say("page", "alike_note")] if any(lead == say.say("page", "likely_alike") for lead, _ in rows) else []


def undone_lines(d: Document, say: Language) -> list[str]:
    """Sentences on what the readings need done to the piece, and on those that wet it or leave a mark."""
    kinds, piece = {r.kind for r in d.readings}, noun(d, say)
    undone = [say.say(kind, "undone") for kind in KINDS if kind in kinds and say.has(kind, "undone")]
    wet = [say.say("page", "wetted", piece=piece)] if d.weighings else []
    marks = dict.fromkeys(mark for kind, of in KINDS.items() if kind in kinds for mark in of.marks)
    done = [say.say(mark, "done", piece=piece) for mark in marks]
    return [*(undone or [say.say("page", "undone_all")]), *wet, *done]


def not_this_lines(d: Document, say: Language) -> list[str]:
    """Sentences on what the page is not, and on what needs care."""
    code, piece = d.code, noun(d, say)
    keys = ["not_assay", "not_origin"]
    keys += (
        ["good_faith"] * (code in (CONTRADICTED, UNDECIDED))
        + ["no_promise"] * (code == NOT_CONTRADICTED)
        + ["elsewhere"]
    )
    lines = [say.say("page", key, piece=piece) for key in keys]
    dust = [say.say("page", c) for c in d.cautions if c in DUST]
    lines += [say.say("page", "dust", metals=listed(dust))] if dust else []
    lines += [say.say("care", c) for c in d.cautions if say.has("care", c)]
    return lines + [say.say("page", c) for c in d.cautions if c not in DUST and say.has("page", c)]


def about_lines(d: Document, say: Language, day: str) -> list[str]:
    """Lines that say which piece it is, what it is said to be, and when it was tested; a long note is cut short."""
    name, claim = isolated(printable(str(d.inputs.get("name") or "")), 60), claim_words(d, say)
    if d.claim and d.claim.coin:
        coin, same = say.typed(d.claim.coin), _words(d.claim.text) == _words(d.claim.coin)
        claim = coin if same else f"{claim} ({coin})"
    key = ("about" if claim else "about_unclaimed") if name else ("about_unnamed" if claim else "about_nothing")
    lines = [say.say("page", key, name=name, claim=claim, piece=noun(d, say))]
    if d.inputs.get("note"):
        lines.append(say.say("page", "note", note=isolated(printable(str(d.inputs["note"])), 160)))
    tested = say.say("page", "day", day=say.day(day)) if day else say.say("page", "day_blank")
    good = d.settings["scale"].get("known_good")
    if good and good.get("on") and d.density and d.density.displaced_g is not None:
        tested += " " + say.say("page", "checked", day=say.day(good["on"]), claim=say.typed(good["claim"]))
        old = values_of(d, OLD_CHECK)
        tested += " " + say.say("page", "checked_long_ago", days=old["days"], most=old["most"]) if old else ""
    return [*lines, tested]


def _words(text: str) -> set[str]:
    return set(re.findall(r"\w+", text.casefold()))


def isolated(text: str, most: int) -> str:
    """A text of the user, cut short, that keeps its own direction of writing and does not turn its surroundings."""
    import unicodedata

    text = text if len(text) <= most else text[: most - 3].rstrip() + "..."
    turns = any(unicodedata.bidirectional(c) in ("R", "AL", "AN") for c in text)
    return f"\u2068{text}\u2069" if turns else text


def misread_words(d: Document, say: Language) -> str:
    """The sentence on the bubble or slip of the scale that would explain the weighing."""
    a = d.claim
    if a is None or a.misread_g is None:
        return say.say("page", "change_other")
    misread = grams(abs(a.misread_g), 3 if abs(a.misread_g) < 0.1 else 2)
    if a.bubble_mm is None:
        return say.say("page", "change_misread", misread=misread)
    return say.say("page", "change_bubble", bubble=f"{coarse(a.bubble_mm)} mm", misread=misread, piece=noun(d, say))
