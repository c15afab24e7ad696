"""Speed of sound through the thickness, from an echo off the back: skins, strikes and core."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from ..alloys.sound import speeds_of_bodies, speeds_of_layers
from ..arrays import Array
from ..entry import Entry, is_absent, join, read_value, shown
from ..errors import InputError
from ..physics.sound import layered_speed, reading_uncertainty, speed_from_gauge, speed_from_time
from ..pieces.constructions import Place
from ..units import Quantity, parse
from .base import STIFFNESS
from .ratio import Ratio
from .reading import Circumstances, Kind, Reading, fields_of

if TYPE_CHECKING:
    from ..pieces.candidates import Candidates
    from ..published.load import Tables


LIMITS_M_S = (500.0, 15000.0)  # from below lead, 2130, to above beryllium, 12650
SPAN_M_S = (1000.0, 7000.0)  # range of "something else", uniform in the logarithm (judgement)
READ_U = 0.01  # relative, of a speed, or of time and thickness together; common practice, no source
UNFELT = 1e-3  # of the thickness: a thinner layer changes the mean speed by less than that
HOLLOW_U = 0.3  # relative: pores slow the wave, and a gap sends it back early, which reads as fast (judgement)
ENTRIES = fields_of(
    value=Entry("speed", "the speed as 3650 m/s; or the lines time, thickness; or shown, set_speed, thickness"),
    u=Entry("text", "one standard uncertainty of the speed, as 30 m/s or 1 %"),
    time=Entry("time", "of the echo, there and back: 1.63 us"),
    thickness=Entry("length", "of the piece where it was timed; on a struck one that of the field: 2.98 mm"),
    shown=Entry("length", "the thickness a gauge shows there: 2.65 mm"),
    set_speed=Entry("speed", "the speed the gauge is set to: 3240 m/s", limits=LIMITS_M_S),
)
WAYS: Mapping[frozenset[str], str] = MappingProxyType(
    {
        frozenset({"value"}): "{value}",
        frozenset({"time", "thickness"}): "2 x {thickness} / {time}",
        frozenset({"shown", "set_speed", "thickness"}): "{set_speed} x {thickness} / {shown}",
    }
)


@dataclass(frozen=True, slots=True, init=False)
class SoundSpeed(Reading):
    """Speed of the pressure wave through the thickness of a piece.

    It is given in exactly one of three ways: as it is; by the time of the echo and the thickness, ``2 d / t``; by the
    thickness that a gauge shows and the speed to which it is set, ``c_set d / d_shown``.

    Parameters
    ----------
    value : a number in m/s, or text such as ``"3650 m/s"`` or ``"3.65 +- 0.03 km/s"``; or None.
    u : one standard uncertainty of the speed: a number in m/s, or text such as ``"30 m/s"`` or ``"1 %"``; by default
        those of the lengths and the time together, each 0.7 % if none is written, which makes 1 %.
    place : where on the piece.
    time, thickness : of the echo there and back, and of the piece.
    shown, set_speed : thickness that a gauge shows, and the speed to which it is set.
    path : where the value stands in a document, for errors.

    Attributes
    ----------
    value, u : speed and its standard uncertainty [m/s].
    given : what was given, as it was written.

    Raises
    ------
    InputError
        If it is not given in exactly one of these ways, and for a speed outside 500 to 15 000 m/s.

    >>> round(SoundSpeed(time="1.633 us", thickness="2.98 mm").value)
    3650
    >>> round(SoundSpeed(shown="2.9 mm", set_speed="3240 m/s", thickness="3.88 mm").value)
    4335
    """

    value: float
    u: float
    given: tuple[tuple[str, str], ...]
    place: str
    kind: str = field(init=False)
    text: str = field(init=False)

    def __init__(
        self,
        value: str | float | Quantity | None = None,
        u: str | float | None = None,
        place: str = "",
        time: str | float | Quantity | None = None,
        thickness: str | float | Quantity | None = None,
        shown: str | float | Quantity | None = None,
        set_speed: str | float | Quantity | None = None,
        *,
        path: str = "sound_speed",
    ) -> None:
        table = path.removesuffix(".value")
        said = {"value": value, "time": time, "thickness": thickness, "shown": shown, "set_speed": set_speed}
        said = {key: v for key, v in said.items() if not is_absent(v)}
        if frozenset(said) not in WAYS:
            raise InputError(
                table,
                " ".join(said),
                "the speed in one of three ways: value; time and thickness; shown, set_speed and thickness",
                "give the lines of exactly one of them",
            )
        read = {
            key: read_value(ENTRIES[key], v, path if key == "value" else join(table, key)) for key, v in said.items()
        }
        speed, relative = _speed(read)
        text = WAYS[frozenset(said)].format(**{key: q.text for key, q in read.items()})
        if not LIMITS_M_S[0] <= speed <= LIMITS_M_S[1]:
            bare, (low, high) = "value" in said, LIMITS_M_S
            raise InputError(
                path if bare else table,
                text if bare else f"{speed:.3g} m/s = {text}",
                f"{low:g} to {high:g} m/s",
                "check the decimal marks and the units",
            )
        if not is_absent(u):
            relative = _relative(u, speed, join(table, "u"), doubled=any(q.u is not None for q in read.values()))
        given = tuple((key, q.text) for key, q in read.items()) + ((("u", str(u)),) if not is_absent(u) else ())
        self._set(value=speed, u=relative * speed, given=given, place=place, kind="sound_speed", text=text)

    def to_dict(self) -> dict[str, Any]:
        """The table of a piece file that gives this reading."""
        return {"kind": self.kind, **dict(self.given)} | ({"place": self.place} if self.place else {})

    def observed(self, name: str, about: Circumstances) -> ObservedSoundSpeed:
        """This reading with the speeds of the tables."""
        return ObservedSoundSpeed(
            name, self.kind, self.place, self.text, self.value, self.u / self.value, SPAN_M_S, "m/s", about.tables
        )


def _speed(read: Mapping[str, Quantity]) -> tuple[float, float]:
    """Speed [m/s] and its relative standard uncertainty, from the quantities of one of the ways."""
    if "value" in read:
        q = read["value"]
        return q.value, READ_U if q.u is None else q.u / q.value
    thickness, other = read["thickness"], read["time" if "time" in read else "shown"]
    u = float(
        reading_uncertainty(*(READ_U / math.sqrt(2) if q.u is None else q.u / q.value for q in (thickness, other)))
    )
    if "time" in read:
        return float(speed_from_time(thickness.value, 1e6 * other.value)), u
    return float(speed_from_gauge(other.value, thickness.value, read["set_speed"].value)), u


def _relative(u: Any, speed: float, path: str, doubled: bool) -> float:
    """The stated uncertainty of a speed as a relative one."""
    if doubled:
        raise InputError(path, shown(u), "one uncertainty", 'keep either the one behind "+-" or u')
    try:
        found = parse(f"{speed} m/s +- {u}", "speed", path)
        assert found.u is not None
    except InputError as e:
        raise InputError(
            path, shown(u), "an uncertainty above zero, as a speed or in %", 'write for example "1 %"'
        ) from e
    return found.u / speed


@dataclass(frozen=True)
class ObservedSoundSpeed(Ratio):
    """A speed of sound [m/s], ready to be compared with the mean over the layers from face to face.

    The echo is taken to come from the back: a slug or face that is not bonded would send one back earlier.
    """

    shares_model = "sound_speed"
    measures = STIFFNESS
    tables: Tables | None = None

    def predict(self, candidates: Candidates) -> tuple[Array, Array]:
        """Mean speed [m/s] and its relative model uncertainty, that of the layers by the time spent in each."""
        assert self.tables is not None
        body, material = speeds_of_bodies(self.tables, candidates.bodies), speeds_of_layers(self.tables)
        value, model = body.speed[candidates.point], body.u[candidates.point]
        row = np.flatnonzero((candidates.skin >= 0) & (candidates.depth_um > UNFELT * candidates.form.thickness_um))
        if len(row):
            some = candidates.some(row)
            um, speed, u = some.through_um, some.through(body.speed, material.speed), some.through(body.u, material.u)
            value[row] = layered_speed(um, speed)
            model[row] = (um / speed * u).sum(axis=1) / (um / speed).sum(axis=1)
        return value, np.where(candidates.at(Place.VOID), np.hypot(model, HOLLOW_U), model)

    @property
    def plain_text(self) -> str:
        """In whole metres a second."""
        return f"{self.read:.0f}"


def _build(table: dict[str, Any], path: str) -> Reading:
    return SoundSpeed(**table, path=path)


def _trial(about: Circumstances) -> ObservedSoundSpeed:
    return SoundSpeed("3500 m/s").observed("sound_speed", about)


KIND = Kind(
    _build,
    ENTRIES,
    "speed of sound through the thickness, 3650 m/s",
    _trial,
    frozenset({"time", "shown"}),
    through=True,
    tables=("sound_speeds", "elastic"),
)
