"""Lists for libraries and research: every mixture of two or three metals that fits a density."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from ..alloys.bodies import RESISTIVITY_SCATTER
from ..alloys.law import MixingLaw, mixing_law, support_resistivity, support_volume
from ..arrays import Array, Index, usual_errors
from ..entry import chosen, shown
from ..errors import InputError
from ..physics.magnet import magnetic_class
from ..published.load import Tables, tables_in_use
from ..readings.reading import Reading
from ..readings.registry import read_reading
from .columns import shares_of_two
from .density import SCATTER, Volume, metals_of, volume_of
from .rays import Distance, Rays

if TYPE_CHECKING:
    import pandas as pd

    from ..integral.evidence import Evidence
    from ..readings.base import Observed


@usual_errors
def mixtures(
    density: Any,
    metals: Sequence[str] | None = None,
    sizes: Iterable[str] = ("pair", "triple"),
    tables: Tables | None = None,
    evidence: Evidence | Sequence[Reading] | None = None,
) -> pd.DataFrame:
    """Every pair and triple of metals that agrees with a density and other readings, with the ranges of its metals.

    A composition agrees if each reading lies within the 95 % range of reading and model at that very composition.

    Parameters
    ----------
    density : g/cm3 as number, text or `Measured`, or what `weigh` returns. A column of weighings gives one
        row per piece for the two metals named.
    metals : symbols, as a list or as text ("Cu Zn"); if left out, all metals of the tables that make bodies.
    sizes : "pair", "triple" or both.
    evidence : other readings, as ``[Conductivity("28 %IACS"), Magnet("none")]``; of one piece only. A conductivity
        narrows the ranges, and a magnet leaves out what it would or would not pull.

    Returns
    -------
    Frame of one piece, with a row per triple or interval of a pair: `kind`, `metals`, for each metal n of them
    `metal_n`, `metal_n_low_percent`, `metal_n_high_percent` (by mass), and `u_reading_g_cm3`, `u_model_g_cm3`, one
    standard uncertainty each, the second in the middle of the ranges.

    Frame of a column, with a row per piece on the index of the input: `X_low_percent`, `X_percent`, `X_high_percent` of
    each metal X, `u_reading_percent` and `u_model_percent` (standard uncertainties of the likely value, in points of
    mass percent), `u_reading_g_cm3`, `u_model_g_cm3`, `reaches` (whether the pair can have the density), and `reason`:
    "" if a row has values, "out_of_reach" if the pair has no such density, otherwise the code of the weighing.

    All candidates of one system share the uncertainty of the model: it does not average away.

    Raises
    ------
    InputError
        For an unknown metal, a column with other than two metals, or a density that cannot be used.

    Notes
    -----
    Ranges of 99 in 100 triples end within 0.2 points of the exact ones. Where two narrow readings leave a sliver beside
    a side of the triangle, an end can fall short by more, and a triple of which hardly two percent fit can be missed.

    >>> frame = mixtures("8.53 +- 0.01 g/cm3", ["Cu", "Zn"])  # 70 % copper: UNS C26000
    >>> frame[["metals", "metal_1_low_percent", "metal_1_high_percent"]].round(0).values.tolist()
    [['Cu Zn', 66.0, 74.0]]
    """
    tables = tables_in_use(tables)
    symbols, kinds = metals_of(metals, tables), frames_of(sizes)
    law, read = mixing_law(tables), volume_of(density)
    if read.v.ndim:
        if evidence is not None:
            raise InputError("evidence", shown(evidence), "no other readings beside a column", "call once per piece")
        return shares_of_two(read, symbols, law, getattr(density, "index", None), density.reason)
    import pandas as pd

    rays = _rays(law, read, _evidence(evidence, tables))
    return pd.concat([f(law, read, rays, symbols) for f in kinds], ignore_index=True)


def frames_of(sizes: Any) -> list[Callable[[MixingLaw, Volume, Rays, list[str]], pd.DataFrame]]:
    """What makes the frame of pairs and that of triples, of those that are asked for."""
    of_size = {"pair": _pairs, "triple": _triples}
    words = chosen(sizes, of_size, "sizes", "sizes")
    if not words:
        raise InputError("sizes", None, '"pair", "triple" or both', "name one of them")
    return [frame for size, frame in of_size.items() if size in words]


def _evidence(given: Evidence | Sequence[Reading] | None, tables: Tables) -> Evidence | None:
    from ..integral.evidence import Evidence

    if given is None or isinstance(given, Evidence):
        return given
    if isinstance(given, Reading | str) or not isinstance(given, Iterable):
        raise InputError("evidence", shown(given), "a list of readings", 'write for example [Magnet("none")]')
    from ..inference.observe import evidence_of
    from ..inputs.piece import Piece
    from ..inputs.settings import Settings

    readings = [read_reading(one, f"evidence[{i}]") for i, one in enumerate(given)]
    found = evidence_of(Piece(reading=readings), Settings(), tables, None) if readings else None
    unused = [o.name for o in found.observed if not o.tells_bare] if found else []
    if unused:
        raise InputError("evidence", unused[0], "readings of a bare body: conductivity, magnet", "leave the others out")
    return found


def _rays(law: MixingLaw, read: Volume, evidence: Evidence | None) -> Rays:
    def density(metals: Index, parts: Array) -> Array:
        return read.apart(*support_volume(law, metals, parts))

    def told_by(observed: Observed) -> Distance:
        place = law.index

        def distance(metals: Index, parts: Array) -> Array:
            rho, u = support_resistivity(law, metals, parts)
            shares = (np.where(metals == place[s], parts, 0.0).sum(axis=-1) for s in ("Fe", "Ni", "Co"))
            return observed.from_bare(rho, np.hypot(u, RESISTIVITY_SCATTER), magnetic_class(*shares))

        return distance

    observed = evidence.observed if evidence else ()
    return Rays(density, tuple(told_by(o) for o in observed if o.tells_bare))


def _supports(law: MixingLaw, metals: list[str], size: int) -> Index:
    """Numbers in the law of the metals of all pairs or triples, (supports, size)."""
    at = [law.index[m] for m in metals]
    return np.array(list(itertools.combinations(at, size)), dtype=np.intp).reshape(-1, size)


def _pairs(law: MixingLaw, read: Volume, rays: Rays, metals: list[str]) -> pd.DataFrame:
    """One row per interval of each pair."""
    supports = _supports(law, metals, 2)
    found = rays.intervals(supports)
    low, high = (np.stack([1 - b, a], axis=1) for a, b in ((found.start, found.end), (found.end, found.start)))
    return _frame("pair", law, read, supports[found.of], low, high, (low + high) / 2)


def _triples(law: MixingLaw, read: Volume, rays: Rays, metals: list[str]) -> pd.DataFrame:
    """One row per triple."""
    supports = _supports(law, metals, 3)
    found = rays.ranges(supports)
    return _frame("triple", law, read, supports[found.of], found.low, found.high, found.middle)


def _frame(
    kind: str, law: MixingLaw, read: Volume, supports: Index, low: Array, high: Array, middle: Array
) -> pd.DataFrame:
    """Frame with a row per support: its metals, their ranges, and both uncertainties of the density."""
    import pandas as pd

    names, density = np.array(law.symbols, dtype=object)[supports], 1 / float(read.v)
    columns: dict[str, Any] = {"kind": kind, "metals": [" ".join(row) for row in names]}
    for n in range(3):
        there = n < supports.shape[1]
        columns |= {
            f"metal_{n + 1}": names[:, n] if there else np.nan,
            f"metal_{n + 1}_low_percent": 100 * low[:, n] if there else np.nan,
            f"metal_{n + 1}_high_percent": 100 * high[:, n] if there else np.nan,
        }
    _, model = support_volume(law, supports, middle)
    u = {"u_reading_g_cm3": float(read.u) * density**2, "u_model_g_cm3": np.hypot(model, SCATTER) * density}
    return pd.DataFrame(columns | u, index=range(len(supports)))
