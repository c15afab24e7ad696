"""Every construction of every family that fits, whatever is believed beforehand: by misfit alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from .bodies import Bodies
from .constructions import SKIN_PARTS, VOID_PART, window_of_share
from .evidence import WEIGHING, Evidence
from .layers import Layers
from .pieces import CONSTRUCTIONS, HOLLOW, HOMOGENEOUS, PLATED, Pieces
from .verdict import critical_misfit

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
Index = NDArray[np.intp]

FITS = 0.05  # tail probability of the joint misfit below which a candidate does not fit
WILD = 9.0  # largest squared score one reading may add: one wild reading does not empty a long list


@dataclass(frozen=True)
class Fitting:
    """Bodies of one construction that fit, with the span of the free parameter that fits each."""

    construction: int
    skin: int
    point: Index
    low: Array
    high: Array


def fitting_constructions(bodies: Bodies, evidence: Evidence, skins: list[int]) -> list[Fitting]:
    """All constructions that fit: bare, hollow, and under each of some skins."""
    others, readings = _other_misfit(Pieces.bare(bodies, evidence.layers, evidence.form), evidence)
    room = critical_misfit(FITS, readings) - others
    if evidence.volume is None:
        point = np.flatnonzero(room >= 0)
        nothing = np.zeros(len(point))
        return [Fitting(HOMOGENEOUS, -1, point, nothing, nothing)]
    low, high = _volumes(evidence, bodies, room)
    bare = np.flatnonzero((bodies.v >= low) & (bodies.v <= high))
    out = [Fitting(HOMOGENEOUS, -1, bare, np.zeros(len(bare)), np.zeros(len(bare)))]
    out.append(_spans(HOLLOW, -1, 1 - bodies.v / np.maximum(low, 1e-9), 1 - bodies.v / np.maximum(high, 1e-9),
                      np.array(VOID_PART[0][1:]), np.array(VOID_PART[0][1:])))  # fmt: skip
    thickness = np.geomspace(SKIN_PARTS[0][1], SKIN_PARTS[-1][2], 240)
    share = np.maximum.accumulate(evidence.form.skin_share(thickness))
    for skin in skins:
        dense = float(1 / evidence.layers.v[skin])
        a, b = window_of_share(1 / bodies.v, dense, 1 / np.maximum(high, 1e-9), 1 / np.maximum(low, 1e-9))
        a, b = np.where(low > high, 2.0, a), np.where(low > high, -1.0, b)
        out.append(_spans(PLATED, skin, a, b, share, thickness))
    return out


def _other_misfit(pieces: Pieces, evidence: Evidence) -> tuple[Array, int]:
    """Misfit of the readings beside density on bare bodies, the largest capped, and the number of all readings."""
    scores = [z for name, z in evidence.scores(pieces).items() if name != WEIGHING]
    squares = np.array([z**2 for z in scores]) if scores else np.zeros((1, len(pieces)))
    largest = squares.max(axis=0)
    return squares.sum(axis=0) - largest + np.minimum(largest, WILD), len(evidence.names)


def _volumes(evidence: Evidence, bodies: Bodies, room: Array) -> tuple[Array, Array]:
    """Least and most specific volume of a whole piece that its density reading leaves; empty without room."""
    reading = evidence.volume
    assert reading is not None
    z = np.sqrt(np.maximum(room, 0.0))
    width = z * np.hypot(reading.u, bodies.sigma * reading.v)
    air = 3.0 * reading.bubble  # 1 in 20 holds more
    none = room < 0
    return np.where(none, np.inf, reading.v - width - air), np.where(none, -np.inf, reading.v + width)


def _spans(construction: int, skin: int, low: Array, high: Array, of_scale: Array, scale: Array) -> Fitting:
    """The points whose interval of shares meets the scale, with that interval on the scale."""
    point = np.flatnonzero((low <= high) & (high >= of_scale[0]) & (low <= of_scale[-1]))
    a, b = np.interp(low[point], of_scale, scale), np.interp(high[point], of_scale, scale)
    return Fitting(construction, skin, point, a, b)


def fitting_frame(bodies: Bodies, layers: Layers, fitting: list[Fitting], kinds: set[str]) -> pd.DataFrame:
    """One row per family, construction and skin: ranges in mass percent, thickness [um], void share [%]."""
    import pandas as pd

    rows: list[dict[str, Any]] = []
    for f in fitting:
        if (kinds and CONSTRUCTIONS[f.construction] not in kinds) or not len(f.point):
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
    row: dict[str, Any] = {
        "construction": CONSTRUCTIONS[f.construction], "family": bodies.names[int(bodies.family[point[0]])],
        "skin": layers.names[f.skin] if f.skin >= 0 else "",
        "metals": " ".join(bodies.law.symbols[i].removesuffix("-fcc") for i in order),
        "skin_low_um": low if f.construction == PLATED else np.nan,
        "skin_high_um": high if f.construction == PLATED else np.nan,
        "void_low_percent": 100 * low if f.construction == HOLLOW else np.nan,
        "void_high_percent": 100 * high if f.construction == HOLLOW else np.nan,
    }  # fmt: skip
    for i in order:
        symbol = bodies.law.symbols[i].removesuffix("-fcc")
        row |= {f"{symbol}_low_percent": float(w[:, i].min()), f"{symbol}_high_percent": float(w[:, i].max())}
    return row
