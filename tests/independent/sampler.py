"""Shares of systems and constructions by Monte Carlo over prior draws, beside those of the solver.

    python tests/independent/sampler.py [draws, default 600000]

Every construction under every material is a stratum. A first round finds how much each stratum scatters, and the second
shares its draws accordingly. Bodies are drawn systematically by their prior shares. A thickness or share of the volume
is drawn from its prior and, of every three draws, twice from the range that the density leaves; the weight of a draw is
its prior over the density with which it was drawn. Density, conductivity and layers are predicted by sums written out
here and weighed with a likelihood of its own: Student's t for the scatter of the law, a normal reading error and an
exponential one-sided error (scipy.stats), convolved by a plain sum in place of closed forms. X-rays, tones, magnets and
several meters at once are weighed by the readings themselves. Of the package only bodies, materials and prior shares
are used beside that, and the impedance of layers, which tests/physics checks. Shares above 1 % must agree within 0.005
or three standard errors.
"""

from __future__ import annotations

import sys

import numpy as np
from scipy import stats

from alloysolve.answer.solution import solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.physics.eddy import apparent_conductivity, model_uncertainty
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import CLAD, CONSTRUCTIONS, CORED, ENRICHED, HOMOGENEOUS, PLATED
from alloysolve.readings.layers_metered import BODY_MU_R, U_BODY_MU_R

THICKNESSES = (PLATED, ENRICHED)
LOOKED_THROUGH = {"bar": 2, "disc": 1, "rod": 0}  # which length a meter on a face looks through
NODES = 161  # of the reading error: close enough together for the narrowest scatter
FROM_WINDOW = 2 / 3  # of the draws, where a density leaves a range
COMPARED_FROM = 0.01  # share from which answers are compared
BAR = ["50.0 mm", "28.0 mm", "2.60 mm"]
PIECES = {
    "plated brass bar": {
        "claim": "silver 999",
        "density": "8.55 +- 0.03 g/cm3",  # without a mass, so that the lengths are no reading
        "bar": BAR,
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
        "bar": BAR,
    },
    "rod of known resistivity": {
        "density": "8.80 +- 0.06 g/cm3",
        "resistivity": "11 +- 3 uohm cm",
        "rod": ["4.0 mm", "80 mm"],
    },
    "nickel skin, frequency unknown": {"density": "8.60 +- 0.10 g/cm3", "conductivity": "15 %IACS", "magnet": "weak"},
    "clad coin under a meter": {
        "density": "8.92 +- 0.03 g/cm3",
        "reading": [{"kind": "conductivity", "value": "12.0 +- 0.5 %IACS", "frequency": "60 kHz"}],
        "disc": ["24.3 mm", "1.75 mm"],
    },
    "gold over a slug": {
        "claim": "gold 999",
        "density": "19.15 +- 0.05 g/cm3",
        "reading": [{"kind": "conductivity", "value": "60 +- 3 %IACS", "frequency": "10 kHz"}],
        "bar": ["41.0 mm", "24.0 mm", "2.65 mm"],
    },
    "silver by X-rays": {
        "claim": "silver 925",
        "density": "8.60 +- 0.05 g/cm3",
        "reading": [{"kind": "surface_composition", "value": "Ag 93.0 Cu 5.5 Zn 1.5"}],
    },
    "tone of a disc": {
        "claim": "silver 900",
        "density": "10.10 +- 0.08 g/cm3",
        "mass": "26.90 g",
        "disc": ["38.0 mm", "2.5 mm"],
        "reading": [{"kind": "resonance", "value": "4730 Hz 7.9 kHz"}],
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


def parts_of(b, shape):
    """Share, lowest and highest value of each part of the prior of the parameter; a skin leaves a body."""
    parts = [(1.0, *skin_um(shape, np.array(b.by_volume)))] if b.by_volume else list(b.spans)
    if b.construction in THICKNESSES:
        most = float(skin_um(shape, 0.9))
        parts = [(share, low, min(high, most)) for share, low, high in parts if low < most]
    share, low, high = np.array(parts).T
    return share / share.sum(), np.log(low), np.log(high)


def skin_um(shape, share):
    """Thickness [um] of a skin that takes a share of the volume."""
    um = np.geomspace(0.01, 20000, 200_000)
    return np.interp(share, skin_share(*shape, um), um)


def window(solution, b, point):
    """Ends of ln(parameter) between which the density is not hopeless; where nothing fits, the end is the beginning."""
    volume, bodies, layers = solution.evidence.volume, solution.prior.bodies, solution.prior.layers
    wide = 8 * np.hypot(volume.u, bodies.sigma[point] * volume.v)
    body, other = 1 / bodies.v[point], 1 / layers.v[b.skin] if b.skin >= 0 else 0.0
    ends = []
    for v in (volume.v - wide - 12 * volume.bubble, volume.v + wide):
        part = np.clip((1 / np.maximum(v, 1e-3) - body) / np.where(other == body, 1e-12, other - body), 1e-9, 1.0)
        value = skin_um(solution.piece_shape, part) if b.construction in THICKNESSES else part
        ends.append(np.log(value))
    # a skin as dense as its body fits at any thickness or at none, which both ends of the part show
    return np.minimum(*ends), np.maximum(*ends)


def drawn(solution, b, point, rng):
    """Parameters drawn for some bodies, and prior density over the density with which each was drawn."""
    n = len(point)
    if b.construction == HOMOGENEOUS:
        return np.zeros(n), np.ones(n)
    share, low, high = parts_of(b, solution.piece_shape)
    which = rng.choice(len(share), size=n, p=share)
    x = low[which] + (high - low)[which] * rng.random(n)
    a, z = low.min() + np.zeros(n), low.min() + np.zeros(n)
    if solution.evidence.volume is not None:
        a, z = (np.clip(end, low.min(), high.max()) for end in window(solution, b, point))
    room = z - a > 1e-9
    own = room & (rng.random(n) < FROM_WINDOW)
    x = np.where(own, a + (z - a) * rng.random(n), x)
    prior = np.sum(share / (high - low) * ((x[:, None] >= low) & (x[:, None] <= high)), axis=1)
    inside = np.where(room & (x >= a) & (x <= z), 1 / np.maximum(z - a, 1e-9), 0.0)
    return np.exp(x), prior / np.where(room, (1 - FROM_WINDOW) * prior + FROM_WINDOW * inside, prior)


def systematic(share, n, rng):
    """Bodies in proportion to their shares, at even steps of the cumulated share."""
    return np.minimum(
        np.searchsorted(np.cumsum(share) / share.sum(), (np.arange(n) + rng.random()) / n), len(share) - 1
    )


def part_of(shape, b, parameter):
    """Share of the volume that is not the body."""
    return skin_share(*shape, parameter) if b.construction in THICKNESSES else parameter


def predicted_volume(solution, b, point, parameter):
    """Volumes add; a strike weighs too little to count."""
    v, layers = solution.prior.bodies.v[point], solution.prior.layers
    part = part_of(solution.piece_shape, b, parameter)
    other = 1 / layers.v[b.skin] if b.skin >= 0 else 0.0
    return 1 / ((1 - part) / v + part * other)


def predicted_conductivity(solution, b, point, parameter, frequency):
    """Conductivity [MS/m] and model uncertainty: layers at a frequency, or side by side where there is none."""
    shape, bodies, layers = solution.piece_shape, solution.prior.bodies, solution.prior.layers
    mu_body = BODY_MU_R[bodies.magnetic[point]]
    body = 100 / bodies.resistivity[point]
    scatter = bodies.u_resistivity[point]
    other = 100 / layers.resistivity[b.skin]
    if not frequency:
        part = part_of(shape, b, parameter) if b.skin >= 0 else np.zeros(len(point))
        return (1 - part) * body + part * other, scatter
    scatter = np.hypot(scatter, U_BODY_MU_R[bodies.magnetic[point]])
    through = 1000 * shape[1][LOOKED_THROUGH[shape[0]]] if solution.piece.shape else 1e6  # um
    rows = {"sigma": [body], "mu": [mu_body], "um": [through]}  # from the surface inwards
    if b.construction in THICKNESSES:
        strike, um = layers.strike[b.skin], layers.strike_um[b.skin]
        below = ([100 / layers.resistivity[strike]], [layers.mu_r[strike]], [um]) if strike >= 0 else ([], [], [])
        rows = {
            "sigma": [other, *below[0], body],
            "mu": [layers.mu_r[b.skin], *below[1], mu_body],
            "um": [parameter, *below[2], through - parameter - sum(below[2])],
        }
    elif b.construction == CLAD:
        face = parameter * through / 2
        rows = {"sigma": [other, body], "mu": [layers.mu_r[b.skin], mu_body], "um": [face, through - face]}
    elif b.construction == CORED:
        um = np.geomspace(1, 20000, 20_000)
        wall = np.interp(1 - parameter, skin_share(*shape, um), um)
        rows = {"sigma": [body, other], "mu": [mu_body, layers.mu_r[b.skin]], "um": [wall, through - wall]}
    sigma, mu, um = (np.stack([np.broadcast_to(x, len(point)) for x in rows[key]], axis=1) for key in rows)
    um = np.maximum(um, 0.0)
    value = apparent_conductivity(sigma, um, mu, frequency)
    return value, np.hypot(scatter, model_uncertainty(sigma, um, mu, frequency))


def weights(solution, b, n, rng):
    """Bodies of `n` draws, and prior times likelihood of each over the density with which it was drawn."""
    e, bodies = solution.evidence, solution.prior.bodies
    point = systematic(b.share, n, rng)
    parameter, likelihood = drawn(solution, b, point, rng)
    if e.volume is not None:
        predicted = predicted_volume(solution, b, point, parameter)
        near = np.abs(predicted / e.volume.v - 1) < 0.3  # the solver's tails end nearer than this
        likelihood[~near] = 0.0
        likelihood[near] *= volume_likelihood(
            e.volume.v, e.volume.u, e.volume.bubble, bodies.sigma[point][near], predicted[near]
        )
    meters = [o for o in e.observed if o.shares_model == "conductivity"]
    own = meters if len(meters) == 1 else []
    for o in own:
        at = np.flatnonzero(likelihood > 1e-9 * likelihood.max(initial=0.0))
        found = []
        for f in o.frequencies or (0.0,):  # each as likely where the frequency is not known
            value, model = predicted_conductivity(solution, b, point[at], parameter[at], f)
            found.append(volume_likelihood(1.0, o.u, 0.0, model, 1.0 - np.log(o.read / value)))
        likelihood[at] *= np.mean(found, axis=0)
    others = e.only(*(o.name for o in e.observed if o not in own))
    if others.observed:
        at = np.flatnonzero(likelihood > 1e-9 * likelihood.max(initial=0.0))
        of = (np.full(len(at), b.construction), point[at], np.full(len(at), b.skin), parameter[at])
        likelihood[at] *= others.pdf(Candidates(bodies, e.layers, e.form, *of))
    return point, likelihood


class Sums:
    """Sum of prior times likelihood, and its variance, by system and by construction with its group of skins."""

    def __init__(self, solution):
        self.bodies, self.layers = solution.prior.bodies, solution.prior.layers
        self.system = np.zeros((2, len(self.bodies.systems)))
        self.kind = {}

    def add(self, b, point, weight):
        n, size = len(point), self.system.shape[1]
        system, total = self.bodies.system[point], b.share.sum()
        mean = np.bincount(system, weight, minlength=size) / n
        square = np.bincount(system, weight**2, minlength=size) / n
        self.system += np.stack([total * mean, total**2 * (square - mean**2) / n])
        name = CONSTRUCTIONS[b.construction].name
        kind = f"{name} {self.layers.names[self.layers.group[b.skin]] if b.skin >= 0 else ''}".strip()
        self.kind.setdefault(kind, np.zeros(2))
        self.kind[kind] += total * weight.mean(), total**2 * weight.var() / n


def sampled(solution, count, seed=20):
    """Sums over all strata: one round to see how they scatter, one with draws by that."""
    rng, out = np.random.default_rng(seed), Sums(solution)
    parts = [b for b in solution.prior.levels[solution.evidence.shows] if b.share.any()]
    first = count // 4 // len(parts)
    scatter = np.array([b.share.sum() * weights(solution, b, first, rng)[1].std() for b in parts])
    for b, s in zip(parts, scatter, strict=True):
        out.add(b, *weights(solution, b, first + int(count * s / scatter.sum()), rng))
    return out


def compare(given, count):
    """Rows of (system or construction, share by quadrature, share by sampling, its standard error)."""
    solution = solve(Piece(**given), Settings())
    object.__setattr__(solution, "piece_shape", (solution.evidence.form.shape, solution.evidence.form.sizes))
    sums = sampled(solution, count)
    other = solution.prior.other * solution.evidence.other_likelihood()
    total, scatter = sums.system[0].sum() + other, sums.system[1].sum()
    rows = []

    def add(name, quadrature, mean, variance):
        share = mean / total  # of a ratio: own part and all others vary apart
        error = np.sqrt(variance * (1 - share) ** 2 + (scatter - variance) * share**2) / total
        if max(quadrature, share) >= COMPARED_FROM:
            rows.append((name, float(quadrature), float(share), float(error)))

    posterior, layers = solution.posterior, solution.prior.layers
    by_system = np.bincount(sums.bodies.system, posterior.by_point, minlength=sums.system.shape[1])
    for k in np.argsort(-sums.system[0])[:40]:
        add(" ".join(sums.bodies.systems[k]), by_system[k], *sums.system[:, k])
    for (construction, skin), by_point in posterior.by_kind.items():
        name = f"{CONSTRUCTIONS[construction].name} {layers.names[skin] if skin >= 0 else ''}".strip()
        add(name, by_point.sum(), *sums.kind.get(name, (0.0, 0.0)))
    add("something else", posterior.other, other, 0.0)
    return rows


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 600_000
    for name, given in PIECES.items():
        print(name)
        print(f"  {'system or construction':24} {'quadrature':>10} {'sampled':>10} {'error':>9} {'apart':>7}")
        for metals, quadrature, share, error in compare(given, count):
            apart = (quadrature - share) / max(error, 1e-9)
            print(f"  {metals:24.24} {quadrature:10.4f} {share:10.4f} {error:9.4f} {apart:7.1f}")


if __name__ == "__main__":
    main()
