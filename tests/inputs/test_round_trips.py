"""What is written is read back as the same piece, however it was given and whatever is added to its file."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alloysolve import InputError, Measured, Piece, read_piece
from alloysolve.inputs.piece import save_piece
from alloysolve.units import parse

NUMBERS = st.sampled_from(["8.5", "8,50", "8", "8.54", "0.85e1"])
SPREADS = st.sampled_from(["", " +- 1 %", "+-0,02", " ± 0.1", " +/- 2%"])
UNITS = {
    "mass": ["", " g", " mg", " ozt", " dwt"],
    "density": ["", " g/cm3", " kg/m3"],
    "sphere": ["", " mm", " cm", " inch"],
    "sound_speed": [" km/s", " mm/us"],
    "conductivity": [" MS/m", " %IACS", " uohm cm"],
}


@st.composite
def quantities(draw: st.DrawFn) -> tuple[str, str]:
    """A field of a piece, with a value whose unit stands behind the number, behind the uncertainty, or nowhere."""
    name = draw(st.sampled_from(sorted(UNITS)))
    number, spread, unit = draw(NUMBERS), draw(SPREADS), draw(st.sampled_from(UNITS[name]))
    if name == "density" and "kg" in unit:
        number = number.replace("8", "8000", 1).partition(".")[0].partition(",")[0]
    return name, f"{number}{unit}{spread}" if draw(st.booleans()) else f"{number}{spread}{unit}"


@given(quantities())
def test_a_value_is_read_back_from_what_is_written(given_: tuple[str, str]) -> None:
    name, text = given_
    try:
        piece = Piece(**{name: text})
    except InputError:  # out of the limits of its field
        return
    again = Piece.from_dict(json.loads(json.dumps(piece.to_dict())))
    assert again == piece


@pytest.mark.parametrize(
    ("text", "dimension", "value", "u", "written"),
    [
        ("8.5 +- 1 %", "density", 8.5, 0.085, "8.5 g/cm3 +- 1 %"),
        ("8.5 +- 1 % g/cm3", "density", 8.5, 0.085, "8.5 +- 1 % g/cm3"),
        ("8500 +- 1 % kg/m3", "density", 8.5, 0.085, None),
        ("38.6+-1%", "length", 38.6, 0.386, "38.6 mm +- 1 %"),
        ("29 +- 1 % IACS", "conductivity", 16.82, 0.58, None),  # the unit is %IACS
        ("29 +- 1 % %IACS", "conductivity", 16.82, 0.1682, None),
        ("29 +- 1 % MS/m", "conductivity", 29.0, 0.29, None),
    ],
)
def test_a_relative_uncertainty_may_stand_before_the_unit_or_without_one(
    text: str, dimension: str, value: float, u: float, written: str | None
) -> None:
    q = parse(text, dimension, "x")
    assert (q.value, q.u) == (pytest.approx(value), pytest.approx(u))
    again = parse(q.text, dimension, "x")
    assert (again.value, again.u) == (q.value, q.u)
    assert written is None or q.text == written


def test_a_bare_conductivity_is_queried_with_a_relative_uncertainty_too() -> None:
    with pytest.raises(InputError, match="a number with its unit"):
        Piece(conductivity="29 +- 1 %")


READINGS: list[dict[str, Any]] = [
    {"kind": "magnet", "value": "none"},
    {"kind": "magnet", "value": "weak", "place": "clasp"},
    {"kind": "conductivity", "value": "29.3 %IACS"},
    {"kind": "conductivity", "value": "29.9 %IACS", "frequency": "60 kHz"},
    {"kind": "colour", "value": "white"},
    {"kind": "surface composition".replace(" ", "_"), "value": "Ag 99.4 Cu 0.6"},
]
SHORT = {"magnet": "none", "conductivity": "29.3 %IACS", "colour": "white"}


@st.composite
def files(draw: st.DrawFn) -> dict[str, Any]:
    """A piece file with readings in tables, as shortcuts, or as both."""
    tables = draw(st.lists(st.sampled_from(READINGS), max_size=3))
    short = draw(st.lists(st.sampled_from(sorted(SHORT)), unique=True, max_size=2))
    document: dict[str, Any] = {"claim": "silver 999", "mass": "31.18 g"}
    document |= {kind: SHORT[kind] for kind in short}
    return document | ({draw(st.sampled_from(["reading", "readings"])): tables} if tables else {})


@given(files(), st.sampled_from(["", "magnet", "conductivity", "colour"]), st.sampled_from(["toml", "json"]))
def test_a_file_that_is_saved_holds_every_reading_once(document: dict[str, Any], added: str, form: str) -> None:
    import tomlkit

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, f"piece.{form}")
        file.write_text(json.dumps(document) if form == "json" else tomlkit.dumps(document), encoding="utf-8")
        piece = read_piece(file)
        piece = piece.with_(**{added: {"value": SHORT[added], "place": "edge"}}) if added else piece.with_(name="7")
        save_piece(piece, file)
        assert read_piece(file) == piece
        save_piece(piece, file)
        assert read_piece(file) == piece


def test_a_table_that_becomes_a_shortcut_does_not_stay_beside_it(tmp_path: Path) -> None:
    file = tmp_path / "piece.toml"
    file.write_text('[[reading]]\nkind = "conductivity"\nvalue = "29.3 %IACS"\n', encoding="utf-8")
    save_piece(read_piece(file).with_(magnet="none"), file)
    assert [r.kind for r in read_piece(file).readings] == ["magnet", "conductivity"]


@pytest.mark.parametrize("density", [Measured(8.5, 0.1, "g/cm3", 8.2, 8.6, 4.0), Measured(1.0, 0.4, "g/cm3")])
def test_a_measured_density_is_read_back(density: Measured) -> None:
    piece = Piece(density=density)
    assert Piece.from_dict(json.loads(json.dumps(piece.to_dict()))) == piece
