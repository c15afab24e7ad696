"""Every construction of every family that fits the readings, whatever is believed beforehand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.families import all_bodies
from ..alloys.materials import Layers
from ..arrays import Array, Index, usual_errors
from ..entry import chosen
from ..inference.misfit import Law, independent
from ..integral.believed import Believed
from ..integral.evidence import WEIGHING, Evidence, Scores
from ..integral.windows import window_of_share
from ..pieces.candidates import Candidates
from ..pieces.constructions import CONSTRUCTIONS, Place
from ..published.load import Tables, tables_in_use
from .density import BUBBLES

if TYPE_CHECKING:
    import pandas as pd

    from ..answer.solution import Solution


FITS = 0.05  # tail probability of the joint misfit below which a candidate does not fit
WILD = 9.0  # largest squared score that one reading may add, so that one wild reading does not empty the list
STEPS = 12  # values of the free parameter that are tried where there are readings besides the density
BY_AREA = 240  # points of the table that turns a thickness into a share of the volume


@dataclass(frozen=True)
class Fitting:
    """Bodies of one construction that fit, each with the range of the free parameter that fits."""

    construction: int
    skin: int
    point: Index
    low: Array
    high: Array


def fitting_constructions(bodies: Bodies, evidence: Evidence, possible: list[Believed]) -> list[Fitting]:
    """All constructions that fit the readings.

    Of the prior belief, only which bodies and which parameters are possible counts. The density leaves an exact
    interval of the parameter for each body. Where there are other readings, the joint misfit is computed at `STEPS`
    values in that interval, because what a reading sees depends on what covers the body.
    """
    return [_fitting(bodies, evidence, b) for b in possible]


def _fitting(bodies: Bodies, evidence: Evidence, b: Believed) -> Fitting:
    point = np.flatnonzero(b.share > 0)
    if b.built.place is Place.NOWHERE:
        zero = np.zeros(len(point))
        fits = _misfit(evidence, _pieces(bodies, evidence, b, point, zero)) <= _critical(evidence)
        return Fitting(b.construction, b.skin, point[fits], zero[fits], zero[fits])
    least, most = b.spans[0][1], b.spans[-1][2]
    low, high = np.full(len(point), least), np.full(len(point), most)
    if evidence.volume is not None:
        low, high = _left_by_density(bodies, evidence, b, point)
        inside = (low <= high) & (high >= least) & (low <= most)
        point, low, high = point[inside], np.clip(low[inside], least, most), np.clip(high[inside], least, most)
    if not evidence.observed or not len(point):
        return Fitting(b.construction, b.skin, point, low, high)
    steps = np.exp(np.log(low)[:, None] + (np.log(high) - np.log(low))[:, None] * np.linspace(0, 1, STEPS))
    candidates = _pieces(bodies, evidence, b, np.repeat(point, STEPS), steps.ravel())
    fits = (_misfit(evidence, candidates) <= _critical(evidence)).reshape(steps.shape)
    some = fits.any(axis=1)
    at, last = np.arange(len(steps)), STEPS - 1 - fits[:, ::-1].argmax(axis=1)
    return Fitting(b.construction, b.skin, point[some], steps[at, fits.argmax(axis=1)][some], steps[at, last][some])


def _pieces(bodies: Bodies, evidence: Evidence, b: Believed, point: Index, parameter: Array) -> Candidates:
    size = len(point)
    return Candidates(
        bodies, evidence.layers, evidence.form, np.full(size, b.construction), point, np.full(size, b.skin), parameter
    )


def _misfit(evidence: Evidence, candidates: Candidates) -> Array:
    """Sum of the squared scores of all readings; the largest score besides that of the density is capped."""
    scores = independent(evidence.scores(candidates))
    others = np.array([z**2 for name, z in scores.items() if name != WEIGHING])
    out = np.zeros(len(candidates))
    if len(others):
        largest = others.max(axis=0)
        out = others.sum(axis=0) - largest + np.minimum(largest, WILD)
    return np.asarray(out + scores[WEIGHING] ** 2 if WEIGHING in scores else out)


def _critical(evidence: Evidence) -> float:
    """The largest misfit that still fits, for as many readings as count one by one; answers count as measured values.

    An answer has nearly the score that a measured value of equal rarity has, and its class is not known here.
    """
    count = len(independent(Scores(dict.fromkeys(evidence.names, np.zeros(1)), evidence.alike)))
    return Law(count).critical(FITS)


def _left_by_density(bodies: Bodies, evidence: Evidence, b: Believed, point: Index) -> tuple[Array, Array]:
    """Least and greatest free parameter of each body for which the density by itself fits."""
    reading = evidence.volume
    assert reading is not None
    v, sigma = bodies.v[point], bodies.sigma[point]
    width = np.sqrt(_critical(evidence)) * np.hypot(reading.u, sigma * reading.v)
    light = reading.v + width
    heavy = np.maximum(reading.v - width - BUBBLES * reading.bubble, 1e-9)
    dense = float(1 / evidence.layers.v[b.skin]) if b.skin >= 0 else 0.0
    low, high = window_of_share(1 / v, dense, 1 / light, 1 / heavy)
    if not b.built.by_thickness:
        return low, high
    um = np.geomspace(b.spans[0][1], b.spans[-1][2], BY_AREA)
    share = np.maximum.accumulate(evidence.form.skin_share(um))
    beyond = (low > share[-1]) | (high < share[0]) | (low > high)
    a, z = np.interp(low, share, um), np.interp(high, share, um)
    return np.where(beyond, np.inf, a), np.where(beyond, -np.inf, z)


def fitting_frame(bodies: Bodies, layers: Layers, fitting: list[Fitting], only: set[str]) -> pd.DataFrame:
    """Frame with one row per family, construction and skin: ranges in mass percent, um, and percent of the volume."""
    import pandas as pd

    rows: list[dict[str, Any]] = []
    for f in fitting:
        if (only and CONSTRUCTIONS[f.construction].name not in only) or not len(f.point):
            continue
        families = bodies.family[f.point]
        for family in np.unique(families):
            mine = families == family
            if bodies.names[family] not in ("pair", "triple"):
                rows.append(_row(bodies, layers, f, f.point[mine], float(f.low[mine].min()), float(f.high[mine].max())))
    return pd.DataFrame(rows)


def _row(bodies: Bodies, layers: Layers, f: Fitting, point: Index, low: float, high: float) -> dict[str, Any]:
    w = 100 * bodies.w[point]
    order = [int(i) for i in np.argsort(-w.mean(axis=0), kind="stable") if w[:, i].max() >= 1.0]
    built = CONSTRUCTIONS[f.construction]
    empty = built.place is Place.VOID
    row: dict[str, Any] = {
        "construction": built.name,
        "family": bodies.names[int(bodies.family[point[0]])],
        "skin": layers.names[f.skin] if f.skin >= 0 else "",
        "metals": " ".join(bodies.law.symbols[i].removesuffix("-fcc") for i in order),
        "skin_low_um": low if built.by_thickness else np.nan,
        "skin_high_um": high if built.by_thickness else np.nan,
        "void_low_percent": 100 * low if empty else np.nan,
        "void_high_percent": 100 * high if empty else np.nan,
        "part_low_percent": 100 * low if built.by_share else np.nan,
        "part_high_percent": 100 * high if built.by_share else np.nan,
    }
    for i in order:
        symbol = bodies.law.symbols[i].removesuffix("-fcc")
        row |= {f"{symbol}_low_percent": float(w[:, i].min()), f"{symbol}_high_percent": float(w[:, i].max())}
    return row


@usual_errors
def constructions(
    density: Any = None, claim: str = "", only: Iterable[str] = (), tables: Tables | None = None, **piece: Any
) -> pd.DataFrame:
    """Every construction of every family that fits the readings, with ranges over all that fits; no prior is used.

    A candidate fits if the joint misfit of its readings lies below the 95 % point of chi-square.

    Parameters
    ----------
    density : g/cm3 as number, text or `Measured`; or give mass and displaced among the further fields.
    claim : decides which skins are tried (gold under a claim of gold).
    only : "homogeneous", "plated", "hollow or porous", "cored", "clad", "assembled"; if left out, all of them.
    piece : further fields of `Piece` (readings, dimensions).

    Returns
    -------
    Frame with a row per family, construction and skin: `construction`, `family`, `skin` (or slug, or faces), `metals`,
    `skin_low_um`, `skin_high_um`, `void_low_percent`, `void_high_percent` (of the volume), `part_low_percent`,
    `part_high_percent` (a slug, faces, parts; of the volume), and `X_low_percent`, `X_high_percent` of each metal X of
    the body (by mass); nan where a column does not apply.

    Raises
    ------
    InputError
        For values that cannot be used, and if there is no density to start from.

    >>> frame = constructions("8.54 +- 0.02 g/cm3", claim="silver 999", conductivity="28 %IACS")
    >>> sorted(set(frame.family[frame.construction == "homogeneous"]) & {"brass", "silver"})
    ['brass']
    """
    from ..answer.solution import solve
    from ..inputs.piece import Piece
    from ..inputs.settings import Settings

    names = chosen(only, {c.name: c for c in CONSTRUCTIONS}, "only", "constructions")
    solution = solve(Piece(density=density, claim=claim, **piece), Settings(), tables_in_use(tables))
    return all_that_fits(solution, set(names))


def all_that_fits(solution: Solution, only: set[str]) -> pd.DataFrame:
    """The frame of `constructions`, for a piece that is already solved."""
    import pandas as pd

    bodies, prior, evidence = all_bodies(solution.tables), solution.prior, solution.evidence
    of_some = [b for b in prior.levels[evidence.shows] if not b.built.of_any_body]
    # any body may be bare, hollow or under a skin; faces, slugs, joined parts and surfaces only where they are expected
    every = [replace(b, share=np.ones(len(bodies.v))) for b in prior.plain if b.built.of_any_body]
    frames = [
        fitting_frame(of, evidence.layers, fitting_constructions(of, evidence, possible), only)
        for of, possible in ((bodies, every), (prior.bodies, of_some))
    ]
    return pd.concat([f for f in frames if len(f)] or frames[:1], ignore_index=True)
