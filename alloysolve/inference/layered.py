"""Claims of a layer, plated or clad: what is as claimed, what is believed of it, and what it then holds."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.claimed_regions import region_bodies
from ..alloys.families import all_bodies
from ..alloys.materials import Layers, layers_of
from ..arrays import Array, Index, Mask
from ..inputs.claim import METAL_NAMES, Claim
from ..integral.believed import Believed, Spans
from ..pieces.candidates import Candidates, joined_candidates
from ..pieces.constructions import CLAD, PLATED
from ..pieces.shape import Form
from ..published.load import Tables
from ..published.wares import CladStock
from .claim_regions import CLAIM_SLACK, CORE_SLACK, of_claim, of_core
from .commonness import DEFAULT, family_weights

USUAL_SHARES = (0.002, 0.01, 0.04)  # mass of the skin of a plated article (common practice, no source)
THINNER, THICKER = 0.9, 1.2  # how far makers keep to a thickness that is said (judgement)
WORN, MORE = 0.8, 1.5  # of what is said, from and up to which a layer is as claimed (judgement)
OVER_LEAST = 8.0  # times the least thickness of a law, up to which such layers are made (judgement)
PRECIOUS = (*METAL_NAMES, "Rh", "Ir", "Ru")


@dataclass(frozen=True)
class ClaimedLayer:
    """Layer and body of a claim, over the points of some bodies.

    Attributes
    ----------
    construction : "plated" or "clad". skins : materials with their shares. layers : all materials.
    on : which bodies may lie under it. weight : share of each body, sums to 1. spans : prior of thickness [um] or share
        by volume. mass_share : share of the mass in place of a thickness, or None. body_v : mean specific volume
        of the body [cm3/g]. least_um : least thickness.
    """

    construction: int
    skins: tuple[tuple[int, float], ...]
    layers: Layers
    on: Mask
    weight: Array
    spans: Spans
    mass_share: float | None = None
    body_v: float = 0.0
    least_um: float = 0.0

    def believed(self, share: float) -> list[Believed]:
        """Prior shares of pieces as claimed, `share` in all."""
        return [
            Believed(
                self.construction, skin, share * part * self.weight, self.spans, self._by_volume(skin), claimed=True
            )
            for skin, part in self.skins
        ]

    def _by_volume(self, skin: int) -> tuple[float, float] | None:
        """Bounds of the share of the volume on a body of mean density, if the claim says a share of the mass."""
        if self.mass_share is None:
            return None
        of_mass = np.array([THINNER, THICKER]) * self.mass_share
        of_skin, of_body = of_mass * self.layers.v[skin], (1 - of_mass) * self.body_v
        low, high = of_skin / (of_skin + of_body)
        return float(low), float(high)

    def named(self, construction: int, skin: int) -> bool:
        """Whether a layer is one that the claim names, with or without a strike under it."""
        return construction == self.construction and skin >= 0 and int(self.layers.plain[skin]) in dict(self.skins)

    def holds(self, pieces: Candidates) -> Mask:
        """Which pieces are as claimed: a layer about as thick as said, on such a body."""
        skin = np.where(pieces.skin >= 0, self.layers.plain[pieces.skin], -1)
        layer = (pieces.construction == self.construction) & np.isin(skin, list(dict(self.skins)))
        thick = pieces.parameter >= WORN * self.least_um
        if self.mass_share:
            thick &= (pieces.mass_part >= WORN * self.mass_share) & (pieces.mass_part <= MORE * self.mass_share)
        return np.asarray(layer & self.on[pieces.point] & thick)


@lru_cache(maxsize=64)
def body_under(tables: Tables, claim: Claim) -> Bodies | None:
    """The compositions of the body that a claim names by a fineness or by its clad stock; None for families."""
    if claim.clad:
        return region_bodies(tables, [of_core(tables, stock_of(tables, claim))])
    if claim.plated and claim.regions:
        return region_bodies(tables, [of_claim(r, "none") for r in claim.regions])
    return None


def stock_of(tables: Tables, claim: Claim) -> CladStock:
    """The stock of a clad claim."""
    rows: list[CladStock] = tables.rows("clad")
    return next(r for r in rows if r.name == claim.clad)


def _stocks(tables: Tables, claim: Claim) -> list[CladStock]:
    """The stock of a coin type; without one, all stock with those faces on that core."""
    named = stock_of(tables, claim)
    rows: list[CladStock] = tables.rows("clad")
    return [r for r in rows if r is named or (claim.coin is None and (r.faces, r.core) == (named.faces, named.core))]


def near_core(tables: Tables, bodies: Bodies, stock: CladStock, among: Mask) -> Mask:
    """Which bodies stand for the core of clad stock: those of its family, or the nearest to its composition."""
    if stock.core in tables.families:
        return np.array([n == stock.core for n in bodies.names])[bodies.family] & among
    made = next(r.composition for r in tables.rows("skins") if r.name == stock.core)
    point, core = np.flatnonzero(among), bodies.law.fractions([made], "")[0]
    held = [bodies.w[point, k] for k in np.flatnonzero(core)]
    others = 1 - np.sum(held, axis=0)
    far = others + np.sum([np.abs(w - x) for w, x in zip(held, core[core > 0], strict=True)], axis=0)
    out = np.zeros(len(among), dtype=bool)
    out[point[far <= far.min() + CORE_SLACK / 100]] = True
    return out


def claimed_layer(
    tables: Tables, claim: Claim, bodies: Bodies, own: Bodies | None, weight: Array, spans: Spans
) -> ClaimedLayer | None:
    """Layer and body of a claim; None if it names no layer.

    `own` : the last of the bodies, if the claim names its body by a fineness. `weight` : how common each body is.
    `spans` : usual thicknesses, for a claim that says none.
    """
    if not (claim.plated or claim.clad):
        return None
    layers = layers_of(tables)
    if own is not None:
        last = np.arange(len(bodies.v)) >= len(bodies.v) - len(own.v)
        share = np.concatenate([np.zeros(len(bodies.v) - len(own.v)), own.weight / own.weight.sum()])
        on = last | _like_own(tables, claim, bodies, ~last & (weight > 0))
    else:
        on = _on_families(tables, claim, bodies)
        share = np.where(on, weight if (weight * on).any() else bodies.coarse, 0.0)
        share = share / share.sum()
    if claim.clad:
        stocks = _stocks(tables, claim)
        wide = [(r.share, np.sqrt(3.0) * r.u_share) for r in stocks]
        spans = tuple((1 / len(wide), middle - spread, middle + spread) for middle, spread in wide)
        return ClaimedLayer(CLAD, ((layers.number(stocks[0].faces), 1.0),), layers, on, share, spans)
    skins = claimed_skins(tables, claim)
    least = _least_um(claim, layers, skins[0][0])
    if claim.skin_um:
        spans = ((1.0, THINNER * least, THICKER * least),)
    elif least:
        spans = ((1.0, least, OVER_LEAST * least),)
    return ClaimedLayer(PLATED, skins, layers, on, share, spans, claim.skin_share, float(bodies.v @ share), least)


def _like_own(tables: Tables, claim: Claim, bodies: Bodies, among: Mask) -> Mask:
    """Which other bodies are as the claim says: at least as fine, or of the core of its stock."""
    if claim.clad:
        return near_core(tables, bodies, stock_of(tables, claim), among) if among.any() else among
    metal = claim.regions[0].metal
    least = min(r.limits[metal][0] for r in claim.regions) / 100 - CLAIM_SLACK
    return np.asarray(among & (bodies.w[:, bodies.law.index[metal]] >= least))


def _on_families(tables: Tables, claim: Claim, bodies: Bodies) -> Mask:
    """Bodies of the families that a claim names, or of all that are usual under a layer."""
    if claim.families:
        names = set(claim.families)
    else:
        usual = family_weights(tables, "base", DEFAULT)
        system = {f.family: f.system.split()[0] for f in tables.families.values()}
        names = {n for n, w in usual.items() if w > 0 and system[n] not in (*PRECIOUS, claim.skin_metal)}
    return np.array([n in names for n in bodies.names])[bodies.family]


def claimed_skins(tables: Tables, claim: Claim) -> tuple[tuple[int, float], ...]:
    """Materials of a claimed layer with their shares: the alloy nearest to its fineness, or the usual ones."""
    layers = layers_of(tables)
    of_metal = layers.w[:, [layers.law.index[s] for s in METAL_NAMES]]  # 9 ct gold is mostly copper, and a gold
    if claim.skin_regions:
        at = layers.law.index[claim.skin_metal]
        fine = claim.skin_regions[0].limits[claim.skin_metal][0] / 100
        richest = of_metal.argmax(axis=1) == list(METAL_NAMES).index(claim.skin_metal)
        fixed = (layers.strike < 0) & (layers.u_points == 0)
        main = np.flatnonzero(fixed & richest & (layers.w[:, at] > 0))
        return ((int(main[np.abs(layers.w[main, at] - fine).argmin()]), 1.0),)
    usual = {claim.skin_material: 1.0}
    if claim.skin_material in METAL_NAMES:  # gold without a carat may be of any
        at = list(METAL_NAMES).index(claim.skin_metal)
        row = tables.claim_priors[METAL_NAMES[claim.skin_material]].skins
        usual = {n: x for n, x in row.items() if of_metal[layers.number(n)].any()}
        usual = {n: x for n, x in usual.items() if of_metal[layers.number(n)].argmax() == at}
    total = sum(usual.values())
    return tuple((layers.number(name), share / total) for name, share in usual.items())


def _least_um(claim: Claim, layers: Layers, skin: int) -> float:
    """Thickness [um] that a claim names, or the least that holds as much fine metal as a law asks for."""
    if claim.skin_um or not claim.skin_fine_um:
        return claim.skin_um or 0.0
    at = layers.law.index[claim.skin_metal]
    return float(claim.skin_fine_um * layers.v[skin] / (layers.v[at] * layers.w[skin, at]))


def layered_candidates(tables: Tables, claim: Claim, form: Form) -> Candidates:
    """Candidates of a claim of a layer: a few thicknesses on each body that it allows."""
    own = body_under(tables, claim)
    bodies = all_bodies(tables) if own is None else own
    layer = claimed_layer(tables, claim, bodies, own, bodies.coarse, ())
    assert layer is not None
    named = (bodies.grade >= 0) | (np.arange(len(bodies.v)) % 8 == 0) | (own is not None)
    point = np.flatnonzero(layer.on & named)
    parts = [
        Candidates(
            bodies, layer.layers, form, np.full(len(point), layer.construction), point, np.full(len(point), skin), value
        )
        for skin, _ in layer.skins
        for value in _parameters(layer, claim, bodies, point, skin, form)
    ]
    return joined_candidates(parts)


def _parameters(layer: ClaimedLayer, claim: Claim, bodies: Bodies, point: Index, skin: int, form: Form) -> list[Array]:
    """Values of the free parameter for each body: as said, and as far off as is still as claimed."""
    if layer.construction == CLAD:
        wide = [((low + high) / 2, (high - low) / np.sqrt(3.0)) for _, low, high in layer.spans]  # two deviations
        return [np.full(len(point), middle + step * off) for middle, off in wide for step in (-1.0, 0.0, 1.0)]
    if layer.least_um:
        times = (THINNER, 1.0, THICKER) if claim.skin_um else (1.0, 2.0, 4.0)
        return [np.full(len(point), x * layer.least_um) for x in times]
    said = claim.skin_share
    shares = (THINNER * said, said, THICKER * said) if said else USUAL_SHARES
    v = layer.layers.v[skin]
    return [form.skin_um(x * v / (x * v + (1 - x) * bodies.v[point])) for x in shares]


def content_as_claimed(tables: Tables, claim: Claim, mass_g: float, form: Form) -> dict[str, float]:
    """Precious metals [g] that a piece of a mass holds if it is just as claimed; empty where the claim does not say.

    The least that the claim means counts: the lowest of its finenesses, no more than its share of a layer.
    """
    if not (claim.plated or claim.clad):
        return {claim.metal: mass_g * claim.least / 100} if claim.metal else {}
    pieces = layered_candidates(tables, claim, form)
    layers = pieces.layers
    out = {}
    said_of = {claim.skin_metal, *(r.metal for r in claim.regions)} if claim.plated else set(METAL_NAMES)
    for symbol in (s for s in METAL_NAMES if s in said_of):
        at = layers.law.index[symbol]
        part, of_skin = _skin_part(claim, pieces), layers.w[pieces.skin, at]
        if claim.skin_regions and symbol == claim.skin_metal:
            of_skin = np.full(len(pieces), min(r.limits[symbol][0] for r in claim.skin_regions) / 100)
        skin = part * of_skin
        body = (1 - part) * pieces.bodies.w[pieces.point, at]
        if claim.regions and symbol == claim.regions[0].metal:
            body = np.full(len(pieces), min(r.limits[symbol][0] for r in claim.regions) / 100)
        said = claim.clad or claim.skin_share or (form.measured and (claim.skin_um or claim.skin_fine_um))
        held = float(np.median(body + skin if said else body))
        if held > 1e-6:
            out[symbol] = mass_g * held
    return out


def _skin_part(claim: Claim, pieces: Candidates) -> Array:
    """Share of the mass that the layer of each candidate has, or that the claim says."""
    return np.full(len(pieces), claim.skin_share) if claim.skin_share else pieces.mass_part
