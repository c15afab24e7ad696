"""What every kind of reading shares: the value as it was read, and its form ready to be compared with candidates."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from ..arrays import Array, Index, Mask, distinct
from ..entry import Entry
from ..pieces.candidates import Along
from ..pieces.constructions import Place
from .error_model import ratio_pdf, ratio_pdf_between, ratio_score, score_of

if TYPE_CHECKING:
    from ..alloys.bodies import Bodies
    from ..alloys.materials import Layers
    from ..pieces.candidates import Candidates
    from ..pieces.shape import Form
    from ..published.load import Tables
    from ..published.wares import CoinType
    from ..units import Quantity


PLACE = Entry("text", "where on the piece")
U_METER = 0.01  # relative, of a conductivity meter of which nothing else is said (common practice, no source)
LEAST_MODEL = 0.03  # relative, of any predicted ratio
LEAST_WALL_UM = 0.1  # of a cored piece, below which it reads like its core
CLOSE = 2.4  # in ln(parameter), up to which what a reading does at two steps bounds what it does between (tested)
NEVER = 1e-12  # how often, beside the usual answer, one that is never given counts as given
WILD = 0.002  # how often a value is typed or read wrongly, of a scale, meter or instrument (judgement)
BODY, STRIKES, SURFACE = 0, 1, 2
ALL = math.inf  # um: a reading that sees the whole piece


class Reading:
    """Base of all readings: what was read, with what, and where on the piece.

    Attributes
    ----------
    kind : name in a piece file, a key of `KINDS`.
    text : the value as it was read, with its unit.
    place : where on the piece, or "".
    """

    __slots__ = ()
    kind: str
    text: str
    place: str

    def to_dict(self) -> dict[str, Any]:
        """The table of a piece file that gives this reading."""
        raise NotImplementedError

    def observed(self, name: str, about: Circumstances) -> Observed:
        """This reading, ready to be compared with candidates."""
        raise NotImplementedError

    @property
    def findings(self) -> tuple[tuple[str, Mapping[str, Any]], ...]:
        """What the value itself gives to note: codes with their values."""
        return ()

    def _set(self, **attributes: Any) -> None:
        for name, attribute in attributes.items():
            object.__setattr__(self, name, attribute)


@dataclass(frozen=True)
class Circumstances:
    """What a reading needs to know besides its own value.

    Attributes
    ----------
    frequency_hz : of the shop's conductivity meter; None if it is not known. u_meter : relative standard
        uncertainty of that meter. lengths : lengths of the form as measured, in its order; empty if they were not.
    mass : of the whole piece; None if it was not weighed. taken : how many readings of each kind the piece has.
    surface_metal : the metal of which a surface as claimed shows most. in_one : whether the piece is a coin, bar or
        medal, without a clasp, spring or pin. listed : metals that the shop's X-ray instrument lists; empty if that
        is not known. coin : type that it is said to be; made_as_claimed : which candidates are made as that type is.
        known_bodies : gives the compositions of a
        known-good piece from what it is said to be; "" stands for the claim on the piece under test.
    """

    tables: Tables
    form: Form
    frequency_hz: float | None = None
    u_meter: float = U_METER
    lengths: tuple[Quantity, ...] = ()
    mass: Quantity | None = None
    taken: Mapping[str, int] = field(default_factory=dict)
    surface_metal: str = "Ag"
    in_one: bool = False
    coin: CoinType | None = None
    made_as_claimed: Callable[[Candidates], Mask] | None = None
    listed: tuple[str, ...] = ()
    known_bodies: Callable[[str], Bodies] | None = None


@dataclass(frozen=True)
class Kind:
    """One kind of reading: how it is built from the table of a piece file, its keys, and what others ask about it.

    Parameters
    ----------
    build : takes the values of the table by key, and the path of "value", for errors.
    entries : the keys of the table besides "kind".
    help : one line for people.
    trial : a reading of this kind that was not taken, to ask what it would show; None if there cannot be one.
    instead : keys that may be given in place of "value".
    quantity : the kind that measures the same, if there is one: both are named alike, and nobody takes both.
    sized : whether it needs the dimensions and the mass.
    spot : whether it is taken at one spot, so that it may read differently elsewhere.
    through : whether it sees the whole body and tells bodies apart, so that no depth is said to be unseen.
    latest : whether of several at one place the last one counts; they are named after all others.
    caution : code of the caution that it needs, or "".
    marks : kinds of readings whose traces it leaves on the piece, in the order in which they come about.
    """

    build: Callable[[dict[str, Any], str], Reading]
    entries: Mapping[str, Entry]
    help: str
    trial: Callable[[Circumstances], Observed | None] | None = None
    instead: frozenset[str] = frozenset()
    quantity: str = ""
    sized: bool = False
    spot: bool = False
    through: bool = False
    latest: bool = False
    caution: str = ""
    marks: tuple[str, ...] = ()


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


@dataclass(frozen=True)
class Ratio(Observed):
    """A reading above zero whose errors are relative.

    `read`, `u` : value, and its relative standard uncertainty. `span` : what "something else" may read, uniform in the
    logarithm. `unit` : of `read`. `several` : whether it is more than one value, of which `read` is one.
    """

    several: ClassVar[bool] = False
    name: str
    kind: str
    place: str
    text: str
    read: float
    u: float
    span: tuple[float, float]
    unit: str

    @property
    def other(self) -> float:  # type: ignore[override]
        """Density in ln(value) under "something else"."""
        return 1 / math.log(self.span[1] / self.span[0])

    @property
    def peak(self) -> float:  # type: ignore[override]
        """Highest density in ln(value), for a model that errs by `LEAST_MODEL`."""
        return 0.5 / math.hypot(self.u, LEAST_MODEL)

    def predict(self, candidates: Candidates) -> tuple[Array, Array]:
        """Predicted value and its relative model uncertainty for each candidate, (n,)."""
        raise NotImplementedError

    def pdf(self, candidates: Candidates) -> Array:
        """Density in ln(value) for each candidate, (n,)."""
        value, model = self.predict(candidates)
        return ratio_pdf(np.log(self.read / value), self.u, model)

    def predict_along(self, a: Along) -> tuple[Array, Array]:
        """`predict` of pairs at each of their steps, both (pairs, steps)."""
        value, model = self.predict(a.candidates)
        return value.reshape(a.parameter.shape), model.reshape(a.parameter.shape)

    def along(self, a: Along) -> Array:
        """`pdf` of pairs at each of their steps."""
        value, model = self.predict_along(a)
        return ratio_pdf(np.log(self.read / value), self.u, model)

    def most(self, a: Along) -> Array:
        """About the highest `pdf` between neighbouring steps."""

        def bound(b: Along) -> Array:
            value, model = self.predict_along(b)
            return ratio_pdf_between(np.log(self.read / value), self.u, model, self.beyond(b))

        return bound_by_parts(a, bound)

    @property
    def conditions(self) -> tuple[Any, ...]:
        """What else than the candidate decides what is predicted."""
        return ()

    def beyond(self, a: Along) -> Array | float:
        """How far ln(value) may go beyond its values at two neighbouring steps, besides a share of its change."""
        return 0.0

    def score(self, candidates: Candidates) -> Array:
        """Normal score of the reading under each piece."""
        return self.score_predicted(*self.predict(candidates))

    def score_predicted(self, value: Array, model: Array) -> Array:
        """Normal score of the reading for predicted values and their relative model uncertainties."""
        return ratio_score(np.log(self.read / value), self.u, model)

    def under(self, claim: Candidates) -> Callable[[Candidates], Array]:
        """Gives the score that the reading of others, taken without noise, would have under the best of a claim."""
        value, model = self.predict(claim)
        return lambda others: self.between_predicted(self.expected(others), value, model)

    def between_predicted(self, others: Array, value: Array, model: Array) -> Array:
        """Score of values outside the range of the claim; taken as one interval, it can only make others look alike."""
        return score_of(outside(np.log(others), np.log(value)), self.u, float(model.max()))

    def expected(self, candidates: Candidates) -> Array:
        """The predicted value."""
        return self.predict(candidates)[0]

    def scale(self, candidates: Candidates) -> tuple[Array, Array]:
        """Logarithm of the predicted value, and its uncertainty together with that of the reading, (n,)."""
        value, model = self.predict(candidates)
        return np.log(value), np.hypot(self.u, model)

    @property
    def unit_shown(self) -> str:  # type: ignore[override]
        """The unit of the value."""
        return self.unit

    def measured(self) -> dict[str, Any]:
        """Value, uncertainty and unit."""
        return {"value": self.read, "u": self.u * self.read, "unit": self.unit}


def bound_by_parts(a: Along, bound: Callable[[Along], Array], close: float | Array = CLOSE) -> Array:
    """A bound between neighbouring steps, (pairs, steps - 1), of which those further apart than `close` are divided.

    `close` : in the logarithm of the parameter, or of the wall of a cored piece, of each pair. `bound` : gives the
    bound between any neighbouring steps.
    """
    x = a.parameter
    wall = np.where(a.pairs.at(Place.INSIDE)[:, None], np.maximum(a.depth_um, LEAST_WALL_UM), x)
    apart = np.abs(np.diff(np.log(wall), axis=1)).max(axis=1)
    parts = np.exp2(np.ceil(np.log2(np.maximum(apart / close, 1.0))))
    out = np.empty((len(x), x.shape[1] - 1))
    for n in distinct(parts):
        rows = np.flatnonzero(parts == n)
        share = np.arange(n) / n
        inner = x[rows, :-1, None] * (x[rows, 1:] / x[rows, :-1])[:, :, None] ** share
        fine = np.concatenate([inner.reshape(len(rows), -1), x[rows, -1:]], axis=1)
        out[rows] = bound(Along(a.pairs.some(rows), fine)).reshape(len(rows), -1, int(n)).max(axis=2)
    return out


def outside(values: Array, claimed: Array) -> Array:
    """How far values lie above or, with a minus, below the whole range of the claimed values; 0 within it."""
    return np.asarray(np.maximum(values - claimed.max(), 0.0) + np.minimum(values - claimed.min(), 0.0))


@dataclass(frozen=True)
class Answer(Observed):
    """A reading that is one of a few answers, which depend on the class of what it sees.

    How often an answer is wrong stands in its table, so that it is never wild beyond that.

    `answer` : number of the answer. `shares` : (classes, answers) how often each class gives each answer.
    `others` : how often "something else" gives each answer.
    """

    name: str
    kind: str
    place: str
    text: str
    answer: int
    shares: Array
    others: Array
    wild: ClassVar[float] = 0.0

    @property
    def other(self) -> float:  # type: ignore[override]
        """How often "something else" would give this answer."""
        return float(self.others[self.answer])

    def class_of(self, candidates: Candidates) -> Index:
        """Number of the class of each piece."""
        raise NotImplementedError

    def told(self, candidates: Candidates) -> tuple[Array, Index]:
        """How often each class gives each answer, and the class of each candidate."""
        return self.shares, self.class_of(candidates)

    def pdf(self, candidates: Candidates) -> Array:
        """Share of pieces of the class of each candidate that give this answer."""
        return np.asarray(self.shares[:, self.answer][self.class_of(candidates)])

    def score(self, candidates: Candidates) -> Array:
        """How much less often each candidate gives this answer than its usual one, as a score."""
        return np.asarray(self.scores[self.class_of(candidates), self.answer])

    @cached_property
    def scores(self) -> Array:
        """Score of each class for each answer: the root of -2 ln(share of the answer / share of the usual one)."""
        ratio = self.shares / self.shares.max(axis=1, keepdims=True)
        return np.asarray(np.sqrt(-2 * np.log(np.maximum(ratio, NEVER))))

    def under(self, claim: Candidates) -> Callable[[Candidates], Array]:
        """Gives the score of the usual answer of others, for the class of the claim where it is least unusual."""
        classes = distinct(self.class_of(claim))
        return lambda others: self.between_classes(self.class_of(others), classes)

    def between_classes(self, others: Index, claim: Index) -> Array:
        """Score of the usual answers of other classes, for the class of the claim where they are least unusual."""
        under = self.scores[distinct(claim)].min(axis=0)
        usual = np.argmax(self.shares, axis=1)
        return np.asarray(under[usual][others])

    def expected(self, candidates: Candidates) -> Array:
        """Number of the usual answer of each piece."""
        return np.asarray(np.argmax(self.shares, axis=1)[self.class_of(candidates)], dtype=float)

    def scale(self, candidates: Candidates) -> tuple[Array, Array]:
        """Number of the usual answer, so that different answers lie far apart."""
        return 10 * self.expected(candidates), np.ones(len(candidates))


def fields_of(**entries: Entry) -> Mapping[str, Entry]:
    """The keys of one kind of reading; every kind has a place."""
    return MappingProxyType({**entries, "place": PLACE})
