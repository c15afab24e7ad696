"""How often the decision is wrong, and how often it can be given at all: simulated weighings of sound and other pieces.

Pieces are drawn from the compositions a claim allows, their densities scattered as the program believes (Student's t
with 4 degrees of freedom, tails cut near 6 deviations), weighed with the errors the budget states: normal, and air on
the piece, exponential. Sound pieces are weighed a million times with honest errors; again with the full tails of
Student's t, which no table of densities can vouch for; again with 15 mg of air, as small coins hold at worst; and again
with a bubble of 0.03 mL that nobody reported. Less fine and substituted pieces are weighed 20 000 times each. Then 2000
sound pieces each are weighed and their resistivity read with 2 %: how many are contradicted and how many end undecided.
Seed fixed.

    python tests/independent/decision_simulation.py [number of sound pieces]
"""

import sys

import numpy as np

from alloysolve.alloys.materials import layers_of
from alloysolve.inference.claimed import claim_bodies
from alloysolve.inference.classes import kinds_of
from alloysolve.inference.compare import alternative_scores
from alloysolve.inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED, Shown
from alloysolve.inference.misfit import Law, contradicted
from alloysolve.inference.observe import form_of
from alloysolve.inference.prior import prior_of
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import Piece
from alloysolve.integral.evidence import Evidence
from alloysolve.pieces.candidates import Candidates
from alloysolve.published.load import default_tables
from alloysolve.readings.error_model import VolumeLikelihood, mixture_score, ratio_score, scale_mixture
from alloysolve.readings.reading import Circumstances
from alloysolve.readings.registry import Conductivity
from alloysolve.weighing.weigh import weigh

TABLES = default_tables()
FALSE_ALARM = 1e-4
SOUND = int(sys.argv[1]) if sys.argv[1:2] and sys.argv[1].isdigit() else 1_000_000
OTHERS = 20_000
BOTH = 2000  # pieces with two readings
U_RHO = 0.02
AIR_CM3, BUBBLE_CM3 = 0.015, 0.03
SET_UPS = [("0.1 g", "as usual"), ("0.01 g", "as usual"), ("0.01 g", "brushed"), ("0.001 g", "brushed")]
CLAIMS = [("silver 999", 31.1), ("silver 925", 20.0), ("gold 999", 31.1), ("18 ct yellow", 5.0)]
SOLD_AS = {  # what is sold as what: published grades or standard finenesses
    "silver 999": ["silver 925", "silver 800", "brass", "lead"],
    "silver 925": ["silver 835", "silver 800", "nickel silver"],
    "gold 999": ["gold 22 ct yellow", "18 ct yellow", "tungsten"],
    "18 ct yellow": ["14 ct yellow", "9 ct yellow", "brass"],
}


def of_weighing(claim, mass, step, wetting):
    """Standard uncertainty and mean air [cm3/g] of a weighing of a piece of the middle of the claim."""
    v = float(claim.v.mean())
    w = weigh(mass, mass * v * 0.9982, scale_step=step, wetting=wetting)
    return float(w.u_v), float(w.bubble_v), w


def drawn(bodies, count, u, bubble, rng, full_tails=False):
    """Specific volumes as read of so many pieces of some compositions."""
    at = rng.integers(len(bodies.v), size=count)
    scales, weights = scale_mixture()
    scatter = (
        rng.standard_t(4, count) / 2**0.5
        if full_tails
        else rng.choice(scales, count, p=weights) * rng.normal(size=count)
    )
    true = bodies.v[at] * (1 + bodies.sigma[at] * scatter)
    return true + rng.normal(0, u, count) + (rng.exponential(bubble, count) if bubble else 0.0)


def p_of(read, claim, u, bubble):
    """Tail probability of the misfit of each reading under the best composition of the claim.

    Compositions of one scatter are an interval of volumes; the best of all scatters counts.
    """
    best = np.full(len(read), np.inf)
    for sigma in np.unique(claim.sigma.round(5)):
        v = claim.v[claim.sigma.round(5) == sigma]
        nearest = np.clip(read, v.min(), v.max())
        z = mixture_score(read - nearest, u, np.full(len(read), sigma) * read, bubble)
        best = np.minimum(best, np.where(read == nearest, 0.0, np.abs(z)))
    return Law(1).tail(best**2)


def p_of_both(claim, u, bubble, rng):
    """Tail probability of the joint misfit of weighing and resistivity of sound pieces under their best composition."""
    at = rng.integers(len(claim.v), size=BOTH)
    scales, weights = scale_mixture()
    one, two = (rng.choice(scales, BOTH, p=weights) * rng.normal(size=BOTH) for _ in range(2))
    v = claim.v[at] * (1 + claim.sigma[at] * one) + rng.normal(0, u, BOTH) + rng.exponential(bubble, BOTH)
    rho = np.log(claim.resistivity[at]) + claim.u_resistivity[at] * two + rng.normal(0, U_RHO, BOTH)
    misfit = np.full(BOTH, np.inf)
    for k in range(len(claim.v)):
        z = mixture_score(v - claim.v[k], u, np.full(BOTH, claim.sigma[k]) * v, bubble)
        y = ratio_score(rho - np.log(claim.resistivity[k]), U_RHO, np.full(BOTH, claim.u_resistivity[k]))
        misfit = np.minimum(misfit, z**2 + y**2)
    return Law(2).tail(misfit)


def what_shows(name, claim, u, bubble, w, with_resistivity=False):
    """What such readings would contradict of all that is not the claim, and of each kind: fixed by the set-up."""
    said = parse_claim(name, TABLES)
    prior = prior_of(TABLES, said, False)
    form = form_of(Piece(mass=f"{w.mass_g} g", displaced=f"{w.displaced_g} g"), w)
    rho = Conductivity(f"{np.median(claim.resistivity)} uohm cm", f"{100 * U_RHO} %")
    about = Circumstances(TABLES, form)
    observed = (rho.observed("conductivity", about),) if with_resistivity else ()
    evidence = Evidence(VolumeLikelihood(float(claim.v.mean()), u, bubble), observed, form, layers_of(TABLES))
    others = prior.alternatives(form)
    pieces = Candidates.bare(claim, layers_of(TABLES), form)
    found = alternative_scores(evidence, pieces, others, False)
    kinds = kinds_of(others.candidates, float(claim.v.mean()), said.metal)
    return Shown.of(contradicted(found, evidence.scores(pieces), FALSE_ALARM), others.prior, kinds)


def least(shown):
    """The share shown of all, and of the kind of which least shows."""
    return f"{shown.share:6.2f} {shown.by_kind[shown.least]:6.2f} {shown.least}"


def codes(p, shown):
    """Share of each decision."""
    against, agrees = p < FALSE_ALARM, (p > 0.05) & shown.enough
    return {
        CONTRADICTED: against.mean(),
        NOT_CONTRADICTED: agrees.mean(),
        UNDECIDED: (~against & ~agrees).mean(),
    }


def main():
    """Prints the tables."""
    rng = np.random.default_rng(20261125)
    print(f"{SOUND} sound pieces each: how many are contradicted, of 1 in 10 000 allowed")
    print(
        f"{'claim':14s} {'mass':>6s} {'step':>8s} {'wetting':9s} {'honest':>12s} {'full tails':>12s} {'15 mg':>12s}"
        f" {'bubble':>12s} {'undecided':>9s} shown of all, of the kind of which least shows"
    )
    for name, mass in CLAIMS:
        claim = claim_bodies(TABLES, parse_claim(name, TABLES))
        for step, wetting in SET_UPS:
            u, bubble, w = of_weighing(claim, mass, step, wetting)
            read = drawn(claim, SOUND, u, bubble, rng)
            p, shown = p_of(read, claim, u, bubble), what_shows(name, claim, u, bubble, w)
            without_air = drawn(claim, SOUND, u, 0.0, rng)
            air, bad = (p_of(without_air + x / mass, claim, u, bubble) for x in (AIR_CM3, BUBBLE_CM3))
            far = p_of(drawn(claim, SOUND, u, bubble, rng, full_tails=True), claim, u, bubble)
            counts = "".join(f" {(x < FALSE_ALARM).sum():12d}" for x in (p, far, air, bad))
            undecided = codes(p, shown)[UNDECIDED]
            print(f"{name:14s} {mass:6.1f} {step:>8s} {wetting:9s}{counts} {undecided:9.2f} {least(shown)}")
    print("\nother pieces: share contradicted / undecided / not contradicted")
    for name, mass in CLAIMS:
        claim = claim_bodies(TABLES, parse_claim(name, TABLES))
        for step, wetting in SET_UPS:
            u, bubble, w = of_weighing(claim, mass, step, wetting)
            shown = what_shows(name, claim, u, bubble, w)
            row = []
            for other in SOLD_AS[name]:
                bodies = claim_bodies(TABLES, parse_claim(other, TABLES))
                found = codes(p_of(drawn(bodies, OTHERS, u, bubble, rng), claim, u, bubble), shown)
                row.append(f"{other} {found[CONTRADICTED]:.2f}/{found[UNDECIDED]:.2f}/{found[NOT_CONTRADICTED]:.2f}")
            print(f"{name:14s} {step:>8s} {wetting:9s} " + "; ".join(row))
    print("\nsound pieces, weighing and resistivity: contradicted of 2000, undecided, shown")
    for name, mass in CLAIMS:
        claim = claim_bodies(TABLES, parse_claim(name, TABLES))
        for step, wetting in SET_UPS:
            u, bubble, w = of_weighing(claim, mass, step, wetting)
            p, shown = p_of_both(claim, u, bubble, rng), what_shows(name, claim, u, bubble, w, True)
            print(
                f"{name:14s} {step:>8s} {wetting:9s} {(p < FALSE_ALARM).sum():4d}"
                f" {codes(p, shown)[UNDECIDED]:6.2f} {least(shown)}"
            )


if __name__ == "__main__":
    main()
