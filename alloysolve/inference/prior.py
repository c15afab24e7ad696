"""What is expected before any reading, as shares over bodies and constructions (claim_priors.csv, families.csv)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from ..alloys.bodies import Bodies, joined_bodies
from ..alloys.families import all_bodies
from ..alloys.materials import Layers, layers_of
from ..arrays import Array, Mask
from ..inputs.claim import Claim
from ..integral.believed import Believed
from ..pieces.constructions import CONSTRUCTIONS, HOLLOW, HOMOGENEOUS, INSERTED, PLATED, WEIGHTED
from ..pieces.shape import Form
from ..published.load import Tables
from ..published.wares import ClaimPrior
from ..readings.base import BODY
from .alternatives import Alternatives, Every, StandIns, every_alternative, stand_ins
from .claim_regions import CLAIM_SLACK
from .claimed import claim_bodies, less_fine_bodies
from .commonness import DEFAULT, FLAT, NamedPrior, family_weights
from .covered import clad, inserted, levels_of, plated, spans_of
from .layered import ClaimedLayer, body_under, claimed_layer, claimed_skins
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
    kind, layers = _kind(tables, claim), layers_of(tables)
    bodies, (less, own, under) = _bodies_for(tables, claim)
    layered = bool(claim and (claim.plated or claim.clad))
    # "something else" keeps its share whatever is claimed; the others share what the claim leaves
    claimed = kind.claim if own is not None or layered else 0.0
    rest = (1.0 - claimed - kind.other) / (1.0 - kind.other)
    weight, coarse = _weights(tables, kind, named, len(bodies.v))
    weighted = WEIGHTED_AS_CLAIMED if claim and claim.weighted and claim.metal == "Ag" and own is not None else 0.0
    shares = {n: rest * float(getattr(kind, c.key)) for n, c in enumerate(CONSTRUCTIONS) if c.inserted}
    shares[WEIGHTED] += weighted * kind.claim
    shell = _in_added(len(bodies.v), [(own, 1.0)])
    inside = inserted(tables, claim, kind, shares, shell) if own is not None else []
    unused = sum(shares.values()) - float(sum(b.share.sum() for b in inside))
    if less is None:  # no standard below the claim: its share goes to the other bare bodies
        unused += rest * kind.less_fine
    solid = _solid(tables, kind, rest, weight, bodies, unused)
    of_claim = _in_added(
        len(bodies.v), [(less, rest * kind.less_fine), (own, (1 - weighted) * kind.claim), (under, 0.0)]
    )
    part = 0.5 if may_be_hollow else 1.0
    empty = rest * kind.hollow * coarse + (1 - part) * of_claim
    bare = [
        Believed(HOMOGENEOUS, -1, solid + part * of_claim),
        Believed(HOLLOW, -1, empty, spans_of(tables, HOLLOW, kind.kind)),
    ]
    covered = plated(tables, bodies, kind, rest * kind.plated * coarse) + clad(tables, bodies, rest * kind.clad, coarse)
    layer = None
    if claim and layered:
        usual = spans_of(tables, PLATED, kind.kind)
        layer = claimed_layer(tables, claim, bodies, under, coarse, usual)
    covered += inside + (layer.believed(kind.claim) if layer else [])
    return Prior(
        named,
        bodies,
        layers,
        own,
        levels_of(tables, kind, layers, bodies, bare, covered),
        _meets(bodies, claim, own),
        _finer(bodies, claim),
        kind.other,
        layer,
        may_be_hollow,
        claim.metal if claim else "",
        bool(weighted),
    )


def _weights(tables: Tables, kind: ClaimPrior, named: NamedPrior, size: int) -> tuple[Array, Array]:
    """How common each body is under a kind of claim, all points and only some; those that a claim adds have none."""
    bodies, families = all_bodies(tables), family_weights(tables, kind.kind, named)
    of_family = np.array([families.get(n, 0.0) for n in bodies.names])[bodies.family]
    added = np.zeros(size - len(bodies.v))
    return np.append(of_family * bodies.weight, added), np.append(of_family * bodies.coarse, added)


def _solid(tables: Tables, kind: ClaimPrior, rest: float, weight: Array, bodies: Bodies, unused: float) -> Array:
    """Shares of solid pieces that no claim adds; they take what other constructions leave unused."""
    out = rest * kind.homogeneous * weight
    every = all_bodies(tables)
    for name, share in (("pair", kind.pairs), ("triple", kind.triples)):
        mine = np.flatnonzero(every.family == every.names.index(name))
        out[mine] = rest * share * bodies.weight[mine]
    return np.asarray(out * (1 + unused / out.sum()))


def _in_added(size: int, parts: list[tuple[Bodies | None, float]]) -> Array:
    """Shares of the bodies that a claim adds, which stand last; each set has one share."""
    added = [share * b.weight / len(b.names) for b, share in parts if b is not None]
    return np.concatenate([np.zeros(size - sum(map(len, added))), *added])


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


def _finer(bodies: Bodies, claim: Claim | None) -> Mask:
    """Mask of bodies that hold more of the claimed metal than the region of the claim."""
    if claim is None or not claim.metal or claim.plated:
        return np.zeros(len(bodies.v), dtype=bool)
    most = max(r.limits[claim.metal][1] for r in claim.regions) / 100
    return np.asarray(bodies.w[:, bodies.law.index[claim.metal]] > most + CLAIM_SLACK)


def _meets(bodies: Bodies, claim: Claim | None, own: Bodies | None) -> Mask:
    """Mask of bodies that hold at least what is claimed, those of the claim among them."""
    if claim is None or claim.plated or claim.clad:
        return np.zeros(len(bodies.v), dtype=bool)
    of_claim = np.arange(len(bodies.v)) >= len(bodies.v) - (0 if own is None else len(own.v))
    if claim.metal:
        return np.asarray(of_claim | (bodies.w[:, bodies.law.index[claim.metal]] >= claim.least / 100 - CLAIM_SLACK))
    return np.asarray(of_claim | np.array([n in claim.families for n in bodies.names])[bodies.family])
