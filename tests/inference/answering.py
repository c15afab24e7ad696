"""What a decision may ask, answered by hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from alloysolve.arrays import Mask
from alloysolve.inference.decision import Shown


@dataclass
class Answering:
    """Gives fixed answers, and counts what was asked for.

    `overrules` : of what each reading points to, the share that the others exclude; 0 for readings not named.
    """

    share: float = 0.99
    overrules: Mapping[str, float] = field(default_factory=dict)
    wild_by: Mapping[str, float] = field(default_factory=dict)
    beside: float = 0.0
    meets: float = 0.0
    by_kind: Mapping[str, float] = field(default_factory=dict)
    counted: Counter[str] = field(default_factory=Counter)
    usual_at: Sequence[bool] = (True, True)

    def usual(self) -> Mask:
        return np.array(self.usual_at)

    def shown(self) -> Shown:
        self.counted["shown"] += 1
        return Shown(self.share, self.by_kind)

    def wild(self, name: str) -> float:
        return self.wild_by.get(name, 0.002)

    def overruled(self, name: str) -> float:
        self.counted[name] += 1
        return self.overrules.get(name, 0.0)

    def fitting(self) -> float:
        self.counted["fitting"] += 1
        return self.beside

    def meeting(self) -> float:
        self.counted["meeting"] += 1
        return self.meets
