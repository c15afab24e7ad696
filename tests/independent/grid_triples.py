"""Triples against slow second ways: a fine composition grid, a block linear program, single programs.

    python tests/independent/grid_triples.py [triples on the 0.1 % grid, default 1500]

Metals and excess terms are those of the tables, every law with its terms beside a third metal.
"""

from __future__ import annotations

import itertools
import sys
import time

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import block_diag, csr_matrix, vstack

from alloysolve.alloys.law import INTERSTITIAL, mixing_law
from alloysolve.published.load import default_tables
from tests.exact.triples import triple_ranges

BANDS = ((8.31, 0.06), (8.70, 0.02), (10.3, 0.05), (17.46, 0.05), (7.3, 0.03))  # g/cm3


def forty():
    """Forty metals of the tables: those of the terms beside a third metal and the first others."""
    law = mixing_law(default_tables())
    needed = {n for c in law.conditional for n in c[:3]}
    rest = [n for n, s in enumerate(law.symbols) if s not in INTERSTITIAL and n not in needed and s != "Fe-fcc"]
    take = sorted([*needed, *rest[: 40 - len(needed)]])
    place = {n: k for k, n in enumerate(take)}
    square = np.ix_(take, take)
    beside = [(place[i], place[j], place[t], least, change) for i, j, t, least, change in law.conditional]
    return law.molar_volume[take], law.molar_mass[take], law.k0[square], law.k1[square], beside


def simplex(step):
    n = round(1 / step)
    a, b = np.meshgrid(np.arange(n + 1), np.arange(n + 1), indexing="ij")
    keep = a + b <= n
    return np.stack([a[keep], b[keep], n - a[keep] - b[keep]]) / n


def grid_volume(w, metals, V, M, k0, k1, beside):
    """v on the grid, written out pair by pair."""
    n = [w[a] / M[m] for a, m in enumerate(metals)]
    total = n[0] + n[1] + n[2]
    v = sum(n[a] * V[m] for a, m in enumerate(metals))
    for a, b in ((0, 1), (0, 2), (1, 2)):
        i, j = metals[a], metals[b]
        if k0[i, j] or k1[i, j]:
            v = v + n[a] * n[b] / total * (k0[i, j] + k1[i, j] * (n[a] - n[b]) / total)
    for i, j, third, least, change in beside:
        if sorted((i, j, third)) == list(metals):
            a, b, c = (metals.index(m) for m in (i, j, third))
            v = v + np.where(w[c] >= least, change * n[a] * n[b] / total, 0.0)
    return v


def met_on_line(share, k, metals, lo, hi, law):
    """Does v come within the limits somewhere on the line w_k = share? (v is continuous there)"""
    t = np.linspace(0, 1 - share, 20001)
    w = np.empty((3, len(t)))
    w[k], w[(k + 1) % 3], w[(k + 2) % 3] = share, t, 1 - share - t
    v = grid_volume(w, metals, *law)
    return v.min() <= hi * (1 + 1e-7) and v.max() >= lo * (1 - 1e-7)


def against_grid(count, step, rng):
    V, M, k0, k1, beside = forty()
    triples = list(itertools.combinations(range(len(M)), 3))
    special = [t for t, m in enumerate(triples) if any(sorted(b[:3]) == list(m) for b in beside)]
    chosen = sorted({*special, *rng.choice(len(triples), min(count, len(triples)), replace=False).tolist()})
    w = simplex(step)
    rows = []
    for rho, half in BANDS:
        lo, hi = 1 / (rho + half), 1 / (rho - half)
        ours = triple_ranges(V, M, k0, k1, lo, hi, beside)
        outside = beyond = proven = missed = reached = bad_inside = 0
        worst = 0.0
        for t in chosen:
            metals = triples[t]
            v = grid_volume(w, metals, V, M, k0, k1, beside)
            fits = (v >= lo) & (v <= hi)
            if ours.reaches[t]:
                at = ours.inside[t][:, None]
                v_in = grid_volume(at, metals, V, M, k0, k1, beside)[0]
                bad_inside += not lo * (1 - 1e-9) <= v_in <= hi * (1 + 1e-9)
            if not fits.any():
                missed += bool(ours.reaches[t])
                continue
            reached += 1
            low, high = w[:, fits].min(axis=1), w[:, fits].max(axis=1)
            outside += not (
                ours.reaches[t] and (low >= ours.low[t] - 1e-9).all() and (high <= ours.high[t] + 1e-9).all()
            )
            excess = max((low - ours.low[t]).max(), (ours.high[t] - high).max())
            worst = max(worst, excess)
            if excess > step * 1.0001:
                beyond += 1
                law = V, M, k0, k1, beside
                ends = [(end[t, k], k) for end in (ours.low, ours.high) for k in range(3)]
                proven += all(met_on_line(share, k, metals, lo, hi, law) for share, k in ends)
        rows.append((rho, half, len(chosen), reached, outside, beyond, proven, worst, missed, bad_inside))
    return rows


def block_program(v, triples, lo, hi):
    """Ranges under the ideal rule from one linear program over all triples, components and directions."""
    feasible = [t for t, m in enumerate(triples) if v[list(m)].min() <= hi and v[list(m)].max() >= lo]
    metals = np.array([triples[t] for t in feasible])
    blocks = [csr_matrix(v[m][None]) for m in metals for _ in range(6)]
    a = block_diag(blocks, format="csr")
    ones = block_diag([np.ones((1, 3))] * len(blocks), format="csr")
    cost = np.tile(np.concatenate([np.eye(3), -np.eye(3)]).ravel(), len(feasible))
    a_both = np.concatenate([np.full(len(blocks), hi), np.full(len(blocks), -lo)])
    start = time.perf_counter()
    lp = linprog(cost, A_ub=vstack([a, -a]), b_ub=a_both, A_eq=ones, b_eq=np.ones(len(blocks)), method="highs")
    seconds = time.perf_counter() - start
    assert lp.status == 0, lp.message
    x = lp.x.reshape(len(feasible), 2, 3, 3)
    return feasible, np.einsum("tii->ti", x[:, 0]), np.einsum("tii->ti", x[:, 1]), seconds


def against_programs(rng):
    V, M, *_ = forty()
    v = V / M
    triples = list(itertools.combinations(range(len(M)), 3))
    rows = []
    for rho, half in BANDS[:3]:
        lo, hi = 1 / (rho + half), 1 / (rho - half)
        ours = triple_ranges(V, M, None, None, lo, hi)
        feasible, low, high, seconds = block_program(v, triples, lo, hi)
        differs = max(np.abs(low - ours.low[feasible]).max(), np.abs(high - ours.high[feasible]).max())
        agree = np.array_equal(np.nonzero(ours.reaches)[0], feasible)
        single = 0.0
        for t in rng.choice(feasible, 60, replace=False):
            for i in range(3):
                for sign, end in ((1, ours.low), (-1, ours.high)):
                    few = 10 * v[list(triples[t])]
                    ub, eq = ([few, -few], [10 * hi, -10 * lo]), ([[1, 1, 1]], [1])
                    lp = linprog(sign * np.eye(3)[i], *ub, *eq)
                    single = max(single, abs(sign * lp.fun - end[t, i]))
        rows.append((rho, half, len(feasible), agree, differs, single, seconds))
    return rows


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1500
    rng = np.random.default_rng(2024)
    for step, many in ((0.001, count), (0.01, 3 * count)):
        print(f"grid of {step:.1%}, with excess terms: outside and bad inside must be 0, proven = beyond")
        print("rho   +-   triples on grid outside beyond a step proven furthest missed by grid bad inside")
        for row in against_grid(many, step, rng):
            print("{:5.2f} {:4.2f} {:7d} {:7d} {:7d} {:13d} {:6d} {:8.4f} {:14d} {:10d}".format(*row))
    print("ideal rule, all triples: block linear program and 60 single programs")
    print("rho +-     feasible  same list  block differs  single differs  block s")
    for rho, half, n, agree, differs, single, seconds in against_programs(rng):
        print(f"{rho:5.2f} {half:4.2f} {n:8d} {agree!s:>10} {differs:14.1e} {single:15.1e} {seconds:8.2f}")


if __name__ == "__main__":
    main()
