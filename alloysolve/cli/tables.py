"""``alloysolve tables``: published values with their sources."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

import click

from ..errors import InputError
from .app import emit, settings_from

if TYPE_CHECKING:
    from ..published.load import Tables


SEARCHED = ("metals", "grades", "families", "claims", "inclusions", "coins")
NAMES = ("symbol", "name", "designation", "family", "words", "claim", "also", "id", "coin")


@click.command()
@click.argument("what", required=False, help='a table ("metals"), or a word to look up ("silver", "Cu", "C26000")')
@click.argument("which", nargs=-1, help='coins by name, country, year, mass or size ("20 francs", "25 g 1908")')
@click.option("--json", "json_", is_flag=True, help="Print JSON.")
@click.option("--tables", "extra", multiple=True, help="CSV file or folder added to the tables.", metavar="PATH")
@click.option("--settings", help="Settings file.", metavar="FILE")
def tables(
    what: str | None,
    which: tuple[str, ...],
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
    elif not which:
        _rows(used, what, json_)
    elif what == "coins":
        _coins(used, " ".join(which), json_)
    else:
        said = " ".join(which)
        raise InputError("tables", said, f'a word after "coins" only, not after "{what}"', f'write tables "{said}"')


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
    """A whole table, or the rows of all that have a word; those named exactly so come first."""
    from ..published.load import RECORDS

    found = {what: [r._asdict() for r in used.rows(what)]} if what in RECORDS else _having(used, what)
    if not found:
        from ..entry import nearest, unknown

        known = {*RECORDS, *(n for name in SEARCHED for r in used.rows(name) for n in _names(r._asdict()))}
        named = known if nearest(what, known) else RECORDS
        raise unknown("tables", what, named, 'a table ("metals", "coins") or a word found in one')
    _show(used, found, json_)


def _having(used: Tables, what: str) -> dict[str, list[dict[str, Any]]]:
    """By table, the rows in which a word is found."""
    from ..inputs.coin_find import find_types

    found = {}
    for name in SEARCHED:
        kept = [r for r in (row._asdict() for row in used.rows(name)) if _matches(r, what)]
        if name == "coins" and not kept:
            kept = [c._asdict() for c in find_types(what, used)]
        if kept:
            found[name] = sorted(kept, key=lambda r: _far(r, what))
    return found


def _coins(used: Tables, which: str, json_: bool) -> None:
    """The coin types that every word of a search fits; if none does, the nearest ones are proposed."""
    from ..inputs.coin_find import find_types
    from ..inputs.coin_search import CALLED, listed, nearest

    found = [c._asdict() for c in find_types(which, used)]
    if not found:
        if bare := re.search(r"(?<![\w.,])\d+[.,]\d+(?![\w.,]|\s*(?:g|mm)\b)", which):
            raise InputError(
                "tables", which, "a mass in g or a diameter in mm", f'write "{bare[0]} g" or "{bare[0]} mm"'
            )
        near = listed(nearest(which, used.rows("coins")), more=False)
        raise InputError("tables", which, f"a coin type, such as {near}", f"this is {CALLED}")
    _show(used, {"coins": found}, json_)


def _show(used: Tables, found: dict[str, list[dict[str, Any]]], json_: bool) -> None:
    from .table_text import table_text

    if json_:
        emit(json.dumps(found, indent=2, ensure_ascii=False))
        return
    sources = {s.key: s for s in used.rows("SOURCES")}
    emit("\n\n".join("\n".join(table_text(name, rows, sources)) for name, rows in found.items()))


def _names(row: dict[str, Any]) -> list[str]:
    return [n.strip() for key in NAMES for n in str(row.get(key) or "").split(";") if n.strip()]


def _matches(row: dict[str, Any], what: str) -> bool:
    """Whether a row matches: a symbol must be equal, and a word may be anywhere in the names."""
    names = _names(row)
    if len(what) <= 2:
        return what in names or what in row.get("limits", {}) or what in row.get("composition", {})
    return any(what.lower() in n.lower() for n in names)


def _far(row: dict[str, Any], what: str) -> int:
    """0 for a row with exactly this name, 1 where it is the first word of a name, otherwise 2."""
    names, word = [n.casefold() for n in _names(row)], what.casefold()
    return 0 if word in names else 2 - any(n.startswith(f"{word} ") for n in names)
