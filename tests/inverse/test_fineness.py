"""The least fineness a weighing could have let pass, against the density of silver-copper in handbooks."""

import pytest

from alloysolve.access import default_tables
from alloysolve.inverse.claims import parse_claim
from alloysolve.inverse.fineness import fineness_seen
from alloysolve.inverse.form import Form
from alloysolve.inverse.weighing import weigh

TABLES, FORM = default_tables(), Form("disc", (30.0, 3.0))


def seen(claim, mass, displaced, **given):
    return fineness_seen(TABLES, parse_claim(claim, TABLES), weigh(mass, displaced, **given), FORM)


def test_a_weighing_sees_a_fall_in_fineness_as_large_as_its_uncertainty():
    """925 is 10.36 and 800 is 10.14 g/cm3 (handbook), 0.17 % for ten points: in silver-copper."""
    fine = seen("silver 925", "31.1 g", "3.00 g", scale_step="0.001 g", wetting="brushed")
    usual = seen("silver 925", "31.1 g", "3.00 g", wetting="brushed")
    coarse = seen("silver 925", "31.1 g", "3.0 g", scale_step="0.1 g", wetting="brushed")
    assert 925 > fine > usual > coarse
    assert 860 < fine < 920  # 0.16 % of scatter and 0.1 % of air: about 0.3 % at one in twenty
    assert 750 < coarse < 820  # 1.36 % of the scale: 2.7 % less dense at one in twenty


@pytest.mark.parametrize("read", ["2.85 g", "3.00 g", "3.20 g"])
def test_it_is_of_the_weighing_not_of_what_it_read(read):
    assert seen("silver 925", "31.1 g", read) == pytest.approx(seen("silver 925", "31.1 g", "3.00 g"), abs=15)


def test_there_is_none_without_an_alloyed_precious_metal():
    assert seen("brass", "31.1 g", "3.6 g") is None
