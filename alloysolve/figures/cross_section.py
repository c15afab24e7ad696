"""The cut through what fits best: the outline to scale, the layer magnified so that it can be seen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from ..answer.document import Document
from ..answer.parts import FormData
from ..answer.rows import AS_CLAIMED, Layer, Row
from ..answer.solution import Solution
from ..pieces.constructions import Place
from ..words.language import Language
from ..words.names import Names, body_words, claim_words, layer_phrase, part_words
from .base import DARK, LIGHT, MIDDLE, new_axes, open_frame

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import Patch

SIZE = (4.6, 1.9)
MAGNIFIED = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000)
MOST_DRAWN = 0.15  # of the least size: the greatest thickness at which a magnified layer is drawn

# the body is light, what covers it dark, what is inside hatched, empty space white
BODY: Mapping[str, Any] = {"facecolor": LIGHT, "edgecolor": DARK, "linewidth": 0.8}
INSIDE: Mapping[str, Any] = {**BODY, "facecolor": "white", "hatch": "////"}
STYLES: Mapping[str, Mapping[str, Any]] = {
    Place.OVER.value: {**BODY, "facecolor": MIDDLE},
    Place.VOID.value: {**BODY, "facecolor": "white", "linestyle": "--"},
    Place.FACES.value: INSIDE,
    Place.BESIDE.value: INSIDE,
    Place.INSIDE.value: INSIDE,
}


@dataclass(frozen=True, slots=True)
class Solid:
    """One closed part of a cut [mm]: a box about (x, y), or a round part, which may have a hole."""

    x: float
    width: float
    height: float
    round: bool = False
    hole: float = 0.0

    @property
    def least(self) -> float:
        """Least size [mm]: that of the wall if there is a hole."""
        return (self.width - self.hole) / 2 if self.hole else min(self.width, self.height)

    def within(self, depth: float) -> Solid:
        """The part of it that lies deeper than `depth`."""
        hole = self.hole + 2 * depth if self.hole else 0.0
        return Solid(self.x, self.width - 2 * depth, self.height - 2 * depth, self.round, hole)

    def inside(self, share: float) -> Solid:
        """A part of the same shape in the middle that has a share of the volume; lengths scale with its cube root."""
        if self.hole:
            return self.within(self.least / 2 * (1 - share ** (1 / 2)))
        k = share ** (1 / 3)
        return Solid(self.x, k * self.width, k * self.height, self.round)

    def patch(self, **style: Any) -> Patch:
        """The patch that draws it."""
        from matplotlib.patches import Annulus, Ellipse, Rectangle

        if self.hole:
            return Annulus((self.x, 0.0), self.width / 2, (self.width - self.hole) / 2, **style)
        if self.round:
            return Ellipse((self.x, 0.0), self.width, self.height, **style)
        return Rectangle((self.x - self.width / 2, -self.height / 2), self.width, self.height, **style)


@dataclass(frozen=True, slots=True)
class SectionDrawing:
    """What `draw_section` draws.

    Attributes
    ----------
    solids : each as in `Solid`. part : where that lies which is not the body, the value of a `Place`; size : its
        magnified thickness [mm], or its share. names : of body and part. Empty where nothing known fits.
    """

    solids: tuple[tuple[float, float, float, bool, float], ...]
    part: Literal["", "layer", "clad", "cored", "assembled", "void"]
    size: float
    names: tuple[str, ...]
    axis: str


def solids(form: FormData) -> list[Solid]:
    """The cut through a shape: across a bar or rod, through the axis of a disc or ring."""
    a = form.sizes
    match form.shape:
        case "bar":
            return [Solid(0.0, a[1], a[2])]
        case "disc":
            return [Solid(0.0, a[0], a[1])]
        case "ring":
            middle, wall = (a[0] + a[1]) / 4, (a[0] - a[1]) / 2
            return [Solid(-middle, wall, a[2]), Solid(middle, wall, a[2])]
        case "tube":
            return [Solid(0.0, a[0], a[0], True, a[1])]
    return [Solid(0.0, a[0], a[0], True)]


def drawn_layer(row: Row | None) -> Layer | None:
    """What is drawn on or in the body: what more of such pieces have than are bare."""
    layer = row.layer if row else None
    return layer if layer and layer.share >= layer.bare * (layer.built.place is Place.OVER) else None


def magnification(d: Document, layer: Layer | None) -> int:
    """How many times too thick the layer is drawn: 1, 2, 5, 10 ..."""
    if layer is None or not layer.um or layer.um[1] is None:
        return 1
    room = MOST_DRAWN * min(part.least for part in solids(d.form))
    return max((k for k in MAGNIFIED if k * layer.um[1] / 1000 <= room), default=1)


def section_words(d: Document, say: Language) -> tuple[str, str, str]:
    """Names of body and layer, and the words for the scale."""
    row = d.first_system
    layer, names = drawn_layer(row or d.row(AS_CLAIMED)), Names.of(d)
    times = magnification(d, layer)
    scale = say.say("page", "to_scale") if times == 1 else say.say("page", "magnified", times=times)
    if layer is not None and layer.built.hidden:
        scale += " " + say.say("page", "part_place")
    if not d.form.measured:
        scale += " " + say.say("page", "usual_form")
    if row is None:
        return (say.say("page", "quoted", text=claim_words(d, say)) if d.claim else "", "", scale)
    return body_words(names, row.family, row.metals, say), layer_phrase(layer, names, say), scale


def section_drawing(d: Document, say: Language) -> SectionDrawing:
    """The cut through what fits best."""
    axis = say.say("page", "figure_mm")
    if d.nothing_known:
        return SectionDrawing((), "", 0.0, (), axis)
    layer = drawn_layer(d.first_system or d.row(AS_CLAIMED))
    part, size = _part(layer, magnification(d, layer))
    names = [section_words(d, say)[0]]
    if layer is not None and part:
        names.append(part_words(Names.of(d), layer.part, say) if layer.part else say.say("page", "empty"))
    cut = solids(d.form)
    left = min(x.x - x.width / 2 for x in cut)  # where the scale in mm begins
    shifted = tuple((x.x - left, x.width, x.height, x.round, x.hole) for x in cut)
    return SectionDrawing(shifted, part, size, tuple(names), axis)  # type: ignore[arg-type]


def _part(layer: Layer | None, times: int) -> tuple[str, float]:
    """The part that is not the body, and how much of it is drawn."""
    if layer is not None and layer.um and layer.um[1] is not None:
        return layer.built.place.value, times * layer.um[1] / 1000
    if layer is not None and layer.percent and layer.percent[1] is not None:
        return layer.built.place.value, layer.percent[1] / 100
    return Place.NOWHERE.value, 0.0


def section(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """Axes with the cut through the likeliest construction; for a piece that fits the claim, through one as claimed.

    The outline is to scale, with lengths in mm. A layer is drawn `magnification` times thicker than it likely is.
    Nothing is drawn if something else is likelier than all that is known.
    """
    return draw_section(section_drawing(s.document, say), ax)


def draw_section(drawing: SectionDrawing, ax: Axes | None = None) -> Axes:
    """The cut as it is kept with a page."""
    from matplotlib.patches import Patch

    ax = ax or new_axes(*SIZE)
    if not drawing.solids:
        ax.set_axis_off()
        return ax
    part = drawing.part
    for solid in drawing.solids:
        for patch in _patches(Solid(*solid), part, drawing.size):
            ax.add_patch(patch)
    styles = (BODY, STYLES.get(part, BODY))
    names = [Patch(**style, label=name) for style, name in zip(styles, drawing.names, strict=False)]
    ax.set_aspect("equal")
    ax.autoscale_view()
    ax.margins(0.05, 0.25)
    ax.set_yticks([])
    ax.set_xlabel(drawing.axis)
    open_frame(ax, "top", "right", "left")
    ax.legend(handles=names, loc="lower center", bbox_to_anchor=(0.5, 1.02), ncols=len(names), frameon=False)
    return ax


def _patches(solid: Solid, part: str, size: float) -> list[Patch]:
    """Patches of one solid: its body, and what covers, fills or is joined to it."""
    whole, style = solid.patch(**BODY), STYLES.get(part, BODY)
    match part:
        case Place.OVER.value:
            return [solid.patch(**style), solid.within(size).patch(**BODY)]
        case Place.FACES.value:
            core = Solid(solid.x, solid.width, (1 - size) * solid.height, solid.round, solid.hole)
            return [solid.patch(**style), core.patch(**BODY)]
        case Place.BESIDE.value if not solid.round:
            end = Solid(solid.x + (1 - size) * solid.width / 2, size * solid.width, solid.height)
            return [whole, end.patch(**style)]
        case Place.NOWHERE.value:
            return [whole]
    return [whole, solid.inside(size).patch(**style)]
