"""What is expected before any reading, as shares over bodies and constructions (claim_priors.csv, families.csv)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import inf

import numpy as np

from ..alloys.bodies import Bodies, joined_bodies
from ..alloys.families import all_bodies
from ..alloys.materials import Layers, layers_of
from ..arrays import Array, Mask
from ..inputs.claim import Claim
from ..inputs.ware import made_in_one
from ..integral.believed import Believed, Spans, spans_up_to
from ..pieces.constructions import (
    CLAD,
    CONSTRUCTIONS,
    ENRICHED,
    HOLLOW,
    HOMOGENEOUS,
    INSERTED,
    PLATED,
    WEIGHTED,
    Construction,
    Place,
)
from ..pieces.shape import Form
from ..published.load import Tables
from ..published.wares import ClaimPrior, StrikeRow
from ..readings.base import BODY, STRIKES, SURFACE
from .alternatives import Alternatives, Every, StandIns, every_alternative, stand_ins
from .claim_regions import CLAIM_SLACK
from .claimed import ALLOYED, ENRICHING, claim_bodies, less_fine_bodies
from .commonness import DEFAULT, FLAT, NamedPrior, family_weights
from .layered import ClaimedLayer, body_under, claimed_layer, claimed_skins, near_core
from .lazily import Lazily
from .posterior import PriorShares

WEIGHTED_AS_CLAIMED = 0.9  # share of pieces as claimed that are weighted, of those said to be (judgement)
BARE_UNDER_PLATED_CLAIM = 0.15  # share of bare pieces among those said to be plated (judgement)
# every table that a prior is made from: its shares, and the compositions and materials that they are shared over
TABLES_OF_PRIOR = (
    "claim_priors",
    "clad",
    "claim_words",
    "claims",
    "coins",
    "commonness",
    "families",
    "grades",
    "inserts",
    "metals",
    "pairs",
    "skins",
    "spans",
    "strikes",
)


@dataclass(frozen=True)
class Prior:
    """Prior shares over the points of `bodies`; all arrays and `other` together sum to 1.

    `levels` : the same belief, told apart as far as readings show it: bodies, strikes of nickel, any strike and
    enriched surfaces (`base.BODY`, `STRIKES`, `SURFACE`). `meets_claim` : bodies that hold at least what is claimed.
    `finer` : bodies that hold more than the region of the claim. `layer` : what the claim says of a layer ("silver
    plated", a clad coin), or None. `may_be_hollow`, `weighted` : whether a hollow or weighted piece may be as claimed.
    """

    named: NamedPrior
    bodies: Bodies
    layers: Layers
    claim_bodies: Bodies | None
    levels: Sequence[tuple[Believed, ...]]
    meets_claim: Mask
    finer: Mask
    other: float
    layer: ClaimedLayer | None = None
    may_be_hollow: bool = False
    metal: str = ""
    weighted: bool = False

    @property
    def name(self) -> str:
        """Name of the prior in use."""
        return self.named.name

    @property
    def plain(self) -> tuple[Believed, ...]:
        """What is expected, told apart no further than a density shows."""
        return self.levels[BODY]

    @property
    def homogeneous(self) -> Array:
        """Prior share of each body as a solid piece."""
        return np.asarray(sum(b.share for b in self.plain if b.construction == HOMOGENEOUS))

    @property
    def skins(self) -> list[int]:
        """Numbers of the materials that cover bodies."""
        return [b.skin for b in self.plain if b.built.applied]

    @cached_property
    def shares(self) -> PriorShares:
        """Total prior share by system, and by construction and system."""
        return self._shares(lambda b: np.ones(len(b.share), dtype=bool))

    @cached_property
    def shares_beside(self) -> PriorShares:
        """Prior shares of pieces that are not as claimed, hollow ones among them unless the claim allows them."""
        return self._shares(lambda b: self.beside(b) | (b.construction == HOLLOW and not self.may_be_hollow))

    def beside(self, b: Believed) -> Mask:
        """On which bodies a construction is not as claimed.

        A shell as claimed around another metal is no piece as claimed, and one around pitch or plaster only if the
        claim says so.
        """
        if self.layer and self.layer.named(b.construction, b.skin):
            return ~self.layer.on
        return np.asarray(~self.meets_claim | self.inserted[b.construction])

    @property
    def inserted(self) -> Mask:
        """By construction, whether another material in or on a body as claimed makes it a piece not as claimed."""
        return np.asarray(INSERTED & ~(self.weighted & (np.arange(len(INSERTED)) == WEIGHTED)))

    def _shares(self, among: Callable[[Believed], Mask]) -> PriorShares:
        """Prior shares over some bodies of each construction."""
        size, system = len(self.bodies.systems), self.bodies.system

        def of_level(level: int) -> dict[tuple[int, int], Array]:
            out: dict[tuple[int, int], Array] = {}
            for b in self.levels[level]:
                kind = (b.construction, int(self.layers.group[b.skin]) if b.skin >= 0 else -1)
                point = np.flatnonzero((b.share > 0) & among(b))
                each = np.bincount(system[point], b.share[point], minlength=size).astype(float)
                out[kind] = out[kind] + each if kind in out else each
            return out

        by_kind = Lazily(of_level, len(self.levels))
        return PriorShares(np.sum(list(by_kind[BODY].values()), axis=0), by_kind)

    def alternatives(self, form: Form) -> Alternatives:
        """What is not the claim, as candidates with a few values of the free parameter each.

        Those of the last four forms are kept.
        """
        if form not in self._alternatives:
            while len(self._alternatives) > 3:
                self._alternatives.pop(next(iter(self._alternatives)))
            self._alternatives[form] = self._stand_ins.of_form(self.bodies, self.layers, form)
        return self._alternatives[form]

    @cached_property
    def _alternatives(self) -> dict[Form, Alternatives]:
        return {}

    @cached_property
    def _stand_ins(self) -> StandIns:
        return stand_ins(self.every_alternative())

    def whole(self, form: Form) -> Alternatives:
        """All that is believed, the claim among it, as candidates with a few values of the free parameter each."""
        return self._whole.of_form(self.bodies, self.layers, form)

    @cached_property
    def _whole(self) -> StandIns:
        return stand_ins(self._every(self.plain))

    def every_alternative(self) -> Every:
        """All that is not the claim, of which `alternatives` gives some that stand for all."""
        return self._every([replace(b, share=np.where(self.beside(b), b.share, 0.0)) for b in self.plain])

    def _every(self, believed: Iterable[Believed]) -> Every:
        """All candidates of some shares."""
        if self.claim_bodies is not None:
            claim_v = float(self.claim_bodies.v.mean())
        else:  # nothing but a layer is claimed, or nothing at all
            share = self.layer.weight if self.layer else self.homogeneous
            claim_v = float(self.bodies.v @ share / share.sum())
        return every_alternative(believed, self.bodies, self.layers, claim_v, self.metal)


@lru_cache(maxsize=8)  # each holds all bodies
def prior_of(tables: Tables, claim: Claim | None, may_be_hollow: bool, named: NamedPrior = DEFAULT) -> Prior:
    """The prior for a claim (None: no claim) under the default prior, the flat one or that of a file."""
    kind = _kind(tables, claim)
    every, (less, own, under) = _bodies_for(tables, claim)
    bodies = all_bodies(tables)
    families = family_weights(tables, kind.kind, named)
    of_family = np.array([families.get(n, 0.0) for n in bodies.names])[bodies.family]
    weight, coarse = of_family * bodies.weight, of_family * bodies.coarse
    numbers = {n: i for i, n in enumerate(bodies.names)}
    pair, triple = (bodies.family == numbers[n] for n in ("pair", "triple"))
    # "something else" keeps its share whatever is claimed; the others share what the claim leaves
    layered = bool(claim and (claim.plated or claim.clad))
    claimed = kind.claim if own is not None or layered else 0.0
    rest = (1.0 - claimed - kind.other) / (1.0 - kind.other)
    homogeneous = rest * kind.homogeneous * weight
    layers = layers_of(tables)
    homogeneous[pair] = rest * kind.pairs * bodies.weight[pair]
    homogeneous[triple] = rest * kind.triples * bodies.weight[triple]
    hollow = rest * kind.hollow * coarse
    covered = _plated(tables, bodies, kind, rest * kind.plated * coarse)
    covered += _clad(tables, bodies, rest * kind.clad, coarse)
    if less is None:  # no standard below the claim: its share goes to the other bare bodies
        homogeneous *= 1 + rest * kind.less_fine / homogeneous.sum()
    weighted = WEIGHTED_AS_CLAIMED if claim and claim.weighted and claim.metal == "Ag" and own is not None else 0.0
    shares = {n: rest * _share(kind, c) for n, c in enumerate(CONSTRUCTIONS) if c.inserted}
    shares[WEIGHTED] += weighted * kind.claim
    inserted = _inserted(tables, claim, kind, shares) if own is not None else []
    left = sum(shares.values()) - sum(share for *_, share in inserted)
    homogeneous *= 1 + left / homogeneous.sum()
    for added, share in ((less, rest * kind.less_fine), (own, (1 - weighted) * kind.claim), (under, 0.0)):
        if added is None:
            continue
        solid = 0.5 if may_be_hollow else 1.0
        each = share * added.weight / len(added.names)
        homogeneous = np.concatenate([homogeneous, solid * each])
        hollow = np.concatenate([hollow, (1 - solid) * each])
    bodies = every
    covered = [replace(b, share=_longer(b.share, len(bodies.v))) for b in covered]
    if own is not None:
        shell = np.zeros(len(bodies.v))
        shell[-len(own.v) :] = own.weight / len(own.names)
        covered += [
            Believed(construction, skin, share * shell, ((1.0, least, most),))
            for construction, skin, least, most, share in inserted
        ]
    meets = _meets(bodies, claim)
    if own is not None:
        meets[-len(own.v) :] = True
    bare = [Believed(HOMOGENEOUS, -1, homogeneous), Believed(HOLLOW, -1, hollow, spans_of(tables, HOLLOW, kind.kind))]
    layer = None
    if claim and layered:
        usual = spans_of(tables, PLATED, kind.kind)
        layer = claimed_layer(tables, claim, bodies, under, _longer(coarse, len(bodies.v)), usual)
        covered += layer.believed(kind.claim) if layer else []
    return Prior(
        named,
        bodies,
        layers,
        own,
        _levels(tables, kind, layers, bodies, bare, covered),
        meets,
        _finer(bodies, claim),
        kind.other,
        layer,
        may_be_hollow,
        claim.metal if claim else "",
        bool(weighted),
    )


@lru_cache(maxsize=4)  # each holds all bodies; the two priors of an answer share them
def _bodies_for(tables: Tables, claim: Claim | None) -> tuple[Bodies, tuple[Bodies | None, ...]]:
    """All bodies, and those that a claim adds to them: less fine ones, its own, and those under its layer."""
    if claim is None:
        return all_bodies(tables), (None, None, None)
    added = (less_fine_bodies(tables, claim), claim_bodies(tables, claim), body_under(tables, claim))
    return joined_bodies([all_bodies(tables), *filter(None, added)]), added


def other_prior(named: NamedPrior) -> NamedPrior:
    """The prior with which an answer is compared."""
    return DEFAULT if named == FLAT else FLAT


@lru_cache(maxsize=8)
def envelope(
    tables: Tables, claim: Claim | None, may_be_hollow: bool, named: NamedPrior, level: int
) -> tuple[Believed, ...]:
    """The larger of the shares that a named prior and the one it is compared with give each body.

    Rows that are made for it serve both priors (`Rows.under`), so that no answer is integrated twice.
    """
    one, other = (prior_of(tables, claim, may_be_hollow, n).levels[level] for n in (named, other_prior(named)))
    return tuple(replace(a, share=np.maximum(a.share, b.share)) for a, b in zip(one, other, strict=True))


def _longer(share: Array, size: int) -> Array:
    return np.concatenate([share, np.zeros(size - len(share))])


def _clad(tables: Tables, bodies: Bodies, share: float, weight: Array) -> list[Believed]:
    """Published clad stock."""
    stock = tables.rows("clad")
    out: list[Believed] = []
    for r in stock:
        of_core = near_core(tables, bodies, r, weight > 0) * weight
        spread = np.sqrt(3.0) * r.u_share
        out.append(
            Believed(
                CLAD,
                layers_of(tables).number(r.faces),
                share / len(stock) * of_core / of_core.sum(),
                ((1.0, r.share - spread, r.share + spread),),
            )
        )
    return out


def _inserted(
    tables: Tables, claim: Claim | None, kind: ClaimPrior, shares: Mapping[int, float]
) -> list[tuple[int, int, float, float, float]]:
    """Slugs and fillings in, and parts joined to, a body as claimed: construction, material, least, most, share.

    Nothing is joined to a coin, bar or medal. `shares` : of each such construction.
    """
    out: list[tuple[int, int, float, float, float]] = []
    if claim is None or kind.kind in ("none", "base"):
        return out
    for construction, share in shares.items():
        of = CONSTRUCTIONS[construction]
        if not share or (of.place is Place.BESIDE and made_in_one(claim)):
            continue
        rows = [r for r in tables.rows("inserts") if r.construction == of.key and getattr(r, kind.kind) > 0]
        whole = sum(getattr(r, kind.kind) for r in rows)
        out += [
            (
                construction,
                layers_of(tables).number(r.part),
                r.least,
                r.most,
                share * getattr(r, kind.kind) / whole,
            )
            for r in rows
        ]
    return out


def _share(kind: ClaimPrior, construction: Construction) -> float:
    """Prior share of a construction, from its column of claim_priors.csv."""
    return float(getattr(kind, construction.key))


def _levels(
    tables: Tables, kind: ClaimPrior, layers: Layers, bodies: Bodies, bare: list[Believed], covered: list[Believed]
) -> Sequence[tuple[Believed, ...]]:
    """The same belief three times: as it is; with strikes of nickel; with all strikes and changed surfaces."""

    def of_level(level: int) -> tuple[Believed, ...]:
        if level == BODY:
            return (*bare, *covered)
        if level == STRIKES:
            return (*bare, *_with_strikes(tables, kind, layers, covered, ("Ni",)))
        changed = _enriched(bodies, kind.enriched * bare[0].share, spans_of(tables, ENRICHED, kind.kind))
        solid = bare[0].share - sum(b.share for b in changed)
        return (replace(bare[0], share=solid), bare[1], *changed, *_with_strikes(tables, kind, layers, covered, ()))

    return Lazily(of_level, 1 + SURFACE)


def _enriched(bodies: Bodies, share: Array, spans: Spans) -> list[Believed]:
    """Alloys whose surface is finer than they are; all have the same share of each body."""
    out = []
    for symbol in ENRICHING:
        at = bodies.law.index[symbol]
        base = (bodies.main == at) & (bodies.w[:, at] < ALLOYED)
        out.append(Believed(ENRICHED, at, np.where(base, share, 0.0), spans))
    return out


def _with_strikes(
    tables: Tables, kind: ClaimPrior, layers: Layers, covered: list[Believed], metals: tuple[str, ...]
) -> list[Believed]:
    """Skins with and without each strike, for some metals or for all."""
    out, bare = [], {r.name for r in tables.rows("skins") if not r.over_strikes}
    for b in covered:
        skin = layers.names[b.skin]
        rows = [r for r in tables.rows("strikes") if r.metal != skin and (not metals or r.metal in metals)]
        if not b.built.applied or not rows or skin in bare:
            out.append(b)
            continue
        strikes = [(layers.number(_strike_name(skin, r, tables)), getattr(r, kind.kind)) for r in rows]
        out.append(replace(b, share=b.share * (1 - sum(share for _, share in strikes))))
        out += [replace(b, skin=number, share=b.share * share) for number, share in strikes]
    return out


def _strike_name(skin: str, row: StrikeRow, tables: Tables) -> str:
    first = next(r.um for r in tables.rows("strikes") if r.metal == row.metal)
    return f"{skin}/{row.metal}" + ("" if row.um == first else f" {row.um:g}")


def _kind(tables: Tables, claim: Claim | None) -> ClaimPrior:
    kind = tables.claim_priors[claim.kind if claim else "none"]
    if not (claim and claim.may_be_weighted):
        kind = kind._replace(homogeneous=kind.homogeneous + kind.weighted, weighted=0.0)
    if claim and claim.plated:  # the claim itself says what the skin is
        plated = kind.homogeneous + kind.plated + kind.clad - BARE_UNDER_PLATED_CLAIM
        layers = layers_of(tables)
        skins = {layers.names[skin]: share for skin, share in claimed_skins(tables, claim)}
        return kind._replace(homogeneous=BARE_UNDER_PLATED_CLAIM, plated=plated, clad=0.0, skins=skins)
    return kind


def spans_of(tables: Tables, construction: int, kind: str) -> Spans:
    """Parts of the prior of a thickness [um] or share of empty space, for a kind of claim (spans.csv)."""
    rows = [r for r in tables.rows("spans") if (r.construction, r.kind) == (CONSTRUCTIONS[construction].name, kind)]
    return tuple((r.share, r.least, r.most) for r in sorted(rows, key=lambda r: float(r.least)))


def _plated(tables: Tables, bodies: Bodies, kind: ClaimPrior, weight: Array) -> list[Believed]:
    """Shares of bodies under each skin; one of the skin's own metal is not plated, and others take its share."""
    base = [tables.families[n].system.split()[0] if n in tables.families else "" for n in bodies.names]
    layers, total = layers_of(tables), sum(kind.skins.values())
    most = {r.name: r.most_um for r in tables.rows("skins") if r.most_um}
    out: list[Believed] = []
    for name, share in kind.skins.items():
        skin = layers.number(name)
        metal = bodies.law.symbols[int(np.argmax(layers.w[skin]))]
        other = np.array([b != metal for b in base])[bodies.family]
        each = weight * other * (weight.sum() / (weight @ other)) * share / total
        out.append(Believed(PLATED, skin, each, spans_up_to(spans_of(tables, PLATED, kind.kind), most.get(name, inf))))
    return out


def _finer(bodies: Bodies, claim: Claim | None) -> Mask:
    """Mask of bodies that hold more of the claimed metal than the region of the claim."""
    if claim is None or not claim.metal or claim.plated:
        return np.zeros(len(bodies.v), dtype=bool)
    most = max(r.limits[claim.metal][1] for r in claim.regions) / 100
    return np.asarray(bodies.w[:, bodies.law.index[claim.metal]] > most + CLAIM_SLACK)


def _meets(bodies: Bodies, claim: Claim | None) -> Mask:
    if claim is None or claim.plated or claim.clad:
        return np.zeros(len(bodies.v), dtype=bool)
    if claim.metal:
        return np.asarray(bodies.w[:, bodies.law.index[claim.metal]] >= claim.least / 100 - CLAIM_SLACK)
    return np.array([n in claim.families for n in bodies.names])[bodies.family]
