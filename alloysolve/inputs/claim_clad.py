"""Claims of clad stock: which row of clad.csv is meant."""

from __future__ import annotations

from collections.abc import Sequence

from ..published.load import Tables
from ..published.wares import CladStock
from .claim_words import Material, Said

MEAN = 2.0  # percent of silver by which a clad coin may differ from the figure that is said


def stock_said(skin: Material, body: Said | None, marks: Sequence[Said], tables: Tables) -> CladStock | None:
    """The row of clad.csv that is meant; None if the tables have no such stock, and the layer is taken as bonded on."""
    faces = {r.name: r.composition for r in tables.rows("skins")}
    rows: list[CladStock] = []
    for r in tables.rows("clad"):
        same = r.faces == skin.layer or bool(
            skin.metal and max(faces[r.faces].items(), key=lambda x: x[1])[0] == skin.metal
        )
        cored = body is None or r.core in body.value.families
        if same and cored and (not marks or _mean_is(r, skin.metal, marks[0].value, tables)):
            rows.append(r)
    return rows[0] if rows else None


def _mean_is(stock: CladStock, metal: str, percent: float, tables: Tables) -> bool:
    """Whether a clad coin holds about so much of a metal on the whole, by mass [percent]."""
    made = {r.name: r.composition for r in tables.rows("skins")}
    core = made.get(stock.core, {})
    volume = [sum(x / tables.metals[s].density_g_cm3 for s, x in c.items()) for c in (made[stock.faces], core)]
    mass = [part * 100 / v if v else 0.0 for part, v in zip((stock.share, 1 - stock.share), volume, strict=True)]
    mean = sum(m * c.get(metal, 0.0) for m, c in zip(mass, (made[stock.faces], core), strict=True)) / sum(mass)
    return bool(metal and core) and abs(mean - percent) <= MEAN
