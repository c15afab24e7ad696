"""The mixing law in use: element data and pair terms of the tables as arrays."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ..physics.mixing import excess_volume, moles_per_gram
from ..physics.resistivity import resistivity_nordheim, two_phase_factor
from ..published.load import Tables
from ..published.metals import Pair

Array = NDArray[np.float64]

INTERSTITIAL = ("C", "N", "O", "H")  # sit between the atoms: they have mass but no volume
FCC_IRON = "Fe-fcc"
UNKNOWN_RESISTIVITY = 100.0  # uohm cm, for the few elements without a value; only as minor parts


@dataclass(frozen=True)
class MixingLaw:
    """Element data and pair terms as arrays over `symbols`.

    Attributes
    ----------
    molar_volume : cm3/mol, 0 for interstitials. k0, k1, u_k : excess terms [cm3/mol] and their scatter.
    conditional : excess terms that replace a pair's own if enough of a third metal is present, as
        (i, j, third, least mass fraction, change of K0).
    resistivity, c0, c1, c2, u_c : of pure metals and pairs [uohm cm].
    two_phase : (i, j, share, scale) of eutectic pairs.
    """

    symbols: tuple[str, ...]
    index: Mapping[str, int]
    molar_mass: Array
    molar_volume: Array
    k0: Array
    k1: Array
    u_k: Array
    conditional: tuple[tuple[int, int, int, float, float], ...]
    resistivity: Array
    c0: Array
    c1: Array
    c2: Array
    u_c: Array
    two_phase: tuple[tuple[int, int, float, float], ...]

    def fractions(self, compositions: Iterable[Mapping[str, float]], iron: str = "") -> Array:
        """Mass fractions (rows, metals) that sum to 1, from compositions in percent."""
        rows = list(compositions)
        w = np.zeros((len(rows), len(self.symbols)))
        for r, composition in enumerate(rows):
            for symbol, percent in composition.items():
                name = FCC_IRON if (symbol == "Fe" and iron == "fcc") else symbol
                w[r, self.index[name]] = percent
        return np.asarray(w / w.sum(axis=1, keepdims=True))

    def columns(self, symbols: Sequence[str], percent: Array, iron: str = "") -> Array:
        """Mass fractions (rows, metals) that sum to 1, from columns of percent for `symbols`."""
        w = np.zeros((len(percent), len(self.symbols)))
        named = [FCC_IRON if (s == "Fe" and iron == "fcc") else s for s in symbols]
        w[:, [self.index[s] for s in named]] = percent
        return np.asarray(w / w.sum(axis=1, keepdims=True))

    def specific_volume(self, w: Array) -> Array:
        """Specific volume [cm3/g] of mass fractions (..., m), excess terms included."""
        n = moles_per_gram(w, self.molar_mass)
        v = n @ self.molar_volume + excess_volume(n, self.k0, self.k1)
        for i, j, third, least, change in self.conditional:
            beside = w[..., third] >= least
            v = v + np.where(beside, change * n[..., i] * n[..., j] / n.sum(axis=-1), 0.0)
        return np.asarray(v)

    def u_pairs(self, w: Array) -> Array:
        """Relative scatter of v from the pair terms alone: root of the sum of (x_i x_j u_K)^2 over V, (...)."""
        n = moles_per_gram(w, self.molar_mass)
        total = n.sum(axis=-1)
        variance = 0.5 * np.einsum("...i,...i->...", (n**2) @ self.u_k**2, n**2)
        return np.asarray(np.sqrt(variance) / total / (n @ self.molar_volume))

    def resistivity_of(self, w: Array) -> tuple[Array, Array]:
        """Resistivity at 20 degC [uohm cm] and its relative scatter from the pair terms, of mass fractions (..., m)."""
        n = moles_per_gram(w, self.molar_mass)
        x = n / n.sum(axis=-1, keepdims=True)
        rho = resistivity_nordheim(x, self.resistivity, self.c0, self.c1, self.c2)
        for i, j, share, scale in self.two_phase:
            # a third metal that dissolves both leaves less to separate, so the factor scales with their sum
            minor, together = np.minimum(w[..., i], w[..., j]), w[..., i] + w[..., j]
            rho = rho * two_phase_factor(minor, share * together, scale)
        variance = 0.5 * np.einsum("...i,...i->...", (x**2) @ self.u_c**2, x**2)
        floor = 0.3 * (x @ self.resistivity)  # pair terms may be negative; a mixture is no better conductor
        rho = np.maximum(rho, floor)
        return rho, np.sqrt(variance) / rho


def element_arrays(tables: Tables) -> tuple[tuple[str, ...], Array, Array, Array]:
    """Symbols, molar masses [g/mol], molar volumes [cm3/mol] and resistivities [uohm cm] of the metals.

    Interstitials have no volume; an element without a resistivity is given that of a poor conductor.
    """
    metals = tables.metals.values()
    mass = np.array([m.molar_mass_g_mol for m in metals])
    volume = mass / np.array([m.density_g_cm3 for m in metals])
    volume[[s in INTERSTITIAL for s in tables.metals]] = 0.0
    rho = np.array([m.resistivity_uohm_cm or UNKNOWN_RESISTIVITY for m in metals])
    return tuple(tables.metals), mass, volume, rho


@cache
def mixing_law(tables: Tables) -> MixingLaw:
    """The mixing law of a set of tables, built once per set of tables."""
    return law_with(tables, tables.rows("pairs"))


def law_with(tables: Tables, pairs: Iterable[Pair]) -> MixingLaw:
    """The mixing law of the metals of `tables` with other pair terms, e.g. those of a fit without some points."""
    symbols, mass, volume, rho = element_arrays(tables)
    index = {s: i for i, s in enumerate(symbols)}
    rows = list(pairs)
    plain = [(index[r.first], index[r.second], r) for r in rows if not r.beside]
    own = {frozenset((r.first, r.second)): r.excess_0_cm3_mol for _, _, r in plain}
    conditional = tuple(
        (
            index[r.first],
            index[r.second],
            index[r.beside],
            r.beside_percent / 100,
            r.excess_0_cm3_mol - own.get(frozenset((r.first, r.second)), 0.0),
        )
        for r in rows
        if r.beside
    )
    two_phase = tuple((i, j, r.two_phase_share, r.two_phase_percent / 100) for i, j, r in plain if r.two_phase_share)

    def matrix(column: str, sign: float = 1.0) -> Array:
        out = np.zeros((len(symbols), len(symbols)))
        for i, j, row in plain:
            out[i, j] = getattr(row, column)
            out[j, i] = sign * out[i, j]
        return out

    return MixingLaw(
        symbols,
        index,
        mass,
        volume,
        matrix("excess_0_cm3_mol"),
        matrix("excess_1_cm3_mol", -1.0),
        matrix("u_excess_cm3_mol"),
        conditional,
        rho,
        matrix("resistivity_0_uohm_cm"),
        matrix("resistivity_1_uohm_cm", -1.0),
        matrix("resistivity_2_uohm_cm"),
        matrix("u_resistivity_uohm_cm"),
        two_phase,
    )
