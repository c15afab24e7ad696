"""Hydrostatic weighing with its whole budget, over arrays of pieces."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Mask
from .budget import (
    HIGHEST_DENSITY,
    LOWEST_DENSITY,
    Body,
    Limits,
    PartOfBudget,
    Setup,
    air_left,
    body_of,
    budget,
    limits,
)
from .repeats import Agreement, Repeats, agreement

WIDE = 0.3  # range over value from which nearly everything fits
AIR_COUNTS = 0.01  # mean air over the volume from which it is worth a word, if it is more than all else


@dataclass(frozen=True, slots=True)
class Columns:
    """Results over pieces; `reason` is "" for a result, and otherwise a code beside `nan`."""

    density: Array
    low: Array
    high: Array
    v: Array
    u_v: Array
    bubble_v: Array
    dof: Array
    mass_g: Array
    body_g: Array
    displaced_g: Array
    displaced_mm3: Array
    liquid: Array
    air: float
    rows: tuple[PartOfBudget, ...]
    notes: dict[str, Mask] = field(default_factory=dict)
    reason: NDArray[np.object_] = field(default_factory=lambda: np.array([], dtype=object))
    factor: float = 1.0
    agreed: Agreement | None = None  # how well the repeats in the liquid agree


def measure(mass: Array, gain: Array | None, in_liquid: Array | None, setup: Setup) -> Columns:
    """Density, specific volume, budget and skewed limits of every piece.

    Parameters
    ----------
    mass, gain, in_liquid : readings in air, gains of the tared beaker, readings in the liquid [g],
        shape (pieces, repeats), `nan` where there is none; `gain` or `in_liquid` is None.
    setup : the conditions, see `Setup`.
    """
    hung = gain if gain is not None else _given(in_liquid)
    air = Repeats.of(mass)
    with np.errstate(all="ignore"):
        agreed = agreement(hung, _expected_scatter(air, hung, in_liquid is not None, setup))
        other = Repeats.of(np.where(agreed.left_out[:, None] & (hung == agreed.odd[:, None]), np.nan, hung))
        body = body_of(air, other, in_liquid is not None, setup)
        reason = _reasons(air, other, body, in_liquid is not None, setup)
        rows = budget(air, other, body, in_liquid is not None, setup)
        return replace(_columns(body, rows, reason, (air, other), setup), agreed=agreed)


def _given(x: Array | None) -> Array:
    if x is None:
        raise TypeError("gain or in_liquid must be given")
    return x


def _expected_scatter(air: Repeats, hung: Array, two_readings: bool, setup: Setup) -> Array:
    """Standard deviation [g] of a reading in the liquid, taken out and wetted anew: scale, thread, and air."""
    middle = _median(hung)
    gain = air.mean - middle if two_readings else middle
    bubbles = air_left(gain / setup.liquid, setup) / 1000 * setup.liquid
    step = setup.step / np.sqrt(6)
    sigma: Array = np.sqrt(step**2 + setup.u_scale**2 + setup.u_thread_g**2 + np.nan_to_num(bubbles) ** 2)
    return sigma


def _median(x: Array) -> Array:
    """Median of the finite values of each row, 0 without any. (`np.nanmedian` loads masked arrays, 10 ms.)"""
    known = np.isfinite(x)
    count, at = known.sum(axis=1), np.arange(len(x))
    ordered = np.sort(np.where(known, x, np.inf), axis=1)
    middle = (ordered[at, (count - 1) // 2] + ordered[at, count // 2]) / 2
    return np.where(count > 0, middle, 0.0)


def _reasons(air: Repeats, other: Repeats, body: Body, two_readings: bool, setup: Setup) -> NDArray[np.object_]:
    """Code of the first reason why a piece has no result, or ""."""
    density = body.m_b / (body.V_b * setup.factor)
    ordered = (
        ("missing", ~(np.isfinite(air.mean) & np.isfinite(other.mean))),
        ("not_positive", ~((air.mean > 0) & (other.mean > 0))),
        ("liquid_unknown", ~(setup.liquid > setup.air)),
        ("in_water_not_less", (other.mean >= air.mean) & two_readings),
        ("more_displaced_than_weighed", (other.mean >= air.mean) & (not two_readings)),
        ("thread_exceeds", body.G <= 0),
        ("parts_exceed", (body.m_b <= 0) | (body.V_b <= 0)),
        ("density_out_of_range", ~((density >= LOWEST_DENSITY) & (density <= HIGHEST_DENSITY))),
    )
    reason = np.full(len(air.mean), "", dtype=object)
    for code, holds in reversed(ordered):
        reason[np.broadcast_to(holds, reason.shape)] = code
    return reason


def _columns(
    body: Body,
    rows: tuple[PartOfBudget, ...],
    reason: NDArray[np.object_],
    repeats: tuple[Repeats, Repeats],
    setup: Setup,
) -> Columns:
    blank = np.where(reason == "", 0.0, np.nan)
    v = body.V_b / body.m_b * setup.factor + blank
    found = limits(v, rows)
    return Columns(
        density=1 / v,
        low=found.low,
        high=found.high,
        v=v,
        u_v=v * found.u,
        bubble_v=v * found.bubble,
        dof=found.dof,
        mass_g=body.m + blank,
        body_g=body.m_b + blank,
        displaced_g=body.gain + blank,
        displaced_mm3=body.V_b * 1000 * setup.factor + blank,
        liquid=setup.liquid + blank,
        air=setup.air,
        rows=rows,
        notes=_notes(rows, repeats, v, found, setup),
        reason=reason,
        factor=setup.factor,
    )


def _notes(
    rows: tuple[PartOfBudget, ...], repeats: tuple[Repeats, Repeats], v: Array, found: Limits, setup: Setup
) -> dict[str, Mask]:
    _, other = repeats
    scatter = next(r.dof for r in rows if r.part == "repeats")
    return {
        "repeats_read_alike": (other.n > 1) & (other.spread <= 1e-9 * other.mean),
        "few_repeats": scatter < 3,
        "range_cut": (found.high >= HIGHEST_DENSITY) | (found.low <= LOWEST_DENSITY),
        "wide_range": (found.high - found.low) * v > WIDE,
        "air_counts": (found.bubble > AIR_COUNTS) & (found.bubble > found.u),
        "known_good_differs": np.full(len(v), abs(setup.factor - 1) > 1.96 * setup.u_factor),
    }
