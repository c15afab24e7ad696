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
from .collect import document_of
from .document import Document
from .frames import candidates_frame, rows_frame, systems_frame

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False, repr=False)
class Solution(Found):
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

    @property
    @usual_errors
    def systems(self) -> pd.DataFrame:
        """Frame with one row per metal system, likeliest first.

        Its columns are `metals`, `probability`, `bayes_factor_against_next` (of the readings alone), `alike_the_first`
        (the readings do not tell them apart), `nearest_grades`, and `X_low_percent`, `X_percent`, `X_high_percent` (by
        mass, 95 % range and likely) of each metal X.
        """
        return systems_frame(self.found)

    @property
    @usual_errors
    def candidates(self) -> pd.DataFrame:
        """Frame with one row per construction of each system, likeliest first.

        Its columns are `metals`, `construction`, `skin`, `strike`, `family`, `probability`, `evidence` (likelihood
        averaged over its prior); `skin_low_um`, `skin_um`, `skin_high_um`; `void_low_percent`, `void_percent`,
        `void_high_percent`, `part_low_percent`, `part_percent`, `part_high_percent` (of the volume); and the metals as
        in `systems`: `X_low_percent`, `X_percent`, `X_high_percent`.
        """
        return candidates_frame(self.found)

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

    def to_json(self, indent: int | None = 2) -> str:
        """The whole answer as versioned JSON; the same input gives the same bytes."""
        return self.document.to_json(indent)

    def __repr__(self) -> str:
        claim = f"{self.claim.text}: {self.decision.code}; " if self.claim and self.decision else ""
        likely = ", ".join(f"{' '.join(x.metals)} {x.probability:.2f}" for x in self.found[:3])
        return f"<Solution {claim}{likely or 'something else'}>"

    def _repr_html_(self) -> str:
        from html import escape

        return f"<p>{escape(repr(self)[1:-1])}</p>{rows_frame(self.document.rows).to_html(index=False)}"


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
