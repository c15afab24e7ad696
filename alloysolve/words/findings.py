"""Lines of an answer beside the fit: what would change it, what to do next, cautions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..advice.agreement import STRAINED, depth_by_core, seen_depths
from ..answer.solution import Solution
from ..inference.decision import CONTRADICTED, UNDECIDED, Reason
from ..inference.posterior import System
from ..readings.registry import KINDS
from .language import Language
from .numbers import grams, length, listed

BLIND_SHOWN = 3
CLEAR = 0.9  # share of belief from which what fits is told apart enough
UNLISTED_UM = 1.0  # a core seen less deep than this is one whose metals were not listed
EQUAL = 0.05  # relative difference up to which two candidates are as good as each other
APART = 1.01  # ratio from which two expected values are worth printing beside each other
UNNAMED = ("pair", "triple")  # families without words of their own
DUST = ("lead", "cadmium", "beryllium", "mercury")


def blamed(s: Solution) -> str:
    """The reading that speaks against the claim: the weighing where it does, else the one that does most."""
    if s.decision is None:
        return ""
    scores = next((r.values["scores"] for r in s.decision.reasons if r.code == "readings"), {})
    pairs = scores.items() if isinstance(scores, dict) else ()
    against: dict[str, float] = {str(n): abs(float(z)) for n, z in pairs if abs(z) > STRAINED}
    if "weighing" in against or not against:
        return "weighing" if "weighing" in against else ""
    return max(against, key=lambda n: against[n])


def change_lines(s: Solution, say: Language) -> list[str]:
    """What it would take for the answer to be another one."""
    lines = []
    a, reading = s.advice, blamed(s)
    contradicted = s.decision is not None and s.decision.code == CONTRADICTED
    slip = any(n.code == "too light for metal" and n.values["slips"] for n in a.notes)
    if contradicted and say.has(kind_of(reading), "change"):
        lines.append(say.say(kind_of(reading), "change"))
    elif contradicted and a.misread_g is not None and not slip:
        misread = grams(abs(a.misread_g), 3 if abs(a.misread_g) < 0.1 else 2)
        piece = say.say("water", "pieces" if s.piece.count > 1 else "piece")
        if a.bubble_mm is not None:
            lines.append(say.say("change", "bubble", bubble=f"{a.bubble_mm:.2g} mm", misread=misread, piece=piece))
        else:
            lines.append(say.say("change", "misread", misread=misread))
    elif a.would_show_below and s.decision and not contradicted:
        lines.append(say.say("change", "lowest", fineness=f"{a.would_show_below:.0f}"))
    return lines


def why_first(s: Solution, say: Language) -> str:
    """Why the first system is ahead of the second: readings against commonness.

    Said where there is no claim, or the claim is contradicted.
    """
    if s.claim is not None and not (s.decision and s.decision.code == CONTRADICTED):
        return ""
    systems = s.beside_claim() if s.claim else list(s.found)
    if len(systems) < 2 or systems[1].probability < 0.004:
        return ""
    a, b = systems[0], systems[1]
    names = [body_words(s, x.constructions[0].family, x.metals, say) for x in (a, b)]
    if names[0] == names[1]:
        names = ["-".join(say.metal(m) for m in x.metals) for x in (a, b)]
    ratio, common = a.evidence / b.evidence, a.probability / b.probability
    common = common / ratio
    if abs(common - 1) < EQUAL and abs(ratio - 1) < EQUAL:
        return ""
    if common < 1 / 1.1:
        return say.say(
            "change",
            "why_first_rarer",
            first=_capital(names[0]),
            second=names[1],
            readings=_ratio(ratio),
            common=_ratio(1 / common),
        )
    if ratio < 1 / 1.1:
        return say.say(
            "change",
            "why_first_behind",
            first=_capital(names[0]),
            second=names[1],
            readings=_ratio(1 / ratio),
            common=_ratio(common),
        )
    if ratio < 1.1:
        return say.say("change", "why_first_common", first=_capital(names[0]), second=names[1], common=_ratio(common))
    if common < 1.1:
        return say.say(
            "change", "why_first_readings", first=_capital(names[0]), second=names[1], readings=_ratio(ratio)
        )
    return say.say(
        "change", "why_first", first=_capital(names[0]), second=names[1], readings=_ratio(ratio), common=_ratio(common)
    )


def other_prior(s: Solution, say: Language) -> str:
    """Which system would come first under another belief, where that is another one.

    Said where there is no claim, or the claim is contradicted.
    """
    if s.decision is not None and s.decision.code != CONTRADICTED:
        return ""
    other = s.first_under_other_prior
    if other is None:
        return ""
    key = "other_prior_default" if s.prior.name == "flat" else "other_prior_flat"
    return say.say("change", key, body=body_words(s, other.constructions[0].family, other.metals, say))


def _ratio(x: float) -> str:
    return "over 1000" if x > 1000 else f"{max(x, 1.0):.1f}".removesuffix(".0") if x < 10 else f"{x:.0f}"


def _two(x: float) -> str:
    if x >= 1000:
        return f"{round(x, -1):.0f}"
    return f"{x:.0f}" if x >= 9.5 or x < 0.05 else f"{x:.1f}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def body_words(s: Solution, family: str, metals: tuple[str, ...], say: Language) -> str:
    """What a body is called: by its family, as less fine than claimed, or by its metals."""
    row = s.tables.families.get(family)
    if row:
        return row.words
    if s.claim and s.claim.metal and family not in (*UNNAMED, *(r.claim for r in s.claim.regions)):
        return say.say("note", "less_fine", metal=say.metal(s.claim.metal))
    return listed([say.metal(m) for m in metals])


def _other_name(s: Solution, x: System, say: Language) -> str:
    """What else fits; the claimed metal itself is there only when it is less fine."""
    if s.claim and s.claim.metal and x.metals[0] == s.claim.metal:
        return say.say("note", "less_fine", metal=say.metal(s.claim.metal))
    return body_words(s, x.constructions[0].family, x.metals, say)


def note_lines(s: Solution, say: Language) -> list[str]:
    """Findings in words, each on its own."""
    lines = conflict_lines(s, say)
    if s.decision:
        lines += [_note(s, r, say) for r in s.decision.reasons if r.code == "one reading alone"]
    lines += [_note(s, note, say) for note in s.advice.notes]
    if s.decision:
        lines += [_note(s, r, say) for r in s.decision.reasons if r.code == "others fit too"]
    lines.append(_wide_claim(s, say))
    lines += _depths(s, say)
    if s.claim and s.decision:
        lines += dict.fromkeys(say.say("note", r.remark) for r in s.piece.readings if r.remark)
    if s.claim and s.decision and s.may_be_hollow:
        lines.append(say.say("note", "hollow"))
    return [line for line in lines if line]


def _depths(s: Solution, say: Language) -> list[str]:
    """How deep the readings of limited depth looked: where the claim stands, or where depth depends on the core."""
    depths = seen_depths(s)
    surface = [name for name in depths if name in s.evidence.surface]
    lines = []
    for name in surface:
        over = depth_by_core(s, name)
        if over:
            items = [
                say.say(
                    "note",
                    "over" if um >= UNLISTED_UM else "unlisted",
                    depth=length(um),
                    body=body_words(s, c.family, c.metals, say),
                )
                for c, um in over
            ]
            lines.append(say.say("note", "depth_surface", depths=listed(items)))
    others = [um for name, um in depths.items() if name not in surface]
    if others and s.decision and s.decision.code != CONTRADICTED:
        lines.append(say.say("note", "depth", depth=length(max(others))))
    return list(dict.fromkeys(lines))


def skin_words(s: Solution, name: str, say: Language) -> str:
    """What a skin, slug or joined part is called."""
    row = next((r for r in s.tables.rows("skins") if r.name == name), None)
    return row.words if row else say.metal(name)


def _note(s: Solution, note: Reason, say: Language) -> str:
    values: dict[str, Any] = dict(note.values)
    if note.code == "weigh again":
        if max(len(s.piece.displaced), len(s.piece.in_water)) > 1 and s.decision and s.decision.code == CONTRADICTED:
            return ""
        if set(s.advice.cautions) & {"do not wet", "proof coin"}:
            return say.say("note", "weigh again dry")
        only = s.decision is not None and s.decision.code == CONTRADICTED
        return say.say("note", "weigh again alone" if only else "weigh again")
    if note.code == "finer scale":
        step = (s.piece.scale_step or s.settings.scale.step).value / values["factor"]
        return say.say("note", note.code, step=f"{step:g} g")
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
    if note.code == "diameter is not the nominal one":
        return say.say("note", note.code, diameter=f"{values['diameter']:g} mm", nominal=f"{values['nominal']:g} mm")
    if note.code in ("fills too much", "fills too little"):
        return say.say("note", note.code, fill=f"{100 * values['fill']:.0f}")
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
            skin=skin_words(s, values["skin"], say),
            um=f"{values['um']:.2g} um",
        )
    if note.code == "missing part":
        return say.say("note", note.code, percent=f"{values['percent']:.0f}")
    if note.code == "one reading alone":
        kind = _kind(s, str(values["reading"]))
        key = "one_weighing" if kind == "weighing" else "one_elsewhere" if KINDS[kind].spot else note.code
        return say.say("note", key, reading=say.say(kind, "name"))
    if note.code == "others fit too":
        beside = s.beside_claim()[:3]
        names = [_other_name(s, x, say) for x in beside if x.probability > 1e-3]
        return say.say("note", note.code, others=listed(list(dict.fromkeys(names)))) if names else ""
    return ""


def _wide_claim(s: Solution, say: Language) -> str:
    """A claim without a colour is a union: how wide."""
    span = s.advice.claim_density
    if s.claim is None or s.claim.plated or span is None or len({r.colour for r in s.claim.regions}) < 2:
        return ""
    return say.say("water", "wide_claim", claim=s.claim.text, low=f"{span[0]:.1f}", high=f"{span[1]:.1f}")


def caveats(s: Solution, say: Language) -> list[str]:
    """Caveats of the metals that the first answer rests on alone, e.g. the disputed density of copper."""
    if not s.found or len(s.found[0].metals) != 1 or s.found[0].probability < 0.1:
        return []
    metal = s.tables.metals[s.found[0].metals[0]]
    return (
        [say.say("note", "caveat", metal=_capital(say.metal(metal.symbol)), caveat=metal.caveat)]
        if metal.caveat
        else []
    )


def next_line(s: Solution, say: Language) -> str:
    """The most useful reading not yet taken, with what it would show; what a laboratory would do where none helps."""
    r = _next_shown(s)
    if r is None:
        return say.say("note", "laboratory") if _undecided(s) else ""
    kind = say.say(r["kind"], "name")
    if r["other"] is None or (_undecided(s) and not _tells_claim(r)):
        return say.say("note", "next_plain", kind=kind)
    unit = "" if isinstance(r["other"], str) else f" {r['unit']}"
    body = body_words(s, r["family"], r["metals"], say)
    if not _undecided(s):
        return say.say("note", "next_body", kind=kind, other=_shown(r["other"]) + unit, body=body)
    return say.say("note", "next", kind=kind, claim=_shown(r["claim"]) + unit, other=_shown(r["other"]), body=body)


def _next_shown(s: Solution) -> Mapping[str, Any] | None:
    """The reading to propose: one that tells the claim apart; without an open claim one that tells what fits apart."""
    if _undecided(s):
        return next((r for r in s.next_readings if _tells_claim(r)), next(iter(s.next_readings), None))
    settled = s.decision is not None and s.decision.code != CONTRADICTED
    first = [] if settled else s.beside_claim()[:1]
    if not first or first[0].probability > CLEAR:
        return None
    return next(iter(s.next_readings), None)


def _undecided(s: Solution) -> bool:
    return s.decision is not None and s.decision.code == UNDECIDED


def _tells_claim(r: Mapping[str, Any]) -> bool:
    """Whether a reading would show another value on what else fits than on the claim, as they are printed."""
    return r["claim"] is not None and r["other"] is not None and _differ(r["claim"], r["other"])


def _differ(claim: Any, other: Any) -> bool:
    """Whether two expected values can be told apart as they are printed."""
    if isinstance(other, str):
        return bool(claim != other)
    return not claim[0] / APART < other < claim[1] * APART


def _shown(value: Any) -> str:
    """One expected value, or a range, for people."""
    if isinstance(value, str):
        return value
    low, high = (_two(x) for x in (value if isinstance(value, tuple) else (value, value)))
    return low if low == high else f"{low}-{high}"


def conflict_lines(s: Solution, say: Language) -> list[str]:
    """The pair of readings that disagrees most, and what each alone would say."""
    lines = []
    for c in s.conflicts:
        one, two = c["alone"]
        names = [_named(s, x["reading"], say) for x in (one, two)]
        bodies = [body_words(s, x["family"], tuple(x["metals"]), say) for x in (one, two)]
        lines.append(
            say.say("note", "conflict", one=_capital(names[0]), two=names[1], first=bodies[0], second=bodies[1])
        )
    return lines


def _named(s: Solution, reading: str, say: Language) -> str:
    """A reading by its kind, with its place where it has one."""
    place = next((o.place for o in s.evidence.observed if o.name == reading), "")
    name = say.say(_kind(s, reading), "name")
    return f"{name}, {place}" if place else name


def _kind(s: Solution, reading: str) -> str:
    """The kind of a reading as it was taken: a conductivity, for instance, may have been read as a resistivity."""
    return next((o.kind for o in s.evidence.observed if o.name == reading), kind_of(reading))


def kind_of(reading: str) -> str:
    """The kind of a reading from its name."""
    return reading.rstrip("0123456789").strip()


def blind_line(s: Solution, say: Language) -> str:
    """What these readings could not show, each with the reading that would, where one would."""
    spots = _spots_shown(s, say)
    closing = [say.say(b["closed_by"][0], "name") if b["closed_by"] else "" for b in spots]
    names = [say.say("blind", b["class"]) for b in spots]
    if not names:
        return ""
    if closing[0] and len(set(closing)) == 1:
        return say.say("note", "blind_one", classes=listed(names), reading=closing[0])
    items = [
        say.say("note", "blind_closed", spot=name, reading=reading) if reading else name
        for name, reading in zip(names, closing, strict=True)
    ]
    return say.say("note", "blind", classes=listed(items))


def _spots_shown(s: Solution, say: Language) -> list[Mapping[str, Any]]:
    return [b for b in s.blind_spots if say.has("blind", b["class"])][:BLIND_SHOWN]


def cautions(s: Solution, say: Language) -> str:
    """The fixed caution and those that this piece triggers."""
    parts, codes = [say.say("caution", "fixed")], list(s.advice.cautions)
    closing = [b["closed_by"][0] for b in _spots_shown(s, say) if b["closed_by"]]
    proposed = {(_next_shown(s) or {}).get("kind"), *closing}
    needed = [of.caution for kind, of in KINDS.items() if of.caution and kind in proposed]
    codes += [code for code in needed if code not in codes]
    dust = [say.say("caution", code) for code in codes if code in DUST]
    if dust:
        parts.append(say.say("caution", "dust", metals=", ".join([dust[0], *(d[0].lower() + d[1:] for d in dust[1:])])))
    parts += [say.say("caution", code) for code in codes if code not in DUST]
    return " ".join(parts)
