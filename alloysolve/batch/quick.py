"""The quick route of a batch: pieces of which a density is known, perhaps a conductivity and a magnet, and no more.

Probabilities, ranges, precious content and decision come out of tables made once per kind of claim
(`batch_beliefs`, `batch_decision`); what only a full solve finds (next readings, blind spots) is not looked for.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..answer.document import significant
from ..errors import AlloysolveError
from ..inference.decision import CONTRADICTED
from ..inference.evidence import OTHER_DENSITY
from ..inference.observe import circumstances_of
from ..inference.posterior import TRACE
from ..inputs.claim import Claim, allows_hollow, parse_claim
from ..inputs.piece import Piece
from ..inputs.settings import Settings
from ..measured import rounded
from ..pieces.shape import Form
from ..published.load import Tables
from ..readings.conductivity import Conductivity, ObservedConductivity
from ..readings.magnet import Magnet, ObservedMagnet
from ..readings.registry import named_readings
from .beliefs import SHARE_EDGES, SLOTS, Belief, Beliefs, Meter, Reading, beliefs_of
from .decision import claimed_of, less_fine_of, thickness_class
from .files import BEST
from .kernels import Weighed
from .table import PRECIOUS_BINS
from .weigh import Density, densities

Array = NDArray[np.float64]

MOST_U, MOST_AIR = 0.08, 0.15  # relative, of a density that the tables serve
FAINT = 1e-6  # share of belief of a point that no range is taken from
U_STEP = 0.02  # relative uncertainties of conductivities are rounded to this step of their logarithm
MIDDLE = (SHARE_EDGES[1:] + SHARE_EDGES[:-1]) / 2
PRECIOUS_MIDDLE = np.concatenate([[0.0], (PRECIOUS_BINS[1:] + PRECIOUS_BINS[:-1]) / 2])
QUANTILES = (0.025, 0.5, 0.975)
LEAST = 1e-3  # share of belief of the last system given
QUICK, FULL = "quick", "full"  # how an answer was found


@dataclass(frozen=True)
class Asked:
    """One piece ready for the quick route."""

    claim: Claim | None
    hollow: bool
    mass_g: float | None
    density: Density
    reading: Reading
    meter: Meter
    magnet: ObservedMagnet | None

    @property
    def order(self) -> tuple[Any, ...]:
        """Candidates that use the same rows of the same tables stand together."""
        return (
            self.claim.kind if self.claim else "",
            self.meter.frequencies,
            self.meter.thickness,
            self.meter.coarse,
            self.claim.text if self.claim else "",
            self.density.v,
        )


def is_simple(piece: Piece, claim: Claim | None) -> bool:
    """Whether the quick route can answer, as far as the kinds of readings say."""
    if piece.shape is not None or (claim is not None and (claim.plated or claim.clad)):
        return False
    named = named_readings(piece.readings)
    if not set(named) <= {"conductivity", "magnet"}:
        return False
    conductivity = named.get("conductivity")
    return not (isinstance(conductivity, Conductivity) and conductivity.temperature is not None)


def asked(piece: Piece, claim: Claim | None, density: Density, settings: Settings, tables: Tables) -> Asked | None:
    """A piece ready for the quick route; None where its density is too poor for the tables."""
    if density.u_v > MOST_U * density.v or density.bubble_v > MOST_AIR * density.v:
        return None
    named = named_readings(piece.readings)
    conductivity, magnet = named.get("conductivity"), named.get("magnet")
    frequencies: tuple[float, ...] = ()
    other, resistivity, u = OTHER_DENSITY / density.v, None, 0.0
    if conductivity is not None:
        form = Form("disc", (1.0, 1.0), measured=False)
        observed = conductivity.observed("conductivity", circumstances_of(piece, settings, tables, form, claim))
        assert isinstance(observed, ObservedConductivity)
        resistivity, frequencies = 100 / observed.read, observed.frequencies
        u = math.exp(U_STEP * round(math.log(observed.u) / U_STEP))
        other *= observed.other
    answered = _magnet(tables, magnet.answer) if isinstance(magnet, Magnet) else None
    if answered is not None:
        other *= answered.other
    weighed = Weighed(density.v, density.u_v, density.bubble_v)
    shares = None if answered is None else answered.shares[:, answered.answer]
    reading = Reading(weighed, density.thickness_um, resistivity, u, shares, other)
    meter = Meter.of(frequencies, density.thickness_um, density.u_v / density.v)
    mass = density.body_g or (piece.mass.value if piece.mass else None)
    return Asked(claim, allows_hollow(piece, claim), mass, density, reading, meter, answered)


@lru_cache(maxsize=32)
def _magnet(tables: Tables, answer: str) -> ObservedMagnet:
    form, piece = Form("disc", (1.0, 1.0), measured=False), Piece(magnet=answer)
    observed = Magnet(answer).observed("magnet", circumstances_of(piece, Settings(), tables, form))
    return observed


def quick_answers(
    candidates: Mapping[int, Piece], settings: Settings, tables: Tables, prior: str
) -> dict[int, dict[str, Any]]:
    """Answers of those pieces that the quick route can answer, by their numbers, as `batch.brief` words them.

    What has an error, or readings that need a full solve, is left out: the full solve says what is wrong with it.
    """
    claims: dict[int, Claim | None] = {}
    for i, piece in candidates.items():
        with suppress(AlloysolveError):
            claim = parse_claim(piece.claim, tables) if piece.claim else None
            if is_simple(piece, claim):
                claims[i] = claim
    ready: dict[int, Asked] = {}
    for i, density in zip(claims, densities([candidates[i] for i in claims], settings, tables), strict=True):
        with suppress(AlloysolveError):
            one = asked(candidates[i], claims[i], density, settings, tables) if isinstance(density, Density) else None
            if one is not None:
                ready[i] = one
    out = {}
    for i in sorted(ready, key=lambda i: ready[i].order):
        with suppress(AlloysolveError):
            out[i] = _answer(ready[i], settings, tables, prior)
    return out


def _answer(a: Asked, settings: Settings, tables: Tables, prior: str) -> dict[str, Any]:
    beliefs = beliefs_of(tables, a.claim, a.hollow, prior, a.meter)
    belief = beliefs.of(a.reading)
    decision, lowest = None, None
    if a.claim is not None:
        of_class = thickness_class(a.reading.thickness_um)
        claimed = claimed_of(tables, a.claim, a.hollow, prior, a.meter.frequencies, of_class)
        decision = claimed.decision(a.reading, a.magnet, settings.answers.false_alarm.value) if claimed else None
        if decision and decision.code != CONTRADICTED:
            alloys = less_fine_of(tables, a.claim, a.meter.frequencies)
            lowest = alloys.lowest(a.reading, a.magnet) if alloys else None
    return {
        "decision": decision.code if decision else None,
        "p": significant(decision.p) if decision else None,
        "reasons": [r.code for r in decision.reasons] if decision else [],
        "systems": _systems(belief, beliefs),
        "something_else": significant(belief.other),
        "precious": _precious(belief, beliefs.symbols, a.mass_g, lowest, a.claim.metal if a.claim else ""),
        "solved": QUICK,
    }


def _precious(
    belief: Belief, symbols: tuple[str, ...], mass_g: float | None, lowest: float | None, claimed: str
) -> dict[str, Any]:
    """Low, likely and high content of each precious metal; that claimed down to the lowest fineness that would pass."""
    out: dict[str, Any] = {}
    scale, unit = (mass_g, "g") if mass_g else (100.0, "%")
    whole = 1.0 - belief.other
    cumulated = np.cumsum(np.where(np.arange(len(PRECIOUS_BINS)) > 0, belief.precious, 0.0), axis=1)
    absent = np.maximum(whole - cumulated[:, -1], 0.0)
    for i in np.flatnonzero(cumulated[:, -1] > (1 - QUANTILES[2]) * whole):
        along = absent[i] + cumulated[i]
        low, likely, high = PRECIOUS_MIDDLE[
            np.minimum(np.searchsorted(along, np.array(QUANTILES) * along[-1]), len(along) - 1)
        ].tolist()
        if high < TRACE:
            continue
        if symbols[i] == claimed and lowest is not None:
            low = min(low, lowest / 1000)
        u = max((high - low) / 4, 1e-4) * scale
        out[symbols[i]] = {
            name: rounded(x * scale, u) for name, x in (("low", low), ("likely", likely), ("high", high))
        }
        out[symbols[i]]["unit"] = unit
    return out


def _systems(belief: Belief, beliefs: Beliefs) -> list[dict[str, Any]]:
    """The likeliest systems with their probabilities and ranges."""
    most = np.argpartition(-belief.system, BEST)[:BEST]
    most = most[belief.system[most] >= LEAST]
    most = most[np.lexsort((most, -belief.system[most]))]
    if not len(most):
        return []
    means, spans = (x.tolist() for x in _ranges(belief, beliefs, most))
    out = []
    for rank, k in enumerate(most.tolist()):
        slots = beliefs.slots[k].tolist()
        share = dict(zip(slots, means[rank], strict=True))
        span = dict(zip(slots, spans[rank], strict=True))
        metals = sorted(beliefs.systems[k], key=lambda m: -share.get(m, 0.0))
        ranges = {m: [round(100 * x, 1) for x in span[m]] for m in metals if m in span}
        out.append({"metals": metals, "probability": significant(float(belief.system[k])), "ranges": ranges})
    return out


def _ranges(belief: Belief, beliefs: Beliefs, systems: NDArray[np.intp]) -> tuple[Array, Array]:
    """Mean (systems, slots), and low, likely, high (systems, slots, 3), of mass fractions."""
    begin, size = beliefs.begin, len(MIDDLE)
    point = np.concatenate([beliefs.points[begin[k] : begin[k + 1]] for k in systems])
    rank = np.repeat(np.arange(len(systems)), begin[systems + 1] - begin[systems])
    weight = belief.point[point]
    some = np.flatnonzero(weight > FAINT * weight.sum())
    point, rank = point[some], rank[some]
    key = ((rank * SLOTS)[:, None] + np.arange(SLOTS)) * size + beliefs.cells[point]
    weight = np.repeat(belief.point[point], SLOTS)
    each = np.bincount(key.ravel(), weight, len(systems) * SLOTS * size).reshape(-1, size)
    along = np.cumsum(each, axis=1)
    at = [np.minimum((along < q * along[:, -1:]).sum(axis=1), size - 1) for q in QUANTILES]
    shape = (len(systems), SLOTS)
    mean = each @ MIDDLE / np.maximum(along[:, -1], 1e-300)
    return mean.reshape(shape), MIDDLE[np.array(at)].T.reshape(*shape, 3)
