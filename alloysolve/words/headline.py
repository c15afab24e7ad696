"""The first sentences of an answer: the decision in grams of water, and what the piece fits best."""

from __future__ import annotations

from collections.abc import Callable

from ..answer.document import Document
from ..answer.parts import DensityData
from ..answer.rows import AS_CLAIMED, LIKELY_FROM
from ..inference.decision import CONTRADICTED, UNDECIDED
from .findings import blamed, other_name
from .language import Language
from .names import Names, claim_words, layer_phrase
from .numbers import coarse, grams
from .open_claim import open_sentence
from .rows import cut_value

SAYS_NOTHING = 1.5  # ratio of the densities that a claim allows from which it says nothing of a density


def first_sentence(d: Document, say: Language) -> str:
    """The decision, in grams of water if the piece was weighed."""
    piece = say.say("water", "pieces" if d.count > 1 else "piece")
    if d.claim is None or d.claim.decision is None:
        head, density = say.say("decision", "none"), d.density
        if density is None:
            return f"{head}: {say.say('water', 'unknown_no_claim', piece=piece)}"
        return f"{head}: {say.say('water', 'no_claim', piece=piece, read=_density(density))}"
    return f"{say.say('decision', d.claim.decision, claim=d.claim.text)}: {_proof(d, say, piece)}"


def _proof(d: Document, say: Language, piece: str) -> str:
    """What the claim would have read, and what was read: in water, unless another reading speaks against it."""
    claim, against = d.claim, blamed(d)
    assert claim is not None
    reading = d.reading(against)
    if reading is not None and against != "weighing" and say.has(reading.kind, "would"):
        expected = _to(*reading.told_as_claimed, coarse) if reading.told_as_claimed else ""
        return say.say(reading.kind, "would", piece=piece, read=cut_value(reading.told), expected=expected)
    if d.code == CONTRADICTED and not against:
        return say.say("water", "together")
    w, density = d.density, claim.density_g_cm3
    if claim.plated and density and density[1] > SAYS_NOTHING * density[0]:
        return say.say("water", "plated_claim")
    if w is not None and w.displaced_g is not None and w.mass_g is not None and claim.would_displace_g:
        return say.say(
            "water",
            "would_push_parts" if d.inputs.get("parts") else "would_push",
            piece=piece,
            mass=grams(w.mass_g),
            liquid=say.say("water", "liquid_other" if d.inputs.get("liquid_density") else "liquid_water"),
            expected=_to(*claim.would_displace_g, "{:.2f}") + " g",
            read=grams(w.displaced_g),
        )
    if w is not None and density:
        expected = _to(*density, "{:.2f}")
        return say.say("water", "density_only", piece=piece, read=_density(w), expected=expected)
    return say.say("water", "unknown")


def _density(d: DensityData) -> str:
    return f"{d.value:.2f} g/cm3 ({d.low:.2f} to {d.high:.2f})"


def _to(low: float, high: float, form: str | Callable[[float], str]) -> str:
    write = form.format if isinstance(form, str) else form
    a, b = write(low), write(high)
    return a if a == b else f"{a} to {b}"


def second_sentence(d: Document, say: Language) -> str:
    """The sentence on what it fits best."""
    if d.nothing_known:
        return say.say("content", "something_else")
    if d.claim and d.fits_claim and d.claim.decision:
        key = "fits_among" if d.code == UNDECIDED else "fits"
        return open_sentence(d, say) or say.say("content", key, body=f'"{d.claim.text}"', layer="")
    first = d.first_system
    if first is None:
        claimed = d.row(AS_CLAIMED)
        ahead = d.claim is not None and claimed is not None and 2 * claimed.share >= d.share_meeting_claim
        if ahead and d.code == UNDECIDED:
            return say.say("content", "fits_among", body=f'"{claim_words(d, say)}"', layer="")
        return say.say("content", "fits_finer")
    body, layer = other_name(d, first, say), layer_phrase(first.layer, Names.of(d), say, plain=True)
    key = "fits" if d.share_together(first) >= LIKELY_FROM else "fits_among"
    return say.say("content", key, body=body, layer=layer)
