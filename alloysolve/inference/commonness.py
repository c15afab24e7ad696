"""How common each family is thought to be: from the words of the table, all equal, or from a file of one's own."""

from __future__ import annotations

import csv
import math
from pathlib import Path

from ..entry import unknown
from ..errors import InputError
from ..published.load import Tables

LEFT_OUT = 1e-6  # of the sum of all weights
STEP = "write lines of family,weight below a first line that says so, as in: brass,3"


def family_weights(tables: Tables, kind: str, name: str) -> dict[str, float]:
    """Share of each family under a kind of claim; "flat" gives every family the same share.

    A `name` that ends in .csv is a file with the columns family and weight. Families that it leaves out are given
    next to nothing (`LEFT_OUT`), so that every construction keeps a body.
    """
    words = {w.word: w.weight for w in tables.rows("commonness")}
    if name == "flat":
        raw = dict.fromkeys(tables.families, 1.0)
    elif name == "default":
        raw = {f.family: words[getattr(f, kind)] for f in tables.families.values()}
    elif name.endswith(".csv"):
        own = own_weights(tables, name)
        raw = dict.fromkeys(tables.families, LEFT_OUT * sum(own.values())) | own
    else:
        raise InputError("prior", name, '"default", "flat" or a CSV file of family and weight', "choose one of them")
    total = sum(raw.values())
    return {family: weight / total for family, weight in raw.items()}


def own_weights(tables: Tables, file: str) -> dict[str, float]:
    """Weights of families from a CSV file with the columns family and weight."""
    try:
        rows = list(csv.DictReader(Path(file).read_text(encoding="utf-8").splitlines()))
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("prior", file, "a text file that can be read", STEP) from error
    weights = {}
    for line, row in enumerate(rows, start=2):
        family, weight = row.get("family") or "", row.get("weight") or ""
        if family not in tables.families:
            raise unknown(f"{file} line {line}", family, tables.families, "a family of families.csv")
        weights[family] = _weight(weight)
        if not 0 <= weights[family] < math.inf:
            raise InputError(f"{file} line {line}", weight, "a weight, 0 or more", STEP)
    if not sum(weights.values()) > 0:
        raise InputError("prior", file, "at least one family of weight above 0", STEP)
    return weights


def _weight(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan
