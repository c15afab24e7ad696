"""``alloysolve tables``: published values with their sources."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from ..errors import InputError
from .app import emit, settings_from

if TYPE_CHECKING:
    from ..published.load import Tables


DETAILED = 3  # coin types up to which each is shown with its sources


@click.command()
@click.argument("what", required=False, help='a table ("metals"), or a word to look up ("silver", "Cu", "C26000")')
@click.argument("which", required=False, help='coins by name, country, year, mass or size ("20 francs", "25 g 1908")')
@click.option("--json", "json_", is_flag=True, help="Print JSON.")
@click.option("--tables", "extra", multiple=True, help="CSV file or folder added to the tables.", metavar="PATH")
@click.option("--settings", help="Settings file.", metavar="FILE")
def tables(
    what: str | None,
    which: str | None,
    json_: bool,
    extra: tuple[str, ...],
    settings: str | None,
) -> None:
    """Published values with their sources.

    Without a word, the tables with the number of their rows and their fingerprints.
    """
    from ..inputs.settings import tables_of

    used = tables_of(settings_from(settings, extra))
    if what is None:
        _overview(used, json_)
    elif which is None:
        _rows(used, what, json_)
    elif what == "coins":
        _coins(used, which, json_)
    else:
        raise InputError("tables", which, f'a word after "coins" only, not after "{what}"', f'write tables "{which}"')


def _overview(used: Tables, json_: bool) -> None:
    from ..published.load import RECORDS

    hashes = used.hashes()
    counts = {name: len(used.rows(name)) for name in RECORDS}
    if json_:
        emit(json.dumps({"rows": counts, "sha256": hashes}, indent=2))
        return
    lines = [f"{name:<20}{count:>6} rows  sha256 {hashes[f'{name}.csv'][:16]}" for name, count in counts.items()]
    emit("\n".join(lines))


def _rows(used: Tables, what: str, json_: bool) -> None:
    from ..inputs.coin_find import find_types
    from ..published.load import RECORDS

    names = [what] if what in RECORDS else ["metals", "grades", "families", "claims", "inclusions", "coins"]
    found: dict[str, list[dict[str, Any]]] = {}
    for name in names:
        rows = [r._asdict() for r in used.rows(name)]
        kept = rows if what in RECORDS else [r for r in rows if _matches(r, what)]
        if name == "coins" and what not in RECORDS and not kept:
            kept = [c._asdict() for c in find_types(what, used)]
        if kept:
            found[name] = kept
    if not found:
        raise InputError("tables", what, f"a table ({', '.join(RECORDS)}) or a word found in them", "try another word")
    if json_:
        emit(json.dumps(found, indent=2, ensure_ascii=False))
        return
    sources = {s.key: s for s in used.rows("SOURCES")}
    lines = [x for name, rows in found.items() if name != "coins" for row in rows for x in _lines(name, row, sources)]
    emit("\n".join([*lines, *_coin_lines(found.get("coins", []), sources)]))


def _coins(used: Tables, which: str, json_: bool) -> None:
    """The coin types that every word of a search fits; if none does, the nearest ones are proposed."""
    from ..inputs.coin_find import find_types
    from ..inputs.coin_search import CALLED, listed, nearest

    found = [c._asdict() for c in find_types(which, used)]
    if not found:
        near = listed(nearest(which, used.rows("coins")))
        raise InputError("tables", which, f"a coin type, such as {near}", f"this is {CALLED}")
    if json_:
        emit(json.dumps({"coins": found}, indent=2, ensure_ascii=False))
        return
    emit("\n".join(_coin_lines(found, {s.key: s for s in used.rows("SOURCES")})))


def _coin_lines(rows: list[dict[str, Any]], sources: dict[str, Any]) -> list[str]:
    """Coin types as a table, each with its sources if they are few."""
    from ..words.numbers import columns

    if not rows:
        return []
    head = ["coin", "years", "mass", "size", "metal in percent"]
    cells = [
        [
            f"{r['issuer']} {r['coin']}",
            r["years"],
            f"{r['mass_g']:.4g} g" if r["mass_g"] else "",
            f"{r['diameter_mm']:g} mm" if r["diameter_mm"] else "",
            _text(r["composition"] or r["layers"]),
        ]
        for r in rows
    ]
    widths = [max(len(line[i]) for line in [head, *cells]) for i in range(4)]
    first, *lines = columns([head, *cells], [*widths, 0])
    if len(rows) > DETAILED:
        return [
            first,
            *lines,
            f"{len(rows)} coin types; more words show fewer, and up to {DETAILED} with their sources",
        ]
    return [first, *(x for line, r in zip(lines, rows, strict=True) for x in (line, *_cited(r, sources)))]


def _matches(row: dict[str, Any], what: str) -> bool:
    """Whether a row matches: a symbol must be equal, and a word may be anywhere in the names."""
    names = [
        str(row.get(k) or "")
        for k in ("symbol", "name", "designation", "family", "words", "claim", "also", "id", "coin")
    ]
    if len(what) <= 2:
        return what in names or what in row.get("limits", {}) or what in row.get("composition", {})
    return any(what.lower() in n.lower() for n in names)


def _lines(name: str, row: dict[str, Any], sources: dict[str, Any]) -> list[str]:
    """One row: its values, and then where they were read."""
    values = [
        f"{k} {_text(v)}"
        for k, v in row.items()
        if not k.startswith("source") and v not in (None, "", {}) and k != "caveat"
    ]
    return [f"{name}: {'; '.join(values)}", *_cited(row, sources)]


def _cited(row: dict[str, Any], sources: dict[str, Any]) -> list[str]:
    """The caveat of a row, and where its values were read."""
    keys = ";".join(str(v) for k, v in row.items() if k.startswith("source") and v)
    cited = [
        f"    {sources[k].citation}{' (from memory)' if sources[k].seen == 'memory' else ''}"
        for k in dict.fromkeys(keys.split(";"))
        if k in sources
    ]
    caveat = [f"    caveat: {row['caveat']}"] if row.get("caveat") else []
    return [*caveat, *cited]


def _text(value: Any) -> str:
    if isinstance(value, dict):
        if any(isinstance(v, dict) for v in value.values()):
            return " | ".join(f"{place}: {_text(v)}" for place, v in value.items())
        return ", ".join(
            f"{s} {'-'.join(f'{x:g}' for x in v) if isinstance(v, tuple) else f'{v:g}'}" for s, v in value.items()
        )
    return f"{value:g}" if isinstance(value, float) else str(value)
