"""Rows of the tables as regions of compositions."""

from __future__ import annotations

from ..alloys.claimed_regions import Region
from ..published.load import Tables
from ..published.metals import Family
from ..published.wares import CladStock, ClaimRegion

CLAIM_SLACK = 0.003  # mass fraction by which a body may miss its fineness and still be as claimed
CORE_SLACK = 0.5  # percent by which the core of clad stock may differ from its composition (judgement)
CORE_SCATTER = 0.3  # percent, of its density: that of billon


def of_claim(r: ClaimRegion, magnetic: str) -> Region:
    """The region of a fineness, with its class of magnet."""
    return Region(r.claim, r.limits, r.sigma_percent, magnetic=magnetic)


def of_family(f: Family) -> Region:
    """The region of a family."""
    return Region(f.family, f.limits, f.sigma_percent, f.porosity_percent, f.magnetic, f.iron, tuple(f.system.split()))


def of_core(tables: Tables, stock: CladStock) -> Region:
    """The compositions of the core of clad stock: those of a family, or one of skins.csv."""
    if stock.core in tables.families:
        return of_family(tables.families[stock.core])
    made = next(r.composition for r in tables.rows("skins") if r.name == stock.core)
    limits = {s: (max(0.0, x - CORE_SLACK), min(100.0, x + CORE_SLACK)) for s, x in made.items()}
    return Region(stock.core, limits, CORE_SCATTER)
