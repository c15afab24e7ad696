"""The outcome of a run over many pieces, in a few lines."""

from __future__ import annotations

import textwrap
from collections import Counter

from ..advice.weighed import DISAGREE, OLD_CHECK
from ..batch.run import Summary
from .cautions import caution_words
from .language import Language
from .numbers import listed

WIDTH = 80
MOST = 6


def summary_text(found: Summary, say: Language) -> str:
    """Text with the rows by decision, the commonest likeliest systems, and the first errors."""
    decisions = [say.say("batch", "each", count=n, what=say.say("batch", v)) for v, n in found.decisions.most_common()]
    lines = textwrap.wrap(
        say.say("batch", "rows", rows=found.rows, counts=listed(decisions) or say.say("batch", "nothing")), WIDTH
    )
    if found.notes[DISAGREE]:
        lines += textwrap.wrap(say.say("batch", "disagree", count=found.notes[DISAGREE]), WIDTH)
    if found.notes[OLD_CHECK]:
        lines += textwrap.wrap(say.say("batch", "old_check"), WIDTH)
    if found.cautions:
        lines += textwrap.wrap(say.say("batch", "cautions") + " " + caution_words(found.cautions, say), WIDTH)
    if found.firsts:
        lines += textwrap.wrap(say.say("batch", "firsts", firsts=_firsts(found.firsts, say)), WIDTH)
    wrong = sum(found.errors.values())
    if wrong:
        lines.append(say.say("batch", "one_error") if wrong == 1 else say.say("batch", "errors", count=wrong))
        for error in found.first_errors:
            lines += textwrap.wrap(say.say("batch", "error", error=error), WIDTH, subsequent_indent="    ")
    return "\n".join(lines) + "\n"


def _firsts(firsts: Counter[str], say: Language) -> str:
    return listed([say.say("batch", "each", count=n, what=metals) for metals, n in firsts.most_common(MOST)])
