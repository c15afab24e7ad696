"""What a hand magnet does to the piece: to its body, and to nickel or steel under a skin."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..alloys.bodies import MAGNETIC
from ..arrays import Array, Index
from ..entry import NO, YES, Entry, read_value
from .in_words import Answer
from .reading import Circumstances, Kind, Reading, fields_of

if TYPE_CHECKING:
    from ..alloys.materials import Layers
    from ..pieces.candidates import Along, Candidates

WORDS = ("none", "weak", "strong")
ALSO = tuple(  # also in German, French and Spanish, in which lists are kept
    (said, word)
    for word, ways in (
        ("none", (*NO, "nothing", "not at all", "does not stick", "doesn't stick", "kein", "aucun", "nada")),
        ("weak", ("slightly", "slight", "a little", "schwach", "leicht", "faible", "débil", "debil")),
        ("strong", (*YES, "sticks", "very", "very strong", "stark", "fort", "fuerte")),
    )
    for said in ways
)
OTHERS = (0.80, 0.08, 0.12)  # how often "something else" gives each answer (judgement)
FELT_SLIGHT_UM, FELT_STRONG_UM = 2.0, 20.0  # thickness of a magnetic layer that is felt (common practice, no source)
FAR = 1e6  # from a reading that a body never gives
IN_ONE, WITH_PARTS = "in one", "with parts"  # rows of magnet.csv
# places that are often of steel and no part of the body
PARTS = frozenset("catch clasp clip fastener hinge hook lock mechanism movement pin rivet screw spring".split())  # noqa: SIM905
ENTRIES = fields_of(value=Entry("word", "what a strong hand magnet does", words=WORDS, also=ALSO))
SAID_AT = re.compile(r"(\w[\w ]*?)\s*(?:,|\b(?:at|on|in|by)\b)\s*(?:the\s+)?(.+)")  # "strong at the clasp"


@dataclass(frozen=True, slots=True, init=False)
class Magnet(Reading):
    """What a strong hand magnet on a stick or thread does to the piece.

    Parameters
    ----------
    answer : "none", "weak" or "strong", or one of the other ways to say it in `ALSO`.
    place : where on the piece.
    path : where the answer stands in a document, for errors.

    >>> Magnet("Weak").answer
    'weak'
    """

    answer: str
    place: str
    kind: str = field(init=False)
    text: str = field(init=False)

    def __init__(self, answer: str, place: str = "", *, path: str = "magnet") -> None:
        word = read_value(ENTRIES["value"], answer, path)
        self._set(answer=word, place=place, kind="magnet", text=word)

    @property
    def of_part(self) -> bool:
        """Whether a clasp, spring or pin was tried, which may be of steel whatever the body is of."""
        return bool({w.rstrip("s") for w in re.findall(r"[a-z]+", self.place.lower())} & PARTS)

    def to_dict(self) -> dict[str, Any]:
        """The table of a piece file that gives this reading."""
        return {"kind": self.kind, "value": self.answer} | ({"place": self.place} if self.place else {})

    def observed(self, name: str, about: Circumstances) -> ObservedMagnet:
        """This reading with the table of answers (magnet.csv); one of a part is equally likely on every piece."""
        made = IN_ONE if about.in_one or self.place else WITH_PARTS
        rows = {r.magnetic: [getattr(r, word) for word in WORDS] for r in about.tables.rows("magnet") if r.made == made}
        shares, others = np.array([rows[name] for name in MAGNETIC]), np.array(OTHERS)
        if self.of_part:
            shares, others = (np.full_like(x, 1 / len(WORDS)) for x in (shares, others))
        asked = made == WITH_PARTS and self.answer != WORDS[0]
        return ObservedMagnet(
            name,
            self.kind,
            self.place,
            self.text,
            WORDS.index(self.answer),
            shares,
            others,
            remark="magnet" if asked else "",
            of_part=self.of_part,
        )


@dataclass(frozen=True)
class ObservedMagnet(Answer):
    """A magnet reading: the magnet reacts to the most magnetic part of a piece that is thick enough to be felt."""

    words = WORDS
    tells_bare = True
    remark: str = ""
    of_part: bool = False

    def from_bare(self, resistivity: Array, u: Array, magnetic: Index) -> Array:
        """Far if nothing is pulled of what is strongly magnetic, or the other way round; otherwise zero."""
        never = {"none": MAGNETIC.index("strong"), "strong": MAGNETIC.index("none")}.get(self.text, -1)
        return np.where(magnetic == never, FAR, 0.0)

    def breaks(self, layers: Layers, skin: int) -> tuple[float, ...]:
        """Where a magnetic skin begins to be felt."""
        return (FELT_SLIGHT_UM, FELT_STRONG_UM) if layers.magnetic[skin] else ()

    def most(self, a: Along) -> Array:
        """The highest `pdf` between neighbouring steps: a thicker layer is felt no less, so that no class is missed."""
        found = self.class_of(a.candidates).reshape(a.parameter.shape)
        low, high = np.minimum(found[:, :-1], found[:, 1:]), np.maximum(found[:, :-1], found[:, 1:])
        share = self.shares[:, self.answer]
        each = range(len(share))
        highest = np.array([[share[min(i, j) : max(i, j) + 1].max() for j in each] for i in each])
        return np.asarray(highest[low, high])

    def class_of(self, candidates: Candidates) -> Index:
        """Class of the body, or of a skin, strike, slug or joined part that is felt, (n,)."""
        return magnetic_class_of(candidates)


def magnetic_class_of(candidates: Candidates) -> Index:
    """Number in `bodies.MAGNETIC` of the most magnetic part of each piece that is thick enough to be felt."""
    layers = candidates.layers
    out = candidates.bodies.magnetic[candidates.point]
    skin = np.where(candidates.skin >= 0, layers.magnetic[candidates.skin], 0)
    if not skin.any() and not (layers.strike[candidates.skin] >= 0).any():
        return out
    strike = np.where(
        (candidates.skin >= 0) & (layers.strike[candidates.skin] >= 0),
        layers.magnetic[layers.strike[candidates.skin]],
        0,
    )
    thick = candidates.thickness_um
    inside = ~candidates.covered & (candidates.skin >= 0)
    out = np.maximum(out, np.where(inside, skin, felt(skin, thick[:, 0])))
    return np.asarray(np.maximum(out, felt(strike, thick[:, 1])))


def felt(magnetic: NDArray[Any], um: Array) -> NDArray[Any]:
    """Class of pull that a layer of a magnetic class and a thickness [um] is felt to have."""
    return np.where(um >= FELT_STRONG_UM, magnetic, np.where(um >= FELT_SLIGHT_UM, np.minimum(magnetic, 1), 0))


def _build(table: dict[str, Any], path: str) -> Reading:
    value, place = table["value"], table.get("place", "")
    said = SAID_AT.fullmatch(value.strip()) if isinstance(value, str) and not place else None
    return Magnet(*(said.groups() if said else (value, place)), path=path)


def _trial(about: Circumstances) -> ObservedMagnet:
    return Magnet("none").observed("magnet", about)


KIND = Kind(
    _build,
    ENTRIES,
    f"hand magnet: {', '.join(WORDS[:-1])} or {WORDS[-1]}",
    _trial,
    spot=True,
    latest=True,
    tables=("magnet",),
)
