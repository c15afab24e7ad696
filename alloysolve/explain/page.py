"""The explanation of a test for the person who brought the piece: one page, and what an expert needs to check it."""

from __future__ import annotations

import base64
import json
from pathlib import Path

from ..errors import InputError
from ..inverse.document import document
from ..inverse.settings import Settings
from ..inverse.solve import Solution
from ..inverse.verdict import NOT_CONTRADICTED
from .findings import blamed
from .language import Language, language
from .page_expert import expert_sections
from .page_html import page_html
from .page_parts import SELLER, Block, Page, Paragraph, Picture, Pictures, Points, Section
from .page_readings import change_lines, reading_rows
from .page_text import page_text
from .page_words import (
    about_lines,
    alike_note,
    blind_lines,
    code_of,
    likely_rows,
    misread_words,
    not_this_lines,
    noun,
    paragraph,
    precious_lines,
    sentence,
    something_else,
    undone_lines,
)
from .words import grams

__all__ = ["Page", "page_html", "page_json", "page_of", "page_text", "paragraph", "sentence"]

LOGOS = {".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".svg": "image/svg+xml"}
MOST_LOGO = 1_000_000  # bytes


def page_of(s: Solution, day: str = "", logo_anyway: bool = False) -> Page:
    """The explanation of one answer.

    Parameters
    ----------
    day : when it was tested, in words; left out: a line to write it on.
    logo_anyway : show the shop's logo also where nothing speaks against the claim; it is left out there so that the
        page does not look like more than it is.

    Raises
    ------
    InputError
        For a logo that cannot be read.
    """
    say = language(s.settings.answers.language)
    with_logo = s.settings.page.logo and (logo_anyway or code_of(s) != NOT_CONTRADICTED)
    return Page(
        say.code, s.settings.answers.paper, say.say("page", "title"), say.say("page", "expert"),
        tuple(about_lines(s, say, day)), s.settings.page.header, logo_of(s.settings) if with_logo else "",
        (*seller_sections(s, say), *expert_sections(s, say)),
    )  # fmt: skip


def page_json(s: Solution, page: Page) -> str:
    """The page with the whole answer it was made from; `Page.from_dict` of it gives the same page."""
    return json.dumps({**page.to_dict(), "solution": document(s)}, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def seller_sections(s: Solution, say: Language) -> list[Section]:
    """What the seller reads, in the order in which it is asked.

    Where nothing speaks against the claim, what the readings cannot show comes second.
    """
    rows = likely_rows(s, say)
    change = change_lines(s, say, misread_words(s, say), blamed(s))
    made: list[tuple[str, list[Block]]] = [("result", [Paragraph(paragraph(s, say))])]
    if code_of(s) == NOT_CONTRADICTED:
        made.append(("blind", [Paragraph(" ".join(blind_lines(s, say)))]))
    made += [
        ("how", [Points(tuple(reading_rows(s, say))), *pictures(s, say)]),
        ("likely", [Points(tuple(rows)), *map(Paragraph, alike_note(rows, say))]),
        ("precious", [Paragraph(" ".join(precious_lines(s, say)))]),
        ("change", [Paragraph(" ".join(change))]),
        ("undone", [Paragraph(" ".join(undone_lines(s, say)))]),
        ("not_this", [Paragraph(" ".join(not_this_lines(s, say)))]),
    ]
    return [Section(SELLER, say.say("page", key), tuple(blocks)) for key, blocks in made]


def pictures(s: Solution, say: Language) -> list[Block]:
    """The water that was pushed aside, and a cut through what fits best; without matplotlib a line that says so."""
    from importlib.util import find_spec

    if find_spec("matplotlib") is None:
        return [Paragraph(say.say("page", "no_pictures"))]
    from .figures import pushed_aside, section, section_words, svg, water

    found = []
    expected, read = s.advice.claim_displaced_g, pushed_aside(s)
    if s.claim and not s.claim.plated and expected and read:
        words = dict(zip(("read", "low", "high"), map(grams, read), strict=True))
        low, high = (f"{x:.2f}" for x in expected)
        claimed = grams(expected[0]) if low == high else say.say("page", "a_span", low=low, high=f"{high} g")
        alt = say.say("page", "alt_water", expected=claimed, piece=noun(s, say), **words)
        found.append(Picture("water", say.say("page", "figure_water"), alt, svg(water(s, say), "water")))
    if not something_else(s):
        body, layer, scale = section_words(s, say)
        alt = say.say("page", "alt_section", piece=noun(s, say), body=body, layer=layer)
        caption = say.say("page", "figure_section", scale=scale)
        found.append(Picture("section", caption, alt, svg(section(s, say), "section")))
    return [Pictures(tuple(found))] if found else []


def logo_of(settings: Settings) -> str:
    """The shop's logo as a data address, so that the page needs no other file."""
    file = settings.resolve(settings.page.logo)
    kind = LOGOS.get(Path(file).suffix.lower())
    if kind is None:
        raise InputError("settings.page.logo", settings.page.logo, f"a file that ends in {', '.join(LOGOS)}",
                         "choose another picture, or leave it out")  # fmt: skip
    try:
        raw = file.read_bytes()
    except OSError as e:
        raise InputError("settings.page.logo", str(file), "a picture that can be read", "check the path") from e
    if len(raw) > MOST_LOGO:
        raise InputError("settings.page.logo", f"{len(raw)} bytes", f"at most {MOST_LOGO}", "choose a smaller picture")
    return f"data:{kind};base64,{base64.b64encode(raw).decode('ascii')}"
