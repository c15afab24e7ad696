"""What a routine shows: against full answers to pieces of the same classes, and against what is known of gold."""

import numpy as np
import pytest

from alloysolve.advice.routine import _Routines, routine
from alloysolve.answer.solution import solve
from alloysolve.errors import InputError
from alloysolve.inference.commonness import DEFAULT
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables

TABLES = default_tables()
GOLD = {"claim": "gold 999", "mass": "31.1 g", "disc": ["32.7 mm", "2.0 mm"]}


def covered(given, *readings):
    return routine(given, readings, Settings(), TABLES)


def by_name(found):
    return {c.name: c for c in found.classes}


def test_tungsten_hides_from_a_scale_and_not_from_sound_or_a_meter():
    """Gold and tungsten both have 19.3 g/cm3; 78 and 32 %IACS; 3240 and 5200 m/s (CRC Handbook)."""
    scale = by_name(covered(GOLD, "weighing"))
    assert scale["another equally dense metal"].word == "never"
    assert scale["core of equally dense metal"].word == "never"
    assert {"conductivity", "sound_speed"} <= set(scale["another equally dense metal"].closed_by)
    assert scale["another equally dense metal"].closed_by[0] == "conductivity"  # the quickest that would
    meter = by_name(covered(GOLD, "weighing", "conductivity"))
    assert meter["another equally dense metal"].word == "always"
    assert meter["thick layer over an equally dense core"].shown < 0.5  # the meter does not reach the core
    assert meter["thick layer over an equally dense core"].closed_by[0] in ("resonance", "sound_speed")


def test_a_lighter_metal_is_always_shown_by_a_scale():
    assert by_name(covered(GOLD, "weighing"))["lighter metal"].word == "always"
    alone = by_name(covered(GOLD, "magnet"))["lighter metal"]
    assert (alone.word, alone.shown < 0.3) == ("sometimes", True)  # steel and nickel: most metals are not magnetic


def test_a_finer_scale_is_named_where_it_closes_a_class():
    """A ring of 3 g pushes aside 0.19 g: 5 % on a scale of 0.01 g, where 14 ct is 15 % and silver 45 % lighter."""
    ring = {"claim": "18 ct yellow", "mass": "3 g", "wetting": "brushed"}
    coarse, finer = covered(ring, "weighing"), covered({**ring, "scale_step": "0.001 g"}, "weighing")
    named = [c for c in coarse.classes if c.finer_scale == 10.0]
    assert named
    for c in named:
        assert by_name(finer)[c.name].shown >= c.shown + 0.8 * (1 - c.shown) - 1e-9
    assert not any(c.finer_scale for c in covered(ring, "conductivity").classes)  # no scale in this routine


@pytest.mark.parametrize("name", ["lighter metal", "thick layer over a lighter core", "less fine metal"])
def test_what_counts_as_shown_is_contradicted_by_a_full_answer(name):
    """Candidates of a class, weighed and metered without noise, given to `solve` one by one."""
    asked = _Routines(Piece(**GOLD), Settings(), TABLES, DEFAULT)
    kinds = ("weighing", "resistivity")
    shown, at = asked.shown(kinds), np.flatnonzero(asked.of_class[name])
    rng = np.random.default_rng(3)
    some = rng.choice(at, 12, p=asked.others.prior[at] / asked.others.prior[at].sum())
    alike = 0
    for k in some:
        piece = asked.others.candidates.some(np.array([k]))
        rho = max(float(asked.trials["resistivity"].expected(piece)[0]), 1.55)  # the least a piece file takes
        displaced = 31.1 * float(piece.v[0]) * 0.998
        s = solve(Piece(**GOLD, displaced=f"{displaced} g", resistivity=f"{rho} uohm cm +- 1 %"), Settings(), TABLES)
        contradicted = s.decision.p < s.decision.false_alarm
        alike += contradicted == shown[k]
    assert alike >= 11  # a piece at the very limit may fall on either side


def test_shares_add_up_and_a_routine_shows_no_less_than_it_says():
    found = covered(GOLD, "weighing", "conductivity")
    assert sum(c.common for c in found.classes) == pytest.approx(1, abs=0.02)  # rare classes are left out
    assert sum(c.common * c.shown for c in found.classes) == pytest.approx(found.shown, abs=0.02)
    assert found.without["weighing"] == pytest.approx(found.alone["conductivity"])
    assert list(found.table.columns[:3]) == ["class", "common_percent", "shown_percent"]


def test_proposed_routines_beat_each_other_in_time_or_in_what_they_show():
    routines = covered(GOLD, "weighing").routines
    assert all(2 <= len(r.readings) <= 3 for r in routines)
    assert [r.minutes for r in routines] == sorted(r.minutes for r in routines)
    assert [r.shown for r in routines] == sorted(r.shown for r in routines)
    assert not any({"conductivity", "resistivity"} <= set(r.readings) for r in routines)


@pytest.mark.parametrize(
    ("given", "readings", "path"),
    [
        ({"mass": "31.1 g"}, ["weighing"], "claim"),
        ({"claim": "gold 999"}, ["weighing"], "mass"),
        ({"claim": "gold plated", "mass": "5 g"}, ["weighing"], "claim"),
        ({"claim": "gold 999", "mass": "31.1 g"}, ["resonance"], "readings"),  # no dimensions
        ({"claim": "gold 999", "mass": "31.1 g"}, ["hope"], "readings"),
    ],
)
def test_what_cannot_be_asked_is_refused(given, readings, path):
    with pytest.raises(InputError) as e:
        covered(given, *readings)
    assert e.value.path == path
