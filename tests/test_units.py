"""Numbers with units: exact factors, refused words, never anything but a Quantity or InputError."""

import math
import sys
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from alloysolve.errors import InputError
from alloysolve.units import DIMENSIONS, Quantity, parse, parse_many
from tests.rows import every

# (text, dimension, value in the base unit): exact factors from NIST Handbook 44 appendix C
# (ounces, pennyweight, grain, inch), 4th CGPM 1907 (carat), IEC 60028 (IACS); tola = 180 grains, from memory
EXACT = [
    ("31.18 g", "mass", 31.18),
    ("1 kg", "mass", 1000.0),
    ("250 mg", "mass", 0.25),
    ("1 ozt", "mass", 31.1034768),
    ("1 troy oz", "mass", 31.1034768),
    ("1 oz av", "mass", 28.349523125),
    ("1 dwt", "mass", 1.55517384),
    ("1 grain", "mass", 0.06479891),
    ("1 tola", "mass", 11.6638038),
    ("1 inch", "length", 25.4),
    ("1.5 in", "length", 38.1),
    ("1 mil", "length", 0.0254),
    ("25 um", "length", 0.025),
    ("25 µm", "length", 0.025),
    ("25 μm", "length", 0.025),
    ("2 cm", "length", 20.0),
    ("0.03 m", "length", 30.0),
    ("70 degF", "temperature", 190 / 9),
    ("20 °C", "temperature", 20.0),
    ("293.15 K", "temperature", 20.0),
    ("-5", "temperature", -5.0),
    ("8540 kg/m3", "density", 8.54),
    ("8.54 g/cm³", "density", 8.54),
    ("100 %IACS", "conductivity", 58.0),
    ("58 MS/m", "conductivity", 58.0),
    ("5.8e7 S/m", "conductivity", 58.0),
    ("1.7241379310344827 uohm cm", "conductivity", 58.0),
    ("1.7241379310344827 µΩ·cm", "conductivity", 58.0),
    ("1.7241379310344827e-8 ohm m", "conductivity", 58.0),
    ("17.241379310344827 nohm m", "conductivity", 58.0),
    ("0.017241379310344827 ohm mm2/m", "conductivity", 58.0),
    ("62 nohm m", "resistivity", 6.2),
    ("60 kHz", "frequency", 60e3),
    ("1.2 MHz", "frequency", 1.2e6),
    ("250 ms", "time", 0.25),
    ("3.64 mL", "volume", 3.64),
    ("3650 m/s", "speed", 3650.0),
    ("3.65 km/s", "speed", 3650.0),
    ("3.65 mm/us", "speed", 3650.0),
    ("3.65 mm/µs", "speed", 3650.0),
    ("0.1437 in/us", "speed", 3649.98),  # 25.4 mm exactly
    ("28 %", "ratio", 0.28),
    ("120 %", "ratio", 1.2),
    ("1.2", "ratio", 1.2),
    ("3640 mm3", "volume", 3.64),
    ("1 %", "share", 0.01),
    ("0.01", "share", 0.01),
    ("1 in 10000", "share", 0.0001),
    ("0", "share", 0.0),
]


@every("text, dimension, value", EXACT)
def test_exact_factors(text: str, dimension: str, value: float) -> None:
    assert parse(text, dimension, "x").value == pytest.approx(value, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("dimension", "unit"),
    [
        ("mass", "g"),
        ("length", "mm"),
        ("temperature", "degC"),
        ("density", "g/cm3"),
        ("conductivity", "%IACS"),
        ("resistivity", "uohm cm"),
        ("frequency", "Hz"),
        ("time", "s"),
        ("volume", "cm3"),
        ("speed", "m/s"),
    ],
)
def test_bare_number_takes_the_default_unit_and_is_echoed_with_it(dimension: str, unit: str) -> None:
    for given_ in (7, 7.0, "7", np.float32(7), np.int64(7), Fraction(7)):
        q = parse(given_, dimension, "x")
        assert q.text == f"7 {unit}"
        assert q.value == pytest.approx(parse(f"7 {unit}", dimension, "x").value)


def test_reading_is_echoed_as_written() -> None:
    assert parse("  33,25   g ", "mass", "mass").text == "33,25 g"
    assert parse("0.10", "mass", "mass").text == "0.10 g"  # the zero says how finely it was read


@pytest.mark.parametrize(
    ("text", "value"), [("33,25", 33.25), ("0,123", 0.123), ("1234,567", 1234.567), ("3,6", 3.6), (",5", 0.5)]
)
def test_decimal_comma_that_cannot_be_a_thousands_mark(text: str, value: float) -> None:
    assert parse(text, "mass", "mass").value == value


@pytest.mark.parametrize("text", ["1,234", "31,180 mg", "1.234,5", "1,234.5", "1.234.567", "1'234 g"])
def test_thousands_marks_are_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse(text, "mass", "mass")


@pytest.mark.parametrize(
    ("text", "dimension", "value", "u"),
    [
        ("8.54 +- 0.02 g/cm3", "density", 8.54, 0.02),
        ("8.54 ± 0.02 g/cm3", "density", 8.54, 0.02),
        ("8.54 g/cm3 +/- 0.02", "density", 8.54, 0.02),
        ("8.54 +- 0.02", "density", 8.54, 0.02),
        ("31.18 g +- 10 mg", "mass", 31.18, 0.01),
        ("70 +- 9 degF", "temperature", 190 / 9, 5.0),  # a difference has no zero point
        ("50 %IACS +- 2 %", "conductivity", 29.0, 0.58),
        ("5 % +- 1 %", "share", 0.05, 0.01),
        ("28 % +- 2 %", "ratio", 0.28, 0.02),
        ("3650 m/s +- 1 %", "speed", 3650.0, 36.5),
        ("3.65 +- 0.02 km/s", "speed", 3650.0, 20.0),
        ("10 +- 0.5 uohm cm", "conductivity", 10.0, 0.5),  # relative uncertainty survives turning over
    ],
)
def test_uncertainty(text: str, dimension: str, value: float, u: float) -> None:
    q = parse(text, dimension, "x")
    assert (q.value, q.u) == (pytest.approx(value), pytest.approx(u))


# (text, dimension, part of the message): both meanings are spelled out
AMBIGUOUS = [
    ("1 oz", "mass", '"ozt" (troy ounce, 31.1035 g) or "oz av" (avoirdupois ounce, 28.3495 g)'),
    ("1 OZ.", "mass", '"ozt" (troy ounce, 31.1035 g) or "oz av"'),
    ("5 gr", "mass", '"g" (gram) or "grain" (0.0648 g)'),
    ("2 ct", "mass", 'stone ("carat", 0.2 g) or the fineness of gold'),
    ("2 carat", "mass", 'stone ("carat", 0.2 g) or the fineness of gold'),
]


@pytest.mark.parametrize(("text", "dimension", "message"), AMBIGUOUS)
def test_words_with_two_meanings(text: str, dimension: str, message: str) -> None:
    with pytest.raises(InputError) as e:
        parse(text, dimension, "mass")
    assert message in str(e.value)
    assert e.value.path == "mass"


def test_carat_only_for_stones() -> None:
    for text in ("0.25 carat", "0.25 ct"):
        assert parse(text, "mass", "parts[0]", carat=True).value == pytest.approx(0.05)
        with pytest.raises(InputError):
            parse(text, "mass", "mass")
    with pytest.raises(InputError):  # always the fineness of gold
        parse("0.25 karat", "mass", "parts[0]", carat=True)


BAD = [
    ("-1 g", "mass"),
    ("0 g", "mass"),
    (0, "mass"),
    (-3.0, "mass"),
    ("", "mass"),
    ("g", "mass"),
    ("nan", "mass"),
    ("inf g", "mass"),
    (math.nan, "mass"),
    (math.inf, "mass"),
    ("1e999 g", "mass"),
    ("1e308 kg", "mass"),
    (10**400, "mass"),
    (None, "mass"),
    (True, "mass"),
    ([1.0], "mass"),
    ("5 mm", "mass"),
    ("5 g", "length"),
    ("5 mS/m", "conductivity"),
    ("0 uohm cm", "conductivity"),
    ("-274", "temperature"),
    ("-1 K", "temperature"),
    ("5", "share"),
    ("120 %", "share"),
    ("1 in 0", "share"),
    ("8.5 +- 0 g/cm3", "density"),
    ("8.5 +- -1 g/cm3", "density"),
    ("8.5 +-", "density"),
    ("3.64 3.63 g", "mass"),
    ("3.64, 3.63 g", "mass"),
    ("2-3 g", "mass"),
    ("1" * 5000, "mass"),
    ("٣ g", "mass"),
    ("1 mHz", "frequency"),
    ("8.5³", "mass"),
    ("0 m/s", "speed"),
    ("-3650 m/s", "speed"),
    ("3650 mm", "speed"),
    ("3650 km/h", "speed"),
    ("0", "ratio"),
    ("1.2 mm", "ratio"),
]


@every("given_, dimension", BAD)
def test_bad_input_is_one_line(given_: object, dimension: str) -> None:
    with pytest.raises(InputError) as e:
        parse(given_, dimension, "reading[0].value")  # type: ignore[arg-type]
    message = str(e.value)
    assert message.startswith("reading[0].value: ")
    assert "\n" not in message
    assert len(message) < 400
    assert e.value.expected
    assert e.value.next_step


@pytest.mark.parametrize(
    ("given_", "values"),
    [
        ("0.19 0.19 0.20 g", [0.19, 0.19, 0.20]),
        ("3.64 g 3.63 g", [3.64, 3.63]),
        ("3,64 3,63", [3.64, 3.63]),
        ("3640 mg 3.63 g", [3.64, 3.63]),
        (["3.64 g", "3.63 g"], [3.64, 3.63]),
        ([3.64, 3.63], [3.64, 3.63]),
        (np.array([3.64, 3.63]), [3.64, 3.63]),
        ("3.64 g", [3.64]),
        (3.64, [3.64]),
    ],
)
def test_repeats(given_: object, values: list[float]) -> None:
    assert [q.value for q in parse_many(given_, "mass", "displaced")] == pytest.approx(values)


def test_last_unit_holds_for_all_repeats() -> None:
    assert [q.value for q in parse_many("1 2 in", "length", "bar")] == pytest.approx([25.4, 50.8])
    assert [q.text for q in parse_many("0.1 0.2 oz av", "mass", "x")] == ["0.1 oz av", "0.2 oz av"]


@pytest.mark.parametrize("text", ["1,44; 1,43", "1,44;1,43 g", "1,44 and 1,43", "1.44 g and 1.43 g", "1,44 1,43"])
def test_repeats_may_be_separated_by_a_semicolon_or_and(text: str) -> None:
    assert [q.value for q in parse_many(text, "mass", "displaced")] == [1.44, 1.43]


@pytest.mark.parametrize("text", ["3.64, 3.63 g", "3.64,3.63 g", "1 234 g", "31 180 mg", []])
def test_repeats_are_never_separated_by_commas_nor_thousands_by_spaces(text: object) -> None:
    with pytest.raises(InputError):
        parse_many(text, "mass", "displaced")


def test_item_of_a_list_is_named() -> None:
    with pytest.raises(InputError) as e:
        parse_many(["3.64 g", "x"], "mass", "displaced")
    assert e.value.path == "displaced[1]"


NUMBERS = st.floats() | st.integers() | st.booleans() | st.none()
WORDS = "+- ± g kg oz ozt gr ct carat in um degC K uohm cm MS/m IACS Hz inf nan"
TOKENS = st.sampled_from([*WORDS.split(), *"109.,+-eE%';/³Ω \n\u00a0\u0663"])


def read(given_: object, dimension: str, many: bool) -> list[Quantity] | None:
    try:
        if many:
            return parse_many(given_, dimension, "x")
        return [parse(given_, dimension, "x", carat=True)]  # type: ignore[arg-type]
    except InputError:
        return None


@given(
    st.text(max_size=40) | NUMBERS | st.lists(TOKENS, max_size=9).map("".join),
    st.sampled_from(list(DIMENSIONS)),
)
@example("1e-320 uohm cm", "conductivity")
@example("9" * 309, "share")
@example("1 in 1e-320", "share")
@example(sys.float_info.max, "conductivity")
def test_never_anything_but_a_quantity_or_input_error(given_: object, dimension: str) -> None:
    dim = DIMENSIONS[dimension]
    for q in (read(given_, dimension, many=False) or []) + (read(given_, dimension, many=True) or []):
        assert isinstance(q, Quantity)
        assert math.isfinite(q.value)
        assert q.value >= dim.lowest
        assert q.u is None or 0 < q.u < math.inf


@given(st.floats(min_value=1e-6, max_value=1e9), st.sampled_from(list(DIMENSIONS)))
def test_what_is_echoed_reads_back(x: float, dimension: str) -> None:
    if dimension == "share" and x > 1:
        x = 1 / x
    q = parse(x, dimension, "x")
    assert parse(q.text, dimension, "x").value == pytest.approx(q.value, rel=1e-11)
