"""The lines of an answer after its tables: what would change it, what to do next, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from ..advice.agreement import STRAINED
from ..advice.weighed import DISAGREE
from ..answer.document import NO_CLAIM, Document
from ..answer.parts import Coded
from ..answer.rows import AS_CLAIMED, SYSTEM, Row
from ..inference.decision import CONTRADICTED, RARE_ALLOY
from .language import Language
from .names import Names, body_words, kind_of, layer_phrase, reading_words
from .notes import note_line
from .numbers import capital, coarse, grams, length, listed
from .rows import body_name, reaches_claim, row_name
from .weighing import DEFAULTS, weighed_line

PROBABLY = 0.55  # share of belief from which a claim is called probable
UNLISTED_UM = 1.0  # a core that is seen less deep than this has metals that were not listed
RIVALS = 3  # bodies that are named beside the first
EQUAL = 0.05  # relative difference up to which two candidates are equally good
# reasons of a decision that are said before all other notes
FIRST_REASONS = ("one reading alone", "speaks against", "meets it otherwise", "kind not shown", RARE_ALLOY)
UNUSED = ("too thick for its tone",)  # why a reading was not used
EXPLAINS = ("core under a layer", "thickness", "missing part", *UNUSED)  # notes that explain and ask for nothing


def blamed(d: Document) -> str:
    """Name of the reading that speaks against the claim: the weighing if it does, otherwise the one that does most."""
    scores = {r.name: abs(r.score_under_claim or 0.0) for r in d.readings} if d.claim and d.claim.decision else {}
    against = {name: z for name, z in scores.items() if z > STRAINED}
    if "weighing" in against or not against:
        return "weighing" if "weighing" in against else ""
    return max(against, key=lambda n: against[n])


def change_lines(d: Document, say: Language, style: str = "change") -> list[str]:
    """Sentences on what it would take for the answer to be different; `style` is the section of their words."""
    lines: list[str] = []
    a, reading, contradicted = d.claim, blamed(d), d.code == CONTRADICTED
    slip = any(n.code == "too light for metal" and n.values["slips"] for n in d.notes)
    if a is None:
        return lines
    others = any(abs(r.score_under_claim or 0.0) > STRAINED for r in d.readings if r.name != "weighing")
    if contradicted and say.has(kind_of(reading), "change"):
        lines.append(say.say(kind_of(reading), "change"))
    elif contradicted and reading in ("weighing", "") and a.misread_g is not None and not slip and not others:
        misread = grams(abs(a.misread_g), 3 if abs(a.misread_g) < 0.1 else 2)
        piece = say.say("water", "pieces" if d.count > 1 else "piece")
        if a.bubble_mm is not None:
            lines.append(say.say(style, "bubble", bubble=f"{coarse(a.bubble_mm)} mm", misread=misread, piece=piece))
        else:
            lines.append(say.say(style, "misread", misread=misread))
    elif a.would_show_below_per_mille and a.decision and not contradicted and not rare_alloy(d):
        lines.append(say.say("change", "lowest", fineness=f"{a.would_show_below_per_mille:.0f}"))
    return lines


def rare_alloy(d: Document) -> bool:
    """Whether only a rare alloy of the claim would read so: then nothing is said of what is alloyed as usual."""
    return d.claim is not None and any(r.code == RARE_ALLOY for r in d.claim.reasons)


def why_first(d: Document, say: Language) -> str:
    """The sentence on why the first system is ahead of the second: readings against commonness.

    It is given if there is no claim, or if the claim is contradicted.
    """
    if d.claim is not None and d.code != CONTRADICTED:
        return ""
    if len(d.beside_claim) < 2 or not d.beside_claim[0].bayes_factor_against_next:
        return ""
    if d.beside_claim[:2] != tuple(r for r in d.rows if r.what == SYSTEM)[:2]:  # the factor is not between these two
        return ""
    a, b = d.beside_claim[:2]
    names = [body_words(Names.of(d), x.family, x.metals, say) for x in (a, b)]
    if names[0] == names[1]:
        names = ["-".join(say.metal(m) for m in x.metals) for x in (a, b)]
    ratio = a.bayes_factor_against_next or 1.0
    common = a.share / b.share / ratio
    if abs(common - 1) < EQUAL and abs(ratio - 1) < EQUAL:
        return ""
    if common < 1 / 1.1:
        return say.say(
            "change",
            "why_first_rarer",
            first=capital(names[0]),
            second=names[1],
            readings=_ratio(ratio),
            common=_ratio(1 / common),
        )
    if ratio < 1 / 1.1:
        return say.say(
            "change",
            "why_first_behind",
            first=capital(names[0]),
            second=names[1],
            readings=_ratio(1 / ratio),
            common=_ratio(common),
        )
    if ratio < 1.1:
        return say.say("change", "why_first_common", first=capital(names[0]), second=names[1], common=_ratio(common))
    if common < 1.1:
        return say.say("change", "why_first_readings", first=capital(names[0]), second=names[1], readings=_ratio(ratio))
    return say.say(
        "change", "why_first", first=capital(names[0]), second=names[1], readings=_ratio(ratio), common=_ratio(common)
    )


def other_prior(d: Document, say: Language) -> str:
    """The sentence on the system that would come first under another prior, if that is a different one.

    It is given if there is no claim, or if the claim is contradicted.
    """
    other = d.first_under_other_prior
    if other is None or d.code not in (NO_CLAIM, CONTRADICTED):
        return ""
    key = "other_prior_default" if d.prior.name == "flat" else "other_prior_flat"
    return say.say("change", key, body=body_words(Names.of(d), other.family, other.metals, say))


def _ratio(x: float) -> str:
    return "over 1000" if x > 1000 else f"{max(x, 1.0):.1f}".removesuffix(".0") if x < 10 else f"{x:.0f}"


def other_name(d: Document, x: Row, say: Language) -> str:
    """The name of something else that fits; the claimed metal is among these if it is less fine, or is only a shell."""
    if d.claim and d.claim.metal and x.metals[0] == d.claim.metal:
        if (x.layer and x.layer.built.inserted) or reaches_claim(x, d):
            return say.metal(d.claim.metal)
        return say.say("note", "less_fine", metal=say.metal(d.claim.metal))
    return body_name(x, d, say)


def short_name(row: Row, d: Document, say: Language) -> str:
    """What a row is called; alloys of the claimed metal that are less fine go by one name."""
    if row.what != SYSTEM:
        return row_name(row, d, say, "short")
    inside = row.layer if row.layer and row.layer.built.inserted else None  # a shell is nothing without its core
    body, layer = other_name(d, row, say), layer_phrase(inside, Names.of(d), say, plain=True)
    return say.say("short", "body", body=body, layer=layer)


def rivals_line(d: Document, say: Language, told: Sequence[str] = ()) -> str:
    """The sentence on what the readings do not tell from the first row; `told` : names that were said before."""
    said = {*told, short_name(d.rows[0], d, say)}
    alike = dict.fromkeys(short_name(r, d, say) for r in d.rows[1:] if r.alike_the_first and r.what != AS_CLAIMED)
    names = [name for name in alike if name not in said][:RIVALS]
    if not names:
        return ""
    return capital(say.say("short", "alike" if len(names) == 1 else "alike_several", bodies=listed(names)))


def note_lines(d: Document, say: Language, pressing: bool = False) -> list[str]:
    """Sentences on the findings, one each; with `pressing`, only on what the reader should do something about."""
    lines = conflict_lines(d, say)
    reasons = d.claim.reasons if d.claim else ()
    # `open_claim.open_sentence` says these
    told: tuple[str, ...] = FIRST_REASONS if pressing else FIRST_REASONS[2:]
    told = told if d.share_meeting_claim >= PROBABLY else ()
    again = pressing and any(n.code == "weigh again" for n in d.notes)
    lines += [
        note_line(d, r, say)
        for r in reasons
        if r.code in FIRST_REASONS and r.code not in told and not (again and _of_weighing_alone(r))
    ]
    left_out = (DISAGREE, *DEFAULTS, *(EXPLAINS if pressing else ()))
    lines += [weighed_line(n.code, n.values, say) or note_line(d, n, say) for n in d.notes if n.code not in left_out]
    if not pressing:
        lines += [rivals_line(d, say) for r in reasons if r.code == "others fit too"]
        lines += [_wide_claim(d, say), *_depths(d, say)]
    if not pressing:
        lines += remark_lines(d, say)
    if _decided(d) and d.may_be_hollow:
        lines.append(say.say("note", "hollow"))
    return [line for line in lines if line]


def _decided(d: Document) -> bool:
    return d.claim is not None and d.claim.decision is not None


def remark_lines(d: Document, say: Language) -> list[str]:
    """Sentences on what else may have given the value of a reading beside a claim."""
    return list(dict.fromkeys(say.say("note", r.remark) for r in d.readings if r.remark)) if _decided(d) else []


def unusual_line(d: Document, say: Language) -> str:
    """The sentence on readings that are unusual for a piece as claimed, which no other sentence names."""
    if not _decided(d) or d.code == CONTRADICTED:
        return ""
    blames = [{r.values.get("reading"), *r.values.get("readings", ())} for r in d.claim.reasons] if d.claim else []
    named = {name for reason in blames for name in reason}
    unusual = [r for r in d.readings if r.claim_agrees == "strained" and r.name not in named and not r.remark]
    if not unusual:
        return ""
    words = [reading_words(d, r.name, say) + (f" ({r.text})" if isinstance(r.value, str) else "") for r in unusual]
    return say.say("short", "unusual", readings=listed(words))


def _of_weighing_alone(reason: Coded) -> bool:
    """Whether a reason blames the weighing and nothing else."""
    return {reason.values.get("reading"), *reason.values.get("readings", ())} - {None} == {"weighing"}


def _depths(d: Document, say: Language) -> list[str]:
    """Sentences on how deep readings of limited depth looked, if the claim stands or the depth depends on the core."""
    lines = []
    for r in d.readings:
        if r.sees_over:
            items = [
                say.say(
                    "note",
                    "over" if x.um >= UNLISTED_UM else "unlisted",
                    depth=length(x.um),
                    body=body_words(Names.of(d), x.family, x.metals, say),
                )
                for x in r.sees_over
            ]
            lines.append(say.say("note", "depth_surface", depths=listed(items)))
    others = [r.sees_um for r in d.readings if r.sees_um is not None and not r.surface]
    if others and d.claim and d.claim.decision and d.code != CONTRADICTED:
        lines.append(say.say("note", "depth", depth=length(max(others))))
    return list(dict.fromkeys(lines))


def unused_lines(d: Document, say: Language) -> list[str]:
    """Sentences on readings that were not used."""
    return [note_line(d, n, say) for n in d.notes if n.code in UNUSED]


def _wide_claim(d: Document, say: Language) -> str:
    """The sentence on how wide a claim without a colour is, because it is a union."""
    span = d.claim.density_g_cm3 if d.claim else None
    if d.claim is None or d.claim.plated or span is None or d.claim.colours < 2:
        return ""
    return say.say("water", "wide_claim", claim=d.claim.text, low=f"{span[0]:.1f}", high=f"{span[1]:.1f}")


def caveats(d: Document, say: Language) -> list[str]:
    """Caveats of the metals on which alone the first answer rests, e.g. the disputed density of copper."""
    return [say.say("note", "caveat", metal=capital(say.metal(c.metal)), caveat=c.text) for c in d.caveats]


def disagreement_line(d: Document, say: Language) -> str:
    """The sentence that says before anything else that the weighings disagree, if they do."""
    return next((weighed_line(n.code, n.values, say) for n in d.notes if n.code == DISAGREE), "")


def conflict_lines(d: Document, say: Language) -> list[str]:
    """The sentence on the two readings that disagree most, and on what each alone would say."""
    lines = []
    for c in d.conflicts:
        one, two = c.alone
        names = [reading_words(d, x.reading, say) for x in (one, two)]
        bodies = [body_words(Names.of(d), x.family, x.metals, say) for x in (one, two)]
        lines.append(
            say.say("note", "conflict", one=capital(names[0]), two=names[1], first=bodies[0], second=bodies[1])
        )
    return lines
