"""Probabilities for many pieces from one table: what claims of one kind share, and what each claim adds."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..alloys.bodies import Bodies
from ..alloys.families import all_bodies
from ..answer.collect import prior_hash
from ..arrays import Array, Index, Mask
from ..inference.commonness import NamedPrior
from ..inference.find import FIRST_SYSTEM, counted, group_of
from ..inference.groups import SHOWN_FROM
from ..inference.prior import prior_of
from ..inputs.claim import Claim, parse_claim
from ..integral.believed import Believed
from ..integral.evidence import Evidence
from ..kept import kept
from ..pieces.constructions import HOLLOW, INSERTED, Place
from ..published.load import Tables, digest
from ..readings.base import BODY
from ..readings.layers_metered import SPAN_UOHM_CM, ObservedConductivity
from ..readings.magnet import ObservedMagnet, felt
from .kernels import Kernel, Weighed, ratio_kernel
from .nodes import columns_of
from .table import LN_X, PRECIOUS_BINS, RHO_AXIS, V_AXIS, X_BIN, X_EDGES, Segment, key_of, skin_edges

BLOCKS_LEFT_OUT = 5e-7  # share of the most that all blocks can hold below which a block is left out
LEFT_OUT = 2e-4  # share of the mean weight of the rows at hand below which a row is left out
THICKNESS_STEP = 1.4  # from one class of thickness to the next
FACES_STEP = 1.02  # the same for clad faces, which are made so thick that a meter just looks through them
U_STEP = 0.02  # uncertainties of conductivities are rounded to this step of their logarithm, to share kernels
# whose code makes a table
ROOMS = (
    *("published", "physics", "alloys", "pieces", "readings", "inputs", "inference"),
    *("integral/believed", "integral/windows", "batch/beliefs", "batch/nodes", "batch/table"),
)
SLOTS = 5  # number of metals of a system whose ranges are given
OF_KIND = {
    "silver": "silver 999",
    "gold": "gold 999",
    "platinum": "platinum 950",
    "palladium": "palladium 950",
    "base": "brass",
    "none": "",
}
# edges of bins of a mass fraction, close together near none and near all
SHARE_EDGES = (lambda t: t**2 / (t**2 + (1 - t) ** 2))(np.linspace(0, 1, 400))


@dataclass(frozen=True)
class RowReading:
    """What was read of one piece: its density, and perhaps a conductivity and a magnet.

    `thickness_um` : of the usual disc of its volume. `other` : likelihood of "something else".
    """

    weighed: Weighed
    conductivity: ObservedConductivity | None
    magnet: ObservedMagnet | None
    thickness_um: float
    other: float

    @classmethod
    def of(cls, evidence: Evidence) -> RowReading | None:
        """What the tables need of all readings of a piece; None without a density. Conductivities have a rounded u."""
        volume, conductivity, magnet = evidence.volume, None, None
        if volume is None:
            return None
        for o in evidence.observed:
            if isinstance(o, ObservedConductivity):
                conductivity = replace(o, u=math.exp(U_STEP * round(math.log(o.u) / U_STEP)))
            elif isinstance(o, ObservedMagnet):
                magnet = o
        weighed = Weighed(volume.v, volume.u, volume.bubble)
        return cls(weighed, conductivity, magnet, evidence.form.thickness_um, evidence.other_likelihood())


@dataclass(frozen=True)
class Belief:
    """Probabilities for one piece: of systems, precious contents (metals, bins), and "something else".

    `point`, `weight` : body and probability of each row.
    `counted` : of what counts for the precious contents, that is, all that is believed at least 1 in 20.
    `solid` : of solid pieces of the claimed metal. `held` : of each caution, that the body holds enough for it.
    """

    system: Array
    point: Index
    weight: Array
    precious: Array
    counted: float
    other: float
    solid: float
    held: Mapping[tuple[str, float], float]


@dataclass(frozen=True, eq=False)
class Beliefs:
    """What is expected under one claim.

    Attributes
    ----------
    parts : tables, with the share of each of their kinds. other : share of "something else".
    systems : their metals. system : of each point; group : as claimed, finer, or its system (`find.counted`).
    slots : (systems, `SLOTS`) symbols
        in order of their greatest share; `cells` : (points, `SLOTS`) bins of the mass fractions.
    cautions : metal and percent of each caution; `harmful` : of each point, for which of them it holds enough, as
        binary digits. meets_claim : which points do.
    faces : the table of clad faces by class of thickness, in steps of `FACES_STEP`, if a meter looks through them.
    """

    parts: tuple[tuple[Segment, Array], ...]
    other: float
    systems: tuple[tuple[str, ...], ...]
    system: Index
    group: Index
    slots: NDArray[np.str_]
    cells: NDArray[np.uint16]
    symbols: tuple[str, ...]
    cautions: tuple[tuple[str, float], ...]
    harmful: Index
    meets_claim: Mask
    meter: Meter
    faces: Callable[[int], tuple[Segment, Array] | None]

    def of(self, r: RowReading) -> Belief:
        """Prior times likelihood over all rows near a reading, normalised."""
        by_v, by_rho = r.weighed.kernel(), None
        if r.conductivity is not None:
            by_rho = ratio_kernel(float(np.log(100 / r.conductivity.read)), r.conductivity.u)
        faces, r = self.faces(thickness_class(r.thickness_um, FACES_STEP)), self.meter.seen(r)
        parts = (*self.parts, faces) if faces else self.parts
        near = [(part, *_near(part, share, by_v, by_rho, r)) for part, share in parts]
        weight = np.concatenate([weight for _, _, weight in near])
        point = np.concatenate([part.point.take(rows) for part, rows, _ in near]).astype(np.intp)
        construction = np.concatenate([part.construction(rows) for part, rows, _ in near])
        precious = np.concatenate([part.precious.take(rows, axis=1) for part, rows, _ in near], axis=1)
        system, other = self.system.take(point), self.other * r.other
        total = weight.sum() + other
        weight = weight / total
        inserted = INSERTED.take(construction)
        solid = self.meets_claim.take(point) & ~inserted & (construction != HOLLOW)
        harmful = np.bincount(self.harmful.take(point), weight, 2 ** len(self.cautions))
        held = [harmful[_digit(k, len(harmful))].sum() for k in range(len(self.cautions))]
        group = np.where(inserted, FIRST_SYSTEM + system, self.group.take(point))
        likely = np.flatnonzero(counted(group, weight))
        content = np.bincount(
            precious.take(likely, axis=1).ravel().astype(np.intp),
            np.tile(weight.take(likely), 2),
            len(self.symbols) * len(PRECIOUS_BINS),
        )
        return Belief(
            np.asarray(np.bincount(system, weight, len(self.systems)), dtype=float),
            point,
            weight,
            np.asarray(content.reshape(len(self.symbols), -1), dtype=float),
            float(weight.take(likely).sum()),
            float(other / total),
            float(weight[solid].sum()),
            {caution: float(share) for caution, share in zip(self.cautions, held, strict=True)},
        )


def _digit(k: int, size: int) -> Mask:
    """Which of the numbers below `size` have the binary digit `k`."""
    return np.asarray((np.arange(size) >> k) % 2 == 1)


def _near(part: Segment, share: Array, by_v: Kernel, by_rho: Kernel | None, r: RowReading) -> tuple[Index, Array]:
    """Rows of a table near a reading, with prior times likelihood; those too light to matter are left out."""
    rows, likelihood = _likely(part, by_v, by_rho)
    edges = (share[:, None] * skin_edges(part.kinds, r.thickness_um)).ravel()
    weight = likelihood * (edges.take(part.above.take(rows)) - edges.take(part.below.take(rows)))
    if r.magnet is not None:
        weight *= _answering(part, rows, r.magnet, r.thickness_um)
    kept = np.flatnonzero(weight > LEFT_OUT * weight.mean()) if len(rows) else rows
    return rows.take(kept), weight.take(kept)


def _likely(part: Segment, by_v: Kernel, by_rho: Kernel | None) -> tuple[Index, NDArray[np.float32]]:
    """Rows in the blocks near a reading, with their likelihood times their share of their construction."""
    size = by_v.last - by_v.first
    band_v = np.repeat(np.arange(len(size)), size)
    block_v = _ranges_of(by_v.first, size)
    at_v = by_v.begin[band_v] + block_v * V_AXIS.size[band_v]
    band_rho = np.arange(len(RHO_AXIS.levels))[:, None]
    first, last = (by_rho.first, by_rho.last) if by_rho else (0 * band_rho[:, 0], 0 * band_rho[:, 0] + RHO_AXIS.blocks)
    low, high = (key_of(band_v, band_rho, block_v, x[:, None]).ravel() for x in (first, last))
    begin, end = np.searchsorted(part.keys, low), np.searchsorted(part.keys, high)
    blocks = _ranges_of(begin, end - begin)
    at_v, most = (np.repeat(np.tile(x, len(band_rho)), end - begin) for x in (at_v, by_v.most))
    most = most * part.mass.take(blocks)
    if by_rho is not None:
        of_rho, block_rho = (
            np.repeat(np.repeat(band_rho[:, 0], len(band_v)), end - begin),
            part.keys.take(blocks) % RHO_AXIS.blocks,
        )
        at_rho = by_rho.begin.take(of_rho) + block_rho * RHO_AXIS.size.take(of_rho)
        size = by_rho.last - by_rho.first
        most = most * by_rho.most.take((np.cumsum(size) - size - by_rho.first).take(of_rho) + block_rho)
    kept = np.flatnonzero(most > BLOCKS_LEFT_OUT * most.sum())
    blocks = blocks.take(kept)
    first = part.start.take(blocks)
    size = part.start.take(blocks + 1) - first
    rows = _ranges_of(first, size)
    weight = by_v.density.take(np.repeat(at_v.take(kept), size) + part.at_v.take(rows)) * part.weight.take(rows)
    if by_rho is not None:
        weight *= by_rho.density.take(np.repeat(at_rho.take(kept), size) + part.at_rho.take(rows))
    kept = np.flatnonzero(weight > LEFT_OUT * weight.mean()) if len(rows) else rows
    return rows.take(kept), weight.take(kept)


def _ranges_of(begin: Index, size: Index) -> Index:
    """The numbers of several ranges, one behind the other."""
    behind = np.cumsum(size)
    total = int(behind[-1]) if len(size) else 0
    return np.arange(total) + np.repeat(begin - behind + size, size)


def _answering(part: Segment, rows: Index, magnet: ObservedMagnet, thickness_um: float) -> NDArray[np.float32]:
    """Share of such rows whose magnet answer would be the one that was read; a thin skin is not felt."""
    shares = magnet.shares[:, magnet.answer].astype(np.float32)
    out = shares.take(part.magnetic.take(rows))
    skin = np.flatnonzero(part.skin_magnetic.take(rows))
    if len(skin):
        row = rows[skin]
        middle = (part.below[row] % X_EDGES + part.above[row] % X_EDGES) / 2 - 2
        um = thickness_um * np.exp(LN_X[0] + X_BIN * middle)
        out[skin] = shares[np.maximum(felt(part.skin_magnetic[row], um), part.magnetic[row])]
    return out


def conductivity_like(frequencies: tuple[float, ...], read: float = 10.0, u: float = 0.01) -> ObservedConductivity:
    """A conductivity reading [MS/m] by a meter with these frequencies [Hz]; without any, of the whole piece."""
    span = (100 / SPAN_UOHM_CM[1], 100 / SPAN_UOHM_CM[0])
    return ObservedConductivity("conductivity", "conductivity", "", "", read, u, span, "MS/m", frequencies, None, {})


def precious_symbols(tables: Tables) -> tuple[str, ...]:
    """The precious metals."""
    known = all_bodies(tables).law.index
    return tuple(s for s, m in tables.metals.items() if m.precious and s in known)


def thickness_class(thickness_um: float, step: float = THICKNESS_STEP) -> int:
    """Class of thickness of a piece."""
    return round(math.log(thickness_um / 1000) / math.log(step))


@dataclass(frozen=True)
class Meter:
    """What decides which table serves a reading.

    Attributes
    ----------
    frequencies : of the meter [Hz], empty for the whole piece; None if no conductivity was read.
    thickness : class of the thickness of the piece, which counts if a meter looks to a limited depth.
    """

    frequencies: tuple[float, ...] | None = None
    thickness: int = 0

    @classmethod
    def of(cls, reading: RowReading) -> Meter:
        """The meter by which a piece was read."""
        if reading.conductivity is None:
            return cls()
        frequencies = reading.conductivity.frequencies
        return cls(frequencies, thickness_class(reading.thickness_um) if frequencies else 0)

    def seen(self, reading: RowReading) -> RowReading:
        """The reading as one of a piece of the thickness for which the table is made.

        A skin of so many micrometers then has the share of belief that it should have. Its share of the volume is a
        little off, which matters less: skins that a meter looks through are thin.
        """
        return replace(reading, thickness_um=1000 * self.thickness_mm) if self.frequencies else reading

    @property
    def observed(self) -> ObservedConductivity | None:
        """A reading of such a meter."""
        return None if self.frequencies is None else conductivity_like(self.frequencies)

    @property
    def shows(self) -> int:
        """Which layers it can show."""
        return BODY if self.observed is None else self.observed.shows

    @property
    def thickness_mm(self) -> float:
        """Thickness [mm] in the middle of the class."""
        return float(THICKNESS_STEP**self.thickness)


@lru_cache(maxsize=12)
def _shared(tables: Tables, kind: str, prior: NamedPrior, meter: Meter) -> Segment:
    """The table for a kind of claim, without what a single claim adds; it is kept on disk."""
    text = OF_KIND[kind]
    beliefs = prior_of(tables, parse_claim(text, tables) if text else None, False, prior)
    bodies = all_bodies(tables)
    size = len(bodies.v)
    believed = tuple(
        replace(b, share=b.share[:size]) for b in _tabled(beliefs.levels[meter.shows], meter) if b.share[:size].any()
    )
    said = [kind, str(meter), prior_hash(tables, prior), digest(tables, {k.partition(".")[0] for k in tables.hashes()})]
    symbols = precious_symbols(tables)
    columns = kept(
        "batch",
        "\n".join(said),
        ROOMS,
        lambda: columns_of(bodies, beliefs.layers, believed, meter.observed, symbols, meter.thickness_mm),
    )
    return Segment(tuple(_without_bodies(b) for b in believed), **columns)


def _tabled(believed: tuple[Believed, ...], meter: Meter) -> list[Believed]:
    """What is expected, without clad faces if a meter looks through them."""
    return [b for b in believed if not (meter.frequencies and b.built.place is Place.FACES)]


def _without_bodies(b: Believed) -> Believed:
    """The construction without the share of each body, of which a table has no further need."""
    return replace(b, share=b.share.sum(keepdims=True))


@lru_cache(maxsize=128)
def beliefs_of(tables: Tables, claim: Claim | None, may_be_hollow: bool, prior: NamedPrior, meter: Meter) -> Beliefs:
    """What is expected under a claim, as readings by such a meter would show it."""
    whole, size = prior_of(tables, claim, may_be_hollow, prior), len(all_bodies(tables).v)
    shared = _shared(tables, claim.kind if claim else "none", prior, meter)
    believed = _tabled(whole.levels[meter.shows], meter)
    symbols = precious_symbols(tables)

    def made(own: list[Believed], thickness_mm: float) -> tuple[Segment, Array] | None:
        if not own:
            return None
        columns = columns_of(whole.bodies, whole.layers, tuple(own), meter.observed, symbols, thickness_mm)
        return Segment(tuple(_without_bodies(b) for b in own), **columns), np.array([b.share.sum() for b in own])

    @lru_cache(maxsize=128)
    def faces(thickness: int) -> tuple[Segment, Array] | None:
        clad = whole.levels[meter.shows] if meter.frequencies else ()
        return made([b for b in clad if b.built.place is Place.FACES and b.share.any()], FACES_STEP**thickness)

    parts = [(shared, _shares_of(shared, believed, size))]
    if own := made([_behind(b, size) for b in believed if b.share[size:].any()], meter.thickness_mm):
        parts.append(own)
    bodies = whole.bodies
    slots, cells = _compositions(bodies)
    cautions = tuple((r.metal, r.from_percent) for r in tables.rows("cautions"))
    harmful = sum(
        (_holding(bodies, *caution).astype(np.intp) << k for k, caution in enumerate(cautions)), 0 * bodies.system
    )
    return Beliefs(
        tuple(parts),
        whole.other,
        bodies.systems,
        bodies.system,
        group_of(whole.meets_claim, whole.finer, bodies.system),
        slots,
        cells,
        symbols,
        cautions,
        harmful,
        whole.meets_claim,
        meter,
        faces,
    )


def _shares_of(shared: Segment, believed: list[Believed], size: int) -> Array:
    """Share of each kind of a table under a claim; kinds of one construction and material differ in their spans."""
    of_kind = {(b.construction, b.skin, b.spans): float(b.share[:size].sum()) for b in believed}
    return np.array([of_kind[b.construction, b.skin, b.spans] for b in shared.kinds])


def _holding(bodies: Bodies, metal: str, from_percent: float) -> Mask:
    """Which bodies hold at least this share of a metal."""
    if metal not in bodies.law.index:
        return np.zeros(len(bodies.v), dtype=bool)
    return np.asarray(bodies.w[:, bodies.law.index[metal]] >= from_percent / 100 - 1e-9)


def _behind(b: Believed, size: int) -> Believed:
    """The expectation with the share of the bodies that a claim adds placed behind the first `size`."""
    return Believed(b.construction, b.skin, np.where(np.arange(len(b.share)) < size, 0.0, b.share), b.spans)


def _compositions(bodies: Bodies) -> tuple[NDArray[np.str_], NDArray[np.uint16]]:
    """The main metals of each system, and bins of their mass fractions in each point."""
    symbols = list(dict.fromkeys(s.removesuffix("-fcc") for s in bodies.law.symbols))
    w = bodies.share_of(np.arange(len(bodies.v)), symbols)
    by_system = np.argsort(bodies.system, kind="stable")
    present, begin = np.unique(bodies.system[by_system], return_index=True)
    most = np.zeros((len(bodies.systems), len(symbols)))
    most[present] = np.maximum.reduceat(w[by_system], begin)
    order = np.argsort(-most, axis=1, kind="stable")[:, :SLOTS]
    shown = np.take_along_axis(most, order, axis=1) >= SHOWN_FROM
    slots = np.where(shown, np.array(symbols)[order], "")
    cells = np.searchsorted(SHARE_EDGES, np.take_along_axis(w, order[bodies.system], axis=1), side="right") - 1
    return slots, np.clip(cells, 0, len(SHARE_EDGES) - 2).astype(np.uint16)
