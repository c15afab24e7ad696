"""Time of all pairs and triples of forty metals with ranges, ours beside plainer ways. Prints milliseconds.

python tests/independent/speed_supports.py
"""

from __future__ import annotations

import itertools
import sys
import time
from pathlib import Path

import numpy as np

from alloysolve.exact.pairs import pair_intervals
from tests.exact.triples import triple_ranges

sys.path.insert(0, str(Path(__file__).parent))
from grid_triples import block_program, forty, simplex

RHO, HALF = 8.31, 0.06  # g/cm3


def plain(v, triples, lo, hi):
    """Ideal rule without care for speed: corners and edge solutions of every triple, stacked and masked."""
    few = v[triples]
    points = [np.broadcast_to(np.eye(3)[k], few.shape) for k in range(3)]
    for a, b in ((0, 1), (0, 2), (1, 2)):
        for level in (lo, hi):
            with np.errstate(all="ignore"):
                share = (level - few[:, b]) / (few[:, a] - few[:, b])
            w = np.zeros(few.shape)
            w[:, a], w[:, b] = share, 1 - share
            points.append(w)
    stack = np.stack(points, axis=1)
    level = np.einsum("tpm,tm->tp", stack, few)
    good = (stack >= 0).all(axis=2) & (level >= lo * (1 - 1e-12)) & (level <= hi * (1 + 1e-12))
    low = np.where(good[..., None], stack, np.inf).min(axis=1)
    return low, np.where(good[..., None], stack, -np.inf).max(axis=1)


def coarse(v, triples, lo, hi):
    """Ideal rule on a 1 % grid; returns how many triples it finds."""
    w = simplex(0.01)
    found = 0
    for start in range(0, len(triples), 500):
        at = v[triples[start : start + 500]] @ w
        fits = (at >= lo) & (at <= hi)
        found += fits.any(axis=1).sum()
        for k in range(3):
            np.where(fits, w[k], np.inf).min(axis=1)
            np.where(fits, w[k], -np.inf).max(axis=1)
    return found


def clock(name, function, repeat):
    function()
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        function()
        times.append(1e3 * (time.perf_counter() - start))
    print(f"{name:58s} {np.median(times):9.2f} median {min(times):9.2f} best", flush=True)


def main():
    V, M, k0, k1, beside = forty()
    lo, hi = 1 / (RHO + HALF), 1 / (RHO - HALF)
    triples = np.array(list(itertools.combinations(range(len(M)), 3)))
    rng = np.random.default_rng(1)
    every = np.triu(rng.normal(0, 1.5, k0.shape), 1)
    skew = np.triu(rng.normal(0, 0.4, k0.shape), 1)
    some = skew * (rng.random(k0.shape) < 0.03)
    every, skew, some = every + every.T, skew - skew.T, some - some.T
    widths = rng.uniform(0.999, 1.0, len(triples))

    def both(*law, beside=()):
        pair_intervals(*law, lo, hi)
        return triple_ranges(*law, lo, hi, beside)

    print(f"{len(M)} metals, {len(triples)} triples and all pairs, {RHO} +- {HALF} g/cm3 [ms]")
    clock("ours, ideal rule", lambda: both(V, M, None, None), 30)
    n0, n1 = (np.triu(k != 0, 1).sum() for k in (k0, k1))
    name = f"ours, terms of the tables ({n0} K0, {n1} K1, {len(beside)} beside)"
    clock(name, lambda: both(V, M, k0, k1, beside=beside), 30)
    clock("ours, K0 for every pair", lambda: both(V, M, every, None), 30)
    clock(
        f"ours, K0 for every pair and K1 for {np.triu(some != 0, 1).sum()}",
        lambda: both(V, M, every, some),
        30,
    )
    clock("ours, K0 and K1 for every pair", lambda: both(V, M, every, skew), 10)
    clock("ours, ideal rule, limits per triple", lambda: triple_ranges(V, M, None, None, lo * widths, hi), 30)
    clock(
        "ours, terms of the tables, limits per triple", lambda: triple_ranges(V, M, k0, k1, lo * widths, hi, beside), 30
    )
    clock("plain numpy, ideal rule", lambda: plain(V / M, triples, lo, hi), 10)
    clock("block linear program, ideal rule", lambda: block_program(V / M, triples.tolist(), lo, hi), 1)
    clock("grid of 1 %, ideal rule", lambda: coarse(V / M, triples, lo, hi), 2)
    narrow = 1 / (RHO + 0.01), 1 / (RHO - 0.01)
    ours = triple_ranges(V, M, None, None, *narrow).reaches.sum()
    print(f"triples that fit {RHO} +- 0.01: ours {ours}, grid of 1 % {coarse(V / M, triples, *narrow)}")


if __name__ == "__main__":
    main()
