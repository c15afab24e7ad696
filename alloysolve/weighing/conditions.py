"""Readings and conditions of a weighing as people give them, arranged as arrays over pieces."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from numbers import Real
from types import MappingProxyType
from typing import Any, TypedDict

import numpy as np

from ..arrays import Array
from ..entry import unknown
from ..errors import InputError
from ..foreign import has_unit, is_array, is_missing, numbers_of
from ..physics import water as water_physics
from ..physics.air import U_AIR_DENSITY
from ..physics.weighing import meniscus_pull, wire_displaced_mass
from ..units import DIMENSIONS, Quantity, in_base_unit, parse, parse_many
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
    return is_array(given)


def column_length(given: Sequence[Any]) -> int | None:
    """Number of pieces, or None if nothing is a column; `InputError` if lengths differ."""
    lengths = {len(x) for x in given if is_column(x)}
    if len(lengths) > 1:
        raise InputError("mass", sorted(lengths), "columns of one length", "give one row a piece")
    return lengths.pop() if lengths else None


def aligned(given: Mapping[str, Any]) -> tuple[dict[str, Any], Any]:
    """Columns of pandas brought to one index, and that index: the labels of all of them, those of the first in front.

    A piece that one of them lacks is missing there. Arrays without an index stay in their order. Without a column of
    pandas, the index is None.
    """
    labelled = {path: x for path, x in given.items() if hasattr(x, "reindex")}
    if not labelled:
        return dict(given), None
    index = next(iter(labelled.values())).index
    if all(x.index.equals(index) for x in labelled.values()):
        return dict(given), index
    for path, x in labelled.items():
        if not x.index.is_unique:
            twice = x.index[x.index.duplicated()][0]
            raise InputError(path, f"two rows {twice}", "labels that stand once", "give columns of one frame")
        index = index.union(x.index, sort=False)
    return {path: x.reindex(index) if path in labelled else x for path, x in given.items()}, index


def quantities(given: Any, dimension: str, path: str) -> list[Quantity]:
    """The parsed values of one value or of repeats, given as text, numbers or already parsed."""
    if isinstance(given, Quantity):
        return [given]
    if isinstance(given, list | tuple) and any(isinstance(x, Quantity) for x in given):
        return [one(x, dimension, f"{path}[{i}]") for i, x in enumerate(given) if not is_missing(x)]
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
    cells = column(given, dimension, path)
    if cells.ndim > 2:
        raise InputError(path, f"{cells.ndim} axes", "one row per piece, with one or several repeats", "reshape it")
    return cells[:, None] if cells.ndim == 1 else cells, None


def column(given: Any, dimension: str, path: str) -> Array:
    """The numbers of an array or a column in the base unit; `nan` where a cell is missing or cannot be read."""
    if has_unit(given):
        return in_base_unit(given, dimension, path)
    raw = given if isinstance(given, np.ndarray) else np.asarray(given)
    if raw.dtype.kind in "iuf":
        return numbers_of(raw)
    if raw.dtype.kind not in "OUST":
        raise InputError(path, f"a column of {raw.dtype}", DIMENSIONS[dimension].expected, "give numbers or text")
    return np.array([_cell(x, dimension, path) for x in raw.ravel()], dtype=float).reshape(raw.shape)


def _cell(given: Any, dimension: str, path: str) -> float:
    if is_missing(given):
        return math.nan
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
            area_mm2=None
            if is_missing(area)
            else _positive(matrix(area, "area", "area", n)[0][:, 0], "area", DIMENSIONS["area"].expected),
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
    if isinstance(given, bool) or not isinstance(given, Real) or not 0 <= given <= 100:
        raise InputError("wetting", given, "mm3 of air per cm2, 0 to 100", 'give a word, e.g. "brushed"')
    return float(given), 0.0


def _positive(given: Any, path: str, expected: str, lowest: float = 0.0) -> Array:
    """Numbers above zero, one per row or one for all."""
    try:
        values = np.atleast_1d(np.asarray(math.nan if has_unit(given) else given, dtype=float))
    except (TypeError, ValueError) as e:
        raise InputError(path, given, expected, "give a number") from e
    if isinstance(given, bool) or not np.all(np.isfinite(values) & (values > 0) & (values >= lowest)):
        raise InputError(path, str(given)[:60], expected, "give a number")
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
        if is_missing(mass):
            notes.append("part_mass_unknown")
            continue
        place = f"parts[{i}]"
        m, density = one(mass, "mass", place).value, one(rho, "density", place).value
        u_m = U_PART_SHARE * m if is_missing(u_mass) else _u(u_mass, "mass", place)
        kept.append((m, u_m, density, 0.0 if is_missing(u_rho) else _u(u_rho, "density", place)))
    return tuple(kept), tuple(dict.fromkeys(notes))


def _u(given: Any, dimension: str, path: str) -> float:
    """A standard uncertainty, which may be zero, in the base unit."""
    return 0.0 if isinstance(given, Real) and given == 0 else one(given, dimension, path).value
