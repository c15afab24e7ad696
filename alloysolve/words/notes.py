"""The sentence on one finding, or on one reason of a decision."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from ..answer.document import Document
from ..answer.parts import Coded
from ..inference.decision import CONTRADICTED, RARE_ALLOY
from ..readings.registry import KINDS
from .language import Language
from .names import Names, kind_taken, part_words
from .numbers import coarse, grams, listed

Said = tuple[str, Mapping[str, Any]]  # the key of a sentence, "" for none, and what is filled in
PLAIN = ("weighted", "meets it otherwise", RARE_ALLOY)  # nothing is filled in


def note_line(d: Document, note: Coded, say: Language) -> str:
    """The sentence on one finding; "" where nothing is to be said of it."""
    made = MADE.get(note.code)
    key, filled = made(d, note, say) if made else (note.code if note.code in PLAIN else "", {})
    return say.say("note", key, **filled) if key else ""


def may_be_wetted(d: Document) -> bool:
    """Whether nothing in the piece is spoilt by water."""
    return not set(d.cautions) & {"do not wet", "proof coin"}


def _weigh_again(d: Document, note: Coded, say: Language) -> Said:
    only = d.code == CONTRADICTED
    if d.weighings > 1 and only:
        return "", {}
    too_dense = d.claim is not None and (d.claim.misread_g or 0.0) < 0  # no bubble makes it so
    if too_dense or not may_be_wetted(d):
        return "weigh again dry", {}
    return "weigh again alone" if only else "weigh again", {}


def _brushed(d: Document, note: Coded, say: Language) -> Said:
    return note.code if may_be_wetted(d) else "", {}


def _finer_scale(d: Document, note: Coded, say: Language) -> Said:
    return note.code, {"step": f"{note.values['step_g']:g} g"}


def _as_given(d: Document, note: Coded, say: Language) -> Said:
    return note.code, note.values


def _slips(d: Document, note: Coded, say: Language) -> Said:
    slips = [
        say.say("slip", code, density="" if rho is None else f"{rho:.2f} g/cm3") for code, rho in note.values["slips"]
    ]
    return note.code if slips else "", {"slips": "; ".join(slips)}


def _everything_fits(d: Document, note: Coded, say: Language) -> Said:
    return note.code, {end: f"{note.values[end]:.1f}" for end in ("low", "high")}


def _of_mass(d: Document, note: Coded, say: Language) -> Said:
    return note.code, {what: grams(note.values[what]) for what in ("mass", "nominal")}


def _of_length(d: Document, note: Coded, say: Language) -> Said:
    return note.code, {what: f"{note.values[what]:g} mm" for what in (note.code.split()[0], "nominal")}


def _fills(d: Document, note: Coded, say: Language) -> Said:
    low, high = (f"{100 * x:.0f}" for x in note.values["usual"])
    return note.code, {"fill": f"{100 * note.values['fill']:.0f}", "usual": f"{low} to {high}"}


def _thickness(d: Document, note: Coded, say: Language) -> Said:
    low, high = (f"{x:.2f}" for x in note.values["expected"])
    expected = f"{low if low == high else f'{low} to {high}'} mm"
    return note.code, {"expected": expected, "measured": f"{note.values['measured']:g} mm"}


def _core(d: Document, note: Coded, say: Language) -> Said:
    values = note.values
    core, printed = (":".join(f"{x:.0f}" for x in values[k].values()) for k in ("core", "printed"))
    metals, skin = ":".join(say.metal(m) for m in values["core"]), part_words(Names.of(d), values["skin"], say)
    return note.code, {
        "metals": metals,
        "core": core,
        "printed": printed,
        "skin": skin,
        "um": f"{coarse(values['um'])} um",
    }


def _missing(d: Document, note: Coded, say: Language) -> Said:
    return note.code, {"percent": f"{note.values['percent']:.0f}"}


def _one_reading(d: Document, note: Coded, say: Language) -> Said:
    kind = kind_taken(d, str(note.values["reading"]))
    elsewhere = kind in KINDS and KINDS[kind].spot
    key = "one_weighing" if kind == "weighing" else "one_elsewhere" if elsewhere else note.code
    return key, {"reading": say.say(kind, "name")}


def _kind_not_shown(d: Document, note: Coded, say: Language) -> Said:
    percent = round(100 * note.values["shown"])
    key = note.code if percent else "kind_hidden"
    return key, {"kind": say.say("blind", str(note.values["kind"])), "percent": percent}


def _speaks_against(d: Document, note: Coded, say: Language) -> Said:
    kinds = dict.fromkeys(kind_taken(d, str(name)) for name in note.values["readings"])
    key = note.code if len(note.values["readings"]) == 1 else "speak_against"
    return key, {"readings": listed([say.say(kind, "name") for kind in kinds])}


MADE: Mapping[str, Callable[[Document, Coded, Language], Said]] = MappingProxyType(
    {
        "weigh again": _weigh_again,
        "brushed": _brushed,
        "finer scale": _finer_scale,
        "finer scale, brushed": _finer_scale,
        "more repeats": _as_given,
        "too thick for its tone": _as_given,
        "too light for metal": _slips,
        "everything fits": _everything_fits,
        "mass is not the nominal one": _of_mass,
        "diameter is not the nominal one": _of_length,
        "thickness is not the nominal one": _of_length,
        "fills too much": _fills,
        "fills too little": _fills,
        "thickness": _thickness,
        "core under a layer": _core,
        "missing part": _missing,
        "one reading alone": _one_reading,
        "kind not shown": _kind_not_shown,
        "speaks against": _speaks_against,
    }
)
