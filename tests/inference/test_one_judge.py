"""`solve` and batches decide by the same rules, and nothing is worked out that a decision does not hang on."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

import numpy as np
import pytest

from alloysolve.advice import fineness
from alloysolve.alloys.families import all_bodies
from alloysolve.answer.solution import solve
from alloysolve.batch import claimed
from alloysolve.batch import looked_up as quick_route
from alloysolve.batch.files import Row
from alloysolve.batch.run import answer_rows
from alloysolve.inference import compare, decision
from alloysolve.inference.commonness import DEFAULT
from alloysolve.inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED, decide
from alloysolve.inference.find import find
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral.evidence import Scores
from alloysolve.page.expert import expert_sections
from alloysolve.published.load import default_tables
from alloysolve.readings.error_model import LEVELS, VolumeLikelihood
from alloysolve.words.language import language
from tests.inference.answering import Answering

SHOP = Settings()
BRASS = {"claim": "silver 999", "mass": "31.20 g", "displaced": "3.64 g", "magnet": "none"}
# a density that nothing has which conducts so
WRONG = {"claim": "silver 999", "density": "12.0 +- 0.02 g/cm3", "resistivity": "1.62 uohm cm"}
STRAINED = {"claim": "silver 900", "density": "10.10 +- 0.10 g/cm3"}
OPEN = {"claim": "gold 999", "density": "19.30 +- 0.05 g/cm3"}
LIGHT = {"claim": "silver 999", "density": "5.2 +- 0.02 g/cm3", "hollow": "possible"}
FITS = {"claim": "silver 925", "density": "10.36 +- 0.03 g/cm3", "resistivity": "1.9 uohm cm", "resistivity.u": "5 %"}


# at 60 kHz a meter sees no slug of tungsten and no core under thick gold
GOLD = {"claim": "gold 999", "density": "19.30 +- 0.03 g/cm3"}
CORED = GOLD | {"conductivity": "75 %IACS", "conductivity.frequency": "60 kHz"}


def nothing_shows(found: Scores, *_: Any) -> Any:
    return np.zeros(len(found["weighing"]), dtype=bool)


def batched(row: dict[str, Any]) -> dict[str, Any]:
    """The answer of a batch; a row whose decision depends on what its tables do not know gets a full solve."""
    return answer_rows([Row(1, row, {})], SHOP, "default")[0]


def quickly(row: dict[str, Any]) -> dict[str, Any]:
    looked_up = quick_route.looked_up_answers({1: Piece.from_dict(row)}, SHOP, default_tables(), DEFAULT)
    return looked_up[1][0]


def both(row: dict[str, Any]) -> tuple[str, str]:
    """The decision of a full solve and that of a batch."""
    found = find(Piece.from_dict(row), SHOP, default_tables(), DEFAULT).decision
    assert found is not None
    return found.code, batched(row)["decision"]


@pytest.mark.parametrize(
    ("row", "rules", "before", "after"),
    [
        (BRASS, {"decision.OTHERS_SPEAK": 0.0, "decision.MOST": 1.0}, CONTRADICTED, UNDECIDED),
        (BRASS, {"decision.POINTS_TO": 0.0, "decision.MOST": 1.0}, CONTRADICTED, UNDECIDED),
        (BRASS, {"decision.MOST": -1.0}, CONTRADICTED, UNDECIDED),
        (WRONG, {"decision.OTHERS_SPEAK": 1.1}, UNDECIDED, CONTRADICTED),
        (WRONG, {"compare.WILD": 1e-5, "claimed.WILD": 1e-5}, UNDECIDED, CONTRADICTED),
        (OPEN, {"decision.SHARE_EXCLUDED": 0.0}, UNDECIDED, NOT_CONTRADICTED),
        (FITS, {"decision.SPEAKS_AGAINST": 1.0}, NOT_CONTRADICTED, UNDECIDED),
        (FITS, {"decision.contradicted": nothing_shows}, NOT_CONTRADICTED, UNDECIDED),
        (CORED, {"decision.COUNTS_FROM": 0.2}, UNDECIDED, NOT_CONTRADICTED),
        (LIGHT, {"compare.MOST_VOID": 0.2}, UNDECIDED, CONTRADICTED),
    ],
)
def test_a_changed_rule_changes_both_routes(
    row: dict[str, Any], rules: dict[str, Any], before: str, after: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert both(row) == (before, before)
    for rule, value in rules.items():
        room = "batch" if rule.startswith("claimed") else "inference"
        monkeypatch.setattr(f"alloysolve.{room}.{rule}", value)
    assert both(row) == (after, after)


def test_both_routes_reach_down_to_the_fineness_that_one_search_finds(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (fineness, quick_route):
        monkeypatch.setattr(module, "not_shown", lambda by_reading, shares: np.ones(shares, dtype=bool))
    full, quick = solve(Piece.from_dict(FITS), SHOP).precious["Ag"].low, quickly(FITS)["precious"]["Ag"]["low"]
    assert full == pytest.approx(5.5, abs=1.0)  # percent: the search ends at 5 %
    assert quick == pytest.approx(full, abs=1.0)


@pytest.mark.parametrize(
    ("scores", "asked"),
    [
        ({"weighing": 8.0}, {"meeting": 1}),  # contradicted whatever else it may be
        ({"weighing": 8.0, "conductivity": 8.0}, {"meeting": 1}),  # no one reading alone is to blame
        ({"weighing": 8.0, "conductivity": 0.1}, {"weighing": 1, "fitting": 1, "meeting": 1}),
        ({"weighing": 2.5}, {}),  # strained: undecided whatever the share
        ({"weighing": 0.5, "conductivity": 0.1}, {"shown": 1}),
    ],
)
def test_only_what_the_decision_hangs_on_is_asked_for(scores: dict[str, float], asked: dict[str, int]) -> None:
    answering = Answering(0.95, {"weighing": 0.95}, beside=0.6)
    found = decide(Scores({k: np.array([z]) for k, z in scores.items()}), answering)
    assert dict(answering.counted) == asked
    assert found.excluded == (0.95 if "shown" in asked else None)
    assert "excluded" not in found.reasons[-1].values or "shown" in asked


def test_alternatives_are_compared_only_where_the_decision_hangs_on_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """In both routes; that each of them does compare where it must shows that the count would see it."""
    calls: Counter[str] = Counter()
    for module, route in ((compare, "full"), (claimed, "quick")):
        whole = module.weighing_between

        def counted(*how: Any, whole: Any = whole, route: str = route) -> Any:
            calls[route] += 1
            return whole(*how)

        monkeypatch.setattr(module, "weighing_between", counted)
    # of BRASS the magnet alone says whether the weighing is to blame
    for row in ({k: v for k, v in BRASS.items() if k != "magnet"}, STRAINED, BRASS):
        both(row)
        assert not calls, row
    both(OPEN)
    assert calls == {"full": 1, "quick": 1}


def test_what_was_not_asked_for_is_null_and_not_in_words() -> None:
    say = language("en")
    for row, known in ((BRASS, False), (OPEN, True)):
        s = solve(Piece.from_dict(row), SHOP)
        assert (json.loads(s.to_json())["claim"]["excluded"] is not None) == known
        page = " ".join(str(section) for section in expert_sections(s.document, say, "en"))
        assert (say.say("page", "excluded_row") in page) == known


def test_a_piece_that_is_not_scored_because_it_is_hopeless_agrees_with_no_reading() -> None:
    """`POINTS_TO` is 3: whatever lies outside the window of a weighing must score more."""
    widest = float(all_bodies(default_tables()).sigma.max())
    levels = np.append(LEVELS[widest > LEVELS], widest)
    for u in np.geomspace(1e-5, 0.1, 9):
        for air in (0.0, 1e-3, 1e-2, 0.1):
            reading = VolumeLikelihood(1.0, float(u), air)
            for edge in reading.window(levels):
                v, relative = edge[edge > 0], levels[edge > 0]
                assert np.abs(reading.score(v, relative)).min(initial=9.0) > decision.POINTS_TO
                assert np.isinf(reading.score_near(v, relative)).all()
