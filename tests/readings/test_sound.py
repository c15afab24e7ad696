"""Speed of sound as a reading: three ways to give it, published speeds, what layers and slugs make of it."""

from __future__ import annotations

import numpy as np
import pytest

from alloysolve.alloys.sound import speeds_of_bodies, speeds_of_layers
from alloysolve.answer.solution import solve
from alloysolve.errors import InputError
from alloysolve.inference.observe import circumstances_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral.evidence import Evidence
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import ASSEMBLED, CLAD, CORED, HOLLOW, HOMOGENEOUS, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.readings.base import ALL
from alloysolve.readings.registry import read_reading
from alloysolve.readings.sound import ObservedSoundSpeed, SoundSpeed
from tests.bodies_of import ALL as BODIES
from tests.bodies_of import LAYERS, TABLES, published, some

BAR = Form("bar", (50.0, 28.0, 3.0))
ABOUT = circumstances_of(Piece(), Settings(), TABLES, BAR)


def read(given="3650 m/s", **keys) -> ObservedSoundSpeed:
    return SoundSpeed(given, **keys).observed("sound_speed", ABOUT)


def piece(grade: str, construction: int = HOMOGENEOUS, skin: str = "", parameter: float = 0.0) -> Candidates:
    number = np.array([LAYERS.number(skin) if skin else -1])
    return Candidates(
        published(grade), LAYERS, BAR, np.array([construction]), np.array([0]), number, np.array([parameter])
    )


def speed(*of) -> float:
    return float(read().expected(piece(*of))[0])


@pytest.mark.parametrize(
    ("grade", "low", "high"),
    [
        ("fine silver", 3600, 3650),  # CRC Handbook 3650; ASTM E494 3600
        ("fine gold", 3240, 3240),  # CRC Handbook and ASTM E494
        ("tungsten metal", 5180, 5460),  # ASTM E494 5180 annealed; AIP Handbook 5410, 5460
        ("cartridge brass 70/30", 4370, 4700),  # ASTM E494 4370; CRC Handbook 4700
        ("electrolytic tough pitch copper", 4660, 5010),  # ASTM E494 4660; CRC Handbook 5010
        ("nickel silver 65-18", 4620, 4620),  # ASTM E494
        ("stainless steel 304", 5660, 5790),  # ASTM E494 5660; AIP Handbook 5790
        ("lead 99.9", 1960, 2160),  # CRC Handbook 1960 rolled; ASTM E494 2160
    ],
)
def test_bare_pieces_have_the_published_speed(grade: str, low: float, high: float) -> None:
    """Handbooks differ by up to 7 % for one metal; 2 % beyond their printed range is allowed."""
    assert 0.98 * low <= speed(grade) <= 1.02 * high


@pytest.mark.parametrize(
    ("grade", "published_speed"),
    [
        ("nickel silver 65-12", 4620),
        ("stainless steel 430", 5900),
        ("cemented carbide 6 % cobalt", 6655),
        ("brass 68.5/31.5", 4450),
    ],  # of their families: ASTM E494; AIP Handbook; middle of 4370 to 4700 less a little
)
def test_a_grade_without_a_speed_of_its_own_has_that_of_its_family(grade: str, published_speed: float) -> None:
    assert speed(grade) == published_speed


def test_a_speed_that_nobody_published_comes_from_moduli_and_density() -> None:
    """Coin gold 900: sqrt(E (1 - nu) / (rho (1 + nu) (1 - 2 nu))) of its rows in elastic.csv and grades.csv."""
    e, nu, rho = 100e9, 0.41, 1000 * TABLES.grades["coin gold 900"].density_g_cm3
    expected = np.sqrt(e * (1 - nu) / (rho * (1 + nu) * (1 - 2 * nu)))
    assert speed("coin gold 900") == pytest.approx(expected, rel=1e-3)


def test_model_is_never_better_than_handbooks_agree_nor_useless_for_alloys_in_trade() -> None:
    u = speeds_of_bodies(TABLES, BODIES).u
    assert u.min() >= 0.03  # published speeds of one metal scatter by 3 %; common practice
    families = [k for k, n in enumerate(BODIES.names) if n in ("silver-copper", "gold-silver-copper", "brass", "steel")]
    assert u[np.isin(BODIES.family, families)].max() <= 0.10


def test_a_speed_is_that_of_the_composition_not_of_the_name_of_the_family() -> None:
    """A pair of 95 % silver and 5 % copper and the published silver 950 are the same thing."""
    law, pair = BODIES.law, BODIES.names.index("pair")
    here = (BODIES.family == pair) & np.isclose(BODIES.w[:, law.index["Ag"]], 0.95) & (BODIES.w[:, law.index["Cu"]] > 0)
    found = speeds_of_bodies(TABLES, some(np.flatnonzero(here)))
    assert found.speed[0] == pytest.approx(speed("silver 950"), rel=0.02)


def test_materials_of_layers_have_the_speeds_of_their_metals() -> None:
    speeds = dict(zip(LAYERS.names, speeds_of_layers(TABLES).speed, strict=True))
    assert speeds["W"] == pytest.approx(5300, rel=0.03)  # 5180 to 5460 as above
    assert speeds["Ag/Ni"] == speeds["Ag"]  # a skin over a strike is the same metal
    assert speeds["Au"] < speeds["Ag"] < speeds["Cu"] < speeds["W"] < speeds["Fe"]


def test_a_gold_bar_with_a_tungsten_core_reads_faster_than_gold() -> None:
    """A slug of half the volume in a bar of 3 mm: between 3240 and 5300 m/s, by the times through shell and slug."""
    found = piece("fine gold", CORED, "W", 0.5)
    shell = float(BAR.skin_um(0.5)) / 1000
    expected = 3.0 / (2 * shell / 3240 + (3.0 - 2 * shell) / 5300)  # both shells, as times add
    assert float(read().expected(found)[0]) == pytest.approx(expected, rel=1e-3)
    assert 1.2 * 3240 < expected < 5300
    assert abs(read("3240 m/s").score(found)[0]) > 3.5
    assert abs(read("3240 m/s").score(piece("fine gold"))[0]) < 0.1


def test_skins_and_faces_count_on_both_sides() -> None:
    # copper-nickel faces of a sixth each on copper (usmint-specs): c of the stack by its times
    clad = speed("electrolytic tough pitch copper", CLAD, "copper-nickel", 1 / 3)
    face = float(speeds_of_layers(TABLES).speed[LAYERS.number("copper-nickel")])
    assert clad == pytest.approx(1 / (1 / 3 / face + 2 / 3 / 4800), rel=1e-3)
    thick = speed("cartridge brass 70/30", PLATED, "Ag", 300.0)  # 0.3 mm on each side of 3 mm
    assert thick == pytest.approx(3.0 / (0.6 / 3630 + 2.4 / 4550), rel=1e-3)


def test_plating_is_not_heard() -> None:
    bare, plated = (speed("cartridge brass 70/30", *of) for of in ((), (PLATED, "Ag", 10.0)))
    assert plated == pytest.approx(bare, rel=0.003)  # 20 of 3000 um, a quarter slower


def test_a_strike_counts_with_its_thickness() -> None:
    plain, over = (speed("cartridge brass 70/30", PLATED, skin, 100.0) for skin in ("Ag", "Ag/Ni 12"))
    assert 1 / over == pytest.approx(1 / plain + 0.024 / 3.0 * (1 / 5800 - 1 / 4550), rel=1e-6)


def test_a_gap_or_pores_make_the_reading_say_little() -> None:
    _, solid = read().predict(piece("fine gold"))
    _, hollow = read().predict(piece("fine gold", HOLLOW, "", 0.3))
    assert hollow[0] > 5 * solid[0]


def test_a_joined_part_is_not_where_it_is_timed() -> None:
    assert speed("fine silver", ASSEMBLED, "Fe", 0.1) == speed("fine silver")


def test_it_sees_all_of_it() -> None:
    assert read().sees(piece("fine gold"))[0] == ALL


def test_three_ways_give_the_same_speed() -> None:
    """2 * 2.98 mm / 1.6329 us, and a gauge set to 3240 that shows 2.98 * 3240 / 3650 = 2.6453 mm."""
    ways = [
        SoundSpeed("3.65 km/s"),
        SoundSpeed(time="1.6329 us", thickness="2.98 mm"),
        SoundSpeed(shown="2.6453 mm", set_speed="3240 m/s", thickness="2.98 mm"),
    ]
    assert [r.value for r in ways] == pytest.approx([3650.0] * 3, rel=1e-4)


@pytest.mark.parametrize(
    ("keys", "percent"),
    [
        ({"value": "3650 m/s"}, 1.0),  # common practice, no source
        ({"value": "3650 +- 73 m/s"}, 2.0),
        ({"value": 3650, "u": "2 %"}, 2.0),
        ({"value": 3650, "u": 73}, 2.0),
        ({"time": "1.6 us", "thickness": "3 mm"}, 1.0),
        ({"time": "1.6 us +- 3 %", "thickness": "3.00 mm +- 4 %"}, 5.0),
        ({"shown": "2.5 mm +- 3 %", "set_speed": "3240 m/s", "thickness": "3.00 mm +- 4 %"}, 5.0),
        ({"time": "1.6 us", "thickness": "3.00 mm", "u": "0.5 %"}, 0.5),
    ],
)
def test_uncertainty_of_the_reading(keys: dict, percent: float) -> None:
    reading = SoundSpeed(**keys)
    assert 100 * reading.u / reading.value == pytest.approx(percent, rel=1e-9)
    assert reading.observed("s", ABOUT).u == pytest.approx(percent / 100, rel=1e-9)


@pytest.mark.parametrize(
    "table",
    [
        {"value": "3650 m/s"},
        {"value": "3.65 km/s", "u": "1 %", "place": "face"},
        {"time": "1.63 us", "thickness": "2.98 mm", "place": "field"},
        {"shown": "2.9 mm", "set_speed": "3240 m/s", "thickness": "3.88 +- 0.01 mm"},
    ],
)
def test_a_table_gives_the_same_reading_again(table: dict) -> None:
    reading = read_reading({"kind": "sound_speed", **table}, "reading[0]")
    assert reading.to_dict() == {"kind": "sound_speed", **table}
    assert read_reading(reading.to_dict(), "reading[0]") == reading
    held = Piece(reading=[reading])
    assert Piece.from_dict(held.to_dict()) == held


THREE = "the speed in one of three ways: value; time and thickness; shown, set_speed and thickness"


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ({"time": "1.6 us"}, f"reading[0]: 'time': expected {THREE}; give the lines of exactly one of them"),
        (
            {"value": 3650, "time": "1.6 us", "thickness": "3 mm"},
            f"reading[0]: 'value time thickness': expected {THREE}; give the lines of exactly one of them",
        ),
        (
            {"shown": "2.9 mm", "thickness": "3 mm"},
            f"reading[0]: 'thickness shown': expected {THREE}; give the lines of exactly one of them",
        ),
        (
            {"thickness": "3 mm"},
            "reading[0].value: '': expected the speed as 3650 m/s; or the lines time, thickness; or shown, set_speed, "
            "thickness; give the value that was read",
        ),
        (
            {"value": "3650 mm"},
            "reading[0].value: '3650 mm': expected a speed in m/s, km/s, mm/us or in/us; write for example "
            '"3650 m/s"',
        ),
        (
            {"value": "3.65 m/s"},
            "reading[0].value: '3.65 m/s': expected 500 to 15000 m/s; check the decimal marks and the units",
        ),
        (
            {"time": "1.63 ms", "thickness": "2.98 mm"},
            "reading[0]: '3.66 m/s = 2 x 2.98 mm / 1.63 ms': expected 500 to 15000 m/s; check the decimal marks and "
            "the units",
        ),
        (
            {"time": "1.63 us", "thickness": "2.98 g"},
            "reading[0].thickness: '2.98 g': expected a length in mm, cm, m, um, inch or mil; write for example "
            '"38.6 mm"',
        ),
        (
            {"value": 3650, "u": "much"},
            "reading[0].u: 'much': expected an uncertainty above zero, as a speed or in %; write for example \"1 %\"",
        ),
        (
            {"value": "3650 +- 30 m/s", "u": "1 %"},
            "reading[0].u: '1 %': expected one uncertainty; keep either the one behind \"+-\" or u",
        ),
    ],
)
def test_bad_readings_name_place_value_and_next_step(table: dict, message: str) -> None:
    with pytest.raises(InputError) as error:
        read_reading({"kind": "sound_speed", **table}, "reading[0]")
    assert str(error.value) == message


def test_gold_of_the_right_density_that_sounds_like_tungsten_does_not_match() -> None:
    """19.25 g/cm3 and 5200 m/s: tungsten by ASTM E494 (5180), not gold (3240)."""
    given = {"claim": "gold 999", "density": "19.25 +- 0.05 g/cm3", "bar": "50 x 28 x 3 mm"}
    assert solve(Piece(**given), Settings()).decision.code == "undecided"
    slow, fast = (solve(Piece(**given, sound_speed=c), Settings()) for c in ("3240 m/s", "5200 m/s"))
    assert fast.decision.p < 1e-4
    assert fast.beside_claim()[0].metals == ("W",)
    assert fast.share_meeting_claim < 0.05
    assert slow.decision.code != "contradicted"
    assert slow.share_meeting_claim > 0.9


def test_four_places_favour_one_metal_over_another_hardly_more_than_one_does() -> None:
    """What the model errs by is common to them."""
    silver, copper = piece("fine silver"), piece("electrolytic tough pitch copper")

    def odds(places: int) -> float:
        observed = tuple(SoundSpeed("4000 m/s").observed(f"sound_speed {i}", ABOUT) for i in range(places))
        found = Evidence(None, observed, BAR, LAYERS)
        return float(np.log(found.pdf(silver)[0] / found.pdf(copper)[0]))

    assert odds(1) > 1
    assert odds(4) < 1.5 * odds(1)


def test_two_places_do_not_average_the_model_away() -> None:
    """Silver read 7 % fast, well over what handbooks scatter by: four places say it no louder than one."""
    readings = [{"kind": "sound_speed", "value": 3890, "place": f"place {i}"} for i in range(4)]
    one, four = (solve(Piece(claim="silver 999", reading=readings[:n]), Settings()) for n in (1, 4))
    assert four.decision.p > one.decision.p / 3
