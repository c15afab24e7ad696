"""The answer to a person at a terminal, 80 ASCII columns wide and with the decision first: short, or in full."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from ..answer.document import Document
from .amounts import amount_sentences
from .coins import coin_line
from .findings import caveats, change_lines, disagreement_line, note_lines, other_prior, why_first
from .headline import first_sentence, second_sentence
from .language import Language, language
from .proposals import blind_line, cautions, layers_line, next_line
from .rows import fits_table, readings_table
from .short import short_sentences
from .weighing import default_lines, known_good_line

WIDTH = 80
LINES = 24  # of the full answer
SHORT = 12  # lines of the short one
COINS = 3  # coin types that the full answer names
LEAST_TABLE = 5  # lines that the table of what fits always keeps

Part = tuple[int, list[str]]  # what is left out first has the highest number; what has 0 always stays


def answer(d: Document, more: bool = False, page: str = "") -> str:
    """The answer as text, short or with `more`; `page` is the file or record of which a page can be printed."""
    say = language(d.settings["answers"]["language"])
    if more:
        lines = full_lines(d, say, LINES)
    else:
        shown = f'"{page}"' if " " in page else page
        lines = short_lines(d, say, SHORT, say.say("short", "page" if page else "record", page=shown))
    return "\n".join(lines).rstrip() + "\n"


def short_lines(d: Document, say: Language, most: int, last: str = "") -> list[str]:
    """The short answer in at most `most` lines; `last` is the last of them."""
    return [line for lines in _short(d, say, most, last) for line in lines]


def short_paragraphs(d: Document, say: Language) -> list[str]:
    """What `answer` says, one text per paragraph without ends of lines, for a page that breaks them itself."""
    return [" ".join(lines) for lines in _short(d, say, SHORT - 1, "")]


def _short(d: Document, say: Language, most: int, last: str) -> list[list[str]]:
    parts = [(rank, _wrap(text)) for rank, text in [*short_sentences(d, say), (0, last)]]
    return [lines for _, lines in _fitted(parts, most)]


def full_lines(d: Document, say: Language, most: int) -> list[str]:
    """The answer with all its tables in at most `most` lines."""
    said = [first_sentence(d, say), second_sentence(d, say), *amount_sentences(d, say)]
    head = [*_wrap(disagreement_line(d, say)), *_wrap(" ".join(said))]
    readings = readings_table(d.readings, d.claim is not None, say)
    groups = [
        change_lines(d, say),
        [coin_line(d, say, COINS), *note_lines(d, say)],
        [next_line(d, say), blind_line(d, say), layers_line(d, say)],
        [why_first(d, say), other_prior(d, say)],
        caveats(d, say),
    ]
    parts = [(rank, _wrap(text)) for rank, group in enumerate(groups, start=1) for text in group]
    care = _wrap(cautions(d, say))
    ending = [line for text in (known_good_line(d, say), *default_lines(d, say)) for line in _wrap(text)]
    room = most - len(head) - len(readings) - len(care) - len(ending) - 2
    kept = _fitted(parts, room - LEAST_TABLE)
    if room - _size(kept) < LEAST_TABLE:  # very many readings
        over = LEAST_TABLE + _size(kept) - room + 1
        more = say.say("records", "more", count=over)
        readings, room = [*readings[:-over], more], room + over - 1
    table = fits_table(d, say, room - _size(kept))
    noted, proposed = ([x for rank, lines in kept for x in lines if (rank > 2) == late] for late in (False, True))
    return [*head, "", *table, "", *readings, *noted, *care, *proposed, *ending]  # cautions before what they are about


def _fitted(parts: Sequence[Part], most: int) -> list[Part]:
    """The parts in their order, the important ones first; one for which there is no room leaves it to shorter ones."""
    room, kept = most, set()
    for k in sorted(range(len(parts)), key=lambda k: parts[k][0]):
        rank, lines = parts[k]
        if lines and (not rank or len(lines) <= room):
            room -= len(lines)
            kept.add(k)
    return [parts[k] for k in sorted(kept)]


def _size(parts: Sequence[Part]) -> int:
    return sum(len(lines) for _, lines in parts)


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, break_long_words=False, break_on_hyphens=False)
