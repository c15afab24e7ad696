"""The tones of a struck piece: typed in as heard, or found in a recording of taps."""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from ..arrays import Array
from ..entry import Entry, is_absent, join, shown
from ..errors import InputError
from ..physics.resonance import nearest_peak
from ..pieces.candidates import Along
from ..special import ndtri
from ..units import Quantity, parse, parse_many
from .base import STIFFNESS
from .error_model import ratio_pdf, ratio_pdf_between, ratio_score
from .ratio import LEAST_MODEL, Ratio, bound_by_parts
from .reading import Circumstances, Kind, Reading, fields_of
from .recording import Peaks, peaks_of
from .tones import SHAPES, tones_of_pieces, too_thick

if TYPE_CHECKING:
    from ..pieces.candidates import Candidates
    from ..pieces.shape import Form
    from ..published.load import Tables


# in ln(parameter), up to which tones at two steps bound those between, but for this share (tested)
CLOSE, BEYOND = 6.0, 0.04
Law = Callable[[Array, float, Array], Array]  # density of residuals at steps, or a bound between them
LIMITS_HZ = (200.0, 100e3)  # of a tone that is typed in: from kilogram bars to small chips
SPAN_HZ = (1e3, 40e3)  # range of "something else", uniform in the logarithm
READ_U = 0.005  # relative, of a tone read off a spectrum; common practice, no source
MOST, AUDIBLE_DB = 6, -20.0  # number of tones of a recording that are used, the strongest down to this level
FOREIGN = 0.05  # chance of each tone that it is not of the piece: no body sounds below its first mode (judgement)
HEARD = 0.5  # chance that the second mode is among the tones above the first (judgement)
APART = 0.03  # relative, how differently the model errs on two modes (judgement)
U_LENGTH, U_MASS = 0.02, 0.005  # mm, g, of callipers and scale where none are stated (common practice, no source)
WAV = re.compile(r"\S.*\.wave?", re.IGNORECASE)
ENTRIES = fields_of(
    value=Entry("text", "the tones of the struck piece, the lowest among them: 4730 Hz 7.9 kHz; or a WAV file"),
    recording=Entry("text", "a WAV file of a few taps, in place of the value"),
    u=Entry("text", "one standard uncertainty of every tone, as 20 Hz or 0.5 %"),
)


@dataclass(frozen=True, slots=True, init=False)
class Resonance(Reading):
    """The tones at which a struck piece sounds (ASTM E1876), from a list or from a recording.

    Parameters
    ----------
    peaks : tones in Hz, or text such as ``"4730 Hz 7.9 kHz"``; None with a recording.
    u : one standard uncertainty of each: a number in Hz, or text such as ``"20 Hz"`` or ``"0.5 %"``; by default 0.5 %.
    place : where on the piece.
    recording : path of a WAV file of taps, in place of `peaks`.
    path : where the value stands in a document, for errors.

    Attributes
    ----------
    peaks, u : tones, lowest first, and their standard uncertainties [Hz]. sha256 : of the recording, or "".

    Raises
    ------
    InputError
        For tones outside 200 Hz to 100 kHz, and for a file that is not a recording or in which no tone dies away.

    >>> Resonance("7.9 kHz 4730 Hz").peaks
    (4730.0, 7900.0)
    """

    peaks: tuple[float, ...]
    u: tuple[float, ...]
    place: str
    recording: str
    u_text: str
    sha256: str
    kind: str = field(init=False)
    text: str = field(init=False)

    def __init__(
        self,
        peaks: Any = None,
        u: str | float | None = None,
        place: str = "",
        recording: str | None = None,
        *,
        path: str = "resonance",
    ) -> None:
        table = path.removesuffix(".value")
        if isinstance(peaks, str) and WAV.fullmatch(peaks.strip()) and not recording:
            peaks, recording, table = None, peaks.strip(), path
        elif recording:
            table = join(table, "recording")
        if not is_absent(peaks) and recording:
            raise InputError(path, shown(peaks), "tones, or a recording of them", "leave one of the two out")
        if recording:
            found = _used(peaks_of(recording, path=table))
            if not found:
                raise InputError(
                    table,
                    shown(recording),
                    "a recording in which a tone dies away after a tap",
                    "hold the piece loosely, tap it a few times, record near it",
                )
            with open(recording, "rb") as file:
                sha256 = hashlib.file_digest(file, "sha256").hexdigest()
            self._hold(found, str(recording), place, recording=str(recording), sha256=sha256)
        else:
            quantities = _quantities(peaks, path)
            self._hold(
                _with_u(quantities, u, join(table, "u")),
                " ".join(q.text for q in quantities),
                place,
                u_text="" if is_absent(u) else str(u),
            )

    def _hold(
        self,
        found: list[tuple[float, float]],
        text: str,
        place: str,
        recording: str = "",
        u_text: str = "",
        sha256: str = "",
    ) -> None:
        found = sorted(found)
        self._set(
            peaks=tuple(f for f, _ in found),
            u=tuple(x for _, x in found),
            place=place,
            text=text,
            recording=recording,
            u_text=u_text,
            sha256=sha256,
            kind="resonance",
        )

    @classmethod
    def of(cls, peaks: Peaks, recording: str, place: str = "") -> Resonance | None:
        """The reading of a recording whose tones are known already; None if no tone was heard."""
        reading, found = cls.__new__(cls), _used(peaks)
        reading._hold(found, recording, place, recording=recording)
        return reading if found else None

    def to_dict(self) -> dict[str, Any]:
        """The table of a piece file that gives this reading."""
        table = {
            "kind": self.kind,
            "value": "" if self.recording else self.text,
            "recording": self.recording,
            "u": self.u_text,
            "place": self.place,
        }
        return {key: text for key, text in table.items() if text}

    def observed(self, name: str, about: Circumstances) -> ObservedResonance:
        """This reading with the size and mass of the piece, and the moduli of the tables.

        Raises
        ------
        InputError
            Without a mass, or without the measured sizes of a disc, bar or rod.
        """
        form = about.form
        if not form.measured or form.shape not in SHAPES:
            raise InputError(
                "disc",
                "" if not form.measured else form.shape,
                "the sizes of a disc, bar or rod beside its tones",
                'add --disc "38.6 x 2.98 mm" (diameter, thickness), or --bar',
            )
        if form.mass_g is None:
            raise InputError("mass", "", "the mass of the piece beside its tones", 'add --mass "31.1 g"')
        u = tuple(x / f for x, f in zip(self.u, self.peaks, strict=True))
        return ObservedResonance(
            name,
            self.kind,
            self.place,
            self.text,
            self.peaks[0],
            u[0],
            SPAN_HZ,
            "Hz",
            self.peaks,
            u,
            about.tables,
            *_u_sizes(about, form),
            self.sha256,
        )


def _quantities(given: Any, path: str) -> list[Quantity]:
    """Tones as they were written, each with a unit."""
    if is_absent(given):
        raise InputError(path, "", ENTRIES["value"].help, "give the tones that were heard")
    items = [given]
    if isinstance(given, str) and re.search(r"\+-|\+/-|±", given):  # each with an uncertainty of its own
        items = re.split(r"(?<=[A-Za-z%])\s+(?=[\d.-])", given.strip())
    out = [q for item in items for q in parse_many(item, "frequency", path)]
    for q in out:
        if not LIMITS_HZ[0] <= q.value <= LIMITS_HZ[1]:
            raise InputError(path, q.text, "tones from 200 Hz to 100 kHz", "check the decimal mark and the unit")
    return out


def _with_u(quantities: list[Quantity], u: Any, path: str) -> list[tuple[float, float]]:
    """Tones with their uncertainties [Hz]: each its own, otherwise the common one, otherwise `READ_U`."""
    common = READ_U * 1000.0, True
    if not is_absent(u):
        try:
            read = parse(f"1000 Hz +- {u}" + (" Hz" if re.fullmatch(r"[\d.,]+", str(u)) else ""), "frequency", path).u
        except InputError as e:
            raise InputError(path, shown(u), "an uncertainty above zero in Hz or %", 'write for example "20 Hz"') from e
        common = read or common[0], str(u).strip().endswith("%")
    each = [common[0] * (q.value / 1000 if common[1] else 1.0) for q in quantities]
    return [(q.value, q.u or x) for q, x in zip(quantities, each, strict=True)]


def _used(peaks: Peaks) -> list[tuple[float, float]]:
    """The strongest tones of a recording, with their uncertainties [Hz]."""
    strongest = np.argsort(-peaks.level, kind="stable")[:MOST]
    return [(float(peaks.frequency[k]), float(peaks.u[k])) for k in strongest if peaks.level[k] >= AUDIBLE_DB]


def _u_sizes(about: Circumstances, form: Form) -> tuple[float, float]:
    """Relative uncertainty of a tone from the lengths, and from the mass."""
    u = [(q.u or U_LENGTH) / q.value for q in about.lengths] or [U_LENGTH / x for x in form.sizes]
    mass = about.mass
    u_mass = (mass.u or U_MASS) / mass.value if mass else U_MASS / (form.mass_g or 1.0)
    if form.shape == "disc":  # the tone goes with the inverse fourth power of the diameter
        return 4 * u[0], u_mass
    # a bar with L^-3 / b, its thickness from the mass; a rod with d / L^2, whose mass says nothing
    return (math.hypot(3 * u[0], u[1]), u_mass) if form.shape == "bar" else (math.hypot(u[0], 2 * u[1]), 0.0)


@dataclass(frozen=True)
class ObservedResonance(Ratio):
    """Tones [Hz], ready to be compared with the lowest two of a free disc, bar or rod.

    `peaks`, `u_peaks` : tones, lowest first, and their relative uncertainties. `u_sizes`, `u_mass` : relative, of a
    predicted tone from the lengths, and of the mass. `sha256` : of the recording, or "".

    Which tone is the first mode is not known. No body sounds below its first mode, so each tone below that one must
    come from something else, with a chance of `FOREIGN` each. Tones that belong to no mode looked at are uniform over
    `SPAN_HZ`, for pieces as for "something else", and cancel.
    """

    several: ClassVar[bool] = True
    shares_model = "resonance"
    measures = STIFFNESS
    effort = 2
    coarse = ".2g"
    peaks: tuple[float, ...] = ()
    u_peaks: tuple[float, ...] = ()
    tables: Tables | None = None
    u_sizes: float = 0.0
    u_mass: float = 0.0
    sha256: str = ""

    @property
    def every_tone(self) -> tuple[tuple[float, float], ...]:
        """All tones with their standard uncertainties [Hz], lowest first."""
        return tuple((f, f * u) for f, u in zip(self.peaks, self.u_peaks, strict=True))

    @property
    def peak(self) -> float:  # type: ignore[override]
        """The highest density; two tones that both fit tell more than one."""
        one = 0.5 / LEAST_MODEL
        return one if len(self.peaks) == 1 else one * max(1.0, HEARD * one / self.other)

    def tones(self, candidates: Candidates) -> tuple[Array, Array]:
        """Lowest tones of each piece [Hz], (n, modes), rising, and their relative model uncertainty, (n,)."""
        assert self.tables is not None
        return tones_of_pieces(self.tables, candidates, self.u_sizes, self.u_mass)

    def predict(self, candidates: Candidates) -> tuple[Array, Array]:
        """The first mode [Hz] and its model uncertainty."""
        tones, model = self.tones(candidates)
        return tones[:, 0], model

    @property
    def unit_shown(self) -> str:  # type: ignore[override]
        """The unit that people are shown: kHz."""
        return "kHz"

    def shown(self, candidates: Candidates) -> Array:
        """The first mode in kHz."""
        return self.expected(candidates) / 1000

    def pdf(self, candidates: Candidates) -> Array:
        """Density in ln of the tones, divided by that under "something else" for all tones but one."""
        return self.along(Along.of(candidates))[:, 0]

    def along(self, a: Along) -> Array:
        """`pdf` of pairs at each of their steps."""
        return self._density(a, ratio_pdf)

    def most(self, a: Along) -> Array:
        """About the highest `pdf` between neighbouring steps."""
        return bound_by_parts(a, lambda b: self._density(b, partial(ratio_pdf_between, beyond=BEYOND)), CLOSE)

    def _density(self, a: Along, law: Law) -> Array:
        tones, model = self.tones(a.candidates)
        tones, model = tones.reshape(*a.parameter.shape, tones.shape[1]), model.reshape(a.parameter.shape)
        weight = FOREIGN ** np.arange(len(self.peaks))
        each = [w * self._if_first(i, tones, model, law) for i, w in enumerate(weight / weight.sum())]
        return np.asarray(np.sum(each, axis=0))

    def _if_first(self, i: int, tones: Array, model: Array, law: Law) -> Array:
        """Density if tone i is the first mode: alone, or with one of the tones above it as the second mode.

        The error of the model is common to both modes: their mean carries it, and their difference carries only
        `APART`.
        """
        first = np.log(self.peaks[i] / tones[..., 0])
        alone, above = law(first, self.u_peaks[i], model), range(i + 1, len(self.peaks))
        if not above or tones.shape[-1] == 1:
            return alone
        both = np.zeros(alone.shape)
        for j in above:
            difference = np.log(self.peaks[j] / tones[..., 1]) - first
            apart = law(difference, math.hypot(self.u_peaks[i], self.u_peaks[j]), np.full_like(model, APART))
            both += law(first + difference / 2, self.u_peaks[i] / 2, model) * apart
        return (1 - HEARD) * alone + HEARD * both / len(above) / self.other

    def score(self, candidates: Candidates) -> Array:
        """Score of the best assignment: that of the first mode, or of the mean if a tone lies near the second one.

        If i tones come from something else, the score is that of an event equally rare.
        """
        tones, model = self.tones(candidates)
        foreign = np.array([0.0, *(-ndtri(FOREIGN**i / 2) for i in range(1, len(self.peaks)))])
        away, u = zip(*(self._away(i, tones) for i in range(len(self.peaks))), strict=True)
        rough = np.hypot(np.array(away) / np.hypot(np.array(u), model), foreign[:, None])
        best, at = rough.argmin(axis=0), np.arange(len(model))
        z = ratio_score(np.array(away)[best, at], float(np.max(u)), model)  # u is small beside the model
        return np.asarray(np.where(z < 0, -1.0, 1.0) * np.hypot(z, foreign[best]))

    def _away(self, i: int, tones: Array) -> tuple[Array, Array]:
        """Logarithm of tone i over the first mode, or the mean with that of the second mode; its uncertainty."""
        first, u_first = np.log(self.peaks[i] / tones[:, 0]), np.full(len(tones), self.u_peaks[i])
        above = np.array(self.peaks[i + 1 :])
        if not len(above) or tones.shape[1] == 1:
            return first, u_first
        number, second = nearest_peak(tones[:, 1] * np.exp(first), above)
        u = np.hypot(u_first, np.array(self.u_peaks[i + 1 :])[number])
        near = np.abs(second) < 2 * np.hypot(u, APART)
        return first + np.where(near, second / 2, 0.0), np.where(near, np.hypot(u / 2, APART / 2), u_first)


def _build(table: dict[str, Any], path: str) -> Reading:
    return Resonance(table.get("value"), **{k: v for k, v in table.items() if k != "value"}, path=path)


def _trial(about: Circumstances) -> ObservedResonance | None:
    """A resonance that was not taken; None without sizes and mass, or for a piece whose tones cannot be told."""
    if not about.form.measured or about.form.shape not in SHAPES or about.form.mass_g is None:
        return None
    return None if _unusable(about.form, about.tables) else Resonance("5 kHz").observed("resonance", about)


def _unusable(form: Form, tables: Tables) -> str:
    thick = form.measured and form.shape in SHAPES and too_thick(form, tables)
    return "too thick for its tone" if thick else ""


KIND = Kind(
    _build,
    ENTRIES,
    "tones when struck, 4730 Hz 7.9 kHz, or a WAV file",
    _trial,
    frozenset({"recording"}),
    sized=True,
    through=True,
    unusable=_unusable,
    tables=("disc_factors", "elastic"),
)
