"""A page as one HTML file that needs nothing else: no script, no network."""

from __future__ import annotations

import math
from html import escape

from ..figures.drawn import can_draw, picture_svg
from ..words.language import ENGLISH, page_language
from .parts import EXPERT, SELLER, Block, Code, Grid, Page, Paragraph, Picture, Pictures, Points, Section

# what a sheet holds, in letters of the seller's part times their size in points squared; measured with Chromium and
# the widest of the usual letters, DejaVu Sans
ROOM = {"A4": 255_000, "A5": 100_000, "Letter": 230_000}
SMALLEST, LARGEST = 6.0, 10.5  # points
PER_BLOCK = 50  # letters for which the end of a line takes room; a heading takes that of 60
PER_HEADING = 60
# a browser then refuses scripts and the network, whatever has got into the page
NOTHING_FROM_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
RIGHT_TO_LEFT = ("ar", "fa", "he", "ur", "yi")

STYLE = """
@page {{ size: {paper}; margin: 11mm 14mm }}
* {{ box-sizing: border-box }}
body {{ margin: 0; background: #fff; color: #111; font: {size}/1.38 system-ui, "Noto Sans", "DejaVu Sans", sans-serif }}
main {{ max-width: 180mm; margin: 0 auto; padding: 0 }}
header.shop {{ display: flex; justify-content: space-between; align-items: center; border-bottom: 1px solid #767676 }}
header.shop p {{ margin: 0 0 1mm; font-weight: 600 }}
header.shop img {{ max-height: 14mm; max-width: 50mm; margin-bottom: 1mm }}
h1 {{ font-size: 1.75em; line-height: 1.2; margin: .5em 0 .2em }}
h2 {{ font-size: 1.1em; line-height: 1.25; margin: .75em 0 .15em }}
h1, h2 {{ break-after: avoid }}
p, ul {{ margin: 0 0 .35em }}
ul {{ padding-inline-start: 1.2em }}
li {{ margin-bottom: .12em }}
.about {{ color: #333; overflow-wrap: anywhere }}
.result p:first-of-type {{ font-size: 1.15em; font-weight: 600 }}
.figures {{ display: flex; gap: 6mm; align-items: flex-end }}
figure {{ flex: 1 1 0; max-width: 48%; margin: .4em 0; break-inside: avoid }}
figure svg {{ display: block; width: 100%; height: auto }}
figcaption {{ font-size: .88em; color: #333 }}
.expert {{ break-before: page; font-size: .88em }}
@media screen {{ main {{ padding: 6mm 3mm }} .expert {{ border-top: 1px solid #767676; margin-top: 10mm }} }}
table {{ border-collapse: collapse; width: 100%; margin: .2em 0 .6em }}
caption {{ text-align: start; font-weight: 600 }}
th, td {{ border-bottom: 1px solid #bbb; padding: .1em .6em .1em 0; text-align: start; vertical-align: top }}
td {{ overflow-wrap: anywhere }}
tr, .expert section:last-of-type {{ break-inside: avoid }}
pre {{ white-space: pre-wrap; overflow-wrap: anywhere; background: #f3f3f3; padding: .5em; margin: .2em 0 .6em }}
pre {{ font: .92em/1.3 ui-monospace, "DejaVu Sans Mono", monospace }}
"""


def page_html(page: Page) -> str:
    """The page as HTML; every text is escaped."""
    mark = page_language(page.language).decimal_mark
    paper, size = page.paper.lower() if page.paper == "Letter" else page.paper, f"{letter_size(page):.1f}pt"
    direction = "rtl" if page.language.split("-")[0] in RIGHT_TO_LEFT else "ltr"
    lines = [
        "<!DOCTYPE html>",
        f'<html lang="{escape(page.language)}" dir="{direction}">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{NOTHING_FROM_OUTSIDE}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(': '.join([page.title, *page.about[:1]]))}</title>",
        f"<style>{STYLE.format(paper=paper, size=size)}</style>",
        "</head>",
        "<body>",
        "<main>",
        '<div class="seller">',
        *_shop(page),
        f"<h1>{escape(page.title)}</h1>",
        *(f'<p class="about">{escape(text)}</p>' for text in page.about),
        *(line for i, s in enumerate(page.of(SELLER)) for line in _section(s, mark, "result" if not i else "")),
        "</div>",
        f'<div class="expert" lang="{ENGLISH}">',
        f'<h1 lang="{escape(page.language)}">{escape(page.expert_title)}</h1>',
        *(line for s in page.of(EXPERT) for line in _section(s, ".")),
        "</div>",
        "</main>",
        "</body>",
        "</html>",
    ]
    return "\n".join(lines) + "\n"


def letter_size(page: Page) -> float:
    """Size of letters [pt] at which the part for the seller fills no more than one sheet."""
    sections = page.of(SELLER)
    texts = [block.text for s in sections for block in s.blocks if isinstance(block, Paragraph)]
    texts += [a + b for s in sections for block in s.blocks if isinstance(block, Points) for a, b in block.points]
    letters = PER_HEADING * len(sections) + sum(len(text) + PER_BLOCK for text in texts)
    return min(LARGEST, max(SMALLEST, math.sqrt(ROOM[page.paper] / max(letters, 1))))


def _shop(page: Page) -> list[str]:
    if not (page.header or page.logo):
        return []
    logo = f'<img src="{escape(page.logo)}" alt="">' if page.logo else ""
    return [f'<header class="shop"><p>{escape(page.header)}</p>{logo}</header>']


def _section(section: Section, decimal_mark: str, name: str = "") -> list[str]:
    head = f'<section class="{name}">' if name else "<section>"
    return [
        head,
        f"<h2>{escape(section.heading)}</h2>",
        *(_block(b, decimal_mark) for b in section.blocks),
        "</section>",
    ]


def _block(block: Block, decimal_mark: str) -> str:
    match block:
        case Paragraph(text):
            return f"<p>{escape(text)}</p>"
        case Points(points):
            return "\n".join(["<ul>", *(f"<li>{_lead(lead)}{escape(text)}</li>" for lead, text in points), "</ul>"])
        case Code(text):
            return f"<pre><code>{escape(text)}</code></pre>"
        case Pictures(pictures):
            shown = [_figure(picture, decimal_mark) for picture in pictures] if can_draw() else []
            return "\n".join(['<div class="figures">', *shown, "</div>"]) if shown else ""
        case Grid():
            return _grid(block)


def _lead(text: str) -> str:
    return f"<strong>{escape(text)}</strong> " if text else ""


def _grid(grid: Grid) -> str:
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in grid.head)
    rows = ["<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in grid.rows]
    title = f"<caption>{escape(grid.title)}</caption>" if grid.title else ""
    return "\n".join([f"<table>{title}<thead><tr>{head}</tr></thead>", "<tbody>", *rows, "</tbody></table>"])


def _figure(picture: Picture, decimal_mark: str) -> str:
    """An SVG element of our own making, with its alternative text."""
    svg = picture_svg(picture.name, picture.drawing, decimal_mark).replace(
        "<svg ", f'<svg role="img" aria-label="{escape(picture.alt)}" ', 1
    )
    return f"<figure>\n{svg}\n<figcaption>{escape(picture.caption)}</figcaption>\n</figure>"
