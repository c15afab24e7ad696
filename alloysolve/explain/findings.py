"""Lines of an answer beside the fit: what would change it, what to do next, cautions."""

from __future__ import annotations

from typing import Any

from ..inverse.agreement import STRAINED, seen_depths
from ..inverse.posterior import System
from ..inverse.readings import Magnet
from ..inverse.solve import Solution
from ..inverse.verdict import CONTRADICTED, Reason
from .language import Language
from .words import grams, length, listed

UNNAMED = ("pair", "triple")  # families without words of their own
DUST = ("lead", "cadmium", "beryllium", "mercury")


def blamed(s: Solution) -> str:
    """The reading that speaks against the claim: the weighing where it does, else the one that does most."""
    if s.verdict is None:
        return ""
    scores = next((r.values["scores"] for r in s.verdict.reasons if r.code == "readings"), {})
    pairs = scores.items() if isinstance(scores, dict) else ()
    against: dict[str, float] = {str(n): abs(float(z)) for n, z in pairs if abs(z) > STRAINED}
    if "weighing" in against or not against:
        return "weighing" if "weighing" in against else ""
    return max(against, key=lambda n: against[n])


def change_lines(s: Solution, say: Language) -> list[str]:
    """What it would take for the answer to be another one."""
    lines = []
    a, reading = s.advice, blamed(s)
    contradicted = s.verdict is not None and s.verdict.code == CONTRADICTED
    slip = any(n.code == "too light for metal" and n.values["slips"] for n in a.notes)
    if contradicted and reading.startswith("conductivity"):
        lines.append(say.say("change", "meter"))
    elif contradicted and reading == "magnet":
        lines.append(say.say("change", "pull"))
    elif contradicted and a.misread_g is not None and not slip:
        misread = grams(abs(a.misread_g), 3 if abs(a.misread_g) < 0.1 else 2)
        piece = say.say("water", "pieces" if s.piece.count > 1 else "piece")
        if a.bubble_mm is not None:
            lines.append(say.say("change", "bubble", bubble=f"{a.bubble_mm:.2g} mm", misread=misread, piece=piece))
        else:
            lines.append(say.say("change", "misread", misread=misread))
    elif a.lowest_fineness and s.verdict and not contradicted:
        lines.append(say.say("change", "lowest", fineness=f"{a.lowest_fineness:.0f}"))
    return lines


def why_first(s: Solution, say: Language) -> str:
    """Why the first system is ahead of the second: readings against commonness.

    Said where there is no claim, or the claim is contradicted.
    """
    if s.claim is not None and not (s.verdict and s.verdict.code == CONTRADICTED):
        return ""
    systems = s.beside_claim() if s.claim else list(s.found)
    if len(systems) < 2 or systems[1].probability < 0.004:
        return ""
    a, b = systems[0], systems[1]
    names = [body_words(s, x.candidates[0].family, x.metals, say) for x in (a, b)]
    if names[0] == names[1]:
        names = ["-".join(say.metal(m) for m in x.metals) for x in (a, b)]
    ratio, common = a.evidence / b.evidence, a.probability / b.probability
    common = common / ratio
    if common < 1 / 1.1:
        return say.say("change", "why_first_rarer", first=_capital(names[0]), second=names[1], readings=_ratio(ratio),
                       common=_ratio(1 / common))  # fmt: skip
    if ratio < 1 / 1.1:
        return say.say("change", "why_first_behind", first=_capital(names[0]), second=names[1],
                       readings=_ratio(1 / ratio), common=_ratio(common))  # fmt: skip
    return say.say("change", "why_first", first=_capital(names[0]), second=names[1], readings=_ratio(ratio),
                   common=_ratio(common))  # fmt: skip


def _ratio(x: float) -> str:
    return "over 1000" if x > 1000 else f"{max(x, 1.0):.1f}".removesuffix(".0") if x < 10 else f"{x:.0f}"


def _two(x: float) -> str:
    return f"{x:.0f}" if x >= 9.5 else f"{x:.1f}"


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
    return body_words(s, x.candidates[0].family, x.metals, say)


def note_lines(s: Solution, say: Language) -> list[str]:
    """Findings in words, each on its own."""
    lines = [_note(s, note, say) for note in s.advice.notes]
    if s.verdict:
        lines += [_note(s, r, say) for r in s.verdict.reasons if r.code in ("one reading alone", "others fit too")]
    lines.append(_wide_claim(s, say))
    depths = seen_depths(s)
    if depths and s.verdict and s.verdict.code != CONTRADICTED:
        lines.append(say.say("note", "depth", depth=length(max(depths.values()))))
    if s.claim and s.verdict and any(isinstance(r, Magnet) and r.answer != "none" for r in s.piece.readings):
        lines.append(say.say("note", "magnet"))
    if s.claim and s.verdict and (s.piece.hollow or s.claim.hollow):
        lines.append(say.say("note", "hollow"))
    return [line for line in lines if line]


def _note(s: Solution, note: Reason, say: Language) -> str:
    values: dict[str, Any] = dict(note.values)
    if note.code == "weigh again":
        if max(len(s.piece.displaced), len(s.piece.in_water)) > 1 and s.verdict and s.verdict.code == CONTRADICTED:
            return ""
        if set(s.advice.cautions) & {"do not wet", "proof coin"}:
            return say.say("note", "weigh again dry")
        only = s.verdict is not None and s.verdict.code == CONTRADICTED
        return say.say("note", "weigh again alone" if only else "weigh again")
    if note.code == "finer scale":
        step = (s.piece.scale_step or s.settings.scale.step).value / values["factor"]
        return say.say("note", note.code, step=f"{step:g} g")
    if note.code == "too light for metal":
        slips = [
            say.say("slip", code, density="" if rho is None else f"{rho:.2f} g/cm3") for code, rho in values["slips"]
        ]
        return say.say("note", note.code, slips="; ".join(slips)) if slips else ""
    if note.code == "everything fits":
        return say.say("note", note.code, low=f"{values['low']:.1f}", high=f"{values['high']:.1f}")
    if note.code == "mass is not the nominal one":
        return say.say("note", note.code, mass=grams(values["mass"]), nominal=grams(values["nominal"]))
    if note.code == "one reading alone":
        name = str(values["reading"]).split()[0]
        return say.say("note", note.code, reading=say.say("readings", name))
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
    """A reading not yet taken that would split the claim from what else fits, with what it would read."""
    for r in s.next_readings:
        low, high = (_two(x) for x in r["claim"])
        claim = low if low == high else f"{low}-{high}"
        body = body_words(s, r["family"], r["metals"], say)
        return say.say("note", "next", kind=say.say("readings", r["kind"]), claim=f"{claim} {r['unit']}",
                       other=_two(r["other"]), body=body)  # fmt: skip
    return ""


def cautions(s: Solution, say: Language) -> str:
    """The fixed caution and those that this piece triggers."""
    parts = [say.say("caution", "fixed")]
    dust = [say.say("caution", code) for code in s.advice.cautions if code in DUST]
    if dust:
        parts.append(say.say("caution", "dust", metals=", ".join([dust[0], *(d[0].lower() + d[1:] for d in dust[1:])])))
    parts += [say.say("caution", code) for code in s.advice.cautions if code not in DUST]
    return " ".join(parts)
