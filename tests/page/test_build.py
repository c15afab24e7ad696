"""The page for the seller: its words, its structure, what it lets in and what it lets out."""

from __future__ import annotations

import json
import re
import tomllib
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from importlib import import_module
from pathlib import Path

import pytest

import alloysolve.page.build as pages
import alloysolve.page.html as html_of
from alloysolve.answer.solution import solve
from alloysolve.errors import InputError
from alloysolve.figures.drawn import picture_svg
from alloysolve.inputs.piece import Piece, read_piece
from alloysolve.inputs.settings import Settings, find_settings
from alloysolve.page.build import (
    Page,
    page_html,
    page_json,
    page_of,
    page_text,
    paragraph,
    sentence,
    with_shop,
)
from alloysolve.page.parts import EXPERT, SELLER, Code, Paragraph, Pictures, Points
from alloysolve.words.findings import caveats
from tests.solved import EVERY, EXAMPLES, html, page, solved
from tests.words.test_language import FILE, FROM_DATA, made_up

CONTRADICTED, UNDECIDED, NOT_CONTRADICTED = "0117-silver-bar", "0120-ring", "0124-good-bar"
FORBIDDEN = re.compile(
    r"\b(fake|counterfeit|forged|fraud|genuine|authentic|real|certified|certificate|guarantee[ds]?|decision|"
    r"fail(s|ed|ure)?|pass(es|ed)?)\b",
    re.IGNORECASE,
)
ASSAY = re.compile(r"(?<!not an )(?<!no )\bassay\b(?! office)", re.IGNORECASE)
JARGON = (
    "posterior",
    "prior",
    "likelihood",
    "iacs",
    "sigma",
    "uncertainty",
    "eddy",
    "resistivity",
    "conductivity",
    "density",
    "candidate",
    "homogeneous",
    "probability",
    "misfit",
    "g/cm3",
    " um ",
    "plausible",
)
SCRIPT = "<script>alert(1)</script>"
LIKELY = "What it probably is"
HEADINGS = [
    "The result",
    "How we know",
    LIKELY,
    "Precious metal in it",
    "What could change this",
    "What the readings need",
    "What this page is not",
]


def texts(made: Page, part: str = SELLER) -> list[str]:
    """Every paragraph and point of one part."""
    out: list[str] = []
    for section in made.of(part):
        for block in section.blocks:
            if isinstance(block, Paragraph):
                out.append(block.text)
            elif isinstance(block, Points):
                out += [f"{lead} {text}" for lead, text in block.points]
            elif isinstance(block, Pictures):
                out += [t for p in block.pictures for t in (p.caption, p.alt)]
    return out


class Reader(HTMLParser):
    """Reads HTML strictly: every element that must be closed is, in order."""

    EMPTY = ("meta", "img")

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[tuple[str, str]] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if data.strip() and "style" not in self.open:
            self.words.append((self.open[-1] if self.open else "", data.strip()))

    def of(self, tag: str) -> list[str]:
        return [text for where, text in self.words if where == tag]


@pytest.mark.parametrize("name", EVERY)
def test_every_example_makes_a_page_in_plain_short_sentences(name: str) -> None:
    made = page(name)
    headings = [s.heading for s in made.of(SELLER)]
    assert [h for h in headings if h != "What our readings cannot show"] == [
        "What it may be" if h == LIKELY and solved(name).document.code == "undecided" else h for h in HEADINGS
    ]
    said = texts(made)
    for text in said:
        for one in re.split(r"(?<=[.:;?])\s+(?=[A-Z])", text):
            assert len(one.split()) <= 25, one
        assert not [word for word in JARGON if word in f" {text.lower()} "], text
    assert len(re.findall(r"\d+(?:[.,]\d+)?", said[0])) <= 3, said[0]
    assert said[0] == paragraph(solved(name).document, made_language())
    assert said[0].startswith(sentence(solved(name).document, made_language()))


@pytest.mark.parametrize("name", EVERY)
def test_the_chance_of_the_claim_stands_once(name: str) -> None:
    """Nothing is said twice of it; plated and clad claims have their row like all others."""
    (points,) = (
        b for x in page(name).of(SELLER) if x.heading.startswith("What it") for b in x.blocks if isinstance(b, Points)
    )
    rows = [lead for lead, text in points.points if text.startswith("as claimed")]
    assert len(rows) == (0 if solved(name).claim is None else 1)
    if solved(name).document.code == "contradicted" and solved(name).share_as_claimed < 0.01:
        assert rows == ["Under 1 in 100:"]


def made_language() -> pages.Language:
    return pages.language("en")


@pytest.mark.parametrize("name", EVERY)
def test_words_that_never_appear_and_where_assay_may(name: str) -> None:
    for text in (html(name), page_text(page(name))):
        words = re.sub(r"<svg.*?</svg>|<style.*?</style>", "", text, flags=re.DOTALL)
        assert FORBIDDEN.search(words) is None, FORBIDDEN.search(words)
        assert ASSAY.search(" ".join(words.split())) is None


def test_the_words_that_never_appear_would_be_found() -> None:
    assert FORBIDDEN.search("it is real silver")
    assert not FORBIDDEN.search("really, a realm of passengers")
    assert ASSAY.search("an assay of it")
    assert not ASSAY.search("It is not an assay; an assay office can.")


def test_three_lengths_and_the_result_of_each_kind() -> None:
    said = {name: texts(page(name))[0] for name in (CONTRADICTED, UNDECIDED, NOT_CONTRADICTED)}
    assert said[CONTRADICTED].startswith('What we measured speaks against "silver 999". Hung in water, it pushed')
    assert "brass" in said[CONTRADICTED]
    assert said[UNDECIDED].startswith('Our readings cannot decide on "18 ct".')
    assert said[NOT_CONTRADICTED].startswith('Nothing we measured speaks against "silver 999 100 g".')
    assert sentence(solved(CONTRADICTED).document, made_language()) == 'What we measured speaks against "silver 999".'


@pytest.mark.parametrize(
    ("name", "told"),
    [
        (CONTRADICTED, "weighs 31.18 g. Hung in water, it pushed aside 3.63 g of water"),
        # silver (10.49 to 10.50 g/cm3, handbooks) in water of 21 degC (0.998 g/cm3)
        (CONTRADICTED, "of this weight would push aside 2.96 g"),
        ("0128-box-lid", "reaches about 0.025 mm deep. It tells about the outside, not about the middle."),
    ],
)
def test_readings_are_told_in_grams_of_water_and_plain_depth(name: str, told: str) -> None:
    assert told in " ".join(texts(page(name)))


@pytest.mark.parametrize("name", EVERY)
def test_the_limits_come_second_only_where_nothing_speaks_against_the_claim(name: str) -> None:
    s, headings = solved(name), [x.heading for x in page(name).of(SELLER)]
    agreed = s.decision is not None and s.decision.code == "not contradicted"
    assert (headings[1] == "What our readings cannot show") is agreed
    if agreed:
        second = texts(page(name))[1]
        assert second.startswith("These readings would not have shown ")
        lowest = s.advice.would_show_below
        assert f"Less than {lowest:.0f} parts in a thousand, alloyed the same way, would have shown" in second


def test_what_the_readings_need_is_said_only_as_far_as_they_say_it() -> None:
    given = {"claim": "silver 925", "mass": "10 g", "displaced": "0.97 g"}
    plain = page_of(solve(Piece(**given), Settings()).document)
    marked = page_of(solve(Piece(**given, acid="as silver"), Settings()).document)
    dry = page_of(solve(Piece(claim="silver 925", density="10.3 g/cm3"), Settings()).document)
    said = " ".join(texts(plain))
    assert "No reading on this page needs filing, cutting, heating or acid. The piece was wetted" in said
    assert "wetted" not in " ".join(texts(dry))
    said = " ".join(texts(marked))
    assert "heating or acid" not in said
    assert "The acid was put on the streak" in said


def test_no_claim_and_something_else_have_pages_too() -> None:
    bare = texts(page_of(solve(Piece(density="8.53 g/cm3"), Settings()).document))
    assert bare[0].startswith("Nothing was said about what this piece is")
    odd = page_of(
        solve(Piece(claim="silver 999", mass="21 g", displaced="1 g", conductivity="9 %IACS"), Settings()).document
    )
    assert texts(odd)[0].startswith("What we measured speaks against")


@pytest.mark.parametrize("name", EVERY)
def test_the_html_is_whole_and_stands_alone(name: str) -> None:
    whole = html(name)
    read = Reader(whole)
    tags = [tag for tag, _ in read.tags]
    assert not {"script", "link", "iframe", "object", "form", "input"} & set(tags)
    outside = re.sub(r'\sxmlns(:\w+)?="[^"]*"', "", whole)
    assert "://" not in outside
    assert "url(" not in re.sub(r"url\(#", "", outside)
    assert "@import" not in outside
    attributes = dict(read.tags)
    assert attributes["html"]["lang"] == "en"
    assert "size: A4" in whole
    ids = [a["id"] for _, a in read.tags if "id" in a]
    assert len(ids) == len(set(ids))
    targets = re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', whole)
    assert {a or b for a, b in targets} <= set(ids)
    for tag, values in read.tags:
        assert tag != "svg" or (values["role"] == "img" and values["aria-label"])
        assert not any(key.startswith("on") for key in values)
    assert [int(tag[1]) for tag in tags if re.fullmatch("h[1-6]", tag)][:2] == [1, 2]
    assert read.of("h1") == ["Explanation of a test", "For an expert"]


def test_the_page_shows_two_figures_that_are_valid_svg() -> None:
    found = [b for s in page(CONTRADICTED).of(SELLER) for b in s.blocks if isinstance(b, Pictures)]
    assert [p.name for p in found[0].pictures] == ["water", "section"]
    for picture in found[0].pictures:
        svg = picture_svg(picture.name, picture.drawing)
        assert ET.fromstring(svg).tag == "{http://www.w3.org/2000/svg}svg"
        assert "<image" not in svg
        assert "metadata" not in svg
    assert "2.96 g" in found[0].pictures[0].alt
    assert "3.63 g" in found[0].pictures[0].alt


def test_without_matplotlib_a_page_has_no_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(html_of, "can_draw", lambda: False)
    html = page_html(page_of(solved(CONTRADICTED).document))
    assert "<svg" not in html
    assert "matplotlib" not in html.split('class="expert"')[0]


def test_what_comes_from_people_is_escaped_everywhere() -> None:
    note = f"a & b *c* [d](e) {SCRIPT}"
    s = solve(
        Piece(
            claim="silver 999",
            mass="31.18 g",
            displaced="3.64 g",
            name=SCRIPT,
            note=note,
            reading=[{"kind": "magnet", "value": "none", "place": SCRIPT}],
        ),
        Settings(),
    )
    made = page_of(s.document)
    html = page_html(made)
    assert "script" not in [tag for tag, _ in Reader(html).tags]
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html
    markdown = pytest.importorskip("markdown_it")
    shown = markdown.MarkdownIt("commonmark").enable("table").render(page_text(made))
    assert "<script" not in shown
    assert "<em>c</em>" not in shown
    assert "<a " not in shown
    assert "a &amp; b *c* [d](e)" in " ".join(shown.split())


@pytest.mark.parametrize("name", ["خاتم جدتي", "祖母の指輪"])
def test_names_in_other_scripts(name: str) -> None:
    made = page_of(solve(Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g", name=name), Settings()).document)
    for text in (page_html(made), page_text(made), page_json(solved(CONTRADICTED).document, made)):
        assert name in text
    runs_left = name.startswith("خ")
    assert (f"\u2068{name}\u2069" in made.about[0]) is runs_left


def test_a_huge_note_leaves_the_first_page_alone_and_stands_whole_in_the_second() -> None:
    note = "word " * 4000
    made = page_of(solve(Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g", note=note), Settings()).document)
    assert max(map(len, made.about)) < 200
    assert note.strip() in page_html(made)


@pytest.mark.parametrize("name", EVERY)
def test_the_text_is_markdown_with_the_same_sections(name: str) -> None:
    markdown = pytest.importorskip("markdown_it")
    made, text = page(name), page_text(page(name))
    shown = Reader(markdown.MarkdownIt("commonmark").enable("table").render(text))
    assert shown.of("h1") == [made.title, made.expert_title]
    assert shown.of("h2") == [s.heading for s in made.sections]
    assert [tag for tag, _ in shown.tags].count("table") == html(name).count("<table>")
    assert [tag for tag, _ in shown.tags].count("pre") == html(name).count("<pre>")
    assert "ol" not in [tag for tag, _ in shown.tags]
    assert max(len(line) for line in text.split("# For an expert")[0].splitlines()) <= 80


def test_the_expert_finds_inputs_budget_settings_hashes_prior_version_and_the_command() -> None:
    said = html(CONTRADICTED)
    s = solved(CONTRADICTED)
    for shown in (
        "31.18 g",
        "29.3 %IACS",
        "scale step, tare and reading",
        "scale.thread",
        *s.tables.hashes().values(),
        json.loads(s.to_json())["prior"]["sha256"],
        json.loads(s.to_json())["version"],
        "alloysolve page piece.json --settings settings.json --prior default",
    ):
        assert shown in said, shown
    before = said.index('<div class="expert"')
    assert said.index(next(iter(s.tables.hashes().values()))) > before
    assert ".expert { break-before: page" in said


def test_a_doubtful_value_of_a_table_is_told_to_the_expert() -> None:
    """metals.csv says of some metals what is doubtful about their density."""
    s = next(s for s in map(solved, EVERY) if caveats(s.document, made_language()))
    (line, *_) = caveats(s.document, made_language())
    assert line in [b.text for x in page_of(s.document).of(EXPERT) for b in x.blocks if isinstance(b, Paragraph)]


def test_the_same_answer_gives_the_same_bytes_and_json_gives_the_page_back() -> None:
    again = page_of(
        solve(read_piece(EXAMPLES / f"{CONTRADICTED}.toml"), find_settings(EXAMPLES / "counter.toml")).document
    )
    assert page_html(again).encode() == html(CONTRADICTED).encode()
    stored = json.loads(page_json(solved(CONTRADICTED).document, again))
    assert Page.from_dict(stored) == again
    assert stored["solution"] == json.loads(solved(CONTRADICTED).to_json())


@pytest.mark.parametrize("section", ["page", "blind"])
def test_every_sentence_a_page_could_say_is_plain_and_short(section: str) -> None:
    """Those that no example brings up too; a placeholder counts as one word."""
    rows = tomllib.loads(FILE.read_text(encoding="utf-8"))[section]
    expert = set(list(rows)[list(rows).index("expert") :]) if section == "page" else set()
    for key, text in rows.items():
        assert FORBIDDEN.search(text) is None, key
        assert ASSAY.search(text) is None, key
        for one in re.split(r"(?<=[.:;])\s+", text):
            assert len(one.split()) <= 25, (key, one)
        plain = key.startswith(("title_", "said_", "help_")) or (key not in expert and not key.startswith("figure_"))
        words = f" {text.lower()} "
        assert not plain or not [j for j in JARGON if j in words], key


MODULES = {
    "candidates": "candidate_bars",
    "density_map": "density_plane",
    "skin_and_core": "skin_bars",
    "section": "cross_section",
    "water": "water_bars",
    "ternary": "triangle",
}


@pytest.mark.parametrize(
    ("name", "piece"),
    [
        (name, piece)
        for name in MODULES
        for piece in ("0117-silver-bar", "0122-chain", "0128-box-lid")
        if piece != "0128-box-lid" or name not in ("candidates", "density_map")  # these weigh it anew, for 10 s
    ],
)
def test_no_word_of_a_figure_stands_in_code(name: str, piece: str) -> None:
    """In a language of one letter every word drawn is that letter, a number or a name of the tables."""
    draw = getattr(import_module(f"alloysolve.figures.{MODULES[name]}"), name)
    ax = draw(solved(piece), made_up())
    legend = ax.get_legend()
    drawn = [*ax.texts, *ax.get_yticklabels(), *(legend.get_texts() if legend else [])]
    said = [ax.get_xlabel(), ax.get_ylabel(), *(t.get_text() for t in drawn)]
    text = FROM_DATA.sub(" ", " ".join(said).lower())
    for known in sorted(
        (f.words.lower() for f in solved(piece).tables.families.values() if f.words), key=len, reverse=True
    ):
        text = text.replace(known, " ")
    words = set(re.findall(r"[a-z]{2,}", text)) - {m.lower() for m in solved(piece).tables.metals}
    assert {w for w in words if set(w) != {"q"}} <= {"mathdefault"}, words


@pytest.mark.parametrize("name", EVERY)
def test_no_sentence_of_a_page_stands_in_code(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pages, "language", made_up)
    monkeypatch.setattr(pages, "page_language", lambda code: made_up())
    s = solved(name)
    made = page_of(s.document)
    text = " ".join(
        [
            made.title,
            made.expert_title,
            *made.about,
            *(x.heading for x in made.sections),
            *texts(made),
            *(x for x in texts(made, EXPERT) if "SHA" not in x),
        ]
    ).lower()
    known = [
        s.piece.claim,
        s.piece.name,
        s.piece.note,
        *(r.place for r in s.piece.readings),
        *(p.text.replace("carat", "ct") for p in s.piece.parts),
        *(f.words for f in s.tables.families.values()),
        *(r.words for r in s.tables.rows("skins")),
        *((s.claim.coin.coin, s.claim.coin.issuer) if s.claim and s.claim.coin else ()),
        *(m.caveat.rstrip(".") for m in s.tables.metals.values()),
        *(a["construction"] for a in json.loads(s.to_json())["candidates"]),
    ]
    for one in sorted((k.lower() for k in known if k), key=len, reverse=True):
        text = text.replace(one, " ")
    words = set(re.findall(r"[a-z]{2,}", FROM_DATA.sub(" ", text)))
    words -= {symbol.lower() for symbol in s.tables.metals} | {"sha", "default", "checkout"}
    words -= {w for w in words if re.fullmatch(r"[0-9a-f]+", w)}
    assert not words, (name, words)


def settings_with_logo(folder: Path, logo: str) -> Settings:
    file = folder / "shop.toml"
    file.write_text(f'[page]\nheader = "Counter <b>"\nlogo = "{logo}"\n', encoding="utf-8")
    return find_settings(file)


def test_the_logo_is_inside_the_page_but_not_where_nothing_speaks_against_the_claim(tmp_path: Path) -> None:
    (tmp_path / "logo.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    shop = settings_with_logo(tmp_path, "logo.png")
    bad = solve(read_piece(EXAMPLES / f"{CONTRADICTED}.toml"), shop)
    html = page_html(with_shop(page_of(bad.document), shop, "contradicted"))
    assert 'src="data:image/png;base64,iVBORw0KGgo="' in html
    assert "Counter &lt;b&gt;" in html
    good = solve(read_piece(EXAMPLES / f"{NOT_CONTRADICTED}.toml"), shop)
    assert "<img" not in page_html(with_shop(page_of(good.document), shop, "not contradicted"))
    assert "<img" in page_html(with_shop(page_of(good.document), shop, "not contradicted", logo_anyway=True))


@pytest.mark.parametrize("logo", ["absent.png", "shop.toml"])
def test_a_logo_that_cannot_be_used_is_an_error(tmp_path: Path, logo: str) -> None:
    shop = settings_with_logo(tmp_path, logo)
    with pytest.raises(InputError, match=r"settings\.page\.logo"):
        with_shop(page(CONTRADICTED), shop, "contradicted")


def test_code_of_the_expert_part_is_plain_ascii() -> None:
    made = page_of(
        solve(Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g", name="祖母"), Settings()).document
    )
    codes = [b.text for s in made.of(EXPERT) for b in s.blocks if isinstance(b, Code)]
    assert len(codes) == 3
    assert json.loads(codes[0])["name"] == "祖母"
    assert all(code.isascii() for code in codes)


def seller_text(code: str, **piece: object) -> str:
    """The first sheet of a piece as text."""
    made = page_of(solve(Piece.from_dict(piece), Settings()).document, code=code)
    return " ".join(page_text(made).partition(f"# {made.expert_title}")[0].split())


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("en", "Stones and fittings are allowed for: diamond 0.50 ct."),
        ("de", "Steine und andere Teile sind dabei berücksichtigt: Diamant 0,50 ct."),
        ("fr", "Les pierres et autres pièces sont prises en compte : diamant 0,50 ct."),
        ("es", "Se tienen en cuenta las piedras y otras partes: diamante 0,50 ct."),
    ],
)
def test_a_stone_that_is_allowed_for_is_named(code: str, said: str) -> None:
    made = page_of(solved("0127-ring-with-stone").document, code=code)
    assert said in " ".join(page_text(made).split())


def test_ware_that_may_be_filled_is_not_compared_with_solid_metal_nor_drawn_solid() -> None:
    piece = {"claim": "weighted sterling candlestick", "mass": "412 g", "displaced": "180 g"}
    text = seller_text("en", **piece)
    assert "often filled with pitch" in text
    assert "Solid" not in text
    assert "A cut through" not in text
    assert "Solid" in seller_text("en", **piece | {"claim": "sterling spoon"})


def test_a_coin_type_is_compared_by_what_was_measured_and_the_nearest_is_named() -> None:
    coin = seller_text("de", claim="US silver dollar 1921", mass="26.7 g", displaced="2.59 g")
    assert "Gewicht: 26,7 g (Soll 26,73 g)." in coin  # 412.5 grains, the law of 1878
    assert "Maße" not in coin
    assert "angegeben als US-Silberdollar 1921 (1 Dollar, Silber, Vereinigte Staaten)." in coin


def test_a_coin_that_is_called_by_all_of_its_name_is_named_once() -> None:
    coin = seller_text("fr", claim="France 20 francs gold", mass="6.44 g", displaced="0.37 g")
    assert "annoncé comme 20 francs en or, France." in coin
    assert "Frankreich 20 Francs, Gold" in seller_text("de", mass="6.45 g", displaced="0.375 g", magnet="none")


def test_a_strong_magnet_is_told_of_its_place() -> None:
    text = seller_text("de", claim="18 ct chain", mass="12.4 g", displaced="0.81 g", magnet="strong at clasp")
    assert "Magnet, Verschluss.** An dieser Stelle wird ein Magnet stark angezogen." in text
