"""What a set of readings would show of all that a piece may be instead of its claim, by class of construction."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from ..alloys.materials import layers_of
from ..arrays import Array, Mask, usual_errors
from ..entry import document
from ..errors import InputError
from ..inference.claimed import claim_candidates
from ..inference.classes import classes
from ..inference.commonness import NamedPrior, named_prior
from ..inference.compare import alternative_scores
from ..inference.misfit import contradicted
from ..inference.observe import circumstances_of, form_of
from ..inference.prior import prior_of
from ..inference.weigh_piece import density_of
from ..inputs.claim import allows_hollow, parse_claim
from ..inputs.piece import Piece
from ..inputs.settings import Settings, in_use
from ..integral.evidence import WEIGHING, Evidence, Scores
from ..plain import to_plain
from ..readings.base import SURFACE, Observed
from ..readings.error_model import VolumeLikelihood
from ..readings.registry import KINDS, one_of_each
from .blind_spots import CLOSES, RARE
from .trials import with_trial

if TYPE_CHECKING:
    import pandas as pd

from ..published.load import Tables

Shown = Mask  # which alternatives are shown

ALWAYS, NEVER = 0.95, 0.05  # share of a class from which it is always shown, and up to which it never is
HELPS = 0.2  # share of the rest that a reading must show to be named if none closes a class
FINER = (10.0, 100.0)  # how much finer scales are tried
MOST = 3  # readings of a routine that is proposed
WATER = 0.998  # g/cm3, to say what a sound piece would push aside


@dataclass(frozen=True)
class ClassShown:
    """How much of one class of construction a set of readings would show.

    Attributes
    ----------
    name : of `classes.classes`. common : share of it in all that is not the claim. shown : share of the class
    that the readings would contradict. closed_by : kinds of readings that would, added to them, show at least 80 % of
    the rest, the quickest first; if none does, the one that shows most of it, if any helps. closed : share of the
    class shown with the first of them. finer_scale : how much finer a scale would show 80 % of the rest, or None.
    """

    name: str
    common: float
    shown: float
    closed_by: tuple[str, ...]
    closed: float
    finer_scale: float | None

    @property
    def word(self) -> Literal["always", "sometimes", "never"]:
        """Code: "always", "sometimes" or "never"."""
        return "always" if self.shown >= ALWAYS else "never" if self.shown <= NEVER else "sometimes"


@dataclass(frozen=True)
class ClassData:
    """A class as `Routine.to_dict` gives it; names as in `ClassShown`."""

    class_: str
    common: float
    shown: float
    word: Literal["always", "sometimes", "never"]
    closed_by: tuple[str, ...]
    closed: float
    finer_scale: float | None


@dataclass(frozen=True)
class ProposedRoutine:
    """A set of readings, how long it takes [min], and the share it shows of all that is not the claim."""

    readings: tuple[str, ...]
    minutes: float
    shown: float


@dataclass(frozen=True)
class RoutineData:
    """What `Routine.to_dict` gives; names as in `Routine`."""

    schema: Literal["alloysolve.routine/1"]
    claim: str
    readings: tuple[str, ...]
    scale_step_g: float
    shown: float
    alone: Mapping[str, float]
    without: Mapping[str, float]
    classes: tuple[ClassData, ...]
    routines: tuple[ProposedRoutine, ...]


@dataclass(frozen=True)
class Routine:
    """What a set of readings shows under a claim.

    Attributes
    ----------
    claim : as it was said. readings : kinds of readings. step_g : of the scale. classes : the commonest first.
    shown : share of all that is not the claim. alone, without : that share by each reading alone, and by all but it.
    routines : sets of two and three readings that no other beats in both time and share.
    """

    claim: str
    readings: tuple[str, ...]
    step_g: float
    classes: tuple[ClassShown, ...]
    shown: float
    alone: Mapping[str, float]
    without: Mapping[str, float]
    routines: tuple[ProposedRoutine, ...]

    @property
    def table(self) -> pd.DataFrame:
        """Frame with one row per class: class, common_percent, shown_percent, word, closed_by, closed_percent,
        finer_scale (times).
        """
        import pandas as pd

        rows = [
            (c.name, 100 * c.common, 100 * c.shown, c.word, ", ".join(c.closed_by), 100 * c.closed, c.finer_scale)
            for c in self.classes
        ]
        return pd.DataFrame(
            rows,
            columns=["class", "common_percent", "shown_percent", "word", "closed_by", "closed_percent", "finer_scale"],
        )

    def to_dict(self) -> dict[str, Any]:
        """Everything, in the types of JSON; shares to four digits."""
        classes = (
            ClassData(c.name, _four(c.common), _four(c.shown), c.word, c.closed_by, _four(c.closed), c.finer_scale)
            for c in self.classes
        )
        found: dict[str, Any] = to_plain(
            RoutineData(
                "alloysolve.routine/1",
                self.claim,
                self.readings,
                self.step_g,
                _four(self.shown),
                {k: _four(x) for k, x in self.alone.items()},
                {k: _four(x) for k, x in self.without.items()},
                tuple(classes),
                tuple(ProposedRoutine(r.readings, r.minutes, _four(r.shown)) for r in self.routines),
            )
        )
        return found


def _four(x: float) -> float:
    return round(x, 4)


@usual_errors
def routine(
    piece: Piece | Mapping[str, Any],
    readings: Iterable[str] = (),
    settings: Settings | None = None,
    tables: Tables | None = None,
    prior: str | None = None,
) -> Routine:
    """What a set of readings would show of a piece that is not what it is said to be.

    Every alternative that is thought possible under the claim is read without noise, with the uncertainty that the
    readings have, and counts as shown if the claim would be contradicted.

    Parameters
    ----------
    piece : claim, mass and, if known, dimensions, scale step and wetting; what was read on it does not matter.
    readings : kinds of readings, "weighing" among them; by default those that the shop owns.
    settings, tables, prior : as in `solve`.

    Raises
    ------
    InputError
        Without a claim of a metal, without a mass, and for a reading that is not known or cannot be taken of the piece.

    >>> found = routine({"claim": "gold 999", "mass": "31.1 g"}, ["weighing"], Settings())
    >>> {c.name: c.word for c in found.classes}["lighter metal"]
    'always'
    """
    piece = piece if isinstance(piece, Piece) else Piece.from_dict(document(piece, "piece"))
    settings, tables = in_use(settings, tables)
    return _Routines(piece, settings, tables, named_prior(prior or settings.answers.prior)).routine(readings)


class _Routines:
    """The alternatives to one claim, and how far each reading moves each of them."""

    def __init__(self, piece: Piece, settings: Settings, tables: Tables, prior: NamedPrior) -> None:
        if not piece.claim or piece.mass is None:
            path, lacking = ("mass", "its mass") if piece.claim else ("claim", "what the piece is said to be")
            raise InputError(path, "", lacking, 'as in: --claim "gold 999" --mass 31.1')
        self.piece, self.settings, self.tables = piece, settings, tables
        claim = parse_claim(piece.claim, tables)
        self.beliefs = prior_of(tables, claim, allows_hollow(piece, claim), prior)
        self.hollow = allows_hollow(piece, claim)
        v = self.beliefs.claim_bodies.v if self.beliefs.claim_bodies is not None else None
        if v is None:
            raise InputError("claim", piece.claim, "a claim of a metal or alloy", 'as in: "silver 925"')
        liquid = piece.liquid_density.value if piece.liquid_density else WATER
        self.sound = piece.with_(displaced=[f"{piece.mass.value * float(np.median(v)) * liquid:.6f} g"])
        self.form = form_of(self.sound, density_of(self.sound, settings, tables))
        claimed = claim_candidates(tables, claim, self.beliefs.claim_bodies, self.form, SURFACE)
        assert claimed is not None
        self.claimed = claimed
        self.others = self.beliefs.alternatives(self.form)
        self.of_class = classes(self.others.candidates, float(claimed.v.mean()), claim.metal)
        self.alarm = settings.answers.false_alarm.value
        about = circumstances_of(piece, settings, tables, self.form, claim)
        made = {kind: of.trial(about) for kind, of in KINDS.items() if of.trial}
        self.trials: dict[str, Observed] = {kind: trial for kind, trial in made.items() if trial is not None}

    def weighing(self, finer: float = 1.0) -> Array:
        """Score of each alternative by a weighing on a scale that is finer by a factor."""
        step = (self.piece.scale_step or self.settings.scale.step).value / finer
        w = density_of(self.sound.with_(scale_step=f"{step} g"), self.settings, self.tables)
        assert w is not None
        reading = VolumeLikelihood(float(w.v), float(w.u_v), float(w.bubble_v))
        evidence = Evidence(reading, (), self.form, layers_of(self.tables))
        return alternative_scores(evidence, self.claimed, self.others, self.hollow)[WEIGHING]

    @cached_property
    def scores(self) -> dict[str, Array]:
        """Score of each alternative, by kind of reading."""
        of_trials = {kind: trial.between(self.others.candidates, self.claimed) for kind, trial in self.trials.items()}
        return {WEIGHING: self.weighing(), **of_trials}

    @cached_property
    def minutes(self) -> dict[str, float]:
        """How long each kind of reading takes."""
        return {row.kind: row.minutes for row in self.tables.rows("times")}

    def shown(self, kinds: Collection[str], weighing: Array | None = None) -> Shown:
        """Mask of the alternatives that a set of readings would contradict."""
        if not kinds:
            return np.zeros(len(self.others.prior), dtype=bool)
        used = Scores({k: self.scores[k] if k != WEIGHING or weighing is None else weighing for k in kinds})
        return contradicted(used, self.read_as_claimed(kinds), self.alarm)

    def read_as_claimed(self, kinds: Iterable[str]) -> Scores:
        """The scores of the claim if these readings agree with it."""
        found = Scores({})
        for kind in kinds:
            if kind == WEIGHING:
                found[WEIGHING] = np.zeros(len(self.claimed))
            else:
                found = with_trial(found, self.trials[kind], self.claimed)
        return found

    def share(self, shown: Shown, of: Shown | None = None) -> float:
        """Prior share of what is shown, of all alternatives or of a class."""
        prior = self.others.prior if of is None else np.where(of, self.others.prior, 0.0)
        return float(prior[shown].sum() / prior.sum())

    def routine(self, readings: Iterable[str]) -> Routine:
        """The whole result for one set of readings."""
        named = readings.split(",") if isinstance(readings, str) else readings
        kinds = tuple(dict.fromkeys(str(k).strip().replace(" ", "_") for k in named)) or self._owned()
        for kind in kinds:
            if kind not in self.scores:
                raise InputError(
                    "readings", kind[:60], f"some of {', '.join(self.scores)}", "resonance needs mass and dimensions"
                )
        shown = self.shown(kinds)
        finer = {f: self.shown(kinds, self.weighing(f)) for f in FINER} if WEIGHING in kinds else {}
        added = {k: self.shown((*kinds, k)) for k in self.scores if k not in kinds and one_of_each((*kinds, k))}
        found = [self._class(name, mine, shown, added, finer) for name, mine in self.of_class.items()]
        return Routine(
            self.piece.claim,
            kinds,
            (self.piece.scale_step or self.settings.scale.step).value,
            tuple(sorted((c for c in found if c.common >= RARE), key=lambda c: -c.common)),
            self.share(shown),
            {k: self.share(self.shown((k,))) for k in kinds},
            {k: self.share(self.shown([o for o in kinds if o != k])) for k in kinds},
            self._routines(),
        )

    def _owned(self) -> tuple[str, ...]:
        own = [k.replace(" ", "_") for k in self.settings.readings.own]
        return (WEIGHING, *(k for k in own if k in self.trials))

    def _class(
        self, name: str, mine: Shown, shown: Shown, added: Mapping[str, Shown], finer: Mapping[float, Shown]
    ) -> ClassShown:
        """Result for one class: `added` and `finer` say what is shown with one more reading, and on a finer scale."""
        common = self.share(mine)
        share = self.share(shown, mine) if common > 0 else 1.0
        if common <= 0 or share >= ALWAYS:
            return ClassShown(name, common, share, (), share, None)

        def of_rest(x: Shown) -> float:
            """Share of the rest that would be shown."""
            return (self.share(x, mine) - share) / (1 - share)

        scale = next((f for f, x in finer.items() if of_rest(x) >= CLOSES), None)
        after = sorted(((of_rest(x), k) for k, x in added.items() if of_rest(x) >= HELPS), reverse=True)
        quickest = sorted((found for found in after if found[0] >= CLOSES), key=lambda found: self.minutes[found[1]])
        closing = quickest or after[:1]
        closed = share + (1 - share) * closing[0][0] if closing else share
        return ClassShown(name, common, share, tuple(k for _, k in closing), closed, scale)

    def _routines(self) -> tuple[ProposedRoutine, ...]:
        """Sets of two or three readings that no other beats in both time and share, the quickest first."""
        known = [k for k in self.scores if k in self.minutes]
        sets = [c for n in range(2, MOST + 1) for c in combinations(known, n) if one_of_each(c)]
        tried = [ProposedRoutine(c, sum(self.minutes[k] for k in c), self.share(self.shown(c))) for c in sets]
        best: list[ProposedRoutine] = []
        for r in sorted(tried, key=lambda r: (r.minutes, -r.shown)):
            if not best or r.shown > best[-1].shown + 0.01:
                best.append(r)
        return tuple(best)
