"""What the tables need to know of a piece: its density, and perhaps a conductivity and a magnet."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ..integral.evidence import Evidence
from ..readings.layers_metered import SPAN_UOHM_CM, ObservedConductivity
from ..readings.magnet import ObservedMagnet
from .kernels import Weighed

THICKNESS_STEP = 1.4  # from one class of thickness to the next
U_STEP = 0.02  # uncertainties of conductivities are rounded to this step of their logarithm, to share kernels


@dataclass(frozen=True)
class RowReading:
    """What was read of one piece: its density, and perhaps a conductivity and a magnet.

    `thickness_um` : of the usual disc of its volume. `other` : likelihood of "something else".
    """

    weighed: Weighed
    conductivity: ObservedConductivity | None
    magnet: ObservedMagnet | None
    thickness_um: float
    other: float

    @classmethod
    def of(cls, evidence: Evidence) -> RowReading | None:
        """What the tables need of all readings of a piece; None without a density. Conductivities have a rounded u."""
        volume, conductivity, magnet = evidence.volume, None, None
        if volume is None:
            return None
        for o in evidence.observed:
            if isinstance(o, ObservedConductivity):
                conductivity = replace(o, u=math.exp(U_STEP * round(math.log(o.u) / U_STEP)))
            elif isinstance(o, ObservedMagnet):
                magnet = o
        weighed = Weighed(volume.v, volume.u, volume.bubble)
        return cls(weighed, conductivity, magnet, evidence.form.thickness_um, evidence.other_likelihood())

    @property
    def thickness_class(self) -> int:
        """Class of the thickness of the piece."""
        return round(math.log(self.thickness_um / 1000) / math.log(THICKNESS_STEP))


def of_whole_piece(read: float = 10.0, u: float = 0.01) -> ObservedConductivity:
    """A conductivity reading [MS/m] of a whole piece."""
    span = (100 / SPAN_UOHM_CM[1], 100 / SPAN_UOHM_CM[0])
    return ObservedConductivity("conductivity", "conductivity", "", "", read, u, span, "MS/m", (), None, {})
