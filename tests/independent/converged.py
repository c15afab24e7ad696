"""Rows of a piece by an integral of its own, which leaves nothing out, beside those of the solver.

    python -m tests.independent.converged [PIECES] [--first N] [--example NAME] [--kept FILE] [--seconds N]

The free parameter of every body under every material is integrated in its logarithm, by the seven points of Kronrod's
rule. Intervals are halved until all that are accepted in one round may be off by 1e-4 of the whole at most. They begin
where the density lies some deviations from what was read, and where the model has steps. Of the package only bodies,
prior shares and each reading's own density for a candidate are used. That of a weighing is computed here without its
table.

Printed for each piece: the largest difference of any system, of any construction with its group of skins, and of any
system built in one way; the ends of precious content relative to the width of their range; time of the solver; both
decisions where they differ. Then of all pieces: quantiles, and how many lie within 0.005 and 0.02.

`--kept` adds each integral to a file and reads those that it holds, so that a run can be broken off and taken up again
and a changed solver compared within minutes (0 PIECES: only those kept). An integral whose prior has changed since is
made anew. After a change of a reading's model the file has to be deleted. `--seconds` passes over pieces that take more
of the processor's time; most take 5 to 60, those whose readings contradict each other many minutes.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import signal
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from alloysolve.errors import InputError
from alloysolve.inference.commonness import DEFAULT
from alloysolve.inference.decision import judge
from alloysolve.inference.find import BelievedOf, Found, find
from alloysolve.inference.posterior import Posterior
from alloysolve.inputs.piece import Piece, read_piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral.rows import Rows
from alloysolve.integral.solver import Believed
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import CONSTRUCTIONS
from alloysolve.published.load import default_tables
from alloysolve.readings import layers_metered
from tests.error_by_hand import direct_pdf
from tests.independent.drawn_pieces import drawn

EXAMPLES = Path(__file__).parents[2] / "examples"
# abscissae and weights of seven points, and weights of the three points of Gauss among them (from memory; tested)
X = np.array([0.9604912687080202, 0.7745966692414834, 0.4342437493468026, 0.0])
X = np.concatenate([-X, X[2::-1]])
KRONROD = np.array([0.1046562260264673, 0.2684880898683334, 0.4013974147759622, 0.4509165386584741])
KRONROD = np.concatenate([KRONROD, KRONROD[2::-1]])
GAUSS = np.array([0, 5 / 9, 0, 8 / 9, 0, 5 / 9, 0])
CORE_LEFT = 0.9  # share of the volume that a skin may take
STEPS_UM = (2.0, 20.0)  # a magnet feels a layer from here on
DEVIATIONS = np.array([0, 1.2, 2.5, 4, 7, 12, 20.0])  # first intervals end where the density is so far off
BUBBLES = np.array([2.0, 5, 9, 14])  # and so many means of the air
PANEL = 1.2  # longest first interval, in ln(parameter)
ACCEPTED = 1e-4  # of the whole, that the intervals accepted in one round may be off by
NOTHING = 1e-12  # of the whole: a node that cannot hold more counts as nothing
PEAK = 3.0  # factor by which a reading may exceed the peak that it states
STEEP = 1.0  # ln of how far a peak must rise above the nodes beside it to hide between them
SLOW = ("conductivity", "resonance", "surface_composition")  # readings that are computed last
FORGOTTEN = 1e-7  # share that is not kept
BLOCK = 200_000  # nodes computed at a time
ROUNDS = 30


@dataclass
class Intervals:
    """Intervals in ln(parameter) of pairs of a construction and a body, with the integrand at their nodes.

    `which` : number of what is believed. `density` : prior per unit of ln(parameter). `likelihood` : (n, 7).
    """

    which: Any
    point: Any
    density: Any
    low: Any
    high: Any
    likelihood: Any

    def some(self, at: Any) -> Intervals:
        return Intervals(*(getattr(self, name)[at] for name in self.__dataclass_fields__))

    @property
    def nodes(self) -> Any:
        return (self.low + self.high)[:, None] / 2 + (self.high - self.low)[:, None] / 2 * X

    @property
    def prior(self) -> Any:
        return (self.density * (self.high - self.low) / 2)[:, None] * KRONROD

    @property
    def value(self) -> Any:
        return (self.prior * self.likelihood).sum(axis=1)

    def error(self, whole: float) -> Any:
        """What an interval may be off by: Kronrod beside Gauss, or a peak that hides between two nodes."""
        half = self.density * (self.high - self.low) / 2
        apart = np.abs(half * (self.likelihood @ (KRONROD - GAUSS)))
        return np.maximum(apart, half * np.exp(self._hidden(NOTHING * whole / half)))

    def _hidden(self, least: Any) -> Any:
        """ln(integral) of a peak between two nodes, if slopes beside them say that there may be one."""
        logs, gap = np.log(np.maximum(self.likelihood, least[:, None])), np.diff(X)
        slope = np.diff(logs, axis=1) / gap
        left = logs[:, 1:-1] + slope[:, :-1] * gap[1:]  # extrapolated over each cell but the first, from its left
        right = logs[:, 1:-1] - slope[:, 1:] * gap[:-1]  # over each cell but the last, from its right
        inner = np.minimum(left[:, :-1], right[:, 1:])
        top = np.concatenate([right[:, :1], inner, left[:, -1:]], axis=1)
        higher = top > np.maximum(logs[:, :-1], logs[:, 1:]) + STEEP
        return np.where(higher, top + np.log(gap), -700.0).max(axis=1)

    def halves(self) -> Intervals:
        middle = (self.low + self.high) / 2
        parts = [replace(self, high=middle), replace(self, low=middle)]
        return joined(parts)


def joined(parts: list[Intervals]) -> Intervals:
    names = Intervals.__dataclass_fields__
    return Intervals(*(np.concatenate([getattr(p, name) for p in parts]) for name in names))


class Integral:
    """All intervals of one piece."""

    def __init__(self, bodies: Any, evidence: Any, believed: list[Believed], other: float) -> None:
        self.bodies, self.evidence = bodies, evidence
        self.believed = [b for b in believed if b.share.any()]
        self.whole = other  # a lower bound of the sum of prior times likelihood
        self.groups = _groups(evidence)

    def candidates(self, b: Believed, point: Any, parameter: Any) -> Candidates:
        size, e = len(point), self.evidence
        of = (np.full(size, b.construction), point, np.full(size, b.skin), parameter)
        return Candidates(self.bodies, e.layers, e.form, *of)

    def likelihood(self, b: Believed, point: Any, parameter: Any, prior: Any) -> Any:
        """Density of all readings; 0 where not even the best other readings could make it matter."""
        out = np.zeros(len(point))
        for start in range(0, len(point), BLOCK):
            block = slice(start, start + BLOCK)
            c = self.candidates(b, point[block], parameter[block])
            value = self._of_density(c)
            for k, (readings, _) in enumerate(self.groups):
                peak = float(np.prod([peak for _, peak in self.groups[k:]]))
                hope = np.flatnonzero(prior[block] * value * peak > NOTHING * self.whole)
                other = np.zeros(len(value))
                other[hope] = readings.pdf(c.some(hope))
                value = value * other
            out[block] = value
        return out

    def _of_density(self, c: Candidates) -> Any:
        reading = self.evidence.volume
        if reading is None:
            return np.ones(len(c))
        u, model = reading.u, self.bodies.sigma[c.point] * reading.v
        out, r = np.zeros(len(c)), reading.v - c.v
        near = np.flatnonzero((r > -20 * np.hypot(u, model)) & (r < 20 * np.hypot(u, model) + 20 * reading.bubble))
        out[near] = direct_pdf(r[near], u, model[near], reading.bubble)
        return out

    def rows(self) -> Rows:
        """Rows of all bodies and nodes, as the solver makes them."""
        parts: list[Rows] = [self._bare(k, b) for k, b in enumerate(self.believed) if b.built.place.value == ""]
        self.whole += sum(float(p.weight.sum()) for p in parts)
        layered = [k for k, b in enumerate(self.believed) if b.built.place.value != ""]
        self.whole += 0.3 * sum(self.evaluated(self._first(k, 40)).value.sum() for k in layered)
        found = [self.evaluated(self._first(k, 1)) for k in layered]
        for p in self._refined(joined(found)) if found else []:
            parts.append(self._rows_of(p))
        return Rows(*(np.concatenate([getattr(p, n) for p in parts]) for n in Rows.__dataclass_fields__))

    def _bare(self, k: int, b: Believed) -> Rows:
        point = np.flatnonzero(b.share > 0)
        zero = np.zeros(len(point))
        likelihood = self.likelihood(b, point, zero, b.share[point])
        return Rows(
            np.full(len(point), b.construction), point, np.full(len(point), b.skin), zero, b.share[point], likelihood
        )

    def _rows_of(self, p: Intervals) -> Rows:
        number = np.array([[b.construction, b.skin] for b in self.believed])[np.repeat(p.which, len(X))]
        point, parameter = np.repeat(p.point, len(X)), np.exp(p.nodes).ravel()
        rows = Rows(number[:, 0], point, number[:, 1], parameter, p.prior.ravel(), p.likelihood.ravel())
        return rows.some(np.flatnonzero(rows.weight > NOTHING * self.whole))

    def _refined(self, active: Intervals) -> list[Intervals]:
        """Intervals that are good enough, found by halving the others."""
        done, settled = [], 0.0
        for _ in range(ROUNDS):
            value = active.value
            self.whole = max(self.whole, settled + value.sum())
            whole = self.whole
            error = active.error(whole)
            order = np.argsort(error)
            good = order[: np.searchsorted(np.cumsum(error[order]), ACCEPTED * whole)]
            done.append(active.some(good))
            settled += value[good].sum()
            rest = np.setdiff1d(order, good)
            if not len(rest):
                return done
            active = self.evaluated(active.some(rest).halves())
        print(f"  not converged: {active.error(whole).sum() / whole:.1e} of the whole in {len(active.low)} intervals")
        return [*done, active]

    def evaluated(self, p: Intervals) -> Intervals:
        """The intervals with the likelihood at their nodes."""
        likelihood = np.zeros((len(p.low), len(X)))
        for k in np.flatnonzero(np.bincount(p.which)):
            mine = np.flatnonzero(p.which == k)
            some = p.some(mine)
            prior = np.repeat(some.density * (some.high - some.low), len(X))
            nodes = np.exp(some.nodes).ravel()
            likelihood[mine] = self.likelihood(self.believed[k], np.repeat(some.point, len(X)), nodes, prior).reshape(
                -1, len(X)
            )
        return replace(p, likelihood=likelihood)

    def _first(self, k: int, every: int) -> Intervals:
        """The first intervals of every body, or of one in so many with its share multiplied."""
        b = self.believed[k]
        point = np.flatnonzero(b.share > 0)[::every]
        parts = []
        for share, low, high in self._spans(b):
            ends = self._ends(b, point, low, high)
            at, number = np.nonzero(np.diff(ends, axis=1) > 1e-9)
            density = every * b.share[point[at]] * share / np.log(high / low)
            parts.append(
                Intervals(np.full(len(at), k), point[at], density, ends[at, number], ends[at, number + 1], density)
            )
        return joined(parts)

    def _spans(self, b: Believed) -> list[tuple[float, float, float]]:
        """Parts of the prior of the parameter: a core must be left; shares of the volume become thicknesses."""
        form = self.evidence.form
        if b.by_volume is not None:
            low, high = (float(x) for x in form.skin_um(np.array(b.by_volume)))
            return _below([(1.0, low, high)], float(form.skin_um(CORE_LEFT)))
        return _below(b.spans, float(form.skin_um(CORE_LEFT))) if b.built.by_thickness else list(b.spans)

    def _ends(self, b: Believed, point: Any, low: float, high: float) -> Any:
        """Ends (points, n) of the first intervals in ln(parameter), sorted; repeated where fewer are needed."""
        start, stop = np.log(low), np.log(high)
        even = np.linspace(start, stop, int(np.ceil((stop - start) / PANEL)) + 1)
        steps = np.log([x for x in STEPS_UM if low < x < high]) if b.built.by_thickness else np.array([])
        ends = np.tile(np.concatenate([even, steps]), (len(point), 1))
        own = [ends, *(self._unseen(o, point, b) for o in self.evidence.observed)]
        window = (np.full((len(point), 1), start), np.full((len(point), 1), stop))
        if self.evidence.volume is not None:
            away = self._away(b, point)
            own.append(away)
            window = (away.min(axis=1, keepdims=True), away.max(axis=1, keepdims=True))
        ends = np.concatenate(own, axis=1)
        return np.sort(np.clip(np.clip(ends, *window), start, stop), axis=1)

    def _unseen(self, o: Any, point: Any, b: Believed) -> Any:
        """Where a layer becomes thick enough for a meter."""
        hertz = getattr(o, "frequencies", ())
        if not hertz or not b.built.by_thickness:
            return np.zeros((len(point), 0))
        body = o.body_conductivity(self.bodies)[point]
        mu = layers_metered.BODY_MU_R[self.bodies.magnetic[point]]
        deep = [layers_metered.depth_of_penetration(body, f, mu) for f in hertz]
        return np.log(layers_metered.UNSEEN * np.stack(deep, axis=1))

    def _away(self, b: Believed, point: Any) -> Any:
        """ln(parameter) at which the density lies some deviations, or means of the air, from what was read."""
        reading, form = self.evidence.volume, self.evidence.form
        s = np.hypot(reading.u, self.bodies.sigma[point] * reading.v)[:, None]
        off = [reading.v - s * DEVIATIONS - reading.bubble * (DEVIATIONS > 18) * 20, reading.v + s * DEVIATIONS]
        if reading.bubble:
            off.append(np.tile(reading.v - reading.bubble * BUBBLES, (len(point), 1)))
        v = np.maximum(np.concatenate(off, axis=1), 1e-3)
        dense = 1 / self.evidence.layers.v[b.skin] if b.skin >= 0 else 0.0
        body = 1 / self.bodies.v[point][:, None]
        contrast = dense - body
        contrast = np.where(np.abs(contrast) < 1e-9, 1e-9, contrast)
        part = (1 / v - body) / contrast
        part = np.clip(part, 1e-12, 1.0)
        if b.built.by_thickness:
            um = form.skin_um(part)
            return np.log(np.where(part < form.skin_share(0.1), 1e-9, um))
        return np.log(part)


def _groups(evidence: Any) -> list[tuple[Any, float]]:
    """Readings that share the error of their model as evidence of their own, quick ones first, with their peaks."""
    names: dict[str, list[Any]] = {}
    for o in sorted(evidence.observed, key=lambda o: SLOW.index(o.kind) if o.kind in SLOW else -1):
        names.setdefault(o.shares_model or o.name, []).append(o)
    return [(evidence.only(*(o.name for o in g)), float(np.prod([PEAK * o.peak for o in g]))) for g in names.values()]


def _below(spans: Any, most: float) -> list[tuple[float, float, float]]:
    parts = [(share, low, min(high, most)) for share, low, high in spans if low < most]
    whole = sum(share for share, *_ in parts)
    return [(share / whole, low, high) for share, low, high in parts]


def converged(found: Found) -> Posterior:
    """The posterior of a piece by the integral of this script."""
    prior, evidence = found.prior, found.evidence
    level, likelihood = evidence.shows, evidence.other_likelihood()
    rows = Integral(prior.bodies, evidence, list(prior.levels[level]), prior.other * likelihood).rows()
    return Posterior.of(prior.bodies, prior.layers, rows, prior.shares, level, prior.other, likelihood)


def answer_of(found: Found, posterior: Posterior) -> dict[str, Any]:
    """Shares of systems, of constructions with their group of skins, and of both; ends of precious content."""
    bodies, layers = posterior.bodies, posterior.layers
    names = [" ".join(s) for s in bodies.systems]
    out: dict[str, dict[str, Any]] = {"system": {"something else": posterior.other}, "construction": {}, "both": {}}
    for (construction, skin), share in posterior.by_kind.items():
        kind = f"{CONSTRUCTIONS[construction].name} {layers.names[skin] if skin >= 0 else ''}".strip()
        out["construction"][kind] = out["construction"].get(kind, 0.0) + float(share.sum())
        by_system = np.bincount(bodies.system, share, minlength=len(names))
        for s in np.flatnonzero(by_system > FORGOTTEN):
            out["system"][names[s]] = out["system"].get(names[s], 0.0) + float(by_system[s])
            out["both"][f"{names[s]}, {kind}"] = float(by_system[s])
    held = replace(found, posterior=posterior).likely_precious
    out["ends"] = {s: [m.low, m.high] for s, m in held.items()}
    return out


def apart(one: dict[str, float], two: dict[str, float]) -> tuple[float, str]:
    """Largest difference of two sets of shares, and the name of where it is."""
    names = sorted(one.keys() | two.keys())
    away = [abs(one.get(n, 0.0) - two.get(n, 0.0)) for n in names]
    return (max(away), names[int(np.argmax(away))]) if names else (0.0, "")


def ends_apart(one: dict[str, Any], two: dict[str, Any]) -> float:
    """Largest difference of ends of precious content relative to the width of the second; 0 where none is known."""
    return max(
        (
            abs(a - b) / (two[s][1] - two[s][0])
            for s in one.keys() & two.keys()
            for a, b in zip(one[s], two[s], strict=True)
            if two[s][1] > two[s][0]
        ),
        default=0.0,
    )


def pieces(count: int, first: int, example: str) -> dict[str, dict[str, Any]]:
    """Drawn pieces by number, or the examples of a name ("01" for all of them), as fields of a piece file."""
    if example:
        return {
            p.stem: read_piece(p).to_dict() for p in sorted(EXAMPLES.glob(f"*{example}*.toml")) if p.stem[:2] == "01"
        }
    return {str(n): drawn(n) for n in range(first, first + count)}


@dataclass(frozen=True)
class Kept:
    """What a decision may ask of the converged posterior (`decision.Believed`)."""

    share_meeting_solid: float
    share_fitting_beside: float


def stamp(found: Found) -> str:
    """Changes with any number of the prior, of the bodies or of the materials."""
    prior, out = found.prior, hashlib.sha256()
    for numbers in (prior.bodies.w, prior.bodies.v, prior.bodies.sigma, prior.bodies.resistivity, prior.layers.v):
        out.update(np.round(numbers, 9).tobytes())
    for b in prior.levels[found.evidence.shows]:
        out.update(np.round(b.share, 12).tobytes() + repr((b.construction, b.skin, b.spans, b.by_volume)).encode())
    return out.hexdigest()[:16]


def integrated(found: Found) -> dict[str, Any]:
    """What is kept of one integral, ready for JSON."""
    posterior = converged(found)
    believed = BelievedOf(replace(found, posterior=posterior))
    asked = [believed.share_meeting_solid, believed.share_fitting_beside] if found.compared else []
    return {"prior": stamp(found), "believed": asked, **answer_of(found, posterior)}


def decisions(found: Found, row: dict[str, Any]) -> tuple[str, str]:
    """The decision by the solver and by the integral, "" without a claim."""
    if found.decision is None or found.compared is None:
        return "", ""
    alarm = found.settings.answers.false_alarm.value
    return found.decision.code, judge(found.compared, Kept(*row["believed"]), alarm).code


def too_long(*_: Any) -> None:
    """Ends an integral that takes more time than is given to it."""
    raise TimeoutError


class Table:
    """Differences of all pieces, one line each, and what they come to."""

    def __init__(self) -> None:
        self.far: dict[str, list[float]] = {"system": [], "construction": [], "both": [], "ends": [], "ms": []}
        self.claims = self.differ = 0
        self.passed: list[str] = []

    def add(self, name: str, found: Found, row: dict[str, Any], ms: float) -> None:
        """Compares one piece and prints its line."""
        now, where = answer_of(found, found.posterior), ""
        for key in ("system", "construction", "both"):
            away, where = apart(now[key], row[key])
            self.far[key].append(away)
        self.far["ends"].append(ends_apart(now["ends"], row["ends"]))
        self.far["ms"].append(ms)
        each = "  ".join(f"{key} {values[-1]:.4f}" for key, values in self.far.items() if key != "ms")
        own, other = decisions(found, row)
        self.claims += bool(own)
        self.differ += own != other
        note = f"  DECISION {own}, converged {other}" if own != other else ""
        print(f"{name:>24}  {each}  {ms:6.0f} ms  {where}{note}", flush=True)

    def close(self) -> None:
        """Prints quantiles, and how many are near enough."""
        print(f"{'':>16}{'median':>10}{'90 %':>10}{'95 %':>10}{'99 %':>10}{'worst':>10}")
        for key, values in self.far.items():
            print(f"{key:>16}" + "".join(f"{x:10.4f}" for x in np.quantile(values, (0.5, 0.9, 0.95, 0.99, 1.0))))
        share = np.max([self.far[key] for key in ("system", "construction", "both")], axis=0)
        ends = np.array(self.far["ends"])
        print(f"{len(share)} pieces: {(share <= 0.005).sum()} within 0.005, {(share <= 0.02).sum()} in 0.02; ", end="")
        print(f"passed over: {len(self.passed)} {' '.join(self.passed)}")
        print(f"ends of {(ends <= 0.05).sum()} within 0.05 of width; {self.differ} of {self.claims} decisions differ")


def kept_or_made(name: str, found: Found, kept: dict[str, Any], given: argparse.Namespace) -> dict[str, Any]:
    """The integral of a piece that is kept and still holds; otherwise a new one, which is then kept."""
    fields, row = found.piece.to_dict(), kept.get(name)
    if row and Piece.from_dict(row["piece"]).to_dict() == fields and row["prior"] == stamp(found):
        return row
    signal.setitimer(signal.ITIMER_PROF, given.seconds)
    try:
        row = {"piece": fields, **integrated(found)}
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    if given.kept:
        with given.kept.open("a") as file:
            file.write(json.dumps([name, row]) + "\n")
    return row


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", type=int, nargs="?", default=20)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--example", default="")
    parser.add_argument("--kept", type=Path)
    parser.add_argument("--seconds", type=float, default=0.0)
    given = parser.parse_args()
    signal.signal(signal.SIGPROF, too_long)
    lines = given.kept.read_text().splitlines() if given.kept and given.kept.exists() else []
    kept, table = dict(map(json.loads, lines)), Table()
    wanted = pieces(given.count, given.first, given.example)
    for name, fields in ({n: row["piece"] for n, row in kept.items()} | wanted).items():
        start = time.process_time()
        try:
            found = find(Piece.from_dict(fields), Settings(), default_tables(), DEFAULT)
            ms = 1000 * (time.process_time() - start)
            table.add(name, found, kept_or_made(name, found, kept, given), ms)
        except InputError as e:
            print(f"{name}: {e}")
        except TimeoutError:
            table.passed.append(name)
    table.close()


if __name__ == "__main__":
    main()
