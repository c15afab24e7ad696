"""Coin types that a piece may be, in one sentence."""

from __future__ import annotations

from collections.abc import Mapping

from ..answer.document import Document
from ..answer.parts import CoinTypeData
from .language import Language

PRECIOUS = ("Ag", "Au", "Pt", "Pd")
NAMED_FROM = 4.0  # percent from which a metal belongs to the name of an alloy


def coin_line(d: Document, say: Language, most: int) -> str:
    """Coin types that have the mass, the metal and the size of the piece; empty without any."""
    if not d.coin_types:
        return ""
    sized = d.form.measured and d.form.shape == "disc"
    return say.say("coins", "sized" if sized else "line", coins="; ".join(_type(c, say) for c in d.coin_types[:most]))


def _type(c: CoinTypeData, say: Language) -> str:
    years = say.say("coins", "since", year=c.years[:-1]) if c.years.endswith("-") else c.years
    made = _made(c, say)
    coin = say.typed(f"{c.issuer} {c.coin}")
    key = "named" if made in coin else "type"  # "5 francs, silver 900" says it already
    text = say.say("coins", key, coin=coin, made=made, years=years)
    if c.others:
        key = "others" if c.others > 1 else "one_other"
        return say.say("coins", key, type=text, count=c.others)
    return text


def _made(c: CoinTypeData, say: Language) -> str:
    """Of which metals a type is made, in which places."""
    names = {place: _alloy(part, say) for place, part in c.made.items()}
    outer = list(names.values())[-1]
    if "face" in names:
        return say.say("coins", "clad", core=names["core"], face=names["face"])
    if "core" in names:
        return say.say("coins", "plated", core=names["core"], plate=outer)
    if len(names) > 1:
        ring, centre = (next((n for p, n in names.items() if p.startswith(w)), outer) for w in ("ring", "centre"))
        return say.say("coins", "bimetal", ring=ring, centre=centre)
    return outer


def _alloy(composition: Mapping[str, float], say: Language) -> str:
    """The name of an alloy: a precious metal with its fineness, steel, or the metals that it consists of."""
    main = max(composition, key=lambda s: composition[s])
    if main in PRECIOUS:
        return say.say("coins", "fine", metal=say.metal(main), fineness=f"{10 * composition[main]:.4g}")
    if main == "Fe":
        return say.say("coins", "steel")
    return "-".join(say.metal(s) for s, percent in composition.items() if percent >= NAMED_FROM)
