"""What lies under a skin, from a reading of the surface: the core that was printed, and how deep the reading sees."""

from __future__ import annotations

import math

import numpy as np

from ...alloys.materials import Layers
from ...alloys.xray import Lines
from ...arrays import Array, Index, distinct
from ...physics import fluorescence


def core_under(
    lines: Lines, columns: Index, intensity: Array, thick: Array, layers: Layers, skin: int
) -> tuple[float, dict[str, float]] | None:
    """Thickness [um] of a skin, and mass fractions of the core under it, for which exactly the reading is printed.

    Parameters
    ----------
    columns : of the metals that were printed, in `lines`. intensity, thick : of their lines, as read and on a thick
        piece of the skin, over those of the pure metals.

    All printed metals except that of the skin belong to the core. The intensity of the skin gives that of the lines of
    the core for a thickness, and with them C_e of a bare core. The fractions obey ``w_e = C_e sum_a X_ae w_a / X_ee``:
    the thickness is right if the largest eigenvalue of that matrix is 1, and the fractions are its vector. The result
    is None if no thickness from 0.01 to 200 um is right.
    """
    own, into = lines.own[columns], lines.into[:, columns]
    of_skin = layers.w[skin, own] > 0
    if not of_skin.any() or of_skin.all():
        return None
    taken = layers.w[skin] @ into
    main, core = int(np.flatnonzero(of_skin)[0]), np.flatnonzero(~of_skin)
    absorbed = into[np.ix_(own[core], core)]

    def mixing(log_um: float) -> Array:
        passed = np.exp(-taken * np.exp(log_um) * 1e-4 / layers.v[skin])
        bare = intensity[core] / passed[core] * thick[main] * (1 - passed[main]) / intensity[main]
        return np.asarray((bare / np.diagonal(absorbed))[:, None] * absorbed.T)

    def excess(log_um: float) -> float:
        return float(np.linalg.eigvals(mixing(log_um)).real.max()) - 1.0

    low, high = math.log(0.01), math.log(200.0)
    above = excess(high) > 0
    if (excess(low) > 0) == above:
        return None
    while high - low > 1e-9:
        log_um = (low + high) / 2
        low, high = (low, log_um) if (excess(log_um) > 0) == above else (log_um, high)
    values, vectors = np.linalg.eig(mixing(log_um))
    w = np.abs(vectors[:, values.real.argmax()].real)
    symbols = [lines.symbols[k] for k in columns[core]]
    return float(np.exp(log_um)), {s: float(x) for s, x in zip(symbols, w / w.sum(), strict=True)}


def seen_through(lines: Lines, columns: Index, layers: Layers, skin: int, core: Array) -> float:
    """Thickness [um] of a skin from which on a core moves the printed shares by less than 0.1 %.

    A skin of which nothing is printed, such as lacquer, hides no core: infinite.
    """
    read = lines.own[columns]
    if not layers.w[skin, read].any():
        return math.inf
    used = distinct(np.concatenate([read, np.flatnonzero(core > 0), np.flatnonzero(layers.w[skin])]))
    column = {int(own): k for k, own in enumerate(lines.own)}
    square = np.full((len(used), len(used)), np.nan)
    for n, metal in enumerate(used):
        if int(metal) in column:
            square[:, n] = lines.into[used, column[int(metal)]]
    seen = np.isin(used, read)
    dense = float(1 / layers.v[skin])
    return float(fluorescence.seen_depth(layers.w[skin, used], dense, core[used], square, listed=seen))
