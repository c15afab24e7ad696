"""The sentences of the short answer, in the order in which they are said, each with what it is worth."""

from __future__ import annotations

from ..answer.document import Document
from ..answer.rows import AS_CLAIMED, LIKELY_FROM, NOT_SHOWN, SYSTEM, Row
from ..inference.decision import CONTRADICTED, UNDECIDED
from .amounts import amount_sentences
from .cautions import caution_words
from .coins import coin_line
from .findings import (
    change_lines,
    disagreement_line,
    note_lines,
    remark_lines,
    rivals_line,
    short_name,
    unused_lines,
    unusual_line,
)
from .headline import first_sentence
from .language import Language
from .names import Names, layer_phrase
from .numbers import chance, under
from .open_claim import open_sentence
from .proposals import blind_line, called_for, next_line
from .weighing import default_lines

WORTH_SAYING = 0.095  # share from which something else that fits is named: "1 in 10"
NAMED = 3  # bodies that are named
SHORT_COINS = 2  # coin types that are named
RARE = 0.0095  # share below which a claim is "under 1 in 100"

Ranked = tuple[int, str]  # what is left out first has the highest number; what has 0 is always said


def short_sentences(d: Document, say: Language) -> list[Ranked]:
    """Decision, what it probably is, what it holds, what would change that or what to do next, and the cautions."""
    against = d.code == CONTRADICTED
    found: list[Ranked] = [
        (0, disagreement_line(d, say)),
        (0, first_sentence(d, say)),
        *_what_it_is(d, say),
        (0, unusual_line(d, say)),
        *((1, line) for line in remark_lines(d, say)),
        *((1 + (k > 0), line) for k, line in enumerate(amount_sentences(d, say))),
        (1 if against else 3, coin_line(d, say, 1 if against else SHORT_COINS)),
        *((0, line) for line in unused_lines(d, say)),
        *((3, line) for line in note_lines(d, say, pressing=True)),
        *((1 if against else 6, line) for line in change_lines(d, say, "short")),
        (1, next_line(d, say)),
        (5, "" if d.code == UNDECIDED else blind_line(d, say)),
        *((1, line) for line in default_lines(d, say)),
        (0, caution_words(called_for(d, say), say)),
        (0, say.say("caution", "fixed")),
    ]
    return [(rank, text) for rank, text in found if text]


def _what_it_is(d: Document, say: Language) -> list[Ranked]:
    """Sentences on the likeliest bodies and the claim with their shares, and on what leaves a likely claim open."""
    claimed, told, rest = d.row(AS_CLAIMED), _told(d, say), d.row(NOT_SHOWN)
    ahead = claimed is not None and all(share <= claimed.share for _, _, share in told)
    lines = [(0, say.say("content", "something_else"))] if d.nothing_known else []
    open_ = ahead and claimed is not None and claimed.share < LIKELY_FROM
    for k, (_, body, share) in enumerate(told):
        key = "or" if k or ahead else "likely"
        lines.append(
            (4 if k else 1 if open_ else 4 if ahead else 0, say.say("short", key, body=body, chance=chance(share, say)))
        )
    if d.claim is not None:
        opened = open_sentence(d, say, "open_short")
        lines.insert(0 if ahead else len(lines), (0, f"{_claimed(claimed, say)} {opened}".rstrip()))
    if rest and rest.share >= WORTH_SAYING:
        most = under(rest.largest or rest.share, say)
        lines.append((5, say.say("short", "others", most=most, chance=chance(rest.share, say))))
    lines.append((4, rivals_line(d, say, [name for name, _, _ in told])))
    return lines


def _told(d: Document, say: Language) -> list[tuple[str, str, float]]:
    """Names of likely bodies beside the claim, the bodies with their layers, and their shares.

    Those that have one name to people are taken together.
    """
    shares: dict[str, float] = {}
    bodies: dict[str, str] = {}
    for row in d.rows:
        if row.what not in (AS_CLAIMED, NOT_SHOWN):
            name = short_name(row, d, say)
            shares[name] = shares.get(name, 0.0) + row.share
            around = row.layer if row.what == SYSTEM and row.layer and not row.layer.built.inserted else None
            layer = layer_phrase(around, Names.of(d), say)
            bodies.setdefault(name, say.say("short", "body", body=name, layer=layer))
    claimed = d.row(AS_CLAIMED)
    most = max(shares.values(), default=0.0)
    least = WORTH_SAYING if claimed and claimed.share >= max(most, LIKELY_FROM) else min(WORTH_SAYING, most)
    worth = [name for name, share in shares.items() if share >= least]
    return [(name, bodies[name], shares[name]) for name in sorted(worth, key=lambda name: -shares[name])[:NAMED]]


def _claimed(row: Row | None, say: Language) -> str:
    share = row.share if row else 0.0
    return say.say("short", "claimed", chance=chance(share, say) if share >= RARE else say.say("short", "rare"))
