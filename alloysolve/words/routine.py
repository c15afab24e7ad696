"""What a set of readings would show, as a table of classes of construction."""

from __future__ import annotations

import textwrap

from ..advice.routine import ClassShown, Routine
from .cautions import caution_words, cautions_of
from .language import Language
from .numbers import both, columns, listed
from .terminal import LINES, WIDTH

MOST_ROWS, MOST_ROUTINES, MOST_ALWAYS = 9, 4, 3
NAME = 41  # the longest name of a class and a space


def routine_text(found: Routine, mass: str, false_alarm: float, say: Language) -> str:
    """The share shown, the classes that are not always shown, those that are, and the best routines."""
    kinds = [say.say(k, "name") for k in found.readings]
    head = say.say(
        "routine",
        "head",
        readings=_first(both(kinds, say)),
        shown=_of_100(found.shown),
        claim=found.claim,
        mass=mass,
        step=f"{found.step_g:g} g",
    )
    if len(kinds) > 1:
        alone = [
            say.say("routine", "one", reading=name, shown=_of_100(found.alone[k]))
            for name, k in zip(kinds, found.readings, strict=True)
        ]
        head += " " + say.say("routine", "alone", alone=listed(alone))
    ending = _always([say.say("blind", c.name) for c in found.classes if c.word == "always"], say)
    ending += ["", say.say("routine", "best"), *_routines(found, say)]
    ending += textwrap.wrap(say.say("routine", "ending", alarm=f"{1 / false_alarm:.0f}"), WIDTH)
    named = {*found.readings, *(k for r in found.routines for k in r.readings)} | {
        c.closed_by[0] for c in found.classes if c.closed_by
    }
    ending += textwrap.wrap(caution_words(cautions_of(named), say), WIDTH)
    lines = [*textwrap.wrap(head, WIDTH), ""]
    room = LINES - len(lines) - len(ending) - 1
    return "\n".join([*lines, *_table(found, say, min(room, MOST_ROWS)), *ending]) + "\n"


def _table(found: Routine, say: Language, most: int) -> list[str]:
    rows = [[say.say("routine", k) for k in ("class", "common", "shown", "rest")]]
    left = [c for c in found.classes if c.word != "always"][:most]
    for c in left:
        shown = say.say("routine", c.word, **({"shown": _of_100(c.shown)} if c.word == "sometimes" else {}))
        rows.append([say.say("blind", c.name), _of_100(c.common), shown, _closing(c, found, say)])
    return columns(rows, [NAME, 6, 6, 0]) if left else []


def _always(names: list[str], say: Language) -> list[str]:
    """The classes that are always shown, as many as three lines hold."""
    for count in range(len(names), 0, -1):
        lines = textwrap.wrap(say.say("routine", "always", classes=listed(names[:count])), WIDTH)
        if len(lines) <= MOST_ALWAYS:
            return lines
    return []


def _closing(c: ClassShown, found: Routine, say: Language) -> str:
    """Words for what would show the rest of a class: the best reading, or a finer scale if that does."""
    if c.finer_scale:
        return say.say("routine", "finer", step=f"{found.step_g / c.finer_scale:g} g")
    if not c.closed_by:
        return say.say("routine", "nothing")
    return say.say("routine", "most", reading=say.say(c.closed_by[0], "name"), shown=_of_100(c.closed))


def _routines(found: Routine, say: Language) -> list[str]:
    best = sorted(found.routines, key=lambda r: -r.shown)[:MOST_ROUTINES]
    return [
        say.say(
            "routine",
            "routine",
            minutes=f"{r.minutes:5.1f}",
            shown=f"{_of_100(r.shown):>3s}",
            readings=listed([say.say(k, "name") for k in r.readings]),
        )
        for r in sorted(best, key=lambda r: r.minutes)
    ]


def _of_100(share: float) -> str:
    return f"{100 * share:.0f}" if share >= 0.005 or share == 0 else "<1"


def _first(text: str) -> str:
    return text[:1].upper() + text[1:]
