"""A density typed without its uncertainty: its last digit, and a usual weighing or what others' densities are off."""

import math

import numpy as np
import pytest

from alloysolve.units import parse
from alloysolve.weighing.typed import OF_OTHERS, OF_WEIGHING, typed_densities
from alloysolve.weighing.weigh import weigh


def typed(text, mass=None, **conditions):
    masses = None if mass is None else np.array([mass])
    return typed_densities([parse(text, "density", "density")], masses, **conditions)[0]


def sizes(w):
    return {r.part: r.moves_percent for r in w.budget}


@pytest.mark.parametrize(
    ("text", "step"), [("10.0 g/cm3", 0.1), ("10.31", 0.01), ("10,31", 0.01), ("10300 kg/m3", 0.001), ("1.03e1", 0.1)]
)
def test_the_last_digit_is_rounded(text, step):
    """Rectangular, half a digit either way: step / sqrt(12) (JCGM 100, F.2.2.1)."""
    q = parse(text, "density", "density")
    assert q.last_digit == pytest.approx(step)
    assert sizes(typed(text))["digits"] == pytest.approx(100 * step / math.sqrt(12) / q.value)


def test_without_a_mass_it_is_what_collectors_read():
    """0.9 % too light on average, deviation 1.0 % (as the air of a weighing was chosen on)."""
    w = typed("10.31 g/cm3")
    assert w.notes == (OF_OTHERS,)
    mean, u = w.bubble_v / w.v, w.u_v / w.v
    assert mean == pytest.approx(0.009)
    assert math.hypot(mean, u) == pytest.approx(0.010, abs=0.0005)


def test_with_a_mass_it_is_a_usual_weighing_of_it():
    w, weighed = typed("10.31 g/cm3", 26.73), weigh(26.73, 2.5853)  # 26.73 g / 10.31 g/cm3 in water of 20 degC, in air
    assert w.notes == (OF_WEIGHING,)
    assert (w.density.value, w.route) == (10.31, "density")
    assert w.bubble_v == pytest.approx(weighed.bubble_v, rel=1e-3)
    digits = 0.01 / math.sqrt(12) / 10.31
    assert w.u_v / w.v == pytest.approx(math.hypot(weighed.u_v / weighed.v, digits), rel=1e-3)
    parts = {r.part for r in w.budget}
    assert parts == {r.part for r in weighed.budget} | {"digits"}
    assert w.density.high - 10.31 > 1.5 * (10.31 - w.density.low)  # air makes a piece too light, never too heavy


def test_the_scale_and_the_wetting_count():
    fine, usual, coarse = (typed("10.31", 26.73, scale_step=step) for step in ("0.001 g", "0.01 g", "0.1 g"))
    assert fine.u_v < usual.u_v < coarse.u_v
    brushed = typed("10.31", 26.73, wetting="brushed")
    assert brushed.bubble_v < usual.bubble_v


def test_many_are_the_ones_one_by_one():
    texts, masses = ["10.0 g/cm3", "8.54 g/cm3", "19.3 g/cm3"], np.array([26.7, 5.0, 3.1])
    together = typed_densities([parse(t, "density", "density") for t in texts], masses)
    for found, text, mass in zip(together, texts, masses, strict=True):
        alone = typed(text, mass)
        assert (found.density.value, found.v, found.notes) == (alone.density.value, alone.v, alone.notes)
        assert (found.u_v, found.bubble_v) == pytest.approx((alone.u_v, alone.bubble_v), rel=1e-12)
        assert (found.density.low, found.density.high) == pytest.approx((alone.density.low, alone.density.high))
