"""Figures in black and grey, each drawn into Axes that the caller may style.

Those of a page are drawn from data in the types of JSON, so that a stored page can be printed without solving again.
"""

from __future__ import annotations

from importlib.util import find_spec

from .base import mark_decimals, svg
from .cross_section import SectionDrawing, draw_section, section_drawing, section_words
from .water_bars import WaterDrawing, draw_water, pushed_aside, water_drawing

__all__ = [
    "SectionDrawing",
    "WaterDrawing",
    "can_draw",
    "picture_svg",
    "pushed_aside",
    "section_drawing",
    "section_words",
    "water_drawing",
]


def can_draw() -> bool:
    """Whether matplotlib, which draws, is installed."""
    return find_spec("matplotlib") is not None


def picture_svg(name: str, drawing: WaterDrawing | SectionDrawing, decimal_mark: str = ".") -> str:
    """A figure of a page as an SVG element."""
    ax = draw_water(drawing) if isinstance(drawing, WaterDrawing) else draw_section(drawing)
    mark_decimals(ax, decimal_mark)
    return svg(ax, name)
