"""What every kind of reading can be asked once it is ready to be compared with candidates."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from ..arrays import Array, Index

if TYPE_CHECKING:
    from ..alloys.materials import Layers
    from ..pieces.candidates import Along, Candidates

WILD = 0.002  # how often a value is typed or read wrongly, of a scale, meter or instrument (judgement)
BODY, STRIKES, SURFACE = 0, 1, 2
CONDUCTIVITY, STIFFNESS = "conductivity", "stiffness"  # properties of an alloy that several kinds of readings measure
ALL = math.inf  # um: a reading that sees the whole piece


@dataclass(frozen=True)
class Core:
    """What lies under a skin, by a reading that sees through it.

    `um` : thickness of the skin. `share`, `printed` : mass fractions of the core, and what was printed of its metals.
    """

    um: float
    share: Mapping[str, float]
    printed: Mapping[str, float]


class Observed:
    """A reading, ready to be compared with candidates.

    Attributes
    ----------
    name : unique among the readings of a piece. kind, place, text : as in `Reading`.
    wild : how often such a value is wild: typed or read wrongly, or taken of something else.
    shares_model : what readings share whose predictions err together: they count as one. counts_with : the same for
        the decision only, where it is more.
    measures : `CONDUCTIVITY`, `STIFFNESS`, or "" for a property that no reading of another model measures.
    surface : whether it sees only what lies outermost: such a reading never overrules one of the whole piece.
    shows : `BODY`; `STRIKES` if a strike of nickel under a skin can change it; `SURFACE` if any strike, or a
        surface that differs from the body, can.
    other : likelihood density under "something else". peak : the largest density that any piece can have.
    effort : how much work a prediction is, to ask the easy readings first.
    coarse : format of a predicted value in a sentence, as `plain` gives it.
    remark : key of a sentence to be said of this value beside a claim, or "".
    of_part : whether it was taken of a clasp or other part, and says nothing of the piece.
    tells_bare : whether it tells bare bodies apart by their resistivity or magnetism.
    """

    name: str
    kind: str
    place: str
    text: str
    other: float
    peak: float = 1.0
    unit_shown: str = ""
    words: tuple[str, ...] = ()
    shares_model: ClassVar[str] = ""
    wild: ClassVar[float] = WILD
    measures: ClassVar[str] = ""
    surface: ClassVar[bool] = False
    effort: ClassVar[int] = 1
    tells_bare: ClassVar[bool] = False
    coarse: ClassVar[str] = ".0f"
    shows: int = BODY
    remark: str = ""
    of_part: bool = False

    @property
    def counts_with(self) -> str:
        """The name under which the decision counts several readings as one."""
        return self.shares_model

    def pdf(self, candidates: Candidates) -> Array:
        """Likelihood density of the reading for each candidate, (n,)."""
        raise NotImplementedError

    def score(self, candidates: Candidates) -> Array:
        """Normal score of the reading under each candidate, with its sign, (n,)."""
        raise NotImplementedError

    def along(self, a: Along) -> Array:
        """`pdf` of pairs at each of their steps, (pairs, steps)."""
        return self.pdf(a.candidates).reshape(a.parameter.shape)

    def most(self, a: Along) -> Array:
        """About the highest `pdf` of pairs between each two neighbouring steps, (pairs, steps - 1)."""
        each = self.along(a)
        return np.maximum(each[:, :-1], each[:, 1:])

    def breaks(self, layers: Layers, skin: int) -> tuple[float, ...]:
        """Thicknesses of a skin [um] at which the reading changes all at once."""
        return ()

    def told(self, candidates: Candidates) -> tuple[Array, Index] | None:
        """For an answer in words, how often each class gives each answer, and the class of each candidate."""
        return None

    def under(self, claim: Candidates) -> Callable[[Candidates], Array]:
        """Gives the score of others: how their reading, taken without noise, would look under the best of a claim."""
        raise NotImplementedError

    def between(self, others: Candidates, claim: Candidates) -> Array:
        """Score that the reading of each of `others`, taken without noise, would have under the best of `claim`."""
        return self.under(claim)(others)

    def expected(self, candidates: Candidates) -> Array:
        """Value that the reading is expected to have on each candidate, in `unit`, (n,)."""
        raise NotImplementedError

    def scale(self, candidates: Candidates) -> tuple[Array, Array]:
        """Expected value of each candidate on a scale on which errors are normal, and its standard uncertainty."""
        raise NotImplementedError

    def shown(self, candidates: Candidates) -> Array:
        """Value that people would read on each candidate, in `unit_shown`; for an answer in words, its number."""
        return self.expected(candidates)

    def typed(self, candidates: Candidates) -> tuple[str, ...]:
        """What a person would type in for each candidate, if that is more than one number; otherwise nothing."""
        return ()

    def apart(self, candidates: Candidates, claim: Candidates) -> Array:
        """How far what is `typed` of each candidate lies from anything that is typed of the claim [points]."""
        return np.zeros(len(candidates))

    def plain(self, shown: Array) -> Array:
        """Values of `shown` in the unit in which a person is told them."""
        return shown

    @property
    def plain_text(self) -> str:
        """The value that was read, as `plain` would give it, without its unit."""
        return self.text

    @property
    def items(self) -> tuple[tuple[str, str], ...]:
        """Metals with their printed shares, where that is what was read."""
        return ()

    @property
    def every_tone(self) -> tuple[tuple[float, float], ...]:
        """Tones with their standard uncertainties [Hz], where that is what was read."""
        return ()

    def from_bare(self, resistivity: Array, u: Array, magnetic: Index) -> Array:
        """How far bare bodies lie from the reading, -1 and 1 at the ends of its 95 % range; only if `tells_bare`.

        Parameters
        ----------
        resistivity, u : [uohm cm] and its relative standard uncertainty. magnetic : number in `bodies.MAGNETIC`.
        """
        raise NotImplementedError

    def core_under(self, layers: Layers, skin: int) -> Core | None:
        """The core under a skin, where the reading sees it."""
        return None

    def sees(self, candidates: Candidates) -> Array:
        """How deep the reading sees into each candidate [um]; `ALL` for the whole piece, NaN if nobody knows."""
        return np.full(len(candidates), ALL)

    def measured(self) -> dict[str, Any]:
        """Value, uncertainty and unit for documents; an answer in words has neither."""
        return {"value": self.text, "u": None, "unit": None}
