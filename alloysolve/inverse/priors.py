"""What is believed before any reading, as shares over bodies and constructions (kinds.csv, families.csv)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from ..access import ClaimRegion, Family, Kind, Limits, Tables
from ..errors import InputError
from .bodies import SYSTEM_FROM, Bodies, Region, all_bodies, joined_bodies, region_bodies
from .claims import METAL_NAMES, Claim, parse_claim
from .constructions import HOLLOW, HOMOGENEOUS, PLATED
from .posterior import PriorShares
from .verdict import Alternatives

Array = NDArray[np.float64]
Index = NDArray[np.intp]

PLATED_CLAIM_SHARES = (0.002, 0.01, 0.04)  # mass of the skin of a plated article (common practice, no source)
SKIN_NODES = ((1.0, 0.4), (10.0, 0.4), (200.0, 0.2))  # um and shares, for the share excluded by the readings
VOID_NODES = ((0.02, 0.4), (0.1, 0.3), (0.4, 0.3))
BARE_UNDER_PLATED_CLAIM = 0.15  # share of bare pieces among those said to be plated (judgement)
LESS_FINE_POINTS = 24  # of each lower fineness
CLAIM_SLACK = 0.003  # mass fraction below its fineness at which a body still is what is claimed


@dataclass(frozen=True)
class Prior:
    """Shares over the points of `bodies`; all arrays and `other` together sum to 1.

    `homogeneous`, `hollow` : (points,). `plated` : by metal number of the skin. `meets_claim` : bodies that hold
    at least what is claimed. `finer` : bodies that hold more than the claim's region.
    """

    name: str
    bodies: Bodies
    claim_bodies: Bodies | None
    homogeneous: Array
    hollow: Array
    plated: dict[int, Array]
    meets_claim: NDArray[np.bool_]
    finer: NDArray[np.bool_]
    other: float
    plated_as_claimed: bool = False

    @cached_property
    def shares(self) -> PriorShares:
        """Total prior share by system, and by construction and system."""
        return self.shares_among(np.ones(len(self.bodies.v), dtype=bool))

    def shares_among(self, among: NDArray[np.bool_]) -> PriorShares:
        """The same over some bodies only."""
        parts = {(HOMOGENEOUS, -1): self.homogeneous, (HOLLOW, -1): self.hollow}
        parts |= {(PLATED, skin): share for skin, share in self.plated.items()}
        size, system = len(self.bodies.systems), self.bodies.system
        by_kind: dict[tuple[int, int], Array] = {
            k: np.asarray(np.bincount(system, np.where(among, share, 0.0), minlength=size), dtype=float)
            for k, share in parts.items()
        }
        return PriorShares(np.sum(list(by_kind.values()), axis=0), by_kind)

    def alternatives(self, skin_share: Array) -> Alternatives:
        """What is not the claim, as it would read; `skin_share` are volume shares at `SKIN_NODES`."""
        b, outside = self.bodies, ~self.meets_claim & (self.homogeneous > 0)
        v, prior, point = [b.v[outside]], [self.homogeneous[outside]], [np.flatnonzero(outside)]
        for void, share in VOID_NODES:
            keep = np.flatnonzero((self.hollow > 0) & outside)
            v.append(b.v[keep] / (1 - void))
            prior.append(self.hollow[keep] * share)
            point.append(keep)
        law = b.law
        for skin, each in self.plated.items() if not self.plated_as_claimed else ():
            keep = np.flatnonzero((each > 0) & ~self.meets_claim)
            density = law.molar_mass[skin] / law.molar_volume[skin]
            for part, (_, share) in zip(skin_share, SKIN_NODES, strict=True):
                v.append(1 / ((1 - part) / b.v[keep] + part * density))
                prior.append(each[keep] * share)
                point.append(keep)
        where = np.concatenate(point)
        return Alternatives(np.concatenate(v), b.resistivity[where], b.magnetic[where], np.concatenate(prior))


@lru_cache(maxsize=8)  # each holds all bodies
def prior_of(tables: Tables, claim: Claim | None, may_be_hollow: bool, name: str = "default") -> Prior:
    """The prior for a claim (None: no claim) under a named prior ("default" or "flat")."""
    kind = _kind(tables, claim)
    own = claim_bodies(tables, claim) if claim else None
    bodies = all_bodies(tables)
    families = family_weights(tables, kind.kind, name)
    of_family = np.array([families.get(n, 0.0) for n in bodies.names])[bodies.family]
    weight, coarse = of_family * bodies.weight, of_family * bodies.coarse
    numbers = {n: i for i, n in enumerate(bodies.names)}
    pair, triple = (bodies.family == numbers[n] for n in ("pair", "triple"))
    # "something else" keeps its share whatever is claimed; the others share what the claim leaves
    claimed = kind.claim if own is not None else 0.0
    rest = (1.0 - claimed - kind.other) / (1.0 - kind.other)
    homogeneous = rest * kind.homogeneous * weight
    homogeneous[pair] = rest * kind.pairs * bodies.weight[pair]
    homogeneous[triple] = rest * kind.triples * bodies.weight[triple]
    hollow = rest * kind.hollow * coarse
    plated = _plated(tables, bodies, kind, rest * kind.plated * coarse)
    less = less_fine_bodies(tables, claim) if claim else None
    if less is None:  # no standard below the claim: its share goes to the other bare bodies
        homogeneous *= 1 + rest * kind.less_fine / homogeneous.sum()
    for added, share in ((less, rest * kind.less_fine), (own, kind.claim)):
        if added is None:
            continue
        solid = 0.5 if may_be_hollow else 1.0
        each = share * added.weight / len(added.names)
        bodies = joined_bodies(bodies, added)
        homogeneous = np.concatenate([homogeneous, solid * each])
        hollow = np.concatenate([hollow, (1 - solid) * each])
        plated = {s: np.concatenate([p, np.zeros(len(each))]) for s, p in plated.items()}
    meets = _meets(bodies, claim)
    if own is not None:
        meets[-len(own.v) :] = True
    return Prior(name, bodies, own, homogeneous, hollow, plated, meets, _finer(bodies, claim), kind.other,
                 bool(claim and claim.plated))  # fmt: skip


def _kind(tables: Tables, claim: Claim | None) -> Kind:
    kind = tables.kinds[claim.kind if claim else "none"]
    if claim and claim.plated:  # the claim itself says what the skin is
        plated = kind.homogeneous + kind.plated - BARE_UNDER_PLATED_CLAIM
        return replace(kind, claim=0.0, homogeneous=BARE_UNDER_PLATED_CLAIM, plated=plated,
                       skins={claim.skin_metal: 1.0})  # fmt: skip
    return kind


def family_weights(tables: Tables, kind: str, name: str) -> dict[str, float]:
    """Share of each family under a kind of claim; "flat" gives every family the same."""
    words = {w.word: w.weight for w in tables.rows("commonness")}
    if name == "flat":
        raw = dict.fromkeys(tables.families, 1.0)
    elif name == "default":
        raw = {f.family: words[getattr(f, kind)] for f in tables.families.values()}
    else:
        raise InputError("prior", name, '"default" or "flat"', "choose one; edit commonness through a table path")
    total = sum(raw.values())
    return {family: weight / total for family, weight in raw.items()}


def _plated(tables: Tables, bodies: Bodies, kind: Kind, weight: Array) -> dict[int, Array]:
    """Shares of bodies under each skin; one of the skin's own metal is no plated piece, others take its share."""
    base = [tables.families[n].system.split()[0] if n in tables.families else "" for n in bodies.names]
    total = sum(kind.skins.values())
    out = {}
    for symbol, share in kind.skins.items():
        other = np.array([b != symbol for b in base])[bodies.family]
        out[bodies.law.index[symbol]] = weight * other * (weight.sum() / (weight @ other)) * share / total
    return out


def _finer(bodies: Bodies, claim: Claim | None) -> NDArray[np.bool_]:
    """Bodies that hold more of the claimed metal than the claim's region: finer than said."""
    if claim is None or not claim.metal or claim.plated:
        return np.zeros(len(bodies.v), dtype=bool)
    most = max(r.limits[claim.metal][1] for r in claim.regions) / 100
    return np.asarray(bodies.w[:, bodies.law.index[claim.metal]] > most + CLAIM_SLACK)


def _meets(bodies: Bodies, claim: Claim | None) -> NDArray[np.bool_]:
    if claim is None or claim.plated:
        return np.zeros(len(bodies.v), dtype=bool)
    if claim.metal:
        return np.asarray(bodies.w[:, bodies.law.index[claim.metal]] >= claim.least / 100 - CLAIM_SLACK)
    return np.array([n in claim.families for n in bodies.names])[bodies.family]


@lru_cache(maxsize=64)
def claim_bodies(tables: Tables, claim: Claim) -> Bodies | None:
    """The compositions a claim allows; None for plated claims, whose body may be any base metal."""
    if claim.plated:
        return None
    if claim.families:
        return region_bodies(tables, [_of_family(tables.families[f]) for f in claim.families])
    magnetic = "none" if claim.metal else ""  # a steel or nickel coin is attracted
    return region_bodies(tables, [_of_claim(r, magnetic) for r in claim.regions])


def less_fine_bodies(tables: Tables, claim: Claim) -> Bodies | None:
    """The claimed metal at the standard finenesses below the claim, alloyed as for its colour; None where none is."""
    if not claim.metal or claim.plated:
        return None
    colours = {r.colour for r in claim.regions}
    below = [r for r in tables.rows("claims") if r.metal == claim.metal and r.limits[r.metal][0] < claim.least - 0.5
             and (r.colour in colours or "" in colours or not r.colour)]  # fmt: skip
    regions = [_of_claim(r, "none") for r in below]
    return region_bodies(tables, regions, LESS_FINE_POINTS) if regions else None


def _of_claim(r: ClaimRegion, magnetic: str) -> Region:
    return Region(r.claim, r.limits, r.sigma_percent, magnetic=magnetic, own=_usual_metals(r.limits))


def _usual_metals(limits: Limits) -> tuple[str, ...]:
    """The system of a claim: the metals of 5 % at the middle of its limits, so that sterling is silver-copper."""
    return tuple(s for s, (low, high) in limits.items() if (low + high) / 2 >= 100 * SYSTEM_FROM)


def _of_family(f: Family) -> Region:
    return Region(f.family, f.limits, f.sigma_percent, f.porosity_percent, f.magnetic, f.iron, tuple(f.system.split()))


@lru_cache(maxsize=16)
def plated_claim_bodies(tables: Tables, claim: Claim) -> Bodies:
    """Base-metal bodies under the claimed skin, as whole pieces, for the verdict on a plated claim.

    Gilt silver ("vermeil") has a body of silver 925.
    """
    bodies, law = all_bodies(tables), all_bodies(tables).law
    if "vermeil" in claim.words:
        return claim_bodies(tables, parse_claim("silver 925", tables)) or bodies
    weights = family_weights(tables, "base", "default")
    usable = np.array([weights.get(n, 0.0) > 0 and not _precious(tables, n) for n in bodies.names])[bodies.family]
    if claim.families:
        usable &= np.array([n in claim.families for n in bodies.names])[bodies.family]
    grade_or_some = (bodies.grade >= 0) | (np.arange(len(bodies.v)) % 8 == 0)
    point = np.flatnonzero(usable & grade_or_some)
    skin_v = law.molar_volume[law.index[claim.skin_metal]] / law.molar_mass[law.index[claim.skin_metal]]
    if claim.regions:
        skin_v = float(region_bodies(tables, [Region("skin", claim.regions[0].limits, 0.5)]).v.mean())
    shares = [claim.skin_share] if claim.skin_share else PLATED_CLAIM_SHARES
    v = np.concatenate([(1 - s) * bodies.v[point] + s * skin_v for s in shares])
    at = np.tile(point, len(shares))
    picked = {
        n: getattr(bodies, n)[at]
        for n in (
            "w",
            "sigma",
            "resistivity",
            "u_resistivity",
            "magnetic",
            "family",
            "grade",
            "system",
            "weight",
            "coarse",
        )
    }
    return replace(bodies, v=v, **picked)


def _precious(tables: Tables, family: str) -> bool:
    return family not in tables.families or tables.families[family].system.split()[0] in (
        *METAL_NAMES,
        "Rh",
        "Ir",
        "Ru",
    )
