"""The sheet for the seller in other languages than English: whole, with the same gaps to fill."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from string import Formatter
from typing import Any

import pytest

from alloysolve.answer.solution import solve
from alloysolve.figures.drawn import picture_svg
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.page import build as pages
from alloysolve.page.parts import SELLER, Page, Paragraph, Pictures, Points
from alloysolve.published.load import default_tables
from alloysolve.readings.registry import KINDS
from alloysolve.words import language as module
from alloysolve.words.language import Language, language, page_language
from alloysolve.words.numbers import both, either
from tests.solved import EVERY, once, piece_of

FOLDER = Path(module.__file__).parent
FILES = {f.stem: tomllib.loads(f.read_text(encoding="utf-8")) for f in sorted(FOLDER.glob("*.toml"))}
ENGLISH = FILES["en"]
OTHERS = [code for code in FILES if code != "en"]
OF_ITS_OWN = ("called", "typed", "meeting")  # sections that English has not
OF_OTHER_FIGURES = {
    f"figure_{what}" for what in ("density", "read", "conductivity", "core", "thickness", "skin", "percent")
}
# what a sentence may also name, whatever English says: why something speaks against the claim may quote the claim
MAY_NAME = {"why": {"claim"}}
# what an English sheet may share with another: units, and what has the same name in both
SHARED = {"g", "mm", "x", "ct"}
FORBIDDEN = {
    "de": r"\becht|fälsch|gefälscht|betrug|garantier",
    "es": r"fals[oae]|falsific|auténtic|genuin|fraud|garantiz",
    "fr": r"\bfaux|\bfauss|contrefa|authenti|fraud|garanti[er]",
}


def gaps(template: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(template) if name}


def of_the_sheet() -> dict[str, set[str]]:
    """Keys of English that the first sheet may use."""
    page = list(ENGLISH["page"])
    keys = {"page": set(page[: page.index("inputs")]) - {"anew", "anew_stands"} - OF_OTHER_FIGURES}
    keys |= {section: set(ENGLISH[section]) for section in ("form", "blind", "care", "page_open", "metal", "coins")}
    for kind in {"weighing", "density", "dimensions", *KINDS}:
        keys[kind] = set(ENGLISH[kind]) - {"name", "name_elsewhere", "name_next", "would", "change"}
    keys["weigh"] = {key for key in ENGLISH["weigh"] if re.fullmatch(r"repeats_(disagree|odd|left_out)", key)}
    keys["note"], keys["water"] = {"less_fine"}, {"liquid_water", "liquid_other"}
    chances = {"over_99", "half", "in_ten", "in_twenty", "in_fifty", "one_in"}
    keys["table"] = {"something_else"} | chances
    return keys


@pytest.mark.parametrize("code", OTHERS)
def test_a_language_has_every_sentence_of_the_sheet_with_the_same_gaps(code: str) -> None:
    own = FILES[code]
    for section, keys in of_the_sheet().items():
        assert keys <= set(own.get(section, {})), (section, keys - set(own.get(section, {})))
    for section, rows in own.items():
        if section not in OF_ITS_OWN:
            assert set(rows) <= set(ENGLISH[section]), section
            for key, text in rows.items():
                assert gaps(text) <= gaps(ENGLISH[section][key]) | MAY_NAME.get(key.partition("_")[0], set()), key


def test_all_languages_have_the_same_sentences() -> None:
    keys = [{(s, k) for s, rows in FILES[c].items() if s not in ("typed", "meeting") for k in rows} for c in OTHERS]
    assert all(k == keys[0] for k in keys)


@pytest.mark.parametrize("code", OTHERS)
def test_whatever_the_tables_name_has_a_name(code: str) -> None:
    tables = default_tables()
    words = {f.words for f in tables.families.values() if f.words} | {r.words for r in tables.rows("skins") if r.words}
    named = set(FILES[code]["called"]) | set(ENGLISH["metal"].values())
    assert words <= named, words - named


@pytest.mark.parametrize("code", OTHERS)
def test_nothing_accuses_and_nothing_promises(code: str) -> None:
    said = " ".join(text for rows in FILES[code].values() for text in rows.values()).lower()
    assert not re.search(FORBIDDEN[code], said.replace("bureau de garantie", "")), code


def sheet(made: Page, own_words: set[str]) -> list[str]:
    """The words and numbers of the first sheet, without those of the piece."""
    out = [made.title, *made.about]
    for section in made.of(SELLER):
        out.append(section.heading)
        for block in section.blocks:
            if isinstance(block, Paragraph):
                out.append(block.text)
            elif isinstance(block, Points):
                out += [f"{lead} {text}" for lead, text in block.points]
            elif isinstance(block, Pictures):
                out += [f"{p.caption} {p.alt}" for p in block.pictures]
    text = " ".join(out)
    for own in sorted(own_words, key=len, reverse=True):
        text = text.replace(own, " ")
    return re.findall(r"[^\W\d_]+|\d[\d.,]*\d|\d", text)


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("example", EVERY)
def test_no_english_is_left_on_the_sheet_of_an_example(code: str, example: str, monkeypatch: Any) -> None:
    used: set[tuple[str, str]] = set()
    say = Language.say
    monkeypatch.setattr(pages, "expert_sections", lambda d, say, code: [])

    def noted(self: Language, section: str, key: str, /, **values: Any) -> str:
        used.add((section, key))
        return say(self, section, key, **values)

    monkeypatch.setattr(Language, "say", noted)
    piece = piece_of(example)
    d = once(piece, Settings()).document
    own_words = {piece.name, piece.note, *([d.claim.text] if d.claim and d.claim.coin else [])} - {""}
    english, other = (sheet(pages.page_of(d, "2026-03-12", c), own_words) for c in ("en", code))
    assert {(s, k) for s, k in used if k not in FILES[code].get(s, {})} == set()
    known = {w for rows in FILES[code].values() for text in rows.values() for w in re.findall(r"[^\W\d_]+", text)}
    left = {w for w in set(other) & set(english) if w.isalpha()} - known - SHARED
    assert left == set(), left
    assert not [n for n in other if re.fullmatch(r"\d+\.\d+", n)]
    assert [n for n in english if re.fullmatch(r"\d+\.\d+", n)]


def test_where_words_meet_they_change_as_the_language_wants() -> None:
    french, spanish = page_language("fr"), page_language("es")
    assert french.say("content", "item", amount="1.6 g", metal=french.metal("Ag")) == "1,6 g d'argent"
    assert french.say("content", "item", amount="1.6 g", metal=french.metal("Cu")) == "1,6 g de cuivre"
    assert french.say("page", "figure_this", piece=french.say("page", "piece")) == "cet objet"
    assert french.say("page", "weighed", piece="lot", mass="2.50 g") == "À sec, le lot pèse 2,50 g."
    assert spanish.say("page", "either", first="plata", second="oro") == "plata u oro"
    assert spanish.say("page", "either", first="plata", second="cobre") == "plata o cobre"


@pytest.mark.parametrize(
    ("code", "typed", "said"),
    [
        ("de", "18 ct yellow", "Gelbgold, 18\u00a0Karat"),
        ("de", "gold 999.9", "Gold 999,9"),
        ("de", "sterling silver candlestick", "Kerzenleuchter, Sterlingsilber"),
        ("de", "Silber 925", "Silber 925"),  # typed in German
        ("de", "US silver dollar 1921", "US-Silberdollar 1921"),
        ("fr", "US silver dollar 1921", "dollar américain en argent de 1921"),
        ("es", "US silver dollar 1921", "dólar estadounidense de plata de 1921"),
        ("de", "weighted sterling candlestick", "gefüllter Kerzenleuchter, Sterlingsilber"),
        ("fr", "weighted sterling candlestick", "chandelier lesté, argent sterling"),
        ("de", "weighted sterling bowl", "Schale, Sterlingsilber, gefüllt"),
        ("de", "20 francs gold", "20 Francs, Gold"),
        ("de", "5 mark", "5 Mark"),
        ("es", "20 francs gold", "20 francos de oro"),
        ("de", "US-25c-clad", "US-25c-clad"),
        ("fr", "14 ct yellow chain", "chaîne, or jaune 14\u00a0carats"),
        ("es", "gold filled 1/20 14 ct", "oro laminado 1/20, 14\u00a0quilates"),
        ("de", "14 ct acid: faded", "Säure für 14\u00a0Karat, Strich verblasste"),
        ("es", "paler than 18 ct needle", "más pálida que la punta de 18\u00a0quilates"),
        ("de", "France 20 francs, gold", "Frankreich 20 Francs, Gold"),
        ("fr", "Germany 5 reichsmark, silver 900", "Allemagne 5 reichsmark, argent 900"),
        ("en", "18 ct yellow", "18 ct yellow"),
    ],
)
def test_a_claim_is_said_in_the_sellers_language(code: str, typed: str, said: str) -> None:
    assert page_language(code).typed(typed) == said


def test_days_and_versions_are_no_decimals() -> None:
    german = page_language("de")
    assert german.day("2026-03-12") == "12.03.2026"
    assert german.say("page", "day_blank") == FILES["de"]["page"]["day_blank"]
    assert "12.03.2026" in german.say("page", "day", day=german.day("2026-03-12"))
    assert "0.1.0" in german.say("page", "stored", version="0.1.0", current="0.2.0")


def test_the_axes_of_a_figure_have_the_decimal_mark_of_the_sheet() -> None:
    pytest.importorskip("matplotlib")
    made = pages.page_of(solve(Piece(claim="gold 999", mass="31.1 g", displaced="1.61 g"), Settings()).document)
    (pictures,) = [b for s in made.of(SELLER) for b in s.blocks if isinstance(b, Pictures)]
    water = pictures.pictures[0]
    assert picture_svg("water", water.drawing, ",") != picture_svg("water", water.drawing)


def test_the_screen_is_in_english_whatever_the_sheet_is_in() -> None:
    assert language("de").code == "en"
    assert page_language("de").code == "de"


@pytest.mark.parametrize(
    ("code", "english", "own"),
    [
        ("de", "half crown", "halbe Krone"),
        ("de", "half sovereign", "halber Sovereign"),
        ("fr", "half crown", "demi-couronne"),
        ("fr", "half gulden", "demi-florin"),
        ("es", "half crown", "media corona"),
        ("es", "half gulden", "medio florín"),
        ("es", "half sovereign", "medio soberano"),
    ],
)
def test_half_of_a_coin_agrees_with_the_coin(code: str, english: str, own: str) -> None:
    say = page_language(code)
    assert own in say.say("page", "contradicted", claim=say.typed(english))


@pytest.mark.parametrize(
    ("code", "kind", "english", "own"),
    [
        ("fr", "streak", "white", "blanche"),
        ("fr", "streak", "grey", "grise"),
        ("fr", "colour", "white", "blanc"),
        ("es", "streak", "yellow", "amarilla"),
        ("es", "streak", "red", "roja"),
        ("es", "colour", "yellow", "amarillo"),
    ],
)
def test_a_colour_agrees_with_what_has_it(code: str, kind: str, english: str, own: str) -> None:
    say = page_language(code)
    assert say.say(kind, "said", read=say.typed(english)).endswith(f": {own}.")


def test_what_was_not_shown_stands_in_the_accusative_of_german() -> None:
    assert not [text for text in FILES["de"]["blind"].values() if re.match(r"ein (Kern|Hohlraum)", text)]


@pytest.mark.parametrize(
    ("code", "or_", "and_"), [("en", "or", "and"), ("de", "oder", "und"), ("fr", "ou", "et"), ("es", "o", "y")]
)
def test_a_list_of_three_has_its_word_before_the_last(code: str, or_: str, and_: str) -> None:
    say = page_language(code)
    assert either(["a", "b", "c"], say) == f"a, b {or_} c"
    assert both(["a", "b", "c"], say) == f"a, b {and_} c"
    assert (either(["a"], say), both([], say)) == ("a", "")
