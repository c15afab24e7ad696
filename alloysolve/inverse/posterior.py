"""Shares of belief over joint rows: by system, by candidate, ranges, precious content."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..measured import Measured
from .bodies import Bodies
from .constructions import PLATED, Rows

Array = NDArray[np.float64]
Index = NDArray[np.intp]

ALIKE = 3.0  # likelihood ratio within which two candidates cannot be told apart
SHOWN_FROM = 0.01  # mass fraction from which a metal's range is given
MINOR = 0.005


@dataclass(frozen=True)
class Candidate:
    """A construction of one system with its free parameters.

    Attributes
    ----------
    metals : the system, base metal first. construction : word of `constructions.CONSTRUCTIONS`.
    skin : symbol of the skin metal or "". family : the family that carries most of it.
    probability : share of belief. evidence : mean likelihood over its own prior (for Bayes factors).
    ranges : symbol -> (low, likely, high) mass percent of the body.
    skin_um, void_percent : (low, likely, high) or None. grades : nearest published grades.
    """

    metals: tuple[str, ...]
    construction: str
    skin: str
    family: str
    probability: float
    evidence: float
    ranges: Mapping[str, tuple[float, float, float]]
    skin_um: tuple[float, float, float] | None
    void_percent: tuple[float, float, float] | None
    grades: tuple[str, ...]


@dataclass(frozen=True)
class System:
    """A metal system with all its candidates together."""

    metals: tuple[str, ...]
    probability: float
    evidence: float
    bayes_factor_against_next: float
    alike: bool  # cannot be told apart from the first by these readings
    ranges: Mapping[str, tuple[float, float, float]]
    grades: tuple[str, ...]
    candidates: tuple[Candidate, ...]


def quantiles(values: Array, weight: Array, at: Iterable[float] = (0.025, 0.5, 0.975)) -> tuple[float, ...]:
    """Weighted quantiles: the value at which the cumulated weight passes each share."""
    order = np.argsort(values)
    cumulated = np.cumsum(weight[order])
    places = np.searchsorted(cumulated, np.asarray(tuple(at)) * cumulated[-1])
    return tuple(float(values[order[min(i, len(order) - 1)]]) for i in places)


@dataclass(frozen=True)
class Posterior:
    """Rows with their shares of belief; `other` is the share of "something else".

    `prior_of` : total prior share by (construction, system number, skin number).
    """

    bodies: Bodies
    rows: Rows
    share: Array
    other: float
    other_evidence: float
    prior_of: Mapping[tuple[int, int, int], float]

    @classmethod
    def of(cls, bodies: Bodies, rows: Rows, prior_of: Mapping[tuple[int, int, int], float],
           other_prior: float, other_likelihood: float) -> Posterior:  # fmt: skip
        """Normalises prior times likelihood over all rows and "something else"."""
        weight = rows.weight
        total = weight.sum() + other_prior * other_likelihood
        return cls(bodies, rows, weight / total, other_prior * other_likelihood / total, other_likelihood,
                   prior_of)  # fmt: skip

    def systems(self, down_to: float = 1e-4) -> list[System]:
        """Systems in order of probability, down to a share of belief."""
        system = self.bodies.system[self.rows.point]
        shares = np.bincount(system, self.share, minlength=len(self.bodies.systems))
        order = [int(s) for s in np.argsort(-shares, kind="stable") if shares[s] >= down_to]
        evidence = {s: self._evidence(lambda key, s=s: key[1] == s, system == s) for s in order}
        best = evidence[order[0]] if order else 0.0
        out = []
        for place, s in enumerate(order):
            following = evidence[order[place + 1]] if place + 1 < len(order) else self.other_evidence
            mask = system == s
            out.append(System(
                self._metals(mask), float(shares[s]), evidence[s],
                evidence[s] / following if following > 0 else float("inf"),
                bool(best / ALIKE <= evidence[s] <= best * ALIKE) and place > 0,
                self._ranges(mask), self._grades(mask), tuple(self._candidates(mask)),
            ))  # fmt: skip
        return out

    def _evidence(self, chosen, mask: NDArray[np.bool_]) -> float:  # type: ignore[no-untyped-def]
        prior = sum(p for key, p in self.prior_of.items() if chosen(key))
        return float(self.rows.weight[mask].sum() / prior) if prior > 0 else 0.0

    def _candidates(self, mask: NDArray[np.bool_]) -> Iterable[Candidate]:
        """Candidates of one system in order of probability."""
        from .constructions import CONSTRUCTIONS

        rows = self.rows
        keys = np.stack([rows.construction, rows.skin], axis=1)[mask]
        found = []
        for construction, skin in {tuple(map(int, k)) for k in np.unique(keys, axis=0)}:
            own = mask & (rows.construction == construction) & (rows.skin == skin)
            share = float(self.share[own].sum())
            system = int(self.bodies.system[rows.point[own][0]])
            evidence = self._evidence(lambda key, k=(construction, system, skin): key == k, own)
            parameter = quantiles(rows.parameter[own], self.share[own])
            found.append(Candidate(
                self._metals(own), CONSTRUCTIONS[construction], self._skin_symbol(skin), self._family(own), share,
                evidence, self._ranges(own), parameter if construction == PLATED else None,
                tuple(100 * p for p in parameter) if construction == 2 else None,  # type: ignore[arg-type]
                self._grades(own),
            ))  # fmt: skip
        return sorted(found, key=lambda c: -c.probability)

    def _skin_symbol(self, skin: int) -> str:
        return self.bodies.law.symbols[skin] if skin >= 0 else ""

    def _family(self, mask: NDArray[np.bool_]) -> str:
        shares = np.bincount(self.bodies.family[self.rows.point[mask]], self.share[mask])
        return self.bodies.names[int(np.argmax(shares))]

    def _metals(self, mask: NDArray[np.bool_]) -> tuple[str, ...]:
        """The metals of the system, the richest first."""
        point = self.rows.point[mask]
        metals = self.bodies.systems[int(self.bodies.system[point[0]])]
        mean = self.share[mask] @ self._of_symbols(point, metals)
        return tuple(metals[i] for i in np.argsort(-mean, kind="stable"))

    def _of_symbols(self, point: Index, metals: Iterable[str]) -> Array:
        """Mass fractions of some metals; iron counts in both its forms."""
        law = self.bodies.law
        columns = []
        for s in metals:
            w = self.bodies.w[point, law.index[s]]
            other = f"{s}-fcc"
            columns.append(w + self.bodies.w[point, law.index[other]] if other in law.index else w)
        return np.stack(columns, axis=1)

    def _ranges(self, mask: NDArray[np.bool_]) -> dict[str, tuple[float, float, float]]:
        """95 % ranges [percent] of the metals of the body that matter, the richest first."""
        point, share = self.rows.point[mask], self.share[mask]
        symbols = [s for s in self.bodies.law.symbols if not s.endswith("-fcc")]
        w = self._of_symbols(point, symbols)
        mean = share @ w / share.sum()
        out = {}
        for i in np.argsort(-mean, kind="stable"):
            if mean[i] < SHOWN_FROM / 4:
                break
            low, likely, high = quantiles(100 * w[:, i], share)
            if high >= 100 * SHOWN_FROM:
                out[symbols[i]] = (low, likely, high)
        return out

    def _grades(self, mask: NDArray[np.bool_], most: int = 3) -> tuple[str, ...]:
        """Published grades that carry the most belief."""
        number = self.bodies.grade[self.rows.point[mask]]
        named = number >= 0
        if not named.any():
            return ()
        shares = np.bincount(number[named], self.share[mask][named])
        return tuple(self.bodies.grades[int(i)] for i in np.argsort(-shares)[:most] if shares[i] > 0)

    def precious(self, symbols: Iterable[str], skin_mass_share: Array, mass_g: float | None) -> dict[str, Measured]:
        """Content of each precious metal over all that fits: 95 % range, in grams where the mass is known.

        "Something else" has no composition and is left out.
        """
        out = {}
        for s in symbols:
            if s not in self.bodies.law.index:
                continue
            part = self.bodies.w[self.rows.point, self.bodies.law.index[s]] * (1 - skin_mass_share)
            part = part + np.where(self.rows.skin == self.bodies.law.index[s], skin_mass_share, 0.0)
            low, likely, high = quantiles(part, self.share)
            if high < MINOR / 10:
                continue
            scale, unit = (mass_g, "g") if mass_g else (100.0, "%")
            mean = float(self.share @ part / self.share.sum())
            u = float(np.sqrt(self.share @ (part - mean) ** 2 / self.share.sum()))
            out[s] = Measured(likely * scale, u * scale, unit, low * scale, high * scale)
        return out

    def holds(self, symbol: str, from_percent: float) -> float:
        """Share of belief in bodies that hold at least so much of a metal."""
        if symbol not in self.bodies.law.index:
            return 0.0
        w = self.bodies.w[self.rows.point, self.bodies.law.index[symbol]]
        return float(self.share[w >= from_percent / 100 - 1e-9].sum())
