"""Electrical conductivity: read by an eddy-current meter, which sees layers to its depth, or of the whole piece."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from ..arrays import Array, Index
from ..entry import Entry, is_absent, join, read_value, shown
from ..errors import InputError
from ..measured import K95
from ..physics.eddy import apparent_conductivity, depth_of_penetration, model_uncertainty, resistivity_at
from ..physics.resistivity import IACS_UOHM_CM
from ..pieces.constructions import Place
from ..units import DIMENSIONS, IACS_MS_M, Quantity, parse
from .base import ALL, BODY, STRIKES, Circumstances, Kind, Ratio, Reading, fields_of
from .error_model import quadrature_sum, ratio_pdf

if TYPE_CHECKING:
    from ..alloys.bodies import Bodies
    from ..pieces.candidates import Candidates


LIMITS_MS_M = (0.17, 65.0)  # from below the poorest alloys of coins and jewels to above silver (62.9)
SPAN_UOHM_CM = (1.5, 200.0)  # range of "something else", uniform in the logarithm
UNKNOWN_HZ = (10e3, 100e3, 1e6)  # what an unnamed meter may use, equally likely (common practice, no source)
THICK = 3.0  # depths of penetration from which a bare piece reads like a thick one
UNSEEN = 0.01  # of a depth of penetration: a non-magnetic layer thinner than this is of no effect (second order)
TRIAL_HZ = 60e3
# relative permeability of bodies by magnetic class, and its scatter in the logarithm: worked austenite and alloys of 60
# to 75 % nickel have little, steel and nickel 50 to 1000 (tables of permeability; from memory)
BODY_MU_R, U_BODY_MU_R = np.array([1.0, 1.3, 150.0]), np.array([0.0, 0.3, 1.0])
MANY = 4000  # number of plated pieces from which a table is faster than computing the layers
GRID_CORE, GRID_UM = np.geomspace(0.2, 75.0, 90), np.geomspace(0.04, 2500.0, 150)
ENTRIES = fields_of(
    value=Entry("conductivity", "the value with its unit: 29.3 %IACS, 17 MS/m or 6.2 uohm cm"),
    u=Entry("text", "one standard uncertainty, in the unit of the value or relative in %"),
    unit=Entry("text", "unit of a value that is a bare number"),
    frequency=Entry("frequency", "of the meter; left out: from the settings, else unknown"),
    temperature=Entry("temperature", "of the piece, where it is not near 20 degC and the meter does not correct"),
)


@dataclass(frozen=True, slots=True, init=False)
class Conductivity(Reading):
    """Electrical conductivity of the piece, also if it was read as a resistivity.

    Parameters
    ----------
    value : a number in `unit`, or text such as ``"29.3 %IACS"``, ``"29.3 +- 0.5 %IACS"``, ``"6.2 uohm cm"``.
    u : one standard uncertainty: a number in the unit of `value`, or relative as ``"2 %"``.
    unit : unit of a bare number.
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
        unit: str = "%IACS",
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
            hertz = read_value(ENTRIES["frequency"], frequency, join(table, "frequency"))
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


@dataclass(frozen=True)
class ObservedConductivity(Ratio):
    """A conductivity reading [MS/m], ready to be compared with candidates.

    `frequencies` : [Hz] of the meter, equally likely; none: the current goes through the whole piece.
    `temperature` : [degC] or None. `slopes` : d rho / d t by host metal [uohm cm/K].
    """

    shares_model = "conductivity"
    frequencies: tuple[float, ...] = ()
    temperature: float | None = None
    slopes: Any = None
    _tables: dict[Any, Any] = field(default_factory=dict, repr=False, compare=False)

    @property
    def shows(self) -> int:  # type: ignore[override]
        """Which layers the reading can show: strikes too, if the depth to which the meter looks is known."""
        return STRIKES if len(self.frequencies) == 1 else BODY

    def body_conductivity(self, bodies: Bodies) -> Array:
        """Conductivity of each body at the temperature of the reading [MS/m]."""
        rho = bodies.resistivity
        if self.temperature is not None:
            host = np.argmax(bodies.w, axis=1)
            by_metal = np.array([self.slopes.get(s.removesuffix("-fcc"), 0.0) for s in bodies.law.symbols])
            rho = resistivity_at(rho, self.temperature, by_metal[host])
        return np.asarray(100 / np.maximum(rho, 0.5))

    def predictions(self, candidates: Candidates) -> list[tuple[Array, Array]]:
        """Conductivity [MS/m] and relative model uncertainty of each piece, one pair per possible frequency."""
        body = self.body_conductivity(candidates.bodies)
        of_body = candidates.bodies.u_resistivity[candidates.point]
        if not self.frequencies:
            return [(candidates.beside(body, 100 / candidates.layers.resistivity), of_body)]
        return [self._at(candidates, body, of_body, f) for f in self.frequencies]

    def _at(self, candidates: Candidates, body: Array, of_body: Array, frequency: float) -> tuple[Array, Array]:
        """Prediction at one frequency; pieces that read like their thick bare body are not put through the layers."""
        magnetic = candidates.bodies.magnetic
        mu_body, of_mu = BODY_MU_R[magnetic], U_BODY_MU_R[magnetic[candidates.point]]
        value, model = (body / mu_body)[candidates.point], quadrature_sum(of_body, of_mu)
        thick = candidates.form.thickness_um
        delta = depth_of_penetration(body[candidates.point], frequency, mu_body[candidates.point])
        measured = candidates.form.measured
        layered = ((candidates.skin >= 0) & (candidates.depth_um > UNSEEN * delta)) | candidates.thickness_um[
            :, 1
        ].astype(bool)
        layered &= ~(candidates.at(Place.INSIDE) & (candidates.depth_um > THICK * delta))
        layered |= measured & (thick < THICK * delta)
        tabled = layered & candidates.covered & (candidates.skin >= 0) & (magnetic[candidates.point] == 0)
        if tabled.sum() > MANY:
            for skin in np.unique(candidates.skin[tabled]):
                mine = np.flatnonzero(tabled & (candidates.skin == skin))
                value[mine], u = self._table(candidates, int(skin), frequency, value[mine], candidates.parameter[mine])
                model[mine] = quadrature_sum(model[mine], u)
            layered &= ~tabled
        row = np.flatnonzero(layered)
        if not len(row):
            return value, model
        some, layers = candidates.some(row), candidates.layers
        sigma = some.stack(body, 100 / layers.resistivity)
        mu = some.stack(mu_body, layers.mu_r)
        um = some.thickness_um
        if not measured:  # nobody knows where the back is
            um[:, 2] = np.inf
        value[row] = apparent_conductivity(sigma, um, mu, frequency)
        model[row] = quadrature_sum(model[row], model_uncertainty(sigma, um, mu, frequency))
        return value, model

    def _table(
        self, candidates: Candidates, skin: int, frequency: float, core: Array, um: Array
    ) -> tuple[Array, Array]:
        """Reading [MS/m] and model uncertainty of many pieces under one skin, from a table of core and thickness.

        The table is linear between the logarithms of `GRID_CORE` and `GRID_UM`: within 0.25 % of the layers themselves,
        and 0.4 % under magnetic skins.
        """
        layers, form = candidates.layers, candidates.form
        key = (id(layers), form, skin, frequency)
        if key not in self._tables:
            sigma, depth = (x.ravel() for x in np.meshgrid(GRID_CORE, GRID_UM, indexing="ij"))
            strike = int(layers.strike[skin])
            of_skin, of_strike = 100 / layers.resistivity[skin], 100 / layers.resistivity[strike]
            s = np.stack([np.full_like(sigma, of_skin), np.full_like(sigma, of_strike), sigma], axis=1)
            mu = np.array([layers.mu_r[skin], layers.mu_r[strike], 1.0])
            rest = np.maximum(form.thickness_um - depth - layers.strike_um[skin], 1.0) if form.measured else np.inf
            d = np.stack([depth, np.full_like(depth, layers.strike_um[skin]), rest + 0 * depth], axis=1)
            shape = (len(GRID_CORE), len(GRID_UM))
            table = (np.log(apparent_conductivity(s, d, mu, frequency)), model_uncertainty(s, d, mu, frequency))
            self._tables[key] = tuple(t.reshape(shape) for t in table)
        i, u = _place(np.log(core), np.log(GRID_CORE))
        j, v = _place(np.log(um), np.log(GRID_UM))
        value, model = (
            t[i, j] * (1 - u) * (1 - v)
            + t[i + 1, j] * u * (1 - v)
            + t[i, j + 1] * (1 - u) * v
            + t[i + 1, j + 1] * u * v
            for t in self._tables[key]
        )
        return np.exp(value), model

    def predict(self, candidates: Candidates) -> tuple[Array, Array]:
        """Conductivity [MS/m] at the frequency at which each candidate agrees best, and its model uncertainty."""
        return self.best_of(*(np.array(x) for x in zip(*self.predictions(candidates), strict=True)))

    def best_of(self, values: Array, models: Array) -> tuple[Array, Array]:
        """Of predictions (frequencies, n), those at the frequency at which each candidate agrees best."""
        if len(values) == 1:
            return values[0], models[0]
        best = np.abs(np.log(self.read / values) / quadrature_sum(self.u, models)).argmin(axis=0)
        at = np.arange(len(best))
        return values[best, at], models[best, at]

    def expected(self, candidates: Candidates) -> Array:
        """Conductivity [MS/m] at the middle one of the possible frequencies."""
        if len(self.frequencies) <= 1:
            return self.predict(candidates)[0]
        body = self.body_conductivity(candidates.bodies)
        of_body = candidates.bodies.u_resistivity[candidates.point]
        return self._at(candidates, body, of_body, self.frequencies[len(self.frequencies) // 2])[0]

    @property
    def unit_shown(self) -> str:  # type: ignore[override]
        """The unit that people are shown: %IACS of a meter, uohm cm of the whole piece."""
        return "%IACS" if self.frequencies else "uohm cm"

    def shown(self, candidates: Candidates) -> Array:
        """Conductivity in %IACS, or resistivity in uohm cm."""
        value = self.expected(candidates)
        return value / (IACS_MS_M / 100) if self.frequencies else 100 / value

    def fits_some(self, resistivity: Array, u: Array, magnetic: Index) -> bool:
        """Whether the resistivity passes the value that was read, or comes near it at the 95 % level."""
        apart = np.log(100 / self.read) - np.log(resistivity)
        near = np.abs(apart) <= K95 * np.hypot(self.u, u)
        return bool(apart.min() <= 0 <= apart.max() or near.any())

    def plain(self, shown: Array) -> Array:
        """Conductivity in %IACS; a resistivity as a multiple of that of copper."""
        if self.kind == KIND.quantity:
            return shown
        return 100 / shown if self.frequencies else shown * 100 / IACS_UOHM_CM

    @property
    def coarse(self) -> str:  # type: ignore[override]
        """Whole %IACS; two digits of a multiple of copper."""
        return ".0f" if self.kind == KIND.quantity else ".2g"

    @property
    def plain_text(self) -> str:
        """Three digits."""
        iacs = self.read / (IACS_MS_M / 100)
        return f"{iacs if self.kind == KIND.quantity else 100 / iacs:.3g}"

    def pdf(self, candidates: Candidates) -> Array:
        """Density in ln(value), averaged over the possible frequencies."""
        each = [ratio_pdf(np.log(self.read / value), self.u, model) for value, model in self.predictions(candidates)]
        return np.asarray(each[0] if len(each) == 1 else np.mean(each, axis=0))

    def sees(self, candidates: Candidates) -> Array:
        """Depth of penetration [um] in what lies outermost; NaN if the frequency is not known."""
        if not self.frequencies:
            return np.full(len(candidates), ALL)
        if len(self.frequencies) > 1:
            return np.full(len(candidates), np.nan)
        return depth_of_penetration(np.full(len(candidates), self.read), self.frequencies[0])


def _place(x: Array, grid: Array) -> tuple[Index, Array]:
    """Cell of each value in an evenly spaced grid, and how far into the cell it lies."""
    position = np.clip((x - grid[0]) / (grid[1] - grid[0]), 0, len(grid) - 1.001)
    cell = position.astype(np.intp)
    return cell, position - cell


def _with_unit(given: Any, unit: str, path: str) -> Quantity:
    """A conductivity; a bare number is in `unit`, also if it was written as text."""
    quantity: Quantity = read_value(ENTRIES["value"], given, path)
    bare = not isinstance(given, str) or re.fullmatch(r"[\d.,eE+\-±\s]+", given)
    if not bare or unit == "%IACS":
        return quantity
    return parse(quantity.text.replace("%IACS", unit), "conductivity", path)


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


def _conductivity(table: dict[str, Any], path: str) -> Reading:
    return Conductivity(**table, path=path)


def _resistivity(table: dict[str, Any], path: str) -> Reading:
    reading = Conductivity(**{"unit": "uohm cm"} | table, path=path)
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
    prompt="conductivity, %IACS",
    spot=True,
)
RESISTIVITY = Kind(
    _resistivity,
    ENTRIES,
    "electrical resistivity, 6.2 uohm cm",
    _whole_trial,
    quantity="conductivity",
    through=True,
)
