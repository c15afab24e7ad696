"""A thousand claims as people write them, and what each must mean; none was taken from the program's own output.

`claim_phrases.csv` holds odd ones, written one by one. The others are products of the usual ways to write a metal, a
fineness, a colour, an article and a layer, whose meaning follows from their parts.
"""

import csv
import itertools
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

from alloysolve.errors import InputError
from alloysolve.inputs.claim import Claim, parse_claim
from alloysolve.published.load import default_tables
from alloysolve.published.wares import ClaimRegion
from tests.rows import every

TABLES = default_tables()
SEVERAL = {  # what a word for a whole group of families stands for
    f"{word}*": ", ".join(sorted(f for f, x in TABLES.families.items() if word in f"{f} {x.words}".split()))
    for word in ("bronze", "stainless")
}


def odd() -> list[tuple[str, str]]:
    with (Path(__file__).parent / "claim_phrases.csv").open(encoding="utf-8", newline="") as file:
        return [(row["phrase"], row["means"]) for row in csv.DictReader(file)]


def regular() -> Iterator[tuple[str, str]]:
    """Claims made of a fineness, a metal, a colour, an article and a layer in the usual orders."""
    finenesses = {  # percent: ways to write it
        "Ag 92.5": ("925", ".925", "0.925", "92.5 %", "925/1000", "925er", "sterling"),
        "Ag 80": ("800", "80%", "800/1000"),
        "Ag 83.5": ("835", "0.835", "835/000"),
        "Ag 99.9": ("999", ".999", "99.9%", "fine"),
        "Pt 95": ("950", "95 %"),
        "Pd 95": ("950", "0.95"),
    }
    names = {"Ag": ("silver", "Silver", "Ag"), "Pt": ("platinum", "Pt"), "Pd": ("palladium", "Pd")}
    for (means, ways), article in itertools.product(finenesses.items(), ("", " ring", " bar", " coin", " medal")):
        for way, name in itertools.product(ways, names[means[:2]]):
            yield f"{name} {way}{article}", means
            yield f"{way} {name}{article}", means
    carats = {"Au 37.5": ("9", "375"), "Au 58.3": ("14", "585"), "Au 75": ("18", "750")}
    marks = ("{0}k", "{0} ct", "{0}kt", "{0} karat", "{0}-carat", "K{0}")
    for (means, (carat, mille)), colour in itertools.product(carats.items(), ("", "yellow", "rose", "white")):
        said = f"{means} {colour}".strip().replace("rose", "red")
        for mark in (*(m.format(carat) for m in marks), f"{mille} gold", f"Au{mille}"):
            yield f"{mark} {colour}".strip(), said
            yield f"{colour} {mark} bracelet".strip(), f"{said} +hollow"
    skins = {"silver": "Ag", "gold": "Au", "nickel": "Ni", "copper": "Cu", "tin": "Sn", "chrome": "Cr", "rhodium": "Rh"}
    bodies = {"brass": "brass", "steel": "steel", "zinc": "zinc", "German silver": "nickel silver", "lead": "lead"}
    forms = ("{0} plated {1}", "{0}-plated {1}", "{1} plated with {0}", "{0} coated {1}", "{1} with {0} plating")
    for (skin, symbol), (body, family), form in itertools.product(skins.items(), bodies.items(), forms):
        yield form.format(skin, body), f"skin {symbol} over {family}"
    for carat, parts, filled in itertools.product(("10", "12", "14"), ("10", "20", "40"), ("GF", "gold filled", "RGP")):
        fine = {"10": "41.6", "12": "50", "14": "58.3"}[carat]
        yield f"1/{parts} {carat}K {filled}", f"skin Au {fine} 1/{parts} over any"


def fineness(regions: tuple[ClaimRegion, ...]) -> str:
    """Metal and least fineness of some regions, with their colours if they are not all that there are."""
    metal = regions[0].metal
    least = min(r.limits[metal][0] for r in regions)
    colours = sorted({r.colour for r in regions})
    first = sorted({c.split()[0] for c in colours if c})
    every = {r.colour for r in TABLES.rows("claims") if r.metal == metal and r.limits[metal][0] == least}
    said = colours[0] if len(colours) == 1 else " ".join(first) if set(colours) < every else ""
    return f"{metal} {round(least, 2):g} {said}".strip()


def body(claim: Claim) -> str:
    if claim.regions and not claim.regions[0].claim.startswith(("silver", "gold", "platinum", "palladium")):
        made = {s: round((low + high) / 2, 6) for s, (low, high) in claim.regions[0].limits.items()}
        return " ".join(f"{s} {x:g}" for s, x in made.items())
    return fineness(claim.regions) if claim.regions else ", ".join(sorted(claim.families)) or "any"


def meaning(claim: Claim) -> str:
    """What was understood, in the notation of the file."""
    if claim.coin:
        return f"coin {claim.coin.id}"
    if claim.clad:
        out = f"clad {claim.clad}"
    elif claim.plated:
        skin = fineness(claim.skin_regions).split() if claim.skin_regions else [claim.skin_material]
        share = [str(Fraction(claim.skin_share).limit_denominator(100))] if claim.skin_share else []
        um = [f"{claim.skin_um:g} um"] if claim.skin_um else []
        um += [f"at least {claim.skin_fine_um:g} um fine"] if claim.skin_fine_um else []
        out = " ".join(["skin", *skin[:2], *share, *um, "over", body(claim)])
    elif claim.metal:
        assert claim.kind == {"Ag": "silver", "Au": "gold", "Pt": "platinum", "Pd": "palladium"}[claim.metal]
        assert claim.least == min(r.limits[claim.metal][0] for r in claim.regions)
        out = fineness(claim.regions) if claim.regions[0].claim != claim.text else f"{claim.metal} {claim.least:g}"
    else:
        out = f"base {body(claim)}"
    out += " +weighted" if claim.weighted else " +hollow" if claim.hollow else ""
    return out + (f" +{round(claim.nominal_mass_g, 5):g} g" if claim.nominal_mass_g else "")


def understood(phrase: str) -> str:
    """What was understood, or the error that asks back."""
    try:
        return meaning(parse_claim(phrase, TABLES))
    except InputError as error:
        e = error
    assert (e.path, e.given) == ("claim", phrase)
    assert e.next_step
    return f"asked {e.expected} | {e.next_step}"


def agrees(found: str, means: str) -> bool:
    if means.startswith("asked "):  # the error names the word, in quotation marks if it is the user's own
        return found.startswith("asked ") and means.removeprefix("asked ") in found
    for word, families in SEVERAL.items():
        means = means.replace(word, families)
    return rounded(found) == rounded(means)


def rounded(means: str) -> list[str]:
    return [f"{float(w):.4g}" if w.lstrip("+").replace(".", "", 1).isdigit() else w for w in means.split()]


@every("phrase, means", odd())
def test_an_odd_claim(phrase: str, means: str) -> None:
    assert agrees(understood(phrase), means), understood(phrase)


def test_regular_claims() -> None:
    wrong = [(p, m, understood(p)) for p, m in regular() if not agrees(understood(p), m)]
    assert not wrong


def test_there_are_a_thousand_of_which_hundreds_are_odd() -> None:
    phrases = [p for p, _ in odd()]
    assert len(set(phrases)) == len(phrases)
    assert len(phrases) >= 500
    assert len({*phrases, *(p for p, _ in regular())}) >= 1000


def test_a_thousand_claims_are_read_in_a_moment() -> None:
    phrases = [f"{p} " for p, m in (*odd(), *regular()) if not m.startswith("asked")][:1000]
    start = time.process_time()
    for phrase in phrases:
        parse_claim(phrase, TABLES)
    assert time.process_time() - start < 1.5  # a quarter of a second on an idle machine
