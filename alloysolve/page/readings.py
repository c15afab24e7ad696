"""What a page says of each reading: its value, what it would be as claimed, and how deep it looks."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ..answer.document import Document
from ..answer.parts import BlindSpot, ReadingData
from ..inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED
from ..inputs.parts import Part, read_parts
from ..readings.registry import KINDS
from ..readings.size import COIN_TYPE
from ..words.language import Language
from ..words.names import Names, body_words, called, claim_words, kind_of, mm, noun, span_words, values_of, water_words
from ..words.notes import may_be_wetted
from ..words.numbers import both, grams, listed
from ..words.proposals import next_shown

MOST_READINGS = 5
REPEATS = {1: "change_once", 2: "change_twice", 3: "change_thrice"}
COARSE = 0.01  # relative uncertainty of a weighing from which its range is worth a sentence


def reading_rows(d: Document, say: Language) -> list[tuple[str, str]]:
    """One row for each reading, with its name and its sentences; of very many, only the first few."""
    rows = [(_title(r, say), " ".join(_sentences(d, r, say))) for r in d.readings[:MOST_READINGS]]
    more = len(d.readings) - len(rows)
    return [*rows, ("", say.say("page", "more_readings", count=more))] if more else rows


def _title(r: ReadingData, say: Language) -> str:
    kind = titled(r.kind, say)
    return f"{kind}, {say.typed(r.place)}." if r.place else f"{kind}."


def titled(kind: str, say: Language) -> str:
    """The title of a reading; otherwise its own name."""
    return say.say(kind, "title") if say.has(kind, "title") else kind.replace("_", " ")


def _sentences(d: Document, r: ReadingData, say: Language) -> list[str]:
    lines = _weighing(d, say) if r.name == "weighing" else _other(d, r, say)
    if r.sees_um:
        lines.append(say.say("page", "stops", depth=mm(r.sees_um)))
    elif r.sees == "all of it":
        lines.append(say.say("page", "counts_all", piece=noun(d, say)))
    if r.claim_agrees:
        rare = r.claim_agrees == "strained" and isinstance(r.value, str)  # an answer in words is not near to another
        lines.append(say.say("page", "strained_answer" if rare else r.claim_agrees))
    return lines


def _weighing(d: Document, say: Language) -> list[str]:
    """Sentences in grams of water if it was weighed in water, otherwise per cubic centimetre."""
    w, c = d.density, d.claim
    assert w is not None
    piece = noun(d, say)
    plain = c is not None and not c.plated  # what lies under plating says nothing of the claim
    claim = say.say("page", "quoted", text=claim_words(d, say))
    if w.displaced_g is None or w.mass_g is None:
        key = "per_volume_size" if w.route == "dimensions" else "per_volume"
        lines = [say.say("page", key, read=f"{w.value:.2f}")]
        if plain and c and c.density_g_cm3:
            lines.append(say.say("page", "would_weigh", claim=claim, expected=_two(c.density_g_cm3, "{:.2f}", say)))
        return lines
    liquid = say.say("water", "liquid_other" if d.inputs.get("liquid_density") else "liquid_water")
    lines = [
        say.say("page", "weighed", piece=piece, mass=grams(w.mass_g)),
        say.say("page", "pushed", liquid=liquid, read=grams(w.displaced_g)),
    ]
    if (w.u or 0.0) > COARSE * w.value:
        exact = water_words(w.displaced_g * w.value / w.high, w.displaced_g * w.value / w.low, say)
        lines.append(say.say("page", "exact", span=exact))
    if d.inputs.get("parts"):
        parts = [stone_words(part, say) for part in read_parts(d.inputs["parts"], "parts")]
        lines.append(say.say("page", "parts", parts=listed(parts)))
    if may_be_filled(d):  # solid metal of this weight is then nothing to compare it with
        lines.append(say.say("page", "filled"))
    elif plain and c and c.would_displace_g:
        lines.append(say.say("page", "would_push", claim=claim, expected=water_words(*c.would_displace_g, say)))
    if d.may_be_hollow:
        lines.append(say.say("page", "hollow"))
    return lines


def stone_words(part: Part, say: Language) -> str:
    """A part that was subtracted, with its mass or size: "diamond 0.25 ct"."""
    written = re.sub(r"\bcarats?\b", "ct", part.text.removeprefix(f"{part.count} x "))
    words = say.number(written.replace(part.name, say.called(part.name.casefold()), 1))
    return f"{part.count} x {words}" if part.count > 1 else words


def may_be_filled(d: Document) -> bool:
    """Whether pitch, plaster or cement may make up the weight of such ware."""
    return values_of(d, "weighted") is not None


def _of_type(r: ReadingData, say: Language) -> list[str]:
    """Mass and size beside a coin type, as far as each was measured."""
    mass, _, size = r.text.rpartition(", ") if "mm" in r.text else (r.text, "", "")
    nominal = f"{r.as_claimed[0]:g} g" if r.as_claimed else ""
    lines = [say.say(r.kind, "said_mass", read=mass, nominal=nominal)] if mass and nominal else []
    return [*lines, *([say.say(r.kind, "said_size", read=size)] if size else [])]


def _other(d: Document, r: ReadingData, say: Language) -> list[str]:
    if r.kind == COIN_TYPE:
        return _of_type(r, say)
    keys = [f"said_{r.text}_there"] * bool(r.place) + [f"said_{r.text}"]
    key = next((k for k in keys if say.has(r.kind, k)), "said")
    if not say.has(r.kind, key):
        return [say.typed(r.text)]
    items = [f"{say.metal(symbol)} {share} %" for symbol, share in r.items]
    lines = [say.say(r.kind, key, piece=noun(d, say), read=listed(items) or say.typed(r.told))]
    if r.told_as_claimed and d.claim and not d.claim.plated:
        low, high = (_short(x) for x in r.told_as_claimed)
        lines.append(say.say("page", "would_read", expected=span_words(low, high, say)))
    if r.told_on_first is not None and d.systems and (d.code == CONTRADICTED or d.claim is None):
        first = d.systems[0]
        body = body_words(Names.of(d), first.constructions[0].family, first.metals, say)
        value = _short(r.told_on_first, 2)
        line = say.say("page", "first_reads", body=body, first=value)
        lines.append(line[:1].upper() + line[1:])
    return lines


def _short(x: float, digits: int = 3) -> str:
    """A number with some digits, never as a power of ten."""
    return f"{float(f'{x:.{digits}g}'):,.0f}".replace(",", "") if x >= 10**digits else f"{x:.{digits}g}"


def _two(span: tuple[float, float], form: str, say: Language) -> str:
    return span_words(form.format(span[0]), form.format(span[1]), say)


def deepest(d: Document) -> float | None:
    """Depth [um] of the reading that looks deepest; None if one that tells bodies apart all through was taken."""
    if any(r.kind in KINDS and KINDS[r.kind].through for r in d.readings):
        return None
    return max((r.sees_um for r in d.readings if r.sees_um is not None), default=None)


def would_help(d: Document, spots: Sequence[BlindSpot], say: Language) -> list[str]:
    """Sentences on how deep the readings looked, and on the readings that would show what they do not."""
    lines, depth = [], deepest(d)
    if depth is not None:
        lines.append(say.say("page", "blind_depth", depth=mm(depth)))
    closing = list(dict.fromkeys(b.closed_by[0] for b in spots if b.closed_by))
    if closing:
        lines.append(say.say("page", "blind_closed", readings=both([called(d, k, say, "help") for k in closing], say)))
    return lines


def change_lines(d: Document, say: Language, misread: str, against: str) -> list[str]:
    """Sentences on what could change the answer: slips, repeats, conflicts, the next reading, an assay office."""
    lines: list[str] = []
    code, repeats, kind = d.code, d.weighings, kind_of(against)
    if code == CONTRADICTED:
        other = say.say(kind, "change_page") if say.has(kind, "change_page") else say.say("page", "change_other")
        lines.append(misread if kind == "weighing" else other)
    if repeats and (code == UNDECIDED or (code == CONTRADICTED and kind == "weighing")):
        lines.append(say.say("page", REPEATS.get(repeats, "change_repeats"), count=repeats))
    if code == NOT_CONTRADICTED:
        lines.append(say.say("page", "change_other_reading"))
    else:
        lines += _conflict(d, say)
    if code == UNDECIDED:
        lines += _undecided(d, say)
    following = next_shown(d) if code not in (CONTRADICTED, NOT_CONTRADICTED) else None
    if following:
        lines.append(say.say("page", "change_next", kind=called(d, following.kind, say, "help")))
    return [*lines, say.say("page", "change_office", piece=noun(d, say))]


def _conflict(d: Document, say: Language) -> list[str]:
    lines = []
    for c in d.conflicts[:1]:
        names = [titled(kind_of(x.reading), say) for x in c.alone]
        bodies = [body_words(Names.of(d), x.family, x.metals, say) for x in c.alone]
        lines.append(
            say.say(
                "page", "change_conflict", one=names[0], two=say.within(names[1]), first=bodies[0], second=bodies[1]
            )
        )
        lines.append(say.say("page", "change_again"))
    return lines


def _undecided(d: Document, say: Language) -> list[str]:
    """Sentences on weighing again, and on a finer scale."""
    lines, again = [], ("weigh again", "brushed", "finer scale, brushed")
    finer = values_of(d, "finer scale") or values_of(d, "finer scale, brushed")
    if any(values_of(d, code) is not None for code in again) and may_be_wetted(d):
        lines.append(say.say("page", "change_weigh"))
    if finer is not None:
        lines.append(say.say("page", "change_scale", step=f"{finer['step_g']:g} g"))
    return lines
