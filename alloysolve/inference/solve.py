"""From a piece to what it probably is: the main job."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..advice.findings import Advice, advise, allows_hollow
from ..errors import InputError
from ..inputs.claim import Claim, parse_claim
from ..inputs.piece import Piece
from ..inputs.settings import Settings, find_settings
from ..measured import Measured
from ..pieces.candidates import Candidates
from ..pieces.materials import layers_of
from ..pieces.shape import form_of
from ..published.load import Tables, default_tables
from ..readings.base import Circumstances
from ..readings.error_model import VolumeLikelihood
from ..readings.registry import named_readings
from ..weighing.weigh import Weighing
from .decision import CONTRADICTED, Decision, alternative_scores, decide, overruled, scores, share_excluded
from .evidence import Evidence
from .integrate import Solver
from .posterior import Posterior, System
from .prior import INSERTED, Prior, claim_candidates, prior_of
from .weigh_piece import density_of

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]

SURE = 0.9  # share of what is not the claim from which the first system is first under any prior


@dataclass(frozen=True, eq=False, repr=False)
class Solution:
    """What fits a piece, how sure that is, and why.

    Attributes
    ----------
    weighing : the density with its budget, or None. claim, decision : None without a claim.
    found : systems in order of probability. other : share of "something else".
    precious : symbol -> content (95 % range). advice : what would change the answer, cautions, notes.
    """

    piece: Piece
    settings: Settings
    tables: Tables
    prior_name: str
    weighing: Weighing | None
    claim: Claim | None
    decision: Decision | None
    found: tuple[System, ...]
    other: float
    precious: Mapping[str, Measured]
    advice: Advice
    claimed: Candidates | None
    prior: Prior
    evidence: Evidence
    posterior: Posterior

    @property
    def density(self) -> Measured | None:
        """The density [g/cm3] with its 95 % range."""
        return self.weighing.density if self.weighing else None

    @property
    def systems(self) -> pd.DataFrame:
        """One row per metal system, likeliest first.

        Columns: `metals`, `probability`, `bayes_factor_against_next` (of the readings alone), `alike_the_first` (the
        readings do not tell them apart), `nearest_grades`, and `X_low_percent`, `X_percent`, `X_high_percent` (by mass,
        95 % range and likely) of each metal X.
        """
        from ..answer.frames import systems_frame

        return systems_frame(self)

    @property
    def candidates(self) -> pd.DataFrame:
        """One row per construction of each system, likeliest first.

        Columns: `metals`, `construction`, `skin`, `strike`, `family`, `probability`, `evidence` (likelihood averaged
        over its prior); `skin_low_um`, `skin_um`, `skin_high_um`; `void_low_percent`, `void_percent`,
        `void_high_percent`, `part_low_percent`, `part_percent`, `part_high_percent` (of the volume); and the metals as
        in `systems`: `X_low_percent`, `X_percent`, `X_high_percent`.
        """
        from ..answer.frames import candidates_frame

        return candidates_frame(self)

    def reading_rows(self) -> list[dict[str, Any]]:
        """One row per reading: value as read, what it sees, how it agrees with the first system and the claim."""
        from ..advice.agreement import reading_rows

        return reading_rows(self)

    @cached_property
    def _meets(self) -> NDArray[np.bool_]:
        """Rows that meet the claim: not those with another metal inside or joined on."""
        rows = self.posterior.rows
        return np.asarray(self.prior.meets_claim[rows.point] & ~np.isin(rows.construction, INSERTED))

    def beside_claim(self) -> list[System]:
        """Systems of pieces that do not meet the claim; all of them without one."""
        return list(self._beside)

    @cached_property
    def _beside(self) -> list[System]:
        return self.posterior.among(~self._meets, self.prior.shares_beside).systems()

    @property
    def share_as_claimed(self) -> float:
        """Share of belief in pieces as claimed, neither less fine nor finer."""
        finer = self.prior.finer[self.posterior.rows.point]
        return float(self.posterior.share[self._meets & ~finer].sum())

    @property
    def share_meeting_claim(self) -> float:
        """Share of belief in pieces that meet the claim, bare or hollow."""
        return float(self.posterior.share[self._meets].sum())

    @property
    def may_be_hollow(self) -> bool:
        """Whether the piece or the claim allows empty space."""
        return allows_hollow(self.piece, self.claim)

    @cached_property
    def first_under_other_prior(self) -> System | None:
        """The likeliest system with every family as common (or with the default prior, where the flat one was used).

        None where it is the same one, and where the first is so likely that no belief could matter.
        """
        first = self.beside_claim()[:1]
        if not first or first[0].probability > SURE * (1 - self.share_meeting_claim):
            return None
        name = "default" if self.prior_name == "flat" else "flat"
        prior = prior_of(self.tables, self.claim, self.may_be_hollow, name)
        other = replace(self, prior=prior, posterior=posterior_of(prior, self.evidence)).beside_claim()[:1]
        same = not other or sorted(other[0].metals) == sorted(first[0].metals)
        return None if same else other[0]

    @cached_property
    def conflicts(self) -> tuple[Mapping[str, Any], ...]:
        """The two readings that disagree most and what each alone would say, where nothing reconciles them."""
        from ..advice.conflicts import conflicts

        return conflicts(self)

    @cached_property
    def next_readings(self) -> tuple[Mapping[str, Any], ...]:
        """Readings not yet taken that would help, the most useful first, with what they would show."""
        from ..advice.next_reading import next_readings

        return next_readings(self)

    @cached_property
    def blind_spots(self) -> tuple[Mapping[str, Any], ...]:
        """Classes of construction that these readings could not show, with the readings that would."""
        from ..advice.blind_spots import blind_spots

        return blind_spots(self)

    def to_json(self, indent: int | None = 2) -> str:
        """The whole answer as versioned JSON; the same input gives the same bytes."""
        from ..answer.document import to_json

        return to_json(self, indent)

    def __repr__(self) -> str:
        claim = f"{self.claim.text}: {self.decision.code}; " if self.claim and self.decision else ""
        likely = ", ".join(f"{' '.join(x.metals)} {x.probability:.2f}" for x in self.found[:3])
        return f"<Solution {claim}{likely or 'something else'}>"

    def _repr_html_(self) -> str:
        from ..answer.frames import short_systems

        return f"<p>{escape(repr(self)[1:-1])}</p>{short_systems(self).to_html(index=False)}"


def solve(
    piece: Piece | Mapping[str, Any],
    settings: Settings | None = None,
    tables: Tables | None = None,
    prior: str | None = None,
) -> Solution:
    """Finds what fits a piece.

    Parameters
    ----------
    piece : the piece, or its fields as a mapping.
    settings : shop settings; found as `find_settings` does when left out.
    tables : published tables; the shipped ones (with those the settings add) when left out.
    prior : "default" or "flat"; from the settings when left out.

    Raises
    ------
    InputError
        For values that cannot be used, and when there is nothing to solve.

    >>> found = solve(Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g", magnet="none"), Settings())
    >>> found.decision.code, found.systems.metals[0]
    ('contradicted', 'Cu Zn')
    """
    piece = piece if isinstance(piece, Piece) else Piece.from_dict(piece)
    settings = settings or find_settings()
    tables = tables or tables_of(settings)
    claim = parse_claim(piece.claim, tables) if piece.claim else None
    weighing = density_of(piece, settings, tables)
    evidence = evidence_of(piece, settings, tables, weighing, claim)
    may_be_hollow = allows_hollow(piece, claim)
    beliefs = prior_of(tables, claim, may_be_hollow, prior or settings.answers.prior)
    posterior = posterior_of(beliefs, evidence)
    judged_by: dict[str, Array] = {}
    decision, of_claim = judge(claim, beliefs, evidence, may_be_hollow, settings, tables, judged_by)
    systems = tuple(posterior.systems())
    mass = weighing.body_g if weighing and weighing.body_g else piece.mass.value if piece.mass else None
    skin_mass = posterior.rows.candidates(beliefs.bodies, evidence).mass_part
    precious = posterior.precious([s for s, m in tables.metals.items() if m.precious], skin_mass, mass)

    def judged(other: Evidence) -> str | None:
        found, _ = judge(claim, beliefs, other, may_be_hollow, settings, tables, judged_by)
        return found.code if found else None

    advice = advise(piece, settings, tables, weighing, claim, of_claim, decision, posterior, evidence, judged)
    precious = with_would_show_below(precious, claim, decision, advice.would_show_below, mass)
    return Solution(
        piece,
        settings,
        tables,
        beliefs.name,
        weighing,
        claim,
        decision,
        systems,
        posterior.other,
        precious,
        advice,
        of_claim,
        beliefs,
        evidence,
        posterior,
    )


def tables_of(settings: Settings) -> Tables:
    """The shipped tables, with those the settings add."""
    extra = tuple(str(settings.resolve(name)) for name in settings.tables.extra)
    return _extended(extra) if extra else default_tables()


@lru_cache(maxsize=8)
def _extended(extra: tuple[str, ...]) -> Tables:
    return Tables(extra)


def evidence_of(
    piece: Piece, settings: Settings, tables: Tables, weighing: Weighing | None, claim: Claim | None = None
) -> Evidence:
    """The readings of a piece in the form the likelihoods want them."""
    volume = None
    if weighing is not None:
        volume = VolumeLikelihood(float(weighing.v), float(weighing.u_v), float(weighing.bubble_v))
    form = form_of(piece, weighing)
    about = Circumstances(piece, settings, tables, form, claim)
    observed = [r.observed(name, about) for name, r in named_readings(piece.readings).items()]
    if volume is None and not observed:
        raise InputError(
            "piece",
            piece.to_dict(),
            "at least one reading",
            "give mass and displaced (or in_water), density, conductivity, resistivity or magnet",
        )
    return Evidence(volume, tuple(observed), form, layers_of(tables))


def posterior_of(prior: Prior, evidence: Evidence, level: int | None = None) -> Posterior:
    """All rows weighed against the readings; layers told apart as far as these show them, or to a level."""
    level = evidence.shows if level is None else level
    rows = Solver(prior.bodies, evidence).rows(list(prior.levels[level]))
    return Posterior.of(prior.bodies, prior.layers, rows, prior.shares, level, prior.other, evidence.other_likelihood())


def judge(
    claim: Claim | None,
    prior: Prior,
    evidence: Evidence,
    may_be_hollow: bool,
    settings: Settings,
    tables: Tables,
    known: dict[str, Array] | None = None,
) -> tuple[Decision | None, Candidates | None]:
    """The decision on the claim, and pieces as claimed; `known` keeps scores of alternatives between calls.

    Calls that share `known` must have the same readings but for the weighing.
    """
    if claim is None:
        return None, None
    claimed = claim_candidates(tables, claim, prior.claim_bodies, evidence.form, evidence.shows)
    if claimed is None:
        return None, None
    by_reading = scores(evidence, claimed, may_be_hollow)
    if not by_reading:
        return None, claimed
    false_alarm = settings.answers.false_alarm.value
    others = prior.alternatives(evidence.form)
    found = alternative_scores(evidence, claimed, others, may_be_hollow, known)

    def excluded(name: str) -> float:
        if name:
            return overruled(evidence, found, others, false_alarm, name)
        return share_excluded(found, others, false_alarm)

    return decide(by_reading, excluded, false_alarm), claimed


def with_would_show_below(
    precious: dict[str, Measured],
    claim: Claim | None,
    decision: Decision | None,
    lowest: float | None,
    mass: float | None,
) -> dict[str, Measured]:
    """Content that also covers the lowest fineness that would still have passed.

    What is believed likely may lie close together; what these readings allow, as long as they do not
    contradict the claim, reaches down to that fineness.
    """
    if (
        claim is None
        or decision is None
        or decision.code == CONTRADICTED
        or lowest is None
        or claim.metal not in precious
    ):
        return precious
    m = precious[claim.metal]
    low = min(m.low, lowest / 1000 * (mass if m.unit == "g" and mass else 100.0))
    return {**precious, claim.metal: replace(m, low=low, u=max(m.u, (m.high - low) / 4))}
