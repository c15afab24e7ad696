"""Materials of skins, faces, slugs and joined parts, as arrays; a skin with a strike under it is a material too."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from ..arrays import Array, Index
from ..published.load import Tables
from .bodies import MAGNETIC
from .law import MixingLaw, mixing_law


@dataclass(frozen=True)
class Layers:
    """Materials of layers and parts; the first are the metals of the mixing law, in its order.

    Attributes
    ----------
    names : symbol, row of skins.csv, or "skin/strike" for a skin over a strike. w : mass fractions (n, metals).
    v : specific volume [cm3/g]. resistivity : [uohm cm]. mu_r : relative permeability. magnetic : number in `MAGNETIC`.
    u_points : scatter of its shares [percentage points].
    strike : number of the material under it, -1 for none. strike_um : its thickness [um].
    group : the first material with the same skin and strike metal, under which they are shown as one.
    """

    law: MixingLaw
    names: tuple[str, ...]
    w: Array
    v: Array
    resistivity: Array
    mu_r: Array
    magnetic: Index
    u_points: Array
    strike: Index
    strike_um: Array
    group: Index

    @cached_property
    def plain(self) -> Index:
        """Number of each material without the strike under it."""
        return np.array([self.number(self.skin_name(k)) for k in range(len(self.names))])

    def number(self, name: str) -> int:
        """Number of a material, from its name."""
        return self.names.index(name)

    def skin_name(self, number: int) -> str:
        """Name of the skin, without what lies under it."""
        return self.names[number].partition("/")[0]

    def strike_name(self, number: int) -> str:
        """Symbol of the strike under a skin, or ""."""
        return self.names[number].partition("/")[2].partition(" ")[0]


@cache
def layers_of(tables: Tables) -> Layers:
    """The materials of a set of tables: metals, rows of skins.csv, and each of those over each strike."""
    law = mixing_law(tables)
    rows = [r for r in tables.rows("skins") if r.name not in law.index]
    w = np.vstack([np.eye(len(law.symbols)), law.fractions([r.composition for r in rows], "")])
    v, rho = law.specific_volume(w), law.resistivity_of(w)[0]
    names = [*law.symbols, *(r.name for r in rows)]
    mu, magnetic, points = np.ones(len(names)), np.zeros(len(names), dtype=np.intp), np.zeros(len(names))
    for symbol, metal in tables.metals.items():
        if metal.magnetic == "strong":
            magnetic[names.index(symbol)], mu[names.index(symbol)] = 2, 100.0
    for r in tables.rows("skins"):
        k = names.index(r.name)
        v[k] = 1 / r.density_g_cm3 if r.density_g_cm3 else v[k]
        rho[k] = r.resistivity_uohm_cm or rho[k]
        mu[k], magnetic[k], points[k] = r.mu_r, MAGNETIC.index(r.magnetic), r.u_points or 0.0
    plain = np.arange(len(names))
    skin, under, um, group = [plain], [np.full(len(names), -1)], [np.zeros(len(names))], [plain]
    for s in tables.rows("strikes"):
        label = [n for n in names if n.endswith(f"/{s.metal}")]
        first = names.index(label[0]) if label else len(names)
        skin.append(plain)
        under.append(np.full(len(plain), names.index(s.metal)))
        um.append(np.full(len(plain), s.um))
        group.append(first + plain)
        names += [f"{names[k]}/{s.metal}" + (f" {s.um:g}" if label else "") for k in plain]
    at = np.concatenate(skin)
    return Layers(
        law,
        tuple(names),
        w[at],
        v[at],
        rho[at],
        mu[at],
        magnetic[at],
        points[at],
        np.concatenate(under),
        np.concatenate(um),
        np.concatenate(group),
    )
