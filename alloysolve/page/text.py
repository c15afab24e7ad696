"""A page as plain text that is valid Markdown."""

from __future__ import annotations

import re
import textwrap

from .parts import EXPERT, SELLER, Block, Code, Grid, Page, Paragraph, Pictures, Points, Section

WIDTH = 80
MEANT = re.compile(r"([\\`*_\[\]<>#|&~])")  # characters that Markdown would not read as text


def page_text(page: Page) -> str:
    """The page as text; a picture is replaced by what it shows in words."""
    head = [_plain(page.header)] if page.header else []
    blocks = [
        *head,
        _heading(page.title, 1),
        *(_filled(_plain(text)) for text in page.about),
        *(text for s in page.of(SELLER) for text in _section(s)),
        _heading(page.expert_title, 1),
        *(text for s in page.of(EXPERT) for text in _section(s)),
    ]
    return "\n\n".join(text for text in blocks if text) + "\n"


def _plain(text: str) -> str:
    """Text escaped so that Markdown shows it unchanged."""
    return MEANT.sub(r"\\\1", re.sub(r"\s+", _one_space, text.strip()))


def _one_space(gap: re.Match[str]) -> str:
    """A space; one that keeps two words together stays, as inside French quotation marks."""
    return gap[0] if gap[0] == "\u00a0" else " "


def _filled(text: str, first: str = "", then: str = "") -> str:
    """Text filled into lines, none of which begins like a list, a heading or a rule."""
    lines = textwrap.wrap(text, WIDTH - len(then), break_long_words=False, break_on_hyphens=False)
    return "\n".join((then if i else first) + _begun(line, i > 0) for i, line in enumerate(lines))


def _begun(line: str, within: bool) -> str:
    """A line that begins as text; within a paragraph, only a list that starts at 1 would interrupt it."""
    line = re.sub(r"^([-+=])(?=\s|$|[-=]+\s*$)", r"\\\1", line)
    return re.sub(rf"^({1 if within else '[0-9]+'})([.)])(?=\s|$)", r"\1\\\2", line)


def _heading(text: str, level: int) -> str:
    return f"{'#' * level} {_plain(text)}"


def _section(section: Section) -> list[str]:
    return [_heading(section.heading, 2), *map(_block, section.blocks)]


def _block(block: Block) -> str:
    match block:
        case Paragraph(text):
            return _filled(_plain(text))
        case Points(points):
            return "\n".join(_point(lead, text) for lead, text in points)
        case Code(text):
            return textwrap.indent(text, "    ", lambda line: True)
        case Pictures(pictures):
            return "\n".join(_point(p.caption, p.alt) for p in pictures)
        case Grid():
            return _grid(block)


def _point(lead: str, text: str) -> str:
    return _filled(f"**{_plain(lead)}** {_plain(text)}" if lead else _plain(text), "- ", "  ")


def _grid(grid: Grid) -> str:
    """A table in the usual extension of Markdown, under its title."""
    rows = [[_plain(cell) for cell in row] for row in (grid.head, *grid.rows)]
    lines = ["| " + " | ".join(row) + " |" for row in rows]
    lines.insert(1, "|" + " --- |" * len(grid.head))
    title = f"**{_plain(grid.title)}**\n\n" if grid.title else ""
    return title + "\n".join(lines)
