"""``alloysolve tables``: published values with their sources."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from ..errors import InputError
from .app import emit, settings_from

if TYPE_CHECKING:
    from ..published.load import Tables


@click.command()
@click.argument("what", required=False, help='a table ("metals"), or a word to look up ("silver", "Cu", "C26000")')
@click.option("--json", "json_", is_flag=True, help="Print JSON.")
@click.option("--tables", "extra", multiple=True, help="CSV file or folder added to the tables.", metavar="PATH")
@click.option("--settings", help="Settings file.", metavar="FILE")
def tables(
    what: str | None,
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
    else:
        _rows(used, what, json_)


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
    from ..published.load import RECORDS

    names = [what] if what in RECORDS else ["metals", "grades", "families", "claims", "inclusions", "coins"]
    found: dict[str, list[dict[str, Any]]] = {}
    for name in names:
        rows = [r._asdict() for r in used.rows(name)]
        kept = rows if what in RECORDS else [r for r in rows if _matches(r, what)]
        if kept:
            found[name] = kept
    if not found:
        raise InputError("tables", what, f"a table ({', '.join(RECORDS)}) or a word found in them", "try another word")
    if json_:
        emit(json.dumps(found, indent=2, ensure_ascii=False))
        return
    sources = {s.key: s for s in used.rows("SOURCES")}
    emit("\n".join(line for name, rows in found.items() for row in rows for line in _lines(name, row, sources)))


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
    keys = ";".join(str(v) for k, v in row.items() if k.startswith("source") and v)
    cited = [
        f"    {sources[k].citation}{' (from memory)' if sources[k].seen == 'memory' else ''}"
        for k in dict.fromkeys(keys.split(";"))
        if k in sources
    ]
    caveat = [f"    caveat: {row['caveat']}"] if row.get("caveat") else []
    return [f"{name}: {'; '.join(values)}", *caveat, *cited]


def _text(value: Any) -> str:
    if isinstance(value, dict):
        if any(isinstance(v, dict) for v in value.values()):
            return " | ".join(f"{place}: {_text(v)}" for place, v in value.items())
        return ", ".join(
            f"{s} {'-'.join(f'{x:g}' for x in v) if isinstance(v, tuple) else f'{v:g}'}" for s, v in value.items()
        )
    return f"{value:g}" if isinstance(value, float) else str(value)
