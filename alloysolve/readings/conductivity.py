"""Electrical conductivity as a person gives it: read by an eddy-current meter, or of the whole piece."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from ..entry import Entry, is_absent, is_bare, join, no_unit, read_value, shown
from ..errors import InputError
from ..foreign import plain
from ..units import DIMENSIONS, IACS_MS_M, Quantity, parse
from .layers_metered import SPAN_UOHM_CM, ObservedConductivity
from .reading import Circumstances, Kind, Reading, fields_of

UNITS, HERTZ = ("%IACS", "MS/m"), ("kHz", "Hz")  # what meters show, and how their frequency is given
LIMITS_MS_M = (0.17, 65.0)  # from below the poorest alloys of coins and jewels to above silver (62.9)
UNKNOWN_HZ = (10e3, 100e3, 1e6)  # what an unnamed meter may use, equally likely (common practice, no source)
TRIAL_HZ = 60e3
ENTRIES = fields_of(
    value=Entry("conductivity", "the value with its unit: 29.3 %IACS, 17 MS/m or 6.2 uohm cm", ask=UNITS),
    u=Entry("text", "one standard uncertainty, in the unit of the value or relative in %"),
    unit=Entry("text", "unit of a value that is a bare number"),
    frequency=Entry("frequency", "of the meter; left out: from the settings, else unknown", ask=HERTZ),
    temperature=Entry("temperature", "of the piece, where it is not near 20 degC and the meter does not correct"),
)


@dataclass(frozen=True, slots=True, init=False)
class Conductivity(Reading):
    """Electrical conductivity of the piece, also if it was read as a resistivity.

    Parameters
    ----------
    value : a number in `unit`, or text such as ``"29.3 %IACS"``, ``"29.3 +- 0.5 %IACS"``, ``"6.2 uohm cm"``.
    u : one standard uncertainty: a number in the unit of `value`, or relative as ``"2 %"``.
    unit : unit of a bare number, which is refused without it.
    frequency : of an eddy-current meter, in Hz or as text; None if it is not known.
    place : where on the piece.
    temperature : of the piece [degC], if it is not near 20 and the meter does not correct for it; or None.
    path : where the value stands in a document, for errors.

    Attributes
    ----------
    value, u, unit : in MS/m; `u` is None if none was given.
    frequency : in Hz, or None.
    kind : "conductivity" (an eddy-current meter), or "resistivity" if it was read as such: of the whole piece.

    Raises
    ------
    InputError
        For a value, uncertainty or frequency that cannot be used.

    >>> round(Conductivity("100 %IACS").value, 9)  # 58 MS/m by definition, IEC 60028
    58.0
    """

    value: float
    u: float | None
    unit: str
    frequency: float | None
    place: str
    temperature: float | None
    kind: str = field(init=False)
    text: str = field(init=False)
    frequency_text: str = field(init=False)
    temperature_text: str = field(init=False)

    def __init__(
        self,
        value: str | float | Quantity,
        u: str | float | None = None,
        unit: str = "",
        frequency: str | float | Quantity | None = None,
        place: str = "",
        temperature: str | float | Quantity | None = None,
        *,
        path: str = "conductivity",
    ) -> None:
        table = path.removesuffix(".value")
        quantity = _with_unit(value.text if isinstance(value, Quantity) else value, unit, path)
        if not is_absent(u):
            quantity = _with_u(quantity, u, join(table, "u"))
        hertz, warmth = Quantity(math.nan, "Hz", ""), Quantity(math.nan, "degC", "")
        if not is_absent(frequency):
            said = f"{plain(frequency)} Hz" if is_bare(frequency) and not isinstance(frequency, str) else frequency
            hertz = read_value(ENTRIES["frequency"], said, join(table, "frequency"))
        if not is_absent(temperature):
            warmth = read_value(ENTRIES["temperature"], temperature, join(table, "temperature"))
        if not LIMITS_MS_M[0] <= quantity.value <= LIMITS_MS_M[1]:
            raise InputError(
                path, quantity.text, "0.3 to 112 %IACS (0.17 to 65 MS/m)", "check the decimal mark and the unit"
            )
        self._set(
            value=quantity.value,
            u=quantity.u,
            unit=quantity.unit,
            frequency=hertz.value if hertz.text else None,
            place=place,
            temperature=warmth.value if warmth.text else None,
            kind="resistivity" if _is_resistivity(quantity.text) else "conductivity",
            text=quantity.text,
            frequency_text=hertz.text,
            temperature_text=warmth.text,
        )

    @property
    def iacs(self) -> float:
        """Conductivity in %IACS; 100 %IACS is 58 MS/m (IEC 60028)."""
        return self.value / (IACS_MS_M / 100)

    @property
    def resistivity(self) -> float:
        """Resistivity in uohm cm: 100 over the conductivity in MS/m."""
        return 100 / self.value

    def to_dict(self) -> dict[str, Any]:
        """The table of a piece file that gives this reading."""
        table = {
            "kind": self.kind,
            "value": self.text,
            "frequency": self.frequency_text,
            "place": self.place,
            "temperature": self.temperature_text,
        }
        return {key: text for key, text in table.items() if text}

    def observed(self, name: str, about: Circumstances) -> ObservedConductivity:
        """This reading with the meter of the shop."""
        frequency = self.frequency or about.frequency_hz
        whole = self.kind == "resistivity" and self.frequency is None
        hertz = () if whole else (frequency,) if frequency else UNKNOWN_HZ
        slopes = {r.metal: r.slope_uohm_cm_K for r in about.tables.rows("temperature")}
        return ObservedConductivity(
            name,
            self.kind,
            self.place,
            self.text,
            self.value,
            float(self.u / self.value if self.u else about.u_meter),
            (100 / SPAN_UOHM_CM[1], 100 / SPAN_UOHM_CM[0]),
            "MS/m",
            hertz,
            self.temperature,
            slopes,
        )


def _with_unit(given: Any, unit: str, path: str) -> Quantity:
    """A conductivity; a bare number is in `unit`, also if it was written as text, and is queried without one."""
    given = plain(given)
    bare = is_bare(given)
    if bare and not unit:
        raise no_unit(path, given, UNITS, "; the settings can name it once: unit under [readings.conductivity]")
    quantity: Quantity = read_value(ENTRIES["value"], f"{given} {unit}" if bare else given, path)
    return quantity


def _with_u(quantity: Quantity, u: Any, path: str) -> Quantity:
    """`quantity` with its uncertainty written behind it, so that one text carries both."""
    if quantity.u is not None:
        raise InputError(path, shown(u), "one uncertainty", 'keep either the one behind "+-" or u')
    try:
        return parse(f"{quantity.text} +- {u}", "conductivity", path)
    except InputError as e:
        raise InputError(
            path, shown(u), "an uncertainty above zero, in the unit of the value or in %", 'write for example "2 %"'
        ) from e


def _is_resistivity(text: str) -> bool:
    try:
        parse(text, "resistivity", "")
    except InputError:
        return False
    return True


def _conductivity(table: dict[str, Any], path: str) -> Conductivity:
    if is_bare(table.get("frequency")):
        raise no_unit(join(path.removesuffix(".value"), "frequency"), table["frequency"], HERTZ)
    return Conductivity(**table, path=path)


def _resistivity(table: dict[str, Any], path: str) -> Conductivity:
    if is_bare(table["value"]) and not table.get("unit"):
        raise no_unit(path, table["value"], ("uohm cm", "nohm m"))
    reading = _conductivity(table, path)
    if reading.kind != "resistivity":
        step = 'write for example "6.2 uohm cm", or name it conductivity'
        raise InputError(path, reading.text, DIMENSIONS["resistivity"].expected, step)
    return reading


def _trial(about: Circumstances) -> ObservedConductivity:
    return Conductivity("50 %IACS", frequency=None if about.frequency_hz else TRIAL_HZ).observed("conductivity", about)


def _whole_trial(about: Circumstances) -> ObservedConductivity:
    return Conductivity("2 uohm cm").observed("resistivity", about)


KIND = Kind(
    _conductivity,
    ENTRIES,
    "electrical conductivity, 29.3 %IACS",
    _trial,
    quantity="conductivity",
    spot=True,
    tables=("temperature",),
)
RESISTIVITY = Kind(
    _resistivity,
    ENTRIES,
    "electrical resistivity, 6.2 uohm cm",
    _whole_trial,
    quantity="conductivity",
    through=True,
    tables=("temperature",),
)
