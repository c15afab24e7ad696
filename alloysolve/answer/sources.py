"""The citations behind one answer, as text or as BibTeX."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Collection, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Literal

from ..errors import InputError
from ..inputs.claim import parse_claim
from ..published.load import Tables, default_tables
from ..readings.registry import KINDS
from .answer import Documented
from .document import Document

if TYPE_CHECKING:
    from ..published.metals import Source

Use = tuple[str, str, str]  # key of a source, what it was needed for, and of what
Needs = dict[str, dict[str, None]]  # what a source was needed for, each with what of, in order
WIDTH = 100
OWN = ("judgement", "fit-")  # how the keys of what no work says begin
SPECIAL = str.maketrans({c: f"\\{c}" for c in "&%$#_{}"} | {"~": r"\textasciitilde{}", "^": r"\textasciicircum{}"})


def sources(answer: Documented, form: Literal["text", "bibtex"] = "text", tables: Tables | None = None) -> str:
    """The citations behind one answer: of its metals, alloys, layers, claim and readings, and of the formulas used.

    What counts is what the answer shows: rows below 4 in 1000 and alloys that were excluded are not cited.

    Parameters
    ----------
    answer : a `Solution` or an `Answer`.
    form : "text", one paragraph per work with what it was needed for; or "bibtex", one entry per work.
    tables : those from which it was worked out; if left out, those of the solution, or the shipped ones.

    Returns
    -------
    str
        First what to cite for the program and its tables, then the works in order of their keys. What rests on
        judgement says so; in BibTeX it is a comment. A work that was cited from memory says so too.

    Raises
    ------
    InputError
        If the answer was made from other tables, and for an unknown form.

    >>> from alloysolve import Piece, solve
    >>> s = solve(Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g"))
    >>> "Metrologia 38 (2001) 301" in sources(s)
    True
    """
    if form not in ("text", "bibtex"):
        raise InputError("form", form, "'text' or 'bibtex'", "choose one of them")
    used = tables or getattr(answer, "tables", None) or default_tables()
    d = answer.document
    if d.tables != used.hashes():
        step = "give the tables from which it was made, or solve the piece again"
        raise InputError("tables", used.version, "the tables of this answer", step)
    needed: dict[str, Needs] = {}
    for key, what, of in _uses(d, used):
        needed.setdefault(key, {}).setdefault(what, {})[of] = None
    known: dict[str, Source] = {s.key: s for s in used.rows("SOURCES")}
    write, parts = (_text, [_program_text(d, used)]) if form == "text" else (_bibtex, [_program_bibtex(d, used)])
    return "\n\n".join([*parts, *(write(known[key], needed[key]) for key in sorted(needed))]) + "\n"


def _uses(d: Document, tables: Tables) -> Iterator[Use]:
    """Every source of a row that took part in the answer, with what it was needed for."""
    bodies = [{*row.metals, *row.ranges} for row in d.rows]
    layers = {name for row in d.rows if row.layer for name in (row.layer.part, row.layer.strike)}
    metals = set().union(layers & set(tables.metals), *bodies)
    families = {row.family for row in d.rows}
    shown = {row.metals for row in d.rows}
    grades = {g for x in d.systems if x.metals in shown for g in x.nearest_grades}
    readings = list(dict.fromkeys(r.kind for r in d.readings if r.kind in KINDS))
    metered = any(KINDS[k].quantity == "conductivity" for k in readings)
    for m in (m for m in tables.rows("metals") if m.symbol in metals):
        yield from _cited(m.source, "density", m.name)
    for f in (f for f in tables.rows("families") if f.family in families):
        yield from _cited(f.source, "composition and scatter", f.words)
    for g in (g for g in tables.rows("grades") if g.name in grades):
        yield from _cited(g.source, "density", g.name)
        yield from _cited(g.source_conductivity if metered else "", "conductivity", g.name)
    for skin in (r for r in tables.rows("skins") if r.name in layers):
        yield from _cited(skin.source, "layers", skin.words)
    yield from _of_mixing(bodies, metered, tables)
    yield from _of_claim(d, tables)
    yield from _of_readings(d, readings, metals | families | grades, tables)


def _of_mixing(bodies: Sequence[Collection[str]], metered: bool, tables: Tables) -> Iterator[Use]:
    """What the terms of pairs of metals in one body were fitted to."""
    for p in (p for p in tables.rows("pairs") if not p.beside):
        if any(p.first in metals and p.second in metals for metals in bodies):
            yield from _cited(p.source, "mixing", f"{p.first}-{p.second}")
    for table, what in (("density_points", "density"), *((("resistivity_points", "resistivity"),) if metered else ())):
        for row in tables.rows(table):
            if any(set(row.composition) <= set(metals) for metals in bodies):
                yield from _cited(row.source, what, f"{'-'.join(row.composition)} alloys")


def _of_claim(d: Document, tables: Tables) -> Iterator[Use]:
    """What the claim means, what is believed of pieces with such a claim, and the types of coins that are named."""
    claim = parse_claim(d.claim.text, tables) if d.claim else None
    for row in (r for r in tables.rows("claims") if d.claim and r.claim in d.claim.regions):
        yield from _cited(row.source, "meaning", row.claim)
    kind = tables.claim_priors.get(d.claim.kind if d.claim else "none")
    yield from _cited(kind.source, "what is believed beforehand") if kind else ()
    named = {x.id for x in d.coin_types} | ({claim.coin.id} if claim and claim.coin else set())
    for coin in (c for c in tables.rows("coins") if c.id in named):
        yield from _cited(coin.source, f"{coin.coin}, {coin.issuer}")


def _of_readings(d: Document, readings: Sequence[str], named: Collection[str], tables: Tables) -> Iterator[Use]:
    """The formulas of every step, the tables that single readings need, and what the cautions rest on."""
    steps = {*readings, "mixing", *(["weighing"] if d.density and d.density.displaced_g else [])}
    for f in (f for f in tables.rows("formulas") if f.step in steps):
        yield from _cited(f.source, f.what)
    for table in dict.fromkeys(t for kind in readings for t in KINDS[kind].tables):
        for row in tables.rows(table):
            if _of(row) is None or _of(row) in named:
                yield from _cited(row.source, f"{table}.csv")
    for c in (c for c in tables.rows("cautions") if c.code in d.cautions):
        yield from _cited(c.source, "caution", c.code)


def _of(row: Any) -> str | None:
    """The metal, grade or family of which a row speaks; None if it speaks of all."""
    return next((getattr(row, k) for k in ("symbol", "metal", "name") if hasattr(row, k)), None)


def _cited(cell: str, what: str, of: str = "") -> Iterator[Use]:
    """The sources in a cell."""
    return ((key, what, of) for key in cell.split(";") if key)


def _told(needs: Needs) -> str:
    """What a source was needed for, as one phrase."""
    return "; ".join(f"{what} of {', '.join(of)}" if any(of) else what for what, of in needs.items())


def _program_text(d: Document, tables: Tables) -> str:
    return f'alloysolve {d.version}, tables {tables.version}, prior "{d.prior.name}" {d.prior.sha256[:12]}'


def _text(s: Source, needs: Needs) -> str:
    where = "" if s.seen == "memory" or s.address == "read in a copy" else f"; {s.address}"
    memory = " (from memory)" if s.seen == "memory" and not s.key.startswith(OWN) else ""
    told = f"[{s.key}] {s.citation}{memory}{where}. For: {_told(needs)}."
    return "\n".join(textwrap.wrap(told, WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False))


def _program_bibtex(d: Document, tables: Tables) -> str:
    fields = {
        "title": "alloysolve",
        "version": d.version,
        "note": f"tables {tables.version}, prior {d.prior.name} {d.prior.sha256[:12]}",
    }
    return _entry("software", "alloysolve", fields)


def _bibtex(s: Source, needs: Needs) -> str:
    if s.key.startswith(OWN):
        return f"{s.key}: {s.citation}. For: {_told(needs)}.".replace("@", "at")
    year = re.search(r"\b(1[5-9]|20)\d\d\b", s.citation)
    memory = ["from memory"] if s.seen == "memory" else []
    seen = "" if s.seen == "memory" or s.address == "read in a copy" else s.address
    fields = {
        "title": s.citation,
        "year": year[0] if year else "",
        "howpublished": seen,
        "note": "; ".join([*memory, f"for {_told(needs)}"]),
    }
    return _entry("misc", s.key, fields)


def _entry(kind: str, key: str, fields: dict[str, str]) -> str:
    lines = [f"  {name} = {{{{{text.translate(SPECIAL)}}}}}," for name, text in fields.items() if text]
    return "\n".join([f"@{kind}{{{key},", *lines, "}"])
