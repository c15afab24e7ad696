"""Prints one answer for each row of a stock list. Run: python examples/stock.py"""

from __future__ import annotations

from alloysolve import InputError, Piece, solve

ROWS = [
    {"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g", "magnet": "none"},
    {"claim": "sterling", "mass": "48,20 g", "displaced": "4.66 g", "magnet": "none"},
    {"claim": "900", "mass": "24.91 g", "displaced": "2.41 g", "magnet": "none"},
]


def check(row: dict[str, str]) -> dict[str, object]:
    """The decision with its reasons, the likeliest system and the silver in it; or what is wrong with the row."""
    try:
        s = solve(Piece(**row))
    except InputError as e:
        return {"error": str(e), "field": e.path}
    assert s.decision is not None
    return {
        "decision": s.decision.code,
        "reasons": [r.code for r in s.decision.reasons],
        "likely": " ".join(s.found[0].metals),
        "silver_g": round(s.precious["Ag"].high, 2),
    }


if __name__ == "__main__":
    for row in ROWS:
        print(check(row))
