"""What all figures share: greys, axes, and how they are written to files or put into a page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DARK, MIDDLE, LIGHT = "0.0", "0.45", "0.85"  # greys that stay apart when they are printed or copied, for every eye


Spread = tuple[float, float, float]
MARKS = "osD^vP<X"  # told apart by their shape


def new_axes(width: float, height: float, **kind: Any) -> Axes:
    """Axes in a figure of their own; sizes in inches."""
    from matplotlib.figure import Figure

    axes: Axes = Figure(figsize=(width, height), layout="constrained").subplots(subplot_kw=kind or None)
    return axes


def open_frame(ax: Axes, *sides: str) -> None:
    """Removes the sides of the frame that carry no scale."""
    for side in sides or ("top", "right"):
        ax.spines[side].set_visible(False)


def cross(ax: Axes, x: Spread, y: Spread, mark: str, name: str) -> None:
    """Draws a mark at the middles of two ranges, with bars; each range is (middle, low, high)."""
    ax.errorbar(
        x[0],
        y[0],
        xerr=[[x[0] - x[1]], [x[2] - x[0]]],
        yerr=[[y[0] - y[1]], [y[2] - y[0]]],
        color=MIDDLE,
        marker=mark,
        markersize=6,
        markerfacecolor="white",
        markeredgecolor=DARK,
        linewidth=0.9,
        linestyle="none",
        label=name,
    )


def legend_beside(ax: Axes) -> None:
    """Draws a legend to the right, unless there is nothing to name."""
    if ax.get_legend_handles_labels()[0]:
        ax.legend(loc="center left", bbox_to_anchor=(1.01, 0.5), frameon=False, fontsize="small")


def dots(ax: Axes, rows: list[tuple[str, float, float, float]]) -> None:
    """Draws rows from the top down: a name, and a dot at the middle of a bar from low to high."""
    places = range(len(rows))[::-1]
    for y, (_, middle, low, high) in zip(places, rows, strict=True):
        ax.errorbar(
            middle,
            y,
            xerr=[[middle - low], [high - middle]],
            color=DARK,
            marker="o",
            markersize=5,
            capsize=3,
            linewidth=1.2,
        )
    ax.set_yticks(places, [name for name, *_ in rows])
    ax.set_ylim(-0.6, max(len(rows), 1) - 0.4)


def mark_decimals(ax: Axes, mark: str) -> None:
    """Numbers of an axis with another decimal mark; labels that are words stay as they are."""
    from matplotlib.ticker import ScalarFormatter

    class Marked(ScalarFormatter):
        def __call__(self, x: float, pos: int | None = None) -> str:
            return super().__call__(x, pos).replace(".", mark)

    for axis in (ax.xaxis, ax.yaxis):
        if mark != "." and type(axis.get_major_formatter()) is ScalarFormatter:
            axis.set_major_formatter(Marked())


def _figure(ax: Axes) -> Figure:
    from matplotlib.figure import Figure

    assert isinstance(ax.figure, Figure)
    return ax.figure


def svg(ax: Axes, name: str) -> str:
    """The figure of some Axes as an SVG element for use inside a page; the same data give the same text.

    `name` begins every id, so that several figures can stand in one page. Letters are drawn as shapes, so that no font
    of the reader is needed. What only a file has (declaration, document type, origin) is left out.
    """
    import io
    import re

    from matplotlib import rc_context

    stream = io.StringIO()
    with rc_context({"svg.hashsalt": "alloysolve", "svg.fonttype": "path"}):
        _figure(ax).savefig(stream, format="svg", metadata={"Date": None}, transparent=True)
    text = stream.getvalue()
    text = re.sub(r"<metadata>.*?</metadata>|<!--.*?-->", "", text[text.index("<svg") :], flags=re.DOTALL)
    text = re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{name}-", text)
    return "\n".join(line.rstrip() for line in text.splitlines() if line.strip())


def save(ax: Axes, file: str, dots_per_inch: float = 150.0) -> None:
    """Writes the figure of some Axes to a PNG or SVG file; the same data give the same file."""
    from matplotlib import rc_context

    with rc_context({"svg.hashsalt": "alloysolve"}):
        _figure(ax).savefig(file, dpi=dots_per_inch, metadata={"Date": None} if file.lower().endswith(".svg") else None)
