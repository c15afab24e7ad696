"""Probabilities for many pieces from one table: what claims of one kind share, and what each claim adds."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..alloys.bodies import Bodies, all_bodies
from ..arrays import Array, Index, Mask
from ..inference.believed import Believed, Spans, share_below, spans_up_to
from ..inference.evidence import Evidence
from ..inference.find import FIRST_SYSTEM, counted, group_of
from ..inference.groups import SHOWN_FROM
from ..inference.prior import prior_of
from ..inference.windows import MOST_SKIN
from ..inputs.claim import Claim, parse_claim
from ..pieces.shape import USUAL_RATIO, Form
from ..published.load import Tables
from ..readings.conductivity import SPAN_UOHM_CM, ObservedConductivity
from ..readings.magnet import ObservedMagnet, felt
from .kernels import Weighed, ratio_kernel
from .table import BANDS, LN_RHO, LN_X, PRECIOUS_BINS, RHO_BIN, RHO_BINS, X_BIN, X_EDGES, Segment, segment

FINE, COARSE = 0.01, 0.02  # steps of ln(v) between nodes
COARSE_FROM = 0.006  # relative uncertainty of a weighing from which the coarse table is enough
LEFT_OUT = 1e-2  # share of the mean weight of the rows at hand below which a row is left out
THICKNESS_STEP = 1.4  # from one class of thickness to the next
U_STEP = 0.02  # uncertainties of conductivities are rounded to this step of their logarithm, to share kernels
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
    """Probabilities for one piece: of systems, precious contents (metals, bins), "something else"; point weights.

    `counted` : of what counts for the precious contents, that is, all that is believed at least 1 in 20.
    """

    system: Array
    point: Array
    precious: Array
    counted: float
    other: float


@dataclass(frozen=True, eq=False)
class Beliefs:
    """What is expected under one claim.

    Attributes
    ----------
    parts : tables, with the share of each of their kinds. other : share of "something else".
    systems : their metals. system : of each point; group : as claimed, finer, or its system (`find.counted`).
    points : points in order of their system; `begin` : where each system begins. slots : (systems, `SLOTS`) symbols
        in order of their greatest share; `cells` : (points, `SLOTS`) bins of the mass fractions.
    harmful : by metal and percent of a caution, which points hold so much. meets_claim : which points do.
    """

    parts: tuple[tuple[Segment, NDArray[np.float32]], ...]
    other: float
    systems: tuple[tuple[str, ...], ...]
    system: Index
    group: Index
    points: Index
    begin: Index
    slots: NDArray[np.str_]
    cells: NDArray[np.uint16]
    symbols: tuple[str, ...]
    harmful: Mapping[tuple[str, float], Array]
    meets_claim: Mask

    def holds(self, belief: Belief, metal: str, from_percent: float) -> float:
        """Probability that the body holds at least this share of a metal that a caution names."""
        return _probability(belief, self.harmful[metal, from_percent])

    def meeting(self, belief: Belief) -> float:
        """Probability that the body meets the claim, whatever is over, inside or beside it."""
        return _probability(belief, self.meets_claim)

    def of(self, r: RowReading) -> Belief:
        """Prior times likelihood over all rows near a reading, normalised."""
        kernels = r.weighed.kernels(self.parts[0][0].bins)
        found = [_near(part, share, skin_edges(part.kinds, r.thickness_um), kernels, r) for part, share in self.parts]
        point, inserted, first, second, weight = (np.concatenate(x) for x in zip(*found, strict=True))
        size = len(self.symbols) * len(PRECIOUS_BINS)
        system = np.asarray(np.bincount(self.system.take(point), weight, len(self.systems)), dtype=float)
        other = self.other * r.other
        total = weight.sum() + other
        group = np.where(inserted, FIRST_SYSTEM + self.system.take(point), self.group.take(point))
        likely = np.flatnonzero(counted(group, weight / total))
        first, second, of_likely = first.take(likely), second.take(likely), weight.take(likely)
        precious = np.bincount(first, of_likely, size) + np.bincount(second, of_likely, size)
        return Belief(
            system / total,
            np.asarray(np.bincount(point, weight, len(self.system)), dtype=float),
            precious.reshape(len(self.symbols), -1) / total,
            float(of_likely.sum() / total),
            other / total,
        )


def _probability(belief: Belief, of_points: Array | Mask) -> float:
    """Probability of some points, whose shares are given, "something else" included in the whole."""
    known = float(belief.point.sum())
    return float(belief.point @ of_points) / known * (1 - belief.other) if known else 0.0


def _near(
    part: Segment,
    share: NDArray[np.float32],
    edges: NDArray[np.float32],
    kernels: list[tuple[NDArray[np.float32], int, int]],
    r: RowReading,
) -> tuple[Index, Mask, Index, Index, Array]:
    """Point, inserts, precious contents, and prior times likelihood of the rows of a table near a reading.

    Rows too light to matter are left out.
    """
    near = [_heavy(part, band, *kernel) for band, kernel in enumerate(kernels)]
    rows, weight = (np.concatenate(x) for x in zip(*near, strict=True))
    if r.conductivity is not None and len(rows):
        # rows lie in the middle of their bins; between two bins of the kernel it is linear
        whole, rest = divmod((np.log(100 / r.conductivity.read) - LN_RHO[0]) / RHO_BIN - 0.5, 1.0)
        kernel_of, at = ratio_kernel(r.conductivity.u)[RHO_BINS - int(whole) - 1 :], part.at_rho.take(rows)
        weight *= np.float32(1 - rest) * kernel_of[1:].take(at) + np.float32(rest) * kernel_of.take(at)
        kept = np.flatnonzero(weight > LEFT_OUT * weight.mean())
        weight, rows = weight.take(kept), rows.take(kept)
    kind = part.kind.take(rows)
    weight *= share.take(kind) * (edges[kind, part.above.take(rows)] - edges[kind, part.below.take(rows)])
    if r.magnet is not None:
        weight *= _answering(part, rows, r.magnet, r.thickness_um)
    first_of, second_of = (column.take(rows).astype(np.intp) for column in part.precious)
    inserted = np.array([b.built.inserted for b in part.kinds]).take(kind)
    return part.point.take(rows).astype(np.intp), inserted, first_of, second_of, weight.astype(float)


def _heavy(
    part: Segment, band: int, kernel: NDArray[np.float32], first: int, last: int
) -> tuple[Index, NDArray[np.float32]]:
    """Rows of one band near a density, with its likelihood times their share of their construction."""
    begin, end = int(part.start[band][first]), int(part.start[band][last])
    weight = kernel.take(part.at_v[begin:end] - first * (BANDS[band + 1] - BANDS[band])) * part.weight[begin:end]
    rows = np.flatnonzero(weight > LEFT_OUT * weight.mean()) if end > begin else np.zeros(0, dtype=np.intp)
    return rows + begin, weight.take(rows)


def _answering(part: Segment, rows: Index, magnet: ObservedMagnet, thickness_um: float) -> NDArray[np.float32]:
    """Share of such rows whose magnet answer would be the one that was read; a thin skin is not felt."""
    shares = magnet.shares[:, magnet.answer].astype(np.float32)
    out = shares.take(part.magnetic.take(rows))
    skin = np.flatnonzero(part.skin_magnetic.take(rows))
    if len(skin):
        row = rows[skin]
        middle = (part.below[row].astype(float) + part.above[row]) / 2 - 2
        um = thickness_um * np.exp(LN_X[0] + X_BIN * middle)
        out[skin] = shares[np.maximum(felt(part.skin_magnetic[row], um), part.magnetic[row])]
    return out


def skin_edges(kinds: Iterable[Believed], thickness_um: float) -> NDArray[np.float32]:
    """Prior share below each edge of ln(thickness over that of the piece), by kind of row; the first two: no skin."""
    step = round(float(np.log(thickness_um)) / X_BIN)
    return np.stack([_edges(b.spans if b.built.by_thickness else (), step) for b in kinds])


@lru_cache(maxsize=1024)
def _edges(spans: Spans, ln_thickness: int) -> NDArray[np.float32]:
    """`skin_edges` for a piece whose thickness is rounded to steps of its logarithm as fine as the edges."""
    thickness_um = float(np.exp(X_BIN * ln_thickness))
    form = Form("disc", (USUAL_RATIO * thickness_um / 1000, thickness_um / 1000), measured=False)
    thickest = float(form.skin_um(MOST_SKIN))
    ln_um = np.log(thickness_um) + LN_X[0] + X_BIN * np.arange(X_EDGES - 2)
    below = share_below(spans_up_to(spans, thickest), ln_um)
    return np.concatenate([[0.0, 1.0], below]).astype(np.float32)


def conductivity_like(frequencies: tuple[float, ...], read: float = 10.0, u: float = 0.01) -> ObservedConductivity:
    """A conductivity reading [MS/m] by a meter with these frequencies [Hz]; without any, of the whole piece."""
    span = (100 / SPAN_UOHM_CM[1], 100 / SPAN_UOHM_CM[0])
    return ObservedConductivity("conductivity", "conductivity", "", "", read, u, span, "MS/m", frequencies, None, {})


def precious_symbols(tables: Tables) -> tuple[str, ...]:
    """The precious metals."""
    known = all_bodies(tables).law.index
    return tuple(s for s, m in tables.metals.items() if m.precious and s in known)


def thickness_class(thickness_um: float) -> int:
    """Class of thickness of a piece."""
    return round(math.log(thickness_um / 1000) / math.log(THICKNESS_STEP))


@dataclass(frozen=True)
class Meter:
    """What decides which table serves a reading.

    Attributes
    ----------
    frequencies : of the meter [Hz], none for the whole piece. thickness : class of the thickness of the piece, which
        counts if a meter looks to a limited depth. coarse : whether the coarse table is enough.
    """

    frequencies: tuple[float, ...] = ()
    thickness: int = 0
    coarse: bool = False

    @classmethod
    def of(cls, frequencies: tuple[float, ...], thickness_um: float, u: float) -> Meter:
        """A meter for frequencies, a thickness and a relative u of density; several frequencies need a large table."""
        of_class = thickness_class(thickness_um) if frequencies else 0
        return cls(frequencies, of_class, u > COARSE_FROM or len(frequencies) > 1)

    @property
    def thickness_mm(self) -> float:
        """Thickness [mm] in the middle of the class."""
        return float(THICKNESS_STEP**self.thickness)

    @property
    def step(self) -> float:
        """Step of ln(v) between nodes."""
        return COARSE if self.coarse else FINE


@lru_cache(maxsize=12)
def _shared(tables: Tables, kind: str, prior: str, meter: Meter) -> Segment:
    """The table for a kind of claim, without what a single claim adds."""
    text = OF_KIND[kind]
    beliefs = prior_of(tables, parse_claim(text, tables) if text else None, False, prior)
    observed = conductivity_like(meter.frequencies)
    base, size = all_bodies(tables), len(all_bodies(tables).v)
    believed = [Believed(b.construction, b.skin, b.share[:size], b.spans) for b in beliefs.levels[observed.shows]]
    return segment(
        base,
        beliefs.layers,
        tuple(b for b in believed if b.share.any()),
        observed,
        meter.step,
        precious_symbols(tables),
        meter.thickness_mm,
    )


@lru_cache(maxsize=128)
def beliefs_of(tables: Tables, claim: Claim | None, may_be_hollow: bool, prior: str, meter: Meter) -> Beliefs:
    """What is expected under a claim, as readings by such a meter would show it."""
    whole, size = prior_of(tables, claim, may_be_hollow, prior), len(all_bodies(tables).v)
    shared = _shared(tables, claim.kind if claim else "none", prior, meter)
    observed = conductivity_like(meter.frequencies)
    believed = whole.levels[observed.shows]
    of_kind = {(b.construction, b.skin): float(b.share[:size].sum()) for b in believed}
    parts = [(shared, np.array([of_kind[b.construction, b.skin] for b in shared.kinds], np.float32))]
    own = [_behind(b, size) for b in believed if b.share[size:].any()]
    if own:
        extra = segment(
            whole.bodies, whole.layers, tuple(own), observed, meter.step, precious_symbols(tables), meter.thickness_mm
        )
        parts.append((extra, np.array([b.share.sum() for b in own], np.float32)))
    bodies, count = whole.bodies, len(whole.bodies.systems)
    slots, cells = _compositions(bodies)
    harmful = {(r.metal, r.from_percent): _holding(bodies, r.metal, r.from_percent) for r in tables.rows("cautions")}
    points = np.argsort(bodies.system, kind="stable")
    return Beliefs(
        tuple(parts),
        whole.other,
        bodies.systems,
        bodies.system,
        group_of(whole.meets_claim, whole.finer, bodies.system),
        points,
        np.searchsorted(bodies.system[points], np.arange(count + 1)),
        slots,
        cells,
        precious_symbols(tables),
        harmful,
        whole.meets_claim,
    )


def _holding(bodies: Bodies, metal: str, from_percent: float) -> Array:
    """1 for each body that holds at least this share of a metal, else 0."""
    if metal not in bodies.law.index:
        return np.zeros(len(bodies.v))
    return np.where(bodies.w[:, bodies.law.index[metal]] >= from_percent / 100 - 1e-9, 1.0, 0.0)


def _behind(b: Believed, size: int) -> Believed:
    """The expectation with the share of the bodies that a claim adds placed behind the first `size`."""
    return Believed(b.construction, b.skin, np.where(np.arange(len(b.share)) < size, 0.0, b.share), b.spans)


def _compositions(bodies: Bodies) -> tuple[NDArray[np.str_], NDArray[np.uint16]]:
    """The main metals of each system, and bins of their mass fractions in each point."""
    symbols = list(dict.fromkeys(s.removesuffix("-fcc") for s in bodies.law.symbols))
    w = bodies.share_of(np.arange(len(bodies.v)), symbols)
    most = np.zeros((len(bodies.systems), len(symbols)))
    np.maximum.at(most, bodies.system, w)
    order = np.argsort(-most, axis=1, kind="stable")[:, :SLOTS]
    shown = np.take_along_axis(most, order, axis=1) >= SHOWN_FROM
    slots = np.where(shown, np.array(symbols)[order], "")
    cells = np.searchsorted(SHARE_EDGES, np.take_along_axis(w, order[bodies.system], axis=1), side="right") - 1
    return slots, np.clip(cells, 0, len(SHARE_EDGES) - 2).astype(np.uint16)
