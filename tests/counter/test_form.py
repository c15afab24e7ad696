"""The form has every field of a piece and every key of a reading once, and says of a slip what the terminal says."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from alloysolve.counter.form import FILES, LONGEST, form, names, read
from alloysolve.inputs.piece import SCHEMA
from alloysolve.inputs.settings import Settings
from alloysolve.readings.registry import KINDS
from alloysolve.words.language import language
from tests.conftest import Run

SAY = language()
OWNS = Settings.from_dict({"readings": {"own": ["sound speed", "acid"]}, "scale": {"set_up": "below the balance"}})


@pytest.mark.parametrize("shop", [Settings(), OWNS])
def test_every_field_and_every_key_of_a_reading_stands_once(shop: Settings) -> None:
    keys = [f"{kind}.{key}" for kind, of in KINDS.items() for key in of.entries if key not in ("value", *FILES)]
    assert not {"do", "form", "language", "turn"} & set(SCHEMA)  # names of fields that the form has for itself
    assert sorted(names(form(shop, SAY))) == sorted([*(name for name in SCHEMA if name != "reading"), *keys])


def test_first_come_the_weighing_and_what_the_shop_reads() -> None:
    first = names(form(OWNS, SAY)[:1])
    assert first[:4] == ["name", "claim", "mass", "in_water"]
    assert {"magnet", "sound_speed", "acid"} <= set(first[4:])
    assert "conductivity" not in first
    assert "parts" in first  # a stone is weighed with the rest, whoever forgets it


def test_no_label_is_a_letter_or_needs_the_hint() -> None:
    labels = {field.name: field.label for group in form(Settings(), SAY) for field in group.fields}
    assert labels["count"] == "how many pieces, weighed together"
    assert labels["conductivity.u"] == "conductivity: uncertainty, if known"
    assert not [label for label in labels.values() if len(label.rpartition(": ")[2]) < 3]


def test_a_reading_that_needs_care_says_so_beside_its_field() -> None:
    acid = next(f for group in form(OWNS, SAY) for f in group.fields if f.name == "acid")
    assert SAY.say("caution", KINDS["acid"].caution) in acid.hint


SLIPS = {
    "mass": "31.1x",
    "displaced": "3.6 x",
    "claim": "900",
    "bar": "50x28 mm",
    "parts": "diamond",
    "conductivity": "29.3 %",
    "water": "21 degX",
    "count": "0",
    "magnet": "maybe",
    "sound_speed": "fast",
}


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_is_told_in_the_words_of_the_terminal(name: str, run: Callable[..., Run]) -> None:
    given = {"mass": "31.18", "displaced": "3.64"} | {name: SLIPS[name]}
    said = run("solve", *(f"--{key.replace('_', '-')}={value}" for key, value in given.items()))
    piece, wrong = read(given, Settings())
    assert piece is None
    assert {name: f"error: {' '.join(text.split())}\n" for name, text in wrong.items()} == {name: said.err}


def test_all_slips_are_told_at_once_each_at_its_field() -> None:
    _, wrong = read({**SLIPS, "conductivity.frequency": "60 kHz"}, Settings())
    assert set(wrong) == {*SLIPS}
    _, wrong = read({"conductivity": "29.3 %IACS", "conductivity.frequency": "often"}, Settings())
    assert set(wrong) == {"conductivity.frequency"}


def test_what_one_field_needs_of_another_is_told_at_the_other() -> None:
    assert set(read({"displaced": "3.64"}, Settings())[1]) == {"mass"}
    assert set(read({"mass": "31", "bar": "50x28x2.6", "disc": "38x2"}, Settings())[1]) == {"disc"}


def test_no_field_takes_more_than_can_be_read_quickly() -> None:
    for name in names(form(Settings(), SAY)):
        _, wrong = read({"mass": "3"} | {name: "1x" * LONGEST}, Settings())
        assert "." in name or wrong.keys() == {name} - {"name", "note"}
