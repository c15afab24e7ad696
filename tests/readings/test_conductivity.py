"""A meter that sees layers, or a resistivity of the whole piece: what each makes of bodies, skins, slugs and faces."""

import math

import numpy as np
import pytest

from alloysolve.inference.observe import circumstances_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.physics.eddy import apparent_conductivity, depth_of_penetration
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import CLAD, CORED, HOLLOW, HOMOGENEOUS, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.published.load import default_tables
from alloysolve.readings.base import BODY, STRIKES
from alloysolve.readings.registry import Conductivity
from tests.bodies_of import ALL, LAYERS, some

TABLES = default_tables()
DOLLAR, FOIL, NOBODY_MEASURED = (
    Form("disc", (38.6, 3.0)),
    Form("bar", (20.0, 10.0, 0.2)),
    Form("disc", (38.6, 0.2), measured=False),
)
NAMES = ("cartridge brass 70/30", "silver 925", "fine gold", "oxygen-free copper")
BODIES = some(np.array([np.flatnonzero(ALL.grade == ALL.grades.index(name))[0] for name in NAMES]))
BRASS, STERLING, GOLD, COPPER = range(4)
OF_BODY = 100 / BODIES.resistivity  # MS/m


def observed(reading, form=DOLLAR, **settings):
    about = circumstances_of(Piece(magnet="none"), Settings.from_dict(settings), TABLES, form)
    return reading.observed("conductivity", about)


def candidates(*rows, form=DOLLAR):
    construction, point, skin, parameter = zip(*rows, strict=True)
    skin = [LAYERS.number(s) if s else -1 for s in skin]
    return Candidates(
        BODIES, LAYERS, form, np.array(construction), np.array(point), np.array(skin), np.array(parameter)
    )


def meter(value="28 %IACS", hertz="60 kHz"):
    return Conductivity(value, "2 %", frequency=hertz)


def of(name):
    return 100 / LAYERS.resistivity[LAYERS.number(name)]


@pytest.mark.parametrize("hertz", ["10 kHz", "60 kHz", "1 MHz", None])
def test_a_thick_bare_piece_reads_its_own_conductivity(hertz):
    o = observed(meter(hertz=hertz))
    bare = Candidates.bare(BODIES, LAYERS, Form("disc", (38.6, 10.0)))
    for value, model in o.predictions(bare):
        assert value == pytest.approx(OF_BODY, rel=1e-3)
        adjusting = 0.02  # of the meter on bare metals, as under a skin (common practice, no source)
        assert model == pytest.approx(np.hypot(BODIES.u_resistivity, adjusting), rel=1e-3)


def test_a_list_allows_for_the_adjusting_of_a_meter_but_not_of_a_whole_piece():
    """At 1.96 deviations of reading, adjusting and alloy together, the distance is 1."""
    for value, each in (("17 MS/m", (0.02, 0.02, 0.03)), ("5.882353 uohm cm", (0.02, 0.03))):
        rho = 100 / 17 * math.exp(1.96 * math.hypot(*each))
        o = observed(Conductivity(value, "2 %"))
        assert o.from_bare(np.array([rho]), np.array([0.03]), np.array([0])) == pytest.approx([1.0], rel=1e-3)


def test_the_sign_of_a_score_is_that_of_the_conductivity():
    bare = Candidates.bare(BODIES, LAYERS, DOLLAR, np.array([BRASS]))
    high, low = (observed(meter(f"{v} MS/m")) for v in (1.5 * OF_BODY[BRASS], OF_BODY[BRASS] / 1.5))
    for o, sign in ((high, 1), (low, -1)):
        assert sign * o.score(bare)[0] > 3
    assert high.score(bare)[0] == pytest.approx(-low.score(bare)[0], rel=1e-6)


def test_layers_from_the_surface_inwards():
    """10 um of silver on brass; gold over nickel on brass; both as layers of the whole thickness."""
    p = candidates((PLATED, BRASS, "Ag", 10.0), (PLATED, BRASS, "Au/Ni", 1.0))
    nickel = LAYERS.strike_um[LAYERS.number("Au/Ni")]
    for hertz in (60e3, 500e3):
        value, _ = observed(meter(hertz=hertz)).predict(p)
        silver = apparent_conductivity([of("Ag"), OF_BODY[BRASS]], [10.0, 2990.0], [1.0, 1.0], hertz)
        struck = apparent_conductivity(
            [of("Au"), of("Ni"), OF_BODY[BRASS]], [1.0, nickel, 2999.0 - nickel], [1.0, 12.0, 1.0], hertz
        )
        assert value == pytest.approx([float(silver), float(struck)], rel=1e-6)


def test_a_thick_skin_hides_the_body_and_a_thin_one_does_not():
    """Three depths of penetration: exp(-6) of the field comes back."""
    delta = float(depth_of_penetration(of("Ag"), 1e6))
    thick, thin = observed(meter(hertz="1 MHz")).predict(
        candidates((PLATED, BRASS, "Ag", 3 * delta), (PLATED, BRASS, "Ag", 0.03 * delta))
    )[0]
    assert thick == pytest.approx(of("Ag"), rel=0.02)
    assert thin == pytest.approx(OF_BODY[BRASS], rel=0.02)


@pytest.mark.parametrize("um", [3.0, 10.0])
def test_a_magnetic_skin_counts_however_thin_it_is_beside_the_depth(um):
    """Its effect is of first order in its thickness, and 10 kHz look 1.3 mm deep into brass."""
    value, _ = observed(meter(hertz="10 kHz")).predict(candidates((PLATED, BRASS, "Ni", um)))
    nickel = LAYERS.number("Ni")
    sigma, mu = [of("Ni"), OF_BODY[BRASS]], [LAYERS.mu_r[nickel], 1.0]
    expected = float(apparent_conductivity(sigma, [um, 3000.0 - um], mu, 10e3))
    assert value == pytest.approx(expected, rel=1e-3)
    assert abs(expected / OF_BODY[BRASS] - 1) > 0.01


def test_faces_and_slugs_are_layers_too():
    p = candidates((CLAD, COPPER, "copper-nickel", 1 / 3), (CORED, GOLD, "W", 0.8))
    wall = float(DOLLAR.skin_um(0.2))
    value, _ = observed(meter(hertz="10 kHz")).predict(p)
    face = apparent_conductivity([of("copper-nickel"), OF_BODY[COPPER]], [500.0, 2500.0], [1.0, 1.0], 10e3)
    slug = apparent_conductivity([OF_BODY[GOLD], of("W")], [wall, 3000 - wall], [1.0, 1.0], 10e3)
    assert value == pytest.approx([float(face), float(slug)], rel=1e-4)
    hidden, _ = observed(meter(hertz="3 MHz")).predict(p)  # gold: 50 um; the wall is thicker than three of these
    assert hidden[1] == pytest.approx(OF_BODY[GOLD], rel=1e-3)


def test_air_behind_a_thin_piece_counts_where_its_thickness_was_measured():
    thin = observed(meter(hertz="10 kHz"), FOIL).predict(Candidates.bare(BODIES, LAYERS, FOIL))[0]
    assert thin == pytest.approx(apparent_conductivity(OF_BODY[:, None], [[200.0]], 1.0, 10e3), rel=1e-6)
    assert np.all(np.abs(thin / OF_BODY - 1) > 0.2)
    unknown = observed(meter(hertz="10 kHz"), NOBODY_MEASURED).predict(
        Candidates.bare(BODIES, LAYERS, NOBODY_MEASURED)
    )[0]
    assert unknown == pytest.approx(OF_BODY)
    plated = candidates((PLATED, BRASS, "Ag", 60.0), form=NOBODY_MEASURED)
    deep = apparent_conductivity([of("Ag"), OF_BODY[BRASS]], [60.0, np.inf], [1.0, 1.0], 10e3)
    assert observed(meter(hertz="10 kHz"), NOBODY_MEASURED).predict(plated)[0] == pytest.approx([float(deep)], rel=1e-6)


def test_an_unknown_frequency_is_one_of_three_as_likely():
    """The density is the mean over 10 kHz, 100 kHz and 1 MHz; the score that of the best of them."""
    p = candidates((PLATED, BRASS, "Ag", 60.0), (HOMOGENEOUS, BRASS, "", 0.0), (PLATED, BRASS, "Ni", 8.0))
    unknown = observed(meter("45 %IACS", None))
    known = [observed(meter("45 %IACS", f)) for f in ("10 kHz", "100 kHz", "1 MHz")]
    assert unknown.pdf(p) == pytest.approx(np.mean([o.pdf(p) for o in known], axis=0), rel=1e-9)
    each = np.array([o.score(p) for o in known])
    assert np.abs(unknown.score(p)) == pytest.approx(np.abs(each).min(axis=0), rel=1e-9)
    assert np.isnan(unknown.sees(p)).all()
    assert (unknown.shows, known[0].shows) == (BODY, STRIKES)  # strikes only where the depth is known


def test_the_frequency_of_the_shops_meter_stands_in():
    meters = {"readings": {"conductivity": {"frequency": "120 kHz", "u": "4 %"}}}
    o = observed(Conductivity("28 %IACS"), **meters)
    assert (o.frequencies, o.u) == ((120e3,), 0.04)
    own = observed(Conductivity("28 %IACS", "1 %", frequency="60 kHz"), **meters)
    assert (own.frequencies, own.u) == ((60e3,), pytest.approx(0.01))
    assert observed(Conductivity("6.2 uohm cm"), **meters).frequencies == ()  # of the whole piece, by four points


def test_a_resistivity_is_of_the_whole_piece():
    p = candidates((PLATED, BRASS, "Ag", 100.0), (HOLLOW, BRASS, "", 0.3), (HOMOGENEOUS, BRASS, "", 0.0))
    o = observed(Conductivity("6.2 uohm cm"))
    skin = 1 - (38.4 / 38.6) ** 2 * (2.8 / 3.0)
    value, model = o.predict(p)
    assert value == pytest.approx([skin * of("Ag") + (1 - skin) * OF_BODY[BRASS], OF_BODY[BRASS], OF_BODY[BRASS]])
    assert model == pytest.approx(BODIES.u_resistivity[[BRASS] * 3])
    assert np.isinf(o.sees(p)).all()
    assert o.kind == "resistivity"
    assert o.shown(p)[1] == pytest.approx(BODIES.resistivity[BRASS])  # uohm cm, as people write it


@pytest.mark.parametrize("hertz", ["60 kHz", None])
def test_the_density_over_all_that_may_be_read_is_one(hertz):
    p = candidates((PLATED, BRASS, "Ag", 60.0), (HOMOGENEOUS, STERLING, "", 0.0))
    logs = np.linspace(math.log(0.2), math.log(64), 1500)
    density = np.array([observed(meter(f"{math.exp(x)} MS/m", hertz)).pdf(p) for x in logs])
    assert density.sum(axis=0) * (logs[1] - logs[0]) == pytest.approx([1.0, 1.0], rel=0.02)  # silver: cut at 65 MS/m
    other = observed(meter()).other
    assert other * math.log(200 / 1.5) == pytest.approx(1.0)
