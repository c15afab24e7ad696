"""Do the probabilities and ranges hold? Candidates are drawn from the prior, read with the stated errors, and solved.

"Something else" is drawn too, at its share, with any density and resistivity. Three things are counted:

* probabilities: every system given 1 % or more, in bins of equal count; how often it was the true one;
* ranges: how often the 95 % range of the base metal of the true system, and of the claimed metal in the whole piece,
  holds the truth;
* ranks: where the truth lies in the belief about the base metal, given the true system; even if all is right.

A second run draws from another prior than it solves with. A third draws published grades alone, at their published
density and conductivity, with the scatter of their sources and lopsided errors, and solves with tables from which the
grade was left out and the pair terms fitted again: nature's mixing law against ours. Seed fixed; about 25 pieces a
second on each core, 5 in the third run.

    python tests/independent/calibration.py [pieces] [--figure FILE.png]
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from alloysolve.alloys.materials import layers_of
from alloysolve.inference.commonness import named_prior
from alloysolve.inference.find import posterior_of
from alloysolve.inference.prior import prior_of
from alloysolve.inputs.claim import parse_claim
from alloysolve.integral.evidence import Evidence
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import HOMOGENEOUS
from alloysolve.pieces.shape import Form
from alloysolve.published.load import default_tables
from alloysolve.readings.error_model import VolumeLikelihood, scale_mixture
from alloysolve.readings.reading import Circumstances
from alloysolve.readings.registry import Conductivity
from tests.independent.accuracy import LeftOut

TABLES = default_tables()
FORM = Form("disc", (38.6, 3.0))
CLAIMS = ("", "silver 925", "gold 750", "silver 999")
U_V, AIR, U_RHO = 0.002, 0.0015, 0.02  # relative: weighing, mean of the air on it, resistivity of the whole piece
OTHER = -1
GRADE_LIMITS = 0.5  # percent by mass: what a published grade may differ from its composition at least; judgement


@dataclass
class Found:
    """What one piece contributes."""

    probability: list  # of every system from 1 % on
    right: list
    rank: float
    in_range: float
    metal_in_range: float


def drawn(prior, rng):
    """One piece of the prior, or None for "something else"."""
    totals = np.array([b.share.sum() for b in prior.plain])
    k = rng.choice(len(totals) + 1, p=np.append(totals, 1 - totals.sum()))
    if k == len(totals):
        return None
    b = prior.plain[k]
    point = rng.choice(len(b.share), p=b.share / b.share.sum())
    span = b.spans[rng.choice(len(b.spans), p=[s for s, _, _ in b.spans])]
    parameter = 0.0 if b.construction == HOMOGENEOUS else np.exp(rng.uniform(np.log(span[1]), np.log(span[2])))
    if b.built.by_thickness and FORM.skin_share(parameter) > 0.9:
        return drawn(prior, rng)
    one = np.array([0])
    return Candidates(
        prior.bodies, prior.layers, FORM, one + b.construction, one + point, one + b.skin, one + parameter
    )


def scatter(rng):
    """One draw of the scatter of published alloys."""
    scales, weights = scale_mixture()
    return rng.choice(scales, p=weights) * rng.normal()


def read(piece, rng, about, lopsided=False):
    """Density and resistivity of a piece as read, as evidence."""
    if piece is None:
        v, rho = 1 / np.exp(rng.uniform(np.log(0.5), np.log(25))), np.exp(rng.uniform(np.log(1.6), np.log(190)))
    else:
        body = piece.bodies
        point = int(piece.point[0])
        v = float(piece.v[0]) * (1 + body.sigma[point] * (scatter(rng) + 0.5 * lopsided))
        whole = 1 / piece.beside(1 / body.resistivity, 1 / piece.layers.resistivity)[0]
        rho = float(whole) * np.exp(body.u_resistivity[point] * scatter(rng))
    v_read = v * (1 + rng.normal(0, U_V)) + rng.exponential(AIR * v)
    rho_read = np.clip(rho * np.exp(rng.normal(0, U_RHO)), 1.55, 580.0)
    reading = Conductivity(f"{rho_read} uohm cm", f"{100 * U_RHO} %").observed("conductivity", about)
    return Evidence(VolumeLikelihood(v_read, U_V * v_read, AIR * v_read), (reading,), FORM, layers_of(TABLES))


def piece_of(seed, text, draw_from, grades):
    """The piece of a seed, and the generator that drew it."""
    rng = np.random.default_rng([20261125, seed])
    source = prior_of(TABLES, claim_of(text), False, named_prior(draw_from))
    piece = drawn(source, rng)
    while grades and (piece is None or source.bodies.grade[piece.point[0]] < 0):
        piece = drawn(source, rng)
    return piece, source, rng


def claim_of(text):
    """The claim, if there is one."""
    return parse_claim(text, TABLES) if text else None


def grade_of(seed, text, draw_from):
    """Name of the grade that a seed draws."""
    piece, source, _ = piece_of(seed, text, draw_from, True)
    return source.bodies.grades[source.bodies.grade[piece.point[0]]]


@lru_cache(maxsize=2)
def tables_without(grade):
    """The tables as if the grade had never been published."""
    return LeftOut(TABLES.grades[grade].composition)


def one(seed, text, draw_from, solve_with, grade=""):
    """One piece from drawing to counting; a grade named is left out of the tables it is solved with."""
    piece, source, rng = piece_of(seed, text, draw_from, bool(grade))
    claim, grades = claim_of(text), bool(grade)
    belief = prior_of(tables_without(grade) if grade else TABLES, claim, False, named_prior(solve_with))
    evidence = read(piece, rng, Circumstances(TABLES, FORM), lopsided=grades)
    posterior = posterior_of(belief, evidence)
    true = OTHER if piece is None else tuple(sorted(source.bodies.systems[source.bodies.system[piece.point[0]]]))
    systems = posterior.systems()
    listed = [(s.probability, tuple(sorted(s.metals)) == true) for s in systems if s.probability >= 0.01]
    if posterior.other >= 0.01:
        listed.append((posterior.other, true == OTHER))
    out = Found([p for p, _ in listed], [r for _, r in listed], np.nan, np.nan, np.nan)
    mine = [s for s in systems if tuple(sorted(s.metals)) == true]
    if piece is None or not mine or mine[0].probability < 0.02:
        return out
    out.rank, out.in_range = ranks(posterior, mine[0], piece, GRADE_LIMITS if grade else 1e-6, rng.random())
    if claim and claim.metal:
        out.metal_in_range = content(posterior, belief, evidence, piece, claim.metal)
    return out


def ranks(posterior, system, piece, tolerance, tie):
    """Place of the true share of the base metal in the belief of its system; whether in range.

    Published grades hold much belief each: the truth lies anywhere among what is tied with it, at `tie` (0 to 1).
    """
    bodies, base = posterior.bodies, system.metals[:1]
    true = piece.bodies.share_of(piece.point[:1], base)[0, 0]
    points = np.flatnonzero(bodies.system == bodies.systems.index(tuple(sorted(system.metals))))
    share, w = posterior.by_point[points], bodies.share_of(points, base)[:, 0]
    below, same = share[w < true - 1e-9].sum(), share[np.abs(w - true) <= 1e-9].sum()
    low, _, high = system.ranges.get(system.metals[0], (np.nan, 0.0, np.nan))
    return (below + tie * same) / share.sum(), float(low - tolerance <= 100 * true <= high + tolerance)


def content(posterior, belief, evidence, piece, metal):
    """Whether the range of the claimed metal in the whole piece holds the truth."""
    skin = posterior.rows.candidates(belief.bodies, evidence).mass_part
    found = posterior.precious([metal], skin, None, posterior.share > 0).get(metal)
    at, part = piece.bodies.law.index[metal], float(piece.mass_part[0])
    of_part = float(piece.layers.w[piece.skin[0], at]) if piece.skin[0] >= 0 else 0.0
    true = 100 * (piece.bodies.w[piece.point[0], at] * (1 - part) + of_part * part)
    return float(true < 0.1) if found is None else float(found.low - 0.05 <= true <= found.high + 0.05)


def run(candidates, draw_from="default", solve_with="default", grades=False, workers=2):
    """All pieces, the claims in turn."""
    jobs = [(k, CLAIMS[k % len(CLAIMS)], draw_from, solve_with) for k in range(candidates)]
    if grades:  # those of one grade beside each other, so that its tables are made once
        jobs = sorted(((*job, grade_of(*job[:3])) for job in jobs), key=lambda job: job[-1])
    if workers == 1:
        return [one(*job) for job in jobs]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(one, *zip(*jobs, strict=True), chunksize=25))


def bins(found, count=8):
    """Mean probability, share that was right and its standard error, in bins of equal count."""
    p = np.concatenate([f.probability for f in found])
    right = np.concatenate([f.right for f in found]).astype(float)
    order = np.argsort(p, kind="stable")
    parts = np.array_split(order, count)
    return [(p[k].mean(), right[k].mean(), np.sqrt(max(p[k].mean() * (1 - p[k].mean()), 1e-9) / len(k))) for k in parts]


def report(title, found):
    """The tables of one run."""
    print(f"\n{title}: {len(found)} pieces")
    print("  said    right   difference  (standard error)")
    for said, right, se in bins(found):
        print(f"  {said:.3f}   {right:.3f}   {right - said:+.3f}      ({se:.3f})")
    for name in ("in_range", "metal_in_range"):
        x = np.array([getattr(f, name) for f in found])
        x = x[np.isfinite(x)]
        print(f"  {name}: {100 * x.mean():.1f} % of {len(x)}")
    rank = np.array([f.rank for f in found])
    rank = rank[np.isfinite(rank)]
    print(f"  rank from 0.025 to 0.975: {100 * np.mean((rank > 0.025) & (rank < 0.975)):.1f} %")
    counts = np.histogram(rank, 10, (0, 1))[0]
    print("  ranks, tenths:", " ".join(f"{c / counts.sum():.3f}" for c in counts))


def draw(found, file):
    """Said against right, and the ranks."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, (left, right) = plt.subplots(1, 2, figsize=(9, 4))
    said, was, se = np.array(bins(found, 12)).T
    left.plot([0, 1], [0, 1], color="0.6")
    left.errorbar(said, was, 2 * se, fmt="ko", markersize=4)
    left.set(xlabel="probability said", ylabel="share that was right")
    rank = np.array([f.rank for f in found])
    right.hist(rank[np.isfinite(rank)], 20, range=(0, 1), color="0.7", edgecolor="k", density=True)
    right.axhline(1, color="0.3")
    right.set(xlabel="rank of the truth", ylabel="density")
    figure.tight_layout()
    figure.savefig(file, dpi=150)


def main():
    """Prints the runs, and draws the first."""
    numbers = [a for a in sys.argv[1:] if a.isdigit()]
    candidates = int(numbers[0]) if numbers else 20_000
    first = run(candidates)
    report("drawn from the prior it is solved with", first)
    if "--figure" in sys.argv:
        draw(first, sys.argv[sys.argv.index("--figure") + 1])
    few = max(candidates // 5, 40)
    report("drawn from the flat prior, solved with the default one", run(few, "flat", "default"))
    report("drawn from the default prior, solved with the flat one", run(few, "default", "flat"))
    report("published grades only, each left out of the tables, scatter, half of it too light", run(few, grades=True))


if __name__ == "__main__":
    main()
