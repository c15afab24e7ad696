"""What each reading said, as it is documented."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..advice.agreement import claim_scores, depth_by_core, first_piece
from ..arrays import Array
from ..inference.find import Found, as_expected
from ..measured import rounded
from ..readings.base import Observed
from ..readings.ratio import Ratio
from ..readings.size import ObservedSize
from .parts import Over, ReadingData, ToneData
from .rounding import measured_part, significant, two


def readings_of(s: Found, rows: Iterable[Mapping[str, Any]]) -> tuple[ReadingData, ...]:
    """One entry per reading, in the order in which they were given; `rows` : as `reading_rows` gives them."""
    observed = {o.name: o for o in s.evidence.observed}
    under_claim = claim_scores(s)
    out = []
    for row in rows:
        name = row["name"]
        o, z = observed.get(name), under_claim.get(name)
        known = {k: row[k] for k in ("name", "kind", "place", "sees", "sees_um", "agrees", "claim_agrees")}
        out.append(
            ReadingData(
                **known,
                text=row["value"],
                **(_weighed(s) if o is None else _observed(s, o)),
                score_under_claim=None if z is None else significant(float(z)),
            )
        )
    return tuple(out)


def _weighed(s: Found) -> dict[str, Any]:
    m = measured_part(s.weighing.density) if s.weighing else {"value": None, "u": None, "unit": None}
    return {
        **{key: m[key] for key in ("value", "u", "unit")},
        "told": "",
        "items": (),
        "tones": None,
        "recording_sha256": None,
        "remark": "",
        "unit_shown": "g/cm3",
        "as_claimed": None,
        "answers_as_claimed": (),
        "told_as_claimed": None,
        "told_on_first": None,
        "below_claim": False,
        "surface": False,
        "sees_over": (),
    }


def _observed(s: Found, o: Observed) -> dict[str, Any]:
    """What was read, what it would be as claimed and on the first row, and how deep it looks over each core."""
    m, first = o.measured(), first_piece(s)
    claimed = as_expected(s)
    shown = o.shown(claimed) if claimed is not None else None
    surface = o.name in s.evidence.surface
    out: dict[str, Any] = {
        "value": m["value"] if m["u"] is None else rounded(m["value"], m["u"]),
        "u": None if m["u"] is None else significant(m["u"], 2),
        "unit": m["unit"],
        "told": o.plain_text,
        "items": o.items,
        "tones": tuple(ToneData(rounded(f, u), significant(u, 2) or 0.0) for f, u in o.every_tone) or None,
        "recording_sha256": getattr(o, "sha256", "") or None,
        "remark": o.remark,
        "unit_shown": o.unit_shown,
        "as_claimed": None if shown is None or o.words else _ends(shown),
        "answers_as_claimed": _answers(o, shown),
        "told_as_claimed": None,
        "told_on_first": None,
        "below_claim": False,
        "surface": surface,
        "sees_over": tuple(
            Over(c.family, c.metals, float(f"{um:.4g}")) for c, um in (depth_by_core(s, o.name) if surface else [])
        ),
    }
    if isinstance(o, Ratio):
        if claimed is not None and shown is not None:
            out["told_as_claimed"] = _ends(o.plain(shown))
            out["below_claim"] = o.read < float(o.expected(claimed).mean())
        out["told_on_first"] = None if first is None else significant(float(o.plain(o.shown(first))[0]), 4)
    if isinstance(o, ObservedSize) and claimed is not None:
        usual = two(o.usual(claimed), 3)
        out |= {"as_claimed": usual, "told_as_claimed": usual, "below_claim": o.read < usual[0]}
    return out


def _answers(o: Observed, shown: Array | None) -> tuple[str, ...]:
    """Answers that a piece as claimed would give to a reading in words."""
    return tuple(o.words[int(n)] for n in sorted(set(shown.tolist()))) if o.words and shown is not None else ()


def _ends(values: Array) -> tuple[float, float]:
    return two((float(values.min()), float(values.max())), 4)
