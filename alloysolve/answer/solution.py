"""The answer: what fits a piece, how sure that is, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cached_property
from os import PathLike
from typing import TYPE_CHECKING, Any

from ..advice.agreement import reading_rows, scores_of_first
from ..advice.blind_spots import blind_spots
from ..advice.conflicts import conflicts
from ..advice.findings import Advice, advise
from ..advice.fineness import down_to, speaks_against_below
from ..advice.next_reading import next_readings
from ..advice.question import Question
from ..advice.trials import Trial, trials
from ..arrays import usual_errors
from ..entry import document
from ..inference.commonness import NamedPrior, named_prior
from ..inference.find import Found, find
from ..inputs.bare import with_units
from ..inputs.piece import Piece
from ..inputs.settings import Settings, in_use
from ..integral.evidence import Scores
from ..measured import Measured
from ..published.load import Tables
from .answer import Documented
from .collect import candidates_of, document_of, systems_of
from .document import Document
from .parts import CandidateData, SystemData
from .samples import OF, samples_frame

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False, repr=False)
class Solution(Documented, Found):
    """What fits a piece, how sure that is, why, and what to do next.

    Attributes
    ----------
    weighing : the density with its budget, or None. claim, decision : None without a claim.
    found : systems in order of probability. other : share of "something else".
    advice : what would change the answer, cautions, notes.
    """

    advice: Advice

    @property
    def density(self) -> Measured | None:
        """The density [g/cm3] with its 95 % range."""
        return self.weighing.density if self.weighing else None

    @cached_property
    @usual_errors
    def precious(self) -> dict[str, Measured]:
        """Content of each precious metal, as a 95 % range over all that is believed at least 1 in 20.

        `share_counted` is how much that is together. That of an open claim reaches down to where the readings speak
        against less.
        """
        lowest = speaks_against_below(self.tables, self.claim, self.evidence)
        return down_to(self.likely_precious, self.claim, self.decision, lowest, self.mass_g)

    @cached_property
    @usual_errors
    def _systems(self) -> tuple[SystemData, ...]:
        return systems_of(self)

    @cached_property
    @usual_errors
    def _candidates(self) -> tuple[CandidateData, ...]:
        return candidates_of(self)

    @usual_errors
    def reading_rows(self) -> list[dict[str, Any]]:
        """One row per reading: value as read, what it sees, how it agrees with the first system and the claim."""
        return reading_rows(self, self._by_first)

    @cached_property
    @usual_errors
    def conflicts(self) -> tuple[Mapping[str, Any], ...]:
        """The two readings that disagree most and what each alone would say, if nothing reconciles them."""
        return conflicts(self, self._by_first)

    @cached_property
    def _by_first(self) -> Scores:
        return scores_of_first(self)

    @cached_property
    def _trials(self) -> dict[str, Trial]:
        return trials(self)

    @cached_property
    def _question(self) -> Question:
        return Question(self)

    @cached_property
    @usual_errors
    def next_readings(self) -> tuple[Mapping[str, Any], ...]:
        """Readings not yet taken that would help, the most useful first, with what they would show."""
        return next_readings(self._question, self._trials)

    @cached_property
    @usual_errors
    def blind_spots(self) -> tuple[Mapping[str, Any], ...]:
        """Classes of construction that these readings could not show, with the readings that would."""
        return blind_spots(self._question, self._trials)

    @cached_property
    @usual_errors
    def document(self) -> Document:
        """The whole answer as data, from which everything is written, put into words and drawn."""
        advised = self.conflicts, self.next_readings, self.blind_spots
        return document_of(self, self.advice, self.precious, self.reading_rows(), *advised)

    @usual_errors
    def samples(self, n: int, seed: int = 0, of: OF = "body") -> pd.DataFrame:
        """Frame with compositions and constructions drawn from all that fits, each as often as it is probable.

        Parameters
        ----------
        n : number of draws. seed : the same seed gives the same frame.
        of : whose composition: of the "body", as `systems` has it, or of the whole "piece" with what is on or in it.

        Returns
        -------
        DataFrame
            One row per draw: `construction`, `metals` of the system, `family`, `skin`, `strike`; `skin_um`,
            `void_percent` and `part_percent` (of the volume), NaN where the construction has none; and `X_percent` by
            mass of every metal X that alloys may hold, whether or not any draw has it. Of "something else" nothing but
            that is known. The draws are the points of an integral, so that values repeat.

        >>> s = solve(Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g", magnet="none"), Settings())
        >>> drawn = s.samples(1000)
        >>> bool((drawn.metals == "Cu Zn").mean() > 0.5), len(drawn)
        (True, 1000)
        """
        return samples_frame(self, n, seed, of)


@usual_errors
def solve(
    piece: Piece | Mapping[str, Any],
    settings: Settings | Mapping[str, Any] | None = None,
    tables: Tables | None = None,
    prior: str | PathLike[str] | NamedPrior | None = None,
) -> Solution:
    """What fits a piece, how likely that is, and what to do next.

    Parameters
    ----------
    piece : the piece, or its fields as a mapping or a row of a frame.
    settings : shop settings, or their values as a mapping; if left out, the defaults. The settings file of a user is
        for commands; ``settings=find_settings()`` asks for it here.
    tables : published tables; if left out, the shipped ones with those that the settings add.
    prior : "default", "flat" or a file; if left out, that of the settings.

    Raises
    ------
    InputError
        For values that cannot be used, and if nothing was read.

    >>> found = solve(Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g", magnet="none"), Settings())
    >>> found.decision.code, found.systems.metals[0]
    ('contradicted', 'Cu Zn')
    """
    settings, tables = in_use(settings, tables)
    piece = piece if isinstance(piece, Piece) else Piece.from_dict(with_units(document(piece, "piece"), settings))
    found = find(piece, settings, tables, named_prior(prior or settings.answers.prior))
    advice = advise(found)
    return Solution(**{f.name: getattr(found, f.name) for f in fields(found)}, advice=advice)
