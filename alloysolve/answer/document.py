"""The answer as one versioned JSON document."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..inference.posterior import ConstructionFound, System
from ..measured import Measured, rounded
from ..weighing.conditions import usual_wetting

if TYPE_CHECKING:
    from ..inference.decision import Reason
    from ..published.load import Tables
    from ..weighing.weigh import Weighing
    from .solution import Solution

SCHEMA = "alloysolve.solution/1"


def to_json(solution: Solution, indent: int | None) -> str:
    """The document as text; keys in fixed order, numbers rounded, no infinities."""
    return json.dumps(document(solution), indent=indent, ensure_ascii=False, allow_nan=False)


def document(s: Solution) -> dict[str, Any]:
    """The document as a mapping of plain types."""
    return {
        "schema": SCHEMA,
        "version": package_version(),
        "inputs": s.piece.to_dict(),
        "settings": _settings(s),
        "prior": {"name": s.prior.name, "sha256": prior_hash(s.tables, s.prior.name)},
        "tables": s.tables.hashes(),
        "density": density_part(s.weighing),
        "claim": _claim(s),
        "readings": _readings(s),
        "systems": [_system(x) for x in s.found if x.probability >= 1e-3],
        "something_else": significant(s.other),
        "first_under_other_prior": list(s.first_under_other_prior.metals) if s.first_under_other_prior else None,
        "candidates": _candidates(s),
        "precious": {
            symbol: {
                "low": rounded(m.low, m.u),
                "likely": rounded(m.value, m.u),
                "high": rounded(m.high, m.u),
                "unit": m.unit,
            }
            for symbol, m in s.precious.items()
        },
        "conflicts": [_plain(c) for c in s.conflicts],
        "next_readings": [_plain(r) for r in s.next_readings],
        "blind_spots": [_plain(b) for b in s.blind_spots],
        "notes": [_reason(n) for n in s.advice.notes],
        "cautions": list(s.advice.cautions),
    }


def package_version() -> str:
    """Version of the library."""
    try:
        return version("alloysolve")
    except PackageNotFoundError:  # a bare checkout
        return "0+checkout"


def prior_hash(tables: Tables, name: str) -> str:
    """SHA-256 over the prior's name, or the text of its file, and the tables it is made from."""
    hashes = tables.hashes()
    parts = [
        f"{k}={v}"
        for k, v in sorted(hashes.items())
        if k.split(".")[0] in ("claim_priors", "families", "commonness", "claims", "grades")
    ]
    said = Path(name).read_text(encoding="utf-8") if name.endswith(".csv") else name
    return hashlib.sha256("\n".join([said, *parts]).encode()).hexdigest()


def significant(x: float, digits: int = 3) -> float | None:
    """`x` to some significant digits; None for infinities, which JSON has not."""
    if not math.isfinite(x):
        return None
    return float(f"{x:.{digits}g}")


def measured_part(m: Measured) -> dict[str, Any]:
    """A measured value, rounded to two digits of its uncertainty."""
    return {
        "value": rounded(m.value, m.u),
        "u": significant(m.u, 2),
        "unit": m.unit,
        "low": rounded(m.low, m.u),
        "high": rounded(m.high, m.u),
    }


def _settings(s: Solution) -> dict[str, Any]:
    """The values used, with the wetting that counts where none was said."""
    used = s.settings.to_dict()
    used.pop("records", None)  # where records are kept changes no answer, and is nobody else's business
    scale = s.settings.scale
    wetting = s.piece.wetting or scale.wetting or usual_wetting(scale.known_good is not None)
    return {**used, "scale": {**used["scale"], "wetting": wetting}, "origin": s.settings.origin}


def _candidates(s: Solution) -> list[dict[str, Any]]:
    """Constructions of all systems, likeliest first."""
    every = sorted((c for x in s.found for c in x.constructions), key=lambda c: -c.probability)
    return [{"metals": list(c.metals), **_candidate(c)} for c in every if c.probability >= 1e-3]


def density_part(w: Weighing | None) -> dict[str, Any] | None:
    """The density with its one-sided part and its budget."""
    if w is None:
        return None
    return {
        **measured_part(w.density),
        "one_sided_percent": significant(100 * w.bubble_v / w.v, 2),
        "route": w.route,
        "mass_g": w.mass_g,
        "displaced_g": None if w.displaced_g is None else round(w.displaced_g, 5),
        "liquid_g_cm3": None if w.liquid is None else round(w.liquid, 7),
        "air_g_cm3": None if w.air is None else round(w.air, 7),
        "budget": [
            {
                "part": r.part,
                "size": significant(r.size),
                "unit": r.unit,
                "one_sided": r.one_sided,
                "moves_density_percent": significant(r.moves_percent),
            }
            for r in w.budget
        ],
        "left_out_g": w.left_out_g,
        "notes": list(w.notes),
    }


def _claim(s: Solution) -> dict[str, Any] | None:
    if s.claim is None:
        return None
    out: dict[str, Any] = {
        "text": s.claim.text,
        "kind": s.claim.kind,
        "regions": [r.claim for r in s.claim.regions],
    }
    if s.decision:
        v = s.decision
        out |= {
            "decision": v.code,
            "p": significant(v.p),
            "false_alarm": v.false_alarm,
            "excluded": None if v.excluded is None else significant(v.excluded),
            "reasons": [_reason(r) for r in v.reasons],
        }
    a = s.advice
    for name, span in (("density_g_cm3", a.claim_density), ("would_displace_g", a.claim_displaced_g)):
        out[name] = [significant(x, 4) for x in span] if span else None
    out |= {
        "misread_g": None if a.misread_g is None else round(a.misread_g, 4),
        "bubble_mm": None if a.bubble_mm is None else significant(a.bubble_mm, 2),
        "would_show_below_per_mille": a.would_show_below,
    }
    return out


def _reason(r: Reason) -> dict[str, Any]:
    return {"code": r.code, "values": _plain(r.values)}


def _plain(value: Any) -> Any:
    """Nested values as JSON types, numbers to three digits."""
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    return significant(value) if isinstance(value, float) else value


def _readings(s: Solution) -> list[dict[str, Any]]:
    scores = next((r.values["scores"] for r in s.decision.reasons if r.code == "readings"), {}) if s.decision else {}
    out = []
    for row in s.reading_rows():
        name = row["name"]
        z = scores.get(name) if isinstance(scores, Mapping) else None
        out.append(
            {
                **row,
                "text": row["value"],
                **_measured(s, name, row),
                "score_under_claim": None if z is None else significant(float(z)),
            }
        )
    return out


def _measured(s: Solution, name: str, row: Mapping[str, Any]) -> dict[str, Any]:
    """Value, uncertainty and unit of one reading; an answer in words has neither uncertainty nor unit."""
    if name == "weighing" and s.density:
        m = measured_part(s.density)
        return {key: m[key] for key in ("value", "u", "unit")}
    m = next(o for o in s.evidence.observed if o.name == name).measured()
    if m["u"] is None:
        return m
    return {"value": rounded(m["value"], m["u"]), "u": significant(m["u"], 2), "unit": m["unit"]}


def _span(x: tuple[float, float, float] | None) -> list[float | None] | None:
    return [significant(v) for v in x] if x else None


def _system(x: System) -> dict[str, Any]:
    return {
        "metals": list(x.metals),
        "probability": significant(x.probability),
        "bayes_factor_against_next": significant(x.bayes_factor_against_next),
        "alike_the_first": x.alike,
        "ranges": {m: [significant(low), significant(high)] for m, (low, _, high) in x.ranges.items()},
        "nearest_grades": list(x.grades),
        "constructions": [_candidate(c) for c in x.constructions],
    }


def _candidate(c: ConstructionFound) -> dict[str, Any]:
    return {
        "construction": c.construction,
        "skin": c.skin or None,
        "strike": c.strike or None,
        "family": c.family,
        "probability": significant(c.probability),
        "skin_um": _span(c.skin_um),
        "void_percent": _span(c.void_percent),
        "part_percent": _span(c.part_percent),
    }
