"""Densities that were not weighed in a liquid: read directly, or computed from mass and callipers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ..errors import InputError
from ..measured import K95, Measured
from ..physics.geometry import SHAPES
from ..pieces.shape import FILL
from .budget import HIGHEST_DENSITY, LOWEST_DENSITY
from .conditions import one
from .repeats import BudgetRow
from .result import Weighing
from .typed import typed_densities


def from_density(value: Any, u: float | None = None) -> Weighing:
    """A density that was read directly, as a `Weighing`.

    Parameters
    ----------
    value : g/cm3 as number, text ("8.54 +- 0.02 g/cm3") or `Measured`, whose own range is kept.
    u : one standard uncertainty [g/cm3]; by default that of the text. Without either, see `typed_densities`.

    Raises
    ------
    InputError
        If the value is unreadable, or outside 0.5 to 25 g/cm3.
    """
    given: float | None
    if isinstance(value, Measured):
        if value.unit != "g/cm3":
            raise InputError("density.unit", value.unit, '"g/cm3"', "turn the density into g/cm3")
        q, given = one(value.value, "density", "density"), value.u
    else:
        q = one(value, "density", "density")
        given = u if u is not None else q.u
    if not LOWEST_DENSITY <= q.value <= HIGHEST_DENSITY:
        raise InputError(
            "density", q.text, f"{LOWEST_DENSITY:g} to {HIGHEST_DENSITY:g} g/cm3", "check the unit and the decimal mark"
        )
    if given is None:
        return typed_densities([q])[0]
    if not given > 0:
        raise InputError("density", given, "an uncertainty above zero", "leave it out if it is not known")
    read = value if isinstance(value, Measured) else Measured(q.value, given, "g/cm3")
    row = BudgetRow("density", read.u, "g/cm3", 100 * read.u / read.value)
    return Weighing(
        read,
        1 / read.value,
        read.u / read.value**2,
        0.0,
        read.dof,
        None,
        None,
        None,
        None,
        None,
        None,
        (row,),
        (),
        "density",
    )


def from_dimensions(
    mass: Any,
    shape: str,
    dimensions: Sequence[Any],
    fill: float | Sequence[float] | None = None,
    u_length: float = 0.02,
    u_mass: float = 0.005,
) -> Weighing:
    """Density from mass and callipers, for what cannot be wetted; its range is wide for struck coins.

    ``v = fill V / m``

    Parameters
    ----------
    mass : g or text; `u_mass` its standard uncertainty [g].
    shape, dimensions : a key of `SHAPES` and its lengths [mm] or texts; `u_length` of each [mm].
    fill : share of the plain shape that is metal, or its lowest (2.5 %), median and highest (97.5 %)
        value; by default that of `FILL`: published coins for a disc, judgement for other shapes.

    Raises
    ------
    InputError
        For an unknown shape, a wrong number of lengths, an inner diameter not below the outer, an impossible density.
    """
    m = one(mass, "mass", "mass").value
    lengths = checked_dimensions(shape, dimensions)
    function = SHAPES[shape][0]
    volume = float(function(*lengths)[0]) / 1000  # cm3
    low, middle, high = _fill(fill, shape)
    relative = [_slope(function, lengths, i) * u_length for i in range(len(lengths))]
    u_plain = float(np.sqrt(sum(x**2 for x in relative) + (u_mass / m) ** 2))
    v, u_fill = middle * volume / m, (high - low) / middle / 2 / K95
    light = v * (1 - float(np.hypot(K95 * u_plain, 1 - low / middle)))
    heavy = v * (1 + float(np.hypot(K95 * u_plain, high / middle - 1)))
    rho, u_v = 1 / v, v * float(np.hypot(u_plain, u_fill))
    if not LOWEST_DENSITY <= rho <= HIGHEST_DENSITY:
        raise InputError(
            shape,
            list(dimensions),
            f"dimensions that with {m:g} g give 0.5 to 25 g/cm3",
            "check the lengths and their unit, mm where none is given",
        )
    top = 1 / light if light > 1 / HIGHEST_DENSITY else HIGHEST_DENSITY
    rows = [BudgetRow("lengths", u_length, "mm", 100 * float(np.sqrt(sum(x**2 for x in relative))))]
    rows.append(BudgetRow("mass", 1000 * u_mass, "mg", 100 * u_mass / m))
    if u_fill > 0:
        rows.append(BudgetRow("fill", u_fill * middle, "", 100 * u_fill))
    return Weighing(
        Measured(rho, rho**2 * u_v, "g/cm3", max(1 / heavy, LOWEST_DENSITY), top),
        v,
        u_v,
        0.0,
        np.inf,
        m,
        m,
        None,
        middle * volume * 1000,
        None,
        None,
        tuple(rows),
        (),
        "dimensions",
    )


def checked_dimensions(shape: str, dimensions: Sequence[Any]) -> list[float]:
    """The lengths of a shape in mm; `InputError` if their number or order cannot be right."""
    if shape not in SHAPES:
        raise InputError("shape", shape, "one of " + ", ".join(SHAPES), "choose the nearest shape")
    names = SHAPES[shape][1]
    if len(dimensions) != len(names):
        raise InputError(shape, list(dimensions), ", ".join(names), f"give {len(names)} lengths in this order")
    lengths = [one(x, "length", f"{shape}[{i}]").value for i, x in enumerate(dimensions)]
    if "inner diameter" in names and lengths[1] >= lengths[0]:
        raise InputError(shape, list(dimensions), "an inner diameter below the outer one", "give the outer first")
    return lengths


def _fill(fill: float | Sequence[float] | None, shape: str) -> tuple[float, float, float]:
    if fill is None:
        fill = FILL[shape]
    low, middle, high = (fill,) * 3 if isinstance(fill, float | int) else fill
    if not 0 < low <= middle <= high <= 1:
        raise InputError("fill", fill, "shares above 0 and up to 1: lowest, median, highest", "give e.g. 0.8")
    return float(low), float(middle), float(high)


def _slope(function: Any, lengths: list[float], i: int) -> float:
    """Relative change of the volume per mm of length i, by central difference."""
    d = 1e-6 * lengths[i]
    up, down = ([x + s * d if j == i else x for j, x in enumerate(lengths)] for s in (1, -1))
    return float((function(*up)[0] - function(*down)[0]) / (2 * d) / function(*lengths)[0])
