"""Evidence of metal systems by plain Monte Carlo over prior draws, beside the quadrature of the solver.

    python tests/independent/sampler.py [draws, default 400000]

A draw takes a construction and a body by their prior shares, then a skin thickness or a void share from its
log-uniform parts, predicts density and resistivity by sums written out here, and is weighed with a likelihood
of its own: Student's t for the scatter of the law (scipy.stats), a normal reading error and an exponential
one-sided error, convolved by Gauss-Legendre and Gauss-Laguerre quadrature in place of closed forms.
Of the package only the tables' bodies and prior shares are used. The share of each system must agree within
a few of its standard errors; the solver tabulates the scatter in steps of 20 %, worth up to 2 % of a share.
"""

from __future__ import annotations

import sys

import numpy as np
from scipy import stats

from alloysolve.inverse.piece import Piece
from alloysolve.inverse.settings import Settings
from alloysolve.inverse.solve import solve

SKIN_PARTS = ((0.8, 0.1, 40.0), (0.2, 40.0, 2000.0))  # um
VOID = (0.005, 0.75)
DOF = 4
PIECES = {
    "plated brass bar": {
        "claim": "silver 999",
        "mass": "31.18 g",
        "displaced": "3.64 g",
        "bar": ["50.0 mm", "28.0 mm", "2.60 mm"],
    },
    "hollow gold": {
        "claim": "9 ct rose gold chain",
        "mass": "6.00 g",
        "displaced": "0.75 g",
        "rod": ["3.0 mm", "110 mm"],
    },
    "silver-copper coin": {
        "density": "10.24 +- 0.10 g/cm3",
        "conductivity": "60 +- 5 %IACS",
        "disc": ["30.6 mm", "1.8 mm"],
    },
}


def skin_share(shape, sizes, um):
    """Share of the volume within `um` of the surface: box, cylinder."""
    t = 2 * um / 1000
    if shape == "bar":
        core = np.prod([np.maximum(x - t, 0.0) for x in sizes], axis=0) / np.prod(sizes)
    else:  # disc or rod
        d, h = sizes
        core = np.maximum(d - t, 0.0) ** 2 * np.maximum(h - t, 0.0) / (d**2 * h)
    return 1 - core


def volume_likelihood(read, u, bubble, scatter, predicted):
    """Density of v_read = v (1 + s t) + e + b: t by scipy.stats, over quantiles of e and nodes of b."""
    z, w = np.polynomial.legendre.leggauss(24)
    e, we = u * stats.norm.ppf((1 + z) / 2), w / 2  # equal shares of the normal error
    b, wb = np.polynomial.laguerre.laggauss(12) if bubble else (np.zeros(1), np.ones(1))
    out = np.zeros(len(predicted))
    scale = scatter * read
    for ei, wi in zip(e, we, strict=True):
        for bi, wj in zip(b * bubble, wb, strict=True):
            out += wi * wj * stats.t.pdf((read - predicted - ei - bi) / scale, DOF) / scale
    return out


def draws_of(solution, count, rng):
    """Construction, body, parameter and skin of `count` draws from the prior."""
    p = solution.prior
    parts = [(0, -1, p.homogeneous), (2, -1, p.hollow), *((1, k, x) for k, x in p.plated.items())]
    shares = np.array([x.sum() for _, _, x in parts])
    # every construction gets draws enough; weights put its share right
    number = np.maximum((count * shares / shares.sum()).astype(int), count // 50)
    for (construction, skin, share), n in zip(parts, number, strict=True):
        if share.sum() <= 0:
            continue
        point = rng.choice(len(share), size=n, p=share / share.sum())
        if construction == 1:
            which = rng.random(n) < SKIN_PARTS[0][0]
            low, high = (np.where(which, SKIN_PARTS[0][i], SKIN_PARTS[1][i]) for i in (1, 2))
            parameter = low * (high / low) ** rng.random(n)
        elif construction == 2:
            parameter = VOID[0] * (VOID[1] / VOID[0]) ** rng.random(n)
        else:
            parameter = np.zeros(n)
        yield construction, skin, point, parameter, share.sum() / n


def predicted_volume(solution, shape, construction, skin, point, parameter):
    v = solution.prior.bodies.v[point]
    if construction == 2:
        return v / (1 - parameter)
    if construction == 1:
        law = solution.prior.bodies.law
        part = skin_share(*shape, parameter)
        return 1 / ((1 - part) / v + part * law.molar_mass[skin] / law.molar_volume[skin])
    return v


def predicted_resistivity(solution, shape, construction, skin, point, parameter):
    """Body and skin side by side: conductivities add by share of the volume."""
    body = solution.prior.bodies.resistivity[point]
    if construction != 1:
        return body
    part = skin_share(*shape, parameter)
    return 1 / ((1 - part) / body + part / solution.prior.bodies.law.resistivity[skin])


def sampled(solution, count, seed=20):
    """Sum of prior times likelihood and its variance by system, by plain Monte Carlo."""
    rng = np.random.default_rng(seed)
    piece, e = solution.piece, solution.evidence
    bodies = solution.prior.bodies
    mean, variance = np.zeros(len(bodies.systems)), np.zeros(len(bodies.systems))
    for construction, skin, point, parameter, each in draws_of(solution, count, rng):
        predicted = predicted_volume(solution, piece.shape, construction, skin, point, parameter)
        likelihood = np.zeros(len(point))
        near = np.abs(predicted / e.volume.v - 1) < 0.3  # the solver's tails end nearer than this
        likelihood[near] = volume_likelihood(
            e.volume.v, e.volume.u, e.volume.bubble, bodies.sigma[point][near], predicted[near]
        )
        for read, u in e.resistivity:
            r = np.log(read / predicted_resistivity(solution, piece.shape, construction, skin, point, parameter))
            likelihood *= volume_likelihood(1.0, u, 0.0, bodies.u_resistivity[point], 1.0 - r)
        system, size = bodies.system[point], len(bodies.systems)
        total = np.bincount(system, likelihood, minlength=size)
        square = np.bincount(system, likelihood**2, minlength=size)
        mean += each * total
        variance += each**2 * (square - total**2 / len(point))
    return mean, variance


def compare(given, count, most=8):
    """Rows of (metals, share by quadrature, share by sampling, its standard error)."""
    solution = solve(Piece(**given), Settings())
    mean, variance = sampled(solution, count)
    other = solution.prior.other * solution.evidence.other_likelihood()
    total = mean.sum() + other
    rows = []
    bodies = solution.prior.bodies
    for system in solution.found[:most]:
        k = bodies.systems.index(tuple(sorted(system.metals)))
        share = mean[k] / total
        # of the ratio: own part and all others vary apart
        error = np.sqrt(variance[k] * (1 - share) ** 2 + (variance.sum() - variance[k]) * share**2) / total
        rows.append((" ".join(system.metals), system.probability, share, float(error)))
    rows.append(("something else", solution.other, other / total, float(np.sqrt(variance.sum()) * other / total**2)))
    return rows


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 400_000
    for name, given in PIECES.items():
        print(name)
        print(f"  {'system':24} {'quadrature':>10} {'sampled':>10} {'error':>9} {'apart':>7}")
        for metals, quadrature, share, error in compare(given, count):
            apart = (quadrature - share) / error
            print(f"  {metals:24} {quadrature:10.4f} {share:10.4f} {error:9.4f} {apart:7.1f}")


if __name__ == "__main__":
    main()
