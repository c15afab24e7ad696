"""Specific volume of a mixture of metals: the ideal rule, and excess terms."""

from __future__ import annotations

import numpy as np

from ..arrays import Array, Index


def moles_per_gram(w: Array, molar_mass: Array) -> Array:
    """Moles of each metal in a gram of the mixture, ``n_i = w_i / M_i`` [mol/g], (..., m).

    Parameters
    ----------
    w : mass fractions (..., m). molar_mass : [g/mol], (m,).
    """
    return np.asarray(w / molar_mass)


def excess_volume(n: Array, k0: Array, k1: Array) -> Array:
    """Excess volume of a mixture over the ideal rule [cm3/g], (...), of Redlich-Kister form, summed over pairs.

    v_E = sum_{i<j} n_i n_j (K0_ij + K1_ij (n_i - n_j) / N) / N, N = sum n_i.

    Parameters
    ----------
    n : moles per gram, (..., m) [mol/g].
    k0 : symmetric (m, m), zero diagonal [cm3/mol].
    k1 : antisymmetric (m, m) [cm3/mol]; the sign refers to the metal of the row.

    Notes
    -----
    Valid inside the fitted range of each pair (columns of pairs.csv). Source: Redlich and Kister, Ind. Eng.
    Chem. 40 (1948) 345.
    """
    total = n.sum(axis=-1)
    second = 0.5 * np.einsum("...i,...i->...", n @ k0, n)
    third = np.einsum("...i,...i->...", n**2, n @ k1.T)
    return np.asarray(second / total + third / total**2)


def pair_products(n: Array, first: Index, second: Index) -> tuple[Array, Array]:
    """Factors of K0 and of K1 of each pair in the excess volume, two arrays (..., pairs) [mol/g].

    Parameters
    ----------
    n : moles per gram, (..., m) [mol/g]. first, second : numbers of the metals of each pair, (pairs,).

    Source: the terms of `excess_volume`, Redlich and Kister (1948).
    """
    total = n.sum(axis=-1, keepdims=True)
    product = n[..., first] * n[..., second] / total
    return product, product * (n[..., first] - n[..., second]) / total
