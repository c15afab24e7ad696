"""What readings and layers are called: what was not weighed in water is no weighing, and layers are explained."""

import re
from pathlib import Path

import pytest

from alloysolve.answer.solution import solve
from alloysolve.inference.classes import MEDIUM_UM, THIN_UM
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.words.language import language
from alloysolve.words.proposals import next_line
from alloysolve.words.terminal import full_lines

SAY = language()
BAR = ["50 mm", "28 mm", "2.6 mm"]


def said(**given):
    return " ".join(full_lines(solve(Piece(**given), Settings()).document, SAY, 60))


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ({"displaced": "2.60 g"}, "weighing"),
        ({"density": "12.0 +- 0.02 g/cm3"}, "density"),
        ({"bar": BAR, "mass": "52 g"}, "dimensions"),  # 14.3 g/cm3
    ],
)
def test_a_density_is_named_by_how_it_was_found(given, name):
    text = said(claim="silver 999", resistivity="1.62 uohm cm", **({"mass": "31.2 g"} | given))
    assert ("weighing" in text.lower()) == (name == "weighing")
    assert name in text.lower()


def test_a_piece_weighed_in_air_only_is_to_be_weighed_in_water():
    d = solve(Piece(claim="silver 925", mass="40 g", magnet="none"), Settings()).document
    assert next_line(d, SAY) == "Most useful next: weighing in water."


def test_layers_are_explained_where_they_are_named_and_nowhere_else():
    quarter = {"claim": "US-25c-clad", "mass": "5.66 g", "displaced": "0.64 g", "magnet": "none"}
    explained = "A thin layer is up to 0.005 mm thick, a plated one up to 0.04 mm, a thick one more."
    assert explained in said(**quarter, disc=["24.26 mm", "1.75 mm"])
    assert "A thin layer is" not in said(claim="silver 999", mass="31.18 g", displaced="3.64 g")


def test_the_readme_and_the_code_agree_on_layers():
    readme = re.sub(r"\s+", " ", (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8"))
    assert f"called thin up to {THIN_UM / 1000:g} mm, plated up to {MEDIUM_UM / 1000:g} mm and thick beyond" in readme
