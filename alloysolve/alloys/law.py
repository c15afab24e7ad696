"""The mixing law in use: element data and pair terms of the tables as arrays, and what they say of compositions."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache
from typing import Any

import numpy as np

from ..arrays import Array, Index
from ..kept import Arrays, kept
from ..physics.mixing import excess_volume, moles_per_gram
from ..physics.resistivity import resistivity_nordheim, two_phase_factor
from ..published.load import Tables, digest
from ..published.metals import Pair

INTERSTITIAL = ("C", "N", "O", "H")  # sit between the atoms: they have mass but no volume
FCC_IRON = "Fe-fcc"
TABLES_OF_LAW = ("metals", "pairs")
ROOMS = ("published", "physics", "alloys")  # whose code makes laws and bodies
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
    """The mixing law of a set of tables, built once per set of tables and kept on disk."""
    made_from = digest(tables, TABLES_OF_LAW)
    return _from_arrays(kept("law", made_from, ROOMS, lambda: _as_arrays(law_with(tables, tables.rows("pairs")))))


def _as_arrays(law: MixingLaw) -> Arrays:
    """A mixing law as arrays by name, as they are kept."""
    return {f.name: np.array(getattr(law, f.name)) for f in fields(law) if f.name != "index"}


def _from_arrays(arrays: Arrays) -> MixingLaw:
    symbols = tuple(map(str, arrays["symbols"]))
    own: dict[str, Any] = {"symbols": symbols, "index": {s: k for k, s in enumerate(symbols)}}
    for name in ("conditional", "two_phase"):  # numbers of metals, then two values
        own[name] = tuple((*map(int, row[:-2]), *row[-2:]) for row in arrays[name].tolist())
    return MixingLaw(**{**arrays, **own})


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


@dataclass(frozen=True)
class Properties:
    """Specific volume [cm3/g] and resistivity [uohm cm], each with the relative scatter of its pair terms."""

    v: Array
    u_v: Array
    resistivity: Array
    u_resistivity: Array


def properties(law: MixingLaw, w: Array) -> Properties:
    """Properties of mass fractions (points, metals) of one family, whose other columns are all zero."""
    used = np.flatnonzero(w.any(axis=0))
    small, part = sub_law(law, used), w[:, used]
    rho, u_rho = small.resistivity_of(part)
    return Properties(small.specific_volume(part), small.u_pairs(part), rho, u_rho)


def sub_law(law: MixingLaw, used: Index) -> MixingLaw:
    """The mixing law restricted to some of its metals."""
    place = {int(i): k for k, i in enumerate(used)}
    square = np.ix_(used, used)
    symbols = tuple(law.symbols[i] for i in used)
    conditional = [
        (place[i], place[j], place[third], least, change)
        for i, j, third, least, change in law.conditional
        if {i, j, third} <= set(place)
    ]
    two_phase = [(place[i], place[j], a, b) for i, j, a, b in law.two_phase if {i, j} <= set(place)]
    return replace(
        law,
        symbols=symbols,
        index={s: k for k, s in enumerate(symbols)},
        molar_mass=law.molar_mass[used],
        molar_volume=law.molar_volume[used],
        resistivity=law.resistivity[used],
        k0=law.k0[square],
        k1=law.k1[square],
        u_k=law.u_k[square],
        c0=law.c0[square],
        c1=law.c1[square],
        c2=law.c2[square],
        u_c=law.u_c[square],
        conditional=tuple(conditional),
        two_phase=tuple(two_phase),
    )


def support_properties(law: MixingLaw, metals: Index, parts: Array) -> Properties:
    """Properties of points that hold few metals each, from the numbers and mass fractions of these, (..., 2 or 3).

    The relations are those of `MixingLaw`, summed over the pairs of each point instead of over all metals.
    """
    return Properties(*support_volume(law, metals, parts), *support_resistivity(law, metals, parts))


def support_volume(law: MixingLaw, metals: Index, parts: Array) -> tuple[Array, Array]:
    """Specific volume [cm3/g] and its relative scatter of points that hold few metals, as in `support_properties`."""
    x, total = _moles(law, metals, parts)
    ideal = _mean(law.molar_volume, metals, x)
    volume, variance = ideal, np.zeros(ideal.shape)
    for (i, one), (j, other) in _pairs(metals, x):
        product, k1 = one * other, law.k1[i, j]
        volume = volume + product * (law.k0[i, j] + (k1 * (one - other) if k1.any() else 0.0))
        variance = variance + (product * law.u_k[i, j]) ** 2
    volume = volume + _conditional(law, metals, parts, x)
    return volume * total, np.sqrt(variance) / ideal


def support_resistivity(law: MixingLaw, metals: Index, parts: Array) -> tuple[Array, Array]:
    """Resistivity [uohm cm] and its relative scatter of points that hold few metals, as in `support_properties`."""
    x, _ = _moles(law, metals, parts)
    linear = _mean(law.resistivity, metals, x)
    rho, variance = linear, np.zeros(linear.shape)
    for (i, one), (j, other) in _pairs(metals, x):
        product, apart, c1, c2 = one * other, one - other, law.c1[i, j], law.c2[i, j]
        rho = rho + product * (law.c0[i, j] + (apart * (c1 + c2 * apart) if c1.any() or c2.any() else 0.0))
        variance = variance + (product * law.u_c[i, j]) ** 2
    for (i, one), (j, other) in _pairs(metals, [parts[..., k] for k in range(metals.shape[-1])]):
        for p, q, share, scale in law.two_phase:
            here = np.broadcast_to(((i == p) & (j == q)) | ((i == q) & (j == p)), rho.shape)
            a, b = one[here], other[here]
            rho[here] *= two_phase_factor(np.minimum(a, b), share * (a + b), scale)
    rho = np.maximum(rho, 0.3 * linear)
    return rho, np.sqrt(variance) / rho


def _moles(law: MixingLaw, metals: Index, parts: Array) -> tuple[list[Array], Array]:
    """Mole fractions of each metal, and the moles in a gram."""
    n = [parts[..., k] / law.molar_mass[metals[..., k]] for k in range(metals.shape[-1])]
    total = sum(n[1:], n[0])
    return [one / total for one in n], total


def _mean(values: Array, metals: Index, x: list[Array]) -> Array:
    """Mean of values of the metals, by mole."""
    return np.asarray(sum(share * values[metals[..., k]] for k, share in enumerate(x)))


def _pairs(metals: Index, parts: list[Array]) -> Iterable[tuple[tuple[Index, Array], tuple[Index, Array]]]:
    """Number and share of both metals of each pair."""
    return itertools.combinations([(metals[..., k], part) for k, part in enumerate(parts)], 2)


def _conditional(law: MixingLaw, metals: Index, parts: Array, x: list[Array]) -> Array | float:
    """Change of molar volume by the terms that hold only if enough of a third metal is present."""
    out: Array | float = 0.0
    if metals.shape[-1] < 3:
        return out
    for i, j, third, least, change in law.conditional:
        has = [metals == k for k in (i, j, third)]
        here = np.logical_and.reduce([h.any(axis=-1) for h in has])
        if here.any():
            one, other = (sum(h[..., k] * share for k, share in enumerate(x)) for h in has[:2])
            beside = here & ((has[2] * parts).sum(axis=-1) >= least)
            out = out + np.where(beside, change * one * other, 0.0)
    return out
