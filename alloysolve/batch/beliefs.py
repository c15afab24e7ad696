"""Probabilities for many pieces from one table: what claims of one kind share, and what each claim adds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.families import all_bodies
from ..alloys.materials import Layers
from ..answer.collect import prior_hash
from ..arrays import Array, Index, Mask
from ..inference.commonness import NamedPrior
from ..inference.find import FIRST_SYSTEM, group_of
from ..inference.prior import prior_of
from ..inputs.claim import Claim, parse_claim
from ..integral.believed import Believed
from ..kept import kept
from ..pieces.constructions import HOLLOW, INSERTED
from ..published.load import Tables, digest
from ..readings.base import BODY
from .kernels import ratio_kernel
from .near import near
from .nodes import columns_of
from .reading import RowReading
from .table import Segment

# whose code makes a table
ROOMS = (
    *("published", "physics", "alloys", "pieces", "readings", "inputs", "inference"),
    *("integral/believed", "integral/windows", "batch/beliefs", "batch/reading", "batch/nodes", "batch/table"),
)
OF_KIND = {
    "silver": "silver 999",
    "gold": "gold 999",
    "platinum": "platinum 950",
    "palladium": "palladium 950",
    "base": "brass",
    "none": "",
}


@dataclass(frozen=True)
class Belief:
    """Probabilities for one piece.

    Attributes
    ----------
    point, construction, skin, weight : of each row near the readings, its body, what it is, and its probability.
    group : of each row, in which group people are shown it (`find.group_of`). by_group : probability of each group.
    precious : (2, rows), as in `table.Segment`.
    system : probability of each system. other : of "something else". solid : of solid pieces of the claimed metal.
    held : of each caution, that the body holds enough for it.
    """

    point: Index
    construction: Index
    skin: Index
    weight: Array
    group: Index
    by_group: Array
    precious: Index
    system: Array
    other: float
    solid: float
    held: Mapping[tuple[str, float], float]


@dataclass(frozen=True, eq=False)
class Beliefs:
    """What is expected under one claim.

    Attributes
    ----------
    parts : tables, with the share of each of their kinds. other : share of "something else".
    system : of each point; group : as claimed, finer, or its system (`find.counted`).
    cautions : metal and percent of each caution; `harmful` : of each point, for which of them it holds enough, as
        binary digits. meets_claim : which points do.
    """

    parts: tuple[tuple[Segment, Array], ...]
    other: float
    may_be_hollow: bool
    bodies: Bodies
    layers: Layers
    system: Index
    group: Index
    symbols: tuple[str, ...]
    cautions: tuple[tuple[str, float], ...]
    harmful: Index
    meets_claim: Mask

    def of(self, r: RowReading) -> Belief:
        """Prior times likelihood over all rows near a reading, normalised."""
        by_v, by_rho = r.weighed.kernel(), None
        if r.conductivity is not None:
            by_rho = ratio_kernel(float(np.log(100 / r.conductivity.read)), r.conductivity.u)
        found = [(part, *near(part, share, by_v, by_rho, r)) for part, share in self.parts]
        weight = np.concatenate([weight for _, _, weight in found])
        point = np.concatenate([part.point.take(rows) for part, rows, _ in found]).astype(np.intp)
        construction, skin = np.concatenate([part.kind(rows) for part, rows, _ in found], axis=1)
        precious = np.concatenate([part.precious.take(rows, axis=1) for part, rows, _ in found], axis=1)
        system, other = self.system.take(point), self.other * r.other
        total = weight.sum() + other
        weight = weight / total
        inserted, hollow = INSERTED.take(construction), construction == HOLLOW
        solid = self.meets_claim.take(point) & ~inserted & ~hollow
        harmful = np.bincount(self.harmful.take(point), weight, 2 ** len(self.cautions))
        held = [float(harmful[_digit(k, len(harmful))].sum()) for k in range(len(self.cautions))]
        beside = inserted if self.may_be_hollow else inserted | hollow
        group = np.where(beside, FIRST_SYSTEM + system, self.group.take(point))
        return Belief(
            point,
            construction,
            skin,
            weight,
            group,
            np.asarray(np.bincount(group, weight, FIRST_SYSTEM + len(self.bodies.systems)), dtype=float),
            precious.astype(np.intp),
            np.asarray(np.bincount(system, weight, len(self.bodies.systems)), dtype=float),
            float(other / total),
            float(weight[solid].sum()),
            dict(zip(self.cautions, held, strict=True)),
        )


def _digit(k: int, size: int) -> Mask:
    """Which of the numbers below `size` have the binary digit `k`."""
    return np.asarray((np.arange(size) >> k) % 2 == 1)


def precious_symbols(tables: Tables) -> tuple[str, ...]:
    """The precious metals."""
    known = all_bodies(tables).law.index
    return tuple(s for s, m in tables.metals.items() if m.precious and s in known)


@lru_cache(maxsize=12)
def _shared(tables: Tables, kind: str, prior: NamedPrior, conducts: bool) -> Segment:
    """The table for a kind of claim, with or without a conductivity, without what a claim adds; it is kept on disk."""
    text = OF_KIND[kind]
    beliefs = prior_of(tables, parse_claim(text, tables) if text else None, False, prior)
    bodies = all_bodies(tables)
    size = len(bodies.v)
    believed = tuple(replace(b, share=b.share[:size]) for b in beliefs.levels[BODY] if b.share[:size].any())
    said = [
        kind,
        str(conducts),
        prior_hash(tables, prior),
        digest(tables, {k.partition(".")[0] for k in tables.hashes()}),
    ]
    symbols = precious_symbols(tables)
    columns = kept(
        "batch",
        "\n".join(said),
        ROOMS,
        lambda: columns_of(bodies, beliefs.layers, believed, conducts, symbols),
    )
    return Segment(tuple(_without_bodies(b) for b in believed), **columns)


def _without_bodies(b: Believed) -> Believed:
    """The construction without the share of each body, of which a table has no further need."""
    return replace(b, share=b.share.sum(keepdims=True))


@lru_cache(maxsize=128)
def beliefs_of(tables: Tables, claim: Claim | None, may_be_hollow: bool, prior: NamedPrior, conducts: bool) -> Beliefs:
    """What is expected under a claim, in a table with or without a conductivity."""
    whole, size = prior_of(tables, claim, may_be_hollow, prior), len(all_bodies(tables).v)
    shared = _shared(tables, claim.kind if claim else "none", prior, conducts)
    believed = whole.levels[BODY]
    symbols = precious_symbols(tables)

    parts = [(shared, _shares_of(shared, believed, size))]
    if own := tuple(_behind(b, size) for b in believed if b.share[size:].any()):
        columns = columns_of(whole.bodies, whole.layers, own, conducts, symbols)
        parts.append(
            (Segment(tuple(_without_bodies(b) for b in own), **columns), np.array([b.share.sum() for b in own]))
        )
    bodies = whole.bodies
    cautions = tuple((r.metal, r.from_percent) for r in tables.rows("cautions"))
    harmful = sum(
        (_holding(bodies, *caution).astype(np.intp) << k for k, caution in enumerate(cautions)), 0 * bodies.system
    )
    return Beliefs(
        tuple(parts),
        whole.other,
        may_be_hollow,
        bodies,
        whole.layers,
        bodies.system,
        group_of(whole.meets_claim, whole.finer, bodies.system),
        symbols,
        cautions,
        harmful,
        whole.meets_claim,
    )


def _shares_of(shared: Segment, believed: tuple[Believed, ...], size: int) -> Array:
    """Share of each kind of a table under a claim; kinds of one construction and material differ in their spans."""
    of_kind = {(b.construction, b.skin, b.spans): float(b.share[:size].sum()) for b in believed}
    return np.array([of_kind[b.construction, b.skin, b.spans] for b in shared.kinds])


def _holding(bodies: Bodies, metal: str, from_percent: float) -> Mask:
    """Which bodies hold at least this share of a metal."""
    if metal not in bodies.law.index:
        return np.zeros(len(bodies.v), dtype=bool)
    return np.asarray(bodies.w[:, bodies.law.index[metal]] >= from_percent / 100 - 1e-9)


def _behind(b: Believed, size: int) -> Believed:
    """The expectation with the share of the bodies that a claim adds placed behind the first `size`."""
    return Believed(b.construction, b.skin, np.where(np.arange(len(b.share)) < size, 0.0, b.share), b.spans)
