"""The spectrum of a recording with the tones of what a piece may be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..answer.sounding import Sounding, Tones
from ..arrays import Array
from ..words.language import Language
from ..words.resonance import named_candidates
from .base import DARK, LIGHT, MIDDLE, new_axes, open_frame

if TYPE_CHECKING:
    from matplotlib.axes import Axes


FLOOR_DB = -60.0  # lowest level of the spectrum that is drawn
ROW_DB = 7.0  # height of a row of predicted tones, on the same scale
MOST_ROWS, MOST_LABELS = 10, 6
NEAR = 0.01  # relative, within which the top of a tone is looked for
POINTS = 1500  # most points of the line; of more, the highest in each bin is drawn


def spectrum(frequency: Array, level: Array, sounding: Sounding, say: Language, ax: Axes | None = None) -> Axes:
    """Axes with the spectrum of a recording, its tones [Hz], and a row of predicted tones for each candidate.

    Parameters
    ----------
    frequency, level : [Hz], [dB below the strongest], as `readings.recording.mean_spectrum` gives them.
    ax : where to draw; a figure of its own if left out.

    A row shows the 95 % range of the lowest tone as a band, the lowest tone as a tall tick and the next one as a short
    tick. Tones that were heard run through all rows as dotted lines.
    """
    ax = ax or new_axes(8.0, 5.0)
    names, rows = zip(*named_candidates(sounding, say)[:MOST_ROWS], strict=True) if sounding.candidates else ((), ())
    highest = _highest(sounding, rows, float(frequency[-1]))
    x, y = _thinned(frequency / 1e3, np.maximum(level, FLOOR_DB), highest / 1e3)
    ax.plot(x, y, color=DARK, linewidth=0.8)
    _label(ax, sounding, say, (x, y), FLOOR_DB - ROW_DB * (len(rows) + 0.5))
    for n, c in enumerate(rows):
        _row(ax, c, FLOOR_DB - ROW_DB * (n + 1))
    levels = np.arange(0.0, FLOOR_DB - 1, -20.0)
    ax.set_yticks(
        [*levels, *(FLOOR_DB - ROW_DB * (n + 1) for n in range(len(rows)))],
        [*(say.say("sounding", "below", value=f"{v:.0f}") for v in levels), *names],
    )
    ax.set_xlim(0.0, highest / 1e3)
    ax.set_ylim(FLOOR_DB - ROW_DB * (len(rows) + 0.7), 12.0)
    ax.set_xlabel(say.say("sounding", "frequency"))
    open_frame(ax)
    return ax


def _highest(sounding: Sounding, rows: tuple[Tones, ...], end: float) -> float:
    """End of the axis [Hz]: a little beyond all tones that are shown."""
    shown = [*sounding.peaks.frequency.tolist(), *(c.second or c.high for c in rows), *(c.high for c in rows)]
    return float(min(end, 1.08 * max(shown, default=end)))


def _thinned(x: Array, y: Array, end: float) -> tuple[Array, Array]:
    """The part of a line up to `end`, the highest of each of at most `POINTS` bins."""
    x, y = x[x <= end], y[x <= end]
    step = max(1, len(x) // POINTS)
    n = len(x) // step * step
    return x[:n].reshape(-1, step)[:, 0], y[:n].reshape(-1, step).max(axis=1)


def _label(ax: Axes, sounding: Sounding, say: Language, drawn: tuple[Array, Array], lowest: float) -> None:
    """Draws a line through all rows for each tone that was heard, with the frequencies of the strongest on top."""
    p = sounding.peaks
    strongest = set(np.argsort(-p.level, kind="stable")[:MOST_LABELS].tolist())
    for k, khz in enumerate(p.frequency / 1e3):
        top = float(drawn[1][np.abs(drawn[0] / khz - 1) < NEAR].max(initial=FLOOR_DB))
        ax.plot([khz] * 2, [lowest, top], color=MIDDLE, linewidth=0.8, linestyle=":")
        if k in strongest:
            ax.annotate(
                say.say("sounding", "hertz", value=f"{1e3 * khz:.0f}"),
                (khz, top),
                xytext=(0, 4),
                textcoords="offset points",
                ha="center",
                fontsize="small",
            )


def _row(ax: Axes, c: Tones, y: float) -> None:
    """Draws one candidate: a band, a tall tick and a short tick."""
    ax.fill_between([c.low / 1e3, c.high / 1e3], y - 0.35 * ROW_DB, y + 0.35 * ROW_DB, color=LIGHT, linewidth=0)
    ax.plot([c.first / 1e3] * 2, [y - 0.35 * ROW_DB, y + 0.35 * ROW_DB], color=DARK, linewidth=1.8)
    if c.second:
        ax.plot([c.second / 1e3] * 2, [y - 0.2 * ROW_DB, y + 0.2 * ROW_DB], color=DARK, linewidth=1.2)
