"""The parts of a page, whatever it is printed as: sections of blocks, those for the seller first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from ..errors import InputError
from ..figures.drawn import SectionDrawing, WaterDrawing
from ..plain import MisfitError, from_plain, to_plain

SCHEMA: Literal["alloysolve.page/1"] = "alloysolve.page/1"
Part = Literal["seller", "expert"]
Paper = Literal["A4", "A5", "Letter"]
SELLER: Part = "seller"
EXPERT: Part = "expert"


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Sentences that belong together."""

    kind: Literal["paragraph"] = field(default="paragraph", kw_only=True)
    text: str


@dataclass(frozen=True, slots=True)
class Points:
    """A list; each point is a leading word, or "", and a text."""

    kind: Literal["points"] = field(default="points", kw_only=True)
    points: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: its title, a row of heads, and rows of the same length."""

    kind: Literal["grid"] = field(default="grid", kw_only=True)
    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Code:
    """Text to be copied exactly."""

    kind: Literal["code"] = field(default="code", kw_only=True)
    text: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure, as the data from which it is drawn, with what it shows in words."""

    name: Literal["water", "section"]
    caption: str
    alt: str
    drawing: WaterDrawing | SectionDrawing


@dataclass(frozen=True, slots=True)
class Pictures:
    """Figures side by side; a sheet has none where they cannot be drawn."""

    kind: Literal["pictures"] = field(default="pictures", kw_only=True)
    pictures: tuple[Picture, ...]


Block = Paragraph | Points | Grid | Code | Pictures


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and the blocks under it; `part` says for whom: `SELLER` or `EXPERT`."""

    part: Part
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

    schema: Literal["alloysolve.page/1"] = field(default=SCHEMA, kw_only=True)
    language: str
    paper: Paper
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
        found: dict[str, Any] = to_plain(self)
        return found

    @classmethod
    def from_dict(cls, given: Mapping[str, Any]) -> Page:
        """A page, from what `to_dict` gives or from JSON made of it.

        Raises
        ------
        InputError
            For a document that is not a whole page.
        """
        try:
            found: Page = from_plain(cls, given)
        except MisfitError as e:
            raise InputError(
                "page", e.place, f"a page of the schema {SCHEMA} with all its parts", "make it anew"
            ) from e
        return found
