"""Figures: what is drawn where, by the objects on the Axes."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

import alloysolve
from alloysolve.answer.solution import Solution, solve
from alloysolve.answer.sounding import Sounding, sounding
from alloysolve.figures.base import save, svg
from alloysolve.figures.candidate_bars import candidates
from alloysolve.figures.cross_section import Solid, magnification, section, section_words, solids
from alloysolve.figures.tone_spectrum import spectrum
from alloysolve.figures.water_bars import pushed_aside, water
from alloysolve.inputs.piece import Piece, read_piece
from alloysolve.inputs.settings import Settings
from alloysolve.pieces.shape import Form
from alloysolve.readings.recording import mean_spectrum
from alloysolve.words.language import language
from tests.conftest import EXAMPLES
from tests.readings.test_resonance import record

GIVEN = {"claim": "silver 999", "mass": "31.1 g", "disc": "38.6 x 2.98 mm"}


@pytest.fixture
def heard(tmp_path: Path) -> tuple[str, Sounding]:
    file = record(tmp_path / "tap.wav", ((7100, 0.08, 1.0), (12300, 0.03, 0.5)))
    return file, sounding(file, Piece(**GIVEN, displaced="3.64 g"), Settings())


def labels(ax: Axes) -> list[str]:
    return [t.get_text() for t in ax.get_yticklabels()]


def test_tones_are_labelled_in_hz_where_they_are(heard: tuple[str, Sounding]) -> None:
    ax = spectrum(*mean_spectrum(heard[0]), heard[1], language())
    at = {t.get_text(): t.xy[0] for t in ax.texts}
    assert at == {"7100 Hz": pytest.approx(7.1, rel=1e-3), "12300 Hz": pytest.approx(12.3, rel=1e-3)}
    x, y = ax.lines[0].get_data()
    assert x[np.argmax(y)] == pytest.approx(7.1, rel=0.01)


def test_each_candidate_has_a_row_with_its_tones(heard: tuple[str, Sounding]) -> None:
    ax = spectrum(*mean_spectrum(heard[0]), heard[1], language())
    row = labels(ax).index("as claimed: silver 999")
    y = ax.get_yticks()[row]
    ticks = [line for line in ax.lines[1:] if np.ptp(line.get_ydata()) < 7 and abs(np.mean(line.get_ydata()) - y) < 1]
    claim = heard[1].candidates[0]
    assert sorted(float(t.get_xdata()[0]) for t in ticks) == pytest.approx([claim.first / 1e3, claim.second / 1e3])
    assert len(labels(ax)) == len(set(labels(ax)))
    assert y < -60  # below the spectrum


def test_nothing_but_greys(heard: tuple[str, Sounding]) -> None:
    from matplotlib.colors import to_rgb

    ax = spectrum(*mean_spectrum(heard[0]), heard[1], language())
    colours = [line.get_color() for line in ax.lines] + [c for p in ax.collections for c in p.get_facecolor()]
    assert all(len({round(float(x), 6) for x in to_rgb(c)}) == 1 for c in colours)


def test_it_draws_where_it_is_told_and_without_candidates(heard: tuple[str, Sounding]) -> None:
    mine = Figure().subplots()
    bare = sounding(heard[0], Piece(), Settings())
    assert spectrum(*mean_spectrum(heard[0]), bare, language(), ax=mine) is mine
    assert labels(mine)[-1] == "-60 dB"


@pytest.mark.parametrize("suffix", ["svg", "png"])
def test_the_same_recording_gives_the_same_file(heard: tuple[str, Sounding], tmp_path: Path, suffix: str) -> None:
    files = [tmp_path / f"{n}.{suffix}" for n in range(2)]
    for file in files:
        save(spectrum(*mean_spectrum(heard[0]), heard[1], language()), str(file))
    assert files[0].read_bytes() == files[1].read_bytes()


@pytest.fixture(scope="module")
def bar() -> Solution:
    """A bar of 28.0 x 2.60 mm across, said to be silver."""
    return solve(read_piece(EXAMPLES / "0117-silver-bar.toml"), Settings())


def boxes(ax: Axes) -> list[tuple[float, float]]:
    return [(p.get_width(), p.get_height()) for p in ax.patches if isinstance(p, Rectangle)]


def test_water_is_two_bars_in_grams_with_ranges(bar: Solution) -> None:
    """31.18 g / 10.49 g/cm3 (silver, handbooks) x 0.9982 g/cm3 = 2.967 g; read: the mean of 3.64 and 3.63 g."""
    ax = water(bar, language())
    assert [w for w, _ in boxes(ax)] == pytest.approx([2.967, 3.635], rel=2e-3)
    value, low, high = pushed_aside(bar.document) or (0.0, 0.0, 0.0)
    assert 0.97 * value < low < value < high < 1.03 * value
    assert labels(ax) == ["as claimed", "this piece"]


def test_without_a_claim_or_water_there_is_nothing_to_compare() -> None:
    bare = solve(Piece(density="8.53 g/cm3"), Settings())
    assert pushed_aside(bare.document) is None
    assert boxes(water(bare, language())) == []


def test_the_cut_is_to_scale_and_says_how_much_the_layer_is_magnified(bar: Solution) -> None:
    layered = bar.document.first_system.layer
    (outer, inner), times = boxes(section(bar, language())), magnification(bar.document, layered)
    assert outer == pytest.approx((28.0, 2.6))
    layer = (outer[1] - inner[1]) / 2
    assert layer == pytest.approx((outer[0] - inner[0]) / 2)
    assert layer == pytest.approx(times * layered.um[1] / 1000)
    assert 0.05 * 2.6 < layer <= 0.15 * 2.6
    assert f"drawn {times} times thicker" in section_words(bar.document, language())[2]


def test_faces_of_a_clad_coin_take_a_third_of_its_thickness() -> None:
    """The published share of clad coin stock: one third by mass of metals of nearly one density (coins.csv)."""
    coin = solve(read_piece(EXAMPLES / "0130-quarter.toml"), Settings())
    outer, core = boxes(section(coin, language()))
    assert outer == pytest.approx((24.26, 1.75))
    assert core[0] == outer[0]
    assert 1 - core[1] / outer[1] == pytest.approx(1 / 3, abs=0.03)


@pytest.mark.parametrize(
    ("given", "shares"),
    [
        (Form("ring", (21.0, 18.6, 2.4)), [(1.2, 2.4), (1.2, 2.4)]),
        (Form("rod", (6.0, 40.0)), [(6.0, 6.0)]),
        (Form("sphere", (9.0,)), [(9.0, 9.0)]),
        (Form("tube", (10.0, 8.0, 30.0)), [(10.0, 10.0)]),
    ],
)
def test_the_outline_of_every_shape(given: Form, shares: list[tuple[float, float]]) -> None:
    found = solids(given)
    assert np.allclose([(s.width, s.height) for s in found], shares)
    assert all(s.least <= min(s.width, s.height) for s in found)


def test_what_lies_inside_takes_its_share_of_the_volume() -> None:
    part = Solid(0.0, 30.0, 3.0).inside(0.125)
    assert (part.width, part.height) == pytest.approx((15.0, 1.5))  # half of every length is an eighth of the volume


def test_candidates_have_a_row_each_and_one_for_the_claim(bar: Solution) -> None:
    """Handbooks: brass of 60 to 80 % copper 8.4 to 8.7 g/cm3, silver 10.49."""
    ax = candidates(bar, language())
    assert labels(ax)[0] == "as claimed"
    assert len(labels(ax)) == len(set(labels(ax))) == len(ax.containers)
    dots = [float(c[0].get_xdata()[0]) for c in ax.containers]
    assert dots[0] == pytest.approx(10.49, abs=0.02)
    assert 8.3 < dots[1] < 8.8
    line = next(x for x in ax.lines if len(x.get_xdata()) == 2 and x.get_xdata()[0] == x.get_xdata()[1])
    assert line.get_xdata()[0] == bar.density.value


def test_predictions_do_not_know_the_density_that_was_read() -> None:
    """A tungsten-like density says nothing of what brass would weigh (8.4 to 8.9 g/cm3, handbooks)."""
    from alloysolve.answer.predicted import predicted_densities

    given = {"claim": "silver 999", "conductivity": "28 %IACS"}
    near, far = (solve(Piece(**given, density=f"{d} g/cm3"), Settings()) for d in (8.5, 8.75))
    of = [{x.metals: span for x, span in predicted_densities(s, 6)} for s in (near, far)]
    assert of[0]["Cu", "Zn"] == pytest.approx(of[1]["Cu", "Zn"], rel=1e-6)
    assert 8.3 < of[0]["Cu", "Zn"][0] < 8.9


@pytest.mark.parametrize("figure", [water, section, candidates])
def test_figures_of_a_page_draw_where_they_are_told_in_greys_only(bar: Solution, figure: Callable[..., Axes]) -> None:
    from matplotlib.colors import to_rgb

    mine = Figure().subplots()
    assert figure(bar, language(), ax=mine) is mine
    colours = [x.get_color() for x in mine.lines]
    colours += [c for p in mine.patches for c in (p.get_facecolor(), p.get_edgecolor())]
    assert all(len({round(float(v), 6) for v in to_rgb(c)}) == 1 for c in colours)


def test_an_svg_element_is_the_same_twice_and_ids_have_its_name(bar: Solution) -> None:
    one, two = (svg(water(bar, language()), "water") for _ in range(2))
    assert one == two
    assert one.startswith("<svg ")
    assert set(re.findall(r'\bid="(\w+)-', one)) == {"water"}
    assert "metadata" not in one


SOLVED = ("candidates", "density_map", "ternary", "skin_and_core", "section", "water")


def in_grey(ax: Axes) -> bool:
    from matplotlib.colors import to_rgb

    colours = [x.get_color() for x in ax.lines]
    colours += [c for p in ax.patches for c in (p.get_facecolor(), p.get_edgecolor())]
    colours += [c for p in ax.collections for c in (*p.get_facecolor(), *p.get_edgecolor())]
    return all(len({round(float(v), 6) for v in to_rgb(c)}) == 1 for c in colours)


@pytest.mark.parametrize("name", SOLVED)
def test_every_figure_is_a_library_function_that_takes_axes_and_is_grey(bar: Solution, name: str) -> None:
    import mpltern  # noqa: F401

    kind = {"projection": "ternary"} if name == "ternary" else None
    mine = Figure().subplots(subplot_kw=kind)
    draw = getattr(alloysolve.figures, name)
    assert draw(bar, ax=mine) is mine
    assert in_grey(mine)
    assert isinstance(draw(bar), Axes)


def test_public_figures_are_these_and_load_no_library_until_they_draw() -> None:
    assert alloysolve.figures.__all__ == sorted((*SOLVED, "routine", "spectrum"))
    code = "import sys, alloysolve; alloysolve.figures.water; print('matplotlib' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout == "False\n"


def test_the_map_has_the_ellipse_of_both_readings_and_marks_of_candidates(bar: Solution) -> None:
    """29.3 %IACS was read; 28 is brass (copper development tables), silver over 100. Two errors at once: 2.448 u."""
    from matplotlib.patches import Ellipse

    ax = alloysolve.figures.density_map(bar)
    (ellipse,) = (p for p in ax.patches if isinstance(p, Ellipse))
    assert ellipse.get_center()[1] == pytest.approx(29.3)
    assert bar.density is not None
    assert ellipse.width == pytest.approx((bar.density.high - bar.density.low) * 2.448 / 1.960)
    at = {c.get_label(): (float(c[0].get_xdata()[0]), float(c[0].get_ydata()[0])) for c in ax.containers}
    assert at["as claimed"] == pytest.approx((10.49, 106), rel=0.03)
    brass = next(v for k, v in at.items() if k.startswith("brass"))
    assert 8.3 < brass[0] < 8.8
    assert 25 < brass[1] < 33


def test_without_a_meter_the_map_has_a_band_and_conductivities_of_bodies() -> None:
    """Silver 900 with copper: 85 to 90 %IACS; zinc and lead alloys far below (handbooks)."""
    crown = solve(read_piece(EXAMPLES / "0119-silver-crown.toml"), Settings())
    ax = alloysolve.figures.density_map(crown)
    at = {c.get_label(): float(c[0].get_ydata()[0]) for c in ax.containers}
    assert 80 < at["as claimed"] < 95
    assert all(0 < v < 107 for v in at.values())


def test_the_strip_of_the_triangle_holds_brass_of_that_density(bar: Solution) -> None:
    """C26000, 70 % copper and 30 % zinc, has 8.53 g/cm3 (published); pure copper 8.96, zinc 7.13."""
    from matplotlib.path import Path as Outline

    ax = alloysolve.figures.ternary(bar, ("Cu", "Zn", "Sn"))
    light = ax.collections[0]

    def inside(copper: float, zinc: float) -> bool:
        x, y = ax.transProjection.transform([[copper, zinc, 100 - copper - zinc]])[0]
        return any(Outline(p.vertices, p.codes).contains_point((x, y)) for p in light.get_paths())

    assert inside(70, 29.5)
    assert not inside(99, 0.5)
    assert not inside(20, 79.5)
    with pytest.raises(alloysolve.InputError, match="three metals"):
        alloysolve.figures.ternary(bar, ("Cu", "Zn"))
    with pytest.raises(alloysolve.InputError, match="a piece with a density"):
        alloysolve.figures.ternary(solve(Piece(claim="silver 999", magnet="none"), Settings()))


def test_skins_stand_over_their_cores(bar: Solution) -> None:
    ax = alloysolve.figures.skin_and_core(bar)
    at = {c.get_label(): (float(c[0].get_xdata()[0]), float(c[0].get_ydata()[0])) for c in ax.containers}
    assert 8.3 < at["silver over brass"][0] < 8.8
    plated = next(c for c in bar.found[0].constructions if c.skin_um)
    assert plated.skin_um is not None
    assert at["silver over brass"][1] == pytest.approx(plated.skin_um[1])
    assert ax.get_yscale() == "log"


def test_routine_has_one_bar_a_class_as_long_as_the_share_shown() -> None:
    found = alloysolve.routine({"claim": "silver 999", "mass": "31.1 g"}, ["weighing"])
    mine = Figure().subplots()
    assert alloysolve.figures.routine(found, ax=mine) is mine
    assert [p.get_width() for p in mine.patches] == pytest.approx([100 * c.shown for c in found.classes])
    assert labels(mine)[0] == language().say("blind", found.classes[0].name)
    assert in_grey(mine)


def test_the_spectrum_of_a_recording_from_the_library(tmp_path: Path) -> None:
    file = record(tmp_path / "tap.wav", ((7100, 0.08, 1.0),))
    mine = Figure().subplots()
    assert alloysolve.figures.spectrum(file, Piece(**GIVEN), Settings(), ax=mine) is mine
    assert [t.get_text() for t in mine.texts] == ["7100 Hz"]


def test_a_triangle_in_fractions_is_not_labelled_percent() -> None:
    import mpltern  # noqa: F401  (registers the projection)
    from matplotlib import pyplot

    from alloysolve import Piece, figures, solve

    s = solve(Piece(density="8.53 g/cm3"))
    for total, unit in ((1.0, False), (100.0, True)):
        ax = pyplot.figure().add_subplot(projection="ternary", ternary_sum=total)
        assert ("%" in figures.ternary(s, ["Cu", "Zn", "Ni"], ax=ax).get_tlabel()) is unit
    pyplot.close("all")
