"""The result of a weighing, of one piece or of a column of pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..measured import Measured
from .budget import PartOfBudget
from .hydrostatic import Columns
from .repeats import BudgetRow

if TYPE_CHECKING:
    import pandas as pd

SHOWN_ROWS = 20  # of a column in a notebook


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Repeats that lie further apart than chance allows: how far, and how far is allowed [g].

    `odd_g` : the one that lies away from the others, if one does. `left_out` : whether that one is not used.
    """

    apart_g: float
    allowed_g: float
    odd_g: float | None
    left_out: bool


@dataclass(frozen=True, slots=True)
class Weighing:
    """The density of one piece, and where its uncertainty comes from.

    Parameters
    ----------
    density : g/cm3 as read, with u (without bubbles) and the skewed 95 % range (the upper limit with them).
    v, u_v : specific volume as read and its standard uncertainty without bubbles [cm3/g]; u_v is enlarged
        so that 1.96 u_v is the 95 % point of Student's t where repeats are few.
    bubble_v : mean of the one-sided term [cm3/g]: v may be too large by it, never too small.
    dof : effective degrees of freedom (Welch-Satterthwaite).
    mass_g, body_g : reading in air, and the same without the named parts; None for a direct density.
    displaced_g, displaced_mm3 : mass of liquid displaced, as read, and the volume of the body.
    liquid, air : densities used [g/cm3]; None if nothing was weighed in a liquid.
    budget : causes in the order of reading them.
    notes : codes of remarks. route : "weighing", "density" or "dimensions".
    factor : on the specific volume, from a known-good piece.
    disagreement : of repeats that lie further apart than chance allows, or None.

    >>> from alloysolve import weigh
    >>> round(weigh(31.18, 3.64).density.value, 2)  # 31.18 g displace 3.64 g of water
    8.54
    """

    density: Measured
    v: float
    u_v: float
    bubble_v: float
    dof: float
    mass_g: float | None
    body_g: float | None
    displaced_g: float | None
    displaced_mm3: float | None
    liquid: float | None
    air: float | None
    budget: tuple[BudgetRow, ...]
    notes: tuple[str, ...] = ()
    route: str = "weighing"
    factor: float = 1.0
    disagreement: Disagreement | None = None

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td>{escape(r.part)}</td><td>{r.size:.2g} {escape(r.unit)}</td><td>{r.moves_percent:.2g} %</td></tr>"
            for r in self.budget
        )
        return f"<p>{escape(str(self.density))}</p><table>{rows}</table>"


@dataclass(frozen=True, slots=True)
class Weighings:
    """`Weighing` over a column of pieces: the same names hold arrays, and ``[i]`` is one `Weighing`.

    A piece that cannot be used has `nan` and a code in `reason`; nothing is dropped.
    """

    columns: Columns
    index: Any = None

    def __len__(self) -> int:
        return len(self.columns.v)

    def __getitem__(self, i: int) -> Weighing:
        return single(self.columns, i)

    @property
    def density(self) -> Array:
        """Density as read [g/cm3], (pieces,)."""
        return self.columns.density

    @property
    def v(self) -> Array:
        """Specific volume as read [cm3/g], (pieces,)."""
        return self.columns.v

    @property
    def u_v(self) -> Array:
        """Standard uncertainty of `v` without bubbles [cm3/g], (pieces,)."""
        return self.columns.u_v

    @property
    def bubble_v(self) -> Array:
        """Mean of the one-sided term of `v` [cm3/g], (pieces,)."""
        return self.columns.bubble_v

    @property
    def mass_g(self) -> Array:
        """Mean reading in air [g], (pieces,)."""
        return self.columns.mass_g

    @property
    def reason(self) -> NDArray[np.object_]:
        """Code that says why a piece has no result, or "", (pieces,)."""
        return self.columns.reason

    def _repr_html_(self) -> str:
        return str(self.frame().to_html(max_rows=SHOWN_ROWS))

    def frame(self) -> pd.DataFrame:
        """All results as a frame on the index of the input.

        Its columns are `mass_g`, `displaced_g` as read; `density_g_cm3`, with its 95 % range `density_low_g_cm3`,
        `density_high_g_cm3`, and `u_density_g_cm3` (without bubbles); `specific_volume_cm3_g`,
        `u_specific_volume_cm3_g`, `bubble_specific_volume_cm3_g` (mean of the one-sided
        term); `dof`; and `reason`, a code where there is no result.
        """
        import pandas as pd

        c = self.columns
        return pd.DataFrame(
            {
                "mass_g": c.mass_g,
                "displaced_g": c.displaced_g,
                "density_g_cm3": c.density,
                "density_low_g_cm3": c.low,
                "density_high_g_cm3": c.high,
                "u_density_g_cm3": c.density**2 * c.u_v,
                "specific_volume_cm3_g": c.v,
                "u_specific_volume_cm3_g": c.u_v,
                "bubble_specific_volume_cm3_g": c.bubble_v,
                "dof": c.dof,
                "reason": c.reason,
            },
            index=self.index,
        )


@dataclass(frozen=True, slots=True)
class ReferencePiece:
    """A known-good piece weighed in the same way: its density [g/cm3] with u, and its readings."""

    density: float
    u: float
    mass: Any
    displaced: Any


def budget_rows(rows: Sequence[PartOfBudget], i: int) -> tuple[BudgetRow, ...]:
    """The causes that count for piece `i`."""
    return tuple(
        BudgetRow(r.part, float(r.size[i]), r.unit, 100 * float(r.relative[i]), r.one_sided)
        for r in rows
        if r.relative[i] > 0
    )


def _disagreement(c: Columns, i: int) -> Disagreement | None:
    a = c.agreed
    if a is None or not np.isfinite(a.apart[i]):
        return None
    odd = float(a.odd[i]) if np.isfinite(a.odd[i]) else None
    return Disagreement(float(a.apart[i]), float(a.allowed[i]), odd, bool(a.left_out[i]))


def single(c: Columns, i: int, notes: tuple[str, ...] = ()) -> Weighing:
    """Piece `i` of the columns as a `Weighing`."""
    rho, u_v = float(c.density[i]), float(c.u_v[i])
    density = Measured(rho, rho**2 * u_v, "g/cm3", float(c.low[i]), float(c.high[i]), float(c.dof[i]))
    codes = tuple(code for code, holds in c.notes.items() if holds[i])
    return Weighing(
        density,
        float(c.v[i]),
        u_v,
        float(c.bubble_v[i]),
        float(c.dof[i]),
        float(c.mass_g[i]),
        float(c.body_g[i]),
        float(c.displaced_g[i]),
        float(c.displaced_mm3[i]),
        float(c.liquid[i]),
        c.air,
        budget_rows(c.rows, i),
        codes + notes,
        factor=c.factor,
        disagreement=_disagreement(c, i),
    )
