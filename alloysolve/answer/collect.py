"""From what was found and advised to the document of the answer."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from math import floor
from typing import Any

from ..advice.coin_types import CoinFits, coin_types
from ..advice.findings import Advice
from ..inference.commonness import NamedPrior
from ..inference.decision import CONTRADICTED, Reason
from ..inference.find import CLAIM_GROUP, FINER_GROUP, Found, likelihood_as_claimed
from ..inference.posterior import reads_alike
from ..inference.prior import TABLES_OF_PRIOR
from ..inference.systems import ConstructionFound, System
from ..inference.weigh_piece import wetting_of
from ..measured import Measured, decimals, rounded
from ..pieces.constructions import CONSTRUCTIONS
from ..plain import from_plain, to_plain
from ..published.load import Tables
from ..version import VERSION
from ..weighing.weigh import Weighing
from .collect_readings import readings_of
from .document import SCHEMA, Document
from .parts import (
    BlindSpot,
    Body,
    BudgetPart,
    CandidateData,
    Caveat,
    ClaimData,
    Coded,
    CoinTypeData,
    Conflict,
    DensityData,
    FormData,
    NextReading,
    Prior,
    SystemData,
)
from .rounding import measured_part, plainly, significant, two
from .rows import (
    ALIKE_FROM,
    AS_CLAIMED,
    FINER,
    SHOWN_FROM,
    SOMETHING_ELSE,
    SYSTEM,
    Amount,
    ConstructionData,
    Layer,
    Row,
    Span,
    in_order,
    layer_of,
)

DOWN_TO = 1e-3  # least probability of a system that is documented
FINE = 6  # digits of values that are shown with two decimals
LEAST_MISREAD = 0.0005  # g; less reads as nothing
RESTS_ON = 0.1  # probability of a metal from which its caveat matters


def document_of(
    s: Found,
    advice: Advice,
    precious: Mapping[str, Measured],
    readings: Iterable[Mapping[str, Any]],
    conflicts: Iterable[Mapping[str, Any]],
    next_readings: Iterable[Mapping[str, Any]],
    blind_spots: Iterable[Mapping[str, Any]],
) -> Document:
    """The document of one answer, with numbers rounded as they are written."""
    systems = systems_of(s)
    told = s.decision is None or s.decision.code == CONTRADICTED  # else the other prior is not worth the time
    other = s.first_under_other_prior if told else None
    found = Document(
        schema=SCHEMA,
        version=VERSION,
        inputs=s.piece.to_dict(),
        settings=_settings(s),
        prior=Prior(s.prior.name, prior_hash(s.tables, s.prior.named)),
        tables=s.tables.hashes(),
        names={},
        form=_form(s),
        density=density_part(s.weighing) if s.weighing else None,
        claim=_claim(s, advice),
        rows=_rows(s, systems),
        readings=readings_of(s, readings),
        systems=systems,
        something_else=significant(s.other) or 0.0,
        first_under_other_prior=Body(other.constructions[0].family, other.metals) if other else None,
        candidates=candidates_of(s),
        coin_types=tuple(_coin_type(x) for x in coin_types(s)),
        precious=amounts(precious, s.share_counted),
        conflicts=tuple(from_plain(Conflict, plainly(c)) for c in conflicts),
        next_readings=tuple(from_plain(NextReading, plainly(r)) for r in next_readings),
        blind_spots=tuple(from_plain(BlindSpot, plainly(b)) for b in blind_spots),
        notes=tuple(coded(n, FINE) for n in advice.notes),
        caveats=_caveats(s),
        cautions=advice.cautions,
    )
    return _named(found, s.tables)


def prior_hash(tables: Tables, prior: NamedPrior) -> str:
    """SHA-256 over the name of the prior, or the text of its file, and the tables from which it is made."""
    hashes = tables.hashes()
    parts = [f"{k}={v}" for k, v in sorted(hashes.items()) if k.split(".")[0] in TABLES_OF_PRIOR]
    return hashlib.sha256("\n".join([prior.text or prior.name, *parts]).encode()).hexdigest()


def _named(d: Document, tables: Tables) -> Document:
    """The document with the names of the families and parts that it mentions."""
    plain = to_plain(d)
    families, parts = (set(_texts(plain, keys)) for keys in (("family",), ("skin", "part", "faces", "core")))
    names = {f.family: f.words for f in tables.families.values() if f.family in families}
    return replace(d, names=names | {row.name: row.words for row in tables.rows("skins") if row.name in parts})


def _texts(value: Any, keys: Collection[str]) -> Iterable[str]:
    """Every text under some keys."""
    if isinstance(value, dict):
        for key, v in value.items():
            if isinstance(v, str) and key in keys:
                yield v
            yield from _texts(v, keys)
    elif isinstance(value, list):
        for v in value:
            yield from _texts(v, keys)


def _settings(s: Found) -> dict[str, Any]:
    """The settings in use, with the wetting that counts if none was stated."""
    used = s.settings.to_dict()
    used.pop("records", None)  # where records are kept changes no answer, and is nobody else's business
    return {**used, "scale": {**used["scale"], "wetting": wetting_of(s.piece, s.settings)}, "origin": s.settings.origin}


def _form(s: Found) -> FormData:
    form = s.evidence.form
    return FormData(form.shape, tuple(round(x, 4) for x in form.sizes), form.measured)


def _rows(s: Found, systems: tuple[SystemData, ...]) -> tuple[Row, ...]:
    """The rows that people see: the claim, what is finer, each system, something else, and what is not shown."""
    rows = [Row(SOMETHING_ELSE, significant(s.other) or 0.0)]
    alike = {x.metals for x in systems if x.alike_the_first}
    if s.claim is not None:
        claimed = significant(s.share_as_claimed) or 0.0
        holds = amounts(s.holds(CLAIM_GROUP), claimed)
        rows.append(Row(AS_CLAIMED, claimed, metals=_metals(s), layer=_layer_as_claimed(s), holds=holds))
        finer = significant(max(s.share_meeting_claim - s.share_as_claimed, 0.0)) or 0.0
        ranges = s.posterior.ranges(s.prior.finer)
        holds = amounts(s.holds(FINER_GROUP), finer)
        rows.append(Row(FINER, finer, metals=_metals(s), ranges=spans(ranges), holds=holds))
        systems = tuple(system_data(x) for x in s.beside_claim())
        alike = _alike(s, max(claimed, finer))
    leading = systems[0].probability if systems else 1.0
    rows += [
        Row(
            SYSTEM,
            x.probability,
            metals=x.metals,
            family=x.constructions[0].family,
            ranges=x.ranges,
            layer=layer_of(x.constructions),
            holds=amounts(s.holds(x.metals), x.probability) if x.probability >= SHOWN_FROM else {},
            alike_the_first=x.metals in alike and x.probability >= ALIKE_FROM * leading,
            bayes_factor_against_next=x.bayes_factor_against_next,
        )
        for x in systems
        if x.constructions
    ]
    return in_order(rows, DOWN_TO)


def _alike(s: Found, claimed: float) -> set[tuple[str, ...]]:
    """Metals of the systems beside the claim that read like what comes first: the claim, or the first of them."""
    beside = s.beside_claim()
    if not beside or claimed < beside[0].probability:
        return {x.metals for x in beside if x.alike}
    return {x.metals for x in beside if reads_alike(likelihood_as_claimed(s), x.evidence)}


def _layer_as_claimed(s: Found) -> Layer | None:
    """The layer of pieces as claimed, if the claim names one."""
    found = s.layer_as_claimed
    if found is None:
        return None
    built, skin, size = CONSTRUCTIONS[found[0]], s.prior.layers.names[found[1]], found[2]
    um = tuple(significant(x) for x in size) if built.by_thickness else None
    percent = tuple(significant(100 * x) for x in size) if built.by_share else None
    return Layer(built.name, skin, "", um, percent, 1.0, 0.0)  # type: ignore[arg-type]


def _metals(s: Found) -> tuple[str, ...]:
    return (s.claim.metal,) if s.claim and s.claim.metal else ()


def systems_of(s: Found) -> tuple[SystemData, ...]:
    """Systems, likeliest first."""
    return tuple(system_data(x) for x in s.found if x.probability >= DOWN_TO)


def candidates_of(s: Found) -> tuple[CandidateData, ...]:
    """Constructions of all systems, likeliest first."""
    every = sorted((c for x in s.found for c in x.constructions), key=lambda c: -c.probability)
    return tuple(
        CandidateData(**_construction(c), metals=c.metals, evidence=significant(c.evidence), ranges=spans(c.ranges))
        for c in every
        if c.probability >= DOWN_TO
    )


def _coin_type(x: CoinFits) -> CoinTypeData:
    c = x.coin
    made = c.layers or {"whole": c.composition}
    return CoinTypeData(c.id, c.issuer, c.coin, c.years, c.construction, made, c.mass_g, c.diameter_mm, x.others)


def amounts(found: Mapping[str, Measured], covers: float) -> dict[str, Amount]:
    """Contents of precious metals, rounded to two digits of their uncertainty, the greatest down: none is the piece."""
    out = {}
    for symbol, m in found.items():
        step = 10.0 ** -decimals(m.u)
        most = rounded(floor(m.high / step + 1e-6) * step, m.u)
        low, likely = (min(rounded(x, m.u), most) for x in (m.low, m.value))
        out[symbol] = Amount(low, likely, most, m.unit, significant(covers) or 0.0, significant(m.u, 2))
    return out


def density_part(w: Weighing) -> DensityData:
    """The density with its one-sided part and its budget."""
    return DensityData(
        **measured_part(w.density),
        one_sided_percent=significant(100 * w.bubble_v / w.v, 2),
        route=w.route,
        mass_g=w.mass_g,
        body_g=w.body_g,
        displaced_g=None if w.displaced_g is None else round(w.displaced_g, 5),
        liquid_g_cm3=None if w.liquid is None else round(w.liquid, 7),
        air_g_cm3=None if w.air is None else round(w.air, 7),
        known_good_percent=None if w.factor == 1.0 else round(100 * (1 / w.factor - 1), 4),
        budget=tuple(
            BudgetPart(r.part, significant(r.size), r.unit, r.one_sided, significant(r.moves_percent)) for r in w.budget
        ),
        left_out_g=w.disagreement.odd_g if w.disagreement and w.disagreement.left_out else None,
        notes=tuple(w.notes),
    )


def _claim(s: Found, a: Advice) -> ClaimData | None:
    claim, decision = s.claim, s.decision
    if claim is None:
        return None
    density, displaced = a.claim_density, a.claim_displaced_g
    return ClaimData(
        text=claim.text,
        kind=claim.kind,
        metal=claim.metal,
        least_percent=claim.least if claim.metal else None,
        regions=tuple(r.claim for r in claim.regions),
        plated=claim.plated,
        hollow=claim.hollow and not claim.may_be_weighted,  # nobody soaks a filling
        colours=len({r.colour for r in claim.regions}),
        coin=f"{claim.coin.coin}, {claim.coin.issuer}" if claim.coin else "",
        decision=decision.code if decision else None,  # type: ignore[arg-type]
        p=significant(decision.p) if decision else None,
        false_alarm=decision.false_alarm if decision else None,
        excluded=None if decision is None or decision.excluded is None else significant(decision.excluded),
        reasons=tuple(coded(r) for r in decision.reasons) if decision else (),
        density_g_cm3=two(density, 4) if density else None,
        would_displace_g=two(displaced, FINE) if displaced else None,
        misread_g=round(a.misread_g, 4) if a.misread_g and abs(a.misread_g) >= LEAST_MISREAD else None,
        bubble_mm=None if a.bubble_mm is None else significant(a.bubble_mm, 2),
        would_show_below_per_mille=a.would_show_below,
    )


def coded(r: Reason, digits: int = 3) -> Coded:
    """A finding with its numbers rounded."""
    return Coded(r.code, plainly(r.values, digits))


def _span(x: tuple[float, float, float] | None) -> Span | None:
    return (significant(x[0]), significant(x[1]), significant(x[2])) if x else None


def spans(found: Mapping[str, tuple[float, float, float]]) -> dict[str, Span]:
    """Ranges of metals, rounded as they are written."""
    return {m: (significant(low), significant(likely), significant(high)) for m, (low, likely, high) in found.items()}


def system_data(x: System) -> SystemData:
    """A system in the form in which it is documented."""
    return SystemData(
        metals=x.metals,
        probability=significant(x.probability) or 0.0,
        bayes_factor_against_next=significant(x.bayes_factor_against_next),
        alike_the_first=x.alike,
        ranges=spans(x.ranges),
        nearest_grades=x.grades,
        constructions=tuple(ConstructionData(**_construction(c)) for c in x.constructions),
    )


def _construction(c: ConstructionFound) -> dict[str, Any]:
    return {
        "construction": c.construction,
        "skin": c.skin or None,
        "strike": c.strike or None,
        "family": c.family,
        "probability": significant(c.probability) or 0.0,
        "skin_um": _span(c.skin_um),
        "void_percent": _span(c.void_percent),
        "part_percent": _span(c.part_percent),
    }


def _caveats(s: Found) -> tuple[Caveat, ...]:
    """Caveats of the metal on which alone the first answer rests, e.g. the disputed density of copper."""
    if not s.found or len(s.found[0].metals) != 1 or s.found[0].probability < RESTS_ON:
        return ()
    metal = s.tables.metals[s.found[0].metals[0]]
    return (Caveat(metal.symbol, metal.caveat),) if metal.caveat else ()
