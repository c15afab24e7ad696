"""A bare number of a meter: queried, with all that it may mean, unless the settings name the unit."""

import pytest

from alloysolve.answer.solution import solve
from alloysolve.errors import InputError
from alloysolve.inputs.bare import with_units
from alloysolve.inputs.piece import Piece, read_piece
from alloysolve.inputs.settings import Settings

CLAIMED = {"claim": "silver 999", "mass": "31.10 g", "displaced": "2.96 g"}


def shop(unit):
    return Settings.from_dict({"readings": {"conductivity": {"unit": unit}}})


@pytest.mark.parametrize(
    ("given", "path", "ways"),
    [
        ({"conductivity": 61.5}, "conductivity", '"61.5 %IACS" or "61.5 MS/m"'),
        ({"conductivity": "61,5"}, "conductivity", '"61,5 %IACS" or "61,5 MS/m"'),
        ({"conductivity": {"value": "61.5 +- 0.5"}}, "conductivity.value", '"61.5 +- 0.5 %IACS"'),
        ({"resistivity": "17"}, "resistivity", '"17 uohm cm" or "17 nohm m"'),
        ({"conductivity": {"value": "61.5 MS/m", "frequency": 60}}, "conductivity.frequency", '"60 kHz" or "60 Hz"'),
        ({"conductivity": {"value": "61.5 MS/m", "frequency": "480"}}, "conductivity.frequency", '"480 kHz"'),
    ],
)
def test_a_number_that_may_be_two_things_is_queried_with_both(given, path, ways):
    with pytest.raises(InputError) as error:
        Piece.from_dict(given)
    assert error.value.path == path
    assert ways in error.value.next_step


def test_settings_say_nothing_of_a_meter_without_its_unit():
    with pytest.raises(InputError, match="60 kHz"):
        Settings.from_dict({"readings": {"conductivity": {"frequency": 60}}})


@pytest.mark.parametrize(
    "given",
    [
        {"conductivity": 58},
        {"conductivity": "58"},
        {"conductivity": {"value": "58", "place": "face"}},
        {"conductivity.value": "58"},
        {"conductivity": "58", "conductivity.place": "face"},
        {"reading": [{"kind": "conductivity", "value": 58}]},
        {"reading.0.kind": "conductivity", "reading.0.value": "58"},
    ],
    ids=str,
)
@pytest.mark.parametrize(("unit", "percent"), [("MS/m", 100.0), ("%IACS", 58.0)])  # 58 MS/m is 100 %IACS, IEC 60028
def test_the_settings_name_the_unit_of_the_meter(given, unit, percent):
    (reading,) = Piece.from_dict(with_units(given, shop(unit))).readings
    assert reading.iacs == pytest.approx(percent)
    assert reading.text == f"58 {unit}"  # what is saved, recorded and printed has its unit


def test_a_unit_that_was_written_counts_and_other_readings_stay_as_they_are():
    given = {"conductivity": "58 MS/m", "resistivity": "2 uohm cm", "magnet": "none", "conductivity.frequency": ""}
    found = {r.kind: r.text for r in Piece.from_dict(with_units(given, shop("%IACS"))).readings}
    assert found == {"conductivity": "58 MS/m", "resistivity": "2 uohm cm", "magnet": "none"}
    assert with_units({"conductivity": "", "reading": ()}, shop("MS/m")) == {"conductivity": "", "reading": ()}


def test_solving_and_reading_files_follow_the_settings(tmp_path):
    """61.5 MS/m is what silver conducts, 63 by handbooks; 61.5 %IACS is far from it."""
    good, other = (solve({**CLAIMED, "conductivity": "61.5"}, shop(unit)) for unit in ("MS/m", "%IACS"))
    assert good.decision.code == "not contradicted"
    assert other.decision.code == "contradicted"
    file = tmp_path / "piece.toml"
    file.write_text('claim = "silver 999"\nconductivity = 61.5\n', encoding="utf-8")
    assert read_piece(file, shop("MS/m")).readings[0].text == "61.5 MS/m"
    with pytest.raises(InputError, match=r"61\.5 MS/m"):
        read_piece(file)
