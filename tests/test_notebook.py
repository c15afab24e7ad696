"""Use in a notebook: columns in, frames out, what is shown of each object."""

from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pandas as pd
import pytest

import alloysolve as al
from tests.conftest import EXAMPLES

SETTINGS = al.Settings()


@pytest.fixture(scope="module")
def coins():
    return pd.read_csv(EXAMPLES / "series.csv").set_index("coin")


def test_ten_lines_of_a_numismatist(coins):
    """The fineness of each coin of a series, the coins that are no silver-copper, and what to cite."""
    rho = al.weigh(coins.mass_g, coins.displaced_g, water=coins.water_degC, scale_step="0.001 g")
    fine = al.mixtures(rho, metals=["Ag", "Cu"])
    odd = coins[~fine.reaches]
    assert list(fine.index) == list(coins.index)  # no coin is dropped
    assert list(odd.index) == ["L5", "L6"]  # not weighed dry; lighter than copper
    assert list(fine.reason[~fine.reaches]) == ["missing", "out_of_reach"]
    good = fine[fine.reaches]
    assert (good.Ag_low_percent < good.Ag_percent).all()
    assert (good.Ag_percent < good.Ag_high_percent).all()
    assert (good.u_reading_percent < good.u_model_percent).all()  # the step of this scale is finer than the law
    found = al.solve(
        al.Piece(mass=coins.mass_g["L2"], displaced=coins.displaced_g["L2"], surface_composition="Ag 96, Cu 4"),
        SETTINGS,
        prior="flat",
    )
    assert found.systems.metals[0].split()[0] == "Ag"
    silver = found.systems.query("metal == 'Ag'").iloc[0]
    assert silver.low_percent <= silver.likely_percent <= silver.high_percent
    assert len(al.Tables().version) == 12


def test_each_coin_of_a_column_is_that_coin_alone(coins):
    rho = al.weigh(coins.mass_g, coins.displaced_g, water=coins.water_degC, scale_step="0.001 g")
    one = al.weigh(24.873, 2.418, water=20.5, scale_step=0.001)
    assert rho[1].density == one.density
    assert rho.frame().loc["L2", "density_g_cm3"] == one.density.value


def test_a_weighing_is_no_density_by_itself(coins):
    """Its density alone would lose that air can only make a piece look lighter."""
    with pytest.raises(al.InputError, match="mass and displaced") as error:
        al.Piece(density=al.weigh(31.18, 3.64))
    assert error.value.path == "density"


def test_the_version_of_the_tables_changes_with_any_of_them(tmp_path):
    row = "symbol,molar_mass_g_mol"
    own = tmp_path / "metals.csv"
    shipped = (EXAMPLES.parent / "tables" / "metals.csv").read_text().splitlines()
    assert shipped[0].startswith(row.split(",")[0])
    own.write_text("\n".join(shipped[:2]) + "\n")
    assert al.Tables([own]).version != al.Tables().version
    assert al.Tables().version == al.Tables().version


class Checked(HTMLParser):
    """Text and tags of a snippet; every tag that opens closes, in order."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.open, self.text = [], [], ""
        self.feed(html)
        assert not self.open

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data


SHOWN = {
    "measured": lambda: al.Measured(8.54, 0.01, "g/cm3"),
    "weighing": lambda: al.weigh(31.18, 3.64),
    "weighings": lambda: al.weigh(np.full(400, 31.18), np.full(400, 3.64)),
    "solution": lambda: al.solve(al.Piece(claim="silver 999", mass=31.18, displaced=3.64), SETTINGS),
}


@pytest.mark.parametrize("name", SHOWN)
def test_what_a_notebook_shows_is_short_and_whole(name):
    html = SHOWN[name]()._repr_html_()
    shown = Checked(html)
    assert shown.text.strip()
    assert len(html) < 20_000
    assert len(shown.text) < 6000
    assert not set(shown.tags) & {"script", "iframe", "img", "link"}


def test_what_a_notebook_shows_says_the_main_thing():
    assert "8.540 g/cm3 (8.520 to 8.560, 95 %)" in SHOWN["measured"]()._repr_html_()
    weighing = Checked(SHOWN["weighing"]()._repr_html_()).text
    assert "g/cm3" in weighing
    assert "scale_step" in weighing
    solution = Checked(SHOWN["solution"]()._repr_html_()).text
    assert "contradicted" in solution
    assert "Cu Zn" in solution


def test_what_comes_from_outside_is_escaped():
    hostile = "<script>alert(1)</script>"
    assert "<script" not in al.Measured(1.0, 0.1, hostile)._repr_html_()
    plain = al.solve(al.Piece(claim="silver 999", mass=31.18, displaced=3.64), SETTINGS)
    html = replace(plain, claim=replace(plain.claim, text=hostile))._repr_html_()
    assert "<script" not in html
    assert "&lt;script" in html
