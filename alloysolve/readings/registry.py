"""The registry of readings, with one line per kind."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from ..entry import is_absent, join, read_value, shown, unknown
from ..errors import InputError
from . import conductivity, magnet, resonance, sliding, sound
from . import outermost as skin_classes
from .conductivity import Conductivity
from .magnet import Magnet
from .outermost import SkinAnswer
from .reading import Kind, Reading
from .resonance import Resonance
from .sliding import SlidingMagnet
from .sound import SoundSpeed
from .x_rays import surface
from .x_rays.surface import SurfaceComposition

if TYPE_CHECKING:
    from ..pieces.shape import Form
    from ..published.load import Tables

__all__ = [
    "KINDS",
    "Conductivity",
    "Kind",
    "Magnet",
    "Reading",
    "Resonance",
    "SkinAnswer",
    "SlidingMagnet",
    "SoundSpeed",
    "SurfaceComposition",
    "read_reading",
]

KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "magnet": magnet.KIND,
        "conductivity": conductivity.KIND,
        "resistivity": conductivity.RESISTIVITY,
        "surface_composition": surface.KIND,
        "resonance": resonance.KIND,
        "sound_speed": sound.KIND,
        "sliding_magnet": sliding.KIND,
        "streak": skin_classes.STREAK,
        "colour": skin_classes.COLOUR,
        "acid": skin_classes.ACID,
    }
)


def read_reading(given: Any, path: str, kind: str = "") -> Reading:
    """A reading, from the table of a piece file or from the bare value if the kind is known.

    Parameters
    ----------
    given : a `Reading` (returned as it is), a table with "kind", "value" and other keys, or a bare value.
    path : where it stands, e.g. ``"reading[0]"``.
    kind : a key of `KINDS` if the place already says it.

    Raises
    ------
    InputError
        For an unknown kind or key, naming the nearest known one; for a missing or bad value.

    >>> read_reading({"kind": "magnet", "value": "none"}, "reading[0]")
    Magnet(answer='none', place='', kind='magnet', text='none')
    """
    if isinstance(given, Reading):
        if kind and quantity_of(given.kind) != quantity_of(kind):
            raise InputError(path, f"a reading of {given.kind}", f"a reading of {kind}", f"give it as {given.kind}")
        return given
    if not isinstance(given, Mapping):
        if kind:
            return KINDS[kind].build({"value": given}, path)
        raise InputError(path, shown(given), "a table", "write [[reading]] with the lines kind and value")
    table = {str(key): value for key, value in given.items() if not is_absent(value)}
    kind = kind or " ".join(str(table.pop("kind", "")).split())
    if kind not in KINDS:
        if not kind:
            raise InputError(join(path, "kind"), "", "a kind of reading", f"one of {', '.join(KINDS)}")
        raise unknown(join(path, "kind"), kind, KINDS, "a known kind of reading")
    known = KINDS[kind].entries
    for key in table:
        if key not in known:
            raise unknown(join(path, key), key, known, "a known key of this reading")
    if "value" not in table and not KINDS[kind].instead & set(table):
        raise InputError(join(path, "value"), "", known["value"].help, "give the value that was read")
    for key in table:
        if known[key].dimension == "text":
            table[key] = read_value(known[key], table[key], join(path, key))
    return KINDS[kind].build(table, join(path, "value"))


def quantity_of(kind: str) -> str:
    """The quantity that a kind of reading measures: its own name, or that which it shares with another kind."""
    return (KINDS[kind].quantity if kind in KINDS else "") or kind


def unusable(kind: str, form: Form, tables: Tables) -> str:
    """Why a reading of a kind tells nothing of a piece of this form, as a code; "" if it does."""
    says = KINDS[kind].unusable
    return says(form, tables) if says else ""


def one_of_each(kinds: Iterable[str]) -> bool:
    """Whether no two of some kinds of readings measure the same quantity."""
    quantities = [quantity_of(kind) for kind in kinds]
    return len(set(quantities)) == len(quantities)


def named_readings(readings: Iterable[Reading]) -> dict[str, Reading]:
    """Readings by names of their own: the kind, with a number if there are several.

    Conductivity and resistivity count together; numbers come before the answer of a magnet. Of several answers of a
    magnet at one place the last one counts, so that a reading can be corrected.
    """
    out: dict[str, Reading] = {}
    for reading in sorted(readings, key=lambda r: KINDS[r.kind].latest):
        kind, latest = quantity_of(reading.kind), KINDS[reading.kind].latest
        same = [name for name, r in out.items() if latest and (r.kind, r.place) == (reading.kind, reading.place)]
        number = 1 + sum(re.sub(r" \d+$", "", name) == kind for name in out)
        out[same[0] if same else kind if number == 1 else f"{kind} {number}"] = reading
    return out
