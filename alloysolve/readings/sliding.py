"""How long a small magnet takes to slide down the piece, over its time on a known-good piece of the same shape."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.families import ON_GRADES
from ..arrays import Array
from ..entry import Entry, is_absent, join, read_value, shown
from ..errors import InputError
from ..physics.sliding import MODEL, drag_conductivity, layer_shares, seen_depth, time_ratio
from ..pieces.constructions import Place
from ..units import Quantity, parse, parse_many
from .base import ALL, CONDUCTIVITY
from .magnet import magnetic_class_of
from .ratio import Ratio
from .reading import Circumstances, Kind, Reading, fields_of

if TYPE_CHECKING:
    from ..pieces.candidates import Candidates


HEIGHT_MM = 5.0  # from the middle of the magnet to the face, of the small magnets in use (judgement)
LIMITS = (0.005, 20.0)  # of the ratio: from below what any piece on a track reads to above silver on poor brass
SPAN = (0.05, 3.0)  # range of "something else", uniform in the logarithm (judgement)
READ_U = 0.05  # relative, of a ratio without times; common practice, no source
TIMED_U = 0.1  # s, of a time by hand; common practice, no source
LEAST_SLOWING = 4.0  # time on the known-good piece over wood, if nobody timed wood: from here to infinity (judgement)
PULLED_U = 1.0  # relative: a magnet that is pulled rubs, and its time says next to nothing (judgement)
UNFELT_UM = 1.0  # a thinner layer gives less than a thousandth of the drag
LN_DRAG = np.linspace(math.log(1e-4), math.log(100.0), 400)
ENTRIES = fields_of(
    value=Entry("ratio", "its time over that on the known-good piece: 0.28; or the lines time, known_good_time"),
    u=Entry("text", "one standard uncertainty of the ratio, as 0.02 or 5 %"),
    time=Entry("time", "down this piece, one or several: 1.1 1.2 s"),
    known_good_time=Entry("time", "down the known-good piece at the same slope, one or several: 4.1 4.0 s"),
    wood_time=Entry("time", "down wood or glass at the same slope, one or several: 0.4 s"),
    known_good=Entry("text", "what the known-good piece is: silver 999; left out: as claimed"),
)
WAYS = ({"value"}, {"time", "known_good_time"}, {"time", "known_good_time", "wood_time"})


@dataclass(frozen=True, slots=True, init=False)
class SlidingMagnet(Reading):
    """Time of a small magnet down a piece, over its time down a known-good piece of the same shape and slope.

    Parameters
    ----------
    value : the ratio, a number or text such as ``"0.28"`` or ``"28 +- 2 %"``; None where times are given.
    u : one standard uncertainty of the ratio: a number, or text such as ``"5 %"``; left out: that of the times, each
        0.1 s by hand or as they scatter, or 5 %.
    known_good : what the known-good piece is, as a claim; left out: what this piece is said to be.
    place : where on the piece.
    time, known_good_time, wood_time : times down this piece, the known-good one, and wood or glass; repeats as text
        or lists.
    path : where the value stands in a document, for errors.

    Attributes
    ----------
    value, u : the ratio and its standard uncertainty.
    slowing, u_slowing : time on the known-good piece over that on wood, relative uncertainty; None without it.
    given : what was given, as it was written.

    Raises
    ------
    InputError
        Unless given in one of these ways; for a ratio outside 0.005 to 20; for wood that is no faster.

    >>> SlidingMagnet(time="1.1 s", known_good_time="4.4 s").value
    0.25
    """

    value: float
    u: float
    slowing: float | None
    u_slowing: float
    known_good: str
    given: tuple[tuple[str, str], ...]
    place: str
    kind: str = field(init=False)
    text: str = field(init=False)

    def __init__(
        self,
        value: str | float | Quantity | None = None,
        u: str | float | None = None,
        known_good: str = "",
        place: str = "",
        time: Any = None,
        known_good_time: Any = None,
        wood_time: Any = None,
        *,
        path: str = "sliding_magnet",
    ) -> None:
        table = path.removesuffix(".value")
        said = {"value": value, "time": time, "known_good_time": known_good_time, "wood_time": wood_time}
        said = {key: v for key, v in said.items() if not is_absent(v)}
        if set(said) not in WAYS:
            raise InputError(
                table,
                " ".join(said),
                "the ratio in one of two ways: value; time and known_good_time with or without wood_time",
                "give the lines of exactly one of them",
            )
        found = _of_value(value, path) if "value" in said else _of_times(said, table)
        ratio, relative, text, texts = found.ratio, found.u, found.text, found.texts
        if not LIMITS[0] <= ratio <= LIMITS[1]:
            bare = "value" in said
            raise InputError(
                path if bare else table,
                text if bare else f"{ratio:.3g} = {text}",
                f"a ratio from {LIMITS[0]:g} to {LIMITS[1]:g}",
                "check the decimal marks; the time on this piece comes first",
            )
        if not is_absent(u):
            relative = _relative(u, ratio, join(table, "u"), found.stated)
        texts = texts | {key: str(v) for key, v in (("u", u), ("known_good", known_good)) if not is_absent(v)}
        self._set(
            value=ratio,
            u=relative * ratio,
            slowing=found.slowing,
            u_slowing=found.u_slowing,
            known_good=known_good,
            given=tuple(texts.items()),
            place=place,
            kind="sliding_magnet",
            text=text,
        )

    def to_dict(self) -> dict[str, Any]:
        """The table of a piece file that gives this reading."""
        return {"kind": self.kind, **dict(self.given)} | ({"place": self.place} if self.place else {})

    def observed(self, name: str, about: Circumstances) -> ObservedSliding:
        """This reading with the conductivity of the known-good piece.

        Raises
        ------
        InputError
            Where nothing says what the known-good piece is, or that is plated or clad.
        """
        if about.known_bodies is None:
            raise InputError("sliding_magnet.known_good", "", "what the known-good piece is", "give its claim")
        bodies = about.known_bodies(self.known_good)
        return ObservedSliding(
            name,
            self.kind,
            self.place,
            self.text,
            self.value,
            self.u / self.value,
            SPAN,
            "",
            *_log_conductivity(bodies),
            self.slowing,
            self.u_slowing,
        )


@dataclass(frozen=True)
class _Found:
    """A ratio, its relative uncertainty and whether that was stated; the slowing; and what was given, as written."""

    ratio: float
    u: float
    stated: bool
    text: str
    texts: dict[str, str]
    slowing: float | None = None
    u_slowing: float = 0.0


def _of_value(given: Any, path: str) -> _Found:
    q = read_value(ENTRIES["value"], given, path)
    return _Found(q.value, READ_U if q.u is None else q.u / q.value, q.u is not None, q.text, {"value": q.text})


def _of_times(said: Mapping[str, Any], table: str) -> _Found:
    times = {key: parse_many(given, "time", join(table, key)) for key, given in said.items()}
    texts = {key: " ".join(q.text for q in repeats) for key, repeats in times.items()}
    mean = {key: _mean(repeats) for key, repeats in times.items()}
    (t, u_t), (known, u_known) = mean["time"], mean["known_good_time"]
    ratio = _Found(t / known, math.hypot(u_t, u_known), False, f"{texts['time']} / {texts['known_good_time']}", texts)
    if "wood_time" not in mean:
        return ratio
    wood, u_wood = mean["wood_time"]
    if known <= wood:
        raise InputError(
            join(table, "wood_time"),
            texts["wood_time"],
            f"a time below that on the known-good piece, {texts['known_good_time']}",
            "time both again at the same slope",
        )
    return replace(ratio, slowing=known / wood, u_slowing=math.hypot(u_known, u_wood))


def _mean(times: Iterable[Quantity]) -> tuple[float, float]:
    """Mean of times [s] and its relative standard uncertainty: as stated, by hand, or from their scatter."""
    t = np.array([q.value for q in times])
    own = np.array([TIMED_U if q.u is None else q.u for q in times])
    scatter = float(t.std(ddof=1)) if len(t) > 1 else 0.0
    u = max(float(np.sqrt((own**2).mean())), scatter) / math.sqrt(len(t))
    return float(t.mean()), u / float(t.mean())


def _relative(u: Any, ratio: float, path: str, doubled: bool) -> float:
    """The stated uncertainty of a ratio as a relative one; "5 %" is a share of the ratio."""
    if doubled:
        raise InputError(path, shown(u), "one uncertainty", 'keep either the one behind "+-" or u')
    try:
        found = parse(str(u), "ratio", path).value
    except InputError as e:
        raise InputError(
            path, shown(u), "an uncertainty above zero, as a number or in %", 'write for example "5 %"'
        ) from e
    return found if "%" in str(u) else found / ratio


def _log_conductivity(bodies: Bodies) -> tuple[float, float]:
    """Mean of ln(conductivity [MS/m]) over compositions, and its uncertainty, their spread included.

    Published grades among them have the share that they have of a family, `ON_GRADES`.
    """
    share, named = bodies.weight / bodies.weight.sum(), bodies.grade >= 0
    if named.any() and not named.all():
        share = np.where(named, ON_GRADES / share[named].sum(), (1 - ON_GRADES) / share[~named].sum()) * share
    log = np.log(100 / bodies.resistivity)
    mean = float(share @ log)
    return mean, math.sqrt(float(share @ ((log - mean) ** 2 + bodies.u_resistivity**2)))


@dataclass(frozen=True)
class ObservedSliding(Ratio):
    """A ratio of times, predicted from the drag on the layers of a piece over that on the bare known-good one.

    `known`, `u_known` : ln(conductivity [MS/m]) of the known-good piece and its uncertainty. `slowing`, `u_slowing` :
    time on it over that on wood, relative uncertainty; None if nobody timed wood.

    A magnet is never faster than on wood, so a time near that on wood only says that there is little drag.
    """

    shares_model = "sliding_magnet"
    measures = CONDUCTIVITY
    known: float = 0.0
    u_known: float = 0.0
    slowing: float | None = None
    u_slowing: float = 0.0

    @cached_property
    def _times(self) -> tuple[Array, Array, Array]:
        """Over `LN_DRAG`: ln of the ratio of times, its slope, and its uncertainty from that of the slowing.

        Without a time on wood, the slowing lies between `LEAST_SLOWING` and infinity: the middle is taken, with the
        span over the root of 12 as its standard uncertainty.
        """
        q = np.exp(LN_DRAG)
        if self.slowing is not None:
            log = np.log(time_ratio(q, self.slowing))
            slope = np.gradient(log, LN_DRAG)
            return log, slope, np.clip(1 - slope, 0, 1) * self.u_slowing
        least = np.log(time_ratio(q, LEAST_SLOWING))
        log = (least + LN_DRAG) / 2
        return log, np.gradient(log, LN_DRAG), np.abs(least - LN_DRAG) / math.sqrt(12)

    def drag_ratio(self, candidates: Candidates) -> tuple[Array, Array]:
        """Drag on each piece over that on a known-good one as thick, and its uncertainty from conductivities."""
        sigma, material = 100 / np.maximum(candidates.bodies.resistivity, 0.5), 100 / candidates.layers.resistivity
        value, model = (
            sigma[candidates.point],
            np.hypot(candidates.bodies.u_resistivity[candidates.point], self.u_known),
        )
        row = np.flatnonzero((candidates.skin >= 0) & (candidates.depth_um > UNFELT_UM))
        if len(row):
            some = candidates.some(row)
            whole = layer_shares([candidates.form.thickness_um / 1000], HEIGHT_MM)[0]
            value[row] = drag_conductivity(some.through(sigma, material), some.through_um / 1000, HEIGHT_MM) / whole
        solid = np.where(candidates.at(Place.VOID), np.maximum(1 - candidates.part, 1e-3), 1.0)
        return value * solid / math.exp(self.known), np.hypot(model, np.log(solid) / 2)

    def predict(self, candidates: Candidates) -> tuple[Array, Array]:
        """Ratio of times and its relative model uncertainty."""
        drag, u_drag = self.drag_ratio(candidates)
        at, (log, slope, free) = np.log(drag), self._times
        u = np.interp(at, LN_DRAG, slope) * u_drag
        pulled = PULLED_U * (magnetic_class_of(candidates) > 0)
        model = np.sqrt(MODEL**2 + u**2 + np.interp(at, LN_DRAG, free) ** 2 + pulled**2)
        return np.exp(np.interp(at, LN_DRAG, log)), model

    @property
    def unit_shown(self) -> str:  # type: ignore[override]
        """The unit that people are shown: percent."""
        return "%"

    def shown(self, candidates: Candidates) -> Array:
        """The ratio in percent."""
        return 100 * self.expected(candidates)

    @property
    def plain_text(self) -> str:
        """In whole percent."""
        return f"{100 * self.read:.0f}"

    def sees(self, candidates: Candidates) -> Array:
        """Depth [um] that gives 90 % of the drag on a thick piece; the whole of a thinner one."""
        deep = 1000 * float(seen_depth(HEIGHT_MM))
        thick = candidates.form.thickness_um > deep
        return np.full(len(candidates), deep if thick else ALL)


def _build(table: Mapping[str, Any], path: str) -> Reading:
    return SlidingMagnet(**table, path=path)


def _trial(about: Circumstances) -> ObservedSliding | None:
    """A reading that was not taken; None if the claim is one that no known-good piece could have."""
    try:
        return SlidingMagnet(0.5).observed("sliding_magnet", about)
    except InputError:
        return None


KIND = Kind(
    _build, ENTRIES, "time of a sliding magnet over that on a known-good piece, 0.28", _trial, frozenset({"time"})
)
