"""A surface composition as an X-ray instrument printed it, ready to be compared with candidates."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ...arrays import Array
from ...special import gammaincc, ndtri
from ..base import SURFACE, Core
from ..error_model import score_of
from ..ratio import outside
from .along_skins import BLOCK, LOCAL_STEP, LOCAL_STEPS, AlongSkins
from .under_skin import core_under, seen_through

if TYPE_CHECKING:
    from ...alloys.materials import Layers
    from ...pieces.candidates import Candidates

PRINTED_FROM = 2.0  # percent of a core metal as printed
DEEP = 4.6  # absorption lengths from beyond which 1 % of the intensity comes


@dataclass(frozen=True, eq=False)
class ObservedSurface(AlongSkins):
    """A surface composition, ready to be compared with candidates."""

    shows = SURFACE
    surface = True
    effort = 3

    def _residuals(self, candidates: Candidates) -> tuple[Array, Array, Array]:
        """Shares predicted for the known metals, their model uncertainty, and the shares read less those predicted."""
        p, slope = self.printed(candidates)
        p, slope = p[:, : len(self.known)], slope[:, : len(self.known)]
        model = self._model(p, slope)
        varied = np.flatnonzero(candidates.faced & (candidates.layers.u_points[candidates.skin] > 0))
        if len(varied):  # skins without a fixed composition, as far as what is printed is theirs
            skin = candidates.skin[varied]
            own = candidates.layers.w[skin][:, self.lines.own[self.columns[: len(self.known)]]] > 0
            part = np.where(own, p[varied], 0.0).sum(axis=1, keepdims=True) / 100
            points = own * part * candidates.layers.u_points[skin][:, None]
            model[varied] = np.hypot(model[varied], points)
        return p, model, self.read - p

    def score(self, candidates: Candidates) -> Array:
        """Normal score of all shares and limits together, with the sign of the main metal's residual."""
        out = self._score(candidates)
        covered = np.flatnonzero(candidates.covered & self.uneven)
        times = np.exp(LOCAL_STEP * np.arange(-LOCAL_STEPS, LOCAL_STEPS + 1))
        for rows in np.array_split(covered, 1 + len(covered) * len(times) // BLOCK):
            local = candidates.some(np.repeat(rows, len(times)))
            local = replace(local, parameter=local.parameter * np.tile(times, len(rows)))
            each = self._score(local).reshape(-1, len(times))
            out[rows] = np.take_along_axis(each, np.abs(each).argmin(axis=1)[:, None], axis=1)[:, 0]
        return out

    def _score(self, candidates: Candidates) -> Array:
        p, model, r = self._residuals(candidates)
        u = np.hypot(self.u_reading, model)
        counted, limited = self.counted, self.limited
        squares = np.square(r[:, counted] / u[:, counted]).sum(axis=1)
        over = np.square(np.maximum(p[:, limited] - self.limit[limited], 0) / u[:, limited])
        # a limit that a candidate keeps cannot fail, so that it is not one of the chances to read as badly as this
        free = len(counted) + np.minimum(over, 1.0).sum(axis=1)
        worst = squares + over.sum(axis=1) + self._unread(candidates, candidates.depth_um[:, None])[:, 0]
        tail = np.maximum(gammaincc(np.maximum(free, 1.0) / 2, worst / 2), 1e-300)
        return np.asarray(np.where(r[:, self.main] < 0, -1.0, 1.0) * -ndtri(tail / 2))

    def under(self, claim: Candidates) -> Callable[[Candidates], Array]:
        """Gives the score of the main metal of others, outside the range of a claim."""
        k, (p, model, _) = self.main, self._residuals(claim)
        share, u_model, u = p[:, k], float(model[:, k].max()), float(self.u_reading[k])
        return lambda others: score_of(outside(self.expected(others), share), u, u_model)

    def expected(self, candidates: Candidates) -> Array:
        """Printed share of the main metal [percent]."""
        return self.printed(candidates)[0][:, self.main]

    def shown(self, candidates: Candidates) -> Array:
        """Share of the main metal that the instrument would print of each candidate [percent]."""
        return self.apparent(candidates)[:, self.main]

    def scale(self, candidates: Candidates) -> tuple[Array, Array]:
        """Printed share of the main metal and its uncertainty [percent]."""
        p, model, _ = self._residuals(candidates)
        k = self.main
        return p[:, k], np.hypot(self.u_reading[k], model[:, k])

    @property
    def unit_shown(self) -> str:  # type: ignore[override]
        """The unit that people are shown: mass percent of the main metal."""
        return f"% {self.known[self.main]}"

    def sees(self, candidates: Candidates) -> Array:
        """Depth [um] from which the core of each candidate is not seen through its skin; in a bare body, of 99 %."""
        out = np.empty(len(candidates))
        into = self.lines.into[:, self.columns]
        bare = ~candidates.faced
        w = candidates.bodies.w[candidates.point]
        present = self.bulk(candidates.bodies, candidates.point) > 0.02
        most = np.where(present, w @ into, np.inf).min(axis=1)
        out[bare] = (DEEP * 1e4 * candidates.bodies.v[candidates.point] / most)[bare]
        for n in np.flatnonzero(~bare):  # asked of one piece or a few
            out[n] = seen_through(self.lines, self.columns, candidates.layers, int(candidates.skin[n]), w[n])
        return out

    @property
    def items(self) -> tuple[tuple[str, str], ...]:
        """Metals with their shares as printed."""
        return tuple(re.findall(r"([A-Z][a-z]?)\s*([<>]?\s*[\d.]+)", self.text))

    def core_under(self, layers: Layers, skin: int) -> Core | None:
        """The core by all metals that were printed but the skin's; None where it is not seen, or is of one metal."""
        at = np.flatnonzero(np.nan_to_num(self.read) > 0)
        intensity, thick = self.read[at] / self.correction[at], self.ratio_of(layers.w[[skin]])[0, at]
        found = core_under(self.lines, self.columns[at], intensity, thick, layers, skin)
        if found is None:
            return None
        um, share = found
        read = {s: float(p) for s, p in zip(self.known, self.read, strict=True) if p >= PRINTED_FROM}
        core = {s: read[s] for s in share if s in read}
        whole = sum(core.values())
        if len(core) < 2:
            return None
        return Core(um, {s: share[s] for s in core}, {s: p / whole for s, p in core.items()})

    def measured(self) -> dict[str, Any]:
        """Value, uncertainty and unit of the share of the main metal, for documents."""
        k = self.main
        return {"value": float(self.read[k]), "u": float(self.u_reading[k]), "unit": f"% {self.known[k]}"}
