"""Puts bodies together, family by family: predicted properties, those of published grades, and metal systems."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Index, Mask
from ..physics.magnet import magnetic_class
from ..physics.resistivity import IACS_UOHM_CM
from ..published.load import Tables
from ..published.metals import Grade
from .bodies import MAGNETIC, RESISTIVITY_SCATTER, Bodies
from .law import INTERSTITIAL, MixingLaw, Properties, mixing_law, properties

SYSTEM_FROM = 0.05  # mass fraction from which a metal belongs to the system
RESISTIVITY_PUBLISHED = 0.04  # relative scatter of a published grade
COARSE = 4
THREE_DIGITS = "three digits"  # mark of the best published densities


class Builder:
    """Collects points, with one call per family."""

    def __init__(self, tables: Tables, law: MixingLaw | None = None) -> None:
        self.tables = tables
        self.law = law or mixing_law(tables)
        self.names: list[str] = []
        self.grades: list[str] = []
        self.systems: dict[tuple[str, ...], int] = {}
        self.parts: list[dict[str, NDArray[np.generic]]] = []

    def add(
        self,
        name: str,
        w: Array,
        weight: Array,
        own: Mask,
        sigma: float,
        porosity: float,
        magnetic: str,
        grades: Sequence[Grade | None] = (),
        predicted: Properties | None = None,
    ) -> None:
        """Adds the points of one family; published values of a grade override what is predicted.

        A density printed with fewer than three digits does so only where the law would predict it less well.

        `own` says which metals belong to the system whatever their share, for all points or for each.
        `magnetic` is the family's class, or "" to take it from each composition.
        """
        p = predicted or properties(self.law, w)
        size, v, rho = len(w), p.v * (1 + porosity / 100), p.resistivity
        scatter = np.sqrt((sigma / 100) ** 2 + (porosity / 100) ** 2 + p.u_v**2)
        u_rho = np.hypot(p.u_resistivity, RESISTIVITY_SCATTER)
        number = np.full(size, -1)
        for k, g in enumerate(grades):
            if g is None:
                continue
            published = max(g.u_density_g_cm3 / g.density_g_cm3, sigma / 200)
            if g.mark == THREE_DIGITS or published < scatter[k]:
                v[k], scatter[k] = 1 / g.density_g_cm3, published
            if g.conductivity_iacs:
                rho[k] = IACS_UOHM_CM / g.conductivity_iacs
                u_rho[k] = max(RESISTIVITY_PUBLISHED, (g.u_conductivity_iacs or 0) / g.conductivity_iacs)
            number[k] = len(self.grades)
            self.grades.append(g.name)
        self.names.append(name)
        self.parts.append(
            {
                "w": w,
                "v": v,
                "sigma": scatter,
                "resistivity": rho,
                "u_resistivity": u_rho,
                "magnetic": self._magnetic(w, magnetic),
                "family": np.full(size, len(self.names) - 1),
                "grade": number,
                "system": self._system(w, own),
                "weight": weight / weight.sum(),
                "coarse": _coarse(weight, len(grades)),
            }
        )

    def _magnetic(self, w: Array, magnetic: str) -> Index:
        if magnetic:
            return np.full(len(w), MAGNETIC.index(magnetic))
        iron, nickel, cobalt = (w[:, self.law.index[s]] for s in ("Fe", "Ni", "Co"))
        return magnetic_class(iron, nickel, cobalt)

    def metals(self, symbols: Iterable[str]) -> Mask:
        """Which metals of the law are among some symbols."""
        out = np.zeros(len(self.law.symbols), dtype=bool)
        out[[self.law.index[s] for s in symbols if s in self.law.index]] = True
        return out

    def _system(self, w: Array, own: Mask) -> Index:
        """Number of the system of each composition: its own metals and all others of at least 5 %."""
        symbols = [s.removesuffix("-fcc") for s in self.law.symbols]
        present = w >= SYSTEM_FROM - 1e-9
        present[:, [i for i, s in enumerate(symbols) if s in INTERSTITIAL]] = False
        present |= own
        key = present @ (np.int64(1) << np.arange(len(symbols), dtype=np.int64))
        _, first, inverse = np.unique(key, return_index=True, return_inverse=True)
        numbers = []
        for pattern in present[first]:
            metals = {symbols[i] for i in np.flatnonzero(pattern)}
            numbers.append(self.systems.setdefault(tuple(sorted(metals)), len(self.systems)))
        return np.array(numbers)[inverse.ravel()]

    def done(self) -> Bodies:
        """All points as one set of arrays."""
        columns: dict[str, Any] = {k: np.concatenate([p[k] for p in self.parts]) for k in self.parts[0]}
        return Bodies(self.law, tuple(self.names), tuple(self.grades), tuple(self.systems), **columns)


def _coarse(weight: Array, named: int) -> Array:
    """Weights with those of the first `named` points kept and those of the others given to every fourth of them."""
    others = np.arange(len(weight)) >= named
    out = np.where(others & (np.arange(len(weight)) % COARSE > 0), 0.0, weight)
    if out[others].sum() > 0:
        out[others] *= weight[others].sum() / out[others].sum()
    return np.asarray(out / out.sum())
