"""The tail of the joint misfit, against sums over all combinations written out by hand and against draws."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from alloysolve.answer.solution import solve
from alloysolve.inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED, decide
from alloysolve.inference.misfit import Law, Misfit, best_as_claimed, contradicted, independent, misfit_of, p_of_reading
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral.evidence import Scores
from alloysolve.published.load import default_tables
from alloysolve.readings.outermost import WORDS
from tests.inference.answering import Answering
from tests.rows import every

ALARM = 1e-4
MAGNET = (0.985, 0.0145, 0.0005)
TABLES = default_tables()
ROWS = {row.surface: row for row in TABLES.rows("surface_classes")}


def answers(surface: str, *kinds: str) -> tuple[tuple[float, ...], ...]:
    """How often a surface gives each answer, from the table."""
    return tuple(tuple(getattr(ROWS[surface], kind)[word] / 100 for word in WORDS[kind]) for kind in kinds)


@pytest.mark.parametrize(("misfit", "readings"), [(3.84, 1), (5.99, 2), (7.81, 3)])
def test_measured_values_have_the_tail_of_chi_square(misfit: float, readings: int) -> None:
    # 95 % points of chi-square: 3.84, 5.99, 7.81 (any table of the distribution)
    assert float(Law(readings).tail(misfit)) == pytest.approx(0.05, abs=2e-4)
    assert Law(readings).critical(0.05) == pytest.approx(misfit, abs=5e-3)
    assert Law(readings).critical(ALARM) == pytest.approx(stats.chi2.isf(ALARM, readings), rel=1e-9)


def test_answers_alone_have_the_chance_of_all_that_are_no_likelier() -> None:
    law = Law(0, (MAGNET,))
    weak, strong = (2 * math.log(MAGNET[0] / MAGNET[k]) for k in (1, 2))
    assert law.tail(np.array([0.0, weak, strong, strong + 1])) == pytest.approx([1.0, 0.015, 0.0005, 0.0])
    assert law.critical(0.001) == pytest.approx(weak)  # weak is not below 1 in 1000, strong is
    assert law.critical(ALARM) == pytest.approx(strong)


@pytest.mark.parametrize("measured", [0, 1, 2])
def test_the_tail_is_the_sum_over_all_combinations(measured: int) -> None:
    shares = (*answers("silver", "acid", "streak"), MAGNET)
    law = Law(measured, shares)
    for misfit in (0.5, 5.0, 15.0, 30.0):
        expected = 0.0
        for picked in itertools.product(*(range(len(s)) for s in shares)):
            chance = math.prod(s[k] for s, k in zip(shares, picked, strict=True))
            left = misfit - sum(2 * math.log(max(s) / s[k]) for s, k in zip(shares, picked, strict=True))
            expected += chance * (1.0 if left <= 0 else stats.chi2.sf(left, measured) if measured else 0.0)
        assert float(law.tail(misfit)) == pytest.approx(expected, rel=1e-9)


@every("surface", ROWS)
@pytest.mark.parametrize("kinds", [("acid",), ("acid", "streak"), ("acid", "streak", "colour")])
@pytest.mark.parametrize("measured", [0, 1, 2])
def test_sound_pieces_are_contradicted_in_fewer_than_1_in_10_000(
    surface: str, kinds: tuple[str, ...], measured: int
) -> None:
    """With measured values, a magnet and a set of answers of the surface: exact, by enumeration of all answers.

    For each combination of answers, the least sum of squares of the measured values that contradicts is found by
    halving, and its chi-square tail is what the combination adds.
    """
    shares = (*answers(surface, *kinds), MAGNET)
    law = Law(measured, shares)
    picked = np.array(list(itertools.product(*shares)))
    told = 2 * np.log([max(s) for s in shares] / picked).sum(axis=1)
    low, high = np.full(len(told), -1e-9), np.full(len(told), 60.0)
    for _ in range(40 if measured else 0):
        middle = (low + high) / 2
        speaks = law.contradicted(Misfit(middle, told), ALARM)
        low, high = np.where(speaks, low, middle), np.where(speaks, middle, high)
    if measured:
        chance = stats.chi2.sf(np.maximum(low, 0.0), measured)
    else:
        chance = law.contradicted(Misfit(np.zeros(len(told)), told), ALARM)
    assert picked.prod(axis=1) @ chance <= ALARM * (1 + 1e-6)
    misfit = Misfit(np.full(len(told), 15.0 * (measured > 0)), told)
    assert list(law.contradicted(misfit, ALARM)) == list(law.p(misfit) < ALARM)


def of(measured: dict[str, float], told: dict[str, tuple[tuple[float, ...], int]]) -> Scores:
    """Scores of one composition: measured values, and answers with their shares."""
    z = {name: np.array([x]) for name, x in measured.items()}
    z |= {name: np.array([math.sqrt(2 * math.log(max(s) / s[k]))]) for name, (s, k) in told.items()}
    return Scores(z, told={name: (np.array([s]), np.zeros(1, dtype=np.intp)) for name, (s, _) in told.items()})


def decided(scores: Scores, share: float = 0.99) -> str:
    return decide(scores, Answering(share)).code


def test_two_clear_misreadings_together_speak_against_and_one_does_not() -> None:
    wrong = (0.99, 0.0075, 0.0025)
    assert decided(of({}, {"acid": (wrong, 2)})) == UNDECIDED
    assert decided(of({"weighing": 0.5}, {"acid": (wrong, 2)})) == UNDECIDED
    assert decided(of({"weighing": 0.5}, {"acid": (wrong, 2), "streak": (wrong, 2)})) == CONTRADICTED
    assert decided(of({"weighing": 2.5}, {"acid": (wrong, 2), "streak": (wrong, 0)})) == UNDECIDED  # both mildly
    assert decided(of({"weighing": 3.5}, {"acid": (wrong, 2)})) == CONTRADICTED


def test_answers_that_agree_hardly_dilute_a_weighing_that_does_not() -> None:
    """Four more degrees of freedom let 5.0 pass; three looks let 4.14 pass, where a weighing alone stops at 3.89."""
    agreeing = {k: (s, int(np.argmax(s))) for k, s in zip("abc", answers("silver", *WORDS), strict=True)}
    agreeing["magnet"] = (MAGNET, 0)
    assert decided(of({"weighing": 4.16}, agreeing)) == CONTRADICTED
    assert decided(of({"weighing": 4.14}, agreeing)) == UNDECIDED
    assert stats.chi2.sf(5.0**2, 5) > ALARM


def test_measured_values_that_agree_hardly_dilute_an_answer_that_does_not() -> None:
    """A magnet that pulls a bar (1 in 50 000) speaks against it, however many other readings agree."""
    bar = (0.98998, 0.01, 0.00002)
    agreeing = dict.fromkeys(("weighing", "conductivity", "sound speed", "tone", "X-rays"), 0.5)
    assert decided(of(agreeing, {"magnet": (bar, 2)})) == CONTRADICTED
    assert decided(of(agreeing, {"magnet": (bar, 1)})) == UNDECIDED


@pytest.mark.parametrize(("score", "code"), [(1.95, NOT_CONTRADICTED), (1.97, UNDECIDED)])
def test_any_reading_that_speaks_against_the_claim_forbids_that_nothing_does(score: float, code: str) -> None:
    """p of one reading is 0.05 at 1.96; together with three that agree it is far above."""
    scores = of({"weighing": score, "conductivity": 0.0, "sound speed": 0.0, "tone": 0.0}, {})
    assert best_as_claimed(scores).p > 0.4
    decision = decide(scores, Answering(0.99))
    assert decision.code == code
    if code == UNDECIDED:
        assert decision.reasons[-1].code == "speaks against"
        assert decision.reasons[-1].values["readings"] == ("weighing",)


def test_readings_of_one_kind_count_as_one() -> None:
    """Two conductivities share the error of the model: the one that agrees least counts, once."""
    found = {name: np.array([z]) for name, z in (("weighing", 1.0), ("conductivity", 2.0), ("conductivity 2", -3.0))}
    scores = Scores(found, {"conductivity": "conductivity", "conductivity 2": "conductivity"})
    assert misfit_of(scores, ()).total.tolist() == [10.0]
    assert misfit_of(scores, (), {"conductivity 2"}).total.tolist() == [5.0]
    assert len(independent(scores)) == 2
    assert best_as_claimed(scores).law == Law(2)


def test_the_best_composition_is_the_one_with_the_largest_tail() -> None:
    z = Scores({"weighing": np.array([0.0, 1.0, 3.0]), "conductivity": np.array([4.0, 1.0, 0.0])})
    best = best_as_claimed(z)
    assert (best.misfit.total, best.where, best.p) == (2.0, 1, pytest.approx(stats.chi2.sf(2, 2)))
    assert best_as_claimed(z, {"weighing"}).where == 2
    assert best_as_claimed(z, {"weighing", "conductivity"}).p == 1.0


def test_each_composition_is_judged_by_the_answers_of_its_class() -> None:
    """The same misfit is commoner for a surface that answers now so, now so."""
    shares = np.array([[0.99, 0.01], [0.5, 0.5]])
    z = np.sqrt(-2 * np.log(shares / shares.max(axis=1, keepdims=True)))
    scores = Scores({"acid": z[[0, 1], 1]}, told={"acid": (shares, np.array([0, 1]))})
    assert p_of_reading(scores, "acid") == pytest.approx([0.01, 1.0])
    assert best_as_claimed(scores).where == 1
    # what the first would contradict, the second gives every other time
    assert contradicted(scores.some(np.array([0])), scores.some(np.array([0])), 0.05).tolist() == [True]
    assert contradicted(scores.some(np.array([0])), scores, 0.05).tolist() == [True]
    assert contradicted(scores.some(np.array([1])), scores, 0.05).tolist() == [False]


EIGHTEEN = {"claim": "18k yellow", "mass": "4.1 g", "displaced": "0.27 g"}
FOURTEEN = {"claim": "14k", "mass": "4.1 g", "displaced": "0.31 g"}


@pytest.mark.parametrize(
    ("given", "code", "named"),
    [
        (EIGHTEEN | {"acid": "as gold"}, None, ()),
        (EIGHTEEN | {"acid": "as neither"}, UNDECIDED, ("acid",)),
        (FOURTEEN | {"acid": "as silver"}, UNDECIDED, ("acid",)),
        (EIGHTEEN | {"acid": "as neither", "streak": "none"}, CONTRADICTED, ()),
        (FOURTEEN | {"acid": "as silver", "streak": "none"}, CONTRADICTED, ()),
        # by itself this weighing would only be a reason to look again
        (EIGHTEEN | {"displaced": "0.32 g", "acid": "as neither"}, CONTRADICTED, ()),
    ],
)
def test_the_skin_of_a_solid_piece_is_the_piece(
    given: dict[str, str], code: str | None, named: tuple[str, ...]
) -> None:
    decision = solve(Piece(**given), Settings()).decision
    assert decision.code == code or code is None
    reason = next((r for r in decision.reasons if r.code == "speaks against"), None)
    assert (reason.values["readings"] if reason else ()) == named
