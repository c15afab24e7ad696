"""From a piece to what fits it, how likely each candidate is, and the decision on its claim."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from ..arrays import Array, Index, Mask
from ..inputs.claim import Claim, allows_hollow, parse_claim
from ..inputs.piece import Piece
from ..inputs.settings import Settings
from ..integral.believed import Believed
from ..integral.evidence import Evidence
from ..integral.rows import Rows
from ..integral.solver import LEFT_OUT, Solver
from ..measured import Measured
from ..pieces.candidates import Candidates
from ..pieces.constructions import HOLLOW
from ..published.load import Tables
from ..readings.size import ObservedType
from ..weighing.weigh import Weighing
from .claimed import claim_candidates
from .commonness import NamedPrior, usual_alloys
from .compare import PieceComparison, scores
from .decision import SPEAKS_AGAINST, Decision, judge
from .groups import quantiles
from .layered import content_as_claimed
from .misfit import p_of
from .observe import evidence_of
from .posterior import LISTED_FROM, Posterior
from .prior import Prior, envelope, other_prior, prior_of
from .systems import System
from .weigh_piece import density_of

RARE_ROW = 1e-4  # of the largest share of a row, below which rows do not count
CLAIM_GROUP, FINER_GROUP, FIRST_SYSTEM = 0, 1, 2  # numbers of groups: as claimed, finer, and each system beside them
COUNTED_FROM = 0.05  # probability from which a group counts for what a piece holds: a bound by rarer ones misleads
STATED = 0.01  # relative uncertainty to which a content that a claim states is rounded
SURE = 0.9  # share of the alternatives from which the first system is first under any prior


@dataclass(frozen=True, eq=False, repr=False)
class Found:
    """What fits a piece, and the decision on its claim, before any advice.

    Attributes
    ----------
    weighing : the density with its budget, or None. claim, decision : None without a claim.
    found : systems in order of probability. other : share of "something else".
    compared : the claim compared with the readings, or None. every : rows for the larger of the prior and the one
        that it is compared with.
    """

    piece: Piece
    settings: Settings
    tables: Tables
    weighing: Weighing | None
    claim: Claim | None
    decision: Decision | None
    found: tuple[System, ...]
    other: float
    compared: PieceComparison | None
    prior: Prior
    evidence: Evidence
    posterior: Posterior
    every: MadeRows

    @property
    def claimed(self) -> Candidates | None:
        """Candidates as claimed."""
        return self.compared.claim if self.compared else None

    @cached_property
    def _meets(self) -> Mask:
        """Rows that meet the claim, without hollow ones of a claim that allows no empty space."""
        hollow = self.posterior.rows.construction == HOLLOW
        return self._of_metal if self.may_be_hollow else self._of_metal & ~hollow

    @cached_property
    def _of_metal(self) -> Mask:
        """Rows of the claimed metal, without those that have another metal inside or joined on."""
        rows, layer = self.posterior.rows, self.prior.layer
        if layer:
            return layer.holds(rows.candidates(self.prior.bodies, self.evidence))
        return np.asarray(self.prior.meets_claim[rows.point] & ~self.prior.inserted[rows.construction])

    @cached_property
    def _of_type(self) -> float:
        """Of pieces made as a claimed coin type is, the share that are of the type by mass and size."""
        return float(np.prod([o.type_share for o in self.evidence.observed if isinstance(o, ObservedType)]))

    def beside_claim(self) -> list[System]:
        """Systems of pieces that do not meet the claim; all of them if there is none."""
        return list(self._beside)

    @cached_property
    def _beside(self) -> list[System]:
        return self._beside_claim.systems()

    @property
    def _beside_claim(self) -> Posterior:
        """The posterior over what does not meet the claim."""
        if self._of_type == 1:
            return self.posterior.among(~self._meets, self.prior.shares_beside)
        # metal as claimed in another piece than the coin type stands beside the claim
        left = self.posterior.share * np.where(self._meets, 1 - self._of_type, 1.0)
        return replace(self.posterior, share=left).among(left > 0, self.prior.shares)

    @cached_property
    def _group(self) -> Index:
        """Number of the group in which people are shown each row of the posterior."""
        point = self.posterior.rows.point
        return group_of(self._meets, self.prior.finer[point], self.posterior.bodies.system[point])

    @cached_property
    def _counted(self) -> Mask:
        """Rows of the posterior in groups that are likely enough to count for what the piece holds."""
        return counted(self._group, self.posterior.share)

    @property
    def share_counted(self) -> float:
        """Probability of all that counts for what the piece holds."""
        return float(self.posterior.share[self._counted].sum())

    @cached_property
    def likely_precious(self) -> dict[str, Measured]:
        """Content of each precious metal over what is believed at least 1 in 20: symbol -> 95 % range."""
        return self._holds(np.where(self._counted, 0, -1), 1)[0]

    def holds(self, group: int | tuple[str, ...]) -> dict[str, Measured]:
        """Content of each precious metal of pieces as claimed, of finer ones, or of one system beside the claim.

        A claim that says the share of its layer ("gold filled 1/20 14 ct") says what a piece as claimed holds.
        """
        if group == CLAIM_GROUP and self.claim and self.claim.skin_share and self.content_as_claimed:
            return {s: Measured(x, STATED * x, "g", x, x) for s, x in self.content_as_claimed.items()}
        bodies = self.posterior.bodies
        number = group if isinstance(group, int) else FIRST_SYSTEM + bodies.systems.index(tuple(sorted(group)))
        return self._held.get(number, {})

    @cached_property
    def _held(self) -> dict[int, dict[str, Measured]]:
        """Content of each precious metal of every group that is listed, by its number."""
        shares = np.bincount(self._group, self.posterior.share)
        known = np.flatnonzero((shares >= LISTED_FROM) | ((np.arange(len(shares)) < FIRST_SYSTEM) & (shares > 0)))
        place = np.full(len(shares), -1)
        place[known] = np.arange(len(known))
        return dict(zip(known.tolist(), self._holds(place[self._group], len(known)), strict=True))

    def _holds(self, group: Index, count: int) -> list[dict[str, Measured]]:
        precious = [s for s, m in self.tables.metals.items() if m.precious]
        return self.posterior.precious_by(precious, self._skin_mass, self.mass_g, group, count)

    @cached_property
    def _skin_mass(self) -> Array:
        return self.posterior.rows.candidates(self.posterior.bodies, self.evidence).mass_part

    @property
    def share_as_claimed(self) -> float:
        """Probability of pieces as claimed, neither less fine nor finer."""
        finer = self.prior.finer[self.posterior.rows.point]
        return self._of_type * float(self.posterior.share[self._meets & ~finer].sum())

    @property
    def share_meeting_claim(self) -> float:
        """Probability of pieces that meet the claim, solid or hollow."""
        return self._of_type * float(self.posterior.share[self._meets].sum())

    @property
    def layer_as_claimed(self) -> tuple[int, int, tuple[float, float, float]] | None:
        """Construction, material and size (low, likely, high) of the layer of pieces as claimed; None without one."""
        if self.prior.layer is None or not self._meets.any():
            return None
        size = quantiles(self.posterior.rows.parameter[self._meets], self.posterior.share[self._meets])
        return self.prior.layer.construction, self.prior.layer.skins[0][0], size

    @cached_property
    def content_as_claimed(self) -> dict[str, float]:
        """Precious metals [g] that a piece of this mass holds if it is as claimed, by symbol; empty if unknown."""
        if self.claim is None or not self.mass_g:
            return {}
        return content_as_claimed(self.tables, self.claim, self.mass_g, self.evidence.form)

    @property
    def may_be_hollow(self) -> bool:
        """Whether the piece or the claim allows empty space."""
        return allows_hollow(self.piece, self.claim)

    @property
    def mass_g(self) -> float | None:
        """Mass of the metal [g], weighed and without stones and springs; None if nothing was weighed."""
        if self.weighing and self.weighing.body_g:
            return self.weighing.body_g
        return self.piece.mass.value if self.piece.mass else None

    @cached_property
    def first_under_other_prior(self) -> System | None:
        """The likeliest system if every family were equally common (or by the default prior if the flat one was used).

        It is None if the same system comes first, and if the first is so likely that no prior could matter.
        """
        first = self.beside_claim()[:1]
        if not first or first[0].probability > SURE * (1 - self.share_meeting_claim):
            return None
        prior = prior_of(self.tables, self.claim, self.may_be_hollow, other_prior(self.prior.named))
        posterior = self.every.under(prior, self.evidence)
        other = replace(self, prior=prior, posterior=posterior)._beside_claim.systems(most=1)
        same = not other or sorted(other[0].metals) == sorted(first[0].metals)
        return None if same else other[0]


@dataclass(frozen=True, eq=False)
class BelievedOf:
    """What is believed of one piece, as far as a decision may depend on it."""

    found: Found

    @property
    def share_meeting_solid(self) -> float:
        """Probability of solid pieces that meet the claim."""
        posterior = self.found.posterior
        solid = posterior.rows.construction != HOLLOW
        return self.found._of_type * float(posterior.share[self.found._of_metal & solid].sum())

    @property
    def share_fitting_beside(self) -> float:
        """Of all that is of another metal, the share that fits all readings together; rare rows do not count."""
        posterior, evidence = self.found.posterior, self.found.evidence
        share = np.where(self.found._of_metal, 0.0, posterior.share)
        at = np.flatnonzero(share > RARE_ROW * share.max(initial=0.0))
        if not len(at):
            return 0.0
        fits = p_of(scores(evidence, posterior.rows.candidates(posterior.bodies, evidence).some(at), False))
        return float(share[at[fits > SPEAKS_AGAINST]].sum() / (share.sum() + posterior.other))


@dataclass(frozen=True)
class MadeRows:
    """Rows, and the prior shares for which they were made."""

    rows: Rows
    made_for: tuple[Believed, ...]

    def under(self, prior: Prior, evidence: Evidence) -> Posterior:
        """The posterior under a prior that gives nothing a larger share; nothing is integrated again."""
        level, other = evidence.shows, evidence.other_likelihood()
        rows = self.rows.under(prior.levels[level], self.made_for)
        return Posterior.of(prior.bodies, prior.layers, rows, prior.shares, level, prior.other, other)


def group_of(meets: Mask, finer: Mask, system: Index) -> Index:
    """Number of the group of each body or row: as claimed, finer than claimed, or its system if it does not meet it."""
    return np.where(meets, np.where(finer, FINER_GROUP, CLAIM_GROUP), FIRST_SYSTEM + system)


def counted(group: Index, share: Array) -> Mask:
    """Mask of the rows in groups that are believed at least 1 in 20, from the group and the probability of each row."""
    return np.asarray((np.bincount(group, share) >= COUNTED_FROM)[group])


def find(piece: Piece, settings: Settings, tables: Tables, prior: NamedPrior) -> Found:
    """What fits a piece, and the decision on its claim: all candidates weighed against the readings."""
    claim = parse_claim(piece.claim, tables) if piece.claim else None
    weighing = density_of(piece, settings, tables)
    evidence = evidence_of(piece, settings, tables, weighing, claim)
    may_be_hollow = allows_hollow(piece, claim)
    beliefs = prior_of(tables, claim, may_be_hollow, prior)
    made_for = [b.in_um(evidence.form) for b in envelope(tables, claim, may_be_hollow, prior, evidence.shows)]
    known = beliefs.other * evidence.other_likelihood()
    every = MadeRows(Solver(beliefs.bodies, evidence, known).rows(made_for), tuple(made_for))
    posterior = every.under(beliefs, evidence)
    compared = compare(claim, beliefs, evidence, may_be_hollow, tables) if claim else None
    found = Found(
        piece,
        settings,
        tables,
        weighing,
        claim,
        None,
        tuple(posterior.systems()),
        posterior.other,
        compared,
        beliefs,
        evidence,
        posterior,
        every,
    )
    decision = judge(compared, BelievedOf(found), settings.answers.false_alarm.value) if compared else None
    return replace(found, decision=decision)


def as_expected(found: Found) -> Candidates | None:
    """Candidates that say what a piece as claimed reads: usual alloys only, where the readings fit none of these."""
    if found.compared and found.decision and found.decision.rare_alloy:
        return found.compared.claim.some(np.flatnonzero(found.compared.usual))
    return found.claimed


def likelihood_as_claimed(found: Found) -> float:
    """Mean likelihood of all readings over what meets the claim; `System.evidence` is the same of a system."""
    of_all, beside = (x.by_system.sum() for x in (found.prior.shares, found.prior.shares_beside))
    share = found.share_meeting_claim
    return float(share * found.posterior.total / (of_all - beside)) if share > 0 else 0.0


def posterior_of(prior: Prior, evidence: Evidence, level: int | None = None, left_out: float = LEFT_OUT) -> Posterior:
    """All rows weighed against the readings; layers are told apart as far as these show them, or to a given level.

    `left_out` : share of the belief that may be in what is never integrated.
    """
    level = evidence.shows if level is None else level
    other = evidence.other_likelihood()
    rows = Solver(prior.bodies, evidence, prior.other * other, left_out).rows(list(prior.levels[level]))
    return Posterior.of(prior.bodies, prior.layers, rows, prior.shares, level, prior.other, other)


def compare(
    claim: Claim, prior: Prior, evidence: Evidence, may_be_hollow: bool, tables: Tables
) -> PieceComparison | None:
    """The claim compared with the readings; None if the claim has no compositions of its own."""
    claimed = claim_candidates(tables, claim, prior.claim_bodies, evidence.form, evidence.shows)
    if claimed is None:
        return None
    usual = usual_alloys(tables, claim, claimed.bodies)[claimed.point]
    others = partial(prior.alternatives, evidence.form)
    return PieceComparison(evidence, claimed, usual, others, may_be_hollow, claim.metal)
