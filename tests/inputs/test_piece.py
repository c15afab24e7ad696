import copy
import inspect
import json
import pickle
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloysolve.errors import InputError
from alloysolve.inputs.parts import Part
from alloysolve.inputs.piece import SCHEMA, Piece, read_piece, save_piece
from alloysolve.inputs.schema import options, schema
from alloysolve.measured import Measured
from alloysolve.published.load import default_tables
from alloysolve.readings.registry import KINDS, Conductivity, Magnet

TABLES = default_tables()
FILE = """\
# The shortest useful file is the first four lines.
claim  = "silver 999"
mass   = "31.18 g"
displaced = ["3.64 g", "3.63 g"]      # taken out and wetted again
magnet = "none"

name   = "0117"
note   = "bar, one worn corner"
bar    = ["50.0 mm", "28.0 mm", "2.60 mm"]
parts  = []                           # "diamond 0.25 carat"
count  = 1

[[reading]]
kind      = "conductivity"
value     = "29.3 %IACS"
frequency = "60 kHz"                  # of the meter
place     = "face"
"""


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "0117.toml"
    path.write_text(FILE, encoding="utf-8")
    return path


def values(quantities):
    return tuple(q.value for q in quantities)


def test_a_file_gives_numbers_in_base_units_and_the_text_as_read(file):
    piece = read_piece(file)
    assert (piece.claim, piece.name, piece.count, piece.parts) == ("silver 999", "0117", 1, ())
    assert (piece.mass.value, piece.mass.unit) == (31.18, "g")
    assert values(piece.displaced) == (3.64, 3.63)
    assert piece.shape == ("bar", (50.0, 28.0, 2.6))
    assert piece.readings == (Magnet("none"), Conductivity("29.3 %IACS", frequency="60 kHz", place="face"))
    assert piece.echo == {
        "claim": "silver 999",
        "mass": "31.18 g",
        "displaced": "3.64 g 3.63 g",
        "name": "0117",
        "bar": "50.0 mm x 28.0 mm x 2.60 mm",
        "note": "bar, one worn corner",
        "reading[0]": "none",
        "reading[1]": "29.3 %IACS",
    }


def test_file_json_columns_options_and_arguments_say_the_same(file, tmp_path):
    piece = read_piece(file)
    (tmp_path / "0117.json").write_text(json.dumps(piece.to_dict()), encoding="utf-8")
    conductivity = {"value": "29.3 %IACS", "frequency": "60 kHz", "place": "face"}
    common = {
        "claim": "silver 999",
        "mass": "31.18 g",
        "magnet": "none",
        "name": "0117",
        "bar": "50.0x28.0x2.60 mm",
        "note": "bar, one worn corner",
    }
    same = [
        read_piece(tmp_path / "0117.json"),
        Piece(**common, displaced=["3.64 g", "3.63 g"], conductivity=conductivity),
        Piece(
            **common, displaced="3.64 3.63 g", readings=[Conductivity("29.3 %IACS", frequency="60 kHz", place="face")]
        ),
        Piece.from_dict(
            common
            | {"displaced": "3.64 g 3.63 g", "in-water": "", "proof": "no", "reading.0.kind": ""}
            | {f"conductivity.{key}": value for key, value in conductivity.items()}
        ),
        Piece.from_dict(
            common
            | {"displaced": "3.64 g 3.63 g", "reading.0.kind": "conductivity"}
            | {f"reading.0.{key}": value for key, value in conductivity.items()}
        ),
    ]
    for other in same:
        assert other.shape == piece.shape
        assert values(other.displaced) == values(piece.displaced)
        assert [(r.kind, r.place) for r in other.readings] == [(r.kind, r.place) for r in piece.readings]
        assert other.readings[1].value == pytest.approx(16.994)  # 0.293 of 58 MS/m
        assert other.readings[1].frequency == 60000.0
        assert (other.claim, other.mass, other.name) == (piece.claim, piece.mass, piece.name)


def test_bare_numbers_and_units_of_the_trade():
    piece = Piece(mass=1.5, displaced=[0.19, "0.2"], water=70, disc=[38.6, "0.1 inch"], count="20")
    assert (piece.mass.text, piece.mass.value) == ("1.5 g", 1.5)
    assert [q.text for q in piece.displaced] == ["0.19 g", "0.2 g"]
    assert piece.shape[1] == pytest.approx((38.6, 2.54))
    assert piece.count == 20
    assert Piece(mass="1 ozt").mass.value == 31.1034768  # NIST Handbook 44, app. C
    assert Piece(mass="33,25").mass.value == 33.25


def test_computed_numbers_keep_all_their_digits():
    piece = Piece(mass=100 / 3, displaced=np.array([10 / 3, 3.0]), conductivity=Conductivity(100 / 7, unit="%IACS"))
    assert piece.mass.value == 100 / 3
    assert piece.displaced[1].text == "3 g"
    assert Piece.from_dict(json.loads(json.dumps(piece.to_dict()))) == piece


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ("50x28x2.6", (50, 28, 2.6)),
        ("50 x 28 × 2,6 mm", (50, 28, 2.6)),
        ("2x1x0.1 inch", (50.8, 25.4, 2.54)),
        ("2 inch x 28 mm x 2600 um", (50.8, 28, 2.6)),
        ([50, "2.8 cm", 2.6], (50, 28, 2.6)),
    ],
)
def test_lengths_of_a_shape(given, expected):
    assert values(Piece(bar=given).bar) == pytest.approx(expected)


def test_density_as_text_number_measured_or_table():
    assert (Piece(density="8.54 +- 0.02 g/cm3").density.value, Piece(density="8.54 +- 0.02").density.u) == (
        8.54,
        0.02,
    )
    assert Piece(density=8.54).density.u is None
    skew = Measured(8.54, 0.02, "g/cm3", 8.51, 8.60, 4.0)
    piece = Piece(density=skew)
    assert piece.density == skew
    assert Piece.from_dict(json.loads(json.dumps(piece.to_dict()))) == piece
    assert Piece.from_dict({"density.value": 8.54, "density.u": 0.02}).density == Measured(8.54, 0.02, "g/cm3")


def inclusions(*parts: str) -> list[tuple[float, float]]:
    """Mass [g] and density [g/cm3] of parts, by the shipped table."""
    return [(mass.value, row.density_g_cm3) for mass, row in Piece(parts=list(parts)).inclusions(TABLES)]


def test_parts_are_looked_up_by_name():
    piece = Piece(parts="Diamond 0.25 carat; steel spring 0.1 g; 12 x sapphires 1 ct")
    assert piece.parts[0].mass.value == pytest.approx(0.05)  # the carat is 0.2 g, 4th CGPM 1907
    assert piece.parts[1] == Part("steel spring", piece.parts[1].mass)
    assert [row.name for _, row in piece.inclusions(TABLES)] == ["diamond", "steel", "sapphire"]
    named = {
        "two opals 1 g": "opal",
        "rubies 1 ct": "ruby",
        "blue glass 1 ct": "glass",
        "white cubic zirconia 1 ct": "cubic zirconia",
    }
    for text, name in named.items():
        assert Piece(parts=[text]).inclusions(TABLES)[0][1].name == name


def test_a_name_of_several_words_is_taken_before_a_shorter_one():
    assert Piece(parts=["lead glass 1 g"]).inclusions(TABLES)[0][1].name == "lead glass"
    assert Piece(parts=["old yttrium aluminium garnet 1 g"]).inclusions(TABLES)[0][1].name == "yttrium aluminium garnet"


def test_an_unknown_part_names_the_nearest_known():
    with pytest.raises(InputError) as error:
        Piece(parts=["diamnd 0.25 ct"]).inclusions(TABLES)
    assert str(error.value).startswith(
        "parts: 'diamnd': expected a part of the table of inclusions; the nearest known is \"diamond\"; or "
    )


def test_a_part_named_by_one_word_of_its_name_is_answered_with_all_of_it():
    with pytest.raises(InputError, match='the nearest known is "cubic zirconia"'):
        Piece(parts="zirconia 3 mm").inclusions(default_tables())


def test_ct_is_the_carat_of_a_stone():
    # the carat is 0.2 g, 4th CGPM 1907
    assert inclusions("diamond 0.5 ct", "diamond 0.5 carat", "diamond 0.1 g") == [(pytest.approx(0.1), 3.52)] * 3


def test_several_stones_are_counted_with_their_uncertainty():
    assert inclusions("3 x diamond 0.02 ct") == [(pytest.approx(3 * 0.02 * 0.2), 3.52)]
    ((mass, _),) = Piece(parts=["4 x ruby 0.5 +- 0.1 ct"]).inclusions(TABLES)
    assert (mass.value, mass.u) == (pytest.approx(0.4), pytest.approx(0.08))


def test_a_density_of_its_own_is_taken_for_any_name():
    assert inclusions("glass 0.4 g at 2.61", "blue stone 1 ct at 3.5 g/cm3") == [(0.4, 2.61), (pytest.approx(0.2), 3.5)]
    ((_, glass),) = Piece(parts=["glass 0.4 g at 2.61"]).inclusions(TABLES)
    assert glass.u_density_g_cm3 == pytest.approx(0.01 / 12**0.5)  # of its last digit
    ((_, opal),) = Piece(parts=["opal 1 g at 2.05 +- 0.04"]).inclusions(TABLES)
    assert (opal.u_density_g_cm3, opal.do_not_wet) == (pytest.approx(0.04), True)


@pytest.mark.parametrize(
    ("text", "carat"),
    [
        # worked examples of gemgate.com, "Diamond weight estimate for round brilliant cut" and "for oval shape"; the
        # latter has 0.0062 in place of 0.0061, and 1.015 for its girdle
        ("diamond 6.08 x 6.08 x 3.63 mm", 0.8185),
        ("diamond 7.10 x 7.10 x 4.47 mm", 1.374),
        ("diamond 4.82 x 3.02 x 1.92 mm", 0.1856 / 1.015 / 0.0062 * 0.0061),
        ("diamond 6.5 mm", 1.0),  # a round brilliant of a carat measures 6.5 mm (common practice, no source)
        ("sapphire 6.5 mm", 4 / 3.52),  # as large, and denser
    ],
)
def test_lengths_give_the_mass_of_a_round_or_oval_stone(text: str, carat: float):
    ((mass, _),) = Piece(parts=[text]).inclusions(TABLES)
    assert mass.value / 0.2 == pytest.approx(carat, rel=0.01)
    assert mass.u == pytest.approx(0.1 * mass.value)


@pytest.mark.parametrize(
    "text",
    [
        "diamond",
        "diamond 0.5",
        "0.5 ct",
        "3 diamonds 0.5 ct",
        "diamond 4 x",
        "diamond 0.5 ct at",
        "diamond ct",
        "x 1 g at 99",
    ],
)
def test_a_part_that_cannot_be_read_is_an_error_with_examples(text: str):
    with pytest.raises(InputError) as error:
        Piece(parts=[text])
    assert error.value.path == "parts"


def test_parts_are_written_as_they_were_read():
    written = ["diamond 0.5 ct", "3 x ruby 2.1 mm", "opal 5 mm x 4 mm", "glass 0.4 g at 2.5 g/cm3"]
    piece = Piece(parts=written)
    assert piece.to_dict()["parts"] == written
    assert Piece.from_dict(piece.to_dict()) == piece


FULL = {
    "claim": "18 ct yellow",
    "mass": "2.84 +- 0.01 g",
    "in_water": ["2.65 g", "2.66 g"],
    "liquid_density": "0.79 g/cm3",
    "wetting": "dry dip",
    "scale_step": "0.001 g",
    "count": 2,
    "parts": ["diamond 0.25 carat"],
    "ring": ["21 mm", "18 mm", "3 mm"],
    "hollow": "possible",
    "magnet": "weak",
    "resistivity": "10 uohm cm",
    "surface_composition": "Au 75.2 Ag 12.4 Cu 12.4",
    "resonance": "7.1 kHz",
    "sound_speed": "3.2 km/s",
    "sliding_magnet": "0.28",
    "streak": "yellow",
    "colour": "red",
    "acid": "as gold",
    "reading": [{"kind": "magnet", "value": "none", "place": "clasp"}],
    "name": "0122",
    "note": "plain",
    "proof": True,
    "current_money": False,
}


def test_every_field_survives_the_round_trip():
    given = FULL | {"reading": [{"kind": "conductivity", "value": "17 %IACS", "u": "3 %", "place": "clasp"}]}
    piece = Piece(**given)
    assert {
        *piece.to_dict(),
        "density",
        "displaced",
        "water",
        "bar",
        "disc",
        "rod",
        "sphere",
        "tube",
        "conductivity",
    } == {*SCHEMA}
    assert Piece.from_dict(json.loads(json.dumps(piece.to_dict()))) == piece
    assert pickle.loads(pickle.dumps(piece)) == copy.deepcopy(piece) == replace(piece) == piece
    assert hash(piece) == hash(Piece(**given))


def test_two_magnets_stay_two():
    piece = Piece(**FULL)
    assert [(r.text, r.place) for r in piece.readings if r.kind == "magnet"] == [
        ("weak", ""),
        ("none", "clasp"),
    ]
    assert Piece.from_dict(piece.to_dict()) == piece


def test_with_adds_readings_and_replaces_values(file):
    piece = read_piece(file)
    more = piece.with_(magnet="none", conductivity="31 %IACS", mass="31.2 g", disc="38x2 mm")
    assert [r.text for r in more.readings] == ["none", "29.3 %IACS", "31 %IACS"]
    assert (more.mass.value, more.shape, more.bar) == (31.2, ("disc", (38.0, 2.0)), ())
    assert piece.with_(in_water="27.54 g").displaced == ()
    assert piece.with_(claim=None).claim == ""
    assert piece.with_() == piece
    assert piece.mass.value == 31.18


def test_saving_keeps_comments_and_unchanged_lines(file):
    save_piece(read_piece(file), file)
    assert file.read_text(encoding="utf-8") == FILE
    more = read_piece(file).with_(conductivity={"value": "31 %IACS", "place": "rim"}, mass="31.20 g", proof=True)
    save_piece(more, file)
    assert read_piece(file) == more
    text = file.read_text(encoding="utf-8")
    assert [line for line in FILE.splitlines() if line not in text.splitlines()] == ['mass   = "31.18 g"']
    assert text.endswith('\n\n[[reading]]\nkind = "conductivity"\nvalue = "31 %IACS"\nplace = "rim"\n')


def test_saving_takes_away_what_is_gone(file):
    file.write_text(FILE + '[conductivity]\nvalue = "30 %IACS"\nplace = "rim"\n', encoding="utf-8")
    piece = read_piece(file).with_(claim=None, bar=None)
    assert len(piece.readings) == 3
    save_piece(piece, file)
    assert read_piece(file) == piece
    assert "claim" not in file.read_text(encoding="utf-8")


def test_saving_a_new_file(tmp_path):
    for name in ("new.toml", "new.json"):
        piece = Piece(**FULL)
        save_piece(piece, tmp_path / name)
        assert read_piece(tmp_path / name) == piece
    assert sorted(p.name for p in tmp_path.iterdir()) == ["new.json", "new.toml"]


def test_a_byte_order_mark_and_dos_line_ends_are_read(file):
    file.write_bytes(b"\xef\xbb\xbf" + FILE.replace("\n", "\r\n").encode())
    assert read_piece(file).mass.value == 31.18
    save_piece(read_piece(file).with_(name="0118"), file)
    assert read_piece(file).name == "0118"


BAD = [
    ("", "bad.toml: '': expected a piece file; write for example mass = \"31.18 g\""),
    ("# nothing yet", "bad.toml: '': expected a piece file; write for example mass = \"31.18 g\""),
    (
        'claim = "silver 999"\nmass = 31.18 g',
        "bad.toml:2: 'mass = 31.18 g': expected a document in TOML; mend line 2: Expected newline or end of "
        "document after a statement",
    ),
    (
        "mass = 31.18\nmass = 31.2",
        "bad.toml:2: 'mass = 31.2': expected a document in TOML; mend line 2: Cannot overwrite a value",
    ),
    (
        "displacd = 3",
        "displacd: 'displacd': expected a known field of a piece; the nearest known is \"displaced\" (in bad.toml)",
    ),
    (
        "mass = -31.18",
        'mass: -31.18: expected a mass in g, kg, mg, ozt, "oz av", dwt, grain or tola, above 0; '
        'write for example "31.18 g" (in bad.toml)',
    ),
    (
        "mass = inf",
        'mass: inf: expected a mass in g, kg, mg, ozt, "oz av", dwt, grain or tola, a finite number; '
        'write for example "31.18 g" (in bad.toml)',
    ),
    (
        'mass = "1 oz"',
        'mass: \'1 oz\': expected "ozt" (troy ounce, 31.1035 g) or "oz av" (avoirdupois ounce, 28.3495 g); '
        "say which ounce, or give g (in bad.toml)",
    ),
    (
        'mass = "31.18 g"\ndisplaced = ["3.64 g", "3.6 mm"]',
        "displaced[1]: '3.6 mm': expected a mass in g, kg, mg, ozt, \"oz av\", dwt, grain or tola; "
        'write for example "31.18 g" (in bad.toml)',
    ),
    ("displaced = 3", "mass: '': expected a mass in air beside displaced; weigh the piece dry (in bad.toml)"),
    (
        'mass = 31.18\ndisplaced = 3\nin_water = "28 g"',
        "in_water: '28 g': expected displaced or in_water, not both; keep the one that was read (in bad.toml)",
    ),
    (
        'density = "854 g/cm3"',
        "density: '854 g/cm3': expected 0.5 to 25 g/cm3; check the decimal mark and the unit (in bad.toml)",
    ),
    (
        "density = 0.49",
        "density: '0.49 g/cm3': expected 0.5 to 25 g/cm3; check the decimal mark and the unit (in bad.toml)",
    ),
    (
        "[density]\nvalue = 8.54",
        "density.u: '': expected one standard uncertainty in g/cm3; add it (in bad.toml)",
    ),
    (
        "[density]\nvalue = 8.54\nu = 0.1\nlow = 9",
        "density: '9.0 to 8.7359964': expected a range around 8.54; mend it (in bad.toml)",
    ),
    (
        "[density]\nvalue = 8.54\nuu = 0.1",
        "density.uu: 'uu': expected a known key of a density; the nearest known is \"u\" (in bad.toml)",
    ),
    (
        'bar = "50x28"',
        "bar: '50x28': expected lengths in this order: length, width, thickness; "
        'write for example "50x28x2.6 mm", or leave it out (in bad.toml)',
    ),
    (
        'disc = "22 mm"',
        "disc: '22 mm': expected lengths in this order: diameter, thickness; write for example \"38.1x2.6 mm\", "
        'or leave it out; coins of a diameter and mass: alloysolve tables coins "22 mm 8 g" (in bad.toml)',
    ),
    (
        'bar = "2 inch x 1 x 0.1"',
        "bar: '2 inch x 1 x 0.1': expected a unit on every length, or one after the last; "
        'write for example "50x28x2.6 mm" (in bad.toml)',
    ),
    (
        'bar = "50x28xthin"',
        "bar[2]: 'thin': expected a length in mm, cm, m, um, inch or mil; write for example \"38.6 mm\" (in bad.toml)",
    ),
    (
        'ring = ["18 mm", "21 mm", "3 mm"]',
        "ring: '18 mm x 21 mm x 3 mm': expected an inner diameter below the outer one; "
        "give outer diameter, inner diameter, height in this order (in bad.toml)",
    ),
    (
        "tube = [5, 5, 40]",
        "tube: '5 mm x 5 mm x 40 mm': expected an inner diameter below the outer one; "
        "give outer diameter, inner diameter, length in this order (in bad.toml)",
    ),
    (
        "disc = [38, 2]\nbar = [50, 28, 2.6]",
        "disc: 'bar and disc': expected one shape; keep the one that was measured (in bad.toml)",
    ),
    (
        "count = 2.5",
        "count: 2.5: expected a whole number from 1 to 999999; write for example 20 (in bad.toml)",
    ),
    (
        'proof = "perhaps"',
        "proof: 'perhaps': expected true or false; write true, or leave it out (in bad.toml)",
    ),
    (
        'wetting = "brush"',
        'wetting: \'brush\': expected one of "brushed", "as usual", "dry dip"; the nearest is "brushed" (in bad.toml)',
    ),
    ("claim = true", "claim: True: expected text; write it between quotes (in bad.toml)"),
    (
        'name = "0117\\u001b[2J"',
        "name: '0117\\x1b[2J': expected text without control characters; type it again (in bad.toml)",
    ),
    (
        'parts = ["diamond"]',
        "parts: 'diamond': expected a name and a mass with its unit, or lengths in mm; "
        'write for example "diamond 0.25 ct", "3 x ruby 2.1 mm", "opal 5 x 4 mm" or "glass 0.4 g at 2.5" (in bad.toml)',
    ),
    (
        'parts = ["3 diamonds 0.05 ct"]',
        "parts: '3 diamonds 0.05 ct': expected whether each or all together have 0.05 ct; write "
        '"3 x diamonds 0.05 ct" if each has it, or "diamonds 0.05 ct" if all together have it (in bad.toml)',
    ),
    (
        'parts = ["diamond 0.25"]',
        "parts: 'diamond 0.25': expected a name and a mass with its unit, or lengths in mm; "
        'write for example "diamond 0.25 ct", "3 x ruby 2.1 mm", "opal 5 x 4 mm" or "glass 0.4 g at 2.5" (in bad.toml)',
    ),
    (
        'magnet = "some"',
        'magnet: \'some\': expected one of "none", "weak", "strong"; use one of these words (in bad.toml)',
    ),
    (
        '[conductivity]\nvalue = "29.3 %IACS"\nfreqency = "60 kHz"',
        "conductivity.freqency: 'freqency': expected a known key of this reading; "
        'the nearest known is "frequency" (in bad.toml)',
    ),
    (
        '[[reading]]\nkind = "magnet"\nvalue = "none"\n[[reading]]\nkind = "conductivity"\nvalue = "29.3 %IAC"',
        "reading[1].value: '29.3 %IAC': expected a conductivity in %IACS, MS/m or S/m, or a resistivity in "
        'uohm cm, nohm m or ohm m; write for example "29.3 %IACS" (in bad.toml)',
    ),
]


@pytest.mark.parametrize(("document", "message"), BAD)
def test_bad_piece_files(document, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bad.toml").write_text(document, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_piece("bad.toml")
    assert str(error.value) == message


BAD_COLUMNS = [
    (
        {"conductivity.freqency": "60 kHz"},
        "rows[3].conductivity.freqency: 'conductivity.freqency': expected a known field of a piece; "
        'the nearest known is "conductivity.frequency"',
    ),
    (
        {"mass.u": 0.1},
        "rows[3].mass.u: 'mass.u': expected a known field of a piece; the nearest known is \"mass\"",
    ),
    (
        {"reading.first.kind": "magnet"},
        "rows[3].reading.first.kind: 'magnet': expected a number and a key; name it \"reading.0.value\"",
    ),
    (
        {"in_water": 27.5, "in-water": 27.6},
        "rows[3].in-water: 27.6: expected every value once; take one of them out",
    ),
    (
        {"mass": "heavy"},
        "rows[3].mass: 'heavy': expected a mass in g, kg, mg, ozt, \"oz av\", dwt, grain or tola; "
        'write for example "31.18 g"',
    ),
]


@pytest.mark.parametrize(("row", "message"), BAD_COLUMNS)
def test_bad_columns(row, message):
    with pytest.raises(InputError) as error:
        Piece.from_dict(row, "rows[3]")
    assert str(error.value) == message


def test_a_column_of_frequencies_without_readings_is_no_reading():
    assert Piece.from_dict({"mass": 3, "conductivity": "", "conductivity.frequency": "60 kHz"}).readings == ()


@pytest.mark.parametrize(("name", "reason"), [("gone.toml", "No such file"), ("", "a folder")])
def test_a_missing_file_and_a_folder(tmp_path, name, reason):
    with pytest.raises(InputError) as error:
        read_piece(tmp_path / name)
    assert error.value.path == str(tmp_path / name)
    assert reason in str(error.value.given)


def test_saving_over_a_corrupt_file_changes_nothing(tmp_path):
    path = tmp_path / "corrupt.toml"
    path.write_text("mass = = 3", encoding="utf-8")
    with pytest.raises(InputError):
        save_piece(Piece(mass=3), path)
    assert path.read_text(encoding="utf-8") == "mass = = 3"


def test_one_schema_for_arguments_options_and_json():
    assert list(inspect.signature(Piece).parameters) == list(SCHEMA)
    assert [name[2:].replace("-", "_") for name in options()] == list(SCHEMA)
    assert list(schema()["properties"]) == list(SCHEMA)
    assert set(KINDS) <= set(SCHEMA)
    assert all(item.help for item in SCHEMA.values())
    assert schema()["additionalProperties"] is False
    assert schema()["properties"]["wetting"]["enum"] == ["brushed", "as usual", "dry dip"]
    json.dumps(schema())


NAMES = st.sampled_from([*SCHEMA, "readings", "part", "conductivity.u", "reading.0.kind", "kind", "value", "u"])
SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=12),
    st.sampled_from(["3 g", "50x28x2.6", "29 %IACS", "none", "diamond 1 carat", "1 in 10", "8.5 +- 0.1"]),
)
JSON = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(NAMES | st.text(max_size=6), inner, max_size=4),
    max_leaves=8,
)


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(NAMES | st.text(max_size=6), JSON, max_size=5))
def test_any_document_is_a_piece_or_one_line_of_error(document):
    try:
        piece = Piece.from_dict(document)
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017
        assert error.path  # noqa: PT017
    else:
        assert Piece.from_dict(json.loads(json.dumps(piece.to_dict()))) == piece


@pytest.mark.parametrize(
    ("text", "mass"), [("0.25 ct diamond", 0.05), ("3 x 0.02 ct of diamond", 0.012), ("0.4 g glass at 2.5", 0.4)]
)
def test_the_mass_of_a_part_may_come_first(text, mass):
    ((found, _),) = Piece(parts=[text]).inclusions(TABLES)
    assert found.value == pytest.approx(mass)  # the carat is 0.2 g, 4th CGPM 1907


def test_a_count_before_a_length_may_be_an_oval_stone_and_is_refused():
    assert Piece(parts=["2.1 mm ruby"]).parts == Piece(parts=["ruby 2.1 mm"]).parts
    with pytest.raises(InputError):
        Piece(parts=["3 x 2.1 mm ruby"])


@pytest.mark.parametrize(("said", "hollow"), [("no", ""), ("yes", "possible"), ("maybe", "possible")])
def test_whether_it_may_be_hollow_as_people_say_it(said, hollow):
    assert Piece(mass=31.18, hollow=said).hollow == hollow
    assert Piece(mass=31.18, hollow=said).to_dict().get("hollow", "") == hollow


@pytest.mark.parametrize(
    ("said", "answer"),
    [("very strong", "strong"), ("sticks", "strong"), ("doesn't stick", "none"), ("does not stick", "none")],
)
def test_what_a_magnet_does_as_people_say_it(said, answer):
    assert Piece(magnet=said).readings[0].answer == answer


def test_a_length_that_is_missing_is_named_and_may_be_left_out_with_the_rest():
    with pytest.raises(InputError, match=r"diameter, thickness; .*, or leave it out"):
        Piece(disc="30.6 mm")


def test_none_removes_readings_of_a_kind_or_all():
    piece = Piece(mass=31, displaced=3, magnet="none", conductivity="29 %IACS", colour="white")
    assert [r.kind for r in piece.with_(magnet=None).readings] == ["conductivity", "colour"]
    assert piece.with_(reading=None) == Piece(mass=31, displaced=3)
    assert piece.with_(magnet=None, reading=[Magnet("weak")]).readings[0] == Magnet("weak")
    assert piece.with_(mass=None, displaced=None).mass is None


def test_a_reading_is_not_taken_under_the_name_of_another():
    with pytest.raises(InputError, match="a reading of magnet"):
        Piece(magnet=Conductivity("29 %IACS"))
    assert Piece(conductivity=Conductivity("6.2 uohm cm")).readings[0].kind == "resistivity"  # the same quantity
