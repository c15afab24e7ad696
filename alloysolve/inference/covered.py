"""What lies on bodies, in them and beside them, as shares of belief."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import inf

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.materials import Layers, layers_of
from ..arrays import Array
from ..inputs.claim import Claim
from ..inputs.ware import made_in_one
from ..integral.believed import Believed, Spans, spans_up_to
from ..pieces.constructions import CLAD, CONSTRUCTIONS, ENRICHED, PLATED, Place
from ..published.load import Tables
from ..published.wares import ClaimPrior, StrikeRow
from ..readings.base import BODY, STRIKES, SURFACE
from .claimed import ALLOYED, ENRICHING
from .layered import near_core
from .lazily import Lazily


def plated(tables: Tables, bodies: Bodies, kind: ClaimPrior, weight: Array) -> list[Believed]:
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


def clad(tables: Tables, bodies: Bodies, share: float, weight: Array) -> list[Believed]:
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


def inserted(
    tables: Tables, claim: Claim | None, kind: ClaimPrior, shares: Mapping[int, float], shell: Array
) -> list[Believed]:
    """Slugs and fillings in, and parts joined to, a body as claimed; nothing is joined to a coin, bar or medal.

    `shares` : of each such construction. `shell` : of each body, as a shell around it.
    """
    if claim is None or kind.kind in ("none", "base"):
        return []
    out, layers = [], layers_of(tables)
    for construction, share in shares.items():
        of = CONSTRUCTIONS[construction]
        if not share or (of.place is Place.BESIDE and made_in_one(claim)):
            continue
        rows = [r for r in tables.rows("inserts") if r.construction == of.key and getattr(r, kind.kind) > 0]
        whole = sum(getattr(r, kind.kind) for r in rows)
        for r in rows:
            each = share * getattr(r, kind.kind) / whole
            out.append(Believed(construction, layers.number(r.part), each * shell, ((1.0, r.least, r.most),)))
    return out


def levels_of(
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


def spans_of(tables: Tables, construction: int, kind: str) -> Spans:
    """Parts of the prior of a thickness [um] or share of empty space, for a kind of claim (spans.csv)."""
    rows = [r for r in tables.rows("spans") if (r.construction, r.kind) == (CONSTRUCTIONS[construction].name, kind)]
    return tuple((r.share, r.least, r.most) for r in sorted(rows, key=lambda r: float(r.least)))
