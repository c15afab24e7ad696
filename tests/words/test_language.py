"""All sentences stand in one file per language; none stands in code."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

import alloysolve.words.terminal as answers
from alloysolve.errors import InputError
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables
from alloysolve.readings.registry import KINDS
from alloysolve.words.language import Language, language
from tests.solved import EVERY, once, piece_of

FILE = Path(answers.__file__).with_name("en.toml")
FORBIDDEN = (
    "genuine",
    "fake",
    "counterfeit",
    "forged",
    "fraud",
    "authentic",
    "certified",
    "guaranteed",
    "decision",
)
# words that come from the piece, from tables of names or from units, not from sentences
FROM_DATA = re.compile(r"g/cm\d|%iacs|\b(g|um|mm|degc|k?hz|m/s)\b|\d")


def made_up() -> Language:
    """A second language: every sentence is one letter and its placeholders."""
    english = tomllib.loads(FILE.read_text(encoding="utf-8"))
    templates = {"form": english.pop("form")} | {
        section: {key: " ".join(["q", *re.findall(r"\{.*?\}", text)]) for key, text in rows.items()}
        for section, rows in english.items()
    }
    return Language(templates, "qq")


@pytest.mark.parametrize("example", [*EVERY, ""])
@pytest.mark.parametrize("more", [False, True])
def test_no_sentence_stands_in_code(example: str, more: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(answers, "language", lambda code: made_up())
    piece = piece_of(example) if example else Piece(density="8.5 g/cm3")
    tables = default_tables()
    from_tables = {f.words for f in tables.families.values()} | {m.caveat.lower() for m in tables.metals.values()}
    from_tables |= {r.words for r in tables.rows("skins")}
    text = " ".join(answers.answer(once(piece, Settings()).document, more).split()).lower()
    for known in sorted(
        [piece.claim.lower(), *from_tables, *(r.place for r in piece.readings), "uohm cm"],
        key=len,
        reverse=True,
    ):
        text = text.replace(known, " ") if known else text
    words = set(re.findall(r"[a-z]{2,}", FROM_DATA.sub(" ", text))) - {"none", "weak", "strong", "to"}
    words -= {symbol.lower() for symbol in tables.metals}
    assert not words, (piece.name, words)


def test_words_that_never_appear() -> None:
    sentences = " ".join(v for rows in tomllib.loads(FILE.read_text()).values() for v in rows.values()).lower()
    assert [w for w in FORBIDDEN if re.search(rf"\b{w}", sentences)] == []


def test_every_placeholder_is_filled_the_same_way_twice() -> None:
    assert language().say("table", "one_in", n=20) == "1 in 20"


def test_an_unknown_language_names_the_known_ones() -> None:
    with pytest.raises(InputError, match="one of de, en, es, fr"):
        language("xx")


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_reading_has_its_block_of_words(kind: str) -> None:
    say, of = language(), KINDS[kind]
    words = of.entries["value"].words
    by_word = bool(words) and all(say.has(kind, f"said_{word}") for word in words)
    for key in ("name", "title", "help", "would"):
        assert say.has(kind, key), key
    assert by_word or say.has(kind, "said")
    assert all(say.has(mark, "done") for mark in of.marks)
    assert not of.caution or say.has("caution", of.caution)
    assert say.has(of.quantity or kind, "why") or say.has(of.quantity or kind, "why_less")
    if of.trial:  # a reading that is proposed has a time
        assert kind in {row.kind for row in default_tables().rows("times")}
