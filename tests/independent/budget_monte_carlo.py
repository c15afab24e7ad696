"""The budget and the skew range of a weighing against Monte Carlo; prints tables.

Run: ``python tests/independent/budget_monte_carlo.py``

1. Limits: the causes are drawn and the full hydrostatic equation is solved for each draw (no first order,
   no grid). The lower density limit of `weigh` leaves bubbles out, so it is compared with draws without.
2. Coverage: true pieces are weighed on a simulated scale that rounds; how often the range holds the truth,
   with no bubbles, and with bubbles of the allowance.
3. JCGM 101:2008, 9.3 (mass calibration): that the drawing itself is right.
"""

from __future__ import annotations

import numpy as np

from alloysolve.physics.water import water_density_tanaka
from alloysolve.weighing.weigh import weigh

N = 2_000_000
PIECES = 4000
rng = np.random.default_rng(20260312)

# label, mass g, true density, options of weigh
CASES = [
    ("31 g brass, 0.01 g", 31.18, 8.54, {}),
    ("31 g silver, brushed", 31.10, 10.49, {"wetting": "brushed"}),
    ("31 g silver, dry dip", 31.10, 10.49, {"wetting": "dry dip"}),
    ("5 g 14 ct, 0.01 g", 5.0, 13.1, {}),
    ("2.8 g ring, 0.01 g", 2.84, 15.4, {}),
    ("10 g gold, 0.1 g", 10.0, 19.3, {"scale_step": 0.1, "wetting": 0.0}),
    ("33 g, 0.1 g, thread", 33.25, 8.29, {"scale_step": 0.1, "thread": 0.3}),
    ("31 g, 0.001 g", 31.10, 10.49, {"scale_step": 0.001, "wetting": "brushed"}),
]


def gain(m, rho, rho_l, rho_a):
    return m * (rho_l - rho_a) / (rho - rho_a)


def sizes(w):
    return {r.part: r.size for r in w.budget}


def limits(m, rho, options):
    """2.5 % and 97.5 % points of the density by drawing every cause of the budget."""
    G = gain(m, rho, float(water_density_tanaka(20.0)), 0.0012)
    w = weigh(m, G, **options)
    s = sizes(w)
    step = options.get("scale_step", 0.01)
    rho_l = w.liquid + s["liquid"] * rng.standard_normal(N)
    rho_a = w.air + s["air"] * rng.standard_normal(N)
    mass = m - s["mass"] / 1000 * rng.standard_normal(N)
    thread = np.pi / 4 * options.get("thread", 0.0) ** 2 * 30 * w.liquid / 1000
    gains = G - thread - step * (rng.uniform(-0.5, 0.5, N) + rng.uniform(-0.5, 0.5, N))
    gains -= s.get("thread", 0.0) / 1000 * rng.standard_normal(N)
    bubble = rng.exponential(s["bubbles"] / 1000, N) if "bubbles" in s else 0.0
    plain = mass * (rho_l - rho_a) / gains + rho_a
    with_bubble = mass * (rho_l - rho_a) / (gains - bubble) + rho_a
    return w, np.quantile(plain, 0.025), np.quantile(with_bubble[gains > bubble], 0.975)


def coverage(m, rho, options, bubbles):
    """Share of simulated weighings whose range holds the truth."""
    step = options.get("scale_step", 0.01)
    masses = m * rng.uniform(0.8, 1.2, PIECES)  # every phase of the step
    rho_l = water_density_tanaka(rng.normal(20, 1, PIECES)) + 1e-4 * rng.standard_normal(PIECES)
    rho_a = rng.normal(0.0012, 0.00006, PIECES)
    true = gain(masses, rho, rho_l, rho_a)
    if bubbles:
        s = sizes(weigh(m, float(true.mean()), **options))
        true = true + rng.exponential(s.get("bubbles", 0.0) / 1000 + 1e-12, PIECES)
    if "thread" in options:
        d = options["thread"] * rng.normal(1, 0.1, PIECES)
        true = true + np.pi / 4 * d**2 * rng.normal(30, 5, PIECES) / 1000 * rho_l
        pull = np.pi * options["thread"] * 0.07275 / 9.80665
        true = true + pull * (rng.uniform(0, 1, PIECES) - rng.uniform(0, 1, PIECES))

    def read(x):
        return step * np.round((x + rng.uniform(-step / 2, step / 2, PIECES)) / step)

    c = weigh(read(masses), read(true), **options).columns
    return float(np.mean((c.low <= rho) & (rho <= c.high))), float(np.mean(c.low > rho))


def mass_calibration():
    """JCGM 101:2008, 9.3: model (23), inputs of table 5; outputs of table 6."""
    m_rc = rng.normal(100000.000, 0.050, N)  # mg
    dm_rc = rng.normal(1.234, 0.020, N)
    rho_a = rng.uniform(1.10, 1.30, N)  # kg/m3
    rho_w = rng.uniform(7000, 9000, N)
    rho_r = rng.uniform(7950, 8050, N)
    dm = (m_rc + dm_rc) * (1 + (rho_a - 1.2) * (1 / rho_w - 1 / rho_r)) - 100000.0
    ordered = np.sort(dm)
    k = int(0.95 * N)
    i = int(np.argmin(ordered[k:] - ordered[:-k]))
    return dm.mean(), dm.std(), ordered[i], ordered[i + k]


def main():
    print(f"limits against {N} draws (difference in standard uncertainties)")
    print(f"{'case':24s} {'low':>8s} {'drawn':>8s} {'high':>8s} {'drawn':>8s} {'d low':>7s} {'d high':>7s}")
    for label, m, rho, options in CASES:
        w, low, high = limits(m, rho, options)
        d = w.density
        print(
            f"{label:24s} {d.low:8.4f} {low:8.4f} {d.high:8.4f} {high:8.4f} "
            f"{(d.low - low) / d.u:7.3f} {(d.high - high) / d.u:7.3f}"
        )
    print(f"\ncoverage of the 95 % range over {PIECES} simulated weighings; in brackets: range above the truth")
    print(f"{'case':24s} {'no bubbles':>18s} {'bubbles as allowed':>20s}")
    for label, m, rho, options in CASES:
        without, over_without = coverage(m, rho, options, bubbles=False)
        with_, over_with = coverage(m, rho, options, bubbles=True)
        print(f"{label:24s} {without:9.3f} ({over_without:.3f}) {with_:11.3f} ({over_with:.3f})")
    mean, u, low, high = mass_calibration()
    print("\nJCGM 101 9.3        mean      u       shortest 95 % (mg)")
    print(f"drawn              {mean:7.4f}  {u:.4f}  {low:.4f} to {high:.4f}")
    print("published           1.2340  0.0754  1.0834 to 1.3825   (table 6, from memory)")


if __name__ == "__main__":
    main()
