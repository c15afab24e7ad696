"""What the lengths and the mass of a piece say by themselves: how full its outline is, and whether a coin is of a type.

Nobody takes these readings: they follow from the lengths and the mass of a piece file. Their rarity counts in grades,
as that of an answer in words does, so that they do not dilute what was weighed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from ..arrays import Array, Index, Mask
from ..measured import K95
from ..physics.geometry import SHAPES
from ..pieces.shape import STANDS_OUT, usual_fill
from ..special import ndtr, ndtri
from ..units import Quantity
from .base import Observed
from .error_model import mixture_pdf, mixture_score
from .ratio import outside
from .reading import Circumstances

if TYPE_CHECKING:
    from ..pieces.candidates import Along, Candidates
    from ..pieces.shape import Form
    from ..published.wares import CoinType

SIZE, COIN_TYPE, MASS = "size", "coin_type", "mass"
U_CALLIPERS = 0.02  # mm, of a length by a calliper (common practice, no source)
U_COIN_MASS = 0.01  # relative, of a coin type whose tolerance was not looked up (judgement)
U_COIN_LENGTH = 0.1  # mm, of the diameter and the rim of a coin type (common practice, no source)
WORN_MM = 0.05  # mm, mean loss of a length by wear, or where the rim is not what was measured (judgement)
OTHER_PIECES = 0.02  # share of pieces made of the alloy of a coin type that are not of the type (judgement)
# share of all other pieces that are made to the size of the type, and how well they meet it, relative (judgement)
MADE_TO_SIZE, U_MADE_TO_SIZE = 0.5, 0.01
WILD_LENGTH = 0.01  # how often a length is taken or typed wrongly (judgement)
LEAST_U = 0.001  # relative, of any outline
SPAN = math.log(25 / 0.5)  # of ln(volume) under "something else": densities of 0.5 to 25 g/cm3
NUMBER = re.compile(r"\d+(?:[.,](\d*))?")
# p at which one grade ends and the next begins, and how often a sound piece is in each
EDGES = 0.05 * 0.5 ** np.arange(34)
GRADES = -np.diff(np.concatenate([[1.0], EDGES, [0.0]]))


class Graded(Observed):
    """A reading of which only the rarity counts, in grades: none for an ordinary value."""

    def normal_score(self, candidates: Candidates) -> Array:
        """Normal score of the reading for each candidate, with its sign."""
        raise NotImplementedError

    def score(self, candidates: Candidates) -> Array:
        """Score of the grade of each candidate, as for an answer in words."""
        return graded(self.normal_score(candidates))

    def told(self, candidates: Candidates) -> tuple[Array, Index]:
        """How often each grade comes about, and that all candidates are of one class."""
        return GRADES[None, :], np.zeros(len(candidates), dtype=np.intp)


def graded(z: Array) -> Array:
    """Score of the grade of a normal score: the root of -2 ln(share of the grade / share of the first)."""
    p = 2 * ndtr(-np.abs(z))
    number = np.minimum((np.asarray(p)[..., None] <= EDGES).sum(axis=-1), len(GRADES) - 1)
    return np.asarray(np.sqrt(-2 * np.log(GRADES / GRADES[0]))[number])


@dataclass(frozen=True)
class ObservedSize(Graded):
    """The outline of a piece [cm3], beside the volume that each candidate of its mass takes up.

    The metal fills a share of the outline: median and two standard deviations of the logarithm, for shares below and
    above it. A low share has many reasons (relief, rounded edges) and heavy tails. Nothing fills more than all of the
    outline, but for the errors of the lengths. It is the volume of the whole piece that counts, with the empty space
    that is closed off in it.

    `read`, `u` : outline, and its relative uncertainty. `mass_g` : of one piece. fill, below, above : the median share,
    and the two deviations. `stands_out` : whether parts of the piece may stand out of its outline, so that the tail is
    heavy on both sides. `may_be_hollow` : whether empty space that lets water in would be no fault.
    """

    text: str
    read: float
    u: float
    mass_g: float
    fill: float
    below: float
    above: float
    stands_out: bool = False
    may_be_hollow: bool = False
    name: str = SIZE
    kind: str = SIZE
    place: str = ""
    other: float = 1 / SPAN
    unit_shown: str = "cm3"
    wild: ClassVar[float] = WILD_LENGTH

    @cached_property
    def peak(self) -> float:  # type: ignore[override]
        """Highest density in ln(outline): at the median."""
        return float(self._pdf(np.array([1e-9, -1e-9])).max())

    @property
    def plain_text(self) -> str:
        """The outline, without its unit."""
        return f"{self.read:.3g}"

    def measured(self) -> dict[str, Any]:
        """The outline with its uncertainty."""
        return {"value": self.read, "u": self.u * self.read, "unit": self.unit_shown}

    def expected(self, candidates: Candidates) -> Array:
        """Usual outline of each candidate [cm3]."""
        return np.asarray(self.mass_g * candidates.v / self.fill)

    def usual(self, candidates: Candidates) -> tuple[float, float]:
        """Least and most that the outline of such pieces usually takes up [cm3], two deviations either way."""
        cm3 = self.expected(candidates)
        return float(cm3.min() * math.exp(-K95 * self.above)), float(cm3.max() * math.exp(K95 * self.below))

    def pdf(self, candidates: Candidates) -> Array:
        """Density in ln(outline) for each candidate, (n,); a length that is wrong says nothing."""
        right = self._pdf(np.log(self.read / self.expected(candidates)))
        return np.asarray((1 - self.wild) * right + self.wild * self.other)

    def most(self, a: Along) -> Array:
        """About the highest `pdf` between neighbouring steps: the peak where the outline passes the usual one."""
        each, full = self.along(a), self.mass_g * a.v < self.read * self.fill
        passes = full[:, :-1] != full[:, 1:]
        highest = (1 - self.wild) * self.peak + self.wild * self.other
        return np.where(passes, highest, np.maximum(each[:, :-1], each[:, 1:]))

    def normal_score(self, candidates: Candidates) -> Array:
        """Normal score of the outline for each candidate."""
        return self.score_of_volume(self.mass_g * candidates.v)

    def score_of_volume(self, cm3: Array) -> Array:
        """Normal score of the outline for volumes of the piece [cm3]; above 0 where they fill less than usual."""
        return self._score(np.log(self.read * self.fill / np.asarray(cm3)))

    def under(self, claim: Candidates) -> Callable[[Candidates], Array]:
        """Gives the score that a usual outline of others would have under the best of a claim."""
        usual = np.log(self.expected(claim))
        return lambda others: graded(self._score(outside(np.log(self.expected(others)), usual)))

    def _score(self, r: Array) -> Array:
        low, beyond = self._side(mixture_score, r), -self._beyond(-r)
        z = np.where((r > 0) | self.stands_out, low, beyond)
        return np.where(z > 0, 0.0, z) if self.may_be_hollow else z

    def _pdf(self, r: Array) -> Array:
        scatter = math.hypot(self.u, self.above)
        hard = np.exp(-0.5 * self._beyond(-r) ** 2) / (scatter * math.sqrt(2 * math.pi))
        return np.where((r > 0) | self.stands_out, self._side(mixture_pdf, r), hard)

    def _side(self, law: Callable[[Array, float, Array, float], Array], r: Array) -> Array:
        """A density or score with heavy tails, with the scatter of the side on which each value lies."""
        return law(r, self.u, np.where(r > 0, self.below, self.above), 0.0)

    def _beyond(self, excess: Array) -> Array:
        """Score of a share above the median; beyond the whole outline only the errors of the lengths are left."""
        scatter, edge = math.hypot(self.u, self.above), K95 * self.above
        inside = np.clip(excess, 0.0, edge) / scatter
        return np.asarray(np.hypot(inside, np.maximum(excess - edge, 0.0) / max(self.u, LEAST_U)))


def size_of(about: Circumstances, may_be_hollow: bool) -> ObservedSize | None:
    """The reading that lengths and mass of one piece give together; None if either was not measured."""
    form, lengths = about.form, about.lengths
    if not form.measured or not form.mass_g or len(lengths) != len(form.sizes):
        return None
    volume = SHAPES[form.shape][0]
    low, fill, high = usual_fill(form.shape)
    changed = [
        math.log(float(volume(*(x + (u if i == k else 0.0) for i, x in enumerate(form.sizes)))[0]))
        for k, u in enumerate(written_u(q, U_CALLIPERS) for q in lengths)
    ]
    outline = float(volume(*form.sizes)[0])
    return ObservedSize(
        lengths_text(form.sizes),
        outline / 1000,
        float(np.linalg.norm(np.array(changed) - math.log(outline))),
        form.mass_g,
        fill,
        math.log(fill / low) / K95,
        math.log(high / fill) / K95,
        form.shape in STANDS_OUT,
        may_be_hollow,
    )


def lengths_text(sizes: Sequence[float]) -> str:
    """Lengths [mm] in one text."""
    return " x ".join(f"{x:g}" for x in sizes) + " mm"


def written_u(q: Quantity, least: float) -> float:
    """Standard uncertainty of a value: as stated, otherwise that of its last digit, and not below a least one."""
    if q.u is not None:
        return q.u
    written = NUMBER.search(q.text)
    number = float(written.group().replace(",", ".")) if written else 0.0
    if written is None or not number:
        return least
    step = q.value / number * 10.0 ** -len(written.group(1) or "")
    return float(max(least, step / math.sqrt(12)))


@dataclass(frozen=True)
class Nominal:
    """A mass [g] or length [mm] beside that of a coin type.

    `what` : "mass", "diameter" or "thickness". `u` : of the type and the reading together. `worn` : mean loss by wear.
    """

    what: str
    read: float
    nominal: float
    u: float
    worn: float

    @property
    def score(self) -> float:
        """Normal score of what is missing: wear takes away and never adds."""
        return float(mixture_score(np.array([self.nominal - self.read]), self.u, np.zeros(1), self.worn)[0])

    @property
    def pdf(self) -> float:
        """Density in ln(value) for a coin of the type."""
        return self.nominal * float(
            mixture_pdf(np.array([self.nominal - self.read]), self.u, np.zeros(1), self.worn)[0]
        )

    @property
    def pdf_of_others(self) -> float:
        """Density in ln(value) for other pieces, of which half are made to the same size."""
        away = math.log(self.read / self.nominal) / U_MADE_TO_SIZE
        made = math.exp(-0.5 * away**2) / (U_MADE_TO_SIZE * math.sqrt(2 * math.pi))
        return MADE_TO_SIZE * made + (1 - MADE_TO_SIZE) / SPAN


@dataclass(frozen=True)
class ObservedType(Graded):
    """Mass and lengths of a piece beside those of the coin type that it is said to be.

    Only pieces as claimed are bound to them: others may have any size, and many are made to that of the type. So this
    reading rules nothing else out, and metal as claimed in another piece always explains it.

    `checks` : mass and lengths. `beside` : number of other readings that rest on the same lengths. `as_claimed` : which
    candidates are made as the type is.
    """

    text: str
    checks: tuple[Nominal, ...]
    beside: int
    as_claimed: Callable[[Candidates], Mask]
    name: str = COIN_TYPE
    kind: str = COIN_TYPE
    place: str = ""
    unit_shown: str = "g"
    wild: ClassVar[float] = 0.0

    @cached_property
    def _pdf(self) -> tuple[float, float]:
        """Density for pieces made as the type is, and for others."""
        other = math.prod(c.pdf_of_others for c in self.checks)
        return (1 - OTHER_PIECES) * math.prod(c.pdf for c in self.checks) + OTHER_PIECES * other, other

    @property
    def type_share(self) -> float:
        """Of pieces made as the type is, the share that are of the type by these readings."""
        made, other = self._pdf
        return 1 - OTHER_PIECES * other / made

    @property
    def other(self) -> float:  # type: ignore[override]
        """Density under "something else": as for other pieces."""
        return self._pdf[1]

    @property
    def peak(self) -> float:  # type: ignore[override]
        """The larger of the two densities."""
        return max(self._pdf)

    def pdf(self, candidates: Candidates) -> Array:
        """Density of the sizes for each candidate, (n,)."""
        return np.where(self.as_claimed(candidates), *self._pdf)

    @cached_property
    def _score(self) -> float:
        """Score of the rarest of all checks, as rare as the rarest of so many is."""
        p = 2 * float(ndtr(-max(abs(c.score) for c in self.checks)))
        count = len(self.checks) + self.beside
        return float(-ndtri(max(-math.expm1(count * math.log1p(-min(p, 0.5))), 1e-300) / 2))

    def normal_score(self, candidates: Candidates) -> Array:
        """Normal score of the sizes for pieces made as the type is; others may have any."""
        return np.where(self.as_claimed(candidates), self._score, 0.0)

    def under(self, claim: Candidates) -> Callable[[Candidates], Array]:
        """Nothing is ruled out: another piece may have any size."""
        return lambda others: np.zeros(len(others))

    def expected(self, candidates: Candidates) -> Array:
        """Mass of the type [g]."""
        return np.full(len(candidates), self.checks[0].nominal)


def type_of(about: Circumstances, sized: bool) -> ObservedType | None:
    """The reading that mass and lengths give beside a coin type; None if nothing was measured that the type has."""
    coin, form, of_type = about.coin, about.form, about.made_as_claimed
    if coin is None or of_type is None:
        return None
    checks = checks_of(coin, form, about.mass, about.lengths)
    shown = [f"{form.mass_g:.4g} g"] if checks and checks[0].what == MASS else []
    shown += [lengths_text(form.sizes)] if _is_sized(coin, form) else []
    return ObservedType(", ".join(shown), checks, int(sized), of_type) if checks else None


def checks_of(coin: CoinType, form: Form, mass: Quantity | None, lengths: Sequence[Quantity]) -> tuple[Nominal, ...]:
    """Mass and lengths of a piece beside those of a coin type, as far as both are known."""
    checks = []
    if mass is not None and form.mass_g and coin.mass_g:
        u = coin.u_mass_g or U_COIN_MASS * coin.mass_g
        u = math.hypot(u, written_u(mass, 0.0) * form.mass_g / mass.value)
        checks.append(Nominal(MASS, form.mass_g, coin.mass_g, u, coin.wear_percent / 100 * coin.mass_g))
    if _is_sized(coin, form):
        diameter = ("diameter", coin.diameter_mm, coin.u_diameter_mm)
        rim = ("thickness", coin.thickness_mm, coin.u_thickness_mm)
        for (what, mm, u_mm), q in zip((diameter, rim), lengths, strict=True):
            if mm:
                u = math.hypot(u_mm or U_COIN_LENGTH, written_u(q, U_CALLIPERS))
                checks.append(Nominal(what, q.value, mm, u, WORN_MM))
    return tuple(checks)


def _is_sized(coin: CoinType, form: Form) -> bool:
    return form.measured and form.shape == "disc" and coin.shape == "round"
