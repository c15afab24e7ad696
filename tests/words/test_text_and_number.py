"""Text and number agree: what is said of a piece is checked against the rows and readings from which it was said.

The checks read sentences as a person would, by words and numbers, and know nothing of how they are made.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator

import pytest

from alloysolve.answer.document import Document
from alloysolve.answer.rows import AS_CLAIMED, FINER
from alloysolve.answer.solution import solve
from alloysolve.inputs.settings import Settings
from alloysolve.page.build import page_of, page_text
from alloysolve.published.load import default_tables
from alloysolve.words.terminal import answer
from tests.independent.drawn_pieces import drawn as drawn_otherwise
from tests.solved import EVERY, solved
from tests.words.drawn_pieces import drawn

FEW, MANY = 12, int(os.environ.get("ALLOYSOLVE_DRAWN", "40"))  # pieces; 500 take half an hour
AMOUNT = re.compile(r"([\d.]+)(?: to ([\d.]+))? (g|%) of (?:silver|gold|platinum|palladium|rhodium|iridium|ruthenium)")
OPEN = re.compile(
    r"It is probably (as claimed|what it was said).{3,120}(not rule out|not agree|not enough|not read so)"
)
PUSHED = re.compile(r"would push aside ([\d.]+)(?: to ([\d.]+))? g of [a-z ]+; this \w+ pushed aside ([\d.]+) g")
JARGON = re.compile(r"\b(?:alike(?!,)|favour|strained|um|likelier with|systems?|prior)\b")
CLAIMED = re.compile(r"As claimed: (\d+|under 1) in (\d+)")
NOTHING = re.compile(r"(?<![\d.])0(?:\.0*)? (?:g|mm|um|per mille)\b")
BROKEN = re.compile(r"\b(?:nan|inf|None|null)\b|(?<!\w)-0\b|\{|\}|  \.|\.\.(?!\.)")
SAYS_AGAINST = re.compile(
    r"(?:Only one reading speaks against the claim \(|Only the )([\w -]+?)(?:\):| speaks against)"
)


def complaints(d: Document) -> list[str]:
    """Where the words of an answer, or its numbers, contradict each other; empty if they never do."""
    text, short = (" ".join(answer(d, more).split()) for more in (True, False))
    seller = " ".join(page_text(page_of(d)).partition("# For an expert")[0].split())
    return [
        *_rows(d),
        *_amounts(d, text),
        *_amounts(d, short),
        *_short(d),
        *_amounts(d, seller),
        *_layers(d),
        *_headline(d, text, seller),
        *_readings(d, text, seller),
        *(f"nothing is advised: {x}" for x in NOTHING.findall(text + short + seller)),
        *(f"broken: {x.group()}" for x in BROKEN.finditer(text + short + re.sub(r"\.{3,}|\{.*\}", "", seller))),
    ]


def _short(d: Document) -> Iterator[str]:
    """The short answer: twelve lines of plain words, with the share of the claim among them."""
    text = answer(d)
    lines, words = text.rstrip("\n").split("\n"), " ".join(text.split())
    if len(lines) > 12 or max(map(len, lines)) > 80:
        yield f"{len(lines)} lines of up to {max(map(len, lines))} columns"
    yield from (f"not plain: {x}" for x in JARGON.findall(words))
    claim, said = next((r.share for r in d.rows if r.what == AS_CLAIMED), 0.0), CLAIMED.findall(words)
    if len(said) != (d.claim is not None):
        yield f"the claim is given {len(said)} shares"
    for few, of in said:
        if claim < 0.009 and (few, of) != ("under 1", "100"):
            yield f"a claim of {claim} is given {few} in {of}"
        if claim > 0.01 and not 0.7 < int(few.removeprefix("under ")) / int(of) / claim < 1.5:
            yield f"a claim of {claim} is given {few} in {of}"


def _rows(d: Document) -> Iterator[str]:
    if abs(sum(r.share for r in d.rows) - 1) > 0.005:
        yield f"shares add up to {sum(r.share for r in d.rows)}"
    for row in d.rows:
        if d.code == "contradicted" and row.what in (AS_CLAIMED, FINER) and row.share > 0.5:
            yield f"readings speak against the claim, but it is {row.what!r} with {row.share}"
        for low, likely, high in row.ranges.values():
            if not 0 <= (low or 0.0) <= (likely or 0.0) <= (high or 0.0) <= 100:
                yield f"a range of {low} to {high} percent around {likely}"


def _amounts(d: Document, text: str) -> Iterator[str]:
    mass = d.density.body_g if d.density else None
    for symbol, m in d.precious.items():
        whole = (mass or 1e9) if m.unit == "g" else 100.0
        if not 0 <= m.low <= m.likely <= m.high <= whole * (1 + 1e-9):
            yield f"{symbol}: {m.low} to {m.likely} to {m.high} {m.unit} of {whole}"
    counted = [r for r in d.rows if r.share >= 0.05 - 5e-4]
    for symbol in d.precious:
        if not any(symbol in r.holds for r in counted):
            yield f"{symbol} is counted, but no row of 1 in 20 holds any"
    for low, high, unit in (found.groups()[:3] for found in AMOUNT.finditer(text)):
        whole = round(mass or 1e9, 2) if unit == "g" else 100.0
        if max(float(low), float(high or 0)) > whole + 1e-9 or (high and float(low) > float(high)):
            yield f"amount of {low} to {high} {unit} in {whole}"


def _layers(d: Document) -> Iterator[str]:
    made = {r.name: r.most_um for r in default_tables().rows("skins") if r.most_um}
    widest = max(s.most for s in default_tables().rows("spans") if s.construction == "plated")
    for layer in (r.layer for r in d.rows if r.layer is not None):
        low, _, high = layer.um or (0.0, 0.0, 0.0)
        most = min(made.get(layer.part, widest), 1000 * min(d.form.sizes))
        if not 0 <= (low or 0.0) <= (high or 0.0) <= most * 1.001:
            yield f"{layer.part} of {low} to {high} um, at most {most}"
        low, _, high = layer.percent or (0.0, 0.0, 0.0)
        if not 0 <= (low or 0.0) <= (high or 0.0) <= 100:
            yield f"{layer.part} of {low} to {high} percent"


def _headline(d: Document, text: str, seller: str) -> Iterator[str]:
    against = text.startswith("These readings speak against")
    if against != (d.code == "contradicted") or against != ("What we measured speaks against" in seller):
        yield "headline and code differ"
    for said in ("It fits metal finer than claimed", 'It fits "', "What fits best is what it was said to be"):
        if against and said in text + seller:
            yield f"spoken against, but: {said}"
    met = sum(r.share for r in d.rows if r.what in (AS_CLAIMED, FINER))
    for said in (text, seller):
        if d.code == "undecided" and met > 0.56 and not OPEN.search(said):
            yield f"open with {met}, and not said what is likely and what has not been shown"
    pushed = PUSHED.search(text)
    if pushed and d.code == "contradicted":
        low, high, read = float(pushed[1]), float(pushed[2] or pushed[1]), float(pushed[3])
        if low <= read <= high:
            yield f"spoken against, but {read} g lies within {low} to {high} g"


def _readings(d: Document, text: str, seller: str) -> Iterator[str]:
    names = {r.kind.replace("_", " ").replace("surface composition", "X-rays"): r for r in d.readings}
    blamed = {str(r.values["reading"]) for r in (d.claim.reasons if d.claim else ()) if "reading" in r.values}
    for name in blamed:
        reading = d.reading(name)
        if reading is not None and reading.claim_agrees == "agrees":
            yield f"{name} is blamed but agrees"
    for found in SAYS_AGAINST.finditer(text):
        reading = names.get(found[1])
        if reading is not None and all(r.claim_agrees == "agrees" for r in d.readings if r.kind == reading.kind):
            yield f"{found[1]} is said to speak against the claim but agrees"
    speaking = [r.name for r in d.readings if r.claim_agrees == "no"]
    if d.code == "not contradicted" and speaking:
        yield f"nothing speaks against the claim, but {speaking} do"
    if d.code == "not contradicted" and "does not agree with the claim" in seller:
        yield "nothing speaks against the claim, but a reading is said not to agree"


@pytest.mark.usefixtures("solved_once")
@pytest.mark.parametrize("example", EVERY)
def test_words_and_numbers_of_every_example(example: str) -> None:
    assert complaints(solved(example).document) == []


@pytest.mark.parametrize("number", range(FEW))
def test_words_and_numbers_of_pieces_drawn_at_random(number: int) -> None:
    fields = drawn(number)
    assert complaints(solve(fields, Settings()).document) == [], fields


@pytest.mark.parametrize("number", range(FEW))
def test_the_short_answer_of_pieces_drawn_in_another_way(number: int) -> None:
    fields = drawn_otherwise(number)
    assert list(_short(solve(fields, Settings()).document)) == [], fields


@pytest.mark.slow
@pytest.mark.parametrize("number", range(FEW, MANY))
def test_words_and_numbers_of_many_pieces_drawn_at_random(number: int) -> None:
    fields = drawn(number)
    assert complaints(solve(fields, Settings()).document) == [], fields
