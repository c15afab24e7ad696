"""What would change the answer, what the weighing can and cannot say, and which cautions apply to a piece."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..inference.decision import CONTRADICTED, Decision, Reason
from ..inference.find import Found, as_expected
from ..inference.posterior import Posterior
from ..inputs.claim import Claim
from ..inputs.piece import Piece
from ..integral.evidence import Evidence
from ..physics.geometry import SHAPES, sphere_diameter
from ..physics.weighing import density_from_weighing, displaced_mass
from ..pieces.candidates import Candidates
from ..pieces.constructions import APPLIED
from ..pieces.shape import usual_fill
from ..published.load import Tables
from ..readings.registry import KINDS, SurfaceComposition, unusable
from ..readings.size import ObservedSize, ObservedType
from ..weighing.weigh import Weighing, likely_slips
from .agreement import AGREES
from .defaults import about_defaults
from .fineness import contradicted_below
from .reweighing import about_reweighing
from .weighed import about_weighed

CAUTION_FROM = 0.01  # probability from which a caution is printed
TOO_WIDE = 0.12  # relative 95 % half width of a density that says nothing
LIGHT = 2.5  # g/cm3; no coin, bar or jewel of a metal claim is lighter
SPOILT_BY_WATER = frozenset(
    "pearl pearls opal opals turquoise amber coral enamel enamelled glued pasted watch clock clockwork weighted "  # noqa: SIM905
    "loaded pitch plaster cement".split()
)
SLIGHT = 0.02  # relative difference of thickness that is not worth a sentence
FACE = ("bar", "disc")  # shapes with a thickness as their last length
CORE_FROM = 0.1  # probability of a skin from which the core under it is worth a line


@dataclass(frozen=True)
class Advice:
    """Findings that go with an answer.

    Attributes
    ----------
    claim_displaced_g : least and most liquid that a sound piece of this mass would displace.
    claim_density : least and most density of the claim [g/cm3].
    misread_g : by how much the displaced mass would have to be wrong for the claim to fit best.
    bubble_mm : diameter of the air bubble that would explain it, or None if air cannot.
    would_show_below : fineness [per mille] below which these readings would have contradicted the piece, if any.
    notes : findings by code. cautions : codes of the cautions that apply.
    """

    claim_displaced_g: tuple[float, float] | None
    claim_density: tuple[float, float] | None
    misread_g: float | None
    bubble_mm: float | None
    would_show_below: float | None
    notes: tuple[Reason, ...]
    cautions: tuple[str, ...]


def advise(found: Found) -> Advice:
    """All findings beside the fit of one piece."""
    piece, weighing, claim, of_claim = found.piece, found.weighing, found.claim, as_expected(found)
    span = density_span(of_claim) if of_claim is not None else None
    expected = expected_displaced(weighing, span)
    misread = _misread(weighing, expected)
    bubble = None
    if weighing is not None and weighing.liquid and misread is not None and misread > 0:
        bubble = float(sphere_diameter(1000 * misread / weighing.liquid))
    notes = [
        *_unusable(found),
        *about_weighed(piece, weighing, found.settings),
        *_about_weighing(piece, weighing, claim),
        *_about_type(found.evidence),
        *_about_dimensions(found, span),
        *(Reason(code, values) for r in piece.readings for code, values in r.findings),
        *_about_core(found.evidence, found.posterior),
        *about_reweighing(found),
        *about_defaults(found),
    ]
    return Advice(
        expected,
        span,
        misread,
        bubble,
        contradicted_below(found.tables, claim, found.evidence, found.decision),
        tuple(notes),
        cautions(found.tables, piece, claim, found.decision, found.posterior.holds),
    )


def _unusable(found: Found) -> list[Reason]:
    """Why readings were not used, each once."""
    form = found.evidence.form
    codes = dict.fromkeys(unusable(r.kind, form, found.tables) for r in found.piece.readings)
    return [Reason(code, {"shape": form.shape}) for code in codes if code]


def density_span(candidates: Candidates) -> tuple[float, float]:
    """Least and greatest density of a set of candidates [g/cm3]."""
    return float(1 / candidates.v.max()), float(1 / candidates.v.min())


def expected_displaced(weighing: Weighing | None, span: tuple[float, float] | None) -> tuple[float, float] | None:
    """Least and most liquid [g] that sound pieces of this mass would displace."""
    if weighing is None or span is None or not (weighing.body_g and weighing.liquid and weighing.air):
        return None
    low, high = displaced_mass(weighing.body_g, np.array(span[::-1]), weighing.liquid, weighing.air)
    parts = 0.0
    if weighing.body_g != weighing.mass_g and weighing.displaced_g and weighing.displaced_mm3:
        parts = weighing.displaced_g - weighing.displaced_mm3 / 1000 * weighing.liquid
    return float(low) + parts, float(high) + parts


def _misread(weighing: Weighing | None, expected: tuple[float, float] | None) -> float | None:
    if weighing is None or expected is None or not weighing.displaced_g:
        return None
    read = float(weighing.displaced_g)
    return read - min(max(read, expected[0]), expected[1])


def _about_weighing(piece: Piece, weighing: Weighing | None, claim: Claim | None) -> list[Reason]:
    notes = [Reason("weighted", {})] if claim and claim.may_be_weighted else []
    if weighing is None:
        return notes
    density = weighing.density
    if density.value < LIGHT and claim is not None and weighing.displaced_g and not notes:
        notes.append(Reason("too light for metal", {"slips": tuple(_slips(piece, weighing))}))
    if (density.high - density.low) / 2 / density.value > TOO_WIDE:
        notes.append(Reason("everything fits", {"low": density.low, "high": density.high}))
    nominal = claim.nominal_mass_g if claim and not claim.coin else None
    if nominal and weighing.mass_g:
        each = float(weighing.mass_g) / piece.count
        if abs(each / nominal - 1) > 0.03:
            notes.append(Reason("mass is not the nominal one", {"mass": each, "nominal": nominal}))
    return notes


def _about_type(evidence: Evidence) -> list[Reason]:
    """The mass and lengths that are not those of the claimed coin type."""
    checks = [c for o in evidence.observed if isinstance(o, ObservedType) for c in o.checks]
    return [
        Reason(f"{c.what} is not the nominal one", {c.what: c.read, "nominal": c.nominal})
        for c in checks
        if abs(c.score) > AGREES
    ]


def _about_dimensions(found: Found, span: tuple[float, float] | None) -> list[Reason]:
    """How far a weighed piece fills its outline; if as usual, the thickness that its mass asks for under the claim."""
    piece, weighing = found.piece, found.weighing
    if piece.shape is None or piece.mass is None:
        return []
    notes, (name, sizes) = [], piece.shape
    each = piece.mass.value / piece.count
    low, _, high = usual_fill(name)
    for o in found.evidence.observed:
        if isinstance(o, ObservedSize) and weighing is not None:
            rho = weighing.density
            ends = o.score_of_volume(each / np.array([max(rho.low, 1e-3), rho.high]))
            if abs(ends).min() > AGREES and ends.prod() > 0:  # wherever the density lies in its range
                code = "fills too little" if ends[0] > 0 else "fills too much"
                notes.append(Reason(code, {"fill": each / rho.value / o.read, "usual": (low, high)}))
    if span is not None and name in FACE and not notes:
        outline = float(SHAPES[name][0](*sizes)[0])
        thin, thick = (1000 * each / (rho * outline / sizes[-1]) for rho in span[::-1])
        if not (1 - SLIGHT) * thin / high <= sizes[-1] <= (1 + SLIGHT) * thick / low:
            notes.append(Reason("thickness", {"expected": (thin, thick), "measured": sizes[-1]}))
    return notes


def _about_core(evidence: Evidence, posterior: Posterior) -> list[Reason]:
    """The core under a skin by a surface reading that sees through it: not what is printed, but what is there."""
    plated = APPLIED[posterior.rows.construction]
    skins = np.flatnonzero(np.bincount(posterior.rows.skin[plated], posterior.share[plated]) > CORE_FROM)
    notes = []
    for observed in evidence.observed:
        for skin in skins[evidence.layers.strike[skins] < 0][:1]:
            found = observed.core_under(evidence.layers, int(skin))
            if found:
                notes.append(
                    Reason(
                        "core under a layer",
                        {
                            "skin": evidence.layers.names[skin],
                            "um": found.um,
                            "core": {s: 100 * x for s, x in found.share.items()},
                            "printed": {s: 100 * x for s, x in found.printed.items()},
                        },
                    )
                )
    return notes


def _slips(piece: Piece, weighing: Weighing) -> list[tuple[str, float | None]]:
    """Likely slips behind a density that no metal has, with the density each would give."""
    w = weighing
    if not (w.mass_g and w.displaced_g and w.liquid and w.air):
        return []
    if not piece.in_water:
        return likely_slips(w.mass_g, w.displaced_g)
    typed = w.mass_g - w.displaced_g  # perhaps the gain of a beaker, not the mass in water
    return [("displaced_typed_as_in_water", float(density_from_weighing(w.mass_g, typed, w.liquid, w.air)))]


def cautions(
    tables: Tables, piece: Piece, claim: Claim | None, decision: Decision | None, holds: Callable[[str, float], float]
) -> tuple[str, ...]:
    """Codes of the cautions that a piece triggers; `holds` gives the probability that it holds so much of a metal."""
    printed = [r.shares for r in piece.readings if isinstance(r, SurfaceComposition)]
    codes = [
        row.code
        for row in tables.rows("cautions")
        if holds(row.metal, row.from_percent) >= CAUTION_FROM
        or any(shares.get(row.metal, 0.0) >= row.from_percent for shares in printed)
    ]
    if claim and {"gilt", "vermeil"} & set(claim.words) and "mercury" not in codes:
        codes.append("mercury")  # old gilding was done with mercury
    said = set(re.findall(r"[a-z]+", f"{piece.claim} {piece.name} {piece.note}".lower()))
    if any(row.do_not_wet for _, row in piece.inclusions(tables)) or said & SPOILT_BY_WATER:
        codes.append("do not wet")
    taken = {r.kind for r in piece.readings}
    codes += [of.caution for kind, of in KINDS.items() if of.caution and kind in taken]
    if piece.proof or "proof" in said:
        codes.append("proof coin")
    current = (
        piece.current_money
        if piece.current_money is not None
        else bool(claim and claim.coin and claim.coin.legal_tender)
    )
    if current and decision and decision.code == CONTRADICTED:
        codes.append("current money")
    return tuple(codes)
