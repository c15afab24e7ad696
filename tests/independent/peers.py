"""One problem, several ways, in one run: times, agreement and misses.

    python tests/independent/peers.py [fast]

All pairs and triples of forty metals under a density interval and a resistivity interval, with the range of every
metal; ideal rule for both (volumes by mass, resistivities by mole), so that every way solves the very same linear
problem. The library lists pairs and triples by density (`pair_intervals`, `triple_ranges`); for both intervals at once
it has no such list: "corners" is written here, after the same idea, and `bounds` does one support at a time.
Then one mixture with the laws of the tables: the sampler dynesty (optional: pip install dynesty; nothing else needs
it) against `bounds`; and a hundred solves in a row, compiled once and compiled anew.
With "fast" the ways that go support by support take 200 pairs and 200 triples and say so.
"""

from __future__ import annotations

import itertools
import sys
import time
from pathlib import Path

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import block_diag, csr_matrix

from alloysolve import Conductivity, Measured, bounds
from alloysolve.alloys.law import mixing_law
from alloysolve.exact import programs
from alloysolve.exact.cuts import Constraint, mixture_within, ranges_within
from alloysolve.exact.pairs import pair_intervals
from alloysolve.published.load import default_tables
from tests.exact.triples import triple_ranges

sys.path.insert(0, str(Path(__file__).parent))
from grid_triples import forty, simplex

RHO, HALF = 8.31, 0.06  # g/cm3
RESISTIVITY = (5.0, 8.0)  # uohm cm, as 21 to 34 %IACS


def metals_of():
    """v [cm3/g] and, for the resistivity limit, molar mass and resistivity of the forty metals."""
    V, M, *_ = forty()
    law = mixing_law(default_tables())
    place = [
        int(np.argmin(np.abs(law.molar_mass - m) + np.abs(law.molar_volume - v))) for v, m in zip(V, M, strict=True)
    ]
    return V, M, law.resistivity[place]


def rows_of(v, M, r):
    """Limits as rows a . w >= 0 per metal: v >= lo, v <= hi, sum x r >= least, <= most (times moles), scaled to 1."""
    lo, hi = 1 / (RHO + HALF), 1 / (RHO - HALF)
    rows = [v - lo, hi - v, (r - RESISTIVITY[0]) / M, (RESISTIVITY[1] - r) / M]
    return np.array([row / np.abs(row).max() for row in rows])


def corners(rows, supports):
    """The ranges of each support from the corners of its polytope, all supports at once.

    A corner has as many limits met (a face of the simplex, or a row at zero) as metals less one.
    """
    size = supports.shape[1]
    a = rows[:, supports].transpose(1, 0, 2)  # (supports, rows, metals)
    faces = np.broadcast_to(np.eye(size), (len(supports), size, size))
    every = np.concatenate([faces, a], axis=1)
    low = np.full(supports.shape, np.inf)
    high = -low
    for met in itertools.combinations(range(every.shape[1]), size - 1):
        e = every[:, met]
        w = np.stack([-e[:, 0, 1], e[:, 0, 0]], axis=1) if size == 2 else np.cross(e[:, 0], e[:, 1])
        with np.errstate(all="ignore"):
            w = w / w.sum(axis=1, keepdims=True)
        good = (np.einsum("srm,sm->sr", every, w) >= -1e-12).all(axis=1)
        low[good], high[good] = np.minimum(low[good], w[good]), np.maximum(high[good], w[good])
    reaches = low[:, 0] <= 1
    return reaches, low, high


def block(rows, supports):
    """One linear program over all supports, metals and directions, but those that lie beyond a row as a whole."""
    size = supports.shape[1]
    a = rows[:, supports].transpose(1, 0, 2)
    near = np.flatnonzero((a.max(axis=2) >= 0).all(axis=1))
    # infeasible supports would make the whole infeasible: a slack each, with a penalty, tells them
    one = [csr_matrix(np.hstack([-a[t], -np.ones((len(rows), 1))])) for t in near for _ in range(2 * size)]
    a_ub = block_diag(one, format="csr")
    a_eq = block_diag([csr_matrix(np.append(np.ones(size), 0.0)[None])] * len(one), format="csr")
    ends = np.concatenate([np.eye(size), -np.eye(size)])
    direction = np.tile(np.hstack([ends, np.full((2 * size, 1), 1e5)]).ravel(), len(near))
    lp = linprog(direction, A_ub=a_ub, b_ub=np.zeros(a_ub.shape[0]), A_eq=a_eq, b_eq=np.ones(len(one)), method="highs")
    assert lp.status == 0, lp.message
    x = lp.x.reshape(len(near), 2, size, size + 1)
    reaches = np.zeros(len(supports), dtype=bool)
    reaches[near] = x[..., size].max(axis=(1, 2)) < 1e-9
    low, high = np.full(supports.shape, np.inf), np.full(supports.shape, -np.inf)
    low[near], high[near] = (np.einsum("tii->ti", x[:, k, :, :size]) for k in (0, 1))
    return reaches, low, high


def singly(rows, supports):
    """linprog, support by support."""
    size = supports.shape[1]
    low, high = np.full(supports.shape, np.inf), np.full(supports.shape, -np.inf)
    reaches = np.zeros(len(supports), dtype=bool)
    for t, metals in enumerate(supports):
        a = rows[:, metals]
        for k in range(size):
            for sign, end in ((1, low), (-1, high)):
                lp = linprog(sign * np.eye(size)[k], -a, np.zeros(len(a)), np.ones((1, size)), [1.0], method="highs")
                if lp.status == 2:
                    break
                assert lp.status == 0, lp.message
                end[t, k] = sign * lp.fun
                reaches[t] = True
            if not reaches[t]:
                break
    return reaches, low, high


def by_cvxpy(rows, supports):
    """cvxpy with the parametrised program of `bounds`, support by support."""
    from alloysolve.errors import SolverError

    low, high = np.full(supports.shape, np.inf), np.full(supports.shape, -np.inf)
    reaches = np.zeros(len(supports), dtype=bool)
    for t, metals in enumerate(supports):
        limits = [Constraint(str(k), tuple(row), low=0.0) for k, row in enumerate(rows[:, metals])]
        if (rows[:, metals].max(axis=1) < 0).any():
            continue
        try:
            found = ranges_within(mixture_within(len(metals), limits))
        except SolverError as e:
            if e.path != "constraints":
                raise
            continue
        reaches[t], low[t], high[t] = True, found.low, found.high
    return reaches, low, high


def grid(rows, supports, step=0.01):
    """A composition grid of 1 %."""
    size = supports.shape[1]
    w = simplex(step) if size == 3 else np.stack([np.arange(101) / 100, 1 - np.arange(101) / 100])
    low, high = np.full(supports.shape, np.inf), np.full(supports.shape, -np.inf)
    for start in range(0, len(supports), 500):
        a = rows[:, supports[start : start + 500]].transpose(1, 0, 2)
        fits = (a @ w >= 0).all(axis=1)
        for k in range(size):
            low[start : start + 500, k] = np.where(fits, w[k], np.inf).min(axis=1)
            high[start : start + 500, k] = np.where(fits, w[k], -np.inf).max(axis=1)
    return low[:, 0] <= 1, low, high


def timed(way, rows, supports):
    start = time.perf_counter()
    found = [way(rows, s) for s in supports]
    return found, 1e3 * (time.perf_counter() - start)


def compared(ours, other):
    """Supports that the other misses, has beyond ours, and the widest difference of an end where both reach."""
    missed = sum(int((a[0] & ~b[0]).sum()) for a, b in zip(ours, other, strict=True))
    beyond = sum(int((b[0] & ~a[0]).sum()) for a, b in zip(ours, other, strict=True))
    apart = 0.0
    for a, b in zip(ours, other, strict=True):
        both = a[0] & b[0]
        if both.any():
            apart = max(apart, np.abs(a[1][both] - b[1][both]).max(), np.abs(a[2][both] - b[2][both]).max())
    return missed, beyond, apart


def linear_problem(few):
    V, M, r = metals_of()
    rows = rows_of(V / M, M, r)
    every = [np.array(list(itertools.combinations(range(len(M)), k)), dtype=np.intp) for k in (2, 3)]
    rng = np.random.default_rng(3)
    some = [s[np.sort(rng.choice(len(s), min(few or len(s), len(s)), replace=False))] for s in every]
    for name, use in (("density alone", rows[:2]), ("density and resistivity", rows)):
        ours, _ = timed(corners, use, every)
        reach = sum(int(x[0].sum()) for x in ours)
        print(f"{name}: {sum(map(len, every))} supports, {reach} reach; ms, missed, beyond, furthest end")
        if use is not rows:
            own = min(clocked(V, M) for _ in range(10))
            exact = triple_ranges(V, M, None, None, 1 / (RHO + HALF), 1 / (RHO - HALF))
            told = compared([(exact.reaches, exact.low, exact.high)], ours[1:])
            print(f"  {'pair_intervals, triple_ranges':32s} {own:10.1f} {told[0]:6d} {told[1]:6d} {told[2]:9.1e}")
        times = [timed(corners, use, every)[1] for _ in range(5)]
        print(f"  {'all corners at once, numpy':32s} {min(times):10.1f}")
        for label, way, on in (
            ("one block linear program", block, every),
            ("linprog per support", singly, some),
            ("cvxpy per support", by_cvxpy, some),
            ("grid of 1 %", grid, every),
        ):
            found, ms = timed(way, use, on)
            beside = ours if on is every else timed(corners, use, on)[0]
            share = "" if sum(map(len, on)) == sum(map(len, every)) else f" (on {sum(map(len, on))} supports)"
            missed, beyond, apart = compared(beside, found)
            print(f"  {label:32s} {ms:10.1f} {missed:6d} {beyond:6d} {apart:9.1e}{share}", flush=True)


def clocked(V, M):
    start = time.perf_counter()
    band = 1 / (RHO + HALF), 1 / (RHO - HALF)
    pair_intervals(V, M, None, None, *band)
    triple_ranges(V, M, None, None, *band)
    return 1e3 * (time.perf_counter() - start)


def sampled():
    """One mixture with the laws of the tables: an evidence sampler and `bounds`."""
    metals, density, u, resistivity, u_rel = ["Cu", "Zn", "Sn", "Pb"], 8.60, 0.01, 8.0, 0.02
    reading = Conductivity(172.41 / resistivity, unit="%IACS", u=u_rel * 172.41 / resistivity)
    start = time.perf_counter()
    bounds(Measured(density + 0.01, u, "g/cm3"), metals, conductivity=reading)
    first = time.perf_counter() - start
    start = time.perf_counter()
    found = bounds(Measured(density, u, "g/cm3"), metals, conductivity=reading)
    again = time.perf_counter() - start
    print(f"one mixture, {' '.join(metals)}: bounds {1e3 * again:.0f} ms, {1e3 * first:.0f} the first time")
    try:
        import dynesty
    except ImportError:
        print("  dynesty is not installed: pip install dynesty")
        return
    law = mixing_law(default_tables())
    at = [law.index[m] for m in metals]

    def room(w):
        whole = np.zeros((1, len(law.symbols)))
        whole[0, at] = w
        v, (rho, u_rho) = law.specific_volume(whole)[0], law.resistivity_of(whole)
        one = (v * density - 1) / np.hypot(u / density, np.hypot(law.u_pairs(whole)[0], 0.003))
        two = np.log(rho[0] / resistivity) / np.sqrt(u_rel**2 + u_rho[0] ** 2 + 0.07**2)
        return one, two

    def even(cube):
        """Even over the simplex: gaps of exponentials."""
        e = -np.log(np.clip(cube, 1e-12, 1))
        return e / e.sum()

    start = time.perf_counter()
    rng = np.random.default_rng(1)
    sampler = dynesty.NestedSampler(lambda w: -0.5 * sum(z**2 for z in room(w)), even, 4, nlive=500, rstate=rng)
    sampler.run_nested(print_progress=False)
    samples, seconds = sampler.results.samples, time.perf_counter() - start
    inside = samples[[max(map(abs, room(w))) <= 1.959964 for w in samples]]
    low, high = 100 * inside.min(axis=0), 100 * inside.max(axis=0)
    outside = max((found.low_percent - low).max(), (high - found.high_percent).max())
    short = max((low - found.low_percent).max(), (found.high_percent - high).max())
    print(f"  dynesty {seconds:.1f} s, ln evidence {sampler.results.logz[-1]:.2f} +- {sampler.results.logzerr[-1]:.2f}")
    print(
        f"  {len(inside)} samples in both ranges: {max(outside, 0):.2f} points beyond bounds, {short:.2f} short of them"
    )


def repeated(count=100):
    """The same problem with another density each time: compiled once, and compiled anew."""
    metals, densities = ["Cu", "Ni", "Zn"], np.linspace(8.5, 8.8, count)
    for label, fresh in (("compiled once", False), ("compiled anew", True)):
        start = time.perf_counter()
        for density in densities:
            if fresh:
                programs._program.cache_clear()
            bounds(Measured(float(density), 0.01, "g/cm3"), metals, at_least={"Cu": 40})
        print(
            f"{count} bounds of {' '.join(metals)}, {label}: {1e3 * (time.perf_counter() - start) / count:.0f} ms each"
        )
    start, program = time.perf_counter(), programs._program(3, 3, False, 0)
    for value in np.linspace(0.2, 0.4, count):
        program.direction.value, program.rows.value, program.penalty.value = np.eye(3)[0], np.eye(3), np.full(3, 1e4)
        program.low.value, program.high.value = np.array([value, 0.1, 0.1]), np.ones(3)
        program.least.value, program.most.value = np.zeros(3), np.ones(3)
        assert abs(program.solve()[0] - value) < 1e-9
    print(f"one linear program of it: {1e3 * (time.perf_counter() - start) / count:.1f} ms each")


if __name__ == "__main__":
    linear_problem(200 if sys.argv[1:] == ["fast"] else 0)
    sampled()
    repeated()
