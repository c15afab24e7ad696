"""Prints what two sets of readings would show under two claims. Run: python examples/routine.py"""

from __future__ import annotations

import pandas as pd

import alloysolve as al

ROUTINES = {"scale and magnet": ["weighing", "magnet"], "with a meter": ["weighing", "magnet", "conductivity"]}
PIECES = [{"claim": "silver 999", "mass": "31.1 g"}, {"claim": "gold 999", "mass": "31.1 g"}]

if __name__ == "__main__":
    for piece in PIECES:
        found = {name: al.routine(piece, readings).table.set_index("class") for name, readings in ROUTINES.items()}
        shown = pd.DataFrame({name: table["word"] for name, table in found.items()})
        print(f"{piece['claim']}, {piece['mass']}")
        print(shown.join(found["with a meter"]["closed_by"]).to_string(), end="\n\n")
