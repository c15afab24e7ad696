"""How each reading agrees with what fits best, and with the claim."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from ..arrays import Mask
from ..inference.compare import scores
from ..integral.evidence import WEIGHING, Scores
from ..pieces.constructions import APPLIED

if TYPE_CHECKING:
    from ..inference.find import Found
    from ..inference.systems import ConstructionFound
    from ..pieces.candidates import Candidates

AGREES = 1.96  # normal score up to which a reading agrees
STRAINED = 3.3  # normal score up to which it is only strained (1 in 1000)
FREAK = 1e-3  # of the greatest share of belief of a row; rows below it do not speak for their system


def scores_of_first(solution: Found) -> Scores:
    """Score of each reading under the row of the likeliest system that they fit best; freaks are left out."""
    if not solution.found:
        return Scores({})
    rows, bodies = solution.posterior.rows, solution.posterior.bodies
    mine = np.flatnonzero(bodies.system[rows.point] == bodies.systems.index(tuple(sorted(solution.found[0].metals))))
    mine = mine[rows.weight[mine] >= FREAK * rows.weight[mine].max()]
    best = mine[[int(np.argmax(rows.likelihood[mine]))]]
    return scores(solution.evidence, rows.candidates(bodies, solution.evidence).some(best), False)


def agreement(score: float) -> str:
    """Code of how a reading agrees: "agrees", "strained" or "no"."""
    return "agrees" if abs(score) <= AGREES else "strained" if abs(score) <= STRAINED else "no"


def reading_rows(solution: Found, by_first: Scores) -> list[dict[str, Any]]:
    """One row per reading: name, kind, place, value as read, what it sees, agreement with the first row and the claim.

    `by_first` : as `scores_of_first` gives them. `sees_um` is how deep the reading looks into the first row [um]; None
    if it sees the whole piece, or if nobody knows.
    """
    first = first_piece(solution)
    by_claim = claim_scores(solution)
    of_parts = {o.name for o in solution.evidence.observed if o.of_part}
    out = []
    for name, kind, place, value in _read(solution):
        row: dict[str, Any] = {"name": name, "kind": kind, "place": place, "value": value}
        depth = seen_um(solution, name, first)
        row["sees_um"] = depth if depth is not None and math.isfinite(depth) else None
        row["sees"] = "all of it" if depth == math.inf else "the body" if row["sees_um"] is None else "a depth"
        row["agrees"] = agreement(by_first[name][0]) if name in by_first else None
        row["claim_agrees"] = agreement(by_claim[name]) if name in by_claim else None
        if name in of_parts:
            row |= {"sees": "a part", "agrees": None, "claim_agrees": None}
        out.append(row)
    return out


def seen_um(solution: Found, name: str, candidates: Candidates | None) -> float | None:
    """How deep a reading looks into the first of some candidates [um]; inf for the whole piece, None if unknown."""
    if name == WEIGHING:
        return math.inf
    observed = {o.name: o for o in solution.evidence.observed}[name]
    depth = float(observed.sees(candidates)[0]) if candidates is not None else math.nan
    return None if math.isnan(depth) else depth


def depth_by_core(solution: Found, name: str, most: int = 3) -> list[tuple[ConstructionFound, float]]:
    """Depth [um] to which a reading of the surface sees through the skin over the likeliest cores; each depth once."""
    observed = next(o for o in solution.evidence.observed if o.name == name)
    out: list[tuple[ConstructionFound, float]] = []
    for system in solution.found[: 2 * most]:
        plated = [c for c in system.constructions if c.built.applied]
        best = best_of(solution, tuple(sorted(system.metals)), APPLIED) if plated else None
        if best is None or sum(c.probability for c in plated) < 0.01:
            continue
        um = float(observed.sees(best)[0])
        if np.isfinite(um) and all(abs(um / other - 1) > 0.2 for _, other in out):
            out.append((plated[0], um))
    return out[:most]


def _read(solution: Found) -> list[tuple[str, str, str, str]]:
    rows = []
    if solution.weighing:
        d = solution.weighing.density
        text = f"{d.value:.2f} g/cm3 ({d.low:.2f} to {d.high:.2f})"
        rows.append((WEIGHING, solution.weighing.route, "", text))
    return rows + [(o.name, o.kind, o.place, o.text) for o in solution.evidence.observed]


def claim_scores(solution: Found) -> Mapping[str, float]:
    """Normal score of each reading under the claim."""
    if solution.decision is None:
        return {}
    for reason in solution.decision.reasons:
        if reason.code == "readings":
            found = reason.values["scores"]
            return found if isinstance(found, dict) else {}
    return {}


def first_piece(solution: Found) -> Candidates | None:
    """The best row of the likeliest system, as a set of one candidate."""
    return best_of(solution, tuple(sorted(solution.found[0].metals))) if solution.found else None


def best_of(solution: Found, metals: tuple[str, ...], among: Mask | None = None) -> Candidates | None:
    """The best row of one system (metals in alphabetical order), of any or of some constructions."""
    rows, bodies = solution.posterior.rows, solution.posterior.bodies
    mine = bodies.system[rows.point] == bodies.systems.index(metals)
    mine = np.flatnonzero(mine if among is None else mine & among[rows.construction])
    if not len(mine):
        return None
    best = int(mine[np.argmax(rows.weight[mine])])
    return rows.candidates(bodies, solution.evidence).some(np.array([best]))
