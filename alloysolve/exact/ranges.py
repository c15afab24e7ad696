"""Any number of metals under readings and limits: the range of each, and the nearest composition."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from numbers import Real
from typing import TYPE_CHECKING, Any

import numpy as np

from ..alloys.bodies import RESISTIVITY_SCATTER
from ..alloys.law import MixingLaw, mixing_law, sub_law
from ..alloys.xray import lines_of
from ..arrays import Array, usual_errors
from ..entry import shown
from ..errors import InputError
from ..inference.claimed import claim_bodies
from ..inputs.claim import parse_claim
from ..inputs.settings import Settings
from ..measured import K95
from ..physics.eddy import ADJUSTED
from ..published.load import Tables, tables_in_use
from ..readings.conductivity import Conductivity
from ..readings.x_rays.intensities import SEEN_SHARE, U_ENDS, U_MIDDLE, U_READING, WHOLE_FROM
from ..readings.x_rays.surface import NOT_DETECTED, SurfaceComposition
from .cuts import at_least as least_of
from .cuts import at_most as most_of
from .cuts import mixture_within, nearest_within, ranges_within, ratio
from .density import BUBBLES, SCATTER, metals_of, volume_of
from .programs import Constraint, Curve, Mixture

if TYPE_CHECKING:
    import pandas as pd

Limits = Mapping[str, float] | None
Ratios = Mapping[tuple[str, str], tuple[float, float]] | None
CLOSED = 0.95  # share of a composition that the named metals must make up; rounding and what is not listed


@usual_errors
def bounds(
    density: Any = None,
    metals: Sequence[str] | None = None,
    at_least: Limits = None,
    at_most: Limits = None,
    ratios: Ratios = None,
    without: Sequence[str] = (),
    conductivity: Any = None,
    surface: Any = None,
    tables: Tables | None = None,
) -> pd.DataFrame:
    """Range of each of any number of metals in a body that agrees with readings and keeps to limits.

    The ranges come from linear programs. Density and resistivity are curved in the composition: they are linearised
    about the last solution, and the result is checked against the curves themselves.

    Parameters
    ----------
    density : g/cm3 as number, text or `Measured`, or what `weigh` returns for one piece; or None.
    metals : symbols of the metals that may be in the body; if left out, all that make bodies.
    at_least, at_most : mass percent by symbol. ratios : (symbol, symbol) -> (least, most) of their masses.
    without : symbols that are not in it, to be named if this leads to a contradiction.
    conductivity : of the body, as text ("28 %IACS", "6.2 uohm cm") or `Conductivity`.
    surface : of a bare body, whose surface is its body: text ("Ag 92.4 Cu 7.3 Zn <0.2") or `SurfaceComposition`.
        Shares are those among the metals it lists (among all that X-rays see, if it prints less than 90 %); a
        metal that it does not list is unconstrained, not zero.

    Returns
    -------
    Frame with the columns `metal`, `low_percent`, `high_percent` (by mass), one row per metal: what the 95 % range of
    each reading and of its model allows, each taken at the composition itself.

    Raises
    ------
    SolverError
        If nothing keeps all limits, naming a smallest set that contradicts itself; if a solver fails.

    Notes
    -----
    Ranges are never too wide. The search is local, from several starts: where the curves turn inside the region, ranges
    can come out too narrow, by some points if a reading is met in two separate places.

    >>> bounds("8.53 +- 0.01 g/cm3", ["Cu", "Zn"], at_least={"Zn": 28}).round(0)  # 30 % zinc: 8.53 (UNS C26000)
      metal  low_percent  high_percent
    0    Cu         66.0          72.0
    1    Zn         28.0          34.0
    """
    import pandas as pd

    tables = tables_in_use(tables)
    chosen = metals_of(metals, tables)
    found = ranges_within(_mixture(density, chosen, at_least, at_most, ratios, without, conductivity, surface, tables))
    return pd.DataFrame({"metal": chosen, "low_percent": 100 * found.low, "high_percent": 100 * found.high})


@usual_errors
def nearest(
    claim: str,
    density: Any = None,
    metals: Sequence[str] | None = None,
    at_least: Limits = None,
    at_most: Limits = None,
    ratios: Ratios = None,
    without: Sequence[str] = (),
    conductivity: Any = None,
    surface: Any = None,
    tables: Tables | None = None,
) -> pd.DataFrame:
    """How far the body must be from a claim or a published grade, given what was read.

    Of all compositions that agree with the readings and keep to the limits, the one with the least sum of squared
    differences in mass fraction from what the claim allows (a quadratic program, linearised as in `bounds`).

    Parameters
    ----------
    claim : what the piece is said to be ("silver 925"), or the name or designation of a row of grades.csv ("C26000").
    metals : symbols that may be in the body; those of the claim when left out.
    others : readings and limits as in `bounds`, with its errors and validity. The composition found is never nearer
        than the nearest one, and can be a farther one where the curves turn.

    Returns
    -------
    Frame with the columns `metal`, `claim_percent` (of the nearest composition that the claim allows),
    `nearest_percent` and `apart_percent` (nearest less claim, in points).

    >>> nearest("silver 925", "10.10 +- 0.01 g/cm3", ["Ag", "Cu"]).round(0)
      metal  claim_percent  nearest_percent  apart_percent
    0    Ag           92.0             82.0          -10.0
    1    Cu            8.0             18.0           10.0
    """
    import pandas as pd

    tables = tables_in_use(tables)
    claimed = _claimed(claim, tables)
    chosen = metals_of(list(claimed) if metals is None else metals, tables)
    mixture = _mixture(density, chosen, at_least, at_most, ratios, without, conductivity, surface, tables)
    none = np.zeros(len(next(iter(claimed.values()))))
    allowed = np.column_stack([claimed.get(s, none) for s in chosen])
    allowed = allowed[allowed.sum(axis=1) >= CLOSED]
    if not len(allowed):
        raise InputError("metals", " ".join(chosen), f'the metals of "{claim}": {" ".join(claimed)}', "add the others")
    centre, found = _nearest(mixture, allowed / allowed.sum(axis=1, keepdims=True))
    return pd.DataFrame(
        {
            "metal": chosen,
            "claim_percent": 100 * centre,
            "nearest_percent": 100 * found,
            "apart_percent": 100 * (found - centre),
        }
    )


def _nearest(mixture: Mixture, allowed: Array) -> tuple[Array, Array]:
    """The pair of a composition that is allowed and one in the mixture that lie nearest, found by turns."""
    centre, seen = allowed.mean(axis=0), set()
    while True:
        found = nearest_within(mixture, centre, np.ones(len(centre)))
        k = int(((allowed - found) ** 2).sum(axis=1).argmin())
        if k in seen:
            return allowed[k], found
        seen.add(k)
        centre = allowed[k]


def _claimed(text: str, tables: Tables) -> dict[str, Array]:
    """Mass fractions (n,) of each metal in the compositions that a claim allows or that a grade has."""
    grade = next((g for g in tables.grades.values() if text in (g.name, *g.designation.split(" / "))), None)
    if grade is not None:
        whole = sum(grade.composition.values())
        return {symbol: np.array([percent / whole]) for symbol, percent in grade.composition.items()}
    bodies = claim_bodies(tables, parse_claim(text, tables))
    if bodies is None:
        raise InputError("claim", text, "a claim on a solid metal, or a grade", 'write "silver 925" or "C26000"')
    symbols = [s for s in bodies.law.symbols if s in tables.metals]
    share = bodies.share_of(np.arange(len(bodies.v)), symbols)
    order = np.argsort(-share.mean(axis=0), kind="stable")
    return {symbols[k]: share[:, k] for k in order if share[:, k].max() > 0}


def _mixture(
    density: Any,
    chosen: list[str],
    at_least: Limits,
    at_most: Limits,
    ratios: Ratios,
    without: Sequence[str],
    conductivity: Any,
    surface: Any,
    tables: Tables,
) -> Mixture:
    """The named metals, under everything that was given."""
    whole = mixing_law(tables)
    law = sub_law(whole, np.array([whole.index[s] for s in chosen], dtype=np.intp))
    limits: list[Constraint | Curve] = list(_linear(chosen, at_least or {}, at_most or {}, ratios or {}, without))
    limits += _surface(surface, chosen, tables) if surface is not None else []
    limits += _conductivity(conductivity, law) if conductivity is not None else []
    limits += _density(density, law) if density is not None else []
    if not limits:
        raise InputError("density", None, "a reading or a limit", "give a density, or what else is known")
    return mixture_within(len(chosen), limits)


def _known(symbols: Sequence[str] | Mapping[str, Any], chosen: list[str], path: str) -> None:
    for s in symbols:
        if s not in chosen:
            raise InputError(path, s, "metals among " + " ".join(chosen), "add it to metals, or leave it out")


def _linear(
    chosen: list[str],
    least: Mapping[str, float],
    most: Mapping[str, float],
    ratios: Mapping[tuple[str, str], tuple[float, float]],
    without: Sequence[str],
) -> list[Constraint]:
    """Linear constraints from least and greatest shares, ratios and metals that are left out."""
    size, place = len(chosen), {s: i for i, s in enumerate(chosen)}
    rules: list[Constraint] = []
    for path, given, of, words in (("at_least", least, least_of, "at least"), ("at_most", most, most_of, "at most")):
        _known(given, chosen, path)
        for s, p in given.items():
            if isinstance(p, bool) or not isinstance(p, Real) or not 0 <= p <= 100:
                raise InputError(f"{path}.{s}", p, "mass percent from 0 to 100", "mend it")
            rules.append(of(size, place[s], p / 100, f"{s} {words} {p:g} %"))
    for pair, ends in ratios.items():
        low, high = _ratio(pair, ends)
        _known(pair, chosen, "ratios")
        rules += ratio(size, place[pair[0]], place[pair[1]], low, high, f"{':'.join(pair)} {low:g} to {high:g}")
    without = [without] if isinstance(without, str) else without
    _known(without, chosen, "without")
    return rules + [most_of(size, place[s], 0.0, f"without {s}") for s in without]


def _ratio(pair: Any, ends: Any) -> tuple[float, float]:
    """Least and greatest ratio of two metals."""
    two = isinstance(pair, tuple) and len(pair) == 2 and pair[0] != pair[1]
    if two and isinstance(ends, tuple | list) and len(ends) == 2 and all(isinstance(x, Real) for x in ends):
        low, high = ends
        if 0 <= low <= high < math.inf:
            return float(low), float(high)
    step = 'write for example {("Cu", "Zn"): (1.5, 3)}'
    raise InputError("ratios", shown(f"{pair}: {ends}"), "two metals, with least and most of their ratio", step)


def _density(given: Any, law: MixingLaw) -> list[Curve]:
    """Limits on v, as a share of v as read: the 95 % range of the reading and of the mixing law at that composition."""
    reading = volume_of(given)
    if reading.v.ndim:
        raise InputError("density", f"{len(reading.v)} pieces", "one piece", "call once for each, as in weighed[0]")
    v, u, bubble = (float(x) for x in (reading.v, reading.u, reading.bubble))
    name = f"density {1 / v:.4g} g/cm3"

    def half(w: Array) -> Array:
        model = np.hypot(law.u_pairs(w), SCATTER)
        return np.asarray(K95 * np.hypot(u / v, model))

    return [
        Curve(name, lambda w: law.specific_volume(w) / v + half(w), low=1 - BUBBLES * bubble / v),
        Curve(name, lambda w: law.specific_volume(w) / v - half(w), high=1.0),
    ]


def _conductivity(given: Any, law: MixingLaw) -> list[Curve]:
    """Curve that keeps ln of the resistivity within the 95 % range of the reading and of the rule for alloys."""
    reading = given if isinstance(given, Conductivity) else Conductivity(given)
    own = reading.u / reading.value if reading.u else Settings().readings.conductivity.u.value
    own = math.hypot(own, ADJUSTED if reading.kind == "conductivity" else 0.0)  # a meter is adjusted on bare metals
    read, name = math.log(reading.resistivity), f"{reading.kind} {reading.text}"

    def ends(w: Array, sign: float) -> Array:
        rho, u = law.resistivity_of(w)
        return np.asarray(np.log(rho) + sign * K95 * np.hypot(own, np.hypot(u, RESISTIVITY_SCATTER)))

    return [Curve(name, lambda w: ends(w, 1.0), low=read), Curve(name, lambda w: ends(w, -1.0), high=read)]


def _surface(given: Any, chosen: list[str], tables: Tables) -> list[Constraint]:
    """Limits from the printed shares of a bare body, each within its 95 % range, among the metals that are seen.

    With S the sum of the metals it tells apart, low S <= w_i <= high S is linear. S itself is at least the share from
    which an instrument prints anything at all.
    """
    reading = given if isinstance(given, SurfaceComposition) else SurfaceComposition(given, path="surface")
    below = {s: NOT_DETECTED for s in reading.listed or () if s not in reading.shares} | dict(reading.below)
    whole = reading.total >= WHOLE_FROM
    lines = lines_of(tables)
    seen = {s for s, visible in zip(lines.symbols, lines.seen, strict=True) if visible}
    told = {*reading.shares, *below} | (set() if whole else seen)
    _known([s for s in reading.shares if reading.shares[s] > 1.0], chosen, "surface")
    among = np.array([float(s in told) for s in chosen])
    name = f"surface {reading.text}"
    rules = [Constraint(name, tuple(among), low=SEEN_SHARE)]
    for s in chosen:
        if s not in told or (s not in reading.shares and s not in below):
            continue
        share = reading.shares.get(s, 0.0) * (100 / reading.total if whole else 1.0)
        own = reading.u or U_READING[0] + U_READING[1] * share
        room = K95 * math.hypot(own, U_ENDS + U_MIDDLE * 4 * share / 100 * (1 - min(share, 100.0) / 100))
        low, high = (share - room, share + room) if s in reading.shares else (-math.inf, below[s] + room)
        unit = np.array([float(x == s) for x in chosen])
        rules.append(Constraint(name, tuple(unit - high / 100 * among), high=0.0))
        if low > 0:
            rules.append(Constraint(name, tuple(unit - low / 100 * among), low=0.0))
    return rules
