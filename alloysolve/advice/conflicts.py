"""Readings that nothing reconciles: the two that disagree most, and what each alone would say."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from ..inference.misfit import best_as_claimed
from ..readings.base import BODY
from .agreement import scores_of_first

if TYPE_CHECKING:
    from ..inference.evidence import Evidence
    from ..inference.find import Found
    from ..inference.posterior import Posterior

NOTHING_FITS = 0.01  # p of the first row below which nothing reconciles the readings
DISAGREE = -2.3  # logarithm of the agreement (a tenth) below which two readings are said to disagree


def conflicts(s: Found) -> tuple[Mapping[str, Any], ...]:
    """The two readings that disagree most, if the first row fits badly or one reading alone speaks against the claim.

    Two readings disagree by how much less likely they are together than each by itself, over all that is thought
    possible: ``ln(E_ab / (E_a E_b))`` with E the mean likelihood under the prior.
    """
    names = s.evidence.names
    if len(names) < 2:
        return ()
    scores = scores_of_first(s)
    p = best_as_claimed(scores).p if scores else 0.0
    alone_against = s.decision is not None and any(r.code == "one reading alone" for r in s.decision.reasons)
    nothing_known = not s.found or s.other >= s.found[0].probability
    if p >= NOTHING_FITS and not alone_against and not nothing_known:
        return ()
    alone = {name: _posterior(s, s.evidence.only(name)) for name in names}
    pairs = list(combinations(names, 2))
    agree = [
        float(np.log(_posterior(s, s.evidence.only(*pair)).total / np.prod([alone[n].total for n in pair])))
        for pair in pairs
    ]
    if min(agree) > DISAGREE:
        return ()
    worst = pairs[int(np.argmin(agree))]
    return (
        {
            "readings": list(worst),
            "p": p,
            "log_agreement": min(agree),
            "alone": [_says(s, alone[name], name) for name in worst],
        },
    )


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
