"""A claim that is probably true and yet open: one sentence says what is likely and what has not been shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from alloysolve.answer.document import Document
from alloysolve.answer.parts import BlindSpot, Coded, NextReading
from alloysolve.answer.rows import AS_CLAIMED, SYSTEM, Row
from alloysolve.answer.solution import solve
from alloysolve.inputs.settings import Settings
from alloysolve.words.language import language
from alloysolve.words.open_claim import open_sentence

SAY = language()
LIKELY = Row(AS_CLAIMED, 0.99, metals=("Au",))
TUNGSTEN = Row(SYSTEM, 0.01, metals=("W",), family="pair")
TONE = NextReading("sound_speed", True, 1.0, 0.0, True, 0.0, 0.0, "m/s", (3200.0, 3300.0), 5200.0, ("W",), "pair", None)


@pytest.fixture(scope="module")
def bar() -> Document:
    """An answer of a weighed bar, whose rows and reasons each test replaces."""
    return solve({"claim": "gold 999", "mass": "100 g", "displaced": "5.19 g"}, Settings()).document


def opened(
    d: Document,
    code: str,
    values: Mapping[str, Any],
    rows: tuple[Row, ...] = (LIKELY, TUNGSTEN),
    following: tuple[NextReading, ...] = (),
    blind: tuple[BlindSpot, ...] = (),
    decision: str = "undecided",
) -> Document:
    """The same answer with one reason."""
    assert d.claim is not None
    claim = replace(d.claim, decision=decision, reasons=(Coded(code, values),))
    return replace(d, claim=claim, rows=rows, next_readings=following, blind_spots=blind)


def test_the_kind_that_the_decision_names_and_the_reading_that_would_tell(bar):
    d = opened(bar, "kind not shown", {"kind": "equally dense metal inside", "shown": 0.1}, following=(TONE,))
    assert open_sentence(d, SAY) == (
        "It is probably as claimed (99 in 100), but these readings do not rule out an equally dense metal "
        "under the surface; sound speed would tell."
    )
    assert open_sentence(d, SAY, "page_open") == (
        "It is probably what it was said to be. But our readings do not rule out an equally dense metal "
        "under the surface. This would tell: how fast sound runs through it."
    )
    none = open_sentence(replace(d, next_readings=()), SAY)
    assert none.endswith("but these readings do not rule out an equally dense metal under the surface.")


def test_without_a_kind_the_commonest_blind_spot_or_the_likeliest_other_body(bar):
    spot = BlindSpot("clad faces", 0.0, ())
    assert "do not rule out clad faces" in open_sentence(opened(bar, "others fit too", {}, blind=(spot,)), SAY)
    assert "do not rule out tungsten" in open_sentence(opened(bar, "others fit too", {}), SAY)
    assert open_sentence(opened(bar, "strained", {"p": 0.01}, rows=(LIKELY,)), SAY) == (
        "It is probably as claimed (99 in 100), but these readings are not enough to show it."
    )


@pytest.mark.parametrize(
    ("code", "values"), [("one reading alone", {"reading": "weighing"}), ("speaks against", {"readings": ["weighing"]})]
)
def test_the_reading_that_does_not_agree(bar, code, values):
    assert open_sentence(opened(bar, code, values), SAY) == (
        "It is probably as claimed (99 in 100), but one reading does not agree with that (weighing); repeat it."
    )


def test_an_unusual_alloy_is_no_fault(bar):
    assert open_sentence(opened(bar, "meets it otherwise", {}), SAY) == (
        "It is probably as claimed (99 in 100), but the usual alloys of that name would not read so."
    )


def test_no_sentence_where_the_claim_is_settled_or_unlikely(bar):
    assert open_sentence(opened(bar, "agrees", {}, decision="not contradicted"), SAY) == ""
    assert open_sentence(opened(bar, "misfit", {}, decision="contradicted"), SAY) == ""
    unlikely = (replace(TUNGSTEN, share=0.6), replace(LIKELY, share=0.4))
    assert open_sentence(opened(bar, "others fit too", {}, rows=unlikely), SAY) == ""
