"""What a page says of each reading: its value, what it would be as claimed, and how deep it looks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..advice.agreement import claim_scores, first_piece, seen_depths
from ..answer.solution import Solution
from ..inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED
from ..readings.base import Observed, Ratio
from ..readings.registry import KINDS
from ..words.findings import body_words, kind_of
from ..words.language import Language
from ..words.numbers import grams, listed

MOST_READINGS = 5
REPEATS = {1: "change_once", 2: "change_twice", 3: "change_thrice"}
FINE_BELOW = 1.0  # g of water, below which thousandths of a gram count
COARSE = 0.01  # relative uncertainty of a weighing from which its range is worth a sentence
AGREES = 1.96  # normal score up to which a reading agrees


def mm(um: float) -> str:
    """A thickness in mm, whatever its size, because people know no smaller unit."""
    um = max(um, 1.0)
    return f"{um / 1000:.{1 if um < 10 else 2}g} mm"


def span_words(low: str, high: str, say: Language) -> str:
    """Two values as a range, or as one value if they are equal; a unit follows the second only."""
    if low == high or high.startswith(f"{low} "):
        return high
    unit = high.rpartition(" ")[2]
    return say.say("page", "a_span", low=low.removesuffix(f" {unit}"), high=high)


def water_words(low: float, high: float, say: Language) -> str:
    """A range of displaced water; thousandths of a gram count if there is little of it."""
    decimals = 3 if high < FINE_BELOW else 2
    return span_words(grams(low, decimals), grams(high, decimals), say)


def noun(s: Solution, say: Language) -> str:
    """The word for the thing under test."""
    return say.say("page", "lot" if s.piece.count > 1 else "piece")


def claim_disagrees(s: Solution) -> bool:
    """Whether any reading does not agree with the claim."""
    return any(abs(z) > AGREES for z in claim_scores(s).values())


def reads_less(s: Solution, name: str) -> bool:
    """Whether a reading that is one number is below what a piece as claimed would read."""
    observed = next(o for o in s.evidence.observed if o.name == name)
    assert s.claimed is not None
    return isinstance(observed, Ratio) and observed.read < float(observed.expected(s.claimed).mean())


def reading_rows(s: Solution, say: Language) -> list[tuple[str, str]]:
    """One row for each reading, with its name and its sentences; of very many, only the first few."""
    rows = [(_title(r, say), " ".join(_sentences(s, r, say))) for r in s.reading_rows()[:MOST_READINGS]]
    more = len(s.reading_rows()) - len(rows)
    return [*rows, ("", say.say("page", "more_readings", count=more))] if more else rows


def _title(row: Mapping[str, Any], say: Language) -> str:
    kind = said("title", row["kind"], say)
    return f"{kind}, {row['place']}." if row["place"] else f"{kind}."


def said(what: str, kind: str, say: Language) -> str:
    """The title of a reading, or what it would help to know, in a person's words; otherwise its own name."""
    return say.say(kind, what) if say.has(kind, what) else kind.replace("_", " ")


def _sentences(s: Solution, row: Mapping[str, Any], say: Language) -> list[str]:
    if row["name"] == "weighing":
        lines = _weighing(s, say)
    else:
        observed = next(o for o in s.evidence.observed if o.name == row["name"])
        lines = _other(s, observed, say)
    if row["sees_um"]:
        lines.append(say.say("page", "stops", depth=mm(row["sees_um"])))
    elif row["sees"] == "all of it":
        lines.append(say.say("page", "counts_all", piece=noun(s, say)))
    if row["claim_agrees"]:
        lines.append(say.say("page", row["claim_agrees"]))
    return lines


def _weighing(s: Solution, say: Language) -> list[str]:
    """Sentences in grams of water if it was weighed in water, otherwise per cubic centimetre."""
    w = s.weighing
    assert w is not None
    piece = noun(s, say)
    plain = s.claim is not None and not s.claim.plated  # what lies under plating says nothing of the claim
    claim = f'"{s.claim.text}"' if s.claim else ""
    if w.displaced_g is None or w.mass_g is None:
        key = "per_volume_size" if w.route == "dimensions" else "per_volume"
        lines = [say.say("page", key, read=f"{w.density.value:.2f}")]
        if plain and (span := s.advice.claim_density):
            lines.append(say.say("page", "would_weigh", claim=claim, expected=_two(span, "{:.2f}", say)))
        return lines
    liquid = say.say("water", "liquid_other" if s.piece.liquid_density else "liquid_water")
    lines = [
        say.say("page", "weighed", piece=piece, mass=grams(w.mass_g)),
        say.say("page", "pushed", liquid=liquid, read=grams(w.displaced_g)),
    ]
    d = w.density
    if d.u > COARSE * d.value:
        exact = water_words(w.displaced_g * d.value / d.high, w.displaced_g * d.value / d.low, say)
        lines.append(say.say("page", "exact", span=exact))
    if plain and s.advice.claim_displaced_g:
        lines.append(say.say("page", "would_push", claim=claim, expected=water_words(*s.advice.claim_displaced_g, say)))
    if s.piece.hollow or (s.claim and s.claim.hollow):
        lines.append(say.say("page", "hollow"))
    return lines


def _other(s: Solution, o: Observed, say: Language) -> list[str]:
    piece = noun(s, say)
    key = f"said_{o.text}" if say.has(o.kind, f"said_{o.text}") else "said"
    if not say.has(o.kind, key):
        return [o.text]
    lines = [say.say(o.kind, key, piece=piece, read=_read(o, say))]
    claimed, first = s.claimed, first_piece(s)
    if not isinstance(o, Ratio):
        return lines
    if claimed is not None and s.claim and not s.claim.plated:
        values = o.plain(o.shown(claimed))
        lines.append(
            say.say("page", "would_read", expected=span_words(_short(values.min()), _short(values.max()), say))
        )
    contradicted = s.decision is not None and s.decision.code == CONTRADICTED
    if first is not None and (contradicted or s.claim is None):
        value = float(o.plain(o.shown(first))[0])
        body = body_words(s, s.found[0].constructions[0].family, s.found[0].metals, say)
        lines.append(say.say("page", "first_reads", body=body[:1].upper() + body[1:], first=_short(value, 2)))
    return lines


def _read(o: Observed, say: Language) -> str:
    """A value as it would be read out to a person."""
    return listed([f"{say.metal(symbol)} {share} %" for symbol, share in o.items]) or o.plain_text


def _short(x: float, digits: int = 3) -> str:
    """A number with some digits, never as a power of ten."""
    return f"{float(f'{x:.{digits}g}'):,.0f}".replace(",", "") if x >= 10**digits else f"{x:.{digits}g}"


def _two(span: tuple[float, float], form: str, say: Language) -> str:
    return span_words(form.format(span[0]), form.format(span[1]), say)


def deepest(s: Solution) -> float | None:
    """Depth [um] of the reading that looks deepest; None if one that tells bodies apart all through was taken."""
    if any(KINDS[o.kind].through for o in s.evidence.observed):
        return None
    return max(seen_depths(s).values(), default=None)


def would_help(s: Solution, spots: Sequence[Mapping[str, Any]], say: Language) -> list[str]:
    """Sentences on how deep the readings looked, and on the readings that would show what they do not."""
    lines, depth = [], deepest(s)
    if depth is not None:
        lines.append(say.say("page", "blind_depth", depth=mm(depth)))
    closing = list(dict.fromkeys(b["closed_by"][0] for b in spots if b["closed_by"]))
    if closing:
        lines.append(say.say("page", "blind_closed", readings=listed([said("help", k, say) for k in closing])))
    return lines


def change_lines(s: Solution, say: Language, misread: str, against: str) -> list[str]:
    """Sentences on what could change the answer: slips, repeats, conflicts, the next reading, an assay office."""
    piece = noun(s, say)
    lines: list[str] = []
    code = s.decision.code if s.decision else ""
    repeats = max(len(s.piece.displaced), len(s.piece.in_water))
    kind = kind_of(against)
    if code == CONTRADICTED:
        other = say.say(kind, "change_page") if say.has(kind, "change_page") else say.say("page", "change_other")
        lines.append(misread if kind == "weighing" else other)
    if repeats and (code == UNDECIDED or (code == CONTRADICTED and kind == "weighing")):
        lines.append(say.say("page", REPEATS.get(repeats, "change_repeats"), count=repeats))
    if code == NOT_CONTRADICTED:
        lines.append(say.say("page", "change_other_reading"))
    if code != NOT_CONTRADICTED:
        lines += _conflict(s, say)
    if code == UNDECIDED:
        lines += _undecided(s, say)
    if code in ("", UNDECIDED):
        lines += [say.say("page", "change_next", kind=said("help", r["kind"], say)) for r in s.next_readings[:1]]
    return [*lines, say.say("page", "change_office", piece=piece)]


def _conflict(s: Solution, say: Language) -> list[str]:
    lines = []
    for c in s.conflicts[:1]:
        names = [said("title", kind_of(x["reading"]), say) for x in c["alone"]]
        bodies = [body_words(s, x["family"], tuple(x["metals"]), say) for x in c["alone"]]
        lines.append(
            say.say("page", "change_conflict", one=names[0], two=names[1].lower(), first=bodies[0], second=bodies[1])
        )
        lines.append(say.say("page", "change_again"))
    return lines


def _undecided(s: Solution, say: Language) -> list[str]:
    """Sentences on weighing again, and on a finer scale."""
    notes, lines = {n.code: n.values for n in s.advice.notes}, []
    wet = not set(s.advice.cautions) & {"do not wet", "proof coin"}
    if "weigh again" in notes and wet:
        lines.append(say.say("page", "change_weigh"))
    if "finer scale" in notes:
        step = (s.piece.scale_step or s.settings.scale.step).value / float(str(notes["finer scale"]["factor"]))
        lines.append(say.say("page", "change_scale", step=f"{step:g} g"))
    return lines
