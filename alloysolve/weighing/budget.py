"""The causes of uncertainty of a weighing, each with its share of the specific volume, and the range they make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array, Mask
from ..physics import geometry, weighing
from .repeats import Repeats, coverage_ratio, error_limit, welch_satterthwaite

LOWEST_DENSITY, HIGHEST_DENSITY = 0.5, 25.0  # g/cm3; no solid metal lies outside (Li 0.53, Os 22.6)
DISC_RATIO = 13.0  # diameter over thickness of a struck coin, for its area: common practice, no source


@dataclass(frozen=True, slots=True)
class Setup:
    """The conditions of a weighing; arrays have shape (pieces,) or broadcast to it. See `weigh`."""

    step: float  # g
    u_scale: float  # g
    u_scale_mass: float  # g
    thread_g: Array  # displaced by the thread
    u_thread_g: Array
    liquid: Array  # g/cm3
    u_liquid: Array
    air: float  # g/cm3
    u_air: float
    air_mm3_cm2: float  # mean of the one-sided error
    least_air_mm3: float  # and its least value per weighing
    area_mm2: Array | None
    count: Array
    parts: tuple[tuple[float, float, float, float], ...]  # mass g, u mass, density g/cm3, u density
    factor: float = 1.0  # on the specific volume, from a known-good piece
    u_factor: float = 0.0  # relative


@dataclass(frozen=True, slots=True)
class PartOfBudget:
    """One cause of uncertainty over all pieces: its size in `unit`, and its relative share of the specific volume."""

    part: str
    size: Array
    unit: str
    relative: Array
    dof: Array
    one_sided: bool = False


@dataclass(frozen=True, slots=True)
class Body:
    """Mass and volume of the body, with what the budget needs to know of the whole piece."""

    m: Array  # mean reading in air, whole
    gain: Array  # mean gain, as read
    G: Array  # gain less thread
    rho: Array  # of the whole
    V: Array  # cm3, of the whole
    m_b: Array
    V_b: Array


def body_of(air: Repeats, other: Repeats, two_readings: bool, setup: Setup) -> Body:
    """Mass and volume of the body, from the mean readings."""
    gain = air.mean - other.mean if two_readings else other.mean
    G = gain - setup.thread_g
    rho = weighing.density_from_weighing(air.mean, G, setup.liquid, setup.air)
    V = air.mean / rho
    m_b = air.mean - sum(p[0] for p in setup.parts)
    V_b = V - sum(p[0] / p[2] for p in setup.parts)
    return Body(air.mean, gain, G, rho, V, m_b, V_b)


def budget(air: Repeats, other: Repeats, body: Body, two_readings: bool, setup: Setup) -> tuple[PartOfBudget, ...]:
    """Every cause with its relative share of the specific volume of the body (JCGM 100, 5.1.2)."""
    inf = np.full(len(body.m), np.inf)
    per_gain = body.V / body.G * (1 - setup.air / body.rho) / body.V_b  # (dV/dG) / V_b
    per_mass = np.abs(body.V / body.m * setup.air / body.rho / body.V_b - 1 / body.m_b)
    scatter, u_scatter, dof = _scatter(air, other, two_readings, setup.step)
    u_step = np.where(scatter, 0.0, setup.step / np.sqrt(6))
    u_line = setup.u_scale * (np.sqrt(2) if two_readings else 1.0) + 0 * body.m
    rows = [
        PartOfBudget("scale_step", u_step * 1000, "mg", u_step * per_gain, inf),
        PartOfBudget("repeats", u_scatter * 1000, "mg", u_scatter * per_gain, dof),
        PartOfBudget("linearity", u_line * 1000, "mg", u_line * per_gain, inf),
        PartOfBudget("thread", setup.u_thread_g * 1000 + 0 * body.m, "mg", setup.u_thread_g * per_gain, inf),
    ]
    if not two_readings:  # with two readings the mass is one of them and is counted in the gain
        wins = air.beats(setup.step)
        u_m = np.hypot(np.where(wins, air.u, setup.step / np.sqrt(6)), setup.u_scale_mass)
        rows.append(
            PartOfBudget("mass", u_m * 1000, "mg", u_m * per_mass, np.where(wins, np.maximum(air.n - 1, 1), np.inf))
        )
    per_liquid = body.V**2 / body.G / body.V_b
    per_air = per_liquid * np.abs(1 - body.G / body.m)
    rows += [
        PartOfBudget("liquid", setup.u_liquid + 0 * body.m, "g/cm3", setup.u_liquid * per_liquid, inf),
        PartOfBudget("air", setup.u_air + 0 * body.m, "g/cm3", setup.u_air * per_air, inf),
        _parts_row(body, setup, inf),
        PartOfBudget("known_good", 100 * setup.u_factor + 0 * body.m, "%", setup.u_factor + 0 * body.m, inf),
        _bubble_row(body, setup, inf),
    ]
    return tuple(rows)


def _scatter(air: Repeats, other: Repeats, two_readings: bool, step: float) -> tuple[Mask, Array, Array]:
    """Whether repeats say how well the gain is known, with their standard uncertainty and its degrees of freedom."""
    a, b = air.beats(step) & two_readings, other.beats(step)
    u_a, u_b = np.where(a, air.u, 0.0), np.where(b, other.u, 0.0)
    # if only one of two readings was repeated with scatter, the other keeps its scale step
    u_a = np.where(b & ~a & two_readings, step / np.sqrt(12), u_a)
    u_b = np.where(a & ~b, step / np.sqrt(12), u_b)
    dof_a = np.where(a, np.maximum(air.n - 1, 1), np.inf)
    dof_b = np.where(b, np.maximum(other.n - 1, 1), np.inf)
    return a | b, np.hypot(u_a, u_b), welch_satterthwaite((u_a, u_b), (dof_a, dof_b))


def _parts_row(body: Body, setup: Setup, inf: Array) -> PartOfBudget:
    square, grams = 0 * body.m, 0.0
    for m, u_m, rho, u_rho in setup.parts:
        from_density = m / rho * (u_rho / rho) / body.V_b
        from_mass = u_m * (1 / body.m_b - 1 / (rho * body.V_b))
        square, grams = square + from_density**2 + from_mass**2, grams + m
    return PartOfBudget("parts", grams * 1000 + 0 * body.m, "mg", np.sqrt(square), inf)


def air_left(volume: Array, setup: Setup) -> Array:
    """Mean air [mm3] on pieces of these volumes [cm3] and on loop and thread, which displaces liquid as well.

    The least air counts once per weighing, not once per piece: pieces weighed together hang in one loop or basket.
    """
    each = volume / setup.count * 1000
    area = setup.area_mm2 if setup.area_mm2 is not None else geometry.disc_of_proportion(each, DISC_RATIO)[1]
    mm3: Array = np.maximum(setup.air_mm3_cm2 * area / 100 * setup.count, setup.least_air_mm3) + 0 * volume
    return mm3


def _bubble_row(body: Body, setup: Setup, inf: Array) -> PartOfBudget:
    air_cm3 = air_left(body.V, setup) / 1000
    size = air_cm3 * setup.liquid * 1000
    return PartOfBudget("bubbles", size, "mg", air_cm3 / body.V_b, inf, one_sided=True)


@dataclass(frozen=True, slots=True)
class Limits:
    """What the causes of a budget add up to, over pieces; `u` and `bubble` are relative to the specific volume."""

    u: Array  # enlarged, so that 1.96 u is Student's 95 % point
    bubble: Array  # mean of the one-sided part
    dof: Array
    low: Array  # of the density [g/cm3], 95 %
    high: Array


def limits(v: Array, rows: Sequence[PartOfBudget]) -> Limits:
    """The causes of a budget taken together, with the skewed 95 % range of the density that they give.

    The upper limit of the density includes the one-sided bubble term and the lower one does not: a larger allowance for
    bubbles may only say that the piece can be denser.
    """
    by, none = {row.part: row.relative for row in rows}, 0 * v
    smooth = [r for r in rows if r.part not in ("scale_step", "bubbles")]
    u_smooth = np.sqrt(sum(r.relative**2 for r in smooth)) + none
    dof_smooth = welch_satterthwaite([r.relative for r in smooth], [r.dof for r in smooth])
    step, bubble = by.get("scale_step", none), by.get("bubbles", none) + none
    dof = welch_satterthwaite([u_smooth, step], [dof_smooth, np.full(len(v), np.inf)])
    half = step * np.sqrt(6)
    heavy = v * (1 - error_limit(0.025, half, u_smooth, dof_smooth, none))
    light = v * (1 - error_limit(0.975, half, u_smooth, dof_smooth, bubble))
    low = np.clip(1 / heavy, LOWEST_DENSITY, HIGHEST_DENSITY)
    high = np.where(light > 1 / HIGHEST_DENSITY, 1 / light, HIGHEST_DENSITY) + none
    return Limits(np.hypot(u_smooth, step) * coverage_ratio(dof), bubble, dof + none, low, high)
