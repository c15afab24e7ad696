"""The rows of an answer: they make up all belief, and whatever words them says the same shares."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from alloysolve.answer.document import Document
from alloysolve.answer.records import read_record, save_record
from alloysolve.answer.rows import (
    AS_CLAIMED,
    NOT_SHOWN,
    SHOWN_FROM,
    SOMETHING_ELSE,
    ConstructionData,
    Row,
    at_most,
    layer_of,
)
from alloysolve.answer.solution import solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.page.content import MOST_ROWS, likely_rows
from alloysolve.words.language import language
from alloysolve.words.numbers import chance, under
from alloysolve.words.proposals import cautions
from alloysolve.words.records import record_text
from alloysolve.words.rows import fits_table
from alloysolve.words.terminal import answer
from tests.solved import EVERY, solved

SAY = language()
EACH = pytest.mark.parametrize("example", EVERY)


def table_of(text: str) -> list[str]:
    """The lines of the table of what fits."""
    lines = text.split("\n")
    begin = next(i for i, line in enumerate(lines) if line.startswith("likely "))
    return lines[begin : lines.index("", begin)]


def unwrapped(text: str) -> str:
    return " ".join(text.split())


@EACH
def test_rows_are_all_that_is_believed(example: str) -> None:
    s = solved(example)
    rows = s.document.rows
    assert sum(r.share for r in rows) == pytest.approx(1.0, abs=0.003)  # each is rounded to three digits
    shown = [r for r in rows if r.what != NOT_SHOWN]
    assert [r.share for r in shown] == sorted((r.share for r in shown), reverse=True)
    assert all(r.share >= SHOWN_FROM for r in shown)
    assert [r.what for r in rows[:-1]].count(NOT_SHOWN) == 0
    as_claimed = next((r.share for r in rows if r.what == "as claimed"), 0.0)
    assert as_claimed == pytest.approx(s.share_as_claimed, rel=5e-3, abs=SHOWN_FROM)
    found = {tuple(x.metals): x.probability for x in (s.beside_claim() if s.claim else s.found)}
    for row in (r for r in rows if r.what == "system"):
        assert row.share == pytest.approx(found[row.metals], rel=5e-3)


@EACH
def test_something_else_is_said_with_its_own_share_only(example: str) -> None:
    """A page once said "4 in 10: something else" of all that it did not list, where that share was 0.0086."""
    d = solved(example).document
    said = [lead for lead, text in likely_rows(d, SAY) if text == SAY.say("page", "something_else")]
    wanted = SAY.say("page", "likely_row", chance=chance(d.something_else, SAY))
    assert said in ([], [wanted])
    if d.something_else > max(0.1, *(r.share for r in d.rows if r.what != SOMETHING_ELSE)):
        assert said == [wanted]
    table = [line for line in fits_table(d, SAY, 24) if SAY.say("table", "something_else") in line]
    assert all(line.startswith(chance(d.something_else, SAY)) for line in table)


@EACH
def test_a_record_says_what_the_fresh_answer_said(example: str, tmp_path: Path) -> None:
    """A record once showed other rows than the answer it kept, and lost its cautions."""
    d = solved(example).document
    record = read_record(save_record(solved(example), tmp_path))
    assert record.solution == d
    said, fresh = record_text(record, SAY, more=True), answer(d, more=True)
    for text in (said, fresh):  # the same rows, as many as there is room for
        assert table_of(text) in [fits_table(d, SAY, lines) for lines in range(2, 10)]
    assert unwrapped(cautions(d, SAY)) in unwrapped(said)
    assert unwrapped(cautions(d, SAY)) in unwrapped(fresh)


@EACH
def test_the_document_is_read_back_as_it_was(example: str) -> None:
    d = solved(example).document
    assert Document.from_dict(json.loads(d.to_json())) == d


def row(share: float, what: str = "system") -> Row:
    return Row(what, share)  # type: ignore[arg-type]


def test_rows_without_room_are_added_to_what_is_not_shown() -> None:
    rows = [row(0.5), row(0.2), row(0.15), row(0.1), Row(NOT_SHOWN, 0.05, 0.003)]
    kept = at_most(rows, 3)
    assert [(r.what, round(r.share, 6)) for r in kept] == [("system", 0.5), ("system", 0.2), (NOT_SHOWN, 0.3)]
    assert kept[-1].largest == 0.15
    assert at_most(rows, 5) == tuple(rows)
    assert at_most([row(0.999), Row(NOT_SHOWN, 0.001, 0.001)], 5) == (row(0.999),)  # not worth a line
    assert sum(r.share for r in at_most(rows, MOST_ROWS)) == pytest.approx(1.0)


def test_the_claim_keeps_its_row() -> None:
    rows = [row(0.4), row(0.3), row(0.2), row(0.09, AS_CLAIMED), Row(NOT_SHOWN, 0.01, 0.003)]
    kept = at_most(rows, 3)
    assert [(r.what, round(r.share, 6)) for r in kept] == [("system", 0.4), (AS_CLAIMED, 0.09), (NOT_SHOWN, 0.51)]
    assert kept[-1].largest == 0.3


def test_what_is_not_shown_is_said_to_be_no_more_than_its_largest() -> None:
    assert under(0.0037, SAY) == "1 in 200"
    assert under(0.02, SAY) == "1 in 50"
    assert under(0.021, SAY) == "1 in 30"
    assert under(0.21, SAY) == "3 in 10"


def built(construction: str, share: float, skin: str | None = None) -> ConstructionData:
    um = (5.0, 10.0, 20.0) if construction == "plated" else None
    return ConstructionData(construction, skin, None, "brass", share, um, None, None)


def test_the_layer_of_a_system_is_that_of_a_share_that_matters() -> None:
    mostly_bare = layer_of([built("homogeneous", 0.9), built("plated", 0.1, "Ag")])
    assert mostly_bare is not None
    assert (mostly_bare.part, mostly_bare.share, mostly_bare.bare) == ("Ag", 0.1, 0.9)
    assert layer_of([built("homogeneous", 0.97), built("plated", 0.03, "Ag")]) is None
    hollow = layer_of([built("hollow or porous", 0.6), built("plated", 0.4, "Ag")])
    assert hollow is not None
    assert hollow.construction == "hollow or porous"


def test_what_reads_alike_is_alike_to_the_claim_where_the_claim_comes_first():
    """A clad quarter (8.92 g/cm3 by its law) read as 8.82, 8.71 to 9.15: brass 8.5 is far, cupronickel 8.94 near."""
    quarter = {"claim": "US-25c-clad", "mass": "5.66 g", "displaced": "0.64 g", "disc": ["24.26 mm", "1.75 mm"]}
    s = solve(Piece(**quarter, magnet="none"), Settings())
    rows = {frozenset(r.metals): r for r in s.document.rows if r.what == "system"}
    assert s.document.rows[0].what == "as claimed"
    assert rows[frozenset({"Cu", "Ni"})].alike_the_first
    assert not rows[frozenset({"Cu", "Zn"})].alike_the_first
