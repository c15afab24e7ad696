"""The cut through what fits best: the outline to scale, the layer magnified so that it can be seen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import astuple, dataclass, replace
from typing import TYPE_CHECKING, Any

from ..answer.solution import Solution
from ..inference.posterior import ConstructionFound
from ..page.content import best, layer_words, something_else
from ..pieces.constructions import Place
from ..pieces.shape import Form
from ..words.findings import body_words, skin_words
from ..words.language import Language
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


def solids(form: Form) -> list[Solid]:
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


def magnification(s: Solution, c: ConstructionFound | None) -> int:
    """How many times too thick the layer is drawn: 1, 2, 5, 10 ..."""
    if c is None or not c.skin_um:
        return 1
    room = MOST_DRAWN * min(part.least for part in solids(s.evidence.form))
    return max((k for k in MAGNIFIED if k * c.skin_um[1] / 1000 <= room), default=1)


def section_words(s: Solution, say: Language) -> tuple[str, str, str]:
    """Names of body and layer, and the words for the scale."""
    c = best(s)
    times = magnification(s, c)
    scale = say.say("page", "to_scale") if times == 1 else say.say("page", "magnified", times=times)
    if c is not None and c.built.hidden:
        scale += " " + say.say("page", "part_place")
    if not s.evidence.form.measured:
        scale += " " + say.say("page", "usual_form")
    if c is None:
        return (f'"{s.claim.text}"' if s.claim else "", "", scale)
    return body_words(s, c.family, c.metals, say), layer_words(s, c, say), scale


def section_drawing(s: Solution, say: Language) -> dict[str, Any]:
    """What `draw_section` draws, in the types of JSON.

    It holds the solids, where that lies which is not the body (the value of a `Place`), its size (magnified thickness
    in mm, or share), and the names of body and part. It is empty if something else is likelier than all that is known.
    """
    axis = say.say("page", "figure_mm")
    if something_else(s):
        return {"solids": [], "part": "", "size": 0.0, "names": [], "axis": axis}
    c = best(s)
    part, size = _part(c, magnification(s, c))
    names = [section_words(s, say)[0]]
    if c is not None and part:
        names.append(skin_words(s, c.skin, say) if c.skin else say.say("page", "empty"))
    cut = solids(s.evidence.form)
    left = min(x.x - x.width / 2 for x in cut)  # where the scale in mm begins
    shifted = [list(astuple(replace(x, x=x.x - left))) for x in cut]
    return {"solids": shifted, "part": part, "size": size, "names": names, "axis": axis}


def _part(c: ConstructionFound | None, times: int) -> tuple[str, float]:
    """The part that is not the body, and how much of it is drawn."""
    if c is None:
        return Place.NOWHERE.value, 0.0
    if c.skin_um:
        return c.built.place.value, times * c.skin_um[1] / 1000
    share = c.void_percent or c.part_percent
    return (c.built.place.value, share[1] / 100) if share else (Place.NOWHERE.value, 0.0)


def section(s: Solution, say: Language, ax: Axes | None = None) -> Axes:
    """Axes with the cut through the likeliest construction; for a piece that fits the claim, through one as claimed.

    The outline is to scale, with lengths in mm. A layer is drawn `magnification` times thicker than it likely is.
    Nothing is drawn if something else is likelier than all that is known.
    """
    return draw_section(section_drawing(s, say), ax)


def draw_section(drawing: Mapping[str, Any], ax: Axes | None = None) -> Axes:
    """Axes with the cut, drawn from `section_drawing` or from JSON of it."""
    from matplotlib.patches import Patch

    ax = ax or new_axes(*SIZE)
    if not drawing["solids"]:
        ax.set_axis_off()
        return ax
    part = drawing["part"]
    for solid in drawing["solids"]:
        for patch in _patches(Solid(*solid), part, drawing["size"]):
            ax.add_patch(patch)
    styles = (BODY, STYLES.get(part, BODY))
    names = [Patch(**style, label=name) for style, name in zip(styles, drawing["names"], strict=False)]
    ax.set_aspect("equal")
    ax.autoscale_view()
    ax.margins(0.05, 0.25)
    ax.set_yticks([])
    ax.set_xlabel(drawing["axis"])
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
