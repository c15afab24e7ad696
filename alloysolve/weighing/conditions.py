"""Readings and conditions of a weighing as people give them, arranged as arrays over pieces."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, TypedDict

import numpy as np

from ..arrays import Array
from ..entry import unknown
from ..errors import InputError
from ..physics import water as water_physics
from ..physics.air import U_AIR_DENSITY
from ..physics.weighing import meniscus_pull, wire_displaced_mass
from ..units import Quantity, parse, parse_many
from .budget import Setup

# mean of the one-sided error, in mm3 of air per cm2: judgement, chosen to reproduce hobby readings
# of good coins (mean -0.9 %, sd 1.0 %)
WETTING: Mapping[str, float] = MappingProxyType({"brushed": 0.1, "as usual": 0.4, "dry dip": 1.0})
# and its least value in mm3 per weighing, because loop and thread hold air as well, however small the piece: judgement.
# Sound silver coins of a few grams read 12 to 19 mg light; a mean of 6 mm3 stays below 18 mm3 in 19 of 20 weighings.
# Brushing does not reach all of the loop: one bubble 2 mm across is 4 mm3 (instructions of a density kit, 3.6)
LEAST_AIR: Mapping[str, float] = MappingProxyType({"brushed": 2.5, "as usual": 6.0, "dry dip": 15.0})
USUAL_WETTING = "as usual"  # if nothing is said, whatever the known-good piece of the morning check was
WATER_DEGC, U_WATER_DEGC = 20.0, 1.0  # if no temperature is given: common practice, no source
U_WATER_GIVEN_DEGC = 0.5  # a household thermometer: common practice, no source
U_LIQUID = 0.0005  # g/cm3, a hydrometer: common practice, no source
U_THREAD_SHARE = 0.3  # share of the effect of the thread, from its length and diameter: judgement, no source
U_PART_SHARE = 0.05  # share of the mass of a part that is given without u: judgement, no source


class Conditions(TypedDict, total=False):
    """The keywords of `weigh`, for type checkers."""

    in_water: Any
    scale_step: Any
    u_scale: Any
    thread: Any
    thread_length: Any
    u_thread: Any
    water: Any
    liquid_density: Any
    air: Any
    wetting: str | float | None
    area: Any
    known_good: Any
    count: Any
    parts: Sequence[Sequence[float | None]]


@dataclass(frozen=True, slots=True)
class Shop:
    """A `Setup`, with the remarks that making it led to."""

    setup: Setup
    notes: tuple[str, ...] = ()


def is_column(given: Any) -> bool:
    """Whether a value is an array or a column over pieces."""
    return getattr(given, "ndim", 0) >= 1


def column_length(given: Sequence[Any]) -> int | None:
    """Number of pieces, or None if nothing is a column; `InputError` if lengths differ."""
    lengths = {len(x) for x in given if is_column(x)}
    if len(lengths) > 1:
        raise InputError("mass", sorted(lengths), "columns of one length", "give one row a piece")
    return lengths.pop() if lengths else None


def quantities(given: Any, dimension: str, path: str) -> list[Quantity]:
    """The parsed values of one value or of repeats, given as text, numbers or already parsed."""
    if isinstance(given, Quantity):
        return [given]
    if isinstance(given, list | tuple) and any(isinstance(x, Quantity) for x in given):
        return [one(x, dimension, f"{path}[{i}]") for i, x in enumerate(given)]
    return parse_many(given, dimension, path)


def one(given: Any, dimension: str, path: str) -> Quantity:
    """One parsed value, given as text, a number or already parsed."""
    return given if isinstance(given, Quantity) else parse(given, dimension, path)


def matrix(given: Any, dimension: str, path: str, n: int | None) -> tuple[Array, float | None]:
    """Readings as an array (pieces, repeats), and the uncertainty that was written with them.

    A cell of a column that cannot be read is `nan`; a single value that cannot be read is an error.
    """
    if not is_column(given):
        read = quantities(given, dimension, path)
        stated = [q.u for q in read if q.u is not None]
        row = np.array([[q.value for q in read]])
        return np.repeat(row, 1 if n is None else n, axis=0), max(stated) if stated else None
    raw = np.asarray(given)
    if np.issubdtype(raw.dtype, np.number):
        cells: Array = raw.astype(float)
    else:
        cells = np.array([_cell(x, dimension, path) for x in raw.ravel()]).reshape(raw.shape)
    return cells[:, None] if cells.ndim == 1 else cells, None


def _cell(given: Any, dimension: str, path: str) -> float:
    try:
        return one(given, dimension, path).value
    except InputError:
        return math.nan


def setup(
    scale_step: Any,
    u_scale: Any,
    stated: tuple[float | None, float | None],
    thread: tuple[Any, Any, Any],
    liquid: tuple[Any, Any],
    air: Any,
    wetting: str | float | None,
    area: Any,
    count: Any,
    parts: Sequence[Sequence[float | None]],
    n: int | None,
) -> Shop:
    """The conditions of a weighing, from the arguments of `weigh`."""
    size = 1 if n is None else n
    rho_l, u_l = _liquid(*liquid, size)
    thread_g, u_thread = _thread(*thread, rho_l)
    rho_a = one(air, "density", "air")
    per_cm2, least = _wetting(wetting)
    u = 0.0 if u_scale is None else one(u_scale, "mass", "u_scale").value
    kept, notes = _parts(parts)
    return Shop(
        Setup(
            step=one(scale_step, "mass", "scale_step").value,
            u_scale=u if stated[1] is None else stated[1],
            u_scale_mass=u if stated[0] is None else stated[0],
            thread_g=thread_g,
            u_thread_g=u_thread,
            liquid=rho_l,
            u_liquid=u_l,
            air=rho_a.value,
            u_air=U_AIR_DENSITY if rho_a.u is None else rho_a.u,
            air_mm3_cm2=per_cm2,
            least_air_mm3=least,
            area_mm2=None if area is None else _positive(area, "area", "the surface of one piece in mm2"),
            count=_positive(count, "count", "a number of pieces of at least 1", lowest=1.0),
            parts=kept,
        ),
        notes,
    )


def _liquid(water: Any, density: Any, n: int) -> tuple[Array, Array]:
    """Density of the liquid and its standard uncertainty [g/cm3]."""
    if density is not None:
        rho, u = matrix(density, "density", "liquid_density", n)
        return rho[:, 0], np.full(n, U_LIQUID if u is None else u)
    if water is None:
        t, u_t = np.full(n, WATER_DEGC), U_WATER_DEGC
    else:
        cells, u = matrix(water, "temperature", "water", n)
        t, u_t = cells[:, 0], U_WATER_GIVEN_DEGC if u is None else u
        low, high = water_physics.LOWEST_DEGC, water_physics.HIGHEST_DEGC
        if not is_column(water) and not low <= t[0] <= high:
            shown = water.text if isinstance(water, Quantity) else water
            raise InputError("water", shown, f"{low:g} to {high:g} degC", "give it with its unit, 70 degF or 21 degC")
    slope = np.abs(water_physics.water_density_slope_tanaka(t)) * u_t
    return water_physics.water_density_tanaka(t), np.hypot(slope, water_physics.U_WATER)


def _thread(diameter: Any, length: Any, u: Any, rho_l: Array) -> tuple[Array, Array]:
    """Mass of liquid that the thread displaces, and the standard uncertainty of its whole effect [g]."""
    if diameter is None:
        return 0 * rho_l, 0 * rho_l
    d = one(diameter, "length", "thread").value
    pushed = wire_displaced_mass(d, one(length, "length", "thread_length").value, rho_l)
    if u is not None:
        return pushed, one(u, "mass", "u_thread").value + 0 * rho_l
    # the pull lies between none and full, at tare and at reading: triangular, half width one pull
    return pushed, np.hypot(U_THREAD_SHARE * pushed, meniscus_pull(d) / np.sqrt(6))


def _wetting(given: str | float | None) -> tuple[float, float]:
    """Mean air in mm3 per cm2, and the least mean per weighing [mm3]; a number is taken as it is."""
    given = USUAL_WETTING if given is None else given
    if isinstance(given, str):
        if given in WETTING:
            return WETTING[given], LEAST_AIR[given]
        raise unknown("wetting", given, WETTING, "one of " + ", ".join(f'"{w}"' for w in WETTING))
    if isinstance(given, bool) or not 0 <= given <= 100:
        raise InputError("wetting", given, "mm3 of air per cm2, 0 to 100", 'give a word, e.g. "brushed"')
    return float(given), 0.0


def _positive(given: Any, path: str, expected: str, lowest: float = 0.0) -> Array:
    try:
        values = np.atleast_1d(np.asarray(given, dtype=float))
    except (TypeError, ValueError) as e:
        raise InputError(path, given, expected, "give a number") from e
    if isinstance(given, bool) or not np.all(np.isfinite(values) & (values > 0) & (values >= lowest)):
        raise InputError(path, given, expected, "give a number")
    return values


def _parts(
    parts: Sequence[Sequence[float | None]],
) -> tuple[tuple[tuple[float, float, float, float], ...], tuple[str, ...]]:
    """Parts as mass, u, density, u; a part without a mass cannot be subtracted, and is noted."""
    kept, notes = [], []
    for i, part in enumerate(parts):
        if not 3 <= len(part) <= 4:
            expected = "mass [g] or None, density and its u [g/cm3], u of the mass [g]"
            raise InputError(f"parts[{i}]", part, expected, "give three or four numbers")
        mass, rho, u_rho, u_mass = (*part, None)[:4]
        if mass is None:
            notes.append("part_mass_unknown")
            continue
        m, density = one(mass, "mass", f"parts[{i}]").value, one(rho, "density", f"parts[{i}]").value
        kept.append((m, U_PART_SHARE * m if u_mass is None else float(u_mass), density, float(u_rho or 0.0)))
    return tuple(kept), tuple(dict.fromkeys(notes))
