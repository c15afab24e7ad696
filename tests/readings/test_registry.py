from dataclasses import replace

import pytest

from alloysolve.errors import InputError
from alloysolve.readings.registry import KINDS, Conductivity, Magnet, Reading, read_reading


def test_iacs_is_58_ms_m_and_1_7241_uohm_cm():
    reading = Conductivity("100 %IACS")  # IEC 60028: 58 MS/m, 1.7241 uohm cm
    assert reading.value == pytest.approx(58.0, rel=1e-12)
    assert reading.unit == "MS/m"
    assert reading.iacs == pytest.approx(100.0, rel=1e-12)
    assert reading.resistivity == pytest.approx(1.7241, abs=5e-5)  # given to four decimals


@pytest.mark.parametrize(
    ("given", "value", "u"),
    [
        (Conductivity("50 %IACS"), 29.0, None),
        (Conductivity(50.0, 1.0, "%IACS"), 29.0, 0.58),
        (Conductivity("50 %IACS", u="2 %"), 29.0, 0.58),
        (Conductivity("50 +- 1 %IACS"), 29.0, 0.58),
        (Conductivity("29 MS/m"), 29.0, None),
        (Conductivity(5.0, 0.1, "uohm cm"), 20.0, 0.4),  # 100/5 MS/m; 2 % of 20
        (Conductivity("5", "2 %", "uohm cm"), 20.0, 0.4),
        (Conductivity("5 uohm cm"), 20.0, None),
        (read_reading("5 uohm cm", "resistivity", "resistivity"), 20.0, None),
    ],
)
def test_values_become_ms_m(given, value, u):
    assert given.value == pytest.approx(value, rel=1e-9)
    assert given.u == (None if u is None else pytest.approx(u, rel=1e-9))


@pytest.mark.parametrize(
    "reading",
    [
        Conductivity("29,3 %IACS", frequency="60 kHz", place="face"),
        Conductivity("29.3 %IACS", u="2 %", frequency="60 kHz"),
        Conductivity(6.2, 0.1, "uohm cm"),
        Conductivity("6.2 uohm cm", place="rim"),
        Magnet("weak", "edge"),
        Magnet("none"),
    ],
)
def test_a_table_gives_the_same_reading_again(reading):
    assert read_reading(reading.to_dict(), "reading[0]") == reading


def test_text_is_kept_as_read():
    reading = Conductivity("29,3 %IACS", frequency="60 kHz")
    assert (reading.text, reading.frequency, reading.frequency_text) == ("29,3 %IACS", 60000.0, "60 kHz")
    assert Conductivity(29.3, unit="%IACS").text == "29.3 %IACS"


def test_kind_says_how_it_was_read():
    assert Conductivity("29.3 %IACS").kind == "conductivity"
    assert Conductivity("6.2 uohm cm").kind == "resistivity"
    assert Magnet("NONE").kind == "magnet"
    assert Magnet("NONE").answer == "none"


def test_replace_keeps_value_and_uncertainty():
    moved = replace(Conductivity("50 +- 1 %IACS", frequency="60 kHz"), place="rim")
    assert (moved.value, moved.u) == pytest.approx((29.0, 0.58))
    assert (moved.frequency, moved.place) == (60000.0, "rim")


def test_every_kind_builds_a_reading_of_its_name():
    values = {
        "magnet": "strong",
        "conductivity": "29.3 %IACS",
        "resistivity": "6.2 uohm cm",
        "surface_composition": "Ag 92.5 Cu 7.5",
        "resonance": "4730 Hz",
        "sound_speed": "3650 m/s",
        "sliding_magnet": "0.28",
        "streak": "yellow",
        "colour": "yellow",
        "acid": "as gold",
    }
    assert set(values) == set(KINDS)
    for kind, value in values.items():
        reading = read_reading({"kind": kind, "value": value}, "reading[0]")
        assert isinstance(reading, Reading)
        assert (reading.kind, reading.text) == (kind, value)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (
            {"kind": "conductivty", "value": 29.3},
            "reading[0].kind: 'conductivty': expected a known kind of reading; the nearest known is \"conductivity\"",
        ),
        (
            {"value": 29.3},
            "reading[0].kind: '': expected a kind of reading; one of magnet, conductivity, resistivity, "
            "surface_composition, resonance, sound_speed, sliding_magnet, streak, colour, acid",
        ),
        (
            {"kind": "conductivity"},
            "reading[0].value: '': expected the value with its unit: 29.3 %IACS, 17 MS/m or 6.2 uohm cm; "
            "give the value that was read",
        ),
        (
            {"kind": "conductivity", "value": 29.3, "freqency": "60 kHz"},
            "reading[0].freqency: 'freqency': expected a known key of this reading; the nearest known is \"frequency\"",
        ),
        (
            {"kind": "conductivity", "value": "29.3 %IACS", "u": "much"},
            "reading[0].u: 'much': expected an uncertainty above zero, in the unit of the value or in %; "
            'write for example "2 %"',
        ),
        (
            {"kind": "conductivity", "value": "29.3 +- 1 %IACS", "u": "2 %"},
            "reading[0].u: '2 %': expected one uncertainty; keep either the one behind \"+-\" or u",
        ),
        (
            {"kind": "resistivity", "value": "29 %IACS"},
            "reading[0].value: '29 %IACS': expected a resistivity in uohm cm, nohm m or ohm m; "
            'write for example "6.2 uohm cm", or name it conductivity',
        ),
        (
            {"kind": "magnet", "value": "nonee"},
            'reading[0].value: \'nonee\': expected one of "none", "weak", "strong"; the nearest is "none"',
        ),
        (
            {"kind": "magnet", "value": "often"},
            'reading[0].value: \'often\': expected one of "none", "weak", "strong"; use one of these words',
        ),
        ("29.3", "reading[0]: '29.3': expected a table; write [[reading]] with the lines kind and value"),
    ],
)
def test_bad_readings(given, message):
    with pytest.raises(InputError) as error:
        read_reading(given, "reading[0]")
    assert str(error.value) == message


@pytest.mark.parametrize("value", [0, -1, float("nan"), float("inf"), "", "fast", True, [1]])
def test_senseless_conductivities_are_refused(value):
    with pytest.raises(InputError) as error:
        Conductivity(value)
    assert error.value.path == "conductivity"


def test_a_frequency_error_names_the_frequency():
    with pytest.raises(InputError) as error:
        read_reading({"kind": "conductivity", "value": "29.3 %IACS", "frequency": "60 s"}, "reading[2]")
    assert error.value.path == "reading[2].frequency"
