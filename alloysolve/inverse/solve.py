"""From a piece to what it probably is: the main job."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache, partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..access import Tables, default_tables
from ..errors import InputError
from ..measured import Measured
from ..physics.layers import skin_volume_share
from .advice import Advice, advise
from .bodies import Bodies
from .claims import Claim, parse_claim
from .constructions import PLATED, Evidence, Rows, Solver, joined
from .density import density_of
from .likelihood import VolumeLikelihood
from .piece import Piece
from .posterior import Posterior, System
from .priors import SKIN_NODES, Prior, plated_claim_bodies, prior_of
from .readings import Conductivity, Magnet
from .settings import Settings, find_settings
from .verdict import CONTRADICTED, Verdict, alternative_scores, decide, scores, share_excluded
from .weighing import Weighing

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class Solution:
    """What fits a piece, how sure that is, and why.

    Attributes
    ----------
    weighing : the density with its budget, or None. claim, verdict : None without a claim.
    found : systems in order of probability. other : share of "something else".
    precious : symbol -> content (95 % range). advice : what would change the answer, cautions, notes.
    conflicts, blind_spots : findings by name.
    """

    piece: Piece
    settings: Settings
    tables: Tables
    prior_name: str
    weighing: Weighing | None
    claim: Claim | None
    verdict: Verdict | None
    found: tuple[System, ...]
    other: float
    precious: Mapping[str, Measured]
    advice: Advice
    claim_bodies: Bodies | None
    prior: Prior
    evidence: Evidence
    posterior: Posterior
    conflicts: tuple[Mapping[str, Any], ...] = ()
    blind_spots: tuple[Mapping[str, Any], ...] = ()

    @property
    def density(self) -> Measured | None:
        """The density [g/cm3] with its 95 % range."""
        return self.weighing.density if self.weighing else None

    @property
    def systems(self) -> pd.DataFrame:
        """One row per metal system, likeliest first."""
        from .frames import systems_frame

        return systems_frame(self)

    @property
    def candidates(self) -> pd.DataFrame:
        """One row per construction of each system, likeliest first."""
        from .frames import candidates_frame

        return candidates_frame(self)

    def reading_rows(self) -> list[dict[str, Any]]:
        """One row per reading: value as read, what it sees, how it agrees with the first system and the claim."""
        from .agreement import reading_rows

        return reading_rows(self)

    def beside_claim(self) -> list[System]:
        """Systems of bodies that do not meet the claim; all of them without one."""
        outside = ~self.prior.meets_claim
        return self.posterior.among(outside, self.prior.shares_among(outside)).systems()

    @property
    def share_as_claimed(self) -> float:
        """Share of belief in bodies as claimed, neither less fine nor finer."""
        return float(self.posterior.by_point[self.prior.meets_claim & ~self.prior.finer].sum())

    @property
    def share_meeting_claim(self) -> float:
        """Share of belief in bodies that meet the claim, bare or hollow."""
        return float(self.posterior.by_point[self.prior.meets_claim].sum())

    @cached_property
    def next_readings(self) -> tuple[Mapping[str, Any], ...]:
        """Readings that would tell the claim from what else fits, with what they would read in each."""
        from .next_reading import next_readings

        return next_readings(self)

    def to_json(self, indent: int | None = 2) -> str:
        """The whole answer as versioned JSON; the same input gives the same bytes."""
        from .document import to_json

        return to_json(self, indent)

    def __repr__(self) -> str:
        claim = f"{self.claim.text}: {self.verdict.code}; " if self.claim and self.verdict else ""
        likely = ", ".join(f"{' '.join(x.metals)} {x.probability:.2f}" for x in self.found[:3])
        return f"<Solution {claim}{likely or 'something else'}>"

    def _repr_html_(self) -> str:
        return str(self.systems.to_html())


def solve(
    piece: Piece | Mapping[str, Any], settings: Settings | None = None, tables: Tables | None = None,
    prior: str | None = None,
) -> Solution:  # fmt: skip
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
    """
    piece = piece if isinstance(piece, Piece) else Piece.from_dict(piece)
    settings = settings or find_settings()
    tables = tables or tables_of(settings)
    claim = parse_claim(piece.claim, tables) if piece.claim else None
    weighing = density_of(piece, settings, tables)
    evidence = evidence_of(piece, settings, tables, weighing)
    may_be_hollow = bool(piece.hollow) or bool(claim and claim.hollow)
    beliefs = prior_of(tables, claim, may_be_hollow, prior or settings.answers.prior)
    posterior = posterior_of(beliefs, evidence)
    verdict, of_claim = judge(claim, beliefs, evidence, may_be_hollow, settings, tables)
    systems = tuple(posterior.systems())
    mass = weighing.body_g if weighing and weighing.body_g else piece.mass.value if piece.mass else None
    skin_mass = skin_mass_share(posterior.rows, posterior.bodies, evidence)
    precious = posterior.precious([s for s, m in tables.metals.items() if m.precious], skin_mass, mass)

    def judged(other: Evidence) -> str | None:
        found, _ = judge(claim, beliefs, other, may_be_hollow, settings, tables)
        return found.code if found else None

    advice = advise(piece, settings, tables, weighing, claim, of_claim, verdict, posterior, evidence, judged)
    precious = with_lowest_fineness(precious, claim, verdict, advice.lowest_fineness, mass)
    return Solution(piece, settings, tables, beliefs.name, weighing, claim, verdict, systems, posterior.other,
                    precious, advice, of_claim, beliefs, evidence, posterior)  # fmt: skip


def tables_of(settings: Settings) -> Tables:
    """The shipped tables, with those the settings add."""
    extra = tuple(str(settings.resolve(name)) for name in settings.tables.extra)
    return _extended(extra) if extra else default_tables()


@lru_cache(maxsize=8)
def _extended(extra: tuple[str, ...]) -> Tables:
    return Tables(extra)


def evidence_of(piece: Piece, settings: Settings, tables: Tables, weighing: Weighing | None) -> Evidence:
    """The readings of a piece in the form the likelihoods want them."""
    volume = None
    if weighing is not None:
        volume = VolumeLikelihood(float(weighing.v), float(weighing.u_v), float(weighing.bubble_v))
    resistivity, magnet = [], ""
    for reading in piece.readings:
        if isinstance(reading, Conductivity):
            u = reading.u / reading.value if reading.u else settings.readings.conductivity.u.value
            resistivity.append((reading.resistivity, float(u)))
        elif isinstance(reading, Magnet):
            magnet = reading.answer
    if volume is None and not resistivity and not magnet:
        raise InputError(
            "piece",
            piece.to_dict(),
            "at least one reading",
            "give mass and displaced (or in_water), density, conductivity, resistivity or magnet",
        )
    answers = {row.magnetic: (row.none, row.weak, row.strong) for row in tables.rows("magnet")}
    return Evidence(volume, tuple(resistivity), magnet, answers, skin_share_of(piece, weighing))


def skin_share_of(piece: Piece, weighing: Weighing | None) -> Callable[[Array], Array]:
    """Volume share of a skin by its thickness [um]; without dimensions, a disc 13 times as wide as thick."""
    shape = piece.shape
    if shape is None:
        volume = float(weighing.displaced_mm3) / piece.count if weighing and weighing.displaced_mm3 else 1000.0
        thickness = (4 * volume / (np.pi * 13.0**2)) ** (1 / 3)
        shape = ("disc", (13.0 * thickness, thickness))
    name, sizes = shape
    return partial(_share_within, name, sizes)


def _share_within(name: str, sizes: tuple[float, ...], um: Array) -> Array:
    return skin_volume_share(name, sizes, um / 1000)


def posterior_of(prior: Prior, evidence: Evidence) -> Posterior:
    """All rows weighed against the readings."""
    solver = Solver(prior.bodies, evidence)
    parts = [solver.homogeneous(prior.homogeneous), solver.hollow(prior.hollow)]
    parts += [solver.plated(share, skin) for skin, share in prior.plated.items()]
    return Posterior.of(prior.bodies, joined(parts), prior.shares, prior.other, evidence.other_likelihood())


def judge(
    claim: Claim | None, prior: Prior, evidence: Evidence, may_be_hollow: bool, settings: Settings, tables: Tables,
) -> tuple[Verdict | None, Bodies | None]:  # fmt: skip
    """The verdict on the claim, and the claim's compositions."""
    if claim is None:
        return None, None
    bodies = plated_claim_bodies(tables, claim) if claim.plated else prior.claim_bodies
    if bodies is None:
        return None, None
    by_reading = scores(evidence, bodies, may_be_hollow)
    if not by_reading:
        return None, bodies
    false_alarm = settings.answers.false_alarm.value
    others = prior.alternatives(evidence.skin_share(np.array([t for t, _ in SKIN_NODES])))
    found = alternative_scores(evidence, bodies, others, may_be_hollow)
    excluded = {name: share_excluded(found, others, false_alarm, name) for name in ("", *by_reading)}
    return decide(by_reading, excluded, false_alarm), bodies


def with_lowest_fineness(
    precious: dict[str, Measured],
    claim: Claim | None,
    verdict: Verdict | None,
    lowest: float | None,
    mass: float | None,
) -> dict[str, Measured]:
    """Content that also covers the lowest fineness that would still have passed.

    What is believed likely may lie close together; what these readings allow, as long as they do not
    contradict the claim, reaches down to that fineness.
    """
    if (
        claim is None
        or verdict is None
        or verdict.code == CONTRADICTED
        or lowest is None
        or claim.metal not in precious
    ):
        return precious
    m = precious[claim.metal]
    low = min(m.low, lowest / 1000 * (mass if m.unit == "g" and mass else 100.0))
    return {**precious, claim.metal: replace(m, low=low, u=max(m.u, (m.high - low) / 4))}


def skin_mass_share(rows: Rows, bodies: Bodies, evidence: Evidence) -> Array:
    """Mass share of the skin in each row."""
    law = bodies.law
    density = law.molar_mass / np.where(law.molar_volume > 0, law.molar_volume, np.inf)
    part = np.where(rows.construction == PLATED, evidence.skin_share(np.maximum(rows.parameter, 1e-9)), 0.0)
    skin = part * density[rows.skin]
    return np.asarray(skin / (skin + (1 - part) / bodies.v[rows.point]))
