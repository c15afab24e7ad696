"""Which reading not yet taken would help most, and what it would show on what still fits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ..arrays import Array, Index
from ..inference.classes import kinds_of
from ..inference.compare import alternative_scores
from ..inference.decision import CONTRADICTED, SPEAKS_AGAINST, UNDECIDED, Shown, speaking
from ..inference.find import Found, as_expected
from ..inference.groups import quantiles
from ..inference.misfit import Best, Misfit, best_as_claimed, contradicted, law_at
from ..integral.evidence import Scores
from ..pieces.candidates import Candidates
from ..pieces.constructions import APPLIED, CONSTRUCTIONS
from .agreement import best_of
from .trials import Trial, is_owned, with_trial

if TYPE_CHECKING:
    from ..inference.systems import System


LEAST_LN = -50.0  # logarithm of a likelihood beside the best, below which it makes no difference
# Use of a reading: the chance to settle the decision, how much more of what is not the claim would show, how far
# precious content narrows, the drop in entropy over systems (judgement); one sum is steadier than steps.
WORTH = {"settles": 4.0, "shows_more": 2.0, "narrows_precious": 1.0, "entropy_drop": 0.5}
SAMPLE = 240  # pieces that stand for what still fits
CONTENT_STEPS = 20  # of the precious content by which they are drawn
COUNTS_FROM = 0.001  # share of belief of a system from which it is among them
# chance to settle, share of what is not the claim, nats of entropy from which a reading is worth naming
HELPS_SETTLE, HELPS_SHOW, HELPS_TELL = 0.1, 0.05, 0.15
HELPS_CLOSE = 0.3  # share of the kind that shows least, from which a reading is worth naming
OTHERS = 1500  # alternatives to the claim looked at, drawn by their shares
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


@dataclass(frozen=True)
class Question:
    """What still fits, and what the claim would have to survive, for one piece."""

    s: Found

    @cached_property
    def sample(self) -> tuple[Candidates, Array, Index]:
        """Candidates that stand for all that fits, with their shares and the metal system of each.

        Of every system that counts, they are drawn in equal steps of belief in order of precious content, resistivity
        and construction. So it makes little difference how finely the rows were integrated, and none in which order.
        """
        posterior, bodies = self.s.posterior, self.s.posterior.bodies
        by_row = posterior.by_system[bodies.system[posterior.rows.point]]
        likely = np.flatnonzero(by_row >= min(COUNTS_FROM, by_row.max()))
        every = posterior.rows.candidates(bodies, self.s.evidence).some(likely)
        system = bodies.system[every.point]
        content = np.rint(CONTENT_STEPS * self._held(every)).astype(np.intp)
        built = (every.point * len(CONSTRUCTIONS) + every.construction) * len(every.layers.names) + every.skin
        group = system * (CONTENT_STEPS + 1) + content
        order = np.lexsort((every.parameter, built, bodies.resistivity[every.point], group))
        at, share = drawn(system[order], posterior.share[likely][order])
        return every.some(order[at]), share, system[order[at]]

    @cached_property
    def claim(self) -> tuple[Scores, Best]:
        """Scores of the claim so far, and the candidate as claimed that the readings speak least against."""
        by_reading = self.s.compared.claim_scores if self.s.compared else Scores({})
        return by_reading, best_as_claimed(by_reading)

    @cached_property
    def others(self) -> tuple[Candidates, Array, Scores]:
        """A sample of what is not the claim, its shares, and its scores under the claim by the readings so far."""
        every = self.s.prior.alternatives(self.s.evidence.form)
        cumulated = np.cumsum(every.prior)
        at = np.searchsorted(cumulated, (np.arange(OTHERS) + 0.5) / OTHERS * cumulated[-1])
        some = type(every)(every.candidates.some(at), np.full(len(at), cumulated[-1] / len(at)))
        if self.s.claimed is None:
            return some.candidates, some.prior, Scores({})
        found = alternative_scores(self.s.evidence, self.s.claimed, some, self.s.may_be_hollow)
        return some.candidates, some.prior, found

    @cached_property
    def other(self) -> tuple[System, Candidates] | None:
        """The likeliest system that does not meet the claim, or of all without one, and its best piece."""
        beside = self.s.beside_claim() if self.s.claim else list(self.s.found)
        piece = best_of(self.s, tuple(sorted(beside[0].metals))) if beside else None
        return None if piece is None else (beside[0], piece)

    @cached_property
    def kinds(self) -> Index:
        """Number in `classes.KINDS` of each of the sample of what is not the claim."""
        claimed, claim = self.s.claimed, self.s.claim
        assert claimed is not None
        assert claim is not None
        return kinds_of(self.others[0], float(claimed.v.mean()), claim.metal)

    @cached_property
    def usual(self) -> Candidates | None:
        """The usual alloys of the claim, where only a rare one fits the readings so far."""
        return as_expected(self.s) if self.s.decision and self.s.decision.rare_alloy else None

    @cached_property
    def alarm(self) -> float:
        """The false alarm of the shop."""
        return self.s.settings.answers.false_alarm.value

    @cached_property
    def so_far(self) -> Shown:
        """How much of what is not the claim the readings so far would contradict."""
        _, prior, before = self.others
        return Shown.of(contradicted(before, self.claim[0], self.alarm), prior, self.kinds)

    def settles(self, trial: Trial) -> Settles:
        """What a reading, taken without noise, would do for the decision."""
        if self.s.claimed is None:
            return Settles(0.0, 0.0, 0.0)
        sample, share, _ = self.sample
        (by_reading, best), added, name = self.claim, trial.added, trial.observed.name
        told, more, none = name in added.told, trial.under_claim(sample) ** 2, np.zeros(len(share))
        alone = Misfit(none, more) if told else Misfit(more, none)
        p = law_at(added, best.where).p(Misfit(best.misfit.measured + alone.measured, best.misfit.told + alone.told))
        by_itself = law_at(with_trial(Scores({}), trial.observed, self.s.claimed), best.where)
        agrees = by_itself.p(alone) > SPEAKS_AGAINST
        candidates, prior, before = self.others
        after = Scores({**before, name: trial.under_claim(candidates)}, before.alike)
        shown = Shown.of(contradicted(after, added, self.alarm), prior, self.kinds)
        stands = agrees & (p > SPEAKS_AGAINST) & shown.enough & (not speaking(by_reading, best.where))
        if self.usual is not None:  # it must bear out by itself that the alloy is a rare one
            other = trial.observed.under(self.usual)(sample) ** 2
            against = by_itself.p(Misfit(none, other) if told else Misfit(other, none)) <= SPEAKS_AGAINST
            stands &= against | (trial.observed.apart(sample, self.usual) >= POINTS_APART)
        least = self.so_far.least
        closes = shown.by_kind[least] - self.so_far.by_kind[least] if least else 0.0
        return Settles(float(share[(p < self.alarm) | stands].sum()), shown.share - self.so_far.share, closes)

    def tells(self, trial: Trial) -> tuple[float, float]:
        """Expected drop of entropy over systems [nats], and of the mean deviation of precious content [share of it].

        A content that is nearly certain has little left to narrow.
        """
        candidates, share, system = self.sample
        x, u = trial.observed.scale(candidates)
        away = (x[:, None] - x[None, :]) / np.maximum(u[None, :], 1e-9)
        like = np.exp(np.maximum(-0.5 * away**2, LEAST_LN)) * share  # the smallest numbers of all are slow to add
        like /= like.sum(axis=1, keepdims=True)
        order = np.argsort(system, kind="stable")
        _, first = np.unique(system[order], return_index=True)
        by_system = np.add.reduceat(like[:, order], first, axis=1)
        before = np.add.reduceat(share[order], first)
        drop = _entropy(before[None, :])[0] - float(share @ _entropy(by_system))
        content = self._content
        spread = (like * np.abs(content - (like @ content)[:, None])).sum(axis=1)
        whole = float(share @ np.abs(content - share @ content))
        return drop, (whole - float(share @ spread)) / max(whole, LITTLE)

    @cached_property
    def _content(self) -> Array:
        """Share by mass of precious metals in each piece of the sample."""
        return self._held(self.sample[0])

    def _held(self, candidates: Candidates) -> Array:
        """Share by mass of precious metals in each candidate."""
        at = [candidates.bodies.law.index[s] for s, m in self.s.tables.metals.items() if m.precious]
        body = candidates.bodies.w[candidates.point[:, None], at].sum(axis=1)
        part = np.where(candidates.skin >= 0, candidates.layers.w[:, at].sum(axis=1)[candidates.skin], 0.0)
        return np.asarray(body * (1 - candidates.mass_part) + part * candidates.mass_part)


def drawn(group: Index, share: Array) -> tuple[Index, Array]:
    """Numbers of about `SAMPLE` entries, drawn of each group in equal steps of its share, and the share of each.

    `group` : the group of each entry, in rising order.
    """
    cumulated, first = np.cumsum(share), np.flatnonzero(np.diff(group, prepend=-1))
    whole = np.add.reduceat(share, first)
    count = np.ceil(SAMPLE * whole / whole.sum()).astype(np.intp)
    number = np.repeat(np.arange(len(first)), count)
    nth = np.arange(len(number)) - (np.cumsum(count) - count)[number]
    each = (whole / count)[number]
    at = np.searchsorted(cumulated, (cumulated - share)[first][number] + each * (nth + 0.5))
    return at, each / whole.sum()


def _entropy(p: Array) -> Array:
    return np.asarray(-(p * np.log(np.maximum(p, 1e-12))).sum(axis=1))


def next_readings(s: Found, trials: Mapping[str, Trial]) -> tuple[Mapping[str, Any], ...]:
    """Readings not yet taken, the most useful first, with what each would show; those that would not help are left out.

    Readings that the shop owns go first. Both these and the others are ordered by their use (`WORTH`). Expected values
    are the 2.5 % and 97.5 % points over the compositions of the claim, and that of the likeliest other body.
    """
    if not len(s.posterior.share):  # nothing known fits at all, and no reading narrows nothing
        return ()
    question = Question(s)
    open_ = s.decision is not None and s.decision.code == UNDECIDED
    found: list[dict[str, Any]] = []
    for kind, trial in trials.items():
        decided = s.decision is not None and s.decision.code == CONTRADICTED
        settles = Settles(0.0, 0.0, 0.0) if decided else question.settles(trial)
        tells, narrows = question.tells(trial)
        if tells < HELPS_TELL and not (open_ and settles.helps):
            continue
        owned = is_owned(s, kind)
        found.append(
            {
                "kind": kind,
                "owned": owned,
                "settles": settles.chance if open_ else None,
                "shows_more": settles.shows,
                "decides": open_ and settles.helps,
                "narrows_precious": narrows,
                "entropy_drop": tells,
                **_shows(question, trial),
            }
        )
    return tuple(sorted(found, key=_order))


def _order(found: Mapping[str, Any]) -> tuple[float, ...]:
    worth = sum(times * (found[key] or 0.0) for key, times in WORTH.items())
    return not found["owned"], -worth


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
