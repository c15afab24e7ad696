"""Small sound pieces that hold more air than their surface would, and what allowing for it costs.

Sound silver coins of a few grams read 12 to 19 mg light. Here sound pieces of 0.5 to 5 g are weighed on a fine scale
with 15 mg of air on each and judged three times: with the air of their own surface alone, wetted as usual, and as if
they had been brushed. Then pieces of less silver, brass and gold are weighed with the air that the budget states: how
many of them are contradicted. Seed fixed.

    python -m tests.independent.air [number of pieces]
"""

import sys

import numpy as np

from alloysolve.inference.claimed import claim_bodies
from alloysolve.inputs.claim import parse_claim
from alloysolve.weighing.conditions import WETTING
from alloysolve.weighing.weigh import weigh

from .decision_simulation import FALSE_ALARM, TABLES, drawn, p_of

COUNT = int(sys.argv[1]) if sys.argv[1:2] and sys.argv[1].isdigit() else 400
AIR_CM3 = 0.015
LIGHTEST, HEAVIEST = 0.5, 5.0  # g
CLAIMS = ("silver 800", "silver 835", "silver 900", "silver 925", "18 ct yellow")
SOLD_AS = {"silver 500": "silver 900", "silver 800": "silver 925", "brass": "silver 900", "9 ct yellow": "18 ct yellow"}
STEPS = ("0.001 g", "0.01 g")
WETTINGS = (WETTING["as usual"], "as usual", "brushed")  # a number has no least value


def small_pieces(bodies, count, step, wetting, rng, air_cm3=None):
    """Specific volumes as read of small pieces, with the u and mean air [cm3/g] of each: (count,) arrays."""
    mass = np.exp(rng.uniform(np.log(LIGHTEST), np.log(HEAVIEST), count))
    w = weigh(mass, mass * float(bodies.v.mean()) * 0.9982, scale_step=step, wetting=wetting)
    read = np.array([drawn(bodies, 1, u, 0.0, rng)[0] for u in w.u_v])
    return read + (rng.exponential(w.bubble_v) if air_cm3 is None else air_cm3 / mass), w.u_v, w.bubble_v


def contradicted(claim, read, u, bubble):
    """How many of these readings speak against the claim by themselves."""
    return sum(
        float(p_of(np.array([v]), claim, one, air)[0]) < FALSE_ALARM
        for v, one, air in zip(read, u, bubble, strict=True)
    )


def main():
    """Prints both tables."""
    print(f"{COUNT} sound pieces of 0.5 to 5 g with 15 mg of air: contradicted, by surface alone / as usual / brushed")
    for name in CLAIMS:
        claim = claim_bodies(TABLES, parse_claim(name, TABLES))
        for step in STEPS:
            counts = [
                contradicted(claim, *small_pieces(claim, COUNT, step, wetting, np.random.default_rng(11), AIR_CM3))
                for wetting in WETTINGS
            ]
            print(f"{name:14s} {step:8s}" + "".join(f" {n:7d}" for n in counts))
    print("\nother pieces of 0.5 to 5 g with the air that is allowed for: contradicted in the same way")
    for other, name in SOLD_AS.items():
        claim, bodies = (claim_bodies(TABLES, parse_claim(n, TABLES)) for n in (name, other))
        for step in STEPS:
            counts = [
                contradicted(claim, *small_pieces(bodies, COUNT, step, wetting, np.random.default_rng(11)))
                for wetting in WETTINGS
            ]
            print(f"{other:11s} as {name:12s} {step:8s}" + "".join(f" {n:7d}" for n in counts))


if __name__ == "__main__":
    main()
