"""What is shown of pieces that are not what they are sold as: simulated weighings, with 95 % intervals.

Pieces are drawn from the compositions of what they are, or class by class from what the program believes may pass for
the claim; their densities and conductivities are scattered as published alloys are (Student's t with 4 degrees of
freedom, tails cut near 6 deviations). They are weighed on a scale that rounds to its step, in the air that the wetting
leaves on them (exponential), and answered row by row as a batch is. "Sound" pieces are drawn from the claim itself.

    python tests/independent/power.py [pieces of each kind]
"""

import sys
from functools import lru_cache

import numpy as np
from scipy.stats import beta

from alloysolve.batch.files import Row
from alloysolve.batch.run import answer_rows
from alloysolve.inference.claimed import claim_bodies
from alloysolve.inference.classes import classes
from alloysolve.inference.observe import form_of
from alloysolve.inference.prior import prior_of
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables
from alloysolve.readings.error_model import scale_mixture
from alloysolve.readings.reading import Circumstances
from alloysolve.readings.registry import Conductivity, Magnet
from alloysolve.weighing.weigh import weigh

TABLES, SHOP = default_tables(), Settings()
COUNT = int(sys.argv[1]) if sys.argv[1:2] and sys.argv[1].isdigit() else 400
STEP_G, WETTING = 0.01, "brushed"
WATER = 0.99821  # g/cm3 at 20 degC
FREQUENCY, U_METER = "60 kHz", 0.01
DECISIONS = ("contradicted", "undecided", "not contradicted")
SOLD_AS = [  # what it is, what it is sold as, masses [g]
    ("14 ct yellow", "18k", (5, 10, 20, 50)),
    ("14 ct red", "18k", (5, 10, 20, 50)),
    ("14 ct white nickel", "18k", (5, 10, 20, 50)),
    ("14 ct white palladium", "18k", (5, 10, 20, 50)),
    ("14 ct yellow", "18 ct yellow", (2, 5, 10)),
    ("14 ct white nickel", "18 ct white", (5, 10, 20)),
    ("silver 800", "silver 925", (20, 40, 60, 100)),
    ("silver 750", "silver 900", (15, 30, 60)),
    ("silver 500", "silver 750", (5, 10, 30)),
    ("silver 925", "silver 999", (10, 31.1)),
    ("18 ct yellow", "gold 999", (2, 5)),
]
BY_CLASS = [("silver 999", 31.1), ("silver 925", 20.0), ("gold 999", 31.1), ("18 ct yellow", 10.0)]
READINGS = ("weighing", "and magnet", "and conductivity")
LEAST_SHARE = 0.01  # of the belief for a claim: rarer classes are left out
ABOVE_MARK = 0.01  # mass fraction by which a piece is finer than its mark at most: makers stay close to it


def scattered(rng, count):
    """Draws of the scatter of published alloys, in standard deviations."""
    scales, weights = scale_mixture()
    return rng.choice(scales, count, p=weights) * rng.normal(size=count)


def weighed(v, mass, air, rng):
    """Rows with mass and displaced water of pieces of some specific volumes [cm3/g], as a scale prints them."""
    count = len(v)
    true = mass * (1 + 0.02 * rng.uniform(-1, 1, count))
    gain = true * v * WATER + true * rng.exponential(air, count) * WATER
    rounded = [np.round(x / STEP_G + rng.uniform(-0.5, 0.5, count)) * STEP_G for x in (true, gain)]
    return [
        {"mass": f"{m:.2f} g", "displaced": f"{max(g, STEP_G):.2f} g", "wetting": WETTING}
        for m, g in zip(*rounded, strict=True)
    ]


@lru_cache
def air_on(mass, v):
    """Mean air on a piece [cm3/g] of a mass [g] and a specific volume [cm3/g], as the budget allows for."""
    return float(weigh(mass, mass * v * WATER, scale_step=f"{STEP_G} g", wetting=WETTING).bubble_v)


def counted(rows, claim):
    """How many rows ended in each decision under a claim."""
    given = [{**row, "claim": claim} for row in rows]
    found = [
        a["decision"]
        for a in answer_rows([Row(n, row, {}) for n, row in enumerate(given, 1)], SHOP, "default")
        if not a["error"]
    ]
    return [found.count(d) for d in DECISIONS], len(found)


def shown(found, whole):
    """The share of each decision, with the 95 % interval of the first (Clopper and Pearson)."""
    k = found[0]
    low = beta.ppf(0.025, k, whole - k + 1) if k else 0.0
    high = beta.ppf(0.975, k + 1, whole - k) if k < whole else 1.0
    shares = " / ".join(f"{n / whole:.2f}" for n in found)
    return f"{shares}   ({low:.2f} to {high:.2f})"


def sold(what, claim, mass, rng):
    """Decisions on pieces of one alloy, hardly finer than its mark, otherwise anywhere in its region."""
    said = parse_claim(what, TABLES)
    bodies = claim_bodies(TABLES, said)
    fine = bodies.w[:, bodies.law.index[said.metal]]
    weight = np.where(fine <= said.least / 100 + ABOVE_MARK, bodies.weight, 0.0)
    at = rng.choice(len(bodies.v), COUNT, p=weight / weight.sum())
    v = bodies.v[at] * (1 + bodies.sigma[at] * scattered(rng, COUNT))
    return counted(weighed(v, mass, air_on(mass, round(float(v.mean()), 3)), rng), claim)


def of_class(candidates, claim, mass, rng):
    """Decisions on pieces of a class by weighing alone, then with a magnet, then with a conductivity too."""
    size = len(candidates)
    v = candidates.v * (1 + candidates.bodies.sigma[candidates.point] * scattered(rng, size))
    rows = weighed(v, mass, air_on(mass, round(float(np.median(v)), 3)), rng)
    about = Circumstances(TABLES, candidates.form)
    magnet = Magnet("none").observed("magnet", about)
    chance = magnet.shares[magnet.class_of(candidates)]
    felt = [magnet.words[rng.choice(len(p), p=p / p.sum())] for p in chance]
    meter = Conductivity("25 %IACS", frequency=FREQUENCY).observed("conductivity", about)
    value, model = meter.predict(candidates)
    read = value / 0.58 * np.exp(model * scattered(rng, size) + U_METER * rng.normal(size=size))
    out = [rows, [{**r, "magnet": m} for r, m in zip(rows, felt, strict=True)]]
    out.append(
        [
            {**r, "conductivity": f"{min(max(x, 0.4), 108):.2f} %IACS", "conductivity.frequency": FREQUENCY}
            for r, x in zip(out[1], read, strict=True)
        ]
    )
    return [counted(each, claim) for each in out]


def main():
    """Prints the tables."""
    rng = np.random.default_rng(20261128)
    print(f"{COUNT} pieces each; {STEP_G} g steps, {WETTING}; contradicted / undecided / not (interval of the first)")
    for what, claim, masses in SOLD_AS:
        for mass in masses:
            print(f"{what:22s} as {claim:13s} {mass:6.1f} g  {shown(*sold(what, claim, mass, rng))}", flush=True)
    print("\nsound pieces")
    for claim in dict.fromkeys(claim for _, claim, _ in SOLD_AS):
        for mass in (2, 10, 50):
            print(f"{claim:22s} {mass:6.1f} g  {shown(*sold(claim, claim, mass, rng))}", flush=True)
    for claim, mass in BY_CLASS:
        print(f"\nsold as {claim}, {mass} g: class, its share of the belief; {', '.join(READINGS)}")
        said = parse_claim(claim, TABLES)
        own = claim_bodies(TABLES, said)
        form = form_of(Piece(mass=f"{mass} g", displaced=f"{mass * own.v.mean() * WATER:.2f} g"), None)
        every = prior_of(TABLES, said, False).alternatives(form)
        for name, mine in classes(every.candidates, float(own.v.mean()), said.metal).items():
            share = float(every.prior[mine].sum())
            if share < LEAST_SHARE:
                continue
            at = rng.choice(np.flatnonzero(mine), COUNT, p=every.prior[mine] / every.prior[mine].sum())
            found = of_class(every.candidates.some(at), claim, mass, rng)
            print(f"{name:38s} {share:5.2f}  " + "   ".join(shown(*x) for x in found), flush=True)


if __name__ == "__main__":
    main()
