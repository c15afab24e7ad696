"""How common each family is thought to be: from the words of the table, all equal, or from a file of one's own."""

from __future__ import annotations

import csv
import math
import os
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.claimed_regions import families_holding
from ..alloys.law import mixing_law
from ..alloys.regions import held
from ..arrays import Array, Mask
from ..entry import shown, unknown
from ..errors import InputError
from ..inputs.claim import Claim
from ..published.load import Tables

HOMOGENEOUS = "homogeneous"  # in coins.csv
USUAL = "common"  # word of commonness.csv from which an alloy is usual
UNNAMED = "rare"  # word for alloys that no family holds
LEAST = "very rare"  # word for an alloy that is claimed, where nobody else would expect it
TRACES = 0.5  # percent that it may hold of metals that its family does not name: 1 of zinc halves what silver conducts
LEFT_OUT = 1e-6  # of the sum of all weights
NAMES = '"default", "flat" or a CSV file of family and weight'
STEP = "write lines of family,weight below a first line that says so, as in: brass,3"


@dataclass(frozen=True, slots=True)
class NamedPrior:
    """A prior by its name and the text of its file, so that an edited file is another prior.

    `name` : "default", "flat" or the path of a CSV file. `text` : what stands in the file; "" without one.
    """

    name: str
    text: str = ""


DEFAULT, FLAT = NamedPrior("default"), NamedPrior("flat")


def named_prior(given: str | os.PathLike[str] | NamedPrior) -> NamedPrior:
    """The prior of a name, or of a CSV file, which is read once.

    Raises
    ------
    InputError
        For another name, and for a file that cannot be read.
    """
    if isinstance(given, NamedPrior):
        return given
    if not isinstance(given, str | os.PathLike):
        raise InputError("prior", shown(given), NAMES, "choose one of them")
    name = os.fspath(given)
    if name in (DEFAULT.name, FLAT.name):
        return NamedPrior(name)
    if not name.endswith(".csv"):
        raise InputError("prior", shown(name), NAMES, "choose one of them")
    try:
        return NamedPrior(name, Path(name).read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("prior", name, "a text file that can be read", STEP) from error


def family_weights(tables: Tables, kind: str, prior: NamedPrior) -> dict[str, float]:
    """Share of each family under a kind of claim; "flat" gives every family the same share.

    A file has the columns family and weight. Families that it leaves out are given next to nothing (`LEFT_OUT`), so
    that every construction keeps a body.
    """
    if prior == FLAT:
        raw = dict.fromkeys(tables.families, 1.0)
    elif prior == DEFAULT:
        raw = dict(zip(tables.families, _of_families(tables, kind).tolist(), strict=True))
    else:
        own = own_weights(tables, prior)
        raw = dict.fromkeys(tables.families, LEFT_OUT * sum(own.values())) | own
    total = sum(raw.values())
    return {family: weight / total for family, weight in raw.items()}


def usual_alloys(tables: Tables, claim: Claim, bodies: Bodies) -> Mask:
    """Which compositions that a claim allows are of its usual alloys.

    They are of a family that is common under such claims, or of which an alloy or coin of that fineness is published.
    Whoever names a family or a layer asks for no other alloy: then all are.
    """
    if claim.families or claim.plated or claim.clad:
        return np.ones(len(bodies.v), dtype=bool)
    published = _published(tables)
    of_claim = np.any([held(bodies.law, 100 * published, r.limits) for r in claim.regions], axis=0)
    usual = _of_families(tables, claim.kind) >= _weights(tables)[USUAL]
    usual |= families_holding(tables, published[of_claim]).any(axis=0)
    out = (bodies.grade >= 0) | (families_holding(tables, bodies.w, TRACES) & usual).any(axis=1)
    return out if out.any() else ~out


def by_commonness(tables: Tables, kind: str, bodies: Bodies) -> Bodies:
    """Bodies of finenesses, in each of which the families share the weight by how common they are under such claims.

    Compositions that no family holds are rare.
    """
    weights = _weights(tables)
    common = np.where(families_holding(tables, bodies.w, TRACES), _of_families(tables, kind), -1.0)
    family = np.where(common.max(axis=1) >= 0, common.argmax(axis=1), len(tables.families))
    share = np.append(np.maximum(_of_families(tables, kind), weights[LEAST]), weights[UNNAMED])[family]
    together = bodies.family * (len(tables.families) + 1) + family
    weight = share / np.bincount(together)[together]
    return replace(bodies, weight=weight / np.bincount(bodies.family, weight)[bodies.family])


def _of_families(tables: Tables, kind: str) -> Array:
    """Weight of each family under a kind of claim."""
    weights = _weights(tables)
    return np.array([weights[getattr(f, kind)] for f in tables.families.values()])


def _weights(tables: Tables) -> dict[str, float]:
    return {w.word: w.weight for w in tables.rows("commonness")}


@cache
def _published(tables: Tables) -> Array:
    """Published alloys, and alloys of coins, as mass fractions (alloys, metals)."""
    coins = [coin.composition for coin in tables.rows("coins") if coin.construction == HOMOGENEOUS]
    return mixing_law(tables).fractions([g.composition for g in tables.grades.values()] + coins)


def own_weights(tables: Tables, prior: NamedPrior) -> dict[str, float]:
    """Weights of families from a CSV file with the columns family and weight."""
    read, file, weights = csv.DictReader(prior.text.splitlines()), prior.name, dict[str, float]()
    if not {"family", "weight"} <= set(read.fieldnames or ()):
        raise InputError(f"{file} line 1", ",".join(read.fieldnames or ())[:60], "the columns family and weight", STEP)
    for line, row in enumerate(read, start=2):
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
