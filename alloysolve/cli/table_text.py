"""Rows of the published tables as text of at most 100 columns, with their sources."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from typing import Any

WIDTH = 100
DETAILED = 3  # rows up to which each is shown with its sources; of more, sources are numbered and listed below

Row = dict[str, Any]
Column = tuple[str, int, Callable[[Row], str]]  # head, width, text of a cell


def table_text(name: str, rows: list[Row], sources: dict[str, Any]) -> list[str]:
    """One table, each row with its caveat; a table without columns of its own shows all its values."""
    if name == "coins":
        return _coin_lines(rows, sources)
    if name not in COLUMNS:
        return [x for row in rows for x in (*_values(name, row), *_caveat(row), *_cited(row, sources))]
    few = len(rows) <= DETAILED
    keys = list(dict.fromkeys(k for row in rows for k in _keys(row) if k in sources))
    numbers = {key: str(n) for n, key in enumerate(keys, 1)}
    lines = [_line([(head, width) for head, width, _ in COLUMNS[name]], "" if few else "source")[0]]
    for row in rows:
        cited = "" if few else ", ".join(numbers[k] for k in dict.fromkeys(_keys(row)) if k in numbers)
        lines += _line([(cell(row), width) for _, width, cell in COLUMNS[name]], cited)
        lines += _caveat(row) + (_cited(row, sources) if few else [])
    if few:
        return lines
    return [*lines, *(x for k in keys for x in _wrapped(f"{numbers[k]:>3} {_citation(sources[k])}", "    "))]


def _line(cells: list[tuple[str, int]], last: str) -> list[str]:
    """One row; a cell that is wider than its column goes on in the next line."""
    widths = [width for _, width in cells]
    widths.append(WIDTH - sum(widths) - len(widths))
    wrapped = [
        textwrap.wrap(text, width, break_on_hyphens=False) or [""]
        for text, width in zip([*(t for t, _ in cells), last], widths, strict=True)
    ]
    most = max(len(w) for w in wrapped)
    return [
        " ".join((w[n] if n < len(w) else "").ljust(width) for w, width in zip(wrapped, widths, strict=True)).rstrip()
        for n in range(most)
    ]


def _coin_lines(rows: list[Row], sources: dict[str, Any]) -> list[str]:
    """Coin types, each with its sources if they are few."""
    head = ["coin", "years", "mass", "size"]
    cells = [
        [
            f"{r['issuer']} {r['coin']}",
            r["years"],
            f"{r['mass_g']:.4g} g" if r["mass_g"] else "",
            f"{r['diameter_mm']:g} mm" if r["diameter_mm"] else "",
        ]
        for r in rows
    ]
    widths = [max(len(line[i]) for line in [head, *cells]) for i in range(4)]
    few = len(rows) <= DETAILED
    lines = _line([*zip(head, widths, strict=True)], "metal in percent")
    for each, row in zip(cells, rows, strict=True):
        lines += _line([*zip(each, widths, strict=True)], _text(row["composition"] or row["layers"]))
        lines += [*_caveat(row), *_cited(row, sources)] if few else []
    more = f"{len(rows)} coin types; more words show fewer, and up to {DETAILED} with their sources"
    return lines if few else [*lines, more]


def _values(name: str, row: Row) -> list[str]:
    shown = (
        f"{k} {_text(v)}"
        for k, v in row.items()
        if not k.startswith("source") and v not in (None, "", {}) and k != "caveat"
    )
    return _wrapped(f"{name}: {'; '.join(shown)}", "  ")


def _caveat(row: Row) -> list[str]:
    return _wrapped(f"    caveat: {row['caveat']}", "    ") if row.get("caveat") else []


def _cited(row: Row, sources: dict[str, Any]) -> list[str]:
    return [x for k in dict.fromkeys(_keys(row)) if k in sources for x in _wrapped(f"    {_citation(sources[k])}")]


def _citation(source: Any) -> str:
    memory = source.seen == "memory" and "from memory" not in source.citation
    return f"{source.citation}{' (from memory)' if memory else ''}"


def _keys(row: Row) -> list[str]:
    return ";".join(str(v) for k, v in row.items() if k.startswith("source") and v).split(";")


def _wrapped(text: str, further: str = "      ") -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=further, break_on_hyphens=False)


def _text(value: Any) -> str:
    if isinstance(value, dict):
        if any(isinstance(v, dict) for v in value.values()):
            return " | ".join(f"{place}: {_text(v)}" for place, v in value.items())
        return ", ".join(
            f"{s} {'-'.join(f'{x:g}' for x in v) if isinstance(v, tuple) else f'{v:g}'}" for s, v in value.items()
        )
    return f"{value:g}" if isinstance(value, float) else str(value)


def _with_u(key: str) -> Callable[[Row], str]:
    return lambda r: "" if r[key] is None else f"{r[key]:g} +- {r[f'u_{key}']:g}" if r[f"u_{key}"] else f"{r[key]:g}"


def _named(r: Row) -> str:
    return r["name"] if r["designation"] in r["name"] else f"{r['name']} ({r['designation']})"


DENSITY: Column = ("density, g/cm3", 15, _with_u("density_g_cm3"))
COLUMNS: dict[str, list[Column]] = {
    "metals": [
        ("metal", 30, lambda r: f"{r['name']} ({r['symbol']})"),
        DENSITY,
        ("resistivity, uohm cm", 20, lambda r: _text(r["resistivity_uohm_cm"] or "")),
        ("magnet", 8, lambda r: r["magnetic"]),
    ],
    "grades": [
        ("grade", 31, _named),
        ("metal in percent", 27, lambda r: _text(r["composition"])),
        DENSITY,
        ("%IACS", 12, _with_u("conductivity_iacs")),
    ],
    "families": [
        ("family", 30, lambda r: r["words"]),
        ("metal in percent, from and to", 40, lambda r: _text(r["limits"])),
        ("scatter", 8, lambda r: f"{r['sigma_percent']:g} %"),
    ],
    "claims": [
        ("claim", 32, lambda r: r["claim"]),
        ("metal in percent, from and to", 50, lambda r: _text(r["limits"])),
    ],
    "inclusions": [("part", 40, lambda r: r["name"]), DENSITY],
}
