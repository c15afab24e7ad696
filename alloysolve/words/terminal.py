"""The answer to a person: at most 24 lines of 80 ASCII columns, with the decision first."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence

from ..answer.document import Document
from ..answer.parts import ReadingData
from ..answer.rows import at_most
from ..inference.decision import CONTRADICTED, UNDECIDED
from .amounts import amount_sentences
from .findings import (
    blamed,
    blind_line,
    cautions,
    caveats,
    change_lines,
    disagreement_line,
    next_line,
    note_lines,
    other_prior,
    why_first,
)
from .language import Language, language
from .names import Names, body_words, layer_phrase
from .numbers import coarse, columns, grams, length
from .open_claim import open_sentence
from .rows import cells
from .settings import known_good_line, settings_line

WIDTH = 80
LINES = 24
SHOWN = 6
LEAST_TABLE = 5  # lines that the table of what fits always keeps
NAME = 20  # widest name of a reading with its place
VALUE = 28  # and widest value
SAYS_NOTHING = 1.5  # ratio of the densities that a claim allows from which it says nothing of a density
LIKELY, BODY = 9, 41  # widths of the first two columns of the table of what fits


def answer(d: Document) -> str:
    """The whole answer as text."""
    say = language(d.settings["answers"]["language"])
    return "\n".join(answer_lines(d, say, LINES, settings_line(d, say))).rstrip() + "\n"


def answer_lines(d: Document, say: Language, most: int, last: str = "") -> list[str]:
    """The answer in at most `most` lines; `last`, if there is one, is the last of them."""
    said = [first_sentence(d, say), second_sentence(d, say), *amount_sentences(d, say)]
    head = [*_wrap(disagreement_line(d, say)), *_wrap(" ".join(said))]
    readings = readings_table(d.readings, d.claim is not None, say)
    # in the order printed; if the screen is too small, the last line of a later group is dropped first
    groups = [
        change_lines(d, say),
        note_lines(d, say),
        [next_line(d, say), blind_line(d, say)],
        [why_first(d, say), other_prior(d, say)],
        caveats(d, say),
    ]
    kept = [[_wrap(text) for text in group if text] for group in groups]
    care = _wrap(cautions(d, say))
    ending = [line for line in (known_good_line(d, say), last) if line]
    room = most - len(head) - len(readings) - len(care) - len(ending) - 2
    while _size(kept) > room - LEAST_TABLE and any(kept):
        next(group for group in reversed(kept) if group).pop()
    if room - _size(kept) < LEAST_TABLE:  # very many readings
        over = LEAST_TABLE + _size(kept) - room + 1
        more = say.say("records", "more", count=over)
        readings, room = [*readings[:-over], more], room + over - 1
    table = fits_table(d, say, room - _size(kept))
    noted, proposed = ([line for group in part for lines in group for line in lines] for part in (kept[:2], kept[2:]))
    return [*head, "", *table, "", *readings, *noted, *care, *proposed, *ending]  # cautions before what they are about


def _size(groups: list[list[list[str]]]) -> int:
    return sum(len(lines) for group in groups for lines in group)


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, break_long_words=False) or []


def first_sentence(d: Document, say: Language) -> str:
    """The decision, in grams of water if the piece was weighed."""
    piece = say.say("water", "pieces" if d.count > 1 else "piece")
    if d.claim is None or d.claim.decision is None:
        head, density = say.say("decision", "none"), d.density
        if density is None:
            return f"{head}: {say.say('water', 'other')}"
        read = f"{density.value:.2f} g/cm3 ({density.low:.2f} to {density.high:.2f})"
        return f"{head}: {say.say('water', 'no_claim', piece=piece, read=read)}"
    return f"{say.say('decision', d.claim.decision, claim=d.claim.text)}: {_proof(d, say, piece)}"


def _proof(d: Document, say: Language, piece: str) -> str:
    """What the claim would have read, and what was read: in water, unless another reading speaks against it."""
    claim, against = d.claim, blamed(d)
    assert claim is not None
    reading = d.reading(against)
    if reading is not None and against != "weighing" and say.has(reading.kind, "would"):
        expected = _to(*reading.told_as_claimed, coarse) if reading.told_as_claimed else ""
        return say.say(reading.kind, "would", piece=piece, read=_cut(reading.told), expected=expected)
    if d.code == CONTRADICTED and not against:
        return say.say("water", "other")  # no reading by itself, all of them together
    w, density = d.density, claim.density_g_cm3
    if claim.plated and density and density[1] > SAYS_NOTHING * density[0]:
        return say.say("water", "plated_claim")
    if w is not None and w.displaced_g is not None and w.mass_g is not None and claim.would_displace_g:
        return say.say(
            "water",
            "would_push",
            piece=piece,
            mass=grams(w.mass_g),
            liquid=say.say("water", "liquid_other" if d.inputs.get("liquid_density") else "liquid_water"),
            expected=_to(*claim.would_displace_g, "{:.2f}") + " g",
            read=grams(w.displaced_g),
        )
    if w is not None and density:
        expected = _to(*density, "{:.2f}")
        return say.say("water", "density_only", piece=piece, read=f"{w.value:.2f} g/cm3", expected=expected)
    return say.say("water", "other")


def _to(low: float, high: float, form: str | Callable[[float], str]) -> str:
    write = form.format if isinstance(form, str) else form
    a, b = write(low), write(high)
    return a if a == b else f"{a} to {b}"


def second_sentence(d: Document, say: Language) -> str:
    """The sentence on what it fits best."""
    if d.nothing_known:
        return say.say("content", "something_else")
    if d.claim and d.fits_claim and d.claim.decision:
        key = "fits_among" if d.code == UNDECIDED else "fits"
        return open_sentence(d, say) or say.say("content", key, body=f'"{d.claim.text}"', layer="")
    if not d.beside_claim or (d.claim and d.share_meeting_claim > 0.5):
        return say.say("content", "fits_finer")
    first, names = d.beside_claim[0], Names.of(d)
    body, layer = body_words(names, first.family, first.metals, say), layer_phrase(first.layer, names, say, plain=True)
    return say.say("content", "fits" if first.share >= 0.5 else "fits_among", body=body, layer=layer)


def fits_table(d: Document, say: Language, lines: int) -> list[str]:
    """Lines of the table of what fits, likeliest first, with the claim itself as one row."""
    width = BODY if any(r.layer for r in d.rows) else BODY + 20
    alike = [say.say("table", "alike_note")] if any(r.alike_the_first for r in at_most(d.rows, SHOWN)) else []
    shown = at_most(d.rows, min(SHOWN, max(lines - 1 - len(alike), 1)))
    head = [say.say("table", k) for k in ("likely", "body", "layer")]
    note = alike if any(r.alike_the_first for r in shown) else []
    return columns([head, *(cells(r, d, say, width) for r in shown)], [LIKELY, width, 0]) + note


def readings_table(found: Sequence[ReadingData], claimed: bool, say: Language) -> list[str]:
    """One row per reading: value, what it sees, how it agrees with the first row and with the claim."""
    rows = []
    for r in found:
        name = say.say(r.kind, "name") if say.has(r.kind, "name") else r.kind
        name = f"{name}, {r.place}" if r.place else name
        key = "little" if 0 < (r.sees_um or 0.0) < 1 else r.sees.replace(" ", "_")
        sees = say.say("readings", key, depth=length(r.sees_um or 0.0))
        marks = [say.say("readings", mark) if mark else "-" for mark in (r.agrees, r.claim_agrees)]
        rows.append([name[:NAME], _cut(r.text), sees, marks[0], marks[1] if claimed else ""])
    head = [say.say("readings", k) for k in ("reading", "value", "sees", "first")]
    head.append(say.say("readings", "claim") if claimed else "")
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(4)]
    return columns([head, *rows], [*widths, 0])


def _cut(value: str) -> str:
    """A value that leaves room for the other columns: the end of a path is kept, or the beginning of anything else."""
    if len(value) <= VALUE:
        return value
    return "..." + value[3 - VALUE :] if "/" in value or "\\" in value else value[: VALUE - 3] + "..."
