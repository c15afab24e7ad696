"""What a call is given is what it uses: contents of files, not their names, and nothing from the user's folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from alloysolve import (
    AlloysolveError,
    InputError,
    Piece,
    Settings,
    Tables,
    bounds,
    constructions,
    find_settings,
    mixtures,
    routine,
    solve,
    solve_many,
    weigh,
)
from alloysolve.answer.sounding import sounding
from alloysolve.inputs.settings import tables_of, user_settings_file
from alloysolve.published.load import folder

BRASS = Piece(density="8.54 +- 0.05 g/cm3")


def test_an_edited_prior_file_gives_new_answers_and_an_old_answer_keeps_its_hash(tmp_path: Path) -> None:
    file = tmp_path / "own.csv"
    file.write_text("family,weight\nbrass,1\nsilver,1\n", encoding="utf-8")
    first = solve(BRASS, prior=file)
    file.write_text("family,weight\ntin,1\nsilver,1\n", encoding="utf-8")
    second = solve(BRASS, prior=str(file))
    assert first.found[0].metals != second.found[0].metals or first.found[0].probability != second.found[0].probability
    hashes = [json.loads(s.to_json())["prior"]["sha256"] for s in (first, second)]
    assert hashes[0] != hashes[1]
    again = tmp_path / "same.csv"
    again.write_text("family,weight\nbrass,1\nsilver,1\n", encoding="utf-8")
    assert json.loads(solve(BRASS, prior=again).to_json())["prior"]["sha256"] == hashes[0]


def test_an_edited_table_is_another_table_and_the_same_contents_are_the_same(tmp_path: Path) -> None:
    file = tmp_path / "metals.csv"
    head, *rows = (folder() / "metals.csv").read_text(encoding="utf-8").splitlines()
    zinc = next(row for row in rows if row.startswith("Zn,"))
    file.write_text(f"{head}\n{zinc}\n", encoding="utf-8")
    shop = Settings.from_dict({"tables": {"extra": [str(file)]}})
    before, twin = tables_of(shop), Tables(str(file))
    assert tables_of(shop) is before
    assert (twin, hash(twin)) == (before, hash(before))
    file.write_text(f"{head}\n{zinc.replace('7.134', '6.134')}\n", encoding="utf-8")
    after = tables_of(shop)
    assert (before.metals["Zn"].density_g_cm3, after.metals["Zn"].density_g_cm3) == (7.134, 6.134)
    assert after != before
    assert solve(BRASS, shop).found[0].probability != solve(BRASS, tables=before).found[0].probability


def test_the_settings_file_of_a_user_changes_no_call(tmp_path: Path) -> None:
    file = user_settings_file()
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text('scale.step = "0.5 g"\nanswers.language = "de"\n', encoding="utf-8")
    piece = {"claim": "silver 999", "mass": "31.18 g", "displaced": "2.97 g"}
    assert find_settings().scale.step.value == 0.5
    assert solve(piece).to_json() == solve(piece, Settings()).to_json()
    assert solve(piece, find_settings()).density.u > 3 * solve(piece).density.u
    assert routine(piece, ["weighing"]).step_g == 0.01
    source = tmp_path / "list.csv"
    source.write_text("claim,mass,displaced\nsilver 999,31.18,2.97\n", encoding="utf-8")
    for name, shop in (("a.csv", None), ("b.csv", Settings())):
        solve_many(source, tmp_path / name, settings=shop)
    assert (tmp_path / "a.csv").read_bytes() == (tmp_path / "b.csv").read_bytes()
    file.write_text("nonsense", encoding="utf-8")
    assert solve(piece).to_json()
    with pytest.raises(InputError):
        sounding("nowhere.wav", Piece(**piece))


def test_settings_are_read_wherever_they_come_in() -> None:
    step = {"scale": {"step": "0.1 g"}}
    assert Settings(scale={"step": "0.1 g"}) == Settings.from_dict(step)
    piece = Piece(mass=31.1, displaced=3.0)
    assert solve(piece, step).to_json() == solve(piece, Settings.from_dict(step)).to_json()


def test_a_row_of_a_frame_is_solved() -> None:
    row = pd.Series({"mass": 31.1, "displaced": 3.0, "claim": None, "magnet": float("nan")})
    assert solve(row).to_json() == solve({"mass": 31.1, "displaced": 3.0}).to_json()


REFUSED: list[tuple[str, dict[str, Any]]] = [
    ("settings", {"settings": "shop.toml"}),
    ("settings.scale.stp", {"settings": {"scale": {"stp": "0.1 g"}}}),
    ("tables", {"tables": "grades.csv"}),
    ("prior", {"prior": "nonsense"}),
    ("prior", {"prior": 3}),
    ("prior", {"prior": Path("nowhere.csv")}),
    ("piece", {"piece": "silver 999"}),
    ("piece", {"piece": None}),
    ("piece", {"piece": 3}),
]


@pytest.mark.parametrize(("path", "given"), REFUSED, ids=lambda x: str(x)[:50])
def test_what_a_call_cannot_use_is_an_error_that_names_it(path: str, given: dict[str, Any]) -> None:
    with pytest.raises(AlloysolveError) as error:
        solve(**({"piece": BRASS} | given))
    assert error.value.path == path
    assert len(str(error.value)) < 300
    assert error.value.next_step


@pytest.mark.parametrize("scale", ["0.1 g", {"stp": "0.1 g"}, 3])
def test_settings_that_are_none_are_refused(scale: Any) -> None:
    with pytest.raises(InputError, match=r"settings\.scale"):
        Settings(scale=scale)


def test_numpy_set_to_raise_breaks_no_call() -> None:
    """Chances that underflow to zero are meant; what the caller wants of his own arrays is not what we mean."""
    piece = Piece(claim="silver 999", mass=31.18, displaced=3.64, magnet="none", conductivity="29.3 %IACS")
    with np.errstate(all="raise"):
        told = solve(piece).to_json()
        assert mixtures(weigh(np.array([31.0, np.nan]), np.array([3.0, 1.0])), "Ag Cu").reaches.tolist() == [
            True,
            False,
        ]
        assert len(bounds(8.5, "Cu Zn"))
        assert len(constructions("8.54 +- 0.02 g/cm3", claim="silver 999"))
    assert told == solve(piece).to_json()


@pytest.mark.parametrize("claim", ["9" * 10_000, "a" * 10_000, "silver " + "x1" * 5000, "silver " * 2000])
def test_an_error_shows_the_beginning_of_what_is_too_long(claim: str) -> None:
    with pytest.raises(InputError) as error:
        solve({"claim": claim, "mass": 31.1, "displaced": 3.0})
    assert len(str(error.value)) < 300
    assert str(error.value.given).startswith(claim[:1000])  # all of it, for who asks
