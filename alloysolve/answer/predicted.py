"""What each system would read where a reading is left out, and how thick its skin would be: the data of figures."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Array
from ..inference.groups import quantiles
from ..inference.systems import System
from ..physics.resistivity import IACS_UOHM_CM
from ..pieces.candidates import Candidates
from ..pieces.constructions import APPLIED
from ..readings.layers_metered import ObservedConductivity

if TYPE_CHECKING:
    from .solution import Solution

Span = tuple[float, float, float]
ROUGH = 0.01  # share of the belief in what a figure may leave out
# normal scores at 1/18, 3/18 ... 17/18: nine equally likely errors of the mixing law
NORMAL = np.array([-1.593, -0.967, -0.589, -0.282, 0.0, 0.282, 0.589, 0.967, 1.593])


def predicted_densities(s: Solution, most: int) -> list[tuple[System, Span]]:
    """The likeliest systems that do not meet the claim, with the density [g/cm3] that all other readings leave them.

    Each is (median, low, high): the 95 % range of what the other readings alone leave, with the scatter of
    the mixing law. A system of which they leave nothing is left out.
    """
    kept = [o.name for o in s.evidence.observed]
    return [(x, _density(candidates, share)) for x, candidates, share in _left(s, kept, most)]


def predicted_pairs(s: Solution, most: int) -> list[tuple[System, Span, Span]]:
    """The likeliest systems with the density [g/cm3] and conductivity [%IACS] that all other readings leave them.

    The conductivity is what the meter would read on the piece; without a reading of a meter, it is that of the body.
    """
    kept = [o.name for o in s.evidence.observed if not isinstance(o, ObservedConductivity)]
    out = []
    for x, candidates, share in _left(s, kept, most):
        low, middle, high = quantiles(conductivity(s, candidates), share)
        out.append((x, _density(candidates, share), (middle, low, high)))
    return out


def meter(s: Solution) -> ObservedConductivity | None:
    """The first reading of a meter on a face."""
    return next((o for o in s.evidence.observed if isinstance(o, ObservedConductivity) and o.frequencies), None)


def conductivity(s: Solution, candidates: Candidates) -> Array:
    """What the meter would read on candidates [%IACS]; without one, the conductivity of their bodies."""
    found = meter(s)
    bodies = IACS_UOHM_CM / np.maximum(candidates.bodies.resistivity[candidates.point], 0.5)
    return np.asarray(found.shown(candidates) if found else bodies)


def skins_over_cores(s: Solution, most: int) -> list[tuple[System, str, Span, Span]]:
    """The likeliest plated systems: name of the skin, density of the core [g/cm3], thickness of the skin [um].

    Both are (median, low, high) over what all readings leave.
    """
    rows, bodies, share = s.posterior.rows, s.posterior.bodies, s.posterior.share
    out = []
    for x in s.found:
        plated = next((c for c in x.constructions if c.skin_um), None)
        if plated is None or plated.skin_um is None:
            continue
        mine = bodies.system[rows.point] == bodies.systems.index(tuple(sorted(x.metals)))
        mine &= APPLIED[rows.construction]
        if not share[mine].any():
            continue
        low, middle, high = quantiles(1 / bodies.v[rows.point[mine]], share[mine])
        thin, likely, thick = plated.skin_um
        out.append((x, plated.skin, (middle, low, high), (likely, thin, thick)))
    return out[:most]


def _density(candidates: Candidates, share: Array) -> Span:
    scatter = candidates.bodies.sigma[candidates.point][:, None] * NORMAL
    values = ((1 + scatter) / candidates.v[:, None]).ravel()
    low, middle, high = quantiles(values, np.repeat(share / len(NORMAL), len(NORMAL)))
    return middle, low, high


def _left(s: Solution, kept: Collection[str], most: int) -> Iterator[tuple[System, Candidates, Array]]:
    """The likeliest systems that do not meet the claim, with what some readings alone leave of their candidates."""
    from ..inference.find import posterior_of

    left = posterior_of(s.prior, s.evidence.only(*kept), left_out=ROUGH)
    rows, bodies = left.rows, left.bodies
    candidates = rows.candidates(bodies, s.evidence)
    for x in (s.beside_claim() if s.claim else list(s.found))[:most]:
        mine = np.flatnonzero(bodies.system[rows.point] == bodies.systems.index(tuple(sorted(x.metals))))
        if len(mine) and left.share[mine].any():
            yield x, candidates.some(mine), left.share[mine]
