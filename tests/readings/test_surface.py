"""Surface compositions: what an instrument lists, and what that says of a metal that was not printed."""

import numpy as np
import pytest

from alloysolve.alloys.xray import LIGHT_KEV
from alloysolve.answer.solution import solve
from alloysolve.errors import InputError
from alloysolve.inference.observe import circumstances_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables
from alloysolve.readings.registry import SurfaceComposition, read_reading
from alloysolve.readings.x_rays.surface import USUALLY_LISTED, listed_metals
from tests.published.test_readings_published import DOLLAR, piece

TABLES = default_tables()


def settings(listed):
    return Settings.from_dict({"readings": {"surface_composition": {"listed": listed}}})


def observed(reading, shop=None):
    about = circumstances_of(Piece(magnet="none"), shop or Settings(), TABLES, DOLLAR)
    return reading.observed("reading", about)


def test_the_usual_list_holds_what_is_put_under_and_on_precious_metal():
    listed = listed_metals(USUALLY_LISTED, "")
    assert len(listed) == len(set(listed))
    # cores of the density of gold, gold-coloured hard coatings, fire gilding, harmful metals
    assert {"W", "Ti", "Hg", "Cd", "Pb", "Bi"} <= set(listed)
    energy = {r.symbol: r.energy_keV for r in TABLES.rows("lines")}
    assert all(energy[s] >= LIGHT_KEV for s in listed)


def test_the_list_of_the_settings_holds_unless_the_reading_has_its_own():
    assert set(observed(SurfaceComposition("Au 99.9")).known) == set(listed_metals(USUALLY_LISTED, ""))
    assert observed(SurfaceComposition("Au 99.9"), settings("Ag Cu")).known == ("Au", "Ag", "Cu")
    assert observed(SurfaceComposition("Au 99.9"), settings("none")).known == ("Au",)
    assert observed(SurfaceComposition("Au 99.9", listed="Zn"), settings("Ag Cu")).known == ("Au", "Zn")
    assert observed(SurfaceComposition("Au 99.9", listed="none")).known == ("Au",)
    assert observed(SurfaceComposition("Au 99.9", listed=[])).known == ("Au",)


@pytest.mark.parametrize(("listed", "written"), [(None, None), ("none", "none"), ("Ag Cu", "Ag Cu"), ((), "none")])
def test_a_list_is_written_as_it_is_read(listed, written):
    reading = SurfaceComposition("Au 99.9", listed=listed)
    table = reading.to_dict()
    assert table.get("listed") == written
    assert read_reading(table, "reading[0]").to_dict() == table


def test_a_list_that_names_no_metals_is_refused_where_it_stands():
    with pytest.raises(InputError) as e:
        settings("gold")
    assert e.value.path == "settings.readings.surface_composition.listed"


def test_a_longer_list_makes_no_wrong_reading_likelier():
    """Limits that a candidate keeps are no further chances of a bad reading: sterling printed 5 points too high."""
    bare = piece("silver 925")
    short, long = (observed(SurfaceComposition("Ag 97.5 Cu 2.5", listed=x)) for x in ("Ag Cu", USUALLY_LISTED))
    assert np.abs(long.score(bare)) == pytest.approx(np.abs(short.score(bare)))
    assert long.pdf(bare) == pytest.approx(short.pdf(bare))
    assert np.abs(short.score(bare))[0] > 2


def test_tungsten_under_thin_gold_would_have_been_printed():
    # gold over tungsten prints tungsten up to 8 to 12 um (fisx, 28 and 40 keV)
    gold, unlisted = (observed(SurfaceComposition("Au 99.9", listed=x)) for x in (None, "none"))
    thin, thick = (piece("tungsten metal", "Au", um) for um in (3.0, 14.0))
    assert abs(gold.score(thin)[0]) > 4
    assert abs(gold.score(thick)[0]) < 1
    assert abs(unlisted.score(thin)[0]) < 1


def test_something_else_keeps_its_share_whatever_is_listed():
    few, many = (observed(SurfaceComposition("Ag 60 Te 40", listed=x)) for x in ("Cu", USUALLY_LISTED))
    assert few.other == many.other
    s = solve(Piece(density="8.0 +- 0.02 g/cm3", surface_composition="Ag 60 Te 40"), Settings())
    assert s.other > 0.5  # nothing in the tables prints that


def test_lacquer_hides_no_metal_under_it():
    """It prints nothing, so that no thickness of it is the one from which on the core is not seen."""
    o = observed(SurfaceComposition("Ag 80 Cu 5 Cd 15"))
    over = piece("silver 925", "lacquer", 20.0)
    assert np.isinf(o.sees(over)[0])
    assert abs(o.score(over)[0] - o.score(piece("silver 925"))[0]) < 0.1


def test_a_skin_that_holds_nothing_of_what_was_printed_is_no_error():
    """An instrument that lists only what it prints says nothing of a thick layer of another metal."""
    read = {"kind": "surface_composition", "value": "Cu 77.5 Zn 11.6 Mn 6.9 Ni 4.0", "listed": "none"}
    found = solve({"claim": "silver 900", "mass": "3.60 g", "displaced": "0.42 g", "reading": [read]}, Settings())
    assert found.found[0].metals[0] == "Cu"
