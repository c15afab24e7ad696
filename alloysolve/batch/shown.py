"""The part of the document of an answer that a row of a list is worded from, as far as the tables know it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..answer.collect import amounts, spans
from ..answer.document import SCHEMA, Document
from ..answer.parts import ClaimData, FormData, Prior, SystemData
from ..answer.rounding import significant
from ..answer.rows import (
    AS_CLAIMED,
    FINER,
    SHOWN_FROM,
    SOMETHING_ELSE,
    SYSTEM,
    Amount,
    ConstructionData,
    Row,
    in_order,
    layer_of,
)
from ..arrays import Array, Index
from ..inference.decision import Decision
from ..inference.find import CLAIM_GROUP, COUNTED_FROM, FIRST_SYSTEM
from ..inference.groups import Groups, fractions, points_passed
from ..inference.posterior import LISTED_FROM, TRACE, thinned
from ..inputs.claim import Claim
from ..measured import Measured
from ..pieces.constructions import CONSTRUCTIONS
from ..version import VERSION
from .answers import BEST, FoundSystem
from .beliefs import Belief, Beliefs
from .table import PRECIOUS_BINS

LIKELIEST = 2  # groups that are described, besides those that are believed at least 1 in 20
PRECIOUS_MIDDLE = np.concatenate([[0.0], (PRECIOUS_BINS[1:] + PRECIOUS_BINS[:-1]) / 2])
LEAST_U = 1e-4  # least u of a precious content, as a share of the mass
LIGHT = 5e-5  # probability for which one of several unlikely rows stands
UNKNOWN = (None, None, None)

Contents = dict[str, Measured]


@dataclass(frozen=True)
class Held:
    """Content of each precious metal over all that counts (`find.counted`), with its share, and of each group."""

    whole: Contents
    share: float
    by_group: Mapping[int, Contents]


def held_of(belief: Belief, beliefs: Beliefs, mass_g: float | None) -> Held:
    """95 % ranges of the content of each precious metal."""
    counted = np.flatnonzero(belief.by_group >= COUNTED_FROM)
    place = np.full(len(belief.by_group), -1)
    place[counted] = np.arange(len(counted))
    each, size = place[belief.group], len(beliefs.symbols) * len(PRECIOUS_BINS)
    some = np.flatnonzero(each >= 0)
    weight, key = belief.weight[some], each[some] * size + belief.precious[:, some]
    found = np.asarray(np.bincount(key.ravel(), np.tile(weight, 2), len(counted) * size), dtype=float)
    shares = belief.by_group[counted]
    content = found.reshape(len(counted), len(beliefs.symbols), len(PRECIOUS_BINS))
    content = np.concatenate([content, content.sum(axis=0, keepdims=True)])
    ranges = _contents(content, np.append(shares, shares.sum()), beliefs.symbols, mass_g)
    return Held(ranges[-1], float(shares.sum()), dict(zip(counted.tolist(), ranges, strict=False)))


def _contents(content: Array, share: Array, symbols: tuple[str, ...], mass_g: float | None) -> list[Contents]:
    """Ranges of the metals of each group, from the probability of each bin of content (groups, metals, bins)."""
    scale, unit = (mass_g, "g") if mass_g else (100.0, "%")
    content[..., 0] = np.maximum(share[:, None] - content[..., 1:].sum(axis=-1), 0.0)  # those with none of it
    passed = points_passed(np.cumsum(content, axis=-1).reshape(-1, content.shape[-1]))
    ranges = PRECIOUS_MIDDLE[passed].reshape(*content.shape[:2], 3).tolist()
    out: list[Contents] = []
    for of_group in ranges:
        out.append({})
        for symbol, (low, likely, high) in zip(symbols, of_group, strict=True):
            if high >= TRACE:
                u = max((high - low) / 4, LEAST_U)
                out[-1][symbol] = Measured(likely * scale, u * scale, unit, low * scale, high * scale)
    return out


def thinned_belief(belief: Belief) -> Belief:
    """The belief with fewer rows, of which an unlikely one stands for its neighbours: for compositions and layers."""
    some, weight = thinned(np.zeros(len(belief.weight), dtype=np.intp), belief.weight, LIGHT)
    rows = {name: getattr(belief, name)[some] for name in ("point", "construction", "skin", "group")}
    return replace(belief, weight=weight, **rows)


def systems_of(belief: Belief, beliefs: Beliefs) -> list[FoundSystem]:
    """The likeliest systems: metals, probability, ranges [percent]."""
    most = np.argpartition(-belief.system, BEST)[:BEST]
    most = most[belief.system[most] >= LISTED_FROM]
    most = most[np.lexsort((most, -belief.system[most]))]
    if not len(most):
        return []
    of = _grouped(belief, beliefs, beliefs.system.take(belief.point), most)
    ranges = of.ranges(np.ones(len(most), dtype=bool))
    systems = beliefs.bodies.systems
    return [(of.metals(n, systems[s]), float(belief.system[s]), ranges[n]) for n, s in enumerate(most.tolist())]


def _grouped(belief: Belief, beliefs: Beliefs, each: Index, wanted: Index) -> Groups:
    """The rows whose number in `each` is wanted, in the order of the wanted numbers."""
    order = np.argsort(wanted)
    rank = order.take(np.searchsorted(wanted[order], each), mode="clip")
    some = np.flatnonzero(wanted[rank] == each)
    some = some[np.argsort(rank[some], kind="stable")]
    point, begin = belief.point[some], np.searchsorted(rank[some], np.arange(len(wanted) + 1))
    return Groups(beliefs.bodies, point, belief.weight[some], fractions(beliefs.bodies, point), begin)


def rows_of(belief: Belief, beliefs: Beliefs, claim: Claim | None, held: Held) -> tuple[Row, ...]:
    """The rows that people see, the likeliest first; of unlikely systems, nothing but their metals."""
    listed = np.flatnonzero(belief.by_group >= SHOWN_FROM)
    listed = listed[np.argsort(-belief.by_group[listed], kind="stable")]
    told = (np.arange(len(listed)) < LIKELIEST) | (belief.by_group[listed] >= COUNTED_FROM)
    described = _described(belief, beliefs, listed[told & (listed >= FIRST_SYSTEM)])
    metal = (claim.metal,) if claim and claim.metal else ()
    rows = [Row(SOMETHING_ELSE, significant(belief.other) or 0.0)]
    for group, share in zip(listed.tolist(), belief.by_group[listed].tolist(), strict=True):
        probability, holds = significant(share) or 0.0, amounts(held.by_group.get(group, {}), share)
        if group < FIRST_SYSTEM:
            rows.append(Row(AS_CLAIMED if group == CLAIM_GROUP else FINER, probability, metals=metal, holds=holds))
        else:
            row = described.get(group) or Row(SYSTEM, 0.0, metals=beliefs.bodies.systems[group - FIRST_SYSTEM])
            rows.append(replace(row, share=probability, holds=holds))
    return in_order(rows, SHOWN_FROM)


def _described(belief: Belief, beliefs: Beliefs, groups: Index) -> dict[int, Row]:
    """Systems beside the claim with their metals, family and what lies on or in them."""
    if not len(groups):
        return {}
    of, made = _grouped(belief, beliefs, belief.group, groups), _constructions(belief, beliefs, groups)
    ranges, systems = of.ranges(np.ones(len(groups), dtype=bool)), beliefs.bodies.systems
    out = {}
    for n, k in enumerate(groups.tolist()):
        metals, layer = of.metals(n, systems[k - FIRST_SYSTEM]), layer_of(made[k])
        out[k] = Row(SYSTEM, 0.0, metals=metals, family=made[k][0].family, ranges=spans(ranges[n]), layer=layer)
    return out


def _constructions(belief: Belief, beliefs: Beliefs, groups: Index) -> dict[int, list[ConstructionData]]:
    """What the pieces of some groups are, by construction, material and likeliest family, the likeliest first."""
    kinds = len(beliefs.layers.names) + 1
    each = (belief.group * len(CONSTRUCTIONS) + belief.construction) * kinds + belief.skin + 1
    wanted = np.unique(each[np.isin(belief.group, groups)])
    of = _grouped(belief, beliefs, each, wanted)
    out: dict[int, list[ConstructionData]] = {k: [] for k in groups.tolist()}
    for number, family, share in zip(wanted.tolist(), of.families(), of.total.tolist(), strict=True):
        rest, skin = divmod(number, kinds)
        group, construction = divmod(rest, len(CONSTRUCTIONS))
        built, part = CONSTRUCTIONS[construction], beliefs.layers.skin_name(skin - 1) if skin else None
        um = UNKNOWN if built.by_thickness else None
        out[group].append(ConstructionData(built.name, part, None, family, share, um, None, None))
    return {k: sorted(made, key=lambda c: -c.probability) for k, made in out.items()}


def document_of(
    belief: Belief,
    claim: ClaimData | None,
    rows: tuple[Row, ...],
    precious: Mapping[str, Amount],
    cautions: tuple[str, ...],
    names: Mapping[str, str],
) -> Document:
    """The document without what nobody looked for: next readings, blind spots, types of coins, sizes of layers."""
    best = SystemData((), float(belief.system.max(initial=0.0)), None, False, {}, (), ())
    return Document(
        schema=SCHEMA,
        version=VERSION,
        inputs={},
        settings={},
        prior=Prior("", ""),
        tables={},
        names=names,
        form=FormData("disc", (), False),
        density=None,
        claim=claim,
        rows=rows,
        readings=(),
        systems=(best,),
        something_else=significant(belief.other) or 0.0,
        first_under_other_prior=None,
        candidates=(),
        coin_types=(),
        precious=precious,
        conflicts=(),
        next_readings=(),
        blind_spots=(),
        notes=(),
        caveats=(),
        cautions=cautions,
    )


def claim_of(claim: Claim, decision: Decision | None) -> ClaimData:
    """The claim and the decision on it, without what a piece as claimed would have read."""
    return ClaimData(
        text=claim.text,
        kind=claim.kind,
        metal=claim.metal,
        regions=tuple(r.claim for r in claim.regions),
        plated=claim.plated,
        hollow=claim.hollow,
        colours=len({r.colour for r in claim.regions}),
        least_percent=claim.least if claim.metal else None,
        coin="",
        decision=decision.code if decision else None,  # type: ignore[arg-type]
        p=significant(decision.p) if decision else None,
        false_alarm=decision.false_alarm if decision else None,
        excluded=None,
        reasons=(),
        density_g_cm3=None,
        would_displace_g=None,
        misread_g=None,
        bubble_mm=None,
        would_show_below_per_mille=None,
    )
