"""Lists for libraries and research: every mixture and every construction that fits a density."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..alloys.bodies import NOT_A_BODY, RESISTIVITY_SCATTER
from ..alloys.law import MixingLaw, mixing_law, support_properties
from ..arrays import Array, Index, Mask
from ..errors import InputError
from ..measured import K95, Measured
from ..physics.magnet import magnetic_class
from ..published.load import Tables, default_tables
from ..weighing.weigh import Weighing, Weighings, from_density
from .pairs import edge_intervals, mixing_terms, pair_intervals
from .triples import triple_ranges

if TYPE_CHECKING:
    import pandas as pd

    from ..answer.solution import Solution
    from ..integral.evidence import Evidence
    from ..readings.base import Reading


PAIR_STEPS, TRIPLE_STEPS = 401, 12  # of sampled compositions, along a pair and an edge of a triple
SAMPLES_AT_ONCE = 100_000
SCATTER = 0.003  # relative scatter of published alloys about the mixing law, besides that of the pair terms
BUBBLES = 3.0  # times the mean bubble: the 95 % limit (exponential, so 1 in 20 is larger)


@dataclass(frozen=True)
class _Reading:
    """Limits of the specific volume by the reading alone, with its standard uncertainty."""

    v: Array
    u: Array
    bubble: Array

    def limits(self, model: Array) -> tuple[Array, Array]:
        """95 % limits of the specific volume [cm3/g] once the relative scatter of the model is included."""
        half = K95 * np.hypot(self.u, model * self.v)
        return self.v - half - BUBBLES * self.bubble, self.v + half


def reading_of(density: Any) -> _Reading:
    """A density in any of the forms that the public functions accept, as limits of the specific volume."""
    if isinstance(density, Weighing | Weighings):
        return _Reading(*(np.asarray(x, dtype=float) for x in (density.v, density.u_v, density.bubble_v)))
    if isinstance(density, Measured | str | float | int):
        w = from_density(density)
        return _Reading(np.asarray(w.v), np.asarray(w.u_v), np.asarray(w.bubble_v))
    raise InputError(
        "density",
        type(density).__name__,
        "a number, text, Measured, or what weigh() returns",
        "pass weigh(...) or Measured(value, u, 'g/cm3')",
    )


def usable_metals(tables: Tables) -> list[str]:
    """Symbols of the metals that mixtures are made of when none are named."""
    return [s for s in tables.metals if s not in NOT_A_BODY]


def mixtures(
    density: Any,
    metals: Sequence[str] | None = None,
    sizes: Iterable[str] = ("pair", "triple"),
    tables: Tables | None = None,
    evidence: Evidence | Sequence[Reading] | None = None,
) -> pd.DataFrame:
    """Every pair and triple of metals that can have a density, with the ranges of its components.

    The ranges are exact for the scatter that is common to all mixtures. Where a pair is poorly known, they are widened
    by those sampled compositions that fit: every 0.25 % of a pair and every twelfth of a triple.

    Parameters
    ----------
    density : g/cm3 as number, text or `Measured`, or what `weigh` returns. A column of weighings gives one
        row per piece for the two metals named.
    metals : symbols; if left out, all metals of the tables that make bodies.
    sizes : "pair", "triple" or both.
    evidence : other readings that must agree, as ``[Conductivity("28 %IACS"), Magnet("none")]``; of one piece only.

    Returns
    -------
    Frame of one piece, with a row per triple or interval of a pair: `kind`, `metals`, for each metal n of them
    `metal_n`, `metal_n_low_percent`, `metal_n_high_percent` (by mass, over the 95 % interval of reading and model), and
    `u_reading_g_cm3`, `u_model_g_cm3`, one standard uncertainty each.

    Frame of a column, with a row per piece on the index of the input: `X_low_percent`, `X_percent`, `X_high_percent` of
    each metal X, `u_reading_percent` and `u_model_percent` (standard uncertainties of the likely value, in points of
    mass percent), `u_reading_g_cm3`, `u_model_g_cm3`, `reaches` (whether the pair can have the density), and `reason`:
    "" if a row has values, "out_of_reach" if the pair has no such density, otherwise the code of the weighing.

    All candidates of one system share the uncertainty of the model: it does not average away.

    Raises
    ------
    InputError
        For an unknown metal, a column with other than two metals, or a density that cannot be used.

    >>> frame = mixtures("8.53 +- 0.01 g/cm3", ["Cu", "Zn"])  # 70 % copper: UNS C26000
    >>> frame[["metals", "metal_1_low_percent", "metal_1_high_percent"]].round(0).values.tolist()
    [['Cu Zn', 66.0, 74.0]]
    """
    tables = tables or default_tables()
    chosen = list(metals) if metals is not None else usable_metals(tables)
    check_metals(chosen, tables)
    law = mixing_law(tables)
    reading = reading_of(density)
    if reading.v.ndim:
        return _series(reading, chosen, law, getattr(density, "index", None), density.reason)
    listed = _Listing(law, chosen, reading, _evidence(evidence, tables))
    rows = [*(listed.pairs() if "pair" in sizes else ()), *(listed.triples() if "triple" in sizes else ())]
    import pandas as pd

    columns = (
        ["kind", "metals"]
        + [f"{n}{e}" for n in ("metal_1", "metal_2", "metal_3") for e in ("", "_low_percent", "_high_percent")]
        + ["u_reading_g_cm3", "u_model_g_cm3"]
    )
    return pd.DataFrame(rows, columns=columns)


def _evidence(given: Evidence | Sequence[Reading] | None, tables: Tables) -> Evidence | None:
    from ..integral.evidence import Evidence

    if given is None or isinstance(given, Evidence):
        return given
    from ..inference.observe import evidence_of
    from ..inputs.piece import Piece
    from ..inputs.settings import Settings

    return evidence_of(Piece(reading=list(given)), Settings(), tables, None) if given else None


def check_metals(chosen: list[str], tables: Tables) -> None:
    """Refuses symbols that are in no table, naming the nearest known one, and fewer than two metals."""
    from difflib import get_close_matches

    for s in chosen:
        if s not in tables.metals:
            near = get_close_matches(s, tables.metals, 1, 0.0)
            raise InputError("metals", s, "symbols of metals.csv", f'the nearest known is "{near[0]}"')
    if len(set(chosen)) < 2:
        raise InputError("metals", chosen, "at least two different metals", "name another one")


@dataclass(frozen=True)
class _Sampled:
    """Whether each sampled composition fits, and the relative scatter of the model there; (supports, compositions)."""

    fits: Mask
    scatter: Array


def _joined(exact: list[tuple[float, float]], part: Array, fits: Mask) -> list[tuple[float, float]]:
    """Exact intervals together with runs of sampled compositions that fit; overlapping ones are merged."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], fits, [False]]).astype(int)))
    runs = [(float(part[a]), float(part[b - 1])) for a, b in edges.reshape(-1, 2)]
    known = sorted([(float(a), float(b)) for a, b in exact if not np.isnan(a)] + runs)
    out: list[tuple[float, float]] = []
    gap = 1.5 * float(part[1] - part[0])
    for a, b in known:
        if out and a <= out[-1][1] + gap:
            out[-1] = (out[-1][0], max(out[-1][1], b))
        else:
            out.append((a, b))
    return out


class _Listing:
    """Pairs and triples of some metals, compared with one reading."""

    def __init__(self, law: MixingLaw, metals: list[str], reading: _Reading, evidence: Evidence | None) -> None:
        self.law, self.metals, self.reading, self.evidence = law, metals, reading, evidence
        at = [law.index[m] for m in metals]
        self.at = np.array(at)
        self.terms = (
            law.molar_volume[at],
            law.molar_mass[at],
            law.k0[np.ix_(at, at)],
            law.k1[np.ix_(at, at)],
        )

    def _supports(self, size: int) -> Index:
        """Numbers of the metals of all pairs or triples, (supports, size)."""
        return np.array(list(itertools.combinations(range(len(self.metals)), size)), dtype=np.intp).reshape(-1, size)

    def pairs(self) -> list[dict[str, Any]]:
        """One row per interval of each pair."""
        supports = self._supports(2)
        lo, hi = pair_intervals(*self.terms, *self.reading.limits(np.asarray(SCATTER)))
        part = np.linspace(0, 1, PAIR_STEPS)
        sampled = self._sampled(supports, np.stack([part, 1 - part], axis=1))
        rows = []
        for k, support in enumerate(supports):
            for a, b in _joined(list(zip(lo[k], hi[k], strict=True)), part, sampled.fits[k]):
                ends = np.array([[a, 1 - a], [(a + b) / 2, 1 - (a + b) / 2], [b, 1 - b]])
                if self._agrees(support, ends):
                    scatter = float(np.interp((a + b) / 2, part, sampled.scatter[k]))
                    rows.append(self._row("pair", support, [(a, b), (1 - b, 1 - a)], scatter))
        return rows

    def triples(self) -> list[dict[str, Any]]:
        """One row per triple."""
        supports = self._supports(3)
        place = {int(a): k for k, a in enumerate(self.at)}
        beside = [
            (place[i], place[j], place[third], least, change)
            for i, j, third, least, change in self.law.conditional
            if {i, j, third} <= set(place)
        ]
        exact = triple_ranges(*self.terms, *self.reading.limits(np.asarray(SCATTER)), beside)
        corners = (
            np.array(
                [(a, b, TRIPLE_STEPS - a - b) for a in range(TRIPLE_STEPS + 1) for b in range(TRIPLE_STEPS + 1 - a)]
            )
            / TRIPLE_STEPS
        )
        sampled = self._sampled(supports, corners)
        rows = []
        for k in np.flatnonzero(exact.reaches | sampled.fits.any(axis=1)):
            points = corners[sampled.fits[k]]
            known = [points, exact.low[[k]], exact.high[[k]]] if exact.reaches[k] else [points]
            low, high = np.nanmin(np.concatenate(known), axis=0), np.nanmax(np.concatenate(known), axis=0)
            inside = np.concatenate([points, exact.inside[[k]]]) if exact.reaches[k] else points
            if self._agrees(supports[k], inside):
                scatter = float(sampled.scatter[k, np.argmin(((corners - inside[-1]) ** 2).sum(axis=1))])
                rows.append(self._row("triple", supports[k], list(zip(low, high, strict=True)), scatter))
        return rows

    def _sampled(self, supports: Index, parts: Array) -> _Sampled:
        """Which sampled compositions of each support fit within the scatter of the model at that very composition.

        The exact ranges hold for the scatter that is common to all mixtures. Where the pair terms are poorly known, the
        sampled compositions that fit widen them. At a pure metal the scatter of the pair terms vanishes.
        """
        count, size = len(supports), len(parts)
        fits, scatter = np.zeros((count, size), dtype=bool), np.full((count, size), SCATTER)
        middle = support_properties(self.law, self.at[supports], np.full(supports.shape, 1 / supports.shape[1]))
        poorly = np.flatnonzero(middle.u_v > SCATTER)
        for some in np.array_split(poorly, max(1, len(poorly) * size // SAMPLES_AT_ONCE)):
            metals = np.repeat(self.at[supports[some]], size, axis=0)
            p = support_properties(self.law, metals, np.tile(parts, (len(some), 1)))
            local = np.hypot(p.u_v, SCATTER)
            low, high = self.reading.limits(local)
            fits[some] = ((p.v >= low) & (p.v <= high)).reshape(len(some), size)
            scatter[some] = local.reshape(len(some), size)
        return _Sampled(fits, scatter)

    def _agrees(self, support: Index, parts: Array) -> bool:
        """Whether the other readings agree with at least one of some compositions of a support."""
        observed = self.evidence.observed if self.evidence else ()
        if not observed:
            return True
        w = np.zeros((len(parts), len(self.law.symbols)))
        w[:, self.at[support]] = parts
        rho, u = self.law.resistivity_of(w)
        index = self.law.index
        magnetic = magnetic_class(w[:, index["Fe"]], w[:, index["Ni"]], w[:, index["Co"]])
        return all(o.fits_some(rho, np.hypot(u, RESISTIVITY_SCATTER), magnetic) for o in observed)

    def _row(self, kind: str, support: Index, ranges: Sequence[tuple[float, float]], scatter: float) -> dict[str, Any]:
        density = 1 / float(self.reading.v)
        row: dict[str, Any] = {"kind": kind, "metals": " ".join(self.metals[i] for i in support)}
        for n, (i, (low, high)) in enumerate(zip(support, ranges, strict=True), start=1):
            row |= {
                f"metal_{n}": self.metals[i],
                f"metal_{n}_low_percent": 100 * low,
                f"metal_{n}_high_percent": 100 * high,
            }
        return row | {
            "u_reading_g_cm3": float(self.reading.u) * density**2,
            "u_model_g_cm3": float(scatter) * density,
        }


def _series(
    reading: _Reading, metals: list[str], law: MixingLaw, index: Any, reason: NDArray[np.object_]
) -> pd.DataFrame:
    """Frame with one row per piece: the shares of two metals."""
    import pandas as pd

    if len(metals) != 2:
        raise InputError("metals", metals, "two metals for a column of pieces", "call once per piece for more")
    at = [law.index[m] for m in metals]
    terms = mixing_terms(law.molar_volume[at], law.molar_mass[at], law.k0[np.ix_(at, at)], law.k1[np.ix_(at, at)])
    size = len(reading.v)
    a, b = np.zeros(size, dtype=np.intp), np.ones(size, dtype=np.intp)
    known = ~np.isnan(reading.v)
    v = np.where(known, reading.v, 1.0)
    exact, _ = edge_intervals(terms, a, b, v, v)
    likely = exact[:, 0]
    w = np.zeros((size, len(law.symbols)))
    w[:, at[0]] = np.where(np.isnan(likely), 0.5, likely)
    w[:, at[1]] = 1 - w[:, at[0]]
    model = np.hypot(law.u_pairs(w), SCATTER)
    lo, hi = reading.limits(model)
    low, high = edge_intervals(terms, a, b, np.where(known, lo, 1.0), np.where(known, hi, 1.0))
    reaches = ~np.isnan(low[:, 0]) & known
    columns: dict[str, Any] = {}
    for name, least, middle, most in (
        (metals[0], low[:, 0], likely, np.fmax.reduce(high, axis=1)),
        (metals[1], 1 - np.fmax.reduce(high, axis=1), 1 - likely, 1 - low[:, 0]),
    ):
        for suffix, values in (("_low_percent", least), ("_percent", middle), ("_high_percent", most)):
            columns[name + suffix] = np.where(reaches, 100 * values, np.nan)
    slope = np.where(reaches & ~np.isnan(likely), np.abs(_slope(law, w, *at)), np.nan)
    columns |= {
        "u_reading_percent": 100 * reading.u / slope,
        "u_model_percent": 100 * model * v / slope,
        "u_reading_g_cm3": reading.u / v**2,
        "u_model_g_cm3": np.where(known, model / v, np.nan),
        "reaches": reaches,
        "reason": np.where(known & ~reaches, "out_of_reach", reason.astype(str)),
    }
    return pd.DataFrame(columns, index=index)


def _slope(law: MixingLaw, w: Array, first: int, second: int) -> Array:
    """Change of the specific volume of each row with the mass fraction of the first of two metals [cm3/g]."""
    away, unit = 1e-4, np.zeros(w.shape[1])
    unit[first], unit[second] = 1.0, -1.0
    forward = np.where(w[:, [first]] < 0.5, away, -away) * unit
    return np.asarray((law.specific_volume(w + forward) - law.specific_volume(w)) / forward[:, first])


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

    solution = solve(Piece(density=density, claim=claim, **piece), Settings(), tables or default_tables())
    return all_that_fits(solution, set(only))


def all_that_fits(solution: Solution, only: set[str]) -> pd.DataFrame:
    """The frame of `constructions`, for a piece that is already solved."""
    from dataclasses import replace

    import pandas as pd

    from ..alloys.bodies import all_bodies
    from .constructions import fitting_constructions, fitting_frame

    bodies, prior, evidence = all_bodies(solution.tables), solution.prior, solution.evidence
    of_some = [b for b in prior.levels[evidence.shows] if not b.built.of_any_body]
    # any body may be bare, hollow or under a skin; faces, slugs, joined parts and surfaces only where they are expected
    every = [replace(b, share=np.ones(len(bodies.v))) for b in prior.plain if b.built.of_any_body]
    frames = [
        fitting_frame(of, evidence.layers, fitting_constructions(of, evidence, possible), only)
        for of, possible in ((bodies, every), (prior.bodies, of_some))
    ]
    return pd.concat([f for f in frames if len(f)] or frames[:1], ignore_index=True)
