"""What bodies, layers, parts and readings are called, and how a construction is put into words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ..answer.document import Document
from ..answer.rows import MATTERS, Layer
from ..inputs.claim import Claim
from ..pieces.constructions import Place
from ..published.load import Tables
from .language import Language
from .numbers import grams, length, length_span, listed, span

UNNAMED = ("pair", "triple")  # families without words of their own
FINE_BELOW = 1.0  # g of water, below which thousandths of a gram count
LAYER = 28  # width of the column of layers


@dataclass(frozen=True, slots=True)
class Names:
    """Words of the tables for families and parts, and the claim of which a body may fall short."""

    words: Mapping[str, str]
    metal: str = ""
    regions: tuple[str, ...] = ()

    @classmethod
    def of(cls, d: Document) -> Names:
        """The names that an answer keeps."""
        return cls(d.names, d.claim.metal, d.claim.regions) if d.claim else cls(d.names)

    @classmethod
    def of_tables(cls, tables: Tables, claim: Claim | None) -> Names:
        """All names of the tables."""
        words = {f.family: f.words for f in tables.families.values()}
        words |= {row.name: row.words for row in tables.rows("skins")}
        return cls(words, claim.metal, tuple(r.claim for r in claim.regions)) if claim else cls(words)


def body_words(names: Names, family: str, metals: tuple[str, ...], say: Language) -> str:
    """What a body is called: by its family, as less fine than claimed, or by its metals; without either, unknown."""
    if not metals:
        return say.say("table", "something_else")
    if family in names.words:
        return say.called(names.words[family])
    if names.metal and family not in (*UNNAMED, *names.regions):
        return say.say("note", "less_fine", metal=say.metal(names.metal))
    return listed([say.metal(m) for m in metals])


def told_apart(names: Names, family: str, metals: tuple[str, ...], say: Language) -> str:
    """`body_words`, but a body whose family has no words goes by its metals, so that two less fine alloys differ."""
    if family in names.words or len(metals) < 2:
        return body_words(names, family, metals, say)
    return "-".join(say.metal(m) for m in metals)


def part_words(names: Names, part: str, say: Language) -> str:
    """What a layer, core or joined part is called."""
    return say.called(names.words[part]) if names.words.get(part) else say.metal(part)


def layer_phrase(layer: Layer | None, names: Names, say: Language, plain: bool = False) -> str:
    """Words for what lies on or in a body, to follow its name; plainly without sizes, otherwise with them in mm."""
    if layer is None:
        return ""
    built, known = layer.built, None if plain else layer.sizes
    if built.place is Place.VOID:
        return say.say("page", "hollow_share", share=_percent(known, say)) if known else say.say("page", "hollow_plain")
    if not layer.part or (built.by_thickness and not built.applied):
        return say.say("page", "enriched")
    part = part_words(names, layer.part, say)
    if built.by_share:
        if known is None:
            return say.say("page", f"{built.place.value}_plain", skin=part)
        return say.say("page", built.place.value, skin=part, share=_percent(known, say))
    any_ = "_any" if layer.bare > MATTERS or layer.sizes is None or layer.sizes[0] < 1 else ""
    if known is None:
        return say.say("page", f"layer_plain{any_}", skin=part)
    low, high = (mm(um) for um in known)
    return say.say("page", f"layer{any_}", skin=part, high=high, span=span_words(low, high, say))


def layer_cell(layer: Layer | None, names: Names, say: Language) -> str:
    """Words for what lies on or in a body, for a column of a table: sizes in um and percent, if there is room."""
    if layer is None:
        return say.say("table", "no_layer")
    built, known = layer.built, layer.sizes
    if built.place is Place.VOID:
        return say.say("table", "hollow", share=span(*known)) if known else say.say("table", "hollow_only")
    if not layer.part or (built.by_thickness and not built.applied):
        return say.say("table", "enriched")
    part = part_words(names, layer.part, say)
    if built.by_share:
        text = say.say("table", built.place.value, part=part, share=span(*known)) if known else ""
        return text if 0 < len(text) <= LAYER else say.say("table", f"{built.place.value}_only", part=part)
    if known is None:
        text = part
    elif known[0] < 1:
        text = say.say("table", "layer_up_to", skin=part, high=length(known[1]))
    else:
        text = say.say("table", "layer_range", skin=part, span=length_span(*known))
    longer = say.say("table", "over_strike", layer=text, strike=say.metal(layer.strike)) if layer.strike else text
    text = longer if len(longer) <= LAYER else text
    return say.say("table", "or_none", layer=text) if layer.bare > MATTERS else text


def mm(um: float) -> str:
    """A thickness in mm, whatever its size, because people know no smaller unit."""
    um = max(um, 1.0)
    return f"{um / 1000:.{1 if um < 10 else 2}g} mm"


def span_words(low: str, high: str, say: Language) -> str:
    """Two values as a range, or as one value if they are equal; a unit follows the second only."""
    if low == high or high.startswith(f"{low} "):
        return high
    unit = high.rpartition(" ")[2]
    return say.say("page", "a_span", low=low.removesuffix(f" {unit}"), high=high)


def water_words(low: float, high: float, say: Language) -> str:
    """A range of displaced water; thousandths of a gram count if there is little of it."""
    decimals = 3 if high < FINE_BELOW else 2
    return span_words(grams(low, decimals), grams(high, decimals), say)


def claim_words(d: Document, say: Language) -> str:
    """What the piece is said to be; "" if nothing was said."""
    return say.typed(d.claim.text) if d.claim else ""


def noun(d: Document, say: Language) -> str:
    """The word for the thing under test."""
    return say.say("page", "lot" if d.count > 1 else "piece")


def _percent(share: tuple[float, float], say: Language) -> str:
    return span_words(f"{share[0]:.0f}", f"{share[1]:.0f}", say)


def kind_of(reading: str) -> str:
    """The kind of a reading, from its name."""
    return reading.rstrip("0123456789").strip()


def reading_words(d: Document, reading: str, say: Language) -> str:
    """A reading by its kind, and its place if it has one."""
    found = d.reading(reading)
    name = say.say(kind_taken(d, reading), "name")
    return f"{name}, {found.place}" if found and found.place else name


def called(d: Document, kind: str, say: Language, key: str = "name") -> str:
    """A kind of reading that was not taken, by its name; one that this shop must leave to a laboratory says so."""
    for other in (f"{key}_elsewhere", f"{key}_next"):
        if say.has(kind, other) and not (d.owns(kind) and other.endswith("_elsewhere")):
            return say.say(kind, other)
    return say.say(kind, key)


def kind_taken(d: Document, reading: str) -> str:
    """The kind of a reading as it was taken: a conductivity may be read as a resistivity, a density by size."""
    found = d.reading(reading)
    return found.kind if found else kind_of(reading)


def values_of(d: Document, code: str) -> Mapping[str, Any] | None:
    """Values of the first note with a code; None without such a note."""
    return next((n.values for n in d.notes if n.code == code), None)
