"""Readings that nothing reconciles: the two that disagree most, and what each alone would say."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from ..arrays import Array
from ..inference.misfit import best_as_claimed
from ..inference.posterior import Posterior
from ..integral.evidence import WEIGHING, Scores
from ..integral.rows import Rows
from ..readings.base import BODY

if TYPE_CHECKING:
    from ..inference.alternatives import Alternatives
    from ..inference.find import Found

NOTHING_FITS = 0.01  # p of the first row below which nothing reconciles the readings
UNSURE = 1.3  # error of an estimated agreement that is allowed for
ROUGH = 0.01  # share of the mean likelihood of two readings that may be missed
LEAST_WEIGHT = 1e-12  # of the largest weight of a candidate, below which others do not count
DISAGREE = -2.3  # logarithm of the agreement (a tenth) below which two readings are said to disagree


def conflicts(s: Found, by_first: Scores) -> tuple[Mapping[str, Any], ...]:
    """The two readings that disagree most, if anything hints that some do: see `hints`.

    `by_first` : scores of the readings under the first row.

    Two readings disagree by how much less likely they are together than each by itself, over all that is thought
    possible: ``ln(E_ab / (E_a E_b))`` with E the mean likelihood under the prior. Candidates that stand for the whole
    prior tell which two that are, what each of them says alone, and whether they may disagree enough. Only then is what
    both leave together integrated, since few candidates come near it.
    """
    if len(s.evidence.names) < 2:
        return ()
    p = best_as_claimed(by_first).p if by_first else 0.0
    if not hints(s, p):
        return ()
    stand_ins = StandIns(s)
    estimated = stand_ins.agreements()
    worst = min(estimated, key=lambda pair: estimated[pair])
    if estimated[worst] > DISAGREE + UNSURE:
        return ()
    alone = {name: stand_ins.posterior(name) for name in worst}
    agreement = float(np.log(_total(s, worst) / np.prod([p.total for p in alone.values()])))
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


def hints(s: Found, p: float) -> bool:
    """Whether readings may disagree, from what is known already; `p` : of the first row.

    The first row fits badly, or one reading alone speaks against the claim, or something that is in no table has become
    likelier than it was before the readings: whatever fits them all is then a far-fetched construction.
    """
    alone_against = s.decision is not None and any(r.code == "one reading alone" for r in s.decision.reasons)
    return p < NOTHING_FITS or alone_against or s.other > s.prior.other


@dataclass(frozen=True)
class StandIns:
    """Candidates that stand for the whole prior, weighed against some of the readings of a piece."""

    s: Found

    @cached_property
    def every(self) -> Alternatives:
        """The candidates with their prior shares."""
        return self.s.prior.whole(self.s.evidence.form)

    @cached_property
    def likelihood(self) -> dict[str, Array]:
        """Likelihood of each reading by itself for each candidate."""
        candidates, volume = self.every.candidates, self.s.evidence.volume
        like = {o.name: o.pdf(candidates) for o in self.s.evidence.observed}
        if volume is not None:
            like[WEIGHING] = volume.pdf(candidates.v, volume.level(candidates.bodies.sigma[candidates.point]))
        return like

    def posterior(self, *names: str) -> Posterior:
        """The candidates weighed against some readings.

        Its total errs by up to a quarter for one reading. For two it may be ten times too small, where both together
        leave next to nothing.
        """
        prior, only, c = self.s.prior, self.s.evidence.only(*names), self.every.candidates
        together = len(only.groups) < len(only.observed)  # their predictions err together
        like = only.pdf(c) if together else np.prod([self.likelihood[name] for name in names], axis=0)
        rows = Rows(c.construction, c.point, c.skin, c.parameter, self.every.prior, like)
        rows = rows.some(rows.weight > LEAST_WEIGHT * rows.weight.max())
        other = only.other_likelihood()
        return Posterior.of(prior.bodies, prior.layers, rows, prior.shares, BODY, prior.other, other)

    def agreements(self) -> dict[tuple[str, str], float]:
        """Estimated ``ln(E_ab / (E_a E_b))`` of each two readings.

        It errs by 0.1 for most pairs, and by up to 1.1 where a reading lies far from all that is likely.
        """
        names = self.s.evidence.names
        alone = {name: self.posterior(name).total for name in names}
        return {
            (a, b): float(np.log(self.posterior(a, b).total / (alone[a] * alone[b]))) for a, b in combinations(names, 2)
        }


def _total(s: Found, names: Collection[str]) -> float:
    """Mean likelihood of some readings together: known if there are no others, otherwise integrated."""
    from ..inference.find import posterior_of

    if len(names) == len(s.evidence.names):
        return s.posterior.total
    return posterior_of(s.prior, s.evidence.only(*names), BODY, ROUGH).total


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
