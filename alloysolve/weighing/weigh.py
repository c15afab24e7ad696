"""`weigh`: from readings of a scale to the density of a piece, with its budget and skewed range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Unpack, overload

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, usual_errors
from ..errors import InputError
from ..foreign import is_missing
from ..physics.air import AIR_DENSITY
from ..physics.weighing import density_from_weighing
from ..units import Quantity, parse
from .budget import HIGHEST_DENSITY, LOWEST_DENSITY
from .conditions import LEAST_AIR, WETTING, Conditions, Shop, aligned, column_length, matrix, one, setup
from .hydrostatic import measure
from .other_routes import checked_dimensions, from_density, from_dimensions
from .repeats import BudgetRow
from .result import ReferencePiece, Weighing, Weighings, single
from .typed import OF_OTHERS, OF_WEIGHING, typed_densities

__all__ = [
    "OF_OTHERS",
    "OF_WEIGHING",
    "BudgetRow",
    "ReferencePiece",
    "Weighing",
    "Weighings",
    "checked_dimensions",
    "from_density",
    "from_dimensions",
    "likely_slips",
    "typed_densities",
    "weigh",
]

if TYPE_CHECKING:
    import pandas as pd

SLIP_LOW = 2.5  # g/cm3; of the metals of coins, bars and jewels only magnesium is lighter
WATER_20 = 0.9982067  # g/cm3, Tanaka et al., Metrologia 38 (2001) 301


@overload
def weigh(
    mass: NDArray[Any] | pd.Series[Any], displaced: Any = None, **conditions: Unpack[Conditions]
) -> Weighings: ...


@overload
def weigh(
    mass: str | float | Quantity | Sequence[Any], displaced: Any = None, **conditions: Unpack[Conditions]
) -> Weighing: ...


@usual_errors
def weigh(
    mass: Any,
    displaced: Any = None,
    *,
    in_water: Any = None,
    scale_step: Any = 0.01,
    u_scale: Any = None,
    thread: Any = None,
    thread_length: Any = 30.0,
    u_thread: Any = None,
    water: Any = None,
    liquid_density: Any = None,
    air: Any = AIR_DENSITY,
    wetting: str | float | None = None,
    area: Any = None,
    known_good: ReferencePiece | Sequence[Any] | None = None,
    count: Any = 1,
    parts: Sequence[Sequence[float | None]] = (),
) -> Weighing | Weighings:
    """Density of a piece from its weight in air and in a liquid.

    ``rho = m (rho_l - rho_a) / G + rho_a``; thread and parts are subtracted, and the known-good ratio multiplies it.

    Parameters
    ----------
    mass : reading in air: a number in g, text with a unit, a list of repeats, or an array or column with
        one entry (or one row of repeats) per piece, which makes the result a `Weighings`. Columns of pandas are
        brought together by their labels. Numbers with a unit of pint or astropy are converted. NaN, None, NA and
        masked elements are missing.
    displaced : gain of a tared beaker with the piece hung in it, in the same forms as `mass`; or else
    in_water : reading with the piece in the liquid.
    scale_step : smallest step of the scale [g]; counted at tare and reading, not reduced by repeats.
    u_scale : standard uncertainty of a reading of the scale, other than its step (linearity) [g].
    thread : diameter of thread or wire [mm]; `thread_length` of it under water [mm]; `u_thread` standard
        uncertainty of its effect [g], by default 30 % of it and the pull of the surface.
    water : temperature, 20 +- 1 degC by default, u 0.5 when given alone; or `liquid_density` [g/cm3].
    air : density of air [g/cm3].
    wetting : "brushed", "as usual" (default), "dry dip": 0.1, 0.4, 1 mm3 of air per cm2 as mean of a
        one-sided error, and at least 2.5, 6, 15 mm3 per weighing; or a number of mm3 per cm2, without a least value.
        If none is given, a known-good piece counts as brushed.
    area : surface of one piece [mm2 or text]; by default that of a disc 13 times as wide as thick.
    known_good : `ReferencePiece`, or density, u, mass, displaced; removes what is common to both.
    count : number of pieces of one kind weighed together; mass and displaced are totals.
    parts : named parts to subtract: mass [g] or None, density and its u [g/cm3], u of the mass [g] (5 % of
        it if left out).

    Returns
    -------
    Weighing, or Weighings if one of `mass`, `displaced`, `in_water`, `water`, `liquid_density`, `area` and `count` is a
    column.

    Raises
    ------
    InputError
        For anything unreadable or out of place; of a column, only for what concerns every piece.

    >>> print(weigh(33.25, 4.0, scale_step=0.1).density)
    8.289 g/cm3 (8.130 to 8.487, 95 %)
    """
    given, index = aligned(
        {
            "mass": mass,
            "displaced": displaced,
            "in_water": in_water,
            "water": water,
            "liquid_density": liquid_density,
            "area": area,
            "count": count,
        }
    )
    shape = [None if is_missing(x) else x for x in given.values()]
    mass, displaced, in_water, water, liquid_density, area, count = shape
    n = column_length(shape)
    if (displaced is None) == (in_water is None):
        raise InputError(
            "displaced",
            displaced,
            "either the mass of water pushed aside or in_water",
            "give the one your set-up reads",
        )
    other_path = "in_water" if displaced is None else "displaced"
    m, u_m = matrix(mass, "mass", "mass", n)
    g, u_g = matrix(in_water if displaced is None else displaced, "mass", other_path, n)
    shop = setup(
        scale_step,
        u_scale,
        (u_m, u_g),
        (thread, thread_length, u_thread),
        (water, liquid_density),
        air,
        wetting,
        area,
        count,
        parts,
        n,
    )
    if known_good is not None:
        shop = _with_known_good(shop, known_good, wetting is None)
    columns = measure(m, g if displaced is not None else None, g if displaced is None else None, shop.setup)
    if n is not None:
        return Weighings(columns, index)
    if columns.reason[0]:
        raise _error(
            str(columns.reason[0]),
            other_path,
            mass,
            in_water if displaced is None else displaced,
            float(m[0].mean()),
            float(g[0].mean()),
        )
    return single(columns, 0, shop.notes)


def _with_known_good(shop: Shop, known_good: ReferencePiece | Sequence[Any], brushed: bool) -> Shop:
    """The set-up with the ratio of the true to the read specific volume of the known-good piece.

    `brushed` : the known-good piece, a check, was wetted with care, whatever is usual.
    """
    ref = known_good if isinstance(known_good, ReferencePiece) else ReferencePiece(*known_good)
    rho = one(ref.density, "density", "known_good.density")
    m, _ = matrix(ref.mass, "mass", "known_good.mass", None)
    g, _ = matrix(ref.displaced, "mass", "known_good.displaced", None)
    s = shop.setup
    own = replace(
        s,
        parts=(),
        area_mm2=None,
        count=np.ones(1),
        liquid=_typical(s.liquid),
        u_liquid=_typical(s.u_liquid),
        thread_g=_typical(s.thread_g),
        u_thread_g=_typical(s.u_thread_g),
    )
    if brushed:
        own = replace(own, air_mm3_cm2=WETTING["brushed"], least_air_mm3=LEAST_AIR["brushed"])
    read = measure(m, g, None, own)
    if read.reason[0]:
        raise _error(
            str(read.reason[0]), "known_good.displaced", ref.mass, ref.displaced, float(m[0].mean()), float(g[0].mean())
        )
    # water, air and thread are the same for both pieces and cancel in the ratio
    own_causes = [r.relative[0] for r in read.rows if r.part in ("scale_step", "repeats", "linearity", "mass")]
    own_causes.append(read.bubble_v[0] / read.v[0])  # air on the known-good piece itself; its mean is its scatter
    u = float(np.sqrt(sum(x**2 for x in own_causes) + (ref.u / rho.value) ** 2))
    factor = float(1 / (rho.value * read.v[0]))
    return replace(shop, setup=replace(s, factor=factor, u_factor=u))


def _typical(x: Array) -> Array:
    """Median over the pieces that have a value, shape (1,)."""
    return np.array([np.median(x[np.isfinite(x)])]) if np.isfinite(x).any() else x[:1]


def _error(reason: str, path: str, mass: Any, given: Any, m: float, g: float) -> InputError:
    """The error for one piece that cannot be used."""
    shown = _shown(given)
    if reason in ("more_displaced_than_weighed", "in_water_not_less"):
        step = (
            "check that mass in air and in water were not swapped; a piece that floats cannot be weighed so"
            if reason == "in_water_not_less"
            else "check that the piece hung free of the bottom and that the water pushed aside was typed"
        )
        if reason == "more_displaced_than_weighed" and SLIP_LOW <= g / m <= HIGHEST_DENSITY:
            step = "were the two numbers swapped? the mass in air comes first"
        return InputError(path, shown, f"less than the mass in air, {m:g} g", step)
    if reason == "thread_exceeds":
        return InputError(
            path, shown, "more than the thread alone pushes aside", "check the diameter of the thread in mm"
        )
    if reason == "parts_exceed":
        return InputError(
            path, shown, "more mass and volume than the parts have together", "check the mass of each part"
        )
    if reason == "density_out_of_range":
        low, high = f"{LOWEST_DENSITY:g}", f"{HIGHEST_DENSITY:g}"
        return InputError(
            path,
            shown,
            f"a density from {low} to {high} g/cm3 together with mass {m:g} g",
            "check the units and the decimal mark of both",
        )
    return InputError(path, shown, "readings of mass and of what was pushed aside", "check both readings")


def _shown(given: Any) -> object:
    """The reading as it was written."""
    if isinstance(given, list | tuple):
        return [_shown(x) for x in given]
    return given.text if isinstance(given, Quantity) else given


def likely_slips(
    mass: Any, displaced: Any, liquid: float = WATER_20, air: float = AIR_DENSITY
) -> list[tuple[str, float | None]]:
    """Slips that would explain a density below 2.5 (or above 25) g/cm3, with the density that each would give.

    Parameters
    ----------
    mass, displaced : g or text; `liquid`, `air` densities [g/cm3].

    The codes are "in_water_typed_as_displaced", "rested_on_bottom" (no density can be told: None),
    "displaced_decimal_mark", "mass_decimal_mark", "mass_in_ozt", "mass_in_dwt", "displaced_in_grain".
    Only slips that lead to 2.5-22.6 g/cm3 (osmium) are listed; the list is empty if the density is in range.

    >>> [(code, rho and round(rho, 2)) for code, rho in likely_slips(31.18, 27.54)][:2]
    [('in_water_typed_as_displaced', 8.54), ('rested_on_bottom', None)]
    """
    m, g = one(mass, "mass", "mass").value, one(displaced, "mass", "displaced").value

    def rho(mass_g: float, displaced_g: float) -> float:
        return float(density_from_weighing(mass_g, displaced_g, liquid, air)) if displaced_g > 0 else np.nan

    read = rho(m, g)
    if SLIP_LOW <= read <= HIGHEST_DENSITY:
        return []
    ozt, dwt, grain = (parse(f"1 {unit}", "mass", "mass").value for unit in ("ozt", "dwt", "grain"))
    factor = 10.0 if read < SLIP_LOW else 0.1
    slips: list[tuple[str, float | None]] = [
        ("in_water_typed_as_displaced", rho(m, m - g)),
        ("rested_on_bottom", None),
        ("displaced_decimal_mark", rho(m, g / factor)),
        ("mass_decimal_mark", rho(m * factor, g)),
        ("mass_in_ozt", rho(m * ozt, g)),
        ("mass_in_dwt", rho(m * dwt, g)),
        ("displaced_in_grain", rho(m, g * grain)),
    ]
    low = read < SLIP_LOW
    return [(code, x) for code, x in slips if (low if x is None else SLIP_LOW <= x <= 22.6)]
