"""The sentences of a page for a seller: short, and in the order in which people ask."""

from __future__ import annotations

from ..answer.solution import Solution
from ..inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED
from ..inference.posterior import ConstructionFound, System
from ..pieces.constructions import CLAD, CONSTRUCTIONS, Place
from ..readings.registry import KINDS
from ..words.findings import DUST, blamed, body_words, kind_of, skin_words
from ..words.language import Language
from ..words.numbers import chance, composition, grams, listed, span
from ..words.records import printable
from ..words.terminal import ALIKE_FROM
from .readings import claim_disagrees, mm, noun, reads_less, span_words, would_help

MOST_ROWS, MOST_METALS, METALS_WIDTH = 4, 2, 60
SHOWN_FROM = 0.01  # share of belief from which a row is worth a seller's time
LIKELY_FROM = 0.5  # share from which one thing is said to fit, and not several
MOST_BLIND = 4
MOST_PRECIOUS = 2
MATTERS = 0.05  # share of a system below which another construction of it is not mentioned


def code_of(s: Solution) -> str:
    """The answer on the claim, or "none" without a claim."""
    return s.decision.code if s.claim and s.decision else "none"


def fits_claim(s: Solution) -> bool:
    """Whether a piece as claimed is what fits best."""
    return s.claim is not None and s.share_meeting_claim > 0.5 and code_of(s) != CONTRADICTED


def as_claimed_clad(s: Solution, c: ConstructionFound) -> bool:
    """Whether a construction is the clad stock of which the coin is said to be."""
    stock = next((r for r in s.tables.rows("clad") if s.claim and r.name == s.claim.clad), None)
    return stock is not None and (c.built, c.skin, c.family) == (CONSTRUCTIONS[CLAD], stock.faces, stock.core)


def something_else(s: Solution) -> bool:
    """Whether something that is in no table is likelier than any system."""
    return not s.found or s.other > s.found[0].probability


def best(s: Solution) -> ConstructionFound | None:
    """The likeliest construction; None if that is a piece as claimed, or a finer one, or something else."""
    if something_else(s):
        return None
    beside = s.beside_claim() if s.claim else list(s.found)
    least = LIKELY_FROM if code_of(s) == CONTRADICTED else beside[0].probability if beside else 0.0
    if not beside or (s.claim is not None and s.share_meeting_claim > least):
        return None
    return beside[0].constructions[0]


def sentence(s: Solution, say: Language) -> str:
    """The result in one sentence."""
    return say.say("page", code_of(s), piece=noun(s, say), claim=s.claim.text if s.claim else "")


def paragraph(s: Solution, say: Language) -> str:
    """The result in a few sentences, with hardly a number."""
    piece = noun(s, say)
    if code_of(s) == NOT_CONTRADICTED:
        return f"{sentence(s, say)} {say.say('page', 'not_who', piece=piece)}"
    if code_of(s) == "none":
        return f"{sentence(s, say)} {_fits(s, say)}"
    return f"{sentence(s, say)} {_why(s, say, piece)} {_fits(s, say)}"


def _why(s: Solution, say: Language, piece: str) -> str:
    """The sentence that says in plain words what speaks against the claim."""
    if code_of(s) == UNDECIDED:
        return say.say("page", "why_strained" if claim_disagrees(s) else "why_agree")
    against = blamed(s)
    if not against:
        return say.say("page", "why_together", piece=piece)
    if against != "weighing":
        kind, way = kind_of(against), "why_less" if reads_less(s, against) else "why_more"
        return say.say(kind, way if say.has(kind, way) else "why", piece=piece)
    w, lighter = s.weighing, s.density and s.advice.claim_density and s.density.value < s.advice.claim_density[0]
    if w is not None and w.route == "weighing":
        return say.say("page", "why_more" if lighter else "why_less", piece=piece)
    return say.say("page", "why_lighter" if lighter else "why_heavier", piece=piece)


def _fits(s: Solution, say: Language) -> str:
    if something_else(s):
        return say.say("page", "fits_something_else")
    one = best(s)
    if fits_claim(s) or (one is not None and as_claimed_clad(s, one) and code_of(s) != CONTRADICTED):
        return say.say("page", "fits_as_claimed")
    if code_of(s) == UNDECIDED and s.found[0].probability < LIKELY_FROM:
        return say.say("page", "fits_several")
    if one is None:
        return say.say("page", "fits_finer")
    return say.say(
        "page", "fits", body=body_words(s, one.family, one.metals, say), layer=layer_words(s, one, say, True)
    )


def layer_words(s: Solution, c: ConstructionFound, say: Language, plain: bool = False) -> str:
    """Words for what lies on or in a body, with its size, or plainly without numbers."""
    skin = skin_words(s, c.skin, say) if c.skin else ""
    if c.built.place is Place.VOID:
        share = c.void_percent
        return (
            say.say("page", "hollow_plain")
            if plain or not share
            else say.say("page", "hollow_share", share=_span(share, say))
        )
    if c.built.by_share:
        share = c.part_percent
        return (
            say.say("page", f"{c.built.place.value}_plain", skin=skin)
            if plain or not share
            else say.say("page", c.built.place.value, skin=skin, share=_span(share, say))
        )
    if c.built.by_thickness and not c.built.applied:
        return say.say("page", "enriched")
    if not skin:
        return ""
    any_ = "_any" if c.skin_um is None or c.skin_um[0] < 1 else ""
    if plain or c.skin_um is None:
        return say.say("page", f"layer_plain{any_}", skin=skin)
    low, _, high = c.skin_um
    return say.say("page", f"layer{any_}", skin=skin, high=mm(high), span=span_words(mm(low), mm(high), say))


def _span(share: tuple[float, float, float], say: Language) -> str:
    low, high = span(share[0], share[0]), span(share[2], share[2])
    return span_words(low, high, say)


def blind_lines(s: Solution, say: Language) -> list[str]:
    """Sentences on what the readings cannot show, and on the lowest fineness that would have agreed with them."""
    spots = [b for b in s.blind_spots if say.has("blind", b["class"])][:MOST_BLIND]
    words = [say.say("blind", b["class"]) for b in spots]
    lines = (
        [say.say("page", "blind_list", classes=either(words[:2], say))] if words else [say.say("page", "blind_none")]
    )
    lines += [say.say("page", "blind_more", classes=either(words[2:], say))] if words[2:] else []
    lowest = s.advice.would_show_below
    lines.append(say.say("page", "lowest", fineness=f"{lowest:.0f}") if lowest else say.say("page", "lowest_none"))
    return [*lines, say.say("page", "blind_maker"), *would_help(s, spots, say)]


def either(words: list[str], say: Language) -> str:
    """One word, or two with "or" between them."""
    return say.say("page", "either", first=words[0], second=words[1]) if len(words) > 1 else words[0]


def likely_rows(s: Solution, say: Language) -> list[tuple[str, str]]:
    """Rows of what the piece probably is, each with its chance in words; one row stands for all that is not shown."""
    rows: list[tuple[float, str, str]] = []
    finer = s.share_meeting_claim - s.share_as_claimed
    if s.claim and s.share_as_claimed >= SHOWN_FROM:
        rows.append((s.share_as_claimed, "", say.say("page", "as_claimed", claim=s.claim.text)))
    if s.claim and finer >= SHOWN_FROM:
        rows.append((finer, "", say.say("page", "finer", body=say.metal(s.claim.metal))))
    systems = s.beside_claim() if s.claim else list(s.found)
    leading = systems[0].probability if systems else 1.0
    for x in systems:
        if x.probability >= SHOWN_FROM:
            alike = x.alike and x.probability >= ALIKE_FROM * leading
            rows.append((x.probability, say.say("page", "likely_alike") if alike else "", system_words(s, x, say)))
    rows = sorted(rows, key=lambda row: -row[0])[:MOST_ROWS]
    rest = 1 - sum(p for p, *_ in rows)
    if rest >= SHOWN_FROM:
        rows.insert(0 if rest > LIKELY_FROM else len(rows), (rest, "", say.say("page", "something_else")))
    judged = s.claim and s.decision and not (s.claim.plated or s.claim.clad)  # else no share says "as claimed"
    if s.claim and judged and s.share_as_claimed < SHOWN_FROM:  # every seller asks about the claim
        rows.append((0.0, say.say("page", "likely_under"), say.say("page", "as_claimed", claim=s.claim.text)))
    return [(lead or say.say("page", "likely_row", chance=chance(p, say)), text) for p, lead, text in rows]


def alike_note(rows: list[tuple[str, str]], say: Language) -> list[str]:
    """The sentence that explains "reads alike", if a row says so."""
    return [say.say("page", "alike_note")] if any(lead == say.say("page", "likely_alike") for lead, _ in rows) else []


def system_words(s: Solution, x: System, say: Language) -> str:
    """Words for a system: its body, the shares of its metals, and what lies on or in it."""
    first = x.constructions[0]
    body = body_words(s, first.family, x.metals, say)
    if first.family not in s.tables.families and len(x.metals) > 1:
        body = "-".join(say.metal(m) for m in x.metals)
    metals = composition(dict(list(x.ranges.items())[:MOST_METALS]), say, METALS_WIDTH)
    shown = "" if not metals or metals == body else say.say("page", "metals", metals=metals)
    plated = [c for c in x.constructions if c.skin_um]
    bare = sum(c.probability for c in x.constructions if not c.skin)
    one = first
    if not first.skin and plated and sum(c.probability for c in plated) > MATTERS * x.probability:
        one = plated[0]
    layer = layer_words(s, one, say)
    if one.skin_um and one.skin_um[0] >= 1 and bare > MATTERS * x.probability:
        layer = say.say("page", "layer_any", skin=skin_words(s, one.skin, say), high=mm(one.skin_um[2]))
    key = "fit_row_claimed" if as_claimed_clad(s, one) else "fit_row"
    return say.say("page", key, body=body, metals=shown, layer=layer)


def precious_lines(s: Solution, say: Language) -> list[str]:
    """Sentences on the precious metals in it, the most plentiful first."""
    lines, claimed = [], s.claim.metal if s.claim else ""
    for symbol, m in sorted(s.precious.items(), key=lambda item: -item[1].high):
        if m.high < (0.01 if m.unit == "g" else 0.1):
            continue
        only_claimed = fits_claim(s) and symbol == claimed and code_of(s) == UNDECIDED
        low, metal = m.low, say.metal(symbol)
        if only_claimed and s.advice.would_show_below:
            whole = (s.weighing.body_g if s.weighing else None) if m.unit == "g" else 100.0
            low = s.advice.would_show_below / 1000 * (whole or m.high)
        if low > 0.05 * m.high:
            amount = span_words(_amount(low), f"{_amount(m.high)} {m.unit}", say)
            key = "holds_claimed" if only_claimed else "holds"
            lines.append(say.say("page", key, amount=amount, metal=metal, piece=noun(s, say)))
        else:
            key = "holds_likely" if m.value > 0.2 * m.high else "holds_under"
            lines.append(
                say.say(
                    "page",
                    key,
                    amount=f"{_amount(m.high)} {m.unit}",
                    metal=metal,
                    piece=noun(s, say),
                    likely=f"{_amount(m.value)} {m.unit}",
                )
            )
    return lines[:MOST_PRECIOUS] or [say.say("page", "holds_none")]


def _amount(x: float) -> str:
    return f"{x:.2f}" if x < 10 else f"{x:.1f}" if x < 100 else f"{x:.0f}"


def undone_lines(s: Solution, say: Language) -> list[str]:
    """Sentences on what the readings need done to the piece, and on those that wet it or leave a mark."""
    kinds, piece = {r.kind for r in s.piece.readings}, noun(s, say)
    undone = [say.say(kind, "undone") for kind in KINDS if kind in kinds and say.has(kind, "undone")]
    wet = [say.say("page", "wetted", piece=piece)] if s.piece.displaced or s.piece.in_water else []
    marks = dict.fromkeys(mark for kind, of in KINDS.items() if kind in kinds for mark in of.marks)
    done = [say.say(mark, "done", piece=piece) for mark in marks]
    return [*(undone or [say.say("page", "undone_all")]), *wet, *done]


def not_this_lines(s: Solution, say: Language) -> list[str]:
    """Sentences on what the page is not, and on what needs care."""
    code, piece = code_of(s), noun(s, say)
    keys = ["not_assay", "not_origin"]
    keys += (
        ["good_faith"] * (code in (CONTRADICTED, UNDECIDED))
        + ["no_promise"] * (code == NOT_CONTRADICTED)
        + ["elsewhere"]
    )
    lines = [say.say("page", key, piece=piece) for key in keys]
    dust = [say.say("page", c) for c in s.advice.cautions if c in DUST]
    lines += [say.say("page", "dust", metals=listed(dust))] if dust else []
    return lines + [say.say("page", c) for c in s.advice.cautions if c not in DUST and say.has("page", c)]


def about_lines(s: Solution, say: Language, day: str) -> list[str]:
    """Lines that say which piece it is, what it is said to be, and when it was tested; a long note is cut short."""
    name, claim = isolated(printable(s.piece.name), 60), s.claim.text if s.claim else ""
    if s.claim and s.claim.coin:
        claim += f" ({s.claim.coin.coin}, {s.claim.coin.issuer})"
    key = ("about" if claim else "about_unclaimed") if name else ("about_unnamed" if claim else "about_nothing")
    lines = [say.say("page", key, name=name, claim=claim, piece=noun(s, say))]
    if s.piece.note:
        lines.append(say.say("page", "note", note=isolated(printable(s.piece.note), 160)))
    tested = say.say("page", "day", day=day) if day else say.say("page", "day_blank")
    good = s.settings.scale.known_good
    if good and good.on and s.weighing and s.weighing.displaced_g is not None:
        tested += " " + say.say("page", "checked", day=good.on.isoformat(), claim=good.claim)
    return [*lines, tested]


def isolated(text: str, most: int) -> str:
    """A text of the user, cut short, that keeps its own direction of writing and does not turn its surroundings."""
    import unicodedata

    text = text if len(text) <= most else text[: most - 3].rstrip() + "..."
    turns = any(unicodedata.bidirectional(c) in ("R", "AL", "AN") for c in text)
    return f"\u2068{text}\u2069" if turns else text


def misread_words(s: Solution, say: Language) -> str:
    """The sentence on the bubble or slip of the scale that would explain the weighing."""
    a = s.advice
    if a.misread_g is None:
        return say.say("page", "change_other")
    misread = grams(abs(a.misread_g), 3 if abs(a.misread_g) < 0.1 else 2)
    if a.bubble_mm is None:
        return say.say("page", "change_misread", misread=misread)
    return say.say("page", "change_bubble", bubble=f"{a.bubble_mm:.2g} mm", misread=misread, piece=noun(s, say))
