"""All pairs of some metals at once, with limits that are checked: the form in which the tests ask."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from alloysolve.arrays import Array, Index
from alloysolve.errors import InputError
from alloysolve.exact.pairs import edge_intervals, mixing_terms


def check_band(v_lo: ArrayLike, v_hi: ArrayLike, count: int) -> tuple[Array, Array]:
    """Limits of the specific volume [cm3/g] as float arrays, each one number or (count,).

    Raises
    ------
    InputError
        If a limit is not finite, the lower is above the upper, or the count is wrong.
    """
    lo, hi = np.asarray(v_lo, dtype=float), np.asarray(v_hi, dtype=float)
    for name, limit in (("v_lo", lo), ("v_hi", hi)):
        if limit.shape not in ((), (count,)) or not np.isfinite(limit).all():
            raise InputError(name, f"array {limit.shape}", f"one finite number or {count}", f"mend {name}")
    if (lo > hi).any():
        given = f"above v_hi by {np.max(lo - hi):.3g}"
        raise InputError("v_lo", given, "lower limits not above the upper", "swap the limits")
    return lo, hi


@lru_cache(maxsize=8)
def pair_indices(size: int) -> tuple[Index, Index]:
    """Numbers of the first and second metal of every pair, in the order of `numpy.triu_indices`; read-only."""
    first, second = np.triu_indices(size, 1)
    first.flags.writeable = second.flags.writeable = False
    return first, second


def pair_intervals(
    V: ArrayLike, M: ArrayLike, K0: ArrayLike | None, K1: ArrayLike | None, v_lo: ArrayLike, v_hi: ArrayLike
) -> tuple[Array, Array]:
    """Mass fractions of the first metal for which a pair has a specific volume within limits.

    Parameters
    ----------
    V, M, K0, K1 : the mixing law, as in `mixing_terms`.
    v_lo, v_hi : limits of the specific volume [cm3/g]; one number, or one per pair.

    Returns
    -------
    lo, hi : arrays (m (m - 1) / 2, 3), NaN padded; pairs in the order of ``numpy.triu_indices(m, 1)``.
        There is more than one interval only where v turns inside the pair.

    Examples
    --------
    A metal of 8 g/cm3 and one of 10 g/cm3 that mix ideally, at 8.888... to 9.0 g/cm3:

    >>> lo, hi = pair_intervals([12.5, 10.0], [100.0, 100.0], None, None, 1 / 9, 0.1125)
    >>> round(float(lo[0, 0]), 6), round(float(hi[0, 0]), 6)
    (0.444444, 0.5)
    """
    terms = mixing_terms(V, M, K0, K1)
    first, second = pair_indices(len(terms.u))
    lo, hi = check_band(v_lo, v_hi, len(first))
    return edge_intervals(terms, first, second, lo, hi)
