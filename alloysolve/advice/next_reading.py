"""Which reading not yet taken would help most, and what it would show on what still fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..arrays import Array
from ..inference.decision import CONTRADICTED, SPEAKS_AGAINST, UNDECIDED, Shown, speaking
from ..inference.groups import quantiles
from ..inference.misfit import Misfit, law_at
from ..integral.evidence import Scores
from ..pieces.candidates import Candidates
from ..pieces.constructions import APPLIED
from .question import Question, drawn
from .trials import Trial, is_owned, with_trial

LEAST_LN = -50.0  # logarithm of a likelihood beside the best, from which on numbers would only be slow to add
# Use of a reading: the chance to settle the decision, how much more of what is not the claim would show, how far
# precious content narrows, the drop in entropy over systems (judgement); one sum is steadier than steps.
WORTH = {"settles": 4.0, "shows_more": 2.0, "narrows_precious": 1.0, "entropy_drop": 0.5}
AS_USEFUL = 0.85  # of the use of a reading, from which another is about as useful: it is not known more precisely
READ = 60  # values that a reading may show
# chance to settle, share of what is not the claim, nats of entropy from which a reading is worth naming
HELPS_SETTLE, HELPS_SHOW, HELPS_TELL = 0.1, 0.05, 0.15
HELPS_CLOSE = 0.3  # share of the kind that shows least, from which a reading is worth naming
LITTLE = 0.02  # mean deviation of a precious content [share of the mass], below which it is nearly certain
POINTS_APART = 2.0  # percentage points from which two printed compositions are worth telling apart


@dataclass(frozen=True)
class Settles:
    """What a reading would do for a decision.

    `chance` : that it settles it, over what still fits. `shows` : how much more of what is not the claim would be
    contradicted. `closes` : the same for the kind (`classes.KINDS`) of which least shows so far.
    """

    chance: float
    shows: float
    closes: float

    @property
    def helps(self) -> bool:
        """Whether it is worth proposing: it may settle the claim, show a fault or close a blind spot."""
        return self.chance >= HELPS_SETTLE or self.shows >= HELPS_SHOW or self.closes >= HELPS_CLOSE


def settles(q: Question, trial: Trial) -> Settles:
    """What a reading, taken without noise, would do for the decision."""
    if q.s.claimed is None:
        return Settles(0.0, 0.0, 0.0)
    (by_reading, best), added, observed, sample = q.claim, trial.added, trial.observed, q.sample
    law, by_itself = (law_at(z, best.where) for z in (added, with_trial(Scores({}), observed, q.s.claimed)))

    def alone(scores: Array) -> Misfit:
        none = np.zeros(len(scores))
        return Misfit(none, scores**2) if observed.name in added.told else Misfit(scores**2, none)

    more = alone(q.under_claim(trial)[0])
    p = law.p(Misfit(best.misfit.measured + more.measured, best.misfit.told + more.told))
    shown = Shown.of(q.shown_with(trial), q.others.prior, q.others.kinds)
    stands = (by_itself.p(more) > SPEAKS_AGAINST) & (p > SPEAKS_AGAINST)
    stands &= shown.enough & (not speaking(by_reading, best.where))
    if q.usual is not None and q.s.decision:  # it must bear out by itself, and otherwise, that the alloy is a rare one
        blamed = str(q.s.decision.reasons[-1].values["reading"])
        stands &= by_reading.measures.get(blamed) != observed.measures
        against = by_itself.p(alone(observed.under(q.usual)(sample.pieces))) <= SPEAKS_AGAINST
        stands &= against | (observed.apart(sample.pieces, q.usual) >= POINTS_APART)
    least = q.so_far.least
    closes = shown.by_kind[least] - q.so_far.by_kind[least] if least else 0.0
    return Settles(float(sample.share[(p < q.alarm) | stands].sum()), shown.share - q.so_far.share, closes)


def tells(q: Question, trial: Trial) -> tuple[float, float]:
    """Expected drop of entropy over systems [nats], and of the mean deviation of precious content [share of it].

    What the reading may show is taken in equal steps of belief. A content that is nearly certain has little left to
    narrow.
    """
    share, system, content = q.sample.share, q.sample.system, q.content
    x, u = trial.observed.scale(q.sample.pieces)
    order = np.argsort(x, kind="stable")
    read = x[order[drawn(np.zeros(len(x), dtype=np.intp), share[order], READ)[0]], None]
    like = np.exp(np.maximum(-0.5 * ((read - x) / np.maximum(u, 1e-9)) ** 2, LEAST_LN)) * share
    like /= like.sum(axis=1, keepdims=True)
    first = np.flatnonzero(np.diff(system, prepend=-1))  # the sample stands system by system
    before = np.add.reduceat(share, first)
    drop = _entropy(before[None, :])[0] - float(_entropy(np.add.reduceat(like, first, axis=1)).mean())
    spread = (like * np.abs(content - (like @ content)[:, None])).sum(axis=1)
    whole = float(share @ np.abs(content - share @ content))
    return drop, (whole - float(spread.mean())) / max(whole, LITTLE)


def _entropy(p: Array) -> Array:
    return np.asarray(-(p * np.log(np.maximum(p, 1e-12))).sum(axis=1))


def next_readings(question: Question, trials: Mapping[str, Trial]) -> tuple[Mapping[str, Any], ...]:
    """Readings not yet taken, the most useful first, with what each would show; those that would not help are left out.

    Expected values are the 2.5 % and 97.5 % points over the compositions of the claim, and that of the likeliest other
    body.
    """
    s = question.s
    if not len(s.posterior.share):  # nothing known fits at all, and no reading narrows nothing
        return ()
    open_ = s.decision is not None and s.decision.code == UNDECIDED
    found: list[dict[str, Any]] = []
    for kind, trial in trials.items():
        decided = s.decision is not None and s.decision.code == CONTRADICTED
        does = Settles(0.0, 0.0, 0.0) if decided else settles(question, trial)
        drop, narrows = tells(question, trial)
        if drop < HELPS_TELL and not (open_ and does.helps):
            continue
        owned = is_owned(s, kind)
        found.append(
            {
                "kind": kind,
                "owned": owned,
                "settles": does.chance if open_ else None,
                "shows_more": does.shows,
                "decides": open_ and does.helps,
                "narrows_precious": narrows,
                "entropy_drop": drop,
                **_shows(question, trial),
            }
        )
    return tuple(in_order(found, {row.kind: row.minutes for row in s.tables.rows("times")}))


def in_order(found: Sequence[Mapping[str, Any]], minutes: Mapping[str, float]) -> list[Mapping[str, Any]]:
    """Readings the shop owns first, then the most useful first; of those that are about as useful, the quickest."""
    worth = {r["kind"]: sum(times * (r[key] or 0.0) for key, times in WORTH.items()) for r in found}
    out: list[Mapping[str, Any]] = []
    left = sorted(found, key=lambda r: (not r["owned"], -worth[r["kind"]]))
    while left:
        most = worth[left[0]["kind"]]
        least = min(AS_USEFUL * most, most)  # one that rather blurs the answer has a use below 0
        same = [r for r in left if r["owned"] == left[0]["owned"] and worth[r["kind"]] >= least]
        out += sorted(same, key=lambda r: (minutes.get(r["kind"], 0.0), r["kind"]))
        left = left[len(same) :]
    return out


def _shows(question: Question, trial: Trial) -> dict[str, Any]:
    """What a reading would show on pieces as claimed and on the likeliest other body."""
    s, observed = question.s, trial.observed
    out: dict[str, Any] = {"unit": observed.unit_shown, "claim": None, "other": None, "metals": (), "family": ""}
    out["layer"] = None
    if trial.claim is not None:
        shown = observed.shown(trial.claim)
        weight = trial.claim.bodies.weight[trial.claim.point]
        low, _, high = quantiles(shown, weight)
        out["claim"] = (low, high)
    if question.other is not None:
        system, piece = question.other
        out |= {
            "other": float(observed.shown(piece)[0]),
            "metals": system.metals,
            "family": system.constructions[0].family,
            "layer": s.evidence.layers.skin_name(int(piece.skin[0])) if APPLIED[piece.construction[0]] else None,
        }
        _typed(trial, piece, out)
    if observed.words:
        for name in ("claim", "other"):
            value = out[name]
            if value is not None:
                number = value[0] if isinstance(value, tuple) else value
                out[name] = observed.words[round(number)]
    return out


def _typed(trial: Trial, piece: Candidates, out: dict[str, Any]) -> None:
    """Puts what a person would type in place of the numbers, where it is more than one number.

    The claim is given by one composition in the middle of what it allows. It is left out if the other
    body would be printed like some piece as claimed.
    """
    other = trial.observed.typed(piece)
    if not other:
        return
    out |= {"other": other[0], "unit": "", "claim": None}
    if trial.compared and trial.claim and float(trial.observed.apart(piece, trial.claim)[0]) >= POINTS_APART:
        out["claim"] = trial.observed.typed(typical(trial.compared.claim))[0]


def typical(candidates: Candidates) -> Candidates:
    """The candidate nearest to the mean composition of the first region, which is the commonest colour of a carat."""
    first = np.flatnonzero(candidates.bodies.family[candidates.point] == candidates.bodies.family[candidates.point[0]])
    w = candidates.bodies.w[candidates.point[first]]
    weight = candidates.bodies.weight[candidates.point[first]]
    far = np.abs(w - weight @ w / weight.sum()).sum(axis=1)
    return candidates.some(first[[int(far.argmin())]])
