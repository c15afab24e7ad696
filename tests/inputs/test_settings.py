import json
import os
from datetime import date

import pytest

from alloysolve.errors import InputError
from alloysolve.inputs import settings as module
from alloysolve.inputs.files import parse_document, read_document
from alloysolve.inputs.settings import Settings, find_settings, write_settings

FULL = """\
[scale]
step   = "0.001 g"       # the small one
set_up = "below the balance"
thread = "0.12 mm"
water  = "21 degC"
wetting = "brushed"
known_good = { claim = "silver 999", mass = "31.10 g", displaced = "2.97 g", on = 2026-03-12 }

[readings]               # in the order the shop likes
own = ["magnet", "conductivity", "surface composition"]
conductivity = { frequency = "60 kHz", u = "2 %" }

[answers]
false_alarm = "1 in 1000"
paper = "a5"

[page]
header = "Harbour Street Buying Counter, Lindmark"

[tables]
extra = ["tables/grades.csv"]
"""


@pytest.fixture(autouse=True)
def _no_settings_of_this_machine(monkeypatch, tmp_path):
    monkeypatch.delenv(module.VARIABLE, raising=False)
    monkeypatch.setattr(module, "user_settings_file", lambda: tmp_path / "user" / "settings.toml")


@pytest.fixture
def full(tmp_path):
    file = tmp_path / "shop.toml"
    file.write_text(FULL, encoding="utf-8")
    return file


def test_every_value_of_a_full_file(full):
    s = find_settings(full)
    assert (s.scale.step.value, s.scale.step.text) == (0.001, "0.001 g")
    assert (s.scale.set_up, s.scale.wetting) == ("below the balance", "brushed")
    assert (s.scale.thread.value, s.scale.water.value, s.scale.water.u) == (0.12, 21.0, None)
    good = s.scale.known_good
    assert (good.claim, good.mass.value, good.displaced[0].value) == ("silver 999", 31.10, 2.97)
    assert good.on == date(2026, 3, 12)
    assert s.readings.own == ("magnet", "conductivity", "surface composition")
    assert (s.readings.conductivity.frequency.value, s.readings.conductivity.u.value) == (60000.0, 0.02)
    assert (s.answers.false_alarm.value, s.answers.paper) == (0.001, "A5")
    assert s.page.header == "Harbour Street Buying Counter, Lindmark"
    assert s.resolve(s.tables.extra[0]) == full.parent / "tables" / "grades.csv"


def test_defaults():
    s = find_settings()
    assert s == Settings()
    assert s.origin == "defaults"
    assert (s.scale.step.value, s.scale.step.unit, s.scale.water.value, s.scale.water.u) == (0.01, "g", 20, 1)
    assert (s.scale.air.value, s.answers.false_alarm.value) == (0.0012, 1e-4)
    assert Settings.from_dict(s.to_dict()) == s  # the texts of the defaults say what their numbers are


def test_option_goes_before_environment_before_user_folder_before_defaults(full, tmp_path, monkeypatch):
    for name, step in (("environment.toml", "0.02 g"), ("user/settings.toml", "0.03 g")):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(f'[scale]\nstep = "{step}"\n', encoding="utf-8")
    user = find_settings()
    monkeypatch.setenv(module.VARIABLE, str(tmp_path / "environment.toml"))
    environment, option = find_settings(), find_settings(full)
    assert [(s.origin, s.scale.step.value) for s in (option, environment, user)] == [
        ("option", 0.001),
        ("environment", 0.02),
        ("user folder", 0.03),
    ]
    assert environment.file == str(tmp_path / "environment.toml")


def test_the_user_folder_is_the_one_of_the_platform(monkeypatch):
    monkeypatch.undo()
    file = module.user_settings_file()
    assert file.is_absolute()
    assert file.parts[-2:] == ("alloysolve", "settings.toml")


def test_json_round_trip_keeps_what_was_read(full):
    s = find_settings(full)
    written = json.loads(json.dumps(s.to_dict()))
    assert Settings.from_dict(written) == s
    assert written["scale"]["known_good"]["on"] == "2026-03-12"
    assert written["answers"]["false_alarm"] == "1 in 1000"


def test_a_new_file_states_every_default_with_a_comment(tmp_path):
    file = tmp_path / "new" / "settings.toml"
    write_settings(Settings(), file)
    assert find_settings(file) == Settings()
    text = file.read_text(encoding="utf-8")
    assert 'step = "0.01 g" # smallest step the scale shows' in text
    assert read_document(file) == Settings().to_dict()


def test_saving_the_known_good_piece_changes_nothing_else(full):
    s = find_settings(full).with_known_good("silver 925", 25.0, ["2.41 g", "2.42 g"], date(2026, 3, 13))
    write_settings(s, full)
    assert find_settings(full) == s
    before, after = FULL.splitlines(), full.read_text(encoding="utf-8").splitlines()
    changed = [line for line in before if line not in after]
    assert changed == [before[6]]
    assert len(after) == len(before)
    assert [q.value for q in s.scale.known_good.displaced] == [2.41, 2.42]


def test_writing_leaves_no_other_file_and_keeps_the_mode(full):
    full.chmod(0o640)
    write_settings(find_settings(full).with_known_good("silver 925", "25 g", "2.4 g"), full)
    assert [p.name for p in full.parent.iterdir()] == ["shop.toml"]
    assert full.stat().st_mode & 0o777 == 0o640


def test_a_failed_write_leaves_the_old_file(full, monkeypatch):
    def refuse(source, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(InputError) as error:
        write_settings(find_settings(full).with_known_good("silver 925", "25 g", "2.4 g"), full)
    assert error.value.path == str(full)
    assert "No space left on device" in str(error.value)
    assert full.read_text(encoding="utf-8") == FULL
    assert [p.name for p in full.parent.iterdir()] == ["shop.toml"]


BAD = [
    (
        '[scale]\nstep = "0.01 furlong"',
        "settings.scale.step: '0.01 furlong': expected a mass in g, kg, mg, ozt, \"oz av\", dwt, grain "
        'or tola; write for example "31.18 g" (in bad.toml)',
    ),
    (
        "[scale]\nsteps = 1",
        "settings.scale.steps: 'steps': expected a known key; the nearest known is \"step\" (in bad.toml)",
    ),
    (
        "[scales]",
        "settings.scales: 'scales': expected a known key; the nearest known is \"scale\" (in bad.toml)",
    ),
    (
        'scale = "0.01 g"',
        "settings.scale: '0.01 g': expected a table; write it with the keys step, set_up, thread, water, "
        "air, check_days, wetting, known_good (in bad.toml)",
    ),
    (
        '[scale]\nset_up = "tarred beaker"',
        'settings.scale.set_up: \'tarred beaker\': expected one of "tared beaker", "below the balance"; '
        'the nearest is "tared beaker" (in bad.toml)',
    ),
    (
        '[scale]\nair = "1.2 g/cm3"',
        "settings.scale.air: '1.2 g/cm3': expected 0.0005 to 0.002 g/cm3; check the decimal mark and "
        "the unit (in bad.toml)",
    ),
    (
        '[scale.known_good]\nclaim = "silver 999"\nmass = "31.10 g"',
        "settings.scale.known_good.displaced: '': expected the water it pushed aside; add it (in bad.toml)",
    ),
    (
        '[scale.known_good]\nclaim = "silver 999"\nmass = "31.1 g"\ndisplaced = "2.97 g"\non = "yesterday"',
        "settings.scale.known_good.on: 'yesterday': expected a date; write it as year-month-day, 2026-03-12 "
        "(in bad.toml)",
    ),
    (
        '[readings]\nown = ["magnet", "conductivty"]',
        'settings.readings.own[1]: \'conductivty\': expected one of "magnet", "conductivity", "resistivity", '
        '"surface composition", "resonance", "sound speed", "sliding magnet", "streak", "colour", "acid"; '
        'the nearest is "conductivity" (in bad.toml)',
    ),
    (
        '[answers]\nfalse_alarm = "1 in 2"',
        "settings.answers.false_alarm: '1 in 2': expected 1e-09 to 0.05; check the decimal mark and the unit "
        "(in bad.toml)",
    ),
    (
        '[answers]\nlanguage = "plain words"',
        "settings.answers.language: 'plain words': expected a code of ISO 639; write for example \"en\" (in bad.toml)",
    ),
    (
        '[scale]\nstep == "0.01 g"',
        "bad.toml:2: 'step == \"0.01 g\"': expected a document in TOML; mend line 2: Invalid value",
    ),
]


@pytest.mark.parametrize(("document", "message"), BAD)
def test_bad_settings(document, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bad.toml").write_text(document, encoding="utf-8")
    with pytest.raises(InputError) as error:
        find_settings("bad.toml")
    assert str(error.value) == message


def test_a_missing_file_named_by_the_environment_says_so(monkeypatch):
    monkeypatch.setenv(module.VARIABLE, "gone.toml")
    with pytest.raises(InputError) as error:
        find_settings()
    assert str(error.value) == (
        "gone.toml: 'No such file or directory': expected a file that can be read; check the path "
        "(in gone.toml, named by ALLOYSOLVE_SETTINGS)"
    )


@pytest.mark.parametrize("text", ["", "not json", "[1]", '{"a": ', "[" * 100_000])
def test_bad_json_is_an_error_with_its_place(text):
    with pytest.raises(InputError) as error:
        parse_document(text, "standard input", json_text=True)
    assert error.value.path.startswith("standard input")
    assert "\n" not in str(error.value)


def test_text_that_is_not_utf_8_names_the_line():
    with pytest.raises(InputError) as error:
        parse_document(b'[page]\nheader = "Caf\xe9"\n', "latin.toml", json_text=False)
    assert str(error.value) == "latin.toml:2: 'byte 0xe9': expected text in UTF-8; save the file as UTF-8"
