"""Predicted properties of many compositions, each computed over the metals it really holds."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..physics.resistivity import two_phase_factor
from .law import MixingLaw

Array = NDArray[np.float64]
Index = NDArray[np.intp]


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
    """Properties of points that hold few metals each, from the numbers and mass fractions of these, (points, 2 or 3).

    The relations are those of `MixingLaw`, summed over the pairs of each point instead of over all metals.
    """
    n = parts / law.molar_mass[metals]
    total = n.sum(axis=1)
    x = n / total[:, None]
    volume, rho = (x * law.molar_volume[metals]).sum(axis=1), (x * law.resistivity[metals]).sum(axis=1)
    ideal = volume.copy()
    variance, variance_rho, factor = np.zeros(len(n)), np.zeros(len(n)), np.ones(len(n))
    size = metals.shape[1]
    for a, b in itertools.combinations(range(size), 2):
        i, j = metals[:, a], metals[:, b]
        product, apart = x[:, a] * x[:, b], x[:, a] - x[:, b]
        volume += product * (law.k0[i, j] + law.k1[i, j] * apart)
        rho += product * (law.c0[i, j] + law.c1[i, j] * apart + law.c2[i, j] * apart**2)
        variance += (product * law.u_k[i, j]) ** 2
        variance_rho += (product * law.u_c[i, j]) ** 2
        for p, q, share, scale in law.two_phase:
            here = ((i == p) & (j == q)) | ((i == q) & (j == p))
            one, two = parts[here, a], parts[here, b]
            factor[here] *= two_phase_factor(np.minimum(one, two), share * (one + two), scale)
    volume += _conditional(law, metals, parts, x)
    rho = np.maximum(rho * factor, 0.3 * (x * law.resistivity[metals]).sum(axis=1))
    return Properties(volume * total, np.sqrt(variance) / ideal, rho, np.sqrt(variance_rho) / rho)


def _conditional(law: MixingLaw, metals: Index, parts: Array, x: Array) -> Array:
    """Change of molar volume by the terms that hold only if enough of a third metal is present."""
    out = np.zeros(len(metals))
    if metals.shape[1] < 3:
        return out
    for i, j, third, least, change in law.conditional:
        has = [(metals == k) for k in (i, j, third)]
        here = has[0].any(axis=1) & has[1].any(axis=1) & ((has[2] * parts).sum(axis=1) >= least)
        out[here] = change * (has[0] * x).sum(axis=1)[here] * (has[1] * x).sum(axis=1)[here]
    return out
