"""``alloysolve routine``."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from tests.conftest import Run

GOLD = ("--claim", "gold 999", "--mass", "31.1 g", "--disc", "32.7 mm x 2.0 mm")


@pytest.mark.parametrize("readings", ["", "weighing", "weighing, magnet, conductivity", "sound speed"])
def test_a_table_that_fits_the_screen(run: Callable[..., Run], readings: str) -> None:
    said = run("routine", *([readings] if readings else []), *GOLD)
    assert said.code == 0
    lines = said.out.rstrip("\n").split("\n")
    assert said.out.isascii()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert "what would show the rest" in said.out
    assert "Most shown for the time taken" in said.out


def test_all_of_it_as_json(run: Callable[..., Run]) -> None:
    found = json.loads(run("routine", "weighing", "--json", *GOLD).out)
    assert found["schema"] == "alloysolve.routine/1"
    assert found["readings"] == ["weighing"]
    assert {c["word"] for c in found["classes"]} <= {"always", "sometimes", "never"}


def test_an_unknown_reading_names_the_known_ones(run: Callable[..., Run]) -> None:
    said = run("routine", "magnets", *GOLD)
    assert said.code == 2
    assert said.err.startswith("error: readings: 'magnets': expected some of weighing, magnet,")
