"""Figures: what is drawn where, by the objects on the Axes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from alloysolve.explain.figures import save, spectrum
from alloysolve.explain.language import language
from alloysolve.inverse.piece import Piece
from alloysolve.inverse.recording import mean_spectrum
from alloysolve.inverse.settings import Settings
from alloysolve.inverse.sounding import Sounding, sounding
from tests.inverse.test_kind_resonance import record

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
