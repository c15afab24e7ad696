"""From a recording of taps to its tones, and to those that the claim and other bodies would have."""

from __future__ import annotations

import json
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

from ..advice.agreement import agreement, best_of
from ..arrays import Array, usual_errors
from ..inference.groups import quantiles
from ..inference.observe import circumstances_of
from ..inputs.piece import Piece
from ..inputs.settings import Settings, in_use
from ..pieces.candidates import Candidates
from ..published.load import Tables
from ..readings.recording import Peaks, peaks_of
from ..readings.resonance import KIND, ObservedResonance, Resonance
from ..readings.tones import SHAPES, too_thick
from ..version import VERSION
from .rounding import significant
from .solution import Solution, solve

SCHEMA = "alloysolve.resonance/1"
CLAIM, SYSTEM, FAMILY = "claim", "system", "family"
MOST_SYSTEMS = 5
# what coins, bars and medals are made of, and what such things are made of instead (judgement)
FAMILIES = (
    "silver",
    "silver-copper",
    "gold",
    "platinum",
    "copper",
    "brass",
    "nickel silver",
    "cupronickel",
    "tin",
    "zinc",
    "lead",
    "steel",
    "tungsten",
)


@dataclass(frozen=True)
class Tones:
    """The tones of one candidate.

    Attributes
    ----------
    of : "claim", "system" (fits the other readings) or "family". family, metals, skin : of the body, and what covers
        or fills it. first : lowest tone [Hz]. low, high : its 95 % range, of compositions and model. second : the next
        tone [Hz], or None. score : of what was heard, for the best of its compositions; None if no tone was heard.
    """

    of: str
    family: str
    metals: tuple[str, ...]
    skin: str
    construction: str
    first: float
    low: float
    high: float
    second: float | None
    score: float | None

    @property
    def agrees(self) -> str | None:
        """Whether what was heard "agrees", is "strained", or "no"; None if no tone was heard."""
        return None if self.score is None else agreement(self.score)


@dataclass(frozen=True)
class Sounding:
    """The tones of a recording, and those of candidates; without sizes and mass there are no candidates.

    `solution` : what the other readings say, or None.
    """

    recording: str
    peaks: Peaks
    candidates: tuple[Tones, ...]
    solution: Solution | None

    def to_dict(self) -> dict[str, Any]:
        """Everything in the types of JSON."""
        p = self.peaks
        columns = zip(p.frequency, p.u, p.decay_time, p.level, p.heard, strict=True)
        peaks = [
            {
                "frequency_hz": significant(f, 6),
                "u_hz": significant(u, 2),
                "decay_time_s": significant(t, 3),
                "level_db": round(float(db), 1),
                "heard": int(n),
            }
            for f, u, t, db, n in columns
        ]
        candidates = [
            {
                "of": c.of,
                "family": c.family,
                "metals": list(c.metals),
                "construction": c.construction,
                "skin": c.skin or None,
                "first_hz": significant(c.first),
                "low_hz": significant(c.low),
                "high_hz": significant(c.high),
                "agrees": c.agrees,
                "score": None if c.score is None else significant(c.score),
                "second_hz": None if c.second is None else significant(c.second),
            }
            for c in self.candidates
        ]
        return {
            "schema": SCHEMA,
            "version": VERSION,
            "recording": self.recording,
            "taps": p.taps,
            "rate_hz": p.rate,
            "notes": [{"code": n.code, "value": significant(n.value)} for n in p.notes],
            "peaks": peaks,
            "candidates": candidates,
        }

    def to_json(self) -> str:
        """Everything as JSON text."""
        return json.dumps(self.to_dict(), indent=2, ensure_ascii=False)


@usual_errors
def sounding(
    recording: str | Path, piece: Piece, settings: Settings | None = None, tables: Tables | None = None
) -> Sounding:
    """Tones of a recording, with those of the claim, of what fits the other readings, and of usual metals.

    Parameters
    ----------
    recording : a WAV file of a few taps. piece : the piece; its own resonances are not used.

    Raises
    ------
    InputError
        For a file that is not a recording, and as in `solve`.
    """
    peaks = peaks_of(recording)
    settings, tables = in_use(settings, tables)
    if piece.shape is None or piece.shape[0] not in SHAPES or piece.mass is None:
        return Sounding(str(recording), peaks, (), None)
    values = {f.name: getattr(piece, f.name) for f in fields(piece)}
    others = [r for r in piece.readings if r.kind != "resonance"]
    solution = solve(Piece(**(values | {"reading": others})), settings, tables)
    about = circumstances_of(piece, settings, tables, solution.evidence.form, solution.claim)
    if too_thick(about.form, tables):
        return Sounding(str(recording), peaks, (), solution)
    heard = Resonance.of(peaks, str(recording))
    observed = heard.observed("resonance", about) if heard else KIND.trial(about) if KIND.trial else None
    assert isinstance(observed, ObservedResonance)
    return Sounding(str(recording), peaks, tuple(_candidates(solution, observed, heard is not None)), solution)


def _candidates(s: Solution, observed: ObservedResonance, heard: bool) -> list[Tones]:
    """Rows of the claim, of the systems that fit, and of usual families not yet named, the closest first."""
    out, usual = [], []
    if s.claimed is not None:
        weight = s.claimed.bodies.weight[s.claimed.point]
        out.append(_tones(observed, s.claimed, weight, heard, CLAIM))
    for x in s.beside_claim()[:MOST_SYSTEMS]:
        best = best_of(s, tuple(sorted(x.metals)))
        if best is not None:
            first = x.constructions[0]
            out.append(
                _tones(
                    observed,
                    best,
                    np.ones(len(best)),
                    heard,
                    SYSTEM,
                    first.family,
                    x.metals,
                    first.skin,
                    first.construction,
                )
            )
    named = {c.family for c in out if not c.skin}
    bodies = s.prior.bodies
    for family in FAMILIES:
        if family in bodies.names and family not in named:
            point = np.flatnonzero(bodies.family == bodies.names.index(family))
            candidates = Candidates.bare(bodies, s.evidence.layers, s.evidence.form, point)
            usual.append(_tones(observed, candidates, bodies.weight[point], heard, FAMILY, family))
    return out + sorted(usual, key=lambda c: c.score or 0.0)


def _tones(
    observed: ObservedResonance,
    candidates: Candidates,
    weight: Array,
    heard: bool,
    of: str,
    family: str = "",
    metals: tuple[str, ...] = (),
    skin: str = "",
    construction: str = "homogeneous",
) -> Tones:
    """Tones over some candidates: the middle, and the 95 % range of compositions and model together."""
    tones, model = observed.tones(candidates)
    low, first, high = quantiles(tones[:, 0], weight)
    wide = float(np.exp(1.96 * np.average(model, weights=weight)))
    second = quantiles(tones[:, 1], weight)[1] if tones.shape[1] > 1 else None
    score = float(np.abs(observed.score(candidates)).min()) if heard else None
    return Tones(of, family, metals, skin, construction, first, low / wide, high * wide, second, score)
