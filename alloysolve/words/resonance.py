"""A recording of taps in words: its tones, remarks on it, and what would sound like it."""

from __future__ import annotations

import textwrap

import numpy as np

from ..answer.rows import Layer
from ..answer.sounding import CLAIM, Sounding, Tones
from ..readings.recording import Note
from .language import Language
from .names import Names, body_words, layer_phrase
from .numbers import coarse, columns, grams

WIDTH, LINES = 80, 24
MOST_PEAKS = 6
NAME = 34  # widest name of a body


def sounding_text(sounding: Sounding, say: Language) -> str:
    """Tones, notes, and as many candidates as the screen holds."""
    p = sounding.peaks
    tones = _counted(len(p.frequency), "one_tone", "tones", say)
    head = [say.say("sounding", "heard", tones=tones, taps=_counted(p.taps, "one_tap", "taps", say)), ""]
    lines = [*(head if p.taps else []), *_peaks(sounding, say)]
    for note in p.notes:
        lines += textwrap.wrap(note_words(note, say), WIDTH)
    if not sounding.candidates:
        return "\n".join([*lines, *textwrap.wrap(say.say("sounding", "sizes_missing"), WIDTH)]) + "\n"
    ending = textwrap.wrap(say.say("sounding", "plate"), WIDTH)
    rows = _candidates(sounding, say)
    room = LINES - len(lines) - len(ending) - 1
    return "\n".join([*lines, "", *rows[:room], *ending]) + "\n"


def _counted(count: int, one: str, many: str, say: Language) -> str:
    return say.say("sounding", one if count == 1 else many, count=count)


def _peaks(sounding: Sounding, say: Language) -> list[str]:
    """Rows of the strongest tones, lowest first."""
    p = sounding.peaks
    if not len(p.frequency):
        return []
    shown = np.sort(np.argsort(-p.level, kind="stable")[:MOST_PEAKS])
    rows = [[say.say("sounding", k) for k in ("tone", "u", "dies_away", "level", "in_taps")]]
    for k in shown:
        rows.append(
            [
                f"{p.frequency[k]:.0f} Hz",
                f"{coarse(p.u[k])} Hz",
                f"{coarse(1000 * p.decay_time[k])} ms",
                f"{p.level[k]:.0f} dB".replace("-0 dB", "0 dB"),
                say.say("sounding", "share", heard=p.heard[k], taps=p.taps),
            ]
        )
    more = len(p.frequency) - len(shown)
    return columns(rows, [12, 10, 14, 10, 0]) + ([say.say("sounding", "more", count=more)] if more else [])


def note_words(note: Note, say: Language) -> str:
    """A note on a recording as a sentence."""
    value = note.value / 1000 if note.code == "slow_rate" else note.value
    return say.say("sounding", note.code, value=coarse(value, 3), count=_counted(int(value), "one_tap", "taps", say))


def _candidates(sounding: Sounding, say: Language) -> list[str]:
    """What would sound how: a title, a head, one row each."""
    s = sounding.solution
    assert s is not None
    form = s.evidence.form
    sizes = " x ".join(f"{x:g}" for x in form.sizes) + " mm"
    rows = [[say.say("sounding", k) for k in ("body", "lowest", "next", "heard_column")]]
    for name, c in named_candidates(sounding, say):
        span = f"{_khz(c.first)} ({_khz(c.low)} to {_khz(c.high)})"
        heard = say.say("readings", c.agrees) if c.agrees else ""
        rows.append([name[:NAME], span, _khz(c.second) if c.second else "", heard])
    title = say.say("sounding", "would", mass=grams(form.mass_g or 0.0), sizes=sizes)
    return [*textwrap.wrap(title, WIDTH), *columns(rows, [NAME, 21, 5, 0])]


def named_candidates(sounding: Sounding, say: Language) -> list[tuple[str, Tones]]:
    """The candidates with their names; of several with one name, only the first."""
    out: dict[str, Tones] = {}
    for c in sounding.candidates:
        out.setdefault(candidate_words(c, sounding, say), c)
    return list(out.items())


def _khz(hertz: float) -> str:
    """Kilohertz with two digits, or with as many as stand before the point."""
    return f"{hertz / 1000:.1f}" if hertz < 99.5e3 else f"{hertz / 1000:.0f}"


def candidate_words(c: Tones, sounding: Sounding, say: Language) -> str:
    """What a candidate is called."""
    s = sounding.solution
    assert s is not None
    if c.of == CLAIM:
        return say.say("sounding", "claim", claim=s.claim.text if s.claim else "")
    names = Names.of_tables(s.tables, s.claim)
    layer = Layer(c.construction, c.skin, "", None, None, 1.0, 0.0) if c.skin else None
    return body_words(names, c.family, c.metals, say) + layer_phrase(layer, names, say, plain=True)
