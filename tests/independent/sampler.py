"""Evidence of metal systems by plain Monte Carlo over prior draws, beside the quadrature of the solver.

    python tests/independent/sampler.py [draws, default 400000]

A draw takes a construction and a body by their prior shares, then a thickness or a share of the volume from
its log-uniform parts, predicts density, conductivity and layers by sums written out here, and is weighed with a
likelihood of its own: Student's t for the scatter of the law, a normal reading error and an
exponential one-sided error (scipy.stats), convolved by a plain sum in place of closed forms.
Of the package only the tables' bodies, materials and prior shares are used, and the impedance of layers, which
tests/physics checks. The share of each system must agree within a few of its standard errors; the solver
tabulates the scatter in steps of 20 %, worth up to 2 % of a share.
"""

from __future__ import annotations

import sys

import numpy as np
from scipy import stats

from alloysolve.answer.solution import solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.physics.eddy import apparent_conductivity, model_uncertainty
from alloysolve.pieces.constructions import CLAD, CORED, ENRICHED, HOMOGENEOUS, PLATED

THICKNESSES = (PLATED, ENRICHED)
LOOKED_THROUGH = {"bar": 2, "disc": 1, "rod": 0}  # which length a meter on a face looks through
NODES = 161  # of the reading error: close enough together for the narrowest scatter
PIECES = {
    "plated brass bar": {
        "claim": "silver 999",
        "density": "8.55 +- 0.03 g/cm3",  # without a mass, so that the lengths are no reading
        "bar": ["50.0 mm", "28.0 mm", "2.60 mm"],
    },
    "hollow gold": {
        "claim": "9 ct rose gold chain",
        "density": "8.00 +- 0.05 g/cm3",
        "rod": ["3.0 mm", "110 mm"],
    },
    "silver-copper coin": {
        "density": "9.90 +- 0.20 g/cm3",
        "conductivity": "50 +- 10 %IACS",
        "disc": ["30.6 mm", "1.8 mm"],
    },
    "silvered bar under a meter": {
        "claim": "silver 999",
        "density": "8.60 +- 0.08 g/cm3",
        "reading": [{"kind": "conductivity", "value": "20 +- 5 %IACS", "frequency": "60 kHz"}],
        "bar": ["50.0 mm", "28.0 mm", "2.60 mm"],
    },
    "rod of known resistivity": {
        "density": "8.80 +- 0.06 g/cm3",
        "resistivity": "11 +- 3 uohm cm",
        "rod": ["4.0 mm", "80 mm"],
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
    """Density of v_read = v (1 + s t) + e + b over an even grid of e + b by scipy.stats.

    t has 4 degrees of freedom and standard deviation 1.
    """
    x = np.linspace(-6 * u, 6 * u + 12 * bubble, NODES)
    density = stats.exponnorm.pdf(x, bubble / u, scale=u) if bubble else stats.norm.pdf(x, scale=u)
    scale = scatter * read / 2**0.5  # of a t of that standard deviation
    out = np.zeros(len(predicted))
    for each, weight in zip(x, density * (x[1] - x[0]), strict=True):
        t = (read - predicted - each) / scale
        out += weight * 0.375 * (1 + t * t / 4) ** -2.5 / scale
    return out


def thickest_skin(shape):
    """Thickness [um] at which nine tenths of the volume are skin: beyond it there is no body."""
    um = np.geomspace(1, 20000, 200_000)
    return float(np.interp(0.9, skin_share(*shape, um), um))


def drawn(b, shape, n, rng):
    """Values of the free parameter: log-uniform over each part of its prior, a part by its share."""
    if b.construction == HOMOGENEOUS:
        return np.zeros(n)
    parts = b.spans
    if b.construction in THICKNESSES:
        most = thickest_skin(shape)
        parts = [(share, low, min(high, most)) for share, low, high in parts if low < most]
    share, low, high = np.array(parts).T
    which = rng.choice(len(parts), size=n, p=share / share.sum())
    return low[which] * (high / low)[which] ** rng.random(n)


def draws_of(solution, count, rng):
    """What is believed, with the body, parameter and share of each of `count` draws from the prior."""
    parts = [b for b in solution.prior.levels[solution.evidence.shows] if b.share.any()]
    shares = np.array([b.share.sum() for b in parts])
    # every construction gets draws enough; weights put its share right
    number = np.maximum((count * shares / shares.sum()).astype(int), count // 50)
    for b, share, n in zip(parts, shares, number, strict=True):
        point = rng.choice(len(b.share), size=n, p=b.share / share)
        yield b, point, drawn(b, solution.piece.shape, n, rng), share / n


def part_of(shape, b, parameter):
    """Share of the volume that is not the body."""
    return skin_share(*shape, parameter) if b.construction in THICKNESSES else parameter


def predicted_volume(solution, b, point, parameter):
    """Volumes add; a strike weighs too little to count."""
    v, layers = solution.prior.bodies.v[point], solution.prior.layers
    part = part_of(solution.piece.shape, b, parameter)
    other = 1 / layers.v[b.skin] if b.skin >= 0 else 0.0
    return 1 / ((1 - part) / v + part * other)


def predicted_conductivity(solution, b, point, parameter, frequency):
    """Conductivity [MS/m] and model uncertainty: layers at a frequency, or side by side where there is none."""
    shape, bodies, layers = solution.piece.shape, solution.prior.bodies, solution.prior.layers
    body, scatter = 100 / bodies.resistivity[point], bodies.u_resistivity[point]
    other = 100 / layers.resistivity[b.skin]
    if not frequency:
        part = part_of(shape, b, parameter) if b.skin >= 0 else np.zeros(len(point))
        return (1 - part) * body + part * other, scatter
    through = 1000 * shape[1][LOOKED_THROUGH[shape[0]]]  # um
    rows = {"sigma": [body], "mu": [1.0], "um": [through]}  # from the surface inwards
    if b.construction in THICKNESSES:
        strike, um = layers.strike[b.skin], layers.strike_um[b.skin]
        below = ([100 / layers.resistivity[strike]], [layers.mu_r[strike]], [um]) if strike >= 0 else ([], [], [])
        rows = {
            "sigma": [other, *below[0], body],
            "mu": [layers.mu_r[b.skin], *below[1], 1.0],
            "um": [parameter, *below[2], through - parameter - sum(below[2])],
        }
    elif b.construction == CLAD:
        face = parameter * through / 2
        rows = {"sigma": [other, body], "mu": [layers.mu_r[b.skin], 1.0], "um": [face, through - face]}
    elif b.construction == CORED:
        um = np.geomspace(1, 20000, 20_000)
        wall = np.interp(1 - parameter, skin_share(*shape, um), um)
        rows = {"sigma": [body, other], "mu": [1.0, layers.mu_r[b.skin]], "um": [wall, through - wall]}
    sigma, mu, um = (np.stack([np.broadcast_to(x, len(point)) for x in rows[key]], axis=1) for key in rows)
    um = np.maximum(um, 0.0)
    value = apparent_conductivity(sigma, um, mu, frequency)
    return value, np.hypot(scatter, model_uncertainty(sigma, um, mu, frequency))


def sampled(solution, count, seed=20):
    """Sum of prior times likelihood and its variance by system, by plain Monte Carlo."""
    rng = np.random.default_rng(seed)
    e, bodies = solution.evidence, solution.prior.bodies
    mean, variance = np.zeros(len(bodies.systems)), np.zeros(len(bodies.systems))
    for b, point, parameter, each in draws_of(solution, count, rng):
        predicted = predicted_volume(solution, b, point, parameter)
        likelihood = np.zeros(len(point))
        near = np.abs(predicted / e.volume.v - 1) < 0.3  # the solver's tails end nearer than this
        likelihood[near] = volume_likelihood(
            e.volume.v, e.volume.u, e.volume.bubble, bodies.sigma[point][near], predicted[near]
        )
        for o in e.observed:
            at = np.flatnonzero(likelihood > 1e-9 * likelihood.max(initial=0.0))
            found = []
            for f in o.frequencies or (0.0,):  # each as likely where the frequency is not known
                value, model = predicted_conductivity(solution, b, point[at], parameter[at], f)
                found.append(volume_likelihood(1.0, o.u, 0.0, model, 1.0 - np.log(o.read / value)))
            likelihood[at] *= np.mean(found, axis=0)
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
