"""The lines of an answer after its tables: what would change it, what to do next, cautions."""

from __future__ import annotations

from typing import Any

from ..advice.agreement import STRAINED
from ..advice.weighed import DISAGREE
from ..answer.document import NO_CLAIM, Document
from ..answer.parts import BlindSpot, Coded, NextReading
from ..answer.rows import Row
from ..inference.decision import CONTRADICTED, UNDECIDED
from ..readings.registry import KINDS
from .cautions import caution_words, cautions_of
from .language import Language
from .names import Names, body_words, called, kind_of, kind_taken, part_words, reading_words, told_apart
from .numbers import capital, grams, length, listed
from .settings import DEFAULTS
from .weighing import weighed_line

BLIND_SHOWN = 3
PROBABLY = 0.55  # share of belief from which a claim is called probable
CLEAR = 0.9  # probability from which what fits is told apart well enough
UNLISTED_UM = 1.0  # a core that is seen less deep than this has metals that were not listed
OWNED_ENOUGH = 0.8  # of the worth of the best reading, from which one that the shop can take is enough
EQUAL = 0.05  # relative difference up to which two candidates are equally good
APART = 1.01  # ratio from which two expected values are worth printing beside each other
# reasons of a decision that are said before all other notes
FIRST_REASONS = ("one reading alone", "speaks against", "meets it otherwise", "kind not shown")
EXPLAINS = ("core under a layer", "thickness", "missing part")  # notes that explain and ask for nothing


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
    if contradicted and say.has(kind_of(reading), "change"):
        lines.append(say.say(kind_of(reading), "change"))
    elif contradicted and reading in ("weighing", "") and a.misread_g is not None and not slip:
        misread = grams(abs(a.misread_g), 3 if abs(a.misread_g) < 0.1 else 2)
        piece = say.say("water", "pieces" if d.count > 1 else "piece")
        if a.bubble_mm is not None:
            lines.append(say.say(style, "bubble", bubble=f"{a.bubble_mm:.2g} mm", misread=misread, piece=piece))
        else:
            lines.append(say.say(style, "misread", misread=misread))
    elif a.would_show_below_per_mille and a.decision and not contradicted:
        lines.append(say.say("change", "lowest", fineness=f"{a.would_show_below_per_mille:.0f}"))
    return lines


def why_first(d: Document, say: Language) -> str:
    """The sentence on why the first system is ahead of the second: readings against commonness.

    It is given if there is no claim, or if the claim is contradicted.
    """
    if d.claim is not None and d.code != CONTRADICTED:
        return ""
    if len(d.beside_claim) < 2 or not d.beside_claim[0].bayes_factor_against_next:
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


def _two(x: float) -> str:
    if x >= 1000:
        return f"{round(x, -1):.0f}"
    return f"{x:.0f}" if x >= 9.5 or x < 0.05 else f"{x:.1f}"


def other_name(d: Document, x: Row, say: Language) -> str:
    """The name of something else that fits; the claimed metal is among these if it is less fine, or is only a shell."""
    if d.claim and d.claim.metal and x.metals[0] == d.claim.metal:
        if x.layer and x.layer.built.inserted:
            return say.metal(d.claim.metal)
        return say.say("note", "less_fine", metal=say.metal(d.claim.metal))
    return told_apart(Names.of(d), x.family, x.metals, say)


def note_lines(d: Document, say: Language, pressing: bool = False) -> list[str]:
    """Sentences on the findings, one each; with `pressing`, only on what the reader should do something about."""
    lines = conflict_lines(d, say)
    reasons = d.claim.reasons if d.claim else ()
    # `open_claim.open_sentence` says these
    told: tuple[str, ...] = FIRST_REASONS if pressing else FIRST_REASONS[2:]
    told = told if d.share_meeting_claim >= PROBABLY else ()
    again = pressing and any(n.code == "weigh again" for n in d.notes)
    lines += [
        _note(d, r, say)
        for r in reasons
        if r.code in FIRST_REASONS and r.code not in told and not (again and _of_weighing_alone(r))
    ]
    left_out = (DISAGREE, *DEFAULTS, *(EXPLAINS if pressing else ()))
    lines += [weighed_line(n.code, n.values, say) or _note(d, n, say) for n in d.notes if n.code not in left_out]
    if not pressing:
        lines += [_note(d, r, say) for r in reasons if r.code == "others fit too"]
        lines += [_wide_claim(d, say), *_depths(d, say)]
    decided = d.claim is not None and d.claim.decision is not None
    if decided:
        lines += dict.fromkeys(say.say("note", r.remark) for r in d.readings if r.remark)
    if decided and d.may_be_hollow:
        lines.append(say.say("note", "hollow"))
    return [line for line in lines if line]


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


def _note(d: Document, note: Coded, say: Language) -> str:
    values: dict[str, Any] = dict(note.values)
    if note.code == "weigh again":
        only = d.code == CONTRADICTED
        if d.weighings > 1 and only:
            return ""
        if not may_be_wetted(d):
            return say.say("note", "weigh again dry")
        return say.say("note", "weigh again alone" if only else "weigh again")
    if note.code in ("finer scale", "finer scale, brushed"):
        return say.say("note", note.code, step=f"{values['step_g']:g} g")
    if note.code == "weighted":
        return say.say("note", note.code)
    if note.code == "brushed":
        return say.say("note", note.code) if may_be_wetted(d) else ""
    if note.code == "more repeats":
        return say.say("note", note.code, count=values["count"])
    if note.code == "too light for metal":
        slips = [
            say.say("slip", code, density="" if rho is None else f"{rho:.2f} g/cm3") for code, rho in values["slips"]
        ]
        return say.say("note", note.code, slips="; ".join(slips)) if slips else ""
    if note.code == "everything fits":
        return say.say("note", note.code, low=f"{values['low']:.1f}", high=f"{values['high']:.1f}")
    if note.code == "mass is not the nominal one":
        return say.say("note", note.code, mass=grams(values["mass"]), nominal=grams(values["nominal"]))
    if note.code in ("diameter is not the nominal one", "thickness is not the nominal one"):
        what = note.code.split()[0]
        return say.say("note", note.code, **{what: f"{values[what]:g} mm"}, nominal=f"{values['nominal']:g} mm")
    if note.code in ("fills too much", "fills too little"):
        low, high = (f"{100 * x:.0f}" for x in values["usual"])
        return say.say("note", note.code, fill=f"{100 * values['fill']:.0f}", usual=f"{low} to {high}")
    if note.code == "thickness":
        low, high = (f"{x:.2f}" for x in values["expected"])
        return say.say(
            "note",
            note.code,
            expected=f"{low if low == high else f'{low} to {high}'} mm",
            measured=f"{values['measured']:g} mm",
        )
    if note.code == "core under a layer":
        names = [say.metal(m) for m in values["core"]]
        core, printed = (":".join(f"{x:.0f}" for x in values[k].values()) for k in ("core", "printed"))
        return say.say(
            "note",
            note.code,
            metals=":".join(names),
            core=core,
            printed=printed,
            skin=part_words(Names.of(d), values["skin"], say),
            um=f"{values['um']:.2g} um",
        )
    if note.code == "missing part":
        return say.say("note", note.code, percent=f"{values['percent']:.0f}")
    if note.code == "one reading alone":
        kind = kind_taken(d, str(values["reading"]))
        key = (
            "one_weighing"
            if kind == "weighing"
            else "one_elsewhere"
            if kind in KINDS and KINDS[kind].spot
            else note.code
        )
        return say.say("note", key, reading=say.say(kind, "name"))
    if note.code == "meets it otherwise":
        return say.say("note", note.code)
    if note.code == "kind not shown":
        percent = round(100 * values["shown"])
        key = note.code if percent else "kind_hidden"
        return say.say("note", key, kind=say.say("blind", str(values["kind"])), percent=percent)
    if note.code == "speaks against":
        kinds = dict.fromkeys(kind_taken(d, str(name)) for name in values["readings"])
        key = note.code if len(values["readings"]) == 1 else "speak_against"
        return say.say("note", key, readings=listed([say.say(kind, "name") for kind in kinds]))
    if note.code == "others fit too":
        names = [other_name(d, x, say) for x in d.beside_claim[:3]]
        return say.say("note", note.code, others=listed(list(dict.fromkeys(names)))) if names else ""
    return ""


def _wide_claim(d: Document, say: Language) -> str:
    """The sentence on how wide a claim without a colour is, because it is a union."""
    span = d.claim.density_g_cm3 if d.claim else None
    if d.claim is None or d.claim.plated or span is None or d.claim.colours < 2:
        return ""
    return say.say("water", "wide_claim", claim=d.claim.text, low=f"{span[0]:.1f}", high=f"{span[1]:.1f}")


def may_be_wetted(d: Document) -> bool:
    """Whether nothing in the piece is spoilt by water."""
    return not set(d.cautions) & {"do not wet", "proof coin"}


def caveats(d: Document, say: Language) -> list[str]:
    """Caveats of the metals on which alone the first answer rests, e.g. the disputed density of copper."""
    return [say.say("note", "caveat", metal=capital(say.metal(c.metal)), caveat=c.text) for c in d.caveats]


def next_line(d: Document, say: Language) -> str:
    """The sentences on the most useful reading of those the shop can take and of all others.

    If none helps, the sentence on what an assay office would do.
    """
    first = next_shown(d)
    if first is None:
        return say.say("note", "laboratory") if d.code == UNDECIDED else ""
    lines = [say.say("note", "next" if first.owned else "next_elsewhere", reading=_expected(d, first, say))]
    better = better_elsewhere(d, first)
    lines += [say.say("note", "elsewhere", reading=called(d, better.kind, say))] if better else []
    return " ".join(lines)


def _expected(d: Document, r: NextReading, say: Language) -> str:
    """A reading not yet taken, with what it would show if that tells anything apart; a laboratory needs no forecast."""
    kind = called(d, r.kind, say)
    if r.other is None or (d.code == UNDECIDED and not _tells_claim(r)) or kind != say.say(r.kind, "name"):
        return kind
    unit = "" if isinstance(r.other, str) else f" {r.unit}"
    body = body_words(Names.of(d), r.family, r.metals, say)
    if r.layer:
        body += say.say("page", "layer_plain", skin=part_words(Names.of(d), r.layer, say))
    if d.code != UNDECIDED:
        return say.say("note", "tells_body", kind=kind, other=_shown(r.other) + unit, body=body)
    return say.say("note", "tells_claim", kind=kind, claim=_shown(r.claim) + unit, other=_shown(r.other), body=body)


def next_shown(d: Document) -> NextReading | None:
    """The reading to propose, of those that the shop can take if any of them helps."""
    return _best(d, True) or _best(d, False)


def better_elsewhere(d: Document, first: NextReading) -> NextReading | None:
    """A reading that the shop cannot take and that would tell clearly more than the first one it can take."""
    other = _best(d, False) if first.owned else None
    return other if other and first.worth < OWNED_ENOUGH * other.worth else None


def _best(d: Document, owned: bool) -> NextReading | None:
    """The best reading that the shop owns, or does not own; none if nothing is left to tell apart."""
    found = [r for r in d.next_readings if r.owned == owned]
    if d.code == UNDECIDED:
        return next((r for r in found if _tells_claim(r)), next(iter(found), None))
    settled = d.code not in (NO_CLAIM, CONTRADICTED)
    if settled or not d.beside_claim or d.beside_claim[0].share > CLEAR:
        return None
    return next(iter(found), None)


def _tells_claim(r: NextReading) -> bool:
    """Whether a reading would print another value for what else fits than for the claim."""
    return r.claim is not None and r.other is not None and _differ(r.claim, r.other)


def _differ(claim: Any, other: Any) -> bool:
    """Whether two expected values differ once they are printed."""
    if isinstance(other, str):
        return bool(claim != other)
    return not claim[0] / APART < other < claim[1] * APART


def _shown(value: Any) -> str:
    """One expected value, or a range, as people are shown it."""
    if isinstance(value, str):
        return value
    low, high = (_two(x) for x in (value if isinstance(value, tuple) else (value, value)))
    return low if low == high else f"{low}-{high}"


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


def blind_line(d: Document, say: Language) -> str:
    """The sentence on what these readings could not show, with the readings that would, if any would."""
    spots = blind_spots_shown(d, BLIND_SHOWN, say)
    closing = [called(d, b.closed_by[0], say) if b.closed_by else "" for b in spots]
    names = [say.say("blind", b.class_) for b in spots]
    if not names:
        return ""
    if closing[0] and len(set(closing)) == 1:
        return say.say("note", "blind_one", classes=listed(names), reading=closing[0])
    items = [
        say.say("note", "blind_closed", spot=name, reading=reading) if reading else name
        for name, reading in zip(names, closing, strict=True)
    ]
    return say.say("note", "blind", classes=listed(items))


def blind_spots_shown(d: Document, most: int, say: Language) -> list[BlindSpot]:
    """The classes of blind spots that have words; of many, only the first few."""
    return [b for b in d.blind_spots if say.has("blind", b.class_)][:most]


def cautions(d: Document, say: Language) -> str:
    """The fixed caution, and those that this piece and the readings proposed for it call for."""
    return " ".join([say.say("caution", "fixed"), caution_words(called_for(d, say), say)]).rstrip()


def called_for(d: Document, say: Language) -> list[str]:
    """Codes of the cautions of this piece, and of the readings that this shop is to take; a laboratory has its own."""
    following = next_shown(d)
    proposed = {b.closed_by[0] for b in blind_spots_shown(d, BLIND_SHOWN, say) if b.closed_by}
    proposed |= {following.kind} if following else set()
    return [*d.cautions, *cautions_of(kind for kind in proposed if d.owns(kind))]
