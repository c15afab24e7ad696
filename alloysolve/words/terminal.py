"""The answer to a person: at most 24 lines of 80 ASCII columns, the answer first."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from ..answer.solution import Solution
from ..inference.decision import CONTRADICTED, UNDECIDED
from ..inference.posterior import System
from ..pieces.constructions import Place
from .findings import (
    blamed,
    blind_line,
    body_words,
    cautions,
    caveats,
    change_lines,
    next_line,
    note_lines,
    other_prior,
    skin_words,
    why_first,
)
from .language import Language, language
from .numbers import chance, columns, composition, grams, length, length_span, listed, span
from .settings import known_good_line, settings_line

WIDTH = 80
LINES = 24
SHOWN = 5
LEAST_TABLE = 5  # lines of the table of what fits that are never given up
SHOWN_FROM = 0.004
ALIKE_FROM = 0.02  # a row that is this much less likely than the first is told its own odds
FINER = 22  # width of the composition behind "finer than claimed: "
NAME = 20  # widest name of a reading with its place
VALUE = 28  # and widest value
LAYER = 28  # width of the last column of the table of what fits
LIKELY, BODY = 9, 41  # widths of the first two columns of the table of what fits


def answer(solution: Solution) -> str:
    """The whole answer as text."""
    say = language(solution.settings.answers.language)
    head = _wrap(f"{first_sentence(solution, say)} {second_sentence(solution, say)}")
    readings = readings_table(solution.reading_rows(), solution.claim is not None, say)
    # in the order printed; where the screen is too small, the last of a later group goes first
    groups = [
        change_lines(solution, say),
        note_lines(solution, say),
        [next_line(solution, say), blind_line(solution, say)],
        [why_first(solution, say), other_prior(solution, say)],
        caveats(solution, say),
    ]
    kept = [[_wrap(text) for text in group if text] for group in groups]
    ending = [*_wrap(cautions(solution, say)), *_settings(solution, say)]
    room = LINES - len(head) - len(readings) - len(ending) - 2
    while _size(kept) > room - LEAST_TABLE:
        next(group for group in reversed(kept) if group).pop()
    table = fits_table(solution, say, room - _size(kept))
    tail = [line for group in kept for lines in group for line in lines]
    return "\n".join([*head, "", *table, "", *readings, *tail, *ending]).rstrip() + "\n"


def _size(groups: list[list[list[str]]]) -> int:
    return sum(len(lines) for group in groups for lines in group)


def _settings(s: Solution, say: Language) -> list[str]:
    """What the settings did: the correction by a known-good piece, and the defaults where there is no file."""
    lines = [known_good_line(s.weighing, say)]
    if s.weighing is not None and s.weighing.displaced_g is not None and not s.settings.file:
        lines.append(settings_line(s.settings, say, s.piece).strip())
    return [line for line in lines if line]


def _wrap(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, break_long_words=False) or []


def first_sentence(s: Solution, say: Language) -> str:
    """The decision, in grams of water where the piece was weighed."""
    piece = say.say("water", "pieces" if s.piece.count > 1 else "piece")
    if s.claim is None or s.decision is None:
        head = say.say("decision", "none")
        density = f"{s.density.value:.2f} g/cm3 ({s.density.low:.2f} to {s.density.high:.2f})" if s.density else ""
        return f"{head}: " + (
            say.say("water", "no_claim", piece=piece, read=density) if density else say.say("water", "other")
        )
    head = say.say("decision", s.decision.code, claim=s.claim.text)
    return f"{head}: {_proof(s, say, piece)}"


def _proof(s: Solution, say: Language, piece: str) -> str:
    """What the claim would have read and what was read: water, unless only the meter speaks against it."""
    if s.claim and s.claim.plated and "vermeil" not in s.claim.words:
        return say.say("water", "plated_claim")
    o = next((o for o in s.evidence.observed if o.name == blamed(s)), None)
    if o is not None and s.claimed is not None and say.has(o.kind, "would"):
        usual = o.plain(o.shown(s.claimed))
        span = _to(float(usual.min()), float(usual.max()), f"{{:{o.coarse}}}")
        return say.say(o.kind, "would", piece=piece, read=_cut(o.plain_text), expected=span)
    if s.decision is not None and s.decision.code == CONTRADICTED and not blamed(s):
        return say.say("water", "other")  # no reading by itself, all of them together
    w, expected = s.weighing, s.advice.claim_displaced_g
    if w is not None and w.displaced_g is not None and w.mass_g is not None and expected:
        liquid = say.say("water", "liquid_other" if s.piece.liquid_density else "liquid_water")
        return say.say(
            "water",
            "would_push",
            piece=piece,
            mass=grams(w.mass_g),
            liquid=liquid,
            expected=_to(*expected, "{:.2f}") + " g",
            read=grams(w.displaced_g),
        )
    if s.density and s.advice.claim_density:
        return say.say(
            "water",
            "density_only",
            piece=piece,
            read=f"{s.density.value:.2f} g/cm3",
            expected=_to(*s.advice.claim_density, "{:.2f}"),
        )
    return say.say("water", "other")


def _to(low: float, high: float, form: str | Callable[[float], str]) -> str:
    write = form.format if isinstance(form, str) else form
    a, b = write(low), write(high)
    return a if a == b else f"{a} to {b}"


def second_sentence(s: Solution, say: Language) -> str:
    """What it fits best and the precious metal in that."""
    if not s.found or s.other > s.found[0].probability:
        return say.say("content", "something_else")
    undecided = s.decision is not None and s.decision.code == UNDECIDED
    fits_claim = s.claim is not None and s.share_meeting_claim > 0.5 and s.decision and s.decision.code != CONTRADICTED
    content = precious_words(s, say, if_claimed=bool(fits_claim and undecided))
    if s.claim and fits_claim:
        return say.say("content", "fits_also" if undecided else "fits_claim", body=f'"{s.claim.text}"', content=content)
    if s.claim and s.share_meeting_claim > 0.5:
        return say.say("content", "fits_finer", content=content)
    first = (s.beside_claim() if s.claim else list(s.found))[0]
    best = first.constructions[0]
    layer = ""
    skins = [c for c in first.constructions if c.skin_um]
    if best.part_percent:
        layer = say.say("content", best.built.place.value, skin=skin_words(s, best.skin, say))
    if skins:
        skin = skin_words(s, skins[0].skin, say)
        plated = sum(c.probability for c in skins) / first.probability
        if plated > 0.05 and not layer:
            layer = say.say("content", "layer" if plated > 0.9 else "layer_possible", skin=skin)
    key = "fits" if first.probability >= 0.5 else "fits_among"
    return say.say("content", key, body=body_words(s, best.family, best.metals, say), layer=layer, content=content)


def precious_words(s: Solution, say: Language, if_claimed: bool = False) -> str:
    """Precious content over all that fits; `if_claimed` says that it holds only for the claimed alloy."""
    certain, possible = [], []
    claimed = s.claim.metal if s.claim else ""
    for symbol, m in sorted(s.precious.items(), key=lambda item: -item[1].high):
        if m.high < (0.01 if m.unit == "g" else 0.1):
            continue
        low = m.low
        if if_claimed and symbol == claimed and s.advice.would_show_below:
            body = (s.weighing.body_g if s.weighing else None) if m.unit == "g" else 100.0
            low = s.advice.would_show_below / 1000 * (body or m.high)
        if low > 0.05 * m.high:
            amount = f"{_to(low, m.high, _amount)} {m.unit}"
            certain.append(say.say("content", "item", amount=amount, metal=say.metal(symbol)))
        else:
            amount = f"{_amount(m.high)} {m.unit}"
            possible.append(say.say("content", "item", amount=amount, metal=say.metal(symbol)))
    if certain:
        return say.say("content", "holds_if" if if_claimed else "holds", list=listed(certain[:2]))
    if possible:
        return say.say("content", "holds_up_to", list=listed(possible[:2]))
    return say.say("content", "none")


def _amount(x: float) -> str:
    """Three digits, never as a power of ten."""
    return f"{x:.2f}" if x < 1 else f"{x:.0f}" if x >= 100 else f"{x:.3g}"


def fits_table(s: Solution, say: Language, lines: int) -> list[str]:
    """What fits, likeliest first, in at most so many lines; the claim itself as one row."""
    layered = any(c.built.place is not Place.NOWHERE for x in s.found for c in x.constructions)
    body_width = BODY if layered else BODY + 20
    rows = [[say.say("table", k) for k in ("likely", "body", "layer")]]
    entries: list[tuple[float, list[str]]] = []
    finer = s.share_meeting_claim - s.share_as_claimed
    if s.claim and s.share_as_claimed >= SHOWN_FROM:
        as_claimed = say.say("table", "as_claimed", claim=s.claim.text)
        entries.append((s.share_as_claimed, [chance(s.share_as_claimed, say), as_claimed, ""]))
    if finer >= SHOWN_FROM:
        body = say.say("table", "finer", body=_finer_body(s, say))
        entries.append((finer, [chance(finer, say), body, ""]))
    beside = s.beside_claim() if s.claim else list(s.found)
    leading = beside[0].probability if beside else 1.0
    for x in beside:
        if x.probability >= SHOWN_FROM:
            same = x.alike and x.probability >= ALIKE_FROM * leading
            word = say.say("table", "alike") if same else chance(x.probability, say)
            entries.append((x.probability, [word, _body(s, x, say, body_width), _layer(s, x, say)]))
    if s.other >= SHOWN_FROM:
        entries.append((s.other, [chance(s.other, say), say.say("table", "something_else"), ""]))
    entries.sort(key=lambda e: -e[0])
    alike = say.say("table", "alike")
    shown = entries[: min(SHOWN, lines - 1)]
    if len(shown) == lines - 1 and any(e[1][0] == alike for e in shown):
        shown.pop()  # for the line that explains the word
    note = [say.say("table", "alike_note")] if any(e[1][0] == alike for e in shown) else []
    return columns([*rows, *(e[1] for e in shown)], [LIKELY, body_width, 0]) + note


def _finer_body(s: Solution, say: Language) -> str:
    """The composition of what is finer than claimed."""
    mask = s.prior.finer & (s.posterior.by_point > 0)
    return composition(s.posterior.ranges(np.flatnonzero(mask), s.posterior.by_point), say, FINER)


def _body(s: Solution, x: System, say: Language, width: int) -> str:
    words = body_words(s, x.constructions[0].family, x.metals, say)
    if x.constructions[0].family not in s.tables.families and len(x.metals) > 1:
        words = "-".join(say.metal(m) for m in x.metals)  # two less fine systems side by side are told apart
    metals = composition(x.ranges, say, width - len(words) - 2)
    text = f"{words}: {metals}" if metals and words != metals else words
    return text if len(text) <= width else textwrap.shorten(metals or words, width, placeholder="")


def _layer(s: Solution, x: System, say: Language) -> str:
    """What lies on or in the body of a system's candidates."""
    best = x.constructions[0]
    if best.void_percent:
        low, _, high = best.void_percent
        return say.say("table", "hollow", share=f"{low:.0f}-{high:.0f}")
    if best.part_percent:
        low, _, high = best.part_percent
        key = best.built.place.value
        text = say.say("table", key, part=skin_words(s, best.skin, say), share=span(low, high))
        return text if len(text) <= LAYER else say.say("table", f"{key}_only", part=skin_words(s, best.skin, say))
    plated = [c for c in x.constructions if c.skin and c.skin_um]
    if not plated or sum(c.probability for c in plated) < 0.05 * x.probability:
        return say.say("table", "no_layer")
    low, _, high = plated[0].skin_um or (0.0, 0.0, 0.0)
    skin = skin_words(s, plated[0].skin, say)
    if low < 1:
        text = say.say("table", "layer_up_to", skin=skin, high=length(high))
    else:
        text = say.say("table", "layer_range", skin=skin, span=length_span(low, high))
    if plated[0].strike:
        longer = say.say("table", "over_strike", layer=text, strike=say.metal(plated[0].strike))
        text = longer if len(longer) <= LAYER else text
    bare = sum(c.probability for c in x.constructions if not c.skin)
    return say.say("table", "or_none", layer=text) if bare > 0.05 * x.probability else text


def readings_table(found: Sequence[Mapping[str, Any]], claimed: bool, say: Language) -> list[str]:
    """One row per reading: value, what it sees, how it agrees; readings as of `Solution.reading_rows`."""
    rows = []
    for r in found:
        name = say.say(r["kind"], "name") if say.has(r["kind"], "name") else r["kind"]
        if r["place"]:
            name = f"{name}, {r['place']}"
        key = "little" if 0 < (r["sees_um"] or 0.0) < 1 else str(r["sees"]).replace(" ", "_")
        sees = say.say("readings", key, depth=length(r["sees_um"] or 0.0))
        value = _cut(str(r["value"]))
        marks = [say.say("readings", r[k]) if r[k] else "-" for k in ("agrees", "claim_agrees")]
        rows.append([name[:NAME], value, sees, marks[0], marks[1] if claimed else ""])
    head = [say.say("readings", k) for k in ("reading", "value", "sees", "first")]
    head.append(say.say("readings", "claim") if claimed else "")
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(4)]
    return columns([head, *rows], [*widths, 0])


def _cut(value: str) -> str:
    """A value that leaves room for the other columns: of a path the end is kept, of all else the beginning."""
    if len(value) <= VALUE:
        return value
    return "..." + value[3 - VALUE :] if "/" in value or "\\" in value else value[: VALUE - 3] + "..."
