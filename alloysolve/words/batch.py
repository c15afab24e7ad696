"""A list in words: one plain row a piece, and the outcome of a run over all of them in a few lines."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Mapping
from typing import Any, Protocol

from ..advice.weighed import DISAGREE, OLD_CHECK
from ..answer.document import Document
from ..answer.rows import AS_CLAIMED, FINER, LIKELY_FROM, NOT_SHOWN, SOMETHING_ELSE, SYSTEM, Row
from ..inference.decision import UNDECIDED
from .amounts import amount_sentences
from .cautions import caution_words
from .language import Language
from .names import Names, layer_phrase
from .numbers import chance, either, listed
from .proposals import next_line
from .rows import row_name

WIDTH = 80
MOST = 6
BESIDE_SYSTEMS: Mapping[str, tuple[str, str]] = {
    AS_CLAIMED: ("content", "as_claimed"),
    FINER: ("content", "finer"),
    SOMETHING_ELSE: ("table", "something_else"),
}
LACKING_FIELD = {"claim": "claim", "mass": "mass", "water": "displaced"}  # an example for each thing lacking
LITTLE = 0.01  # of the metal it holds most of, below which another precious metal is not worth a word
HEADS = ("claim", "answer", "likely", "holds", "next", "cautions")


class Summary(Protocol):
    """The outcome of a run, as far as it is put into words."""

    rows: int
    decisions: Counter[str]
    firsts: Counter[str]
    notes: Counter[str]
    cautions: Counter[str]
    errors: Counter[str]
    first_errors: list[str]


def heads(say: Language) -> dict[str, str]:
    """The heads of the columns of words."""
    return {key: say.say("list", f"head_{key}") for key in HEADS}


def row_words(answer: Mapping[str, Any], claim: str, d: Document | None, say: Language, whole: bool) -> dict[str, str]:
    """What the plain row of a piece says, by `HEADS`; a row in error, without a document, says what was claimed.

    `whole` : whether next readings were looked for.
    """
    if d is None:
        return dict.fromkeys(HEADS, "") | {"claim": claim}
    return {
        "claim": claim,
        "answer": say.say("list", answer["decision"] or "none"),
        "likely": likely_words(d, say),
        "holds": " ".join(amount_sentences(d, say)),
        "next": _next(answer, d, say, whole),
        "cautions": caution_words(answer["cautions"], say),
    }


def likely_words(d: Document, say: Language) -> str:
    """The likeliest row, and the second where the first holds less than half of all belief."""
    if d.nothing_known:
        return say.say("table", "something_else")
    rows = [r for r in d.rows if r.what != NOT_SHOWN]
    return _one_or_two([(_named(r, d, say), r.share) for r in rows], say)


def _named(row: Row, d: Document, say: Language) -> str:
    if row.what in (AS_CLAIMED, FINER):
        return say.say("content", "as_claimed" if row.what == AS_CLAIMED else "finer")
    layer = layer_phrase(row.layer, Names.of(d), say, plain=True) if row.what == SYSTEM else ""
    return row_name(row, d, say) + layer


def _one_or_two(named: list[tuple[str, float]], say: Language) -> str:
    shown = named[: 1 if named[0][1] >= LIKELY_FROM else 2]
    names = [f"{name} ({chance(share, say)})" for name, share in shown]
    return either(names, say)


def _next(answer: Mapping[str, Any], d: Document, say: Language, whole: bool) -> str:
    """What to do next; where no readings were looked for, only whether there is something to do."""
    lines = [say.say("list", "disagree")] if DISAGREE in answer["notes"] else []
    if whole:
        lines.append(next_line(d, say))
    elif d.code == UNDECIDED:
        lines.append(say.say("list", "by_itself"))
    return " ".join(line for line in lines if line)


class Heads(Protocol):
    """The heads of a list, as far as they are put into words."""

    @property
    def unread(self) -> tuple[str, ...]:
        """Those that are no field of a piece."""

    @property
    def lacking(self) -> tuple[str, ...]:
        """What no column holds that a piece needs to be judged."""


def heads_text(found: Heads, say: Language) -> str:
    """What to know of the columns of a list before its rows are solved; "" if all were read and none is lacking."""
    said = [say.say("batch", "unread", heads=", ".join(f'"{head}"' for head in found.unread))] if found.unread else []
    said += [say.say("batch", f"lacks_{what}") for what in found.lacking]
    if found.unread and found.lacking:
        said.append(say.say("batch", "name_them", field=LACKING_FIELD[found.lacking[0]]))
    return "".join(f"{line}\n" for text in said for line in textwrap.wrap(text, WIDTH))


def summary_text(found: Summary, say: Language, file: str = "") -> str:
    """Text with the rows by decision, what is likeliest how often, errors, and the file."""
    wrong = sum(found.errors.values())
    decisions = [say.say("batch", "each", count=n, what=say.say("batch", v)) for v, n in found.decisions.most_common()]
    key = "nothing" if not decisions else "some" if wrong else "one" if found.rows == 1 else "rows"
    rows = say.say("batch", key, rows=found.rows, answered=found.rows - wrong, counts=listed(decisions))
    lines = textwrap.wrap(rows, WIDTH)
    if found.notes[DISAGREE]:
        lines += textwrap.wrap(say.say("batch", "disagree", count=found.notes[DISAGREE]), WIDTH)
    if found.notes[OLD_CHECK]:
        lines += textwrap.wrap(say.say("batch", "old_check"), WIDTH)
    if found.cautions:
        lines += textwrap.wrap(say.say("batch", "cautions") + " " + caution_words(found.cautions, say), WIDTH)
    if found.firsts:
        lines += textwrap.wrap(say.say("batch", "firsts", firsts=_firsts(found.firsts, say)), WIDTH)
    if wrong:
        lines.append(say.say("batch", "one_error") if wrong == 1 else say.say("batch", "errors", count=wrong))
        for error in found.first_errors:
            lines += textwrap.wrap(say.say("batch", "error", error=error), WIDTH, subsequent_indent="    ")
    if file:
        lines.append(say.say("batch", "written", file=file))
    return "\n".join(lines) + "\n"


def _firsts(firsts: Counter[str], say: Language) -> str:
    beside = {what: say.say(*key) for what, key in BESIDE_SYSTEMS.items()}
    named = [(beside.get(x) or "-".join(map(say.metal, x.split())), n) for x, n in firsts.most_common(MOST)]
    return listed([say.say("batch", "each", count=n, what=name) for name, n in named])
