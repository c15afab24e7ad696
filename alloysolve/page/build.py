"""The explanation of a test for the person who brought the piece: one page, and what an expert needs to check it."""

from __future__ import annotations

import base64
import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import cast

from ..answer.document import Document
from ..answer.records import Record, records_folder, save_record
from ..errors import InputError
from ..figures.drawn import pushed_aside, section_drawing, section_words, water_drawing
from ..inference.decision import NOT_CONTRADICTED, UNDECIDED
from ..inputs.settings import Settings
from ..version import VERSION
from ..words.amounts import amount_sentences
from ..words.coins import coin_line
from ..words.findings import blamed, disagreement_line
from ..words.language import Language, language, page_language
from ..words.names import noun, water_words
from ..words.numbers import grams
from .content import (
    about_lines,
    alike_note,
    blind_lines,
    likely_rows,
    misread_words,
    not_this_lines,
    paragraph,
    sentence,
    undone_lines,
)
from .expert import expert_sections
from .html import page_html
from .parts import EXPERT, SELLER, Block, Page, Paper, Paragraph, Picture, Pictures, Points, Section
from .readings import change_lines, may_be_filled, reading_rows
from .text import page_text

__all__ = ["Page", "page_html", "page_json", "page_of", "page_text", "paragraph", "recorded_page", "sentence"]

LOGOS = {".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".svg": "image/svg+xml"}
MOST_LOGO = 1_000_000  # bytes
MOST_COINS = 1  # coin types that the sheet names


def page_of(d: Document, day: str = "", code: str = "") -> Page:
    """The explanation of one answer in the form in which it is kept; `with_shop` adds what belongs to the shop.

    `day` is when it was tested; if it is left out, the page has a line to write it on. The sheet for the seller is in
    the language of a `code`, or of the settings; what an expert checks is in English.
    """
    answers = d.settings["answers"]
    say = page_language(code or answers["language"])
    return Page(
        say.code,
        answers["paper"],
        say.say("page", "title"),
        say.say("page", "expert"),
        tuple(about_lines(d, say, day)),
        "",
        "",
        (*seller_sections(d, say), *expert_sections(d, language(), say.code)),
    )


def with_shop(page: Page, settings: Settings, code: str, logo_anyway: bool = False) -> Page:
    """A page with the shop's name, logo and paper.

    Parameters
    ----------
    code : the answer on the claim, or "none".
    logo_anyway : show the shop's logo even if nothing speaks against the claim. It is left out then so that the
        page does not look like more than it is.

    Raises
    ------
    InputError
        For a logo that cannot be read.
    """
    wanted = settings.page.logo and (logo_anyway or code != NOT_CONTRADICTED)
    return replace(
        page,
        paper=cast("Paper", settings.answers.paper),
        header=settings.page.header,
        logo=logo_of(settings) if wanted else "",
    )


def keep_answer(d: Document, settings: Settings, made: datetime) -> Path:
    """Keeps an answer with its page in the folder of the shop's records; returns the file."""
    return save_record(d.to_dict(), records_folder(settings), made, page_of(d, day_of(made)).to_dict())


def day_of(made: datetime) -> str:
    """The day of a moment by the clock of this machine, as in "2026-11-25"."""
    return made.astimezone().date().isoformat()


def recorded_page(record: Record, anew: Document | None = None, code: str = "") -> Page:
    """The page of a stored answer, as it stood; nothing is solved.

    In another language than it was made in (`code`), the stored answer is worded again; it is the same answer.
    If another version of the program made it, the page says so. `anew` is the same piece solved by this version; its
    result is added in the part for an expert. With it, a page that cannot be read is no hindrance.

    Raises
    ------
    InputError
        For a record that holds no page, or one that this version cannot read.
    """
    page = _kept_page(record)
    if page is None and anew is None:
        step = "add --anew: the stored answer is then worded again, with what this version finds beside it"
        raise InputError(str(record.file), "no whole page", "a record with a page that this version can read", step)
    if page is None or (code and code != page.language):
        page = page_of(record.solution, record.summary.day, code)
    say, plain = page_language(page.language), language()
    made, now = record.solution.version, VERSION
    if made != now:
        page = replace(page, about=(*page.about, say.say("page", "stored", version=made, current=now)))
    if anew is None:
        return page
    beside = Section(
        EXPERT,
        plain.say("page", "anew", version=now),
        (
            Paragraph(plain.say("page", "anew_stands", version=made)),
            Paragraph(paragraph(anew, plain)),
            Points(tuple(likely_rows(anew, plain))),
            Paragraph(" ".join(amount_sentences(anew, plain))),
        ),
    )
    return replace(page, sections=(*page.of(SELLER), beside, *page.of(EXPERT)))


def _kept_page(record: Record) -> Page | None:
    """The page that a record holds; None without one, or if an older version wrote it in another form."""
    try:
        return None if record.page is None else Page.from_dict(record.page)
    except InputError:
        return None


def page_json(solution: Document, page: Page) -> str:
    """The page as JSON, with the whole answer from which it was made; `Page.from_dict` of it gives the same page."""
    return (
        json.dumps({**page.to_dict(), "solution": solution.to_dict()}, indent=2, ensure_ascii=False, allow_nan=False)
        + "\n"
    )


def seller_sections(d: Document, say: Language) -> list[Section]:
    """The sections for the seller, in the order in which people ask.

    If nothing speaks against the claim, what the readings cannot show comes second.
    """
    rows = likely_rows(d, say)
    change = change_lines(d, say, misread_words(d, say), blamed(d))
    first = [line for line in (disagreement_line(d, say), paragraph(d, say)) if line]
    made: list[tuple[str, list[Block]]] = [("result", [Paragraph(line) for line in first])]
    if d.code == NOT_CONTRADICTED:
        made.append(("blind", [Paragraph(" ".join(blind_lines(d, say)))]))
    made += [
        ("how", [Points(tuple(reading_rows(d, say))), *pictures(d, say)]),
        (
            "likely_undecided" if d.code == UNDECIDED else "likely",
            [
                Paragraph(say.say("page", "likely_of")),
                Points(tuple(rows)),
                *map(Paragraph, [*alike_note(rows, say), *filter(None, [coin_line(d, say, MOST_COINS)])]),
            ],
        ),
        ("precious", [Paragraph(" ".join(amount_sentences(d, say)))]),
        ("change", [Paragraph(" ".join(change))]),
        ("undone", [Paragraph(" ".join(undone_lines(d, say)))]),
        ("not_this", [Paragraph(" ".join(not_this_lines(d, say)))]),
    ]
    return [Section(SELLER, say.say("page", key), tuple(blocks)) for key, blocks in made]


def pictures(d: Document, say: Language) -> list[Block]:
    """Pictures of the displaced water, and of a cut through what fits best."""
    found = []
    expected, read = d.claim.would_displace_g if d.claim else None, pushed_aside(d)
    if d.claim and not d.claim.plated and expected and read:
        alt = say.say(
            "page",
            "alt_water",
            expected=water_words(*expected, say),
            piece=noun(d, say),
            read=grams(read[0]),
            span=water_words(*read[1:], say),
        )
        found.append(Picture("water", say.say("page", "figure_water"), alt, water_drawing(d, say)))
    unlike = may_be_filled(d) and d.first_system is None  # where a filling lies, and how much of it, is not known
    if not d.nothing_known and not unlike:
        body, layer, scale = section_words(d, say)
        alt = say.say("page", "alt_section", piece=noun(d, say), body=body, layer=layer)
        found.append(Picture("section", say.say("page", "figure_section", scale=scale), alt, section_drawing(d, say)))
    return [Pictures(tuple(found))] if found else []


def logo_of(settings: Settings) -> str:
    """The shop's logo as a data address, so that the page needs no other file."""
    file = settings.resolve(settings.page.logo)
    kind = LOGOS.get(Path(file).suffix.lower())
    if kind is None:
        raise InputError(
            "settings.page.logo",
            settings.page.logo,
            f"a file that ends in {', '.join(LOGOS)}",
            "choose another picture, or leave it out",
        )
    try:
        raw = file.read_bytes()
    except OSError as e:
        raise InputError("settings.page.logo", str(file), "a picture that can be read", "check the path") from e
    if len(raw) > MOST_LOGO:
        raise InputError("settings.page.logo", f"{len(raw)} bytes", f"at most {MOST_LOGO}", "choose a smaller picture")
    return f"data:{kind};base64,{base64.b64encode(raw).decode('ascii')}"
