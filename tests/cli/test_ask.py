"""`solve --ask` with replies from a pipe: slips are asked for again, and nothing is written before the last reply."""

from __future__ import annotations

import os
import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest

from alloysolve.inputs.piece import Piece, read_piece
from alloysolve.inputs.settings import Settings
from alloysolve.words.language import language
from tests.conftest import Run

AGAINST = 'These readings speak against "silver 999"'
BAR = ("0117", "silver 999", "31.18", "3.64", "", "", "")  # name, claim, mass, water; no parts, no size, not hollow


@pytest.fixture
def ask(run: Callable[..., Run], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Run]:
    """Runs `solve --ask` in an empty folder with some replies, then the end of the input."""
    monkeypatch.chdir(tmp_path)

    def asked(*replies: str, options: tuple[str, ...] = ()) -> Run:
        return run("solve", *options, "--ask", stdin="".join(f"{reply}\n" for reply in replies))

    return asked


def test_the_counters_order_and_an_answer_after_each_reading(ask: Callable[..., Run]) -> None:
    ended = ask(*BAR, "no")
    assert (ended.code, ended.err) == (0, "")
    places = [
        ended.out.index(said) for said in ("is said to be", "mass in air", "pushed aside", AGAINST, "hand magnet")
    ]
    assert places == sorted(places)
    assert "Most useful next" in ended.out


def test_of_a_later_answer_only_what_changed_is_printed(ask: Callable[..., Run], tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text('[readings]\nown = ["magnet", "conductivity"]\n')
    said = ask(*BAR, "no", "61 %IACS", options=("--settings", "shop.toml")).out
    before, after = said.split("electrical conductivity")
    fixed = language().say("caution", "fixed")[:40]
    assert (before.count(AGAINST), before.count("pushed aside 3.64 g"), before.count(fixed)) == (1, 1, 1)
    assert "Most likely" in after  # the meter is at odds with what the weighing said
    assert (after.count(fixed), after.count("Most useful next")) == (0, 0)


def test_the_answer_is_short_and_more_gives_all_of_it(ask: Callable[..., Run]) -> None:
    short, more = ask(*BAR).out, ask(*BAR, "more").out
    assert short.count("\n") <= 2 + 1 + 12 + 4  # how to answer, a blank line, the answer, and the last questions
    table = language().say("readings", "sees")  # a column of the long answer
    assert table not in short
    assert table in more
    assert "In full: more." in more


@pytest.mark.parametrize(
    ("slip", "said"),
    [
        ("300", "expected less than the mass in air, 31.18 g"),  # 300 typed for 3.00
        ("0.364", "expected a density from 0.5 to 25 g/cm3"),
        ("lots", "expected a mass"),
        ("27.54", "not 1.13 g/cm3. If it is the other number, write: in water 27.54"),
    ],
)
def test_a_slip_of_the_water_is_asked_for_again_with_the_reason(ask: Callable[..., Run], slip: str, said: str) -> None:
    ended = ask(*BAR[:3], slip, *BAR[3:], "none", "", "yes")
    assert said in " ".join(ended.out.split())
    assert read_piece("0117.toml") == Piece(
        name="0117", claim="silver 999", mass="31.18 g", displaced="3.64 g", magnet="none"
    )


def test_what_is_typed_twice_is_taken(ask: Callable[..., Run]) -> None:
    ask("", "", "10.7", "10", "10", "", "", "", "", "", "amber", "yes")  # amber: 1.07 g/cm3
    assert read_piece("amber.toml").displaced[0].value == 10


def test_the_other_number_of_a_weighing_is_taken_by_name(ask: Callable[..., Run]) -> None:
    ask(*BAR[:3], "in water 27.54", *BAR[4:], "", "", "yes")
    piece = read_piece("0117.toml")
    assert (piece.displaced, piece.in_water[0].value) == ((), 27.54)


def test_back_returns_to_the_question_before(ask: Callable[..., Run]) -> None:
    said = ask(
        "back", "0117", "silver 999", "3118", "back", "31.18", "3.64", "", "", "", "weak", "back", "no", "", "yes"
    )
    assert "This is the first question." in said.out
    piece = read_piece("0117.toml")
    assert piece.mass is not None
    assert (piece.mass.value, [r.text for r in piece.readings]) == (31.18, ["none"])


def test_after_back_enter_keeps_what_was_typed_and_a_dash_clears_it(ask: Callable[..., Run]) -> None:
    said = ask(*BAR[:5], "bar 50x28x2.6", "back", "back", "back", "back", "", "-", "", "", "", "none", "", "yes")
    for shown in ("mass in air, g [31.18]: ", "is said to be: ", "in water 27.54) [3.64]: ", "tube [bar 50x28x2.6]: "):
        assert shown in said.out
    assert read_piece("0117.toml") == Piece(
        name="0117", claim="silver 999", mass="31.18 g", bar="50x28x2.6", magnet="none"
    )


def test_after_back_over_a_shape_and_a_name_alone_all_is_kept(ask: Callable[..., Run]) -> None:
    back = ("back",) * 5
    ask("0117", "silver 999", "31.18", "in water 27.54", "", "bar", "50x28x2.6", "", *back, *[""] * 5, "no", "", "yes")
    piece = read_piece("0117.toml")
    assert (piece.in_water[0].value, piece.shape) == (27.54, ("bar", (50, 28, 2.6)))


@pytest.mark.parametrize(("reply", "word"), [("No", "none"), ("yes", "strong"), ("slightly", "weak")])
def test_a_magnet_is_answered_as_people_speak(ask: Callable[..., Run], reply: str, word: str) -> None:
    ask(*BAR, reply, "", "yes")
    assert [r.text for r in read_piece("0117.toml").readings] == [word]


def test_a_word_for_a_magnet_may_have_a_place() -> None:
    (reading,) = Piece(magnet="a little at the clasp").readings
    assert (reading.text, reading.place) == ("weak", "clasp")


def test_stones_size_and_hollow_are_offered_and_no_skips_them(ask: Callable[..., Run]) -> None:
    ask("0120", "18 ct yellow", "2.84", "0.19", "diamond 0.25 carat", "ring 19x17x3 mm", "yes", "", "", "yes")
    piece = read_piece("0120.toml")
    assert ([p.text for p in piece.parts], piece.hollow) == (["diamond 0.25 carat"], "possible")
    assert piece.shape == ("ring", (19.0, 17.0, 3.0))
    ask(*BAR[:4], "no", "none", "no", "", "", "yes")
    assert read_piece("0117.toml") == Piece(name="0117", claim="silver 999", mass="31.18 g", displaced="3.64 g")


def test_a_size_says_its_shape_and_a_question_mark_tells_how(ask: Callable[..., Run]) -> None:
    said = ask(*BAR[:5], "50x28x2.6", "?", "bar 50x28x2.6 mm").out
    assert "expected first one of bar, disc, ring, rod, sphere, tube" in said
    assert "tube: a tube (outer diameter x inner diameter x length)" in said


def test_only_what_the_shop_owns_is_asked_and_a_caution_stands_before_it(
    ask: Callable[..., Run], tmp_path: Path
) -> None:
    assert "electrical conductivity" not in ask(*BAR, "no").out
    (tmp_path / "shop.toml").write_text('[readings]\nown = ["conductivity", "acid", "surface composition"]\n')
    said = ask(*BAR, "no", "29.3 %IACS", "", options=("--settings", "shop.toml")).out
    assert said.index("electrical conductivity") < said.index("Acids burn") < said.index("acid on its streak")
    assert said.rindex("X-rays harm") < said.index("surface composition by X-rays")


def test_anything_else_is_taken_by_its_name(ask: Callable[..., Run]) -> None:
    said = ask(*BAR, "no", "streak white", "acid", "as silver", "wetting brushed", "colour blue", "", "yes").out
    assert said.rindex("Acids burn") > said.rindex("anything else") or said.count("Acids burn") >= 2
    assert 'expected one of "yellow", "red", "white", "grey"' in said
    piece = read_piece("0117.toml")
    assert ({r.kind: r.text for r in piece.readings}, piece.wetting) == (
        {"magnet": "none", "streak": "white", "acid": "as silver"},
        "brushed",
    )


def test_what_was_asked_before_is_mended_by_going_back(ask: Callable[..., Run]) -> None:
    said = ask(*BAR, "weak", "magnet none", "back", "none", "", "yes").out
    assert "Write back until that question comes again." in " ".join(said.split())
    assert [r.text for r in read_piece("0117.toml").readings] == ["none"]


def test_what_is_wrong_is_said_in_words(ask: Callable[..., Run]) -> None:
    said = ask(
        "0117", "silver 999", "bottle", "31.18", "3.64", "diamnd 1 carat", "[1]", "glass 400 g", "", "", "sometimes"
    ).out
    assert not any(mark in said for mark in ("{", "Traceback", "Error"))
    for words in (
        "expected a mass",
        "nearest known is",
        "expected a name and a mass",
        "expected more mass",
        "expected one",
    ):
        assert words in " ".join(said.split())


def test_the_end_asks_for_file_record_and_page_and_never_writes_over_another_piece(
    ask: Callable[..., Run], tmp_path: Path
) -> None:
    (tmp_path / "0117.toml").write_text('claim = "gold 999"\n')
    ended = ask(*BAR, "no", "", "0117", "yes", "yes", "yes")
    assert "expected a name without blanks that no file has yet" in ended.out
    assert "Record 1: " in ended.err
    assert sorted(os.listdir(tmp_path)) == ["0117-2.toml", "0117.html", "0117.toml"]
    assert read_piece("0117.toml").claim == "gold 999"


def test_the_end_of_the_input_writes_only_what_the_options_say(ask: Callable[..., Run], tmp_path: Path) -> None:
    assert ask(*BAR[:4]).code == 0
    assert os.listdir(tmp_path) == []
    ask(*BAR[:4], options=("new.toml", "--save"))
    assert os.listdir(tmp_path) == ["new.toml"]


@pytest.mark.parametrize("name", ["clear", "ring-2"])
def test_a_word_at_the_question_of_the_file_makes_none_unless_it_is_confirmed(
    ask: Callable[..., Run], tmp_path: Path, name: str
) -> None:
    assert f"write a new file {name}.toml: yes or no" in ask(*BAR, "no", "", name, "no", "no").out
    assert os.listdir(tmp_path) == []
    ask(*BAR, "no", "", name, "yes")
    assert os.listdir(tmp_path) == [f"{name}.toml"]


def test_a_question_mark_explains_every_question_with_two_examples(ask: Callable[..., Run]) -> None:
    said = " ".join(
        ask("?", "", "?", "", "?", "31.18", "?", "3.64", "?", "", "", "", "?", "", "", "?", "", "?").out.split()
    )
    for words in (
        "0117 or old ring",
        "silver 999 or 18 ct yellow",
        "31.18 or 1 ozt",
        "3.64 or, weighed twice, 3.64 3.63",
    ):
        assert f"For example: {words}." in said
    for key in ("file", "record"):
        assert language().say("ask", key) in said


def test_every_example_can_be_read() -> None:
    from alloysolve.inputs.piece import SCHEMA

    say = language()
    for key in set(SCHEMA) - {"reading", "wetting"}:
        one, other = re.split(" or,? ", say.say("example", key))
        beside = {"mass": "31.18"} if key in ("displaced", "in_water") else {}
        for text in (one, other.removeprefix("weighed twice, ")):
            if text not in ("no", "old ring"):  # said of what need not be given
                assert Piece(**{key: text}, **beside) != Piece(**beside), (key, text)


def test_a_slip_that_ends_in_a_question_has_no_full_stop_after_it(ask: Callable[..., Run]) -> None:
    said = ask("", "half crwn 1935").out
    assert "?." not in said


def test_nothing_measured_leads_back_to_the_weighing(ask: Callable[..., Run]) -> None:
    ended = ask("0117", "silver 999", *[""] * 6, "31.18", "3.64", "", "", "", "no")
    assert language().say("ask", "unmeasured") in " ".join(ended.out.split())
    assert ended.out.index("so here is the weighing") < ended.out.index(AGAINST)


def test_size_and_mass_are_measured_enough(ask: Callable[..., Run]) -> None:
    assert AGAINST in ask("0117", "silver 999", "31.18", "", "", "bar 50x28x2.6", "", "").out


def test_ctrl_c_says_with_which_command_to_go_on(
    ask: Callable[..., Run], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    replies = iter(["0117", "silver 999", "31.18", "3.64", "diamond 0.25 ct", "", "", "none", "proof yes"])

    def typed(prompt: str) -> str:
        for reply in replies:
            return reply
        raise KeyboardInterrupt

    monkeypatch.setattr("builtins.input", typed)
    said = ask()
    assert os.listdir(tmp_path) == []
    assert (
        "alloysolve solve --ask --name 0117 --claim 'silver 999' --mass 31.18 --displaced 3.64 "
        "--parts 'diamond 0.25 ct' --magnet none --proof\n" in said.err
    )
    words = shlex.split(said.err.split("typed: alloysolve ")[1].splitlines()[0])
    monkeypatch.setattr("builtins.input", lambda prompt: "yes" if "save" in prompt else "")
    run_again = ask(options=tuple(word for word in words if word not in ("solve", "--ask")))
    assert run_again.code == 0
    assert read_piece("0117.toml") == Piece(
        name="0117",
        claim="silver 999",
        mass="31.18 g",
        displaced="3.64 g",
        parts=["diamond 0.25 ct"],
        magnet="none",
        proof=True,
    )


def test_two_readings_of_a_kind_are_in_the_line_to_go_on_with_and_come_back_from_it(
    ask: Callable[..., Run], monkeypatch: pytest.MonkeyPatch
) -> None:
    replies = iter([*BAR, "none", "acid 18 ct acid: gone", "acid 14 ct acid: stayed"])

    def typed(prompt: str) -> str:
        for reply in replies:
            return reply
        raise KeyboardInterrupt

    monkeypatch.setattr("builtins.input", typed)
    words = shlex.split(ask().err.split("typed: alloysolve ")[1].splitlines()[0])
    monkeypatch.setattr("builtins.input", lambda prompt: "yes" if "save" in prompt else "")
    assert ask(options=tuple(word for word in words if word not in ("solve", "--ask"))).code == 0
    readings = [reading.text for reading in read_piece("0117.toml").readings if reading.kind == "acid"]
    assert readings == ["18 ct acid: gone", "14 ct acid: stayed"]


def test_the_page_has_the_day_of_the_clock_that_may_be_set(
    ask: Callable[..., Run], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "951825600")  # 29 February 2000, noon in UTC
    ask(*BAR, "no", "", "", "", "yes")
    assert "2000-02-29" in Path("0117.html").read_text(encoding="utf-8")


def test_nothing_measured_is_said(ask: Callable[..., Run]) -> None:
    ended = ask("0117", "silver 999", "stop")
    assert (ended.code, "Nothing was measured that gives an answer." in ended.out) == (0, True)


def test_every_field_of_a_piece_can_be_given() -> None:
    from alloysolve.cli.questions import questions
    from alloysolve.inputs.piece import SCHEMA

    asked = [key for question in questions(Settings()) for key in question.keys]
    assert sorted(asked) == sorted(key for key in SCHEMA if key != "reading")
