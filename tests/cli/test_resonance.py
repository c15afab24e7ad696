"""``alloysolve resonance``, and resonance readings on the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from alloysolve.readings.recording import Note
from tests.conftest import Run
from tests.readings.test_resonance import record

SILVER = ("--claim", "silver 999", "--mass", "31.1 g", "--disc", "38.6 mm x 2.98 mm")
MANY = tuple((1500.0 * 1.23**k, 0.05, 1.0) for k in range(11))


@pytest.fixture
def brass(tmp_path: Path) -> str:
    return record(tmp_path / "brass.wav", ((7100, 0.08, 1.0), (12300, 0.03, 0.5)))


def fits(text: str) -> None:
    lines = text.rstrip("\n").split("\n")
    assert text.isascii()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80


def test_tones_of_a_file_alone(run: Callable[..., Run], brass: str) -> None:
    said = run("resonance", brass)
    assert said.code == 0
    assert "2 tones heard in 3 taps." in said.out
    assert "7100 Hz" in said.out
    assert "3 of 3" in said.out
    assert "80 ms" in said.out
    assert "--disc" in said.out
    fits(said.out)


def test_what_would_sound_so_with_sizes_and_mass(run: Callable[..., Run], brass: str) -> None:
    said = run("resonance", brass, *SILVER, "--displaced", "3.64")
    rows = said.out.split("\n")
    claim = next(r for r in rows if r.startswith("as claimed: silver 999"))
    assert "4.6 (" in claim or "4.7 (" in claim  # published: near 4.7 kHz
    assert not claim.endswith(" agrees")
    assert any(r.startswith("brass") and r.endswith(" agrees") for r in rows)
    fits(said.out)


@pytest.mark.parametrize("tones", [MANY, ((700.0, 0.2, 1.0),), ()], ids=["many", "one", "none"])
def test_it_fits_the_screen(run: Callable[..., Run], tmp_path: Path, tones: tuple[tuple[float, ...], ...]) -> None:
    file = record(tmp_path / "tap.wav", tones, taps=1, rate=22050)
    for args in ((), SILVER, (*SILVER, "--displaced", "3.64"), ("--mass", "100 g", "--bar", "50 x 28 x 7 mm")):
        said = run("resonance", file, *args)
        assert said.code == 0
        fits(said.out)


def test_every_note_of_a_recording_has_words() -> None:
    from alloysolve.words.language import language
    from alloysolve.words.resonance import note_words

    codes = ("no_tap", "no_tone", "clipped", "noisy", "short", "slow_rate", "damaged")
    words = {code: note_words(Note(code, 9922.5), language()) for code in codes}
    assert len(set(words.values())) == len(codes)
    assert "9.92 kHz" in words["slow_rate"]
    assert "of 1 tap was" in note_words(Note("clipped", 1.0), language())


def test_as_json(run: Callable[..., Run], brass: str) -> None:
    document = json.loads(run("resonance", brass, *SILVER, "--json").out)
    assert document["peaks"][0]["frequency_hz"] == pytest.approx(7100, rel=1e-3)
    assert document["candidates"][0]["of"] == "claim"


@pytest.mark.parametrize("suffix", ["png", "svg"])
def test_the_figure_is_written(run: Callable[..., Run], brass: str, tmp_path: Path, suffix: str) -> None:
    file = tmp_path / f"figure.{suffix}"
    said = run("resonance", brass, *SILVER, "--figure", str(file))
    assert said.code == 0
    assert str(file) in said.err
    start = file.read_bytes()[:100]
    assert start.startswith(b"\x89PNG") if suffix == "png" else b"<?xml" in start


def test_bad_input_is_one_line_and_code_2(run: Callable[..., Run], brass: str, tmp_path: Path) -> None:
    text = tmp_path / "text.wav"
    text.write_text("no sound")
    cases = [
        (("resonance", str(tmp_path / "missing.wav")), "WAV file that can be read"),
        (("resonance", str(text)), "a WAV file"),
        (("resonance", brass, "--figure", "figure.jpg"), ".png or .svg"),
        (("resonance", brass, "--figure", str(tmp_path / "none" / "figure.png")), "can be written"),
        (("resonance", brass, "--disc", "38.6 mm"), "diameter, thickness"),
        (("solve", "--resonance", "-4.7 kHz", *SILVER), "above 0"),
        (("solve", "--resonance", str(text), *SILVER), "a WAV file"),
        (("solve", "--resonance", "4.7 kHz", "--mass", "31.1 g", "--displaced", "2.97 g"), "--disc"),
        (("solve", "--resonance", "4.7 kHz", "--disc", "38.6 x 3 mm"), "--mass"),
    ]
    for args, expected in cases:
        ended = run(*args)
        assert ended.code == 2, args
        assert ended.out == ""
        assert ended.err.count("\n") == 1
        assert expected in ended.err


def test_solve_shows_the_row_and_names_the_tone(run: Callable[..., Run], brass: str) -> None:
    said = run("solve", "--resonance", "4.7 kHz 8.2 kHz", "--displaced", "2.965", *SILVER, "--more")
    row = next(r for r in said.out.split("\n") if r.startswith("resonance"))
    assert "4.7 kHz 8.2 kHz" in row
    assert row.count("agrees") == 2
    assert "all of it" in row
    fits(said.out)
    said = run("solve", "--resonance", brass, "--displaced", "3.64", *SILVER)
    assert "brass" in said.out
    fits(said.out)


def test_where_the_tone_speaks_against_the_claim_it_is_the_tone_that_is_named(run: Callable[..., Run]) -> None:
    gold = ("--claim", "gold 9999", "--mass", "31.1", "--disc", "32.7 x 2.2 mm", "--displaced", "1.615")
    said = run("solve", "--resonance", "8.4 kHz", *gold)
    words = " ".join(said.out.split())
    assert "near 3.5 kHz" in words  # published: gold far below tungsten
    assert "gives 8.4 kHz" in words
    fits(said.out)


def test_an_option_beside_a_file_adds_it_once(run: Callable[..., Run], tmp_path: Path, brass: str) -> None:
    file = tmp_path / "0117.toml"
    file.write_text('mass = "31.1 g"\ndisplaced = "3.64 g"\ndisc = ["38.6 mm", "2.98 mm"]\n')
    for _ in range(2):
        assert run("solve", str(file), "--resonance", brass, "--save").code == 0
    assert file.read_text().count("recording") == 1
    assert run("solve", str(file), "--more").out.count("resonance") >= 1


def test_an_option_does_not_repeat_what_a_file_says_of_a_place(run: Callable[..., Run], tmp_path: Path) -> None:
    file = tmp_path / "0117.toml"
    file.write_text(
        'mass = "31.1 g"\ndisplaced = "2.965 g"\ndisc = ["38.6 mm", "2.98 mm"]\n[[reading]]\n'
        'kind = "resonance"\nvalue = "4.7 kHz"\nplace = "rim"\n'
    )
    said = run("solve", str(file), "--resonance", "4.7 kHz", "--more").out
    assert sum(line.startswith("resonance") for line in said.split("\n")) == 1


def test_ask_asks_for_tones_where_the_shop_takes_them(run: Callable[..., Run], tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    shop.write_text('[readings]\nown = ["resonance"]\n')
    answers = "0117\nsilver 999\n31.1\n2.965\n\n\nnone\nlots\n4.7 kHz\n"
    ended = run("solve", "--ask", "--disc", "38.6 x 2.98 mm", "--settings", str(shop), stdin=answers)
    assert ended.code == 0
    assert ended.out.count("tones when struck") == 2  # "lots" is asked again
    assert "tones when struck" not in run("solve", "--ask", stdin="0117\nsilver 999\n31.1\n2.965\n\n\nnone\n").out
