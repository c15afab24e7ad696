"""What is expected before any reading, as one long table of candidates in order of their specific volume.

A full solve places nodes of skin thickness and of empty space about each reading. Here they are placed once. They are
so close that each step changes specific volume and resistivity by less than a reading tells apart. The step that is
left is added to the scatter of the row as that of a uniform distribution, step / sqrt(12). A reading then is a product
of two tabulated kernels over a slice of the table.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..alloys.bodies import Bodies
from ..alloys.materials import Layers
from ..arrays import Array, Index
from ..inference.believed import Believed, share_below
from ..inference.windows import MOST_SKIN
from ..pieces.candidates import Candidates
from ..pieces.constructions import Place
from ..pieces.shape import USUAL_RATIO, Form
from ..readings.conductivity import ObservedConductivity
from ..readings.error_model import level_of
from ..readings.magnet import magnetic_class_of

GRID = 72  # points of the free parameter from which nodes are interpolated
MOST_STEP = 1.5  # in ln(parameter) between nodes, even where nothing else changes
OF_SCATTER = 1.5  # step between nodes in units of a body's own scatter, if that is larger
# of the evenly spread points of a family, one in so many carries constructions whose parameter smears it anyway
THINNED, THINNED_MORE = 2, 5  # the latter where the construction is rare, or a point stands for several frequencies
RARE = 0.1  # share among constructions of its sort
LN_V = (np.log(1 / 26.0), np.log(1 / 0.1))  # ends of the bins of specific volume [cm3/g]
LN_RHO, RHO_BIN = (np.log(0.3), np.log(3e5)), 0.006  # ends and width of the bins of resistivity [uohm cm]
# bands of the scatter of specific volume, by its level in `LEVELS`; the rows of each have bins of their own width
LEVELS = np.geomspace(2e-4, 0.3, 40)  # relative scatters of specific volume
BANDS = (6, 15, 18, 20, 23, 31)  # 0.06, 0.33, 0.58, 0.85, 1.5, 6.7 %; more counts as that
WIDTHS = (0.0002, 0.0003, 0.0005, 0.0008, 0.0015)
RHO_LEVELS = np.geomspace(0.03, 3.0, 80)
LN_X, X_BIN = (-11.6, 0.0), 0.02  # of the bins of ln(thickness of skin over thickness of piece)
# of content: close together near none and near all, where fine metal lies
PRECIOUS_BINS = np.concatenate(
    [[0.0], np.geomspace(2.5e-4, 0.02, 80), np.linspace(0.022, 0.95, 405), 1 - np.geomspace(0.048, 5e-5, 80)]
)


@dataclass(frozen=True)
class Segment:
    """Rows over some bodies, by band of scatter and in order of specific volume; arrays (rows,).

    Attributes
    ----------
    kinds : what each number of `kind` stands for, without its share. bins : width of the bins of ln(v), by band.
    start : by band, the first row of each bin (bins + 1,).
    at_v : place in a kernel (bins, levels of scatter) laid out flat. at_rho : place in one of (levels, bins).
    weight : prior share within its construction. kind : number of the construction and skin.
    below, above : edges of ln(thickness over that of the piece) between which a skin lies, counted from 2; 0 and 1 for
        rows without a skin.
    magnetic : class of the body. skin_magnetic : class of a skin that is thick enough, or of a strike.
    point : of the body. precious : (2, rows) metal and bin of content, flat; 0 for none.
    """

    kinds: tuple[Believed, ...]
    bins: tuple[float, ...]
    start: tuple[Index, ...]
    at_v: NDArray[np.int32]
    at_rho: NDArray[np.int32]
    weight: NDArray[np.float32]
    kind: NDArray[np.uint8]
    below: NDArray[np.int16]
    above: NDArray[np.int16]
    magnetic: NDArray[np.int8]
    skin_magnetic: NDArray[np.int8]
    point: NDArray[np.int32]
    precious: NDArray[np.uint16]


@dataclass(frozen=True)
class _Nodes:
    """Rows before they are sorted; `u_v` and `u_rho` include the scatter of a step."""

    ln_v: Array
    ln_rho: Array
    u_v: Array
    u_rho: Array
    weight: Array
    low: Array
    high: Array
    point: Index
    part: Array


def segment(
    bodies: Bodies,
    layers: Layers,
    believed: tuple[Believed, ...],
    conductivity: ObservedConductivity,
    step: float,
    precious: tuple[str, ...],
    thickness_mm: float = 1.0,
) -> Segment:
    """The table of what is expected of some bodies, as a conductivity reading of that kind would see them.

    Parameters
    ----------
    believed : shares over the bodies; each is normalised to 1. step : in ln(v) between nodes.
    precious : symbols whose content is kept. thickness_mm : of the pieces; without frequencies only the ratio of a skin
        to it counts.
    """
    form = Form("disc", (USUAL_RATIO * thickness_mm, thickness_mm), measured=False)
    parts = []
    covering = sum(b.share.sum() for b in believed if b.built.by_thickness)
    for number, b in enumerate(believed):
        rare = b.built.place is Place.VOID or bool(b.share.sum() < RARE * covering)
        nodes = (
            _bare(bodies, layers, form, b, conductivity)
            if b.built.place is Place.NOWHERE
            else (_spread(bodies, layers, form, b, conductivity, step, rare))
        )
        parts += [_columns(n, number, b, bodies, layers, form, precious) for n in nodes]
    every = {name: np.concatenate([p[name] for p in parts], axis=-1) for name in parts[0]}
    return _sorted(every, believed, tuple(max(width, step / 20) for width in WIDTHS))


def _predicted(observed: ObservedConductivity, candidates: Candidates) -> list[tuple[Array, Array]]:
    """ln(resistivity read) and its relative scatter, one pair per possible frequency."""
    return [(np.log(100 / value), model) for value, model in observed.predictions(candidates)]


def _bare(bodies: Bodies, layers: Layers, form: Form, b: Believed, observed: ObservedConductivity) -> Iterator[_Nodes]:
    point = np.flatnonzero(b.share > 0)
    found = _predicted(observed, Candidates.bare(bodies, layers, form, point))
    if all(np.array_equal(found[0][0], rho) for rho, _ in found):
        found = found[:1]
    zero = np.zeros(len(point))
    for rho, model in found:
        yield _Nodes(
            np.log(bodies.v[point]),
            rho,
            bodies.sigma[point],
            model,
            b.share[point] / b.share.sum() / len(found),
            zero,
            zero,
            point,
            zero,
        )


def _spread(
    bodies: Bodies, layers: Layers, form: Form, b: Believed, observed: ObservedConductivity, step: float, rare: bool
) -> Iterator[_Nodes]:
    """Nodes of the free parameter, evenly spread in the change that a reading would see."""
    b = replace(b, share=_thinned(bodies, b.share, THINNED_MORE if rare or len(observed.frequencies) > 1 else THINNED))
    point = np.flatnonzero(b.share > 0)
    if b.built.by_thickness:
        low, high = LN_X[0], float(np.log(form.skin_um(MOST_SKIN) / form.thickness_um))
    else:
        low, high = np.log(b.spans[0][1]), np.log(b.spans[-1][2])
    ln_x = np.linspace(low, high, GRID)
    size = (len(point), GRID)
    parameter = np.tile(np.exp(ln_x) * (form.thickness_um if b.built.by_thickness else 1), len(point))
    candidates = Candidates(
        bodies,
        layers,
        form,
        np.full(len(parameter), b.construction),
        np.repeat(point, GRID),
        np.full(len(parameter), b.skin),
        parameter,
    )
    ln_v, part = np.log(candidates.v).reshape(size), candidates.mass_part.reshape(size)
    found = [(rho.reshape(size), model.reshape(size)) for rho, model in _predicted(observed, candidates)]
    if all(np.array_equal(found[0][0], rho) for rho, _ in found):
        found = found[:1]
    for ln_rho, model in found:
        by_v = np.abs(np.diff(ln_v)) / np.maximum(step, OF_SCATTER * bodies.sigma[point])[:, None]
        by_rho = np.abs(np.diff(ln_rho)) / (OF_SCATTER * model[:, 1:])
        moves = np.sqrt(by_v**2 + by_rho**2 + (np.diff(ln_x) / MOST_STEP) ** 2)
        yield _nodes(bodies, b, point, ln_x, moves, (ln_v, ln_rho, model, part), 1 / len(found))


def _thinned(bodies: Bodies, share: Array, every: int) -> Array:
    """Shares with the evenly spread compositions of each family thinned and their weight given to those that stay.

    Named compositions keep theirs.
    """
    point = np.flatnonzero(share > 0)
    usual = np.zeros(len(bodies.names))
    for family in np.unique(bodies.family[point]):  # even points have one share, and are the most
        usual[family] = np.median(share[point[bodies.family[point] == family]])
    even = point[np.isclose(share[point], usual[bodies.family[point]], rtol=1e-6) & (bodies.grade[point] < 0)]
    even = even[np.lexsort((bodies.v[even], bodies.family[even]))]  # in order of v, so that those kept stay even
    rank = np.arange(len(even)) - np.searchsorted(bodies.family[even], bodies.family[even])
    count = np.bincount(bodies.family[even], minlength=len(bodies.names))[bodies.family[even]]
    out = share.copy()
    out[even[rank % every != np.minimum(every // 2, count - 1)]] = 0.0
    whole, kept = (np.bincount(bodies.family[even], x[even], minlength=len(bodies.names)) for x in (share, out))
    out[even] *= (whole / np.where(kept > 0, kept, 1.0))[bodies.family[even]]
    return out


def _nodes(
    bodies: Bodies, b: Believed, point: Index, ln_x: Array, moves: Array, fields: tuple[Array, ...], share: float
) -> _Nodes:
    """Cells that are even in the cumulated `moves` of each body, with their middles interpolated."""
    along = np.concatenate([np.zeros((len(point), 1)), np.cumsum(moves, axis=1)], axis=1)
    count = np.ceil(along[:, -1]).astype(int)
    body = np.repeat(np.arange(len(point)), count)
    k = np.arange(len(body)) - np.repeat(np.cumsum(count) - count, count)
    apart = np.arange(len(point))[:, None] * (along.max() + 1)  # so that one interpolation serves all bodies
    flat = (along + apart).ravel()

    def at(where: Array, values: Array) -> Array:
        x = where * np.repeat(along[:, -1] / count, count) + apart[body, 0]
        return np.asarray(np.interp(x, flat, values.ravel()))

    grid = np.broadcast_to(ln_x, along.shape)
    low, high = at(k + 0.0, grid), at(k + 1.0, grid)
    ln_v, ln_rho, model, part = (at(k + 0.5, f) for f in fields)
    dv, drho = (at(k + 1.0, f) - at(k + 0.0, f) for f in fields[:2])
    weight = (b.share[point] / b.share.sum())[body] * share
    if not b.built.by_thickness:
        weight = weight * (share_below(b.spans, high) - share_below(b.spans, low))
    return _Nodes(
        ln_v,
        ln_rho,
        np.hypot(bodies.sigma[point][body], dv / np.sqrt(12)),
        np.hypot(model, drho / np.sqrt(12)),
        weight,
        low,
        high,
        point[body],
        part,
    )


def _columns(
    n: _Nodes, number: int, b: Believed, bodies: Bodies, layers: Layers, form: Form, precious: tuple[str, ...]
) -> dict[str, NDArray[Any]]:
    """The columns of a group, not yet sorted."""
    size, covered = len(n.point), b.built.by_thickness
    x = [
        2 + np.clip((edge - LN_X[0]) / X_BIN, 0, None).astype(np.int16) if covered else np.full(size, k, np.int16)
        for k, edge in enumerate((n.low, n.high))
    ]
    thick = Candidates(
        bodies,
        layers,
        form,
        np.full(size, b.construction),
        n.point,
        np.full(size, b.skin),
        np.full(size, 500.0 if covered else 0.01),
    )
    magnetic = bodies.magnetic[n.point]
    of_all = magnetic_class_of(thick)
    # the table keeps the class of the body and that of a thick skin; how thick it is, is known with the piece
    return {
        "ln_v": n.ln_v,
        "u_v": n.u_v,
        "ln_rho": n.ln_rho,
        "u_rho": n.u_rho,
        "weight": n.weight,
        "kind": np.full(size, number, np.uint8),
        "below": x[0],
        "above": x[1],
        "magnetic": (magnetic if covered else of_all).astype(np.int8),
        "skin_magnetic": np.where(covered & (of_all > magnetic), of_all, 0).astype(np.int8),
        "point": n.point.astype(np.int32),
        "level": level_of(n.u_v, LEVELS),
        "precious": _precious(n, b, bodies, layers, precious),
    }


def _precious(n: _Nodes, b: Believed, bodies: Bodies, layers: Layers, symbols: tuple[str, ...]) -> NDArray[np.uint16]:
    """The two precious metals of which a whole piece holds most, each as one number for metal and bin."""
    at = np.array([bodies.law.index[s] for s in symbols], dtype=np.intp)
    content = bodies.w[n.point[:, None], at]
    if b.skin >= 0:
        content = content * (1 - n.part)[:, None] + layers.w[b.skin, at] * n.part[:, None]
    order = np.argsort(-content, axis=1)[:, :2]
    most = np.take_along_axis(content, order, axis=1)
    cell = np.searchsorted(PRECIOUS_BINS, most) * (most >= PRECIOUS_BINS[1])
    return np.asarray(
        np.where(cell > 0, order * len(PRECIOUS_BINS) + np.minimum(cell, len(PRECIOUS_BINS) - 1), 0).astype(np.uint16).T
    )


def v_bins(width: float) -> int:
    """Number of bins of ln(v)."""
    return int(np.ceil((LN_V[1] - LN_V[0]) / width))


X_EDGES = int((LN_X[1] - LN_X[0]) / X_BIN) + 3  # with the two of what has no skin
RHO_BINS = int(np.ceil((LN_RHO[1] - LN_RHO[0]) / RHO_BIN))


def rho_bin(ln_rho: Array) -> Index:
    """Number of the bin of ln(resistivity)."""
    return np.asarray(np.clip(np.floor((ln_rho - LN_RHO[0]) / RHO_BIN), 0, RHO_BINS - 1), dtype=np.intp)


def _sorted(every: dict[str, NDArray[Any]], believed: tuple[Believed, ...], bins: tuple[float, ...]) -> Segment:
    """Rows sorted by band of scatter, and within a band by specific volume."""
    level = np.clip(every["level"], BANDS[0], BANDS[-1] - 1)
    band = np.searchsorted(BANDS, level, side="right") - 1
    last = np.array([v_bins(width) - 1 for width in bins])[band]
    cell = np.clip((every["ln_v"] - LN_V[0]) / np.array(bins)[band], 0, last).astype(np.intp)
    row = np.lexsort((cell, band))
    row = row[every["weight"][row] > 0]
    band, cell, level = band[row], cell[row], level[row]
    begin = np.searchsorted(band, np.arange(len(bins) + 1))
    start = tuple(
        begin[b] + np.searchsorted(cell[begin[b] : begin[b + 1]], np.arange(v_bins(bins[b]) + 1))
        for b in range(len(bins))
    )
    at_v = cell * np.diff(BANDS)[band] + level - np.array(BANDS)[band]
    at_rho = level_of(every["u_rho"][row], RHO_LEVELS) * (2 * RHO_BINS) + rho_bin(every["ln_rho"][row])
    plain = {name: every[name][row] for name in ("kind", "below", "above", "magnetic", "skin_magnetic", "point")}
    return Segment(
        believed,
        bins,
        start,
        at_v.astype(np.int32),
        at_rho.astype(np.int32),
        every["weight"][row].astype(np.float32),
        precious=every["precious"][:, row].copy(),
        **plain,
    )
