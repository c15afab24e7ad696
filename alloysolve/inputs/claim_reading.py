"""From the text of a claim to its words, each with a role."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import replace

from ..errors import InputError, shortened
from ..published.load import Tables
from ..units import parse
from .claim_words import MONEY, Carat, Role, Said, vocabulary, with_coins
from .coin_search import CALLED, SAY, listed, nearest

EXAMPLES = '"silver 999", "sterling", "18 ct yellow", "platinum 950", "gold filled 1/20 14 ct" or "brass"'
LEAST_24 = 99.0  # percent, the lowest fineness that is sold as 24 ct (claims.csv)
LONGEST = 4  # words of the longest phrase
SPELLED = {
    **{"four": "4", "five": "5", "six": "6", "eight": "8", "nine": "9", "ten": "10", "twelve": "12", "fourteen": "14"},
    **{"fifteen": "15", "eighteen": "18", "twenty": "20", "forty": "40", "fifty": "50"},
}
NUMBER = r"(?:\d+(?:\.\d+)?|\.\d+)"
CARAT = r"(?:carats?|karats?|kts?|cts?|kar|k|c(?=\s*gold))"
TAILS = {"gf": "gf", "gp": "gp", "ge": "ge", "gep": "gep", "hge": "hge", "rgp": "rgp", "p": "", "pg": ""}
TAILS |= {"w": "white", "wg": "white", "y": "yellow", "yg": "yellow", "r": "rose", "rg": "rose"}
TAIL = "|".join(sorted(TAILS, key=len, reverse=True))
MASS = (
    r"troy\s+(?:oz|ozs|ounces?)|t\.?\s?oz|oz\.?\s?t(?:roy)?|ozt|toz|ounces?\s+troy|oz\s?av(?:dp)?|ozs?|ounces?|kg|kilos?|"
    r"kilograms?|grammes?|grams?|gms?|gr|g|dwt|pennyweights?|tolas?|grains?"
)
PATTERNS = [  # the first that matches counts
    ("spread", rf"(?P<x>\d{{1,2}}(?:\.\d+)?)[\s-]*{CARAT}(?P<tail>{TAIL})?(?![a-z])"),
    ("carat", r"k\s?(?P<x>\d{1,2})(?!\d)"),
    ("thousandths", r"(?P<x>\d+(?:\.\d+)?)\s*/\s*(?:1000|000)(?!\d)"),
    ("mass", rf"(?P<x>\d{{1,2}}\s+\d/\d+|\d+/\d+|{NUMBER})\s*-?\s*(?P<unit>{MASS})(?![a-z])"),
    ("fraction", r"(?P<x>\d+)\s*/\s*(?P<of>\d+)(?:th)?"),
    ("percent", rf"(?P<x>{NUMBER})\s*(?:%|percent|per cent|pct)"),
    ("thousandths", rf"(?P<x>{NUMBER})\s*(?:permille|per mille?|ppt|parts per thousand|thousandths)"),
    ("um", rf"(?P<x>{NUMBER})\s*(?:um|microns?|micrometres?|micrometers?)(?![a-z])"),
    ("mil", rf"(?P<x>{NUMBER})\s*mils?(?![a-z])"),
    ("length", rf"(?P<x>{NUMBER}(?:\s*x\s*{NUMBER})*)\s*(?:mm|cm|inch(?:es)?|in)(?![a-z])"),
    ("year", r"(?P<x>1[5-9]\d\d|20[0-4]\d)(?:\s*-\s*(?:1[5-9]\d\d|20[0-4]\d))?(?:[ -]?(?:cc|[pdso]))?(?![a-z\d])"),
    ("number", rf"(?P<x>{NUMBER})(?:er|°)?(?![\d.])"),
    ("word", r"(?P<x>[a-z]+(?:'[a-z]+)?)"),
    ("money", r"(?P<x>[$€£¢¥])"),
    ("doubt", r"(?P<x>[?~])"),
    ("gap", r"(?P<x>[\s,;:()\[\]./&+\"'!*|-]+)"),
    ("unknown", r"(?P<x>.)"),
]
TOKENS = [(kind, re.compile(pattern)) for kind, pattern in PATTERNS]
SIGNS = {"$": "dollar", "€": "euro", "£": "pound", "¢": "cents", "¥": "yen"}


def read(text: str, tables: Tables) -> list[Said]:
    """The words of a claim in order, each with its role; a phrase such as "nickel silver" is one of them.

    Raises
    ------
    InputError
        For a word that is not known, or that denies or doubts.
    """
    tokens = list(_tokens(text))
    said = _joined(tokens, vocabulary(tables))
    if any(s.role is Role.UNKNOWN for s in said):
        said = _joined(tokens, with_coins(tables))
    for s in said:
        if s.role is Role.UNKNOWN:
            raise InputError("claim", text, *_not_understood(text, s, said, tables))
        if s.role is Role.QUERY:
            raise InputError("claim", text, f'{s.value}, in place of "{s.text}"', "write what the piece is said to be")
    if all(s.role in (Role.PLAIN, Role.YEAR) and s.text not in MONEY for s in said):
        raise InputError(
            "claim", text, f"a claim such as {EXAMPLES}", "name the metal with its fineness, or leave the claim out"
        )
    return said


def _plain(text: str) -> str:
    """Lower case without accents; spelled numbers as digits; abbreviations without their points."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))
    plain = plain.replace("\u2044", "/").replace("\u03bc", "u").replace("\u2030", " permille ").replace("\u00ba", "")
    plain = re.sub("[\u2010-\u2015\u2212]", "-", plain).replace("\u2019", "'").replace("`", "'")
    plain = re.sub(r"(\d),(\d)", r"\1.\2", plain)
    plain = re.sub(r"\b(?:[a-z]\.){2,}[a-z]?(?![a-z])", lambda m: m.group().replace(".", ""), plain)
    plain = re.sub(r"\btwenty[ -](one|two|four)\b", lambda m: {"one": "21", "two": "22", "four": "24"}[m[1]], plain)
    plain = re.sub(r"\b(three|four|five)[ -](?:nines?|9s?)\b", _nines, plain)
    plain = re.sub(rf"\b({'|'.join(SPELLED)})\b", lambda m: SPELLED[m[1]], plain)
    ounces = r"\b(one|half|quarter)(?: of)?(?: an?)?(?= (?:troy )?(?:oz|ounce))"
    return re.sub(ounces, lambda m: {"one": "1", "half": "1/2", "quarter": "1/4"}[m[1]], plain)


def _nines(m: re.Match[str]) -> str:
    return {"three": "999", "four": "999.9", "five": "999.99"}[m[1]]


def _tokens(text: str) -> Iterator[Said]:
    """Single words and numbers, before phrases are looked up."""
    plain, at, before = _plain(_spread(text)), 0, ""
    while at < len(plain):
        kind, m = next((kind, m) for kind, pattern in TOKENS if (m := pattern.match(plain, at)))
        at = m.end()
        if kind == "gap":
            before = "-" if m.group() == "-" else "," if re.search("[^ \\-.]", m.group()) else ""
            continue
        shown, x = m.group().strip(), m["x"]
        if kind == "spread":
            yield Said(Role.FINENESS, shown, _of_carat(text, x), before)
            if tail := TAILS.get(m["tail"] or "", ""):
                yield Said(Role.UNKNOWN, tail, None, "-")
        elif kind == "mass":
            yield Said(Role.MASS, shown, (_fraction(text, x), m["unit"]), before)
        elif kind == "fraction":
            _fraction(text, shown.removesuffix("th"))
            yield Said(Role.FRACTION, shown, (int(x), int(m["of"])), before)
        else:
            yield replace(_simple(text, kind, shown, x), before=before)
        before = ""


def _spread(text: str) -> str:
    """Designations such as CuNi25 as compositions, "Cu 75 Ni 25"."""

    def shares(m: re.Match[str]) -> str:
        parts = re.findall(r"([A-Z][a-z]?)(\d+(?:\.\d+)?)", m[2])
        rest = 100 - sum(float(x) for _, x in parts)
        return f"{m[1]} {rest:g} " + " ".join(f"{s} {x}" for s, x in parts) if rest > 0 else m[0]

    return re.sub(r"\b([A-Z][a-z])((?:[A-Z][a-z]?\d{1,2}(?:\.\d)?)+)\b", shares, text)


def _simple(text: str, kind: str, shown: str, x: str) -> Said:
    if kind == "carat":
        return Said(Role.FINENESS, shown, _of_carat(text, x))
    if kind == "percent":
        return Said(Role.FINENESS, shown, float(x))
    if kind == "thousandths":
        return Said(Role.FINENESS, shown, float(x) / 10)
    if kind in ("um", "mil"):
        return Said(Role.THICKNESS, shown, float(x) * (25.4 if kind == "mil" else 1.0))
    if kind == "length":
        raise InputError(
            "claim",
            text,
            f'the claim without dimensions such as "{shown}"',
            "give them under disc, bar, ring, rod, sphere or tube",
        )
    if kind == "year":
        return Said(Role.YEAR, shown, int(x))
    if kind == "number":
        return _number(shown, float(x))
    if kind == "money":
        return Said(Role.UNIT, SIGNS[x])
    if kind == "doubt":
        return Said(Role.QUERY, x, "a claim of one thing, without denial or doubt")
    return Said(Role.UNKNOWN, x)


def _number(shown: str, x: float) -> Said:
    """A bare number: a fineness as a share, in thousandths or in ten-thousandths, or one as yet without meaning."""
    if 0 < x < 1:
        return Said(Role.FINENESS, shown, 100 * x)
    if 100 <= x <= 1000:
        return Said(Role.FINENESS, shown, x / 10)
    if 2000 < x < 10000:
        return Said(Role.FINENESS, shown, x / 100)
    return Said(Role.NUMBER, shown, x)


def _of_carat(text: str, x: str) -> Carat:
    if not 0 < float(x) <= 24:
        raise InputError("claim", text, f"a carat up to 24 in place of {x}", "check the mark")
    return Carat(min(float(x) / 24 * 100, LEAST_24))


def _fraction(text: str, x: str) -> float:
    """The value of "5", "1/2" or "2 1/2"."""
    parts = [part.partition("/") for part in x.replace(" / ", "/").split()]
    if any(below and not float(below) for _, _, below in parts):
        raise InputError("claim", text, f'a fraction in place of "{x}"', "check the number below the stroke")
    return sum(float(above) / float(below or 1) for above, _, below in parts)


def grams(said: Said, text: str, troy: bool = False) -> float:
    """A mass [g]; an ounce that does not say which is `troy`, as in the trade in precious metals, or an error."""
    x, unit = said.value
    if not troy and re.sub(r"[\s.]", "", unit) in ("oz", "ozs", "ounce", "ounces"):
        expected = f'"ozt" (troy ounce, 31.1035 g) or "oz av" (avoirdupois ounce, 28.3495 g) in place of "{said.text}"'
        raise InputError("claim", text, expected, "say which ounce, or give g")
    unit = re.sub(r"[\s.]", "", unit)
    troy = "troy" in unit or unit in ("ozt", "toz", *(("oz", "ozs", "ounce", "ounces") if troy else ()))
    unit = "ozt" if troy else "oz av" if unit.startswith("ozav") else "kg" if unit.startswith("kilo") else unit
    if unit == "gr":
        raise InputError("claim", text, f'"g" (gram) or "grain" in place of "{said.text}"', "say which is meant")
    return float(parse(f"{x} {unit}", "mass", "claim").value)


def _joined(tokens: list[Said], known: Mapping[tuple[str, ...], Said]) -> list[Said]:
    """Words looked up, the longest phrase first; a compound such as "goldplated" is taken apart."""
    out: list[Said] = []
    at = 0
    while at < len(tokens):
        if tokens[at].role is not Role.UNKNOWN:
            out.append(tokens[at])
            at += 1
            continue
        for size in range(LONGEST, 0, -1):
            part = tokens[at : at + size]
            if (
                len(part) == size
                and all(t.role is Role.UNKNOWN for t in part)
                and all(t.before != "," for t in part[1:])
            ):
                found = known.get(tuple(t.text for t in part))
                if found:
                    joined = "-" if len(part) > 1 and all(t.before == "-" for t in part[1:]) else part[0].before
                    out.append(replace(found, text=" ".join(t.text for t in part), before=joined))
                    at += size
                    break
        else:
            out += _apart(tokens[at], [*out[-1:], *tokens[at + 1 : at + 2]], known) or [tokens[at]]
            at += 1
    return out


def _apart(token: Said, beside: list[Said], known: Mapping[tuple[str, ...], Said]) -> list[Said]:
    """A unit of money or a mark with its number, or a compound of a metal or colour with another word."""
    word = token.text
    if word == "s" and any(t.role is Role.FINENESS for t in beside):  # S925, 830S
        return [replace(known["silver",], text="s")]
    for denial in ("un", "non"):  # "unplated"
        if word.startswith(denial) and (word[len(denial) :],) in known:
            return [replace(known[denial,], text=word)]
    first_roles = (Role.MATERIAL, Role.COLOUR, Role.FINE)  # "feinsilber"
    for cut in range(2, len(word) - 1):
        first, second = known.get((word[:cut],)), known.get((word[cut:],))
        if first and second and first.role in first_roles and second.role in (Role.MATERIAL, Role.LAYER):
            return [replace(first, text=word[:cut]), replace(second, text=word[cut:], before="-")]
    return []


def _not_understood(text: str, wrong: Said, said: list[Said], tables: Tables) -> tuple[str, str]:
    """What is expected in place of an unknown word, and the next step: its correction, or the nearest coins."""
    step, word = shortened(_meant(wrong, said, tables), 140), shortened(wrong.text, 20)
    coin = any(s.role in (Role.YEAR, Role.UNIT, Role.COIN) or s.text in MONEY for s in said)
    if coin and not step.startswith("did"):
        near = listed(nearest(text, tables.rows("coins")))
        return f'a coin type of the tables, such as {near}; "{word}" is {CALLED}', "or claim its metal"
    return f'a claim such as {EXAMPLES}; "{word}" is not understood', step


def _meant(wrong: Said, said: list[Said], tables: Tables) -> str:
    """A question that proposes the text with its misspelt words corrected, or what else to do."""
    words = sorted({w for phrase in with_coins(tables) for w in phrase if len(w) > 2})

    def right(s: Said) -> str:
        if s.role is not Role.UNKNOWN or len(s.text) < 4:
            return s.text
        from difflib import get_close_matches

        return next(iter(get_close_matches(s.text, words, 1, 0.75)), s.text)

    corrected = [right(s) for s in said]
    if right(wrong) != wrong.text:
        return f'did you mean "{" ".join(corrected)}"?'
    return f'leave "{shortened(wrong.text, 20)}" out if it says nothing of the metal; of a coin, {SAY}'
