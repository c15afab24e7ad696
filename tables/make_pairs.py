"""Regenerates pairs.csv from the published points and grades: python tables/make_pairs.py [FOLDER]."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

from alloysolve.published.load import Tables
from alloysolve.published.metals import Pair
from tables.fit.pairs import pair_rows


def main(target: Path) -> None:
    """Writes pairs.csv into a folder."""
    names = list(Pair._fields)
    with (target / "pairs.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(names)
        for row in pair_rows(Tables()):
            writer.writerow(["" if v is None else v for v in (getattr(row, n) for n in names)])


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
