"""Readings that nothing reconciles: the two that disagree most, and what each alone would say."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from ..inference.misfit import best_as_claimed
from ..integral.evidence import WEIGHING, Scores
from ..readings.base import BODY

if TYPE_CHECKING:
    from ..inference.find import Found
    from ..inference.posterior import Posterior
    from ..integral.evidence import Evidence

NOTHING_FITS = 0.01  # p of the first row below which nothing reconciles the readings
UNSURE = 1.3  # error of an estimated agreement that is allowed for
DISAGREE = -2.3  # logarithm of the agreement (a tenth) below which two readings are said to disagree


def conflicts(s: Found, by_first: Scores) -> tuple[Mapping[str, Any], ...]:
    """The two readings that disagree most, if the first row fits badly or one reading alone speaks against the claim.

    `by_first` : scores of the readings under the first row.

    Two readings disagree by how much less likely they are together than each by itself, over all that is thought
    possible: ``ln(E_ab / (E_a E_b))`` with E the mean likelihood under the prior. Candidates that stand for the whole
    prior tell which two that are, and whether they may disagree enough. Only then are their rows integrated, with each
    of them alone: what one reading leaves is more than what all of them leave, so that it is not among the rows.
    """
    names = s.evidence.names
    if len(names) < 2:
        return ()
    p = best_as_claimed(by_first).p if by_first else 0.0
    alone_against = s.decision is not None and any(r.code == "one reading alone" for r in s.decision.reasons)
    nothing_known = not s.found or s.other >= s.found[0].probability
    if p >= NOTHING_FITS and not alone_against and not nothing_known:
        return ()
    estimated = estimated_agreement(s)
    worst = min(estimated, key=lambda pair: estimated[pair])
    if estimated[worst] > DISAGREE + UNSURE:
        return ()
    alone = {name: _posterior(s, s.evidence.only(name)) for name in worst}
    both = _posterior(s, s.evidence.only(*worst))
    agreement = float(np.log(both.total / np.prod([p.total for p in alone.values()])))
    if agreement > DISAGREE:
        return ()
    return (
        {
            "readings": list(worst),
            "p": p,
            "log_agreement": agreement,
            "alone": [_says(s, alone[name], name) for name in worst],
        },
    )


def estimated_agreement(s: Found) -> dict[tuple[str, str], float]:
    """``ln(E_ab / (E_a E_b))`` of each two readings, from candidates that stand for the whole prior.

    It errs by 0.1 for most pairs, and by up to 1.1 where a reading lies far from all that is likely.
    """
    every, volume, other = s.prior.whole(s.evidence.form), s.evidence.volume, s.prior.other
    candidates = every.candidates
    like = {o.name: o.pdf(candidates) for o in s.evidence.observed}
    if volume is not None:
        like[WEIGHING] = volume.pdf(candidates.v, volume.level(candidates.bodies.sigma[candidates.point]))

    def mean(*names: str) -> float:
        """Mean likelihood of some readings together."""
        only = s.evidence.only(*names)
        together = len(only.groups) < len(only.observed)  # their predictions err together
        found = only.pdf(candidates) if together else np.prod([like[name] for name in names], axis=0)
        return float((every.prior * found).sum()) + other * only.other_likelihood()

    alone = {name: mean(name) for name in s.evidence.names}
    return {(a, b): float(np.log(mean(a, b) / (alone[a] * alone[b]))) for a, b in combinations(s.evidence.names, 2)}


def _posterior(s: Found, evidence: Evidence) -> Posterior:
    from ..inference.find import posterior_of

    return posterior_of(s.prior, evidence, BODY)


def _says(s: Found, posterior: Posterior, name: str) -> dict[str, Any]:
    """The likeliest system by one reading alone, without metals if none is likely, and that of the claim."""
    first = next(iter(posterior.systems()), None)
    known = first is not None and first.probability > posterior.other
    return {
        "reading": name,
        "metals": list(first.metals) if first and known else [],
        "family": first.constructions[0].family if first and known else "",
        "probability": first.probability if first and known else posterior.other,
        "as_claimed": float(posterior.by_point[s.prior.meets_claim].sum()),
    }
