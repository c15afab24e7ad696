"""The rows of an answer as people see them: what a piece may be, how likely each is, and all that is not shown.

Terminal, page, stored record, notebook and batch put these rows into words and make none of their own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from ..pieces.constructions import BY_NAME, Construction, Place

Span = tuple[float | None, float | None, float | None]  # low, likely, high; None for what no reading limits
What = Literal["as claimed", "finer than claimed", "system", "something else", "not shown"]
AS_CLAIMED: What = "as claimed"
FINER: What = "finer than claimed"
SYSTEM: What = "system"
SOMETHING_ELSE: What = "something else"  # in no table
NOT_SHOWN: What = "not shown"  # everything below the cut, whatever it is

LIKELY_FROM = 0.5  # probability from which one thing is said to fit, and not several
SHOWN_FROM = 0.004  # probability from which something has a row of its own
ALIKE_FROM = 0.02  # of the first row's probability; a less likely row shows its own odds
MATTERS = 0.05  # share of a system below which another of its constructions is not mentioned


@dataclass(frozen=True, slots=True)
class ConstructionData:
    """A construction of one system: its parts by symbol or name in skins.csv, its sizes as low, likely, high."""

    construction: str
    skin: str | None
    strike: str | None
    family: str
    probability: float
    skin_um: Span | None
    void_percent: Span | None
    part_percent: Span | None


@dataclass(frozen=True, slots=True)
class Layer:
    """What lies on, in or beside a body.

    Attributes
    ----------
    construction : name of one of `pieces.constructions.CONSTRUCTIONS`.
    part : symbol, or name in skins.csv, of the layer, core or joined part; "" for empty space. strike : symbol of what
        lies under the layer, or "". um : thickness of the layer. percent : share by volume of a part or empty space.
    share : of the row's pieces, those with such a layer; bare : those with nothing on them.
    """

    construction: str
    part: str
    strike: str
    um: Span | None
    percent: Span | None
    share: float
    bare: float

    @property
    def built(self) -> Construction:
        """The construction as a record."""
        return BY_NAME[self.construction]

    @property
    def sizes(self) -> tuple[float, float] | None:
        """Least and most thickness [um] or share [percent]; None if no reading limits them."""
        found = self.percent if self.um is None else self.um
        return (found[0], found[2]) if found and found[0] is not None and found[2] is not None else None


@dataclass(frozen=True, slots=True)
class Amount:
    """Content of a precious metal, in grams or percent: a 95 % range of what is counted.

    `covers` : probability of what is counted: all that is believed at least 1 in 20, or one row of the answer.
    `u` : one standard uncertainty.
    """

    low: float
    likely: float
    high: float
    unit: str
    covers: float
    u: float | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """One row of an answer.

    Attributes
    ----------
    share : probability; all rows together make 1. largest : of "not shown", the most that one thing in it has.
    metals, family : of the body, to name it by. ranges : low, likely, high mass percent of its metals.
    layer : on or in it. holds : of each precious metal.
    alike_the_first : the readings do not tell it from the first. bayes_factor_against_next : of the readings alone.
    """

    what: What
    share: float
    largest: float | None = None
    metals: tuple[str, ...] = ()
    family: str = ""
    ranges: Mapping[str, Span] = field(default_factory=dict)
    layer: Layer | None = None
    holds: Mapping[str, Amount] = field(default_factory=dict)
    alike_the_first: bool = False
    bayes_factor_against_next: float | None = None


def in_order(rows: Sequence[Row], largest: float) -> tuple[Row, ...]:
    """Rows from `SHOWN_FROM` on, the likeliest first, and what is missing from 1 as the last.

    `largest` : the most that anything without a row can have.
    """
    shown = sorted((r for r in rows if r.share >= SHOWN_FROM), key=lambda r: -r.share)
    rest = round(1 - sum(r.share for r in shown), 6)
    most = max([largest, *(r.share for r in rows if r.share < SHOWN_FROM)])
    return (*shown, Row(NOT_SHOWN, rest, min(most, rest))) if rest > 0 else tuple(shown)


def at_most(rows: Sequence[Row], most: int) -> tuple[Row, ...]:
    """At most so many rows with a share worth a line, the claim always among them; the rest joins what is not shown."""
    shown = [r for r in rows if r.what != NOT_SHOWN]
    rest = [r for r in rows if r.what == NOT_SHOWN]
    if len(shown) + sum(r.share >= SHOWN_FROM for r in rest) <= most:
        return tuple(r for r in rows if r.share >= SHOWN_FROM)
    room = max(most - 1, 0)
    claimed = [r for r in shown[room:] if r.what == AS_CLAIMED][:room]
    kept = [*shown[: room - len(claimed)], *claimed]
    gone = [r for r in [*shown, *rest] if r not in kept]
    largest = max(r.share if r.largest is None else r.largest for r in gone)
    return (*kept, Row(NOT_SHOWN, round(sum(r.share for r in gone), 6), largest))


def layer_of(constructions: Sequence[ConstructionData]) -> Layer | None:
    """What lies on or in the body of one system, from its constructions, the likeliest first."""
    first = constructions[0]
    whole = sum(c.probability for c in constructions) or 1.0
    bare = sum(c.probability for c in constructions if not c.skin) / whole
    place = BY_NAME[first.construction].place
    if place not in (Place.NOWHERE, Place.OVER):
        return _layer(first, first.probability / whole, bare)
    coated = [c for c in constructions if c.skin and c.skin_um]
    share = sum(c.probability for c in coated) / whole
    if coated and share >= MATTERS:
        return _layer(coated[0], share, bare)
    return None if place is Place.NOWHERE else _layer(first, 1 - bare, bare)


def _layer(c: ConstructionData, share: float, bare: float) -> Layer:
    percent = c.void_percent or c.part_percent
    return Layer(c.construction, c.skin or "", c.strike or "", c.skin_um, percent, round(share, 3), round(bare, 3))
