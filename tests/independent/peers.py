"""One listing problem, several ways, in one run: processor times, agreement and misses.

    python -m tests.independent.peers [fast]

First all pairs and triples of forty metals under a density interval, then under a resistivity interval too, with the
range of every metal; ideal rule for both (volumes by mass, resistivities by mole), so that every way solves the very
same linear problem. Then triples with the laws of the tables, where what may be left over depends on the composition:
`mixtures`, `bounds`, SLSQP from fixed starts and a grid. With "fast" the ways that go support by support take 200
pairs and 200 triples of the linear problem and say so.
"""

from __future__ import annotations

import itertools
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.optimize import linprog, minimize
from scipy.sparse import block_diag, csr_matrix

from alloysolve import Conductivity, Measured, bounds, mixtures
from alloysolve.alloys.law import INTERSTITIAL, mixing_law
from alloysolve.exact.rays import Rays
from alloysolve.published.load import default_tables
from tests.exact.test_ranges import U, room, simplex

RHO, HALF = 8.31, 0.06  # g/cm3
RESISTIVITY = (5.0, 8.0)  # uohm cm, as 21 to 34 %IACS
CURVED = (8.60, 7.0)  # g/cm3 +- 0.01, uohm cm
FEW = 12  # triples with the laws of the tables
SETTLED = -1e-7  # of a 95 % range, that a result of SLSQP may be out of it

Found = tuple[Any, Any, Any]  # whether each support reaches, least and greatest share of each metal


def forty() -> tuple[Any, Any, Any]:
    """v [cm3/g], molar mass [g/mol] and resistivity [uohm cm] of forty metals of the tables."""
    law = mixing_law(default_tables())
    at = [k for k, s in enumerate(law.symbols) if s not in INTERSTITIAL and s != "Fe-fcc"][:40]
    return law.molar_volume[at] / law.molar_mass[at], law.molar_mass[at], law.resistivity[at]


def rows_of(v: Any, M: Any, r: Any) -> Any:
    """Limits as rows a . w >= 0 per metal: v >= lo, v <= hi, sum x r >= least, <= most (times moles), by pairs to 1."""
    lo, hi = 1 / (RHO + HALF), 1 / (RHO - HALF)
    rows = [v - lo, hi - v, (r - RESISTIVITY[0]) / M, (RESISTIVITY[1] - r) / M]
    return np.array([row / np.abs(rows[k - k % 2 : k - k % 2 + 2]).max() for k, row in enumerate(rows)])


def by_rays(rows: Any, supports: Any) -> Found:
    """The package: each pair of rows is a reading, whose signed distance is -1 and 1 where one of them is zero."""

    def distance(low: Any, high: Any) -> Callable[[Any, Any], Any]:
        def of(metals: Any, parts: Any) -> Any:
            below, above = ((side[metals] * parts).sum(axis=-1) for side in (low, high))
            return (below - above) / (below + above)

        return of

    rays = Rays(distance(*rows[:2]), tuple(distance(*rows[k : k + 2]) for k in range(2, len(rows), 2)))
    reaches = np.zeros(len(supports), dtype=bool)
    low, high = np.full(supports.shape, np.inf), np.full(supports.shape, -np.inf)
    if supports.shape[1] == 2:
        found = rays.intervals(supports)
        for k, (a, b) in enumerate(((1 - found.end, 1 - found.start), (found.start, found.end))):
            np.minimum.at(low[:, k], found.of, a)
            np.maximum.at(high[:, k], found.of, b)
        reaches[found.of] = True
    else:
        ranges = rays.ranges(supports)
        reaches[ranges.of], low[ranges.of], high[ranges.of] = True, ranges.low, ranges.high
    return reaches, low, high


def corners(rows: Any, supports: Any) -> Found:
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


def block(rows: Any, supports: Any) -> Found:
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


def singly(rows: Any, supports: Any) -> Found:
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


def by_cvxpy(rows: Any, supports: Any) -> Found:
    """cvxpy with a parametrised program that is compiled once, support by support."""
    import cvxpy as cp

    size = supports.shape[1]
    w, limits, direction = cp.Variable(size), cp.Parameter((len(rows), size)), cp.Parameter(size)
    problem = cp.Problem(cp.Minimize(direction @ w), [w >= 0, cp.sum(w) == 1, limits @ w >= 0])
    low, high = np.full(supports.shape, np.inf), np.full(supports.shape, -np.inf)
    reaches = np.zeros(len(supports), dtype=bool)
    for t, metals in enumerate(supports):
        limits.value = rows[:, metals]
        for k, (sign, end) in itertools.product(range(size), ((1, low), (-1, high))):
            direction.value = sign * np.eye(size)[k]
            problem.solve(solver=cp.SCIPY, scipy_options={"method": "highs"})
            if problem.status != cp.OPTIMAL:
                break
            end[t, k], reaches[t] = sign * problem.value, True
    return reaches, low, high


def grid(rows: Any, supports: Any) -> Found:
    """A composition grid of 1 %."""
    size = supports.shape[1]
    w = simplex(size, 100).T
    low, high = np.full(supports.shape, np.inf), np.full(supports.shape, -np.inf)
    for start in range(0, len(supports), 500):
        a = rows[:, supports[start : start + 500]].transpose(1, 0, 2)
        fits = (a @ w >= 0).all(axis=1)
        for k in range(size):
            low[start : start + 500, k] = np.where(fits, w[k], np.inf).min(axis=1)
            high[start : start + 500, k] = np.where(fits, w[k], -np.inf).max(axis=1)
    return low[:, 0] <= 1, low, high


def timed(way: Callable[..., Found], rows: Any, supports: list[Any]) -> tuple[list[Found], float]:
    """What a way finds of pairs and triples, and its processor time [ms]."""
    start = time.process_time()
    found = [way(rows, s) for s in supports]
    return found, 1e3 * (time.process_time() - start)


def compared(ours: list[Found], other: list[Found]) -> str:
    """Supports that the other misses, has beyond ours, and the widest difference of an end where both reach."""
    missed = sum(int((a[0] & ~b[0]).sum()) for a, b in zip(ours, other, strict=True))
    beyond = sum(int((b[0] & ~a[0]).sum()) for a, b in zip(ours, other, strict=True))
    apart = 0.0
    for a, b in zip(ours, other, strict=True):
        both = a[0] & b[0]
        if both.any():
            apart = max(apart, np.abs(a[1][both] - b[1][both]).max(), np.abs(a[2][both] - b[2][both]).max())
    return f"{missed:6d} {beyond:6d} {apart:9.1e}"


def linear_problem(few: int) -> None:
    """Prints a row for each way; corners are exact, so that all others are compared with them."""
    v, M, r = forty()
    rows = rows_of(v, M, r)
    every = [np.array(list(itertools.combinations(range(len(M)), k)), dtype=np.intp) for k in (2, 3)]
    rng = np.random.default_rng(3)
    some = [s[np.sort(rng.choice(len(s), min(few or len(s), len(s)), replace=False))] for s in every]
    for name, use in (("density alone", rows[:2]), ("density and resistivity", rows)):
        exact, _ = timed(corners, use, every)
        reach = sum(int(x[0].sum()) for x in exact)
        print(f"{name}: {sum(map(len, every))} supports, {reach} reach; ms, missed, beyond, furthest end")
        print(f"  {'all corners at once, numpy':32s} {min(timed(corners, use, every)[1] for _ in range(5)):10.1f}")
        ways: tuple[tuple[str, Callable[..., Found], list[Any]], ...] = (
            ("the package, exact/rays.py", by_rays, every),
            ("one block linear program", block, every),
            ("linprog per support", singly, some),
            ("cvxpy per support", by_cvxpy, some),
            ("grid of 1 %", grid, every),
        )
        for label, way, on in ways:
            found, ms = timed(way, use, on)
            beside = exact if on is every else timed(corners, use, on)[0]
            share = "" if on is every else f" (on {sum(map(len, on))} supports)"
            print(f"  {label:32s} {ms:10.1f} {compared(beside, found)}{share}", flush=True)


def by_slsqp(metals: list[str], density: float, resistivity: float, starts: Any) -> Any:
    """Least and greatest share of each metal by SLSQP: the best of what agrees, from each of some starts."""
    limits = [{"type": "ineq", "fun": lambda w: room(w[None], metals, density, 0.01, resistivity)[0]}]
    whole = {"type": "eq", "fun": lambda w: w.sum() - 1}
    ends = np.array([np.full(3, np.inf), np.full(3, -np.inf)])
    for (row, sign), k, start in itertools.product(enumerate((1, -1)), range(3), starts):
        done = minimize(lambda w, k=k, s=sign: s * w[k], start, bounds=[(0, 1)] * 3, constraints=[*limits, whole])
        w = np.clip(done.x, 0, 1) / np.clip(done.x, 0, 1).sum()
        if room(w[None], metals, density, 0.01, resistivity)[0] >= SETTLED:
            ends[row, k] = sign * min(sign * ends[row, k], sign * w[k])
    return ends


def curved_problem() -> None:
    """Prints time for a triple, and by how many points each way ends short of the furthest end of any."""
    density, resistivity = CURVED
    reading = Conductivity(f"{172.41 / resistivity} %IACS", u=U * 172.41 / resistivity)
    start = time.process_time()
    frame = mixtures(Measured(density, 0.01, "g/cm3"), sizes=["triple"], evidence=[reading])
    whole = time.process_time() - start
    common = frame[frame.metals.str.contains("Cu")]
    rows = common.iloc[np.linspace(0, len(common) - 1, FEW).astype(int)]
    fine, coarse = simplex(3, 200), simplex(3, 12)
    ends: dict[str, list[Any]] = {"mixtures": [], "bounds": [], "SLSQP from 3 starts": [], "grid of 0.5 %": []}
    times = dict.fromkeys(ends, 0.0)
    times["mixtures"] = whole * FEW / len(frame)
    for row in rows.itertuples():
        metals = row.metals.split()
        low, high = ([getattr(row, f"metal_{n}_{e}_percent") / 100 for n in (1, 2, 3)] for e in ("low", "high"))
        ends["mixtures"].append([low, high])
        start = time.process_time()
        found = bounds(Measured(density, 0.01, "g/cm3"), metals, conductivity=reading)
        times["bounds"] += time.process_time() - start
        ends["bounds"].append([found.low_percent / 100, found.high_percent / 100])
        start = time.process_time()
        starts = coarse[np.argsort(-room(coarse, metals, density, 0.01, resistivity))[:3]]
        ends["SLSQP from 3 starts"].append(by_slsqp(metals, density, resistivity, starts))
        times["SLSQP from 3 starts"] += time.process_time() - start
        start = time.process_time()
        fits = fine[room(fine, metals, density, 0.01, resistivity) >= 0]
        fits = fits if len(fits) else np.full((1, 3), np.nan)
        ends["grid of 0.5 %"].append([fits.min(axis=0), fits.max(axis=0)])
        times["grid of 0.5 %"] += time.process_time() - start
    low, high = (np.array([[e[side] for e in each] for each in ends.values()], dtype=float) for side in (0, 1))
    short = np.maximum(low - np.nanmin(low, axis=0), np.nanmax(high, axis=0) - high).max(axis=2)
    print(
        f"laws of the tables, {density} g/cm3 and {resistivity} uohm cm: {len(frame)} triples listed in {whole:.2f} s"
    )
    print(f"{FEW} of them; ms for one, points short of the furthest end: median, most; nothing found")
    for name, each in zip(ends, short, strict=True):
        known = each[np.isfinite(each)]
        print(
            f"  {name:24s} {1e3 * times[name] / FEW:9.2f} {100 * np.median(known):7.3f} {100 * known.max():7.3f} "
            f"{len(each) - len(known):3d}"
        )


if __name__ == "__main__":
    linear_problem(200 if sys.argv[1:] == ["fast"] else 0)
    curved_problem()
