"""How each reading agrees with what fits best, and with the claim."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from ..physics.eddy import depth_of_penetration
from .constructions import HOLLOW, PLATED, Evidence, Rows
from .likelihood import mixture_score, resistivity_score
from .readings import Conductivity, Magnet
from .verdict import magnet_scores, reading_name

if TYPE_CHECKING:
    from .bodies import Bodies
    from .solve import Solution

AGREES = 1.96  # normal score up to which a reading agrees
STRAINED = 3.3  # and up to which it is only strained (1 in 1000)


def agreement(score: float) -> str:
    """Code of how a reading agrees: "agrees", "strained", "no"."""
    return "agrees" if abs(score) <= AGREES else "strained" if abs(score) <= STRAINED else "no"


def reading_rows(solution: Solution) -> list[dict[str, Any]]:
    """One row per reading: name, kind, place, value as read, what it sees, agreement with first row and claim.

    `sees_um` is how deep a conductivity meter of known frequency looks into metal that reads so [um]; None
    where the reading sees the whole piece, or nobody knows the frequency.
    """
    depths = seen_depths(solution)
    first = first_scores(solution)
    of_claim = _claim_scores(solution)
    out = []
    for name, kind, place, value in _read(solution):
        row: dict[str, Any] = {"name": name, "kind": kind, "place": place, "value": value}
        row["sees_um"] = depths.get(name)
        electric = kind in ("conductivity", "resistivity")
        row["sees"] = "a depth" if name in depths else "the body" if electric else "all of it"
        row["agrees"] = agreement(first[name]) if name in first else None
        row["claim_agrees"] = agreement(of_claim[name]) if name in of_claim else None
        out.append(row)
    return out


def seen_depths(solution: Solution) -> dict[str, float]:
    """Depth of penetration [um] of each conductivity reading whose frequency is known, its own or the meter's."""
    meter = solution.settings.readings.conductivity.frequency
    out = {}
    conductivities = [r for r in solution.piece.readings if isinstance(r, Conductivity)]
    for k, reading in enumerate(conductivities):
        frequency = reading.frequency or (meter.value if meter and reading.kind == "conductivity" else None)
        if frequency:
            out[reading_name(k)] = float(depth_of_penetration(np.asarray(reading.value), np.asarray(frequency)))
    return out


def _read(solution: Solution) -> list[tuple[str, str, str, str]]:
    rows = []
    if solution.weighing:
        d = solution.weighing.density
        text = f"{d.value:.2f} g/cm3 ({d.low:.2f} to {d.high:.2f})"
        rows.append(("weighing", solution.weighing.route, "", text))
    conductivities = [r for r in solution.piece.readings if isinstance(r, Conductivity)]
    rows += [(reading_name(k), r.kind, r.place, r.text) for k, r in enumerate(conductivities)]
    magnets = [r for r in solution.piece.readings if isinstance(r, Magnet)]
    return rows + [("magnet", "magnet", r.place, r.text) for r in magnets[-1:]]


def _claim_scores(solution: Solution) -> Mapping[str, float]:
    if solution.verdict is None:
        return {}
    for reason in solution.verdict.reasons:
        if reason.code == "readings":
            scores = reason.values["scores"]
            return scores if isinstance(scores, dict) else {}
    return {}


def first_scores(solution: Solution) -> dict[str, float]:
    """Normal score of each reading under the best row of the likeliest system."""
    posterior, evidence = solution.posterior, solution.evidence
    rows, bodies = posterior.rows, posterior.bodies
    if not solution.found or not len(rows.point):
        return {}
    metals = tuple(sorted(solution.found[0].metals))
    mine = np.flatnonzero(bodies.system[rows.point] == bodies.systems.index(metals))
    best = int(mine[np.argmax(rows.weight[mine])])
    point = rows.point[best]
    out = {}
    if evidence.volume is not None:
        v, sigma = row_volume(rows, bodies, evidence, best), bodies.sigma[point]
        z = mixture_score(np.asarray(evidence.volume.v - v), evidence.volume.u, np.asarray(sigma * v),
                          evidence.volume.bubble)  # fmt: skip
        out["weighing"] = float(z)
    for k, (read, u) in enumerate(evidence.resistivity):
        whole = np.array([row_resistivity(rows, bodies, evidence, best)])
        z = resistivity_score(read, u, whole, bodies.u_resistivity[[point]])
        out[reading_name(k)] = float(z[0])
    if evidence.magnet:
        out["magnet"] = float(magnet_scores(evidence)[bodies.magnetic[point]])
    return out


def row_volume(rows: Rows, bodies: Bodies, evidence: Evidence, row: int) -> float:
    """Specific volume of the whole piece that one row predicts [cm3/g]."""
    v, parameter = float(bodies.v[rows.point[row]]), float(rows.parameter[row])
    if rows.construction[row] == HOLLOW:
        return v / (1 - parameter)
    if rows.construction[row] == PLATED:
        law, skin = bodies.law, int(rows.skin[row])
        part = float(evidence.skin_share(np.array([parameter]))[0])
        return float(1 / ((1 - part) / v + part * law.molar_mass[skin] / law.molar_volume[skin]))
    return v


def row_resistivity(rows: Rows, bodies: Bodies, evidence: Evidence, row: int) -> float:
    """Resistivity of the whole piece that one row predicts [uohm cm]: body and skin conduct side by side."""
    body = float(bodies.resistivity[rows.point[row]])
    if rows.construction[row] != PLATED:
        return body
    part = float(evidence.skin_share(np.array([rows.parameter[row]]))[0])
    return float(1 / ((1 - part) / body + part / bodies.law.resistivity[int(rows.skin[row])]))
