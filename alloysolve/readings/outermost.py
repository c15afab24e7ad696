"""What lies outermost, in words: its colour, the streak it leaves on a touchstone, what acid does to the streak.

Streak and acid may also be told beside a carat ("paler than 18 ct", "14 ct acid: gone"), as `touch` reads them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from ..arrays import Array, Index, Mask
from ..entry import Entry, read_value
from ..errors import InputError
from .base import SURFACE
from .in_words import Answer
from .reading import Circumstances, Kind, Reading, fields_of
from .touch import FORMS, StreakClass, Touch, read_touch
from .touch import OTHERS as OTHERS_TOUCHED

if TYPE_CHECKING:
    from ..alloys.bodies import Bodies
    from ..alloys.law import MixingLaw
    from ..alloys.materials import Layers
    from ..pieces.candidates import Candidates
    from ..published.wares import SurfaceClass


SEES_UM = 1.0  # how much a rub removes, or a drop attacks before it is wiped off (common practice, no source)
WORDS = MappingProxyType(
    {
        "colour": ("yellow", "red", "white", "grey"),
        "streak": ("yellow", "red", "white", "grey", "none"),
        "acid": ("as gold", "as silver", "as neither", "not clear"),
    }
)
# how often "something else" gives each answer (judgement)
OTHERS = MappingProxyType(
    {
        "colour": (0.25, 0.15, 0.3, 0.3),
        "streak": (0.22, 0.13, 0.3, 0.3, 0.05),
        "acid": (0.1, 0.1, 0.65, 0.15),
    }
)
BY = MappingProxyType({"streak": "needle", "acid": "acid"})  # what a carat in the answer is that of
# nitric acid alone leaves gold and dissolves brass, which turns green; with dichromate it turns silver red (common
# practice, no source)
ALSO: Mapping[str, tuple[tuple[str, str], ...]] = MappingProxyType(
    {"acid": (("no reaction", "as gold"), ("red", "as silver"), ("blood red", "as silver"), ("green", "as neither"))}
)
HELP = MappingProxyType(
    {
        "colour": f"colour of the clean surface: {', '.join(WORDS['colour'])}",
        "streak": f"its streak on a touchstone, which leaves a mark: {', '.join(WORDS['streak'])}; or paler than 18 ct",
        "acid": f"acid on its streak: 14 ct acid: stayed, faded or gone; or {', '.join(WORDS['acid'])}",
    }
)
# a streak leaves a mark; acid is put on a streak
ABOUT: Mapping[str, Mapping[str, Any]] = MappingProxyType(
    {"streak": {"marks": ("streak",)}, "acid": {"marks": ("streak", "acid"), "caution": "acid"}}
)


@dataclass(frozen=True, slots=True, init=False)
class SkinAnswer(Reading):
    """An answer in words that depends only on what lies outermost.

    Parameters
    ----------
    kind : "colour", "streak" or "acid". answer : one of `WORDS` of the kind; of streak and acid also one with a carat.
    place : where on the piece.
    path : where the answer stands in a document, for errors.

    >>> SkinAnswer("streak", "White").answer
    'white'
    >>> SkinAnswer("streak", "paler than 18k").answer
    'paler than 18 ct needle'
    """

    kind: str
    answer: str
    place: str
    text: str = field(init=False)
    touch: Touch | None = field(init=False)

    def __init__(self, kind: str, answer: str, place: str = "", *, path: str = "") -> None:
        touch = read_touch(BY[kind], answer, path or kind) if kind in BY and isinstance(answer, str) else None
        word = touch.text if touch else _word(kind, answer, path or kind)
        self._set(kind=kind, answer=word, place=place, text=word, touch=touch)

    def to_dict(self) -> dict[str, Any]:
        """The table of a piece file that gives this reading."""
        return {"kind": self.kind, "value": self.answer} | ({"place": self.place} if self.place else {})

    def observed(self, name: str, about: Circumstances) -> ObservedSkin:
        """This reading with the classes of surfaces (surface_classes.csv), or of streaks beside a carat (touch.csv)."""
        rows: Sequence[Any]
        if self.touch:
            touched, words, answer = about.tables.rows("touch"), self.touch.words, self.touch.word
            rows, shares = self.touch.classes(touched), np.array(self.touch.shares(touched))
            others = OTHERS_TOUCHED[self.touch.by]
        else:
            rows, words, answer = about.tables.rows("surface_classes"), WORDS[self.kind], self.answer
            shares = np.array([[getattr(r, self.kind)[word] / 100 for word in words] for r in rows])
            others = OTHERS[self.kind]
        return ObservedSkin(
            name,
            self.kind,
            self.place,
            self.text,
            words.index(answer),
            shares,
            np.array(others),
            words,
            tuple(rows),
            self.touch.mark if self.touch else "",
        )


def _word(kind: str, answer: Any, path: str) -> str:
    """One of the words of a kind; the error also lists the forms with a carat."""
    try:
        word: str = read_value(Entry("word", HELP[kind], words=WORDS[kind], also=ALSO.get(kind, ())), answer, path)
    except InputError as e:
        forms = f", or {FORMS[BY[kind]]}" if kind in BY else ""
        raise InputError(path, e.given, e.expected + forms, e.next_step) from e
    return word


@dataclass(frozen=True, eq=False)
class ObservedSkin(Answer):
    """An answer that depends on the class of the skin, face or enriched surface of a piece, or else of its body.

    `words` : the answers. `rows` : the classes. `beside` : the carat of the acid or needle, if one was named.
    """

    surface: ClassVar[bool] = True
    words: tuple[str, ...] = ()
    rows: tuple[SurfaceClass | StreakClass, ...] = ()
    beside: str = ""
    shows = SURFACE
    _known: dict[int, tuple[Any, Index]] = field(default_factory=dict, repr=False)

    @property
    def shares_model(self) -> str:  # type: ignore[override]
        """Answers of one kind err together: the same lamp, stone or bottle of acid. Each carat has its own."""
        return f"{self.kind} {self.beside}".strip()

    @property
    def counts_with(self) -> str:
        """In the decision all answers of one kind count as one: the same hand used all bottles and needles."""
        return self.kind

    def class_of(self, candidates: Candidates) -> Index:
        """Number of the class of what lies outermost."""
        body, material = (
            self._classes(candidates.bodies)[candidates.point],
            self._classes(candidates.layers)[candidates.skin],
        )
        return np.asarray(np.where(candidates.faced, material, body))

    def _classes(self, of: Bodies | Layers) -> Index:
        if id(of) not in self._known:
            self._known[id(of)] = (of, classes_of(self.rows, of.law, of.w))  # holds them, so that the id stays theirs
        return self._known[id(of)][1]

    def sees(self, candidates: Candidates) -> Array:
        """How deep it sees [um]: about 1 um."""
        return np.full(len(candidates), SEES_UM)


def classes_of(rows: Sequence[SurfaceClass | StreakClass], law: MixingLaw, w: Array) -> Index:
    """Number of the class of each composition, mass fractions (n, metals): the first row whose limits hold."""
    hold = [_holds(row, law, w) for row in rows]
    rest = next(k for k, row in enumerate(rows) if not row.holds)
    return np.select(hold, range(len(rows)), rest)


def _holds(row: SurfaceClass | StreakClass, law: MixingLaw, w: Array) -> Mask:
    """Whether compositions lie within the limits of a class; a row without limits never holds by itself."""
    out = np.full(len(w), bool(row.holds))
    for metals, (low, high) in row.holds.items():
        percent = 100 * w[:, [law.index[s] for s in metals.split("+")]].sum(axis=1)
        out &= (percent >= low - 1e-9) & (percent <= high + 1e-9)
    if row.copper_over is not None:
        copper, silver, zinc = (w[:, law.index[s]] for s in ("Cu", "Ag", "Zn"))
        out &= copper >= row.copper_over * (silver + zinc)
    return out


def _build(kind: str, table: dict[str, Any], path: str) -> Reading:
    return SkinAnswer(kind, table["value"], table.get("place", ""), path=path)


def _kind(name: str) -> Kind:
    """One of the three kinds. None is ever proposed: the first is seen at once, and the others harm the piece."""
    value = Entry("text", HELP[name]) if name in BY else Entry("word", HELP[name], words=WORDS[name])
    tables = ("surface_classes", "touch") if name in BY else ("surface_classes",)
    return Kind(
        partial(_build, name), fields_of(value=value), HELP[name], spot=True, tables=tables, **ABOUT.get(name, {})
    )


COLOUR, STREAK, ACID = (_kind(name) for name in ("colour", "streak", "acid"))
