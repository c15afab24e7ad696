"""A density as the exact lists compare it: limits of the specific volume, and which metals it is compared with."""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Real
from typing import Any

import numpy as np

from ..alloys.bodies import NOT_A_BODY
from ..alloys.law import mixing_law
from ..arrays import Array
from ..entry import chosen
from ..errors import InputError
from ..foreign import has_unit, is_array
from ..measured import K95, Measured
from ..published.load import Tables
from ..weighing.weigh import Weighing, Weighings, from_density

SCATTER = 0.003  # relative scatter of published alloys about the mixing law, besides that of the pair terms
BUBBLES = 3.0  # times the mean bubble: the 95 % limit (exponential, so 1 in 20 is larger)


@dataclass(frozen=True)
class Volume:
    """Specific volume as read, with its standard uncertainty and the mean of the air [cm3/g]; numbers or (pieces,)."""

    v: Array
    u: Array
    bubble: Array

    def limits(self, model: Array) -> tuple[Array, Array]:
        """95 % limits of the specific volume [cm3/g] once the relative scatter of the model is included."""
        half = K95 * np.hypot(self.u, model * self.v)
        return self.v - half - BUBBLES * self.bubble, self.v + half

    def apart(self, v: Array, model: Array) -> Array:
        """How far specific volumes lie from the one read: -1 and 1 are its 95 % limits."""
        air = 0.5 * BUBBLES * self.bubble
        half = K95 * np.sqrt(self.u**2 + self.v**2 * (model**2 + SCATTER**2)) + air
        return np.asarray((v - self.v + air) / half)


def volume_of(density: Any) -> Volume:
    """A density in any of the forms that the public functions accept, as limits of the specific volume."""
    if isinstance(density, Weighing | Weighings):
        return Volume(*(np.asarray(x, dtype=float) for x in (density.v, density.u_v, density.bubble_v)))
    if isinstance(density, Measured | str | Real) or (has_unit(density) and not is_array(density)):
        w = from_density(density)
        return Volume(np.asarray(w.v), np.asarray(w.u_v), np.asarray(w.bubble_v))
    raise InputError(
        "density",
        type(density).__name__,
        "a number, text, Measured, or what weigh() returns",
        "pass weigh(...) or Measured(value, u, 'g/cm3')",
    )


def usable_metals(tables: Tables) -> list[str]:
    """Symbols of the metals that mixtures are made of when none are named."""
    return [s for s in tables.metals if s not in NOT_A_BODY]


def metals_of(given: Any, tables: Tables) -> list[str]:
    """The symbols of a list or of a text, or all that mixtures are made of; at least two, each once.

    Raises
    ------
    InputError
        For symbols that are in no table, naming the nearest known one, and for what the mixing law gives no volume of
        its own.
    """
    if given is None:
        return usable_metals(tables)
    found = chosen(",".join(given.split()) if isinstance(given, str) else given, tables.metals, "metals", "symbols")
    if len(found) < 2:
        raise InputError("metals", " ".join(found), "at least two different metals", "name another one")
    law = mixing_law(tables)
    for s in found:
        if not law.molar_volume[law.index[s]] > 0:
            step = "leave it out: an alloy holds only traces of it"
            raise InputError("metals", s, "metals with a volume of their own in alloys", step)
    return list(found)
