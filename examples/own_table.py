"""Adds a grade to the shipped tables and prints the answer with it. Run: python examples/own_table.py"""

from __future__ import annotations

from pathlib import Path

import alloysolve as al

OWN = Path(__file__).with_name("own")  # files named like the shipped tables

if __name__ == "__main__":
    medal = al.Piece(name="medal", density="8.74 +- 0.02 g/cm3", conductivity="27 %IACS", magnet="none")
    for tables in (al.Tables(), al.Tables([OWN])):
        first = al.solve(medal, tables=tables).found[0]
        print(f"{len(tables.grades)} grades: {' '.join(first.metals)}, near {first.grades[0]}")
