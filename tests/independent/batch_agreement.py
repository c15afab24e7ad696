"""How far the probabilities of a list are from an integral that leaves nothing out, and its answers from single solves.

    python -m tests.independent.batch_agreement [--rows 240]

Published grades under any of nine claims, weighed with errors; a third with a whole-piece resistivity, a sixth each
with a conductivity of unknown frequency, which is not looked up, and
with a density alone. The integral is that of `converged.py`.
"""

from __future__ import annotations

import argparse
from typing import Any

import numpy as np

from alloysolve.answer.solution import Solution, solve
from alloysolve.batch.answers import BEST
from alloysolve.batch.files import Row
from alloysolve.batch.looked_up import looked_up_answers
from alloysolve.batch.run import answer_rows
from alloysolve.inference.commonness import DEFAULT
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables
from tests.independent.converged import answer_of, converged

CLAIMS = (
    "",
    "silver 999",
    "silver 925",
    "18 ct yellow",
    "gold 999",
    "platinum 950",
    "brass",
    "silver 800",
    "14 ct yellow",
)
zero = {"low": 0.0, "likely": 0.0, "high": 0.0}
AT = (0.5, 0.9, 0.95, 0.99, 1.0)
CLEAR = 0.04  # lead in probability from which the likeliest system should be the same


def rows(count: int) -> list[dict[str, Any]]:
    """Random pieces."""
    rng = np.random.default_rng(7)
    grades = list(default_tables().grades.values())
    known = [g for g in grades if g.conductivity_iacs]
    out = []
    for i in range(count):
        g = known[rng.integers(len(known))] if i % 6 in (2, 3, 4) else grades[rng.integers(len(grades))]
        mass, rho = 10 ** rng.uniform(0.6, 2.3), g.density_g_cm3 * (1 + 0.002 * rng.standard_t(4))
        row = {"claim": str(rng.choice(CLAIMS)), "mass": f"{mass:.2f} g", "displaced": f"{mass / rho * 0.9982:.2f} g"}
        if i % 6 in (1, 3):
            row["magnet"] = "none"
        if i % 6 in (2, 3):
            row["resistivity"] = f"{172.41 / (g.conductivity_iacs or 1) * np.exp(0.04 * rng.normal()):.3f} uohm cm"
        if i % 6 == 4:
            row["conductivity"] = f"{(g.conductivity_iacs or 1) * np.exp(0.02 * rng.normal()):.2f} %IACS"
        out.append({"claim": row["claim"], "density": f"{rho:.3f} g/cm3"} if i % 6 == 5 else row)
    return out


def truth(s: Solution) -> dict[str, float]:
    """Probabilities of systems and of "something else" by the integral that leaves nothing out."""
    found: dict[str, float] = answer_of(s, converged(s))["system"]
    return {" ".join(sorted(name.split())): share for name, share in found.items()}


def apart(listed: dict[str, Any], shares: dict[str, float]) -> float:
    """Largest difference of the probabilities of the systems that a list names, of likely ones, and of the rest.

    A list names the ten likeliest. Of any other it says only that it is no likelier than the last of them.
    """
    one = {" ".join(sorted(x["metals"])): x["probability"] for x in listed["systems"]}
    unnamed = min(one.values()) if len(one) == BEST else 0.0
    one["else something"] = listed["something_else"]
    beyond = [x - unnamed for k, x in shares.items() if x > 0.02 and k not in one]
    return max(*beyond, 0.0, *(abs(x - shares.get(k, 0.0)) for k, x in one.items()))


def main() -> None:
    """Prints the figures and every decision that differs."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rows", type=int, default=240)
    asked = parser.parse_args()
    given, shop = rows(asked.rows), Settings()
    answers = answer_rows([Row(n, row, {}) for n, row in enumerate(given, 1)], shop, "default")
    pairs = [(q, solve(Piece.from_dict(row), shop)) for q, row in zip(answers, given, strict=True) if not q["error"]]
    pieces = {q["line"]: s.piece for q, s in pairs}
    looked_up = looked_up_answers(pieces, shop, default_tables(), DEFAULT)
    print(f"{len(looked_up)} of {len(pairs)} rows are looked up")
    pairs = [(q, s) for q, s in pairs if q["line"] in looked_up]
    shares = [truth(s) for _, s in pairs]
    difference = np.array([apart(q, share) for (q, _), share in zip(pairs, shares, strict=True)])
    clear = [
        (q, s)
        for q, s in pairs
        if s.found and s.found[0].probability - (s.found[1].probability if len(s.found) > 1 else 0.0) > CLEAR
    ]
    same = sum(set(q["systems"][0]["metals"]) == set(s.found[0].metals) for q, s in clear)
    at = ", ".join(f"{q:.0%} {x:.4f}" for q, x in zip(AT, np.quantile(difference, AT), strict=True))
    print(
        f"{len(pairs)} pieces; largest difference of a probability to the integral: mean {difference.mean():.4f}, {at}"
    )
    print(f"likeliest system that of a single solve: {same} of {len(clear)} where it leads by {CLEAR}")
    precious = [
        abs(q["precious"].get(m, zero)[part] - x) / (s.piece.mass.value if s.piece.mass else 100.0)
        for q, s in pairs
        for m, found in s.precious.items()
        for part, x in (("low", found.low), ("likely", found.value), ("high", found.high))
    ]
    print(f"precious content, share of the mass apart: 90 % {np.quantile(precious, 0.9):.4f}, most {max(precious):.3f}")
    judged = [(q, s.decision) for q, s in pairs if s.decision]
    differ = [(q, v) for q, v in judged if q["decision"] != v.code]
    print(f"decision the same: {len(judged) - len(differ)} of {len(judged)}")
    for q, v in differ:
        print(f"  {q['line']}: {v.code} (p {v.p:.2g}, excluded {v.excluded}), list: {q['decision']} (p {q['p']:.2g})")


if __name__ == "__main__":
    main()
