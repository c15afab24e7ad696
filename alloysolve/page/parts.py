"""The parts of a page, whatever it is printed as: sections of blocks, those for the seller first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from ..answer.record_shape import misfit
from ..errors import InputError
from ..pieces.constructions import Place

SCHEMA = "alloysolve.page/1"
PAPERS = ("A4", "A5", "Letter")
SELLER, EXPERT = "seller", "expert"


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Sentences that belong together."""

    text: str


@dataclass(frozen=True, slots=True)
class Points:
    """A list; each point is a leading word, or "", and a text."""

    points: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: its title, a row of heads, and rows of the same length."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Code:
    """Text to be copied exactly."""

    text: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure, as the data from which it is drawn, with what it shows in words."""

    name: str
    caption: str
    alt: str
    drawing: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Pictures:
    """Figures side by side; `without` is said instead if they cannot be drawn."""

    pictures: tuple[Picture, ...]
    without: str


Block = Paragraph | Points | Grid | Code | Pictures
KINDS: Mapping[str, type[Block]] = {
    "paragraph": Paragraph,
    "points": Points,
    "grid": Grid,
    "code": Code,
    "pictures": Pictures,
}
NAMES = {of: kind for kind, of in KINDS.items()}
# what a stored page must hold to be printed, in the form that `misfit` takes
DRAWINGS: Mapping[str, Any] = {
    "water": {"rows": [[str, float, float, float, bool, str]], "axis": str},
    "section": {
        "solids": [[float, float, float, bool, float]],
        "size": float,
        "names": [str],
        "axis": str,
        "part": {place.value for place in Place},
    },
}
SHAPES: Mapping[str, Any] = {
    "paragraph": {"text": str},
    "points": {"points": [[str, str]]},
    "code": {"text": str},
    "grid": {"title": str, "head": [str], "rows": [[str]]},
    "pictures": {"pictures": [{"name": set(DRAWINGS), "caption": str, "alt": str, "drawing": dict}], "without": str},
}
SHAPE: Mapping[str, Any] = {
    "schema": {SCHEMA},
    "language": str,
    "paper": set(PAPERS),
    "title": str,
    "expert_title": str,
    "about": [str],
    "header": str,
    "logo": str,
    "sections": [{"part": {SELLER, EXPERT}, "heading": str, "blocks": [{"kind": set(KINDS)}]}],
}


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and the blocks under it; `part` says for whom: `SELLER` or `EXPERT`."""

    part: str
    heading: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """A page as data.

    Attributes
    ----------
    language : code of ISO 639. paper : "A4", "A5" or "Letter". title, expert_title : headings of both parts.
    about : which piece it is about, and what that is said to be. header : name of the shop, or "".
    logo : a picture as a data address, or "".
    """

    language: str
    paper: str
    title: str
    expert_title: str
    about: tuple[str, ...]
    header: str
    logo: str
    sections: tuple[Section, ...]

    def of(self, part: str) -> tuple[Section, ...]:
        """The sections of one part."""
        return tuple(s for s in self.sections if s.part == part)

    def to_dict(self) -> dict[str, Any]:
        """The page in the types of JSON; `from_dict` gives an equal page."""
        sections = [
            {"part": s.part, "heading": s.heading, "blocks": [{"kind": NAMES[type(b)], **asdict(b)} for b in s.blocks]}
            for s in self.sections
        ]
        own = {name: getattr(self, name) for name in self.__slots__ if name != "sections"}
        return {"schema": SCHEMA, **own, "about": list(self.about), "sections": sections}

    @classmethod
    def from_dict(cls, given: Mapping[str, Any]) -> Page:
        """A page, from what `to_dict` gives or from JSON made of it.

        Raises
        ------
        InputError
            For a document that is not a whole page.
        """
        place = misfit(given, SHAPE) or _damaged(given)
        if place:
            raise InputError("page", place, f"a page of the schema {SCHEMA} with all its parts", "make it anew")
        sections = tuple(
            Section(s["part"], s["heading"], tuple(_block(b) for b in s["blocks"])) for s in given["sections"]
        )
        own = {name: given[name] for name in cls.__slots__ if name not in ("sections", "about")}
        return cls(**own, about=tuple(given["about"]), sections=sections)


def _damaged(given: Mapping[str, Any]) -> str:
    """The first place of a block that is not as it should be, or ""."""
    blocks = [b for s in given["sections"] for b in s["blocks"]]
    found = [misfit(b, SHAPES[b["kind"]], b["kind"]) for b in blocks]
    found += [
        misfit(p["drawing"], DRAWINGS[p["name"]], p["name"])
        for b, bad in zip(blocks, found, strict=True)
        if b["kind"] == "pictures" and not bad
        for p in b["pictures"]
    ]
    return next((place for place in found if place), "")


def _block(given: Mapping[str, Any]) -> Block:
    values = {key: _tuples(value) for key, value in given.items() if key != "kind"}
    if given["kind"] == "pictures":
        values["pictures"] = tuple(Picture(**p) for p in given["pictures"])
    return KINDS[given["kind"]](**values)


def _tuples(value: Any) -> Any:
    return tuple(_tuples(v) for v in value) if isinstance(value, list | tuple) else value
