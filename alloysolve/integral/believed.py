"""What is expected of one construction with one material, before any reading."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..arrays import Array
from ..pieces.constructions import CONSTRUCTIONS, Construction
from ..pieces.shape import Form

Spans = tuple[tuple[float, float, float], ...]  # shares and bounds of log-uniform parts of a prior


@dataclass(frozen=True)
class Believed:
    """What is expected of one construction with one material: share of each body (points,), prior of the parameter.

    `by_volume` : bounds of the layer's share of the volume, in place of `spans`. `claimed` : whether the claim names
        it.
    """

    construction: int
    skin: int
    share: Array
    spans: Spans = ((1.0, 0.0, 0.0),)
    by_volume: tuple[float, float] | None = None
    claimed: bool = False

    @property
    def built(self) -> Construction:
        """The construction as a record."""
        return CONSTRUCTIONS[self.construction]

    def in_um(self, form: Form) -> Believed:
        """The same belief about the thickness of the layer, where it was about the layer's share of the volume."""
        if self.by_volume is None:
            return self
        low, high = form.skin_um(np.array(self.by_volume))
        return replace(self, spans=((1.0, float(low), float(high)),), by_volume=None)

    @property
    def typical(self) -> tuple[tuple[float, float], ...]:
        """A few values of the parameter that stand for all, with their shares; no layer is thicker than it is made."""
        if not self.built.by_thickness:
            return self.built.typical
        made = [(value, share) for value, share in self.built.typical if value <= self.spans[-1][2]]
        whole = sum(share for _, share in made)  # 0 for a flash thinner than all of them
        return tuple((value, share / whole) for value, share in made)


def spans_up_to(spans: Spans, most: float) -> Spans:
    """The parts of a prior that lie below `most`, with their shares scaled to add up to 1."""
    total = sum(part for part, low, _ in spans if low < most)
    return tuple((part / total, low, min(high, most)) for part, low, high in spans if low < most)


def share_below(spans: Spans, ln_parameter: Array) -> Array:
    """Prior share below values of ln(parameter), from parts that are uniform in the logarithm."""
    ends = [(part, np.log(low), np.log(high)) for part, low, high in spans]
    return np.asarray(sum(part * np.clip((ln_parameter - a) / (z - a), 0, 1) for part, a, z in ends) + 0 * ln_parameter)
