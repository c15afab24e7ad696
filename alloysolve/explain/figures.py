"""Figures, in black and grey, each drawn into an Axes that the caller may style."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..inverse.predicted import predicted_densities
from ..inverse.solve import Solution
from ..inverse.sounding import Sounding, Tones
from .findings import body_words
from .language import Language
from .page_readings import span_words
from .page_words import layer_words, noun
from .resonance import named_candidates
from .section import DARK, LIGHT, MIDDLE, new_axes, section, section_words
from .words import grams

__all__ = ["candidates", "save", "section", "section_words", "spectrum", "svg", "water"]

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Array = NDArray[np.float64]

FLOOR_DB = -60.0  # of the spectrum that is drawn
ROW_DB = 7.0  # height of a row of predicted tones, on the same scale
MOST_ROWS, MOST_LABELS = 10, 6
NEAR = 0.01  # relative, within which the top of a tone is looked for
POINTS = 1500  # of the line; of more, the highest in each bin


def spectrum(frequency: Array, level: Array, sounding: Sounding, say: Language, ax: Axes | None = None) -> Axes:
    """The spectrum of a recording, its tones in Hz, and below it a row of predicted tones for each candidate.

    Parameters
    ----------
    frequency, level : [Hz], [dB below the strongest], as `inverse.recording.mean_spectrum` gives them.
    ax : where to draw; a figure of its own when left out.

    A row shows the 95 % range of the lowest tone as a band, the lowest tone as a tall tick, the next one as a short
    one; tones that were heard run through all rows as dotted lines.
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
    ax.set_yticks([*levels, *(FLOOR_DB - ROW_DB * (n + 1) for n in range(len(rows)))],
                  [*(say.say("resonance", "below", value=f"{v:.0f}") for v in levels),
                   *names])  # fmt: skip
    ax.set_xlim(0.0, highest / 1e3)
    ax.set_ylim(FLOOR_DB - ROW_DB * (len(rows) + 0.7), 12.0)
    ax.set_xlabel(say.say("resonance", "frequency"))
    _open(ax)
    return ax


def _highest(sounding: Sounding, rows: tuple[Tones, ...], end: float) -> float:
    """Where the axis ends [Hz]: a little beyond all tones that are shown."""
    shown = [*sounding.peaks.frequency.tolist(), *(c.second or c.high for c in rows), *(c.high for c in rows)]
    return float(min(end, 1.08 * max(shown, default=end)))


def _thinned(x: Array, y: Array, end: float) -> tuple[Array, Array]:
    """The part of a line up to `end`, the highest of each of at most `POINTS` bins."""
    x, y = x[x <= end], y[x <= end]
    step = max(1, len(x) // POINTS)
    n = len(x) // step * step
    return x[:n].reshape(-1, step)[:, 0], y[:n].reshape(-1, step).max(axis=1)


def _label(ax: Axes, sounding: Sounding, say: Language, drawn: tuple[Array, Array], lowest: float) -> None:
    """A line through all rows for each tone that was heard; the strongest with their frequency on top."""
    p = sounding.peaks
    strongest = set(np.argsort(-p.level, kind="stable")[:MOST_LABELS].tolist())
    for k, khz in enumerate(p.frequency / 1e3):
        top = float(drawn[1][np.abs(drawn[0] / khz - 1) < NEAR].max(initial=FLOOR_DB))
        ax.plot([khz] * 2, [lowest, top], color=MIDDLE, linewidth=0.8, linestyle=":")
        if k in strongest:
            ax.annotate(say.say("resonance", "hertz", value=f"{1e3 * khz:.0f}"), (khz, top), xytext=(0, 4),
                        textcoords="offset points", ha="center", fontsize="small")  # fmt: skip


def _row(ax: Axes, c: Tones, y: float) -> None:
    """One candidate: band, tall tick, short tick."""
    ax.fill_between([c.low / 1e3, c.high / 1e3], y - 0.35 * ROW_DB, y + 0.35 * ROW_DB, color=LIGHT, linewidth=0)
    ax.plot([c.first / 1e3] * 2, [y - 0.35 * ROW_DB, y + 0.35 * ROW_DB], color=DARK, linewidth=1.8)
    if c.second:
        ax.plot([c.second / 1e3] * 2, [y - 0.2 * ROW_DB, y + 0.2 * ROW_DB], color=DARK, linewidth=1.2)


def water(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """Water [g] that a piece as claimed would push aside, and that this one did: two bars with their ranges.

    The range of the claim is that of its alloys; that of the piece is the 95 % range of its density. Without a claim
    there is one bar; a piece that was not weighed in a liquid has none.
    """
    ax = ax or new_axes(4.6, 1.9)
    rows = []
    if s.advice.claim_displaced_g and s.claim and not s.claim.plated:
        low, high = s.advice.claim_displaced_g
        rows.append((say.say("page", "figure_claim"), (low + high) / 2, low, high))
    if (mine := pushed_aside(s)) is not None:
        rows.append((say.say("page", "figure_this", piece=noun(s, say)), *mine))
    end = 1.5 * max((high for *_, high in rows), default=1.0)
    for y, (_, value, low, high) in zip(range(len(rows))[::-1], rows, strict=True):
        ax.barh(y, value, height=0.55, color="white" if len(rows) > 1 and y else LIGHT, edgecolor=DARK, linewidth=0.8)
        ax.errorbar(value, y, xerr=[[value - low], [high - value]], color=DARK, capsize=5, linewidth=1.4)
        shown = grams(value) if y == 0 else span_words(f"{low:.2f} g", f"{high:.2f} g", say)
        ax.annotate(shown, (high, y), xytext=(6, 0), textcoords="offset points", va="center")
    ax.set_yticks(range(len(rows))[::-1], [name for name, *_ in rows])
    ax.set_xlim(0.0, end)
    ax.set_ylim(-0.6, max(len(rows), 1) - 0.4)
    ax.set_xlabel(say.say("page", "figure_grams"))
    _open(ax)
    return ax


def pushed_aside(s: Solution) -> tuple[float, float, float] | None:
    """Liquid that was pushed aside as read, and its 95 % range [g]; None for a piece not weighed in a liquid."""
    w = s.weighing
    if w is None or w.displaced_g is None:
        return None
    d, read = w.density, float(w.displaced_g)
    return read, read * d.value / d.high, read * d.value / d.low


def candidates(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """The density that each candidate, and the claim, would have: a dot with a bar; what was read as a vertical line.

    Dots and 95 % bars come from all readings but the density itself, and from what such pieces usually are; so they
    are predictions, which the line may meet or miss. Its band is the 95 % range of what was read.
    """
    ax = ax or new_axes(6.5, 3.2)
    rows = []
    if s.claim and s.advice.claim_density and not s.claim.plated:
        low, high = s.advice.claim_density
        rows.append((say.say("page", "figure_claim"), ((low + high) / 2, low, high)))
    for x, span in predicted_densities(s, MOST_ROWS - len(rows)):
        c = x.candidates[0]
        layer = layer_words(s, c, say, plain=True)
        name = body_words(s, c.family, x.metals, say) + layer
        if name in (other for other, _ in rows):
            name = "-".join(say.metal(m) for m in x.metals) + layer
        rows.append((name, span))
    for y, (_, (middle, low, high)) in zip(range(len(rows))[::-1], rows, strict=True):
        ax.errorbar(middle, y, xerr=[[middle - low], [high - middle]], color=DARK, marker="o", markersize=5,
                    capsize=3, linewidth=1.2)  # fmt: skip
    if s.density:
        ax.axvspan(s.density.low, s.density.high, color=LIGHT, linewidth=0, zorder=0)
        ax.axvline(s.density.value, color=MIDDLE, linewidth=1.2, zorder=1)
        ax.annotate(say.say("page", "figure_read"), (s.density.value, 1.0), xycoords=("data", "axes fraction"),
                    xytext=(0, 3), textcoords="offset points", ha="center")  # fmt: skip
    ax.set_yticks(range(len(rows))[::-1], [name for name, _ in rows])
    ax.set_ylim(-0.6, max(len(rows), 1) - 0.4)
    ax.set_xlabel(say.say("page", "figure_density"))
    _open(ax)
    return ax


def _open(ax: Axes) -> None:
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)


def svg(ax: Axes, name: str) -> str:
    """The figure of some Axes as an SVG element to stand inside a page; the same data give the same text.

    `name` : begins every id, so that several figures can stand in one page. Letters are drawn as shapes: no font of
    the reader's is needed. What a file has and an element has not (declaration, kind, origin) is left out.
    """
    import io
    import re

    from matplotlib import rc_context
    from matplotlib.figure import Figure

    assert isinstance(ax.figure, Figure)
    stream = io.StringIO()
    with rc_context({"svg.hashsalt": "alloysolve", "svg.fonttype": "path"}):
        ax.figure.savefig(stream, format="svg", metadata={"Date": None}, transparent=True)
    text = stream.getvalue()
    text = re.sub(r"<metadata>.*?</metadata>|<!--.*?-->", "", text[text.index("<svg") :], flags=re.DOTALL)
    text = re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{name}-", text)
    return "\n".join(line.rstrip() for line in text.splitlines() if line.strip())


def save(ax: Axes, file: str, dots_per_inch: float = 150.0) -> None:
    """The figure of some Axes as a PNG or SVG file; the same data give the same file."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    assert isinstance(ax.figure, Figure)
    with rc_context({"svg.hashsalt": "alloysolve"}):
        ax.figure.savefig(file, dpi=dots_per_inch, metadata={"Date": None} if file.lower().endswith(".svg") else None)
