"""What the density of each system would be if it had not been read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .posterior import System, quantiles

if TYPE_CHECKING:
    from .solve import Solution

Span = tuple[float, float, float]
# normal scores at 1/18, 3/18 ... 17/18: nine equally likely errors of the mixing law
NORMAL = np.array([-1.593, -0.967, -0.589, -0.282, 0.0, 0.282, 0.589, 0.967, 1.593])


def predicted_densities(s: Solution, most: int) -> list[tuple[System, Span]]:
    """The likeliest systems beside the claim with the density [g/cm3] all other readings leave them.

    Each is (median, low, high): the 95 % range over the belief that the other readings alone leave, with the scatter of
    the mixing law. A system in which they leave no belief is left out.
    """
    from .solve import posterior_of

    without = posterior_of(s.prior, s.evidence.only(*(o.name for o in s.evidence.observed)))
    rows, bodies = without.rows, without.bodies
    pieces = rows.pieces(bodies, s.evidence)
    out = []
    for x in (s.beside_claim() if s.claim else list(s.found))[:most]:
        mine = np.flatnonzero(bodies.system[rows.point] == bodies.systems.index(tuple(sorted(x.metals))))
        if not len(mine) or not without.share[mine].any():
            continue
        some = pieces.some(mine)
        scatter = bodies.sigma[some.point][:, None] * NORMAL
        density = ((1 + scatter) / some.v[:, None]).ravel()
        weight = np.repeat(without.share[mine] / len(NORMAL), len(NORMAL))
        low, middle, high = quantiles(density, weight)
        out.append((x, (middle, low, high)))
    return out
