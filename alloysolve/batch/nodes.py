"""The nodes of the table of a batch: where they lie, what each stands for, and how many are enough.

Nodes of the free parameter are as close as readings can tell apart. They begin at another place for each body, so that
what single bodies are off by averages out. Of the rows in one cell, which readings can hardly tell apart, a few stand
for all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..alloys.bodies import Bodies
from ..alloys.materials import Layers
from ..arrays import Array, Index
from ..integral.believed import Believed, share_below
from ..integral.windows import MOST_SKIN
from ..pieces.candidates import Candidates
from ..pieces.constructions import Place
from ..pieces.shape import USUAL_RATIO, Form
from ..readings.layers_metered import ObservedConductivity
from ..readings.magnet import magnetic_class_of
from .table import LN_X, PRECIOUS_BINS, RHO_AXIS, V_AXIS, X_BIN, X_EDGES, key_of, skin_edges

AT_ONCE = 1500  # bodies
GRID = 72  # points of the free parameter from which nodes are interpolated
MOST_STEP = 1.5  # in ln(parameter) between nodes, even where nothing else changes
OF_SCATTER = 1.0  # step between nodes in units of a body's own scatter
LEAST_STEP = 0.0015  # of ln(v) between nodes, even where a body has less scatter
GOLDEN = 0.618033988749895  # its multiples lie evenly between whole numbers
EVENLY = 1.1673039782614187 ** -np.arange(1.0, 5.0)  # so do those of these four together
HEAVY = 1e-4  # share of all bare bodies from which one is shared among all places of the kernels about it
CELL_V, CELL_RHO = 12, 15  # nodes of the kernels in a cell
PER_CELL = 100  # rows that stand for those of a cell
USUAL_UM = (300.0, 1000.0, 3000.0, 10000.0)  # thicknesses of pieces


@dataclass(frozen=True)
class _Nodes:
    """Rows before they are sorted."""

    ln_v: Array
    ln_rho: Array
    u_v: Array
    u_rho: Array
    weight: Array
    low: Array
    high: Array
    point: Index
    part: Array


def columns_of(
    bodies: Bodies,
    layers: Layers,
    believed: tuple[Believed, ...],
    conductivity: ObservedConductivity,
    precious: tuple[str, ...],
    thickness_mm: float = 1.0,
) -> dict[str, NDArray[Any]]:
    """The columns of a `Segment`: what is expected of some bodies, as such a conductivity reading would see them.

    Parameters
    ----------
    believed : shares over the bodies; each is normalised to 1. precious : symbols whose content is kept.
    thickness_mm : of the pieces; without frequencies only the ratio of a skin to it counts.
    """
    form = Form("disc", (USUAL_RATIO * thickness_mm, thickness_mm), measured=False)
    parts = []
    for number, b in enumerate(believed):
        nodes = _bare if b.built.place is Place.NOWHERE else _spread
        found = [
            _drawn(_columns(n, number, b, bodies, layers, form, precious), believed, bodies, 2 * PER_CELL)
            for n in nodes(bodies, layers, form, b, conductivity)
        ]
        parts.append(_drawn(_joined(found), believed, bodies, PER_CELL))
    return _sorted(_drawn(_joined(parts), believed, bodies, PER_CELL), believed)


def _joined(parts: list[dict[str, NDArray[Any]]]) -> dict[str, NDArray[Any]]:
    return {name: np.concatenate([p[name] for p in parts], axis=-1) for name in parts[0]}


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
    bodies: Bodies, layers: Layers, form: Form, b: Believed, observed: ObservedConductivity
) -> Iterator[_Nodes]:
    """Nodes of the free parameter, evenly spread in the change that a reading would see."""
    every = np.flatnonzero(b.share > 0)
    every = every[np.argsort(bodies.system[every], kind="stable")]
    if b.built.by_thickness:
        low, high = LN_X[0], float(np.log(form.skin_um(MOST_SKIN) / form.thickness_um))
    else:
        low, high = np.log(b.spans[0][1]), np.log(b.spans[-1][2])
    ln_x = np.linspace(low, high, GRID)
    for point in np.array_split(every, range(AT_ONCE, len(every), AT_ONCE)):
        size = (len(point), GRID)
        parameter = np.tile(np.exp(ln_x) * (form.thickness_um if b.built.by_thickness else 1), len(point))
        of = (
            np.full(len(parameter), b.construction),
            np.repeat(point, GRID),
            np.full(len(parameter), b.skin),
            parameter,
        )
        candidates = Candidates(bodies, layers, form, *of)
        ln_v, part = np.log(candidates.v).reshape(size), candidates.mass_part.reshape(size)
        found = [(rho.reshape(size), model.reshape(size)) for rho, model in _predicted(observed, candidates)]
        if all(np.array_equal(found[0][0], rho) for rho, _ in found):
            found = found[:1]
        step = OF_SCATTER * min(len(found), 3)  # a body that stands for several frequencies is smeared anyway
        for ln_rho, model in found:
            by_v = np.abs(np.diff(ln_v)) / np.maximum(LEAST_STEP, step * bodies.sigma[point])[:, None]
            by_rho = np.abs(np.diff(ln_rho)) / (step * model[:, 1:])
            moves = np.sqrt(by_v**2 + by_rho**2 + (np.diff(ln_x) / MOST_STEP) ** 2)
            yield _nodes(bodies, b, point, ln_x, moves, (ln_v, ln_rho, model, part), 1 / len(found))


def _nodes(
    bodies: Bodies, b: Believed, point: Index, ln_x: Array, moves: Array, fields: tuple[Array, ...], share: float
) -> _Nodes:
    """Cells that are even in the cumulated `moves` of each body, with their middles interpolated."""
    along = np.concatenate([np.zeros((len(point), 1)), np.cumsum(moves, axis=1)], axis=1)
    # the first cell of each body is cut short, by another share for each, so that the nodes of many bodies lie anyhow
    cut = (np.arange(len(point)) * GOLDEN) % 1.0
    count = np.ceil(along[:, -1] + cut).astype(int)
    body = np.repeat(np.arange(len(point)), count)
    k = np.arange(len(body)) - np.repeat(np.cumsum(count) - count, count)
    begin = np.maximum(k - cut[body], 0.0)
    end = np.minimum(k + 1 - cut[body], along[body, -1])
    apart = np.arange(len(point))[:, None] * (along.max() + 1)  # so that one interpolation serves all bodies
    flat = (along + apart).ravel()

    def at(where: Array, values: Array) -> Array:
        return np.asarray(np.interp(where + apart[body, 0], flat, values.ravel()))

    grid = np.broadcast_to(ln_x, along.shape)
    low, high = at(begin, grid), at(end, grid)
    ln_v, ln_rho, model, part = (at((begin + end) / 2, f) for f in fields)
    weight = (b.share[point] / b.share.sum())[body] * share
    if not b.built.by_thickness:
        weight = weight * (share_below(b.spans, high) - share_below(b.spans, low))
    return _Nodes(ln_v, ln_rho, bodies.sigma[point][body], model, weight, low, high, point[body], part)


def _columns(
    n: _Nodes, number: int, b: Believed, bodies: Bodies, layers: Layers, form: Form, precious: tuple[str, ...]
) -> dict[str, NDArray[Any]]:
    """The columns of a group, not yet sorted."""
    size, covered = len(n.point), b.built.by_thickness
    x = [
        (number * X_EDGES + (2 + np.clip((edge - LN_X[0]) / X_BIN, 0, None) if covered else k + 0 * edge)).astype(
            np.uint16
        )
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
    columns: dict[str, NDArray[Any]] = {
        "below": x[0],
        "above": x[1],
        "magnetic": (magnetic if covered else of_all).astype(np.int8),
        "skin_magnetic": np.where(covered & (of_all > magnetic), of_all, 0).astype(np.int8),
        "point": n.point.astype(np.int32),
        "precious": _precious(n, b, bodies, layers, precious),
    }
    return _placed(columns, n)


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


def _placed(columns: dict[str, NDArray[Any]], n: _Nodes) -> dict[str, NDArray[Any]]:
    """The columns with the places of the rows among the nodes and levels of the kernels.

    A heavy bare body is shared among the 16 places about it, as linear interpolation does. Any other row goes to one of
    them, drawn with the same shares.
    """
    (band_v, *v), (band_rho, *rho) = V_AXIS.position(n.ln_v, n.u_v), RHO_AXIS.position(n.ln_rho, n.u_rho)
    part, low = np.modf(np.stack([*v, *rho]))
    is_heavy = (n.weight > HEAVY) & (n.low == n.high)
    heavy, light = np.flatnonzero(is_heavy), np.flatnonzero(~is_heavy)
    drawn = np.arange(len(light)) * EVENLY[:, None] % 1.0 < part[:, light]
    corners = [(heavy, np.array(corner)[:, None]) for corner in np.ndindex(2, 2, 2, 2)]
    parts = []
    for at, up in [(light, drawn), *corners]:
        share = np.where(up, part[:, at], 1 - part[:, at]).prod(axis=0) if up is not drawn else 1.0
        x = low[:, at] + up
        block_v, place_v = V_AXIS.place(band_v[at], x[0], x[1])
        block_rho, place_rho = RHO_AXIS.place(band_rho[at], x[2], x[3])
        some = {name: column[..., at] for name, column in columns.items()}
        some["weight"] = (n.weight[at] * share).astype(np.float32)
        some["key"] = key_of(band_v[at], band_rho[at], block_v, block_rho).astype(np.int32)
        some["at_v"], some["at_rho"] = place_v.astype(np.uint16), place_rho.astype(np.uint16)
        parts.append(some)
    return _joined(parts)


def _drawn(
    every: dict[str, NDArray[Any]], believed: tuple[Believed, ...], bodies: Bodies, per_cell: int
) -> dict[str, NDArray[Any]]:
    """Of the rows of each cell, the heavy ones, and of the light ones as many as are needed, drawn by their weight."""
    band = every["key"] // (V_AXIS.blocks * RHO_AXIS.blocks)
    parts = ((k, {name: column[..., band == k] for name, column in every.items()}) for k in np.unique(band).tolist())
    return _joined([_drawn_of_band(k, part, _mass(part, believed), bodies, per_cell) for k, part in parts])


def _drawn_of_band(
    band: int, rows: dict[str, NDArray[Any]], mass: Array, bodies: Bodies, per_cell: int
) -> dict[str, NDArray[Any]]:
    """Light rows of one band are drawn at even steps of their cumulated weight, system by system.

    So each system keeps its own share. Its cells are gone through to and fro, so that neighbours follow each other.
    """
    band_v, band_rho = divmod(band, len(RHO_AXIS.levels))
    block_v, block_rho = np.divmod(rows["key"] - band * V_AXIS.blocks * RHO_AXIS.blocks, RHO_AXIS.blocks)
    cell_v = V_AXIS.node(band_v, block_v, rows["at_v"]) // CELL_V
    cell_rho = RHO_AXIS.node(band_rho, block_rho, rows["at_rho"]) // CELL_RHO
    cell = cell_v * (cell_rho.max() + 1) + cell_rho
    mass = np.maximum(mass, 1e-300)
    step = (np.bincount(cell, mass) / per_cell)[cell]
    order = np.lexsort((np.where(cell_v % 2, -cell_rho, cell_rho), cell_v, bodies.system[rows["point"]]))
    mass, step = mass[order], step[order]
    along = np.floor(np.cumsum(np.where(mass < step, mass / step, 0.0)) + 0.5)
    kept = np.flatnonzero((mass >= step) | (np.diff(along, prepend=0.0) > 0))
    out = {name: column[..., order[kept]] for name, column in rows.items()}
    out["weight"] = (out["weight"] * np.maximum(step[kept] / mass[kept], 1.0)).astype(np.float32)
    return out


def _mass(every: dict[str, NDArray[Any]], believed: tuple[Believed, ...]) -> Array:
    """Largest prior share that each row has in pieces of some usual thicknesses."""
    of_kind = np.array([[b.share.sum()] for b in believed])
    most = np.zeros(len(every["below"]))
    for um in USUAL_UM:
        edges = (of_kind * skin_edges(believed, um)).ravel()
        np.maximum(most, edges[every["above"]] - edges[every["below"]], out=most)
    return np.asarray(most * every["weight"], dtype=float)


def _sorted(every: dict[str, NDArray[Any]], believed: tuple[Believed, ...]) -> dict[str, NDArray[Any]]:
    """The rows in order of their blocks, with what is said of each block."""
    key, mass = every.pop("key"), _mass(every, believed)
    row = np.argsort(key, kind="stable")
    keys, start = np.unique(key[row], return_index=True)
    of_blocks = {"keys": keys, "start": np.append(start, len(row)), "mass": np.add.reduceat(mass[row], start)}
    return of_blocks | {name: np.ascontiguousarray(column[..., row]) for name, column in every.items()}
