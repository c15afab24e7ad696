"""The readings that would help most: what each would show, how much it would settle, and in which order."""

import pickle
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from alloysolve.advice.agreement import best_of
from alloysolve.advice.next_reading import in_order, settles
from alloysolve.advice.question import COUNTS_FROM, Question
from alloysolve.advice.trials import FEW, trials, with_trial
from alloysolve.answer.solution import solve
from alloysolve.inference.classes import classes
from alloysolve.inference.compare import alternative_scores
from alloysolve.inference.decision import CONTRADICTED, UNDECIDED, share_excluded
from alloysolve.inference.misfit import contradicted
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral import solver
from alloysolve.integral.evidence import Scores
from alloysolve.integral.solver import Solver
from tests.independent.drawn_pieces import drawn

RING = {"claim": "18 ct", "mass": "2.84 g", "displaced": "0.19 g"}
GOLD = {"claim": "gold 999.9", "density": "19.3 +- 0.05 g/cm3"}
FILLED = {"claim": "gold filled 1/20 14 ct", "mass": "8.77 g", "displaced": "1.00 g"}
PLATINUM = {"claim": "platinum 950", "mass": "8.41 g", "displaced": "0.41 g"}
BRASS = {"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"}


def answer(settings=None, **given):
    return solve(Piece(**given), settings or Settings())


@cache
def told(name):
    """The answer on a piece of a name, or drawn by a number."""
    named = {"ring": RING, "gold": GOLD, "filled": FILLED, "platinum": PLATINUM, "brass": BRASS}
    return answer(**named[name]) if name in named else solve(Piece.from_dict(drawn(name)), Settings())


def by_kind(solution):
    return {r["kind"]: r for r in solution.next_readings}


def test_conductivity_tells_carat_gold_from_tungsten_copper():
    """Handbook: 18 ct gold of any colour reads 5 to 15 %IACS; tungsten-copper 75/25 to 50/50 reads 35 to 60."""
    s = told("ring")
    reading = by_kind(s)["conductivity"]
    low, high = reading["claim"]
    assert reading["unit"] == "%IACS"
    assert 4 < low < high < 18
    tungsten_copper = best_of(s, ("Cu", "W"))
    other = float(trials(s)["conductivity"].observed.shown(tungsten_copper)[0])
    assert 30 < other < 60
    assert other > 1.15 * high  # a meter of the trade tells them apart


def test_conductivity_tells_gold_from_tungsten_and_the_speed_of_sound_settles_it():
    """Gold 2.21 uohm cm or 78 %IACS, tungsten 5.4 or 32 (CRC Handbook); a meter sees no slug, sound passes through."""
    reading = by_kind(told("gold"))["conductivity"]
    assert reading["metals"] == ("W",)
    assert 70 < reading["claim"][0] < reading["claim"][1] < 80
    assert 28 < reading["other"] < 35
    assert reading["settles"] < 0.2  # only if it is tungsten
    assert reading["shows_more"] > 0.05
    assert by_kind(told("gold"))["sound_speed"]["settles"] > 0.95


def test_what_is_told_is_the_entropy_of_two_metals_told_apart():
    s = told("gold")
    p = np.array([f.probability for f in s.found[:2]])
    p /= p.sum()
    assert p.sum() > 0.99
    whole = float(-(p * np.log(p)).sum())
    drop = by_kind(s)["resistivity"]["entropy_drop"]
    assert 0.9 * whole < drop <= 1.005 * whole  # all but tungsten under so much gold that it conducts like both


@pytest.mark.parametrize("name", ["ring", "gold", "platinum"])
def test_what_would_show_more_is_counted_over_all_that_is_not_the_claim(name):
    """A sample of the alternatives stands for all 100 000 of them."""
    s = told(name)
    every, question = s.prior.alternatives(s.evidence.form), Question(s)
    found = alternative_scores(s.evidence, s.claimed, every, False)
    claim = s.compared.claim_scores
    before = share_excluded(found, every.prior, claim, 1e-4)
    for kind, trial in trials(s).items():
        added = Scores({**found, trial.observed.name: trial.under_claim(every.candidates)})
        after = share_excluded(added, every.prior, with_trial(claim, trial.observed, s.claimed), 1e-4)
        assert settles(question, trial).shows == pytest.approx(after - before, abs=0.01), kind


@pytest.mark.parametrize("name", ["ring", "gold", "platinum"])
def test_what_would_have_shown_so_far_is_that_of_all_that_is_not_the_claim(name):
    """What an answer says of the claim and what it says of blind spots are of the same pieces."""
    s = told(name)
    every, of_metal = s.compared.others(), s.claim.metal
    shown = contradicted(s.compared.alternative_scores(), s.compared.claim_scores, 1e-4)
    assert Question(s).so_far.share == pytest.approx(s.decision.excluded)
    assert s.blind_spots
    for spot in s.blind_spots:
        mine = classes(every.candidates, float(s.claimed.v.mean()), of_metal)[spot["class"]]
        assert spot["shown"] == pytest.approx(every.prior[mine & shown].sum() / every.prior[mine].sum())


@pytest.mark.parametrize("name", ["ring", "gold", "brass"])
def test_the_order_of_rows_makes_no_difference(name):
    s = told(name)
    mixed = np.random.default_rng(1).permutation(len(s.posterior.share))
    other = replace(s.posterior, rows=s.posterior.rows.some(mixed), share=s.posterior.share[mixed])
    one, two = Question(s).sample, Question(replace(s, posterior=other)).sample
    assert one.share.sum() == pytest.approx(1)
    assert np.array_equal(one.system, two.system)
    assert one.share == pytest.approx(two.share)
    assert (one.pieces.point == two.pieces.point).mean() > 0.98  # sums of shares differ in their last digit


def test_every_system_that_counts_is_among_what_is_asked_with_its_own_share():
    s = told("ring")
    sample = Question(s).sample
    found = np.bincount(sample.system, sample.share, len(s.posterior.by_system))
    counts = s.posterior.by_system >= COUNTS_FROM
    assert found[counts] == pytest.approx(s.posterior.by_system[counts] / s.posterior.by_system[counts].sum())
    assert not found[~counts].any()


@pytest.mark.parametrize("finer", ["more rows", "rarer rows"])
def test_a_finer_integral_hardly_changes_what_is_proposed_first(finer, monkeypatch):
    """With 360 pieces asked in place of 1000, five of 20 answers changed their first three readings; now one of 35."""
    names = ("ring", "gold", "platinum", "brass", *range(100, 107))
    found = [told(name).next_readings for name in names]
    coarse = Solver.rows
    if finer == "rarer rows":
        monkeypatch.setattr(Solver, "rows", lambda solver, believed: coarse(replace(solver, left_out=1e-6), believed))
    for constant in ("FEW", "HINTED") if finer == "more rows" else ():
        monkeypatch.setattr(solver, constant, getattr(solver, constant) / 10)
    changed = 0
    for name, before in zip(names, found, strict=True):
        after = told.__wrapped__(name).next_readings
        changed += [r["kind"] for r in before][:3] != [r["kind"] for r in after][:3]
        drops = {r["kind"]: r["entropy_drop"] for r in after}
        for reading in before:
            if reading["kind"] in drops:
                assert reading["entropy_drop"] == pytest.approx(drops[reading["kind"]], abs=0.06)
    assert changed <= 1


def test_of_readings_about_as_useful_the_quickest_is_first_and_none_is_lost():
    uses = {"slow": 1.0, "quick": 0.9, "worse": 0.5, "blurs": -0.2, "blurs more": -0.3}
    found = [{"kind": k, "owned": False, "settles": None, "shows_more": 0.0} for k in uses]
    for r in found:
        r |= {"narrows_precious": uses[r["kind"]], "entropy_drop": 0.0}
    ordered = [r["kind"] for r in in_order(found, {"slow": 5.0, "quick": 0.5})]
    assert ordered == ["quick", "slow", "worse", "blurs", "blurs more"]


def test_what_pieces_as_claimed_read_comes_from_all_of_them():
    """Brass to lead under a gilt layer: 2.5 % of what a claim allows read below the range that is shown, and above."""
    s = answer(claim="gold plated", mass="10.85 g", displaced="0.84 g")
    assert len(s.claimed) > FEW
    weight = s.claimed.bodies.weight[s.claimed.point] / s.claimed.bodies.weight[s.claimed.point].sum()
    for kind in ("conductivity", "resistivity", "sound_speed"):
        low, high = by_kind(s)[kind]["claim"]
        read = trials(s)[kind].observed.shown(s.claimed)
        assert weight[read < low].sum() - 1e-3 < 0.025 < weight[read <= low].sum() + 1e-3
        assert weight[read > high].sum() - 1e-3 < 0.025 < weight[read >= high].sum() + 1e-3


def test_a_reading_that_answers_alike_on_all_that_fits_is_not_named():
    assert told("gold").decision.code == UNDECIDED
    assert "magnet" not in by_kind(told("gold"))  # draws neither gold nor tungsten
    assert "magnet" not in by_kind(told("platinum"))


@pytest.mark.parametrize("taken", [{"conductivity": "12 %IACS"}, {"resistivity": "14 uohm cm"}])
def test_what_was_read_is_not_asked_again(taken):
    assert not {"conductivity", "resistivity", "weighing"} & set(by_kind(answer(**RING, **taken)))


def test_without_a_claim_there_is_nothing_to_settle():
    s = answer(mass="2.84 g", displaced="0.19 g")
    assert s.next_readings
    for reading in s.next_readings:
        assert (reading["settles"], reading["shows_more"], reading["claim"]) == (None, 0.0, None)
        assert set(reading["metals"]) == set(s.found[0].metals)


def test_once_decided_a_reading_only_tells_what_the_piece_is():
    """Fine silver 105 to 108 %IACS, cartridge brass 28 (from memory)."""
    s = told("brass")
    assert s.decision.code == CONTRADICTED
    assert all((r["settles"], r["shows_more"]) == (None, 0.0) for r in s.next_readings)
    reading = by_kind(s)["conductivity"]
    assert 103 < reading["claim"][0] < reading["claim"][1] < 110
    assert reading["metals"] == ("Cu", "Zn")
    assert 24 < reading["other"] < 34


def test_conductivity_cannot_settle_a_claim_that_says_nothing_of_the_body():
    reading = by_kind(told("filled"))["conductivity"]
    assert reading["settles"] == 0.0
    assert reading["shows_more"] == pytest.approx(0.0, abs=0.01)


def test_conductivity_cannot_settle_what_conducts_like_the_claim():
    """Alloys of platinum with 5 % of another metal read from 4 to 12 %IACS, as do those with 10 % (from memory)."""
    for kind in ("conductivity", "resistivity"):
        assert by_kind(told("platinum"))[kind]["settles"] == 0.0


def test_what_the_shop_owns_comes_first_however_good_the_others_are():
    for kind in ("resistivity", "sound speed", "sliding magnet"):  # the last shows little but the density's own doubt
        owner = Settings.from_dict({"readings": {"own": [kind]}})
        first, *others = answer(owner, **GOLD).next_readings
        assert (first["kind"], first["owned"]) == (kind.replace(" ", "_"), True)
        assert not any(r["owned"] for r in others)


def test_a_solution_can_be_sent_to_another_process():
    s = answer(**RING)
    assert pickle.loads(pickle.dumps(s)).to_json() == s.to_json()


def test_where_nothing_fits_no_reading_is_proposed_and_the_answer_is_whole():
    s = solve(Piece.from_dict(drawn(90)))  # gold by its claim, gold with chromium by X-rays at three places
    assert not len(s.posterior.share)
    assert s.next_readings == ()
    assert "something else" in s.to_json()
