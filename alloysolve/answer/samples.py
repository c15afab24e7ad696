"""Compositions with their construction, drawn from the posterior as a frame, for statistics of one's own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from ..arrays import Array, Index
from ..errors import InputError
from ..inference.find import Found
from ..inference.groups import with_one_iron
from ..pieces.constructions import CONSTRUCTIONS, Place
from .rows import SOMETHING_ELSE

if TYPE_CHECKING:
    import pandas as pd

MOST = 1_000_000
BODY, PIECE = "body", "piece"
OF = Literal["body", "piece"]


def samples_frame(s: Found, n: int, seed: int, of: OF) -> pd.DataFrame:
    """Frame with one row per draw; the columns are explained at `Solution.samples`."""
    import pandas as pd

    _check(n, seed, of)
    rows, bodies, layers = s.posterior.rows, s.posterior.bodies, s.posterior.layers
    drawn = _drawn(s.posterior.share, n, seed)
    known = drawn < len(rows.point)
    at = drawn[known]
    point, skin, parameter = rows.point[at], rows.skin[at], rows.parameter[at]
    built = [CONSTRUCTIONS[k] for k in rows.construction[at].tolist()]
    metals = {tuple(sorted(x.metals)): " ".join(x.metals) for x in s.found}
    systems = [metals.get(m, " ".join(m)) for m in (bodies.systems[k] for k in bodies.system[point].tolist())]
    names = [(layers.skin_name(k), layers.strike_name(k)) if k >= 0 else ("", "") for k in skin.tolist()]
    found: dict[str, Any] = {
        "construction": [b.name for b in built],
        "metals": systems,
        "family": [bodies.names[k] for k in bodies.family[point].tolist()],
        "skin": [name for name, _ in names],
        "strike": [strike for _, strike in names],
        "skin_um": np.where([b.by_thickness for b in built], parameter, np.nan),
        "void_percent": np.where([b.place is Place.VOID for b in built], 100 * parameter, np.nan),
        "part_percent": np.where([b.by_share for b in built], 100 * parameter, np.nan),
    }
    index = bodies.law.index
    w = 100 * _composition(s, at, of)
    found |= {f"{m}_percent": w[:, index[m]] for m in s.tables.metals if m in index and m != "Fe-fcc"}
    frame = pd.DataFrame(found, index=np.flatnonzero(known)).reindex(range(n))
    return frame.fillna({"construction": SOMETHING_ELSE} | dict.fromkeys(("metals", "family", "skin", "strike"), ""))


def _drawn(share: Array, n: int, seed: int) -> Index:
    """Numbers of rows drawn by their probability; the number behind the last stands for something else."""
    return np.asarray(np.searchsorted(np.cumsum(share), np.random.default_rng(seed).random(n), side="right"))


def _composition(s: Found, at: Index, of: OF) -> Array:
    """Mass fractions (draws, metals) of the bodies of some rows, or of the pieces with what is on or in them."""
    p = s.posterior
    w = p.bodies.w[p.rows.point[at]]
    if of == PIECE:
        pieces = p.rows.some(at).candidates(p.bodies, s.evidence)
        part = np.where(pieces.skin >= 0, pieces.mass_part, 0.0)[:, None]
        w = w * (1 - part) + p.layers.w[pieces.skin] * part
    return with_one_iron(w, p.bodies.law.index)


def _check(n: int, seed: int, of: str) -> None:
    for name, value, least in (("n", n, 1), ("seed", seed, 0)):
        if isinstance(value, bool) or not isinstance(value, int | np.integer) or not least <= value <= 2**63:
            raise InputError(name, value, f"a whole number from {least} on", "give it without decimals")
    if n > MOST:
        raise InputError("n", n, f"at most {MOST}", "draw several times, each with a seed of its own")
    if of not in (BODY, PIECE):
        raise InputError("of", of, "'body' or 'piece'", "'body' leaves out what is on or in it")
