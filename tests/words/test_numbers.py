"""Numbers, probabilities and ranges as words."""

from __future__ import annotations

import pytest

from alloysolve.words.language import language
from alloysolve.words.numbers import chance, composition, length, length_span, span


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (0.999, "99 in 100"),
        (0.97, "49 in 50"),
        (0.95, "19 in 20"),
        (0.9, "9 in 10"),
        (0.5, "5 in 10"),
        (0.1, "1 in 10"),
        (0.05, "1 in 20"),
        (0.0101, "1 in 100"),
        (0.002, "1 in 500"),
    ],
)
def test_chances(p: float, words: str) -> None:
    assert chance(p, language()) == words


def test_a_chance_in_words_is_never_far_from_its_number() -> None:
    for k in range(4, 1000):
        top, _, bottom = chance(k / 1000, language()).partition(" in ")
        assert 0.62 < int(top) / int(bottom) / (k / 1000) < 1.6


def test_ranges() -> None:
    assert span(18.2, 40.4) == "18-40"
    assert span(97.8, 98.4) == "98"
    assert (length(0.1), length(38.2), length(650)) == ("under 1 um", "38 um", "0.65 mm")
    assert (length_span(12, 38), length_span(580, 820), length_span(580, 583)) == (
        "12-38 um",
        "0.58-0.82 mm",
        "0.58 mm",
    )


def test_compositions_fit_their_width() -> None:
    ranges = {"Cu": (58.0, 70.0, 81.0), "Zn": (18.0, 29.0, 40.0), "Pb": (0.0, 1.0, 4.0)}
    assert composition(ranges, language(), 60) == "copper 58-81 %, zinc 18-40 %"
    assert composition(ranges, language(), 20) == "copper 58-81 %"
    assert composition({"W": (99.0, 99.9, 100.0)}, language(), 40) == "tungsten"


@pytest.mark.parametrize("um", [99.6e3, 100e3, 123e3, 999.7e3, 1.5e6])
def test_no_length_is_a_power_of_ten(um: float) -> None:
    assert "e" not in length(um).replace("under", "")
    assert "e" not in length_span(um / 2, um)
    assert float(length(um).split()[0]) == pytest.approx(um / 1000, rel=0.01)
