"""The nodes of the table of a batch: where they lie, what each stands for, and how many are enough.

Nodes of the free parameter are as close as readings can tell apart. They begin at another place for each body, so that
what single bodies are off by averages out. Of the rows in one cell, which readings can hardly tell apart, a few stand
for all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..alloys.bodies import Bodies
from ..alloys.materials import Layers
from ..arrays import Array, Index, Mask
from ..integral.believed import Believed, share_below
from ..integral.windows import MOST_SKIN
from ..pieces.candidates import Candidates
from ..pieces.constructions import Place
from ..pieces.shape import USUAL_RATIO, Form
from ..readings.layers_metered import ObservedConductivity
from ..readings.magnet import magnetic_class_of
from .reading import of_whole_piece
from .table import LN_X, PRECIOUS_BINS, RHO_AXIS, V_AXIS, X_BIN, X_EDGES, key_of, skin_edges

AT_ONCE = 1500  # bodies
GATHERED = 2_000_000  # nodes that are gathered before some of them are drawn
GRID = 72  # points of the free parameter from which nodes are interpolated
MOST_STEP = 1.5  # in ln(parameter) between nodes, even where nothing else changes
LEAST_STEP = 0.0015  # of ln(v) between nodes, even where a body has less scatter
# step between nodes in units of a body's own scatter: bodies that hold much of the belief stand for themselves, what
# the others are off by averages out
OF_SCATTER, OF_MUCH, MUCH = 1.5, 0.7, 1e-3
GOLDEN = 0.618033988749895  # its multiples lie evenly between whole numbers
EVENLY = 1.1673039782614187 ** -np.arange(1.0, 5.0)  # so do those of these four together
HEAVY = 1e-4  # share of all bare bodies from which one is shared among all places of the kernels about it
CELL = 10  # nodes of the kernels in a cell, either way
PER_CELL, PER_LONE = 60, 300  # rows that stand for those of a cell, and the same if no conductivity was read
USUAL_UM = (300.0, 1000.0, 3000.0, 10000.0)  # thicknesses of pieces


@dataclass(frozen=True)
class _Nodes:
    """Nodes of some constructions: where they lie, and for how much of which body and of which part of the parameter.

    `below`, `above` : edges of the part as in `table.Segment`. `part` : share of the layer in the mass.
    """

    ln_v: Array
    ln_rho: Array
    u_v: Array
    u_rho: Array
    weight: Array
    below: NDArray[np.uint16]
    above: NDArray[np.uint16]
    point: NDArray[np.int32]
    part: Array

    def some(self, rows: Index | Mask) -> _Nodes:
        """Some of the nodes."""
        return _Nodes(*(getattr(self, f.name)[rows] for f in fields(self)))

    def __len__(self) -> int:
        return len(self.point)


def columns_of(
    bodies: Bodies,
    layers: Layers,
    believed: tuple[Believed, ...],
    conducts: bool,
    precious: tuple[str, ...],
) -> dict[str, NDArray[Any]]:
    """The columns of a `Segment`: what is expected of some bodies.

    Parameters
    ----------
    believed : shares over the bodies; each is normalised to 1. conducts : whether a conductivity of the whole piece is
        read. precious : symbols whose content is kept.
    """
    form = Form("disc", (USUAL_RATIO, 1.0), measured=False)  # only the ratio of a skin to its thickness counts
    observed, per_cell = (of_whole_piece(), PER_CELL) if conducts else (None, PER_LONE)
    drawn: list[_Nodes] = []
    fresh: list[_Nodes] = []
    for number, b in enumerate(believed):
        nodes = _bare if b.built.place is Place.NOWHERE else _spread
        for some in nodes(number, bodies, layers, form, b, observed):
            fresh.append(some)
            if sum(len(n) for n in fresh) > GATHERED:
                drawn.append(_drawn(_joined(fresh), believed, bodies, 2 * per_cell))
                fresh.clear()
    n = _drawn(_joined(drawn + fresh), believed, bodies, per_cell)
    return _sorted(_placed(_columns(n, believed, bodies, layers, form, precious), n), believed)


def _joined(parts: list[_Nodes]) -> _Nodes:
    return _Nodes(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(_Nodes)))


def _predicted(observed: ObservedConductivity | None, candidates: Candidates) -> tuple[Array, Array]:
    """ln(resistivity read) and its relative scatter; any, if none is read."""
    if observed is None:
        return np.full(len(candidates), RHO_AXIS.begin), np.full(len(candidates), RHO_AXIS.levels[0][0])
    value, model = observed.predict(candidates)
    return np.log(100 / value), model


def _bare(
    number: int, bodies: Bodies, layers: Layers, form: Form, b: Believed, observed: ObservedConductivity | None
) -> Iterator[_Nodes]:
    point = np.flatnonzero(b.share > 0)
    rho, model = _predicted(observed, Candidates.bare(bodies, layers, form, point))
    edge = np.full(len(point), number * X_EDGES, dtype=np.uint16)
    at = np.log(bodies.v[point]), rho, bodies.sigma[point], model
    share = b.share[point] / b.share.sum()
    yield _Nodes(*at, share, edge, edge + np.uint16(1), point.astype(np.int32), np.zeros(len(point)))


def _spread(
    number: int, bodies: Bodies, layers: Layers, form: Form, b: Believed, observed: ObservedConductivity | None
) -> Iterator[_Nodes]:
    """Nodes of the free parameter, evenly spread in the change that a reading would see."""
    every = np.flatnonzero(b.share > 0)
    every = every[np.argsort(bodies.system[every], kind="stable")]
    if b.built.by_thickness:
        low, high = LN_X[0], float(np.log(form.skin_um(MOST_SKIN) / form.thickness_um))
    else:
        low, high = np.log(b.spans[0][1]), np.log(b.spans[-1][2])
    ln_x = np.linspace(low, high, GRID)
    much = b.share > MUCH * b.share.sum()
    for point in np.array_split(every, range(AT_ONCE, len(every), AT_ONCE)):
        size = (len(point), GRID)
        parameter = np.tile(np.exp(ln_x) * (form.thickness_um if b.built.by_thickness else 1), len(point))
        of = np.full(len(parameter), b.construction), np.repeat(point, GRID), np.full(len(parameter), b.skin)
        candidates = Candidates(bodies, layers, form, *of, parameter)
        ln_v, part = np.log(candidates.v).reshape(size), candidates.mass_part.reshape(size)
        ln_rho, model = (x.reshape(size) for x in _predicted(observed, candidates))
        step = np.where(much[point], OF_MUCH, OF_SCATTER)[:, None]
        by_v = np.abs(np.diff(ln_v)) / np.maximum(LEAST_STEP, step * bodies.sigma[point][:, None])
        by_rho = np.abs(np.diff(ln_rho)) / (step * model[:, 1:])
        moves = np.sqrt(by_v**2 + by_rho**2 + (np.diff(ln_x) / MOST_STEP) ** 2)
        yield _nodes(number, bodies, b, point, ln_x, moves, (ln_v, ln_rho, model, part))


def _nodes(
    number: int,
    bodies: Bodies,
    b: Believed,
    point: Index,
    ln_x: Array,
    moves: Array,
    fields: tuple[Array, ...],
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
    where = [x + apart[body, 0] for x in (begin, end, (begin + end) / 2)]
    # places along `flat`, in steps of it
    before = [np.clip(np.searchsorted(flat, x, side="right") - 1, 0, len(flat) - 2) for x in where]
    ahead = [(x - flat[i]) / np.maximum(flat[i + 1] - flat[i], 1e-300) for x, i in zip(where, before, strict=True)]

    def at(place: int, values: Array) -> Array:
        i, f, every = before[place], np.minimum(ahead[place], 1.0), values.ravel()
        return np.asarray(every[i] * (1 - f) + every[i + 1] * f)

    grid = np.broadcast_to(ln_x, along.shape)
    low, high = at(0, grid), at(1, grid)
    ln_v, ln_rho, model, part = (at(2, f) for f in fields)
    weight = (b.share[point] / b.share.sum())[body]
    edges = [number * X_EDGES + k + np.zeros(len(body)) for k in (0, 1)]
    if b.built.by_thickness:
        edges = [number * X_EDGES + 2 + np.clip((edge - LN_X[0]) / X_BIN, 0, None) for edge in (low, high)]
    else:
        weight = weight * (share_below(b.spans, high) - share_below(b.spans, low))
    below, above = (edge.astype(np.uint16) for edge in edges)
    at_node = ln_v, ln_rho, bodies.sigma[point][body], model
    return _Nodes(*at_node, weight, below, above, point[body].astype(np.int32), part)


def _drawn(n: _Nodes, believed: tuple[Believed, ...], bodies: Bodies, per_cell: int) -> _Nodes:
    """Of the nodes of each cell, the heavy ones, and of the light ones as many as are needed, drawn by their weight.

    Light ones are drawn at even steps of their cumulated weight, system by system, so that each system keeps its own
    share. Its cells are gone through to and fro, so that neighbours follow each other.
    """
    band_v, node_v, _ = V_AXIS.position(n.ln_v, n.u_v)
    band_rho, node_rho, _ = RHO_AXIS.position(n.ln_rho, n.u_rho)
    cell_v, cell_rho = (node_v / CELL).astype(np.intp), (node_rho / CELL).astype(np.intp)
    wide_v, wide_rho = int(cell_v.max()) + 1, int(cell_rho.max()) + 1
    band = (band_v * len(RHO_AXIS.levels) + band_rho) * wide_v + cell_v
    mass = np.maximum(_mass(n.weight, n.below, n.above, believed), 1e-300)
    _, number = np.unique(band * wide_rho + cell_rho, return_inverse=True)
    step = (np.bincount(number, mass) / per_cell)[number]
    fro = np.where(cell_v % 2, wide_rho - 1 - cell_rho, cell_rho)
    bands = len(V_AXIS.levels) * len(RHO_AXIS.levels)
    order = np.argsort((bodies.system[n.point] * bands * wide_v + band) * wide_rho + fro, kind="stable")
    mass, step = mass[order], step[order]
    along = np.floor(np.cumsum(np.where(mass < step, mass / step, 0.0)) + 0.5)
    kept = np.flatnonzero((mass >= step) | (np.diff(along, prepend=0.0) > 0))
    out = n.some(order[kept])
    return replace(out, weight=out.weight * np.maximum(step[kept] / mass[kept], 1.0))


def _columns(
    n: _Nodes, believed: tuple[Believed, ...], bodies: Bodies, layers: Layers, form: Form, precious: tuple[str, ...]
) -> dict[str, NDArray[Any]]:
    """The columns that do not depend on where a node lies."""
    kind = n.below // X_EDGES
    construction, skin = (np.array([getattr(b, x) for b in believed])[kind] for x in ("construction", "skin"))
    covered = np.array([b.built.by_thickness for b in believed])[kind]
    point = n.point.astype(np.intp)
    thick = Candidates(bodies, layers, form, construction, point, skin, np.where(covered, 500.0, 0.01))
    magnetic, of_all = bodies.magnetic[point], magnetic_class_of(thick)
    # the table keeps the class of the body and that of a thick skin; how thick it is, is known with the piece
    return {
        "below": n.below,
        "above": n.above,
        "magnetic": np.where(covered, magnetic, of_all).astype(np.int8),
        "skin_magnetic": np.where(covered & (of_all > magnetic), of_all, 0).astype(np.int8),
        "point": n.point,
        "precious": _precious(n, skin, bodies, layers, precious),
    }


def _precious(n: _Nodes, skin: Index, bodies: Bodies, layers: Layers, symbols: tuple[str, ...]) -> NDArray[np.uint16]:
    """The two precious metals of which a whole piece holds most, each as one number for metal and bin."""
    at = np.array([bodies.law.index[s] for s in symbols], dtype=np.intp)
    part = np.where(skin >= 0, n.part, 0.0)[:, None]
    content = bodies.w[n.point[:, None], at] * (1 - part) + layers.w[skin[:, None], at] * part
    order = np.argsort(-content, axis=1)[:, :2]
    most = np.take_along_axis(content, order, axis=1)
    cell = np.searchsorted(PRECIOUS_BINS, most) * (most >= PRECIOUS_BINS[1])
    number = order * len(PRECIOUS_BINS) + np.minimum(cell, len(PRECIOUS_BINS) - 1)
    return np.asarray(np.where(cell > 0, number, 0).astype(np.uint16).T)


def _placed(columns: dict[str, NDArray[Any]], n: _Nodes) -> dict[str, NDArray[Any]]:
    """The columns with the places of the rows among the nodes and levels of the kernels.

    A heavy bare body is shared among the 16 places about it, as linear interpolation does. Any other row goes to one of
    them, drawn with the same shares.
    """
    (band_v, *v), (band_rho, *rho) = V_AXIS.position(n.ln_v, n.u_v), RHO_AXIS.position(n.ln_rho, n.u_rho)
    part, low = np.modf(np.stack([*v, *rho]))
    is_heavy = (n.weight > HEAVY) & (n.above % X_EDGES == 1)
    heavy, light = np.flatnonzero(is_heavy), np.flatnonzero(~is_heavy)
    drawn = np.arange(len(light)) * EVENLY[:, None] % 1.0 < part[:, light]
    corners = [(heavy, np.array(corner)[:, None]) for corner in np.ndindex(2, 2, 2, 2)]
    parts = []
    for at, up in [(light, drawn), *corners]:
        share = np.where(up, part[:, at], 1 - part[:, at]).prod(axis=0) if up is not drawn else np.ones(len(at))
        at, up, share = at[share > 0], (up[:, share > 0] if up is drawn else up), share[share > 0]
        x = (low[:, at] + up).astype(np.intp)
        block_v, place_v = V_AXIS.place(band_v[at], x[0], x[1])
        block_rho, place_rho = RHO_AXIS.place(band_rho[at], x[2], x[3])
        some = {name: column[..., at] for name, column in columns.items()}
        some["weight"] = (n.weight[at] * share).astype(np.float32)
        some["key"] = key_of(band_v[at], band_rho[at], block_v, block_rho).astype(np.int32)
        some["at_v"], some["at_rho"] = place_v.astype(np.uint16), place_rho.astype(np.uint16)
        parts.append(some)
    return {name: np.concatenate([p[name] for p in parts], axis=-1) for name in parts[0]}


def _mass(
    weight: NDArray[Any], below: NDArray[np.uint16], above: NDArray[np.uint16], believed: tuple[Believed, ...]
) -> Array:
    """Largest prior share that each row has in pieces of some usual thicknesses."""
    of_kind = np.array([[b.share.sum()] for b in believed])
    most = np.zeros(len(below))
    for um in USUAL_UM:
        edges = (of_kind * skin_edges(believed, um)).ravel()
        np.maximum(most, edges[above] - edges[below], out=most)
    return np.asarray(most * weight, dtype=float)


def _sorted(every: dict[str, NDArray[Any]], believed: tuple[Believed, ...]) -> dict[str, NDArray[Any]]:
    """The rows in order of their blocks, with what is said of each block."""
    key, mass = every.pop("key"), _mass(every["weight"], every["below"], every["above"], believed)
    row = np.argsort(key, kind="stable")
    keys, start = np.unique(key[row], return_index=True)
    of_blocks = {"keys": keys, "start": np.append(start, len(row)), "mass": np.add.reduceat(mass[row], start)}
    return of_blocks | {name: np.ascontiguousarray(column[..., row]) for name, column in every.items()}
