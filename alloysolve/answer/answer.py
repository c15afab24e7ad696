"""An answer as its document alone: what it offers to programs, and how it is read back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Self

from ..entry import shown
from ..errors import InputError
from ..inference.decision import Decision, Reason
from ..measured import Measured
from ..plain import MisfitError, to_plain
from .document import SCHEMA, Document
from .frames import candidates_frame, rows_frame, systems_frame
from .parts import CandidateData, ClaimData, SystemData

if TYPE_CHECKING:
    import pandas as pd


class Documented:
    """What every answer offers, fresh or read back; all of it stands in its document."""

    if TYPE_CHECKING:

        @property
        def document(self) -> Document:
            """The whole answer as data."""

        @property
        def claim(self) -> Any:
            """The claim."""

        @property
        def decision(self) -> Any:
            """The decision on it."""

    @property
    def _systems(self) -> tuple[SystemData, ...]:
        return self.document.systems

    @property
    def _candidates(self) -> tuple[CandidateData, ...]:
        return self.document.candidates

    @property
    def systems(self) -> pd.DataFrame:
        """Frame with one row per metal of each system from 1 in 1000 on, likeliest first.

        Its columns are `system` (1 is the likeliest), `metals`, `probability` of the system, `alike_the_first` (the
        readings do not tell them apart), `bayes_factor_against_next` (of the readings alone), `nearest_grades`; and for
        the one metal of the row `metal`, `low_percent`, `likely_percent` and `high_percent`: mass percent of the body
        with its 95 % range. ``frame.drop_duplicates("system")`` has one row per system.
        """
        return systems_frame(self._systems)

    @property
    def candidates(self) -> pd.DataFrame:
        """Frame with one row per metal of each construction of a system from 1 in 1000 on, likeliest first.

        Its columns are `candidate` (1 is the likeliest), `metals` of the system, `construction`, `skin`, `strike`,
        `family`, `probability` of the candidate, `evidence` (likelihood averaged over its prior); `skin_low_um`,
        `skin_likely_um`, `skin_high_um`; of the volume `void_low_percent`, `void_likely_percent`, `void_high_percent`,
        `part_low_percent`, `part_likely_percent`, `part_high_percent`; and for the one metal of the row `metal`,
        `low_percent`, `likely_percent` and `high_percent` as in `systems`, which are given
        from 1 in 200 on.
        """
        return candidates_frame(self._candidates)

    def to_dict(self) -> dict[str, Any]:
        """The whole answer in the types of JSON, as ``schema("answer")`` describes it."""
        return self.document.to_dict()

    def to_json(self, indent: int | None = 2) -> str:
        """The whole answer as versioned JSON; the same input gives the same bytes."""
        return self.document.to_json(indent)

    @staticmethod
    def from_dict(given: Mapping[str, Any]) -> Answer:
        """An answer from what `to_dict` gives.

        It offers all that stands in the document, but not what is worked out from arrays: `samples`, figures and what
        an answer holds by group.

        Raises
        ------
        InputError
            For what is no answer, or one of another schema.
        """
        if not isinstance(given, Mapping) or given.get("schema") != SCHEMA:
            schema = given.get("schema") if isinstance(given, Mapping) else given
            raise InputError("answer", shown(schema), f"the schema {SCHEMA}", "read it with the version that made it")
        try:
            return Answer(Document.from_dict(given))
        except MisfitError as e:
            step = "compare it with what `alloysolve schema answer` prints"
            raise InputError(f"answer.{e.place}", "", "an answer with all its parts", step) from e

    @staticmethod
    def from_json(text: str | bytes) -> Answer:
        """An answer from what `to_json` gives; see `from_dict`."""
        try:
            given = json.loads(text)
        except ValueError as e:
            raise InputError("answer", shown(str(text)[:40]), "JSON as to_json writes it", str(e)) from e
        return Answer.from_dict(given)

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickled is the document alone, so that every answer comes back as an `Answer`: without arrays, and small."""
        return Answer, (self.document,)

    def __copy__(self) -> Self:
        """The answer itself, which nothing changes."""
        return self

    def __deepcopy__(self, _: dict[int, Any]) -> Self:
        """The answer itself, which nothing changes."""
        return self

    def __repr__(self) -> str:
        claim = f"{self.claim.text}: {self.decision.code}; " if self.claim and self.decision else ""
        likely = ", ".join(f"{' '.join(x.metals)} {x.probability:.2f}" for x in self._systems[:3])
        return f"<{type(self).__name__} {claim}{likely or 'something else'}>"

    def _repr_html_(self) -> str:
        from html import escape

        return f"<p>{escape(repr(self)[1:-1])}</p>{rows_frame(self.document.rows).to_html(index=False)}"


@dataclass(frozen=True, repr=False)
class Answer(Documented):
    """An answer as it was stored: all that a `Solution` tells, without the arrays from which it was worked out.

    Parameters
    ----------
    document : the whole answer as data, from which everything is written, put into words and drawn on a page.

    >>> from alloysolve import Piece, solve
    >>> text = solve(Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g")).to_json()
    >>> kept = Answer.from_json(text)
    >>> kept.decision.code, kept.to_json() == text
    ('contradicted', True)
    """

    document: Document

    @property
    def claim(self) -> ClaimData | None:
        """The claim with what a piece as claimed would read; None without one."""
        return self.document.claim

    @property
    def decision(self) -> Decision | None:
        """The decision on the claim with its reasons; None without a claim, and where nothing could be compared."""
        c = self.document.claim
        if c is None or c.decision is None:
            return None
        p, false_alarm = (x if x is not None else float("nan") for x in (c.p, c.false_alarm))
        return Decision(c.decision, p, c.excluded, false_alarm, tuple(Reason(r.code, r.values) for r in c.reasons))

    @property
    def density(self) -> Measured | None:
        """The density [g/cm3] with its 95 % range."""
        d = self.document.density
        return None if d is None else Measured(d.value, _number(d.u), d.unit, d.low, d.high)

    @property
    def precious(self) -> dict[str, Measured]:
        """Content of each precious metal, as a 95 % range over all that is believed at least 1 in 20."""
        held = self.document.precious.items()
        return {s: Measured(m.likely, _number(m.u), m.unit, m.low, m.high) for s, m in held}

    @property
    def conflicts(self) -> tuple[Mapping[str, Any], ...]:
        """The two readings that disagree most and what each alone would say, if nothing reconciles them."""
        return tuple(to_plain(x) for x in self.document.conflicts)

    @property
    def next_readings(self) -> tuple[Mapping[str, Any], ...]:
        """Readings not yet taken that would help, the most useful first, with what they would show."""
        return tuple(to_plain(x) for x in self.document.next_readings)

    @property
    def blind_spots(self) -> tuple[Mapping[str, Any], ...]:
        """Classes of construction that these readings could not show, with the readings that would."""
        return tuple(to_plain(x) for x in self.document.blind_spots)


def _number(x: float | None) -> float:
    return float("nan") if x is None else x
