"""Numbers with units as people write them, turned into base units at the border of the library.

Ambiguous words are refused, with both meanings spelled out. A decimal comma is accepted only where it cannot be a
thousands mark. Nothing is guessed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from numbers import Real
from typing import Any

import numpy as np

from .arrays import Array
from .errors import InputError
from .foreign import converted, has_unit, is_array, is_missing, plain

GRAIN_G = 0.06479891  # exact, international yard and pound agreement 1959; NIST Handbook 44, app. C
TROY_OUNCE_G = 480 * GRAIN_G  # exact: 31.1034768 g; NIST Handbook 44, app. C
PENNYWEIGHT_G = 24 * GRAIN_G  # exact: 1.55517384 g; NIST Handbook 44, app. C
AVOIRDUPOIS_OUNCE_G = 437.5 * GRAIN_G  # exact: 28.349523125 g; NIST Handbook 44, app. C
TOLA_G = 180 * GRAIN_G  # exact: 11.6638038 g; 180 grains, British India weights, from memory
CARAT_G = 0.2  # exact, 4th CGPM 1907; SI brochure
INCH_MM = 25.4  # exact, international yard and pound agreement 1959; NIST Handbook 44, app. C
IACS_MS_M = 58.0  # 100 % IACS, IEC 60028 (1925): 1/58 ohm mm2/m at 20 degC


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in the base unit of its dimension.

    Parameters
    ----------
    value : in `unit`.
    unit : base unit: g, mm, degC, g/cm3, MS/m, uohm cm, Hz, s, m/s, cm3, or "" for a share or a ratio.
    text : the reading as it was written, with its unit.
    u : one standard uncertainty in `unit` where it was written ("8.54 +- 0.02 g/cm3"), else None.
    """

    value: float
    unit: str
    text: str
    u: float | None = None

    @property
    def last_digit(self) -> float:
        """One step of the last digit that was written, in `unit`: 0.01 for "8.54 g/cm3"; for a unit without offset."""
        number = _WRITTEN.match(self.text)
        if number is None or not float(number[0].replace(",", ".")):
            return 0.0
        step = 10.0 ** (int(number["power"] or 0) - len(number["decimals"] or ""))
        return abs(step * self.value / float(number[0].replace(",", ".")))


@dataclass(frozen=True, slots=True)
class _Unit:
    """A unit of a dimension: ``base = factor * (x - offset)``, or ``factor / x`` for a resistivity."""

    factor: float
    offset: float = 0.0
    turned: bool = False

    def convert(self, x: Any) -> Any:
        return self.factor / x if self.turned else self.factor * (x - self.offset)

    def convert_u(self, x: float, u: float) -> float:
        return self.factor / x * (u / x) if self.turned else self.factor * u


@dataclass(frozen=True, slots=True)
class _Dimension:
    base: str
    default: str
    units: Mapping[str, _Unit]
    expected: str
    example: str
    lowest: float = 0.0
    lowest_allowed: bool = False
    highest: float = math.inf
    fold_case: bool = True


def _units(table: Mapping[str, Any]) -> dict[str, _Unit]:
    """Units by spelling (without spaces), from a table such as ``{"g gram grams": 1.0}``."""
    return {
        name: unit if isinstance(unit, _Unit) else _Unit(unit)
        for names, unit in table.items()
        for name in names.split()
    }


_RESISTIVITY = {
    "uohmcm microohmcm": 1.0,
    "uohmm microohmm ohmmm2/m": 100.0,
    "nohmm": 0.1,
    "ohmcm": 1e6,
    "ohmm": 1e8,
}
_MASS = {
    "g gram grams gramme grammes gm gms": 1.0,
    "kg kilogram kilograms": 1000.0,
    "mg milligram milligrams": 0.001,
    "ozt ozts toz troyoz troyounce troyounces": TROY_OUNCE_G,
    "ozav ozavdp ozavoirdupois avoirdupoisounce avoirdupoisounces": AVOIRDUPOIS_OUNCE_G,
    "dwt pennyweight pennyweights": PENNYWEIGHT_G,
    "grain grains": GRAIN_G,
    "tola tolas": TOLA_G,
}
_LENGTH = {
    "mm millimetre millimetres millimeter millimeters": 1.0,
    "cm centimetre centimetres centimeter centimeters": 10.0,
    "m metre metres meter meters": 1000.0,
    "um micron microns micrometre micrometres micrometer micrometers": 0.001,
    "nm": 1e-6,
    "in inch inches": INCH_MM,
    "mil mils thou": INCH_MM / 1000,
}
_TEMPERATURE = {
    "degc c celsius": 1.0,
    "degf f fahrenheit": _Unit(5 / 9, offset=32.0),
    "k kelvin": _Unit(1.0, offset=273.15),
}
_CONDUCTIVITY = {
    "%IACS IACS %iacs iacs": IACS_MS_M / 100,
    "MS/m m/(ohmmm2)": 1.0,
    "kS/m": 1e-3,
    "S/m": 1e-6,
} | {names: _Unit(100 / factor, turned=True) for names, factor in _RESISTIVITY.items()}
_DENSITY = {"g/cm3 g/cc g/ccm g/ml kg/dm3 kg/l": 1.0, "kg/m3": 0.001}
_FREQUENCY = {"Hz hz HZ": 1.0, "kHz KHz khz KHZ": 1e3, "MHz": 1e6}
_TIME = {"s sec second seconds": 1.0, "ms": 1e-3, "us": 1e-6, "min minute minutes": 60.0}
_AREA = {"mm2": 1.0, "cm2": 100.0, "m2": 1e6}
_VOLUME = {"cm3 cc ccm ml": 1.0, "mm3 ul": 0.001, "l": 1000.0}
_SPEED = {"m/s": 1.0, "km/s mm/us": 1000.0, "in/us inch/us": 1000 * INCH_MM}
_RATIO = {"1": 1.0, "% percent": 0.01}
_SHARE = {"1": 1.0, "% percent": 0.01, "permille": 0.001, "ppm": 1e-6}

_MASS_WORDS = 'a mass in g, kg, mg, ozt, "oz av", dwt, grain or tola'
_RESISTIVITY_WORDS = "a resistivity in uohm cm, nohm m or ohm m"
_CONDUCTIVITY_WORDS = f"a conductivity in %IACS, MS/m or S/m, or {_RESISTIVITY_WORDS}"
_SHARE_WORDS = 'a share from 0 to 1, as a fraction, in %, or as "1 in 10000"'

# fold_case is off where a prefix in the other case differs by nine powers of ten (MS/m, mS/m)
DIMENSIONS: Mapping[str, _Dimension] = {
    "mass": _Dimension("g", "g", _units(_MASS), _MASS_WORDS, "31.18 g"),
    "length": _Dimension("mm", "mm", _units(_LENGTH), "a length in mm, cm, m, um, inch or mil", "38.6 mm"),
    "area": _Dimension("mm2", "mm2", _units(_AREA), "an area in mm2 or cm2", "2400 mm2"),
    "temperature": _Dimension(
        "degC", "degC", _units(_TEMPERATURE), "a temperature in degC, degF or K", "21 degC", lowest=-273.15
    ),
    "density": _Dimension("g/cm3", "g/cm3", _units(_DENSITY), "a density in g/cm3 or kg/m3", "8.54 g/cm3"),
    "conductivity": _Dimension(
        "MS/m", "%IACS", _units(_CONDUCTIVITY), _CONDUCTIVITY_WORDS, "29.3 %IACS", fold_case=False
    ),
    "resistivity": _Dimension(
        "uohm cm", "uohm cm", _units(_RESISTIVITY), _RESISTIVITY_WORDS, "6.2 uohm cm", fold_case=False
    ),
    "frequency": _Dimension("Hz", "Hz", _units(_FREQUENCY), "a frequency in Hz, kHz or MHz", "60 kHz", fold_case=False),
    "time": _Dimension("s", "s", _units(_TIME), "a time in s, ms, us or min", "0.5 s"),
    "volume": _Dimension("cm3", "cm3", _units(_VOLUME), "a volume in cm3, mL or mm3", "3.64 cm3"),
    "speed": _Dimension("m/s", "m/s", _units(_SPEED), "a speed in m/s, km/s, mm/us or in/us", "3650 m/s"),
    "ratio": _Dimension("", "1", _units(_RATIO), "a ratio above zero, as a number or in %", "0.28"),
    "share": _Dimension("", "1", _units(_SHARE), _SHARE_WORDS, "1 %", lowest_allowed=True, highest=1.0),
}

_OUNCE = (
    '"ozt" (troy ounce, 31.1035 g) or "oz av" (avoirdupois ounce, 28.3495 g)',
    "say which ounce, or give g",
)
_GR = ('"g" (gram) or "grain" (0.0648 g)', "say which is meant")
_CARAT = (
    'a mass in g; carat is the mass of a stone ("carat", 0.2 g) or the fineness of gold',
    'give the stone under parts as "0.25 carat", the fineness in the claim as "18 ct"',
)
_TWO_MEANINGS = {
    **dict.fromkeys(("oz", "ozs", "ounce", "ounces"), _OUNCE),
    **dict.fromkeys(("gr", "grs"), _GR),
    **dict.fromkeys(("ct", "cts", "carat", "carats", "karat", "karats", "kt"), _CARAT),
}

_NUMBER = r"[+-]?[\d.,]*\d[\d.,]*(?:[eE][+-]?\d+)?"
_WORD = r"[^\d\s.,+-](?:[^\s+]|\s(?![\d.,+]))*"
_ONE = re.compile(
    rf"(?P<x>{_NUMBER})\s*(?P<unit>{_WORD})?\s*(?:\+-\s*(?P<u>{_NUMBER})\s*(?P<u_unit>{_WORD})?)?", re.ASCII
)
_WRITTEN = re.compile(r"[+-]?\d*(?:[.,](?P<decimals>\d*))?(?:[eE](?P<power>[+-]?\d+))?", re.ASCII)
_ONE_IN = re.compile(rf"(?P<x>{_NUMBER})\s+in\s+(?P<of>{_NUMBER})", re.ASCII)
_PLAIN = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_COMMA_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}(?:[eE].*)?", re.ASCII)
_SPACE_THOUSANDS = re.compile(r"[1-9]\d{0,2}(?: \d{3})+(?:[.,]\d*)?(?![\d.,])", re.ASCII)
_REPEAT = re.compile(rf"(?P<x>{_NUMBER})\s*(?P<unit>{_WORD})?\s*", re.ASCII)
_SPELLINGS = str.maketrans(
    {
        "±": "+-",
        "−": "-",
        "µ": "u",
        "μ": "u",
        "\N{OHM SIGN}": "ohm",
        "\N{GREEK CAPITAL LETTER OMEGA}": "ohm",
        "°": "deg",
    }
)
_DROPPED = str.maketrans(dict.fromkeys(" .^*·⋅") | {"²": "2", "³": "3", "‰": "permille"})
_LONGEST = 200  # characters of one reading; longer text is not a reading


def parse(given: str | float | Real, dimension: str, path: str, carat: bool = False) -> Quantity:
    """One quantity, read from a number or a text.

    Parameters
    ----------
    given : a number in the default unit of the dimension, a number with a unit of pint or astropy, or text such as
        ``"31.18 g"``, ``"33,25"``, ``"21 +- 0.5 degC"``, ``"1 in 10000"``. What follows +- is one standard uncertainty.
    dimension : a key of `DIMENSIONS`. Defaults without a unit: g, mm, degC, g/cm3, %IACS, uohm cm, Hz, s,
        m/s, cm3, fraction.
    path : where the value stands, for the error.
    carat : accept "carat" and "ct" (0.2 g) as the mass of a stone.

    Raises
    ------
    InputError
        If it is not a number, not finite, negative, or zero where that makes no sense; for an unknown unit, an
        ambiguous word, or a comma that may be a thousands mark.

    >>> parse("1 ozt", "mass", "mass").value
    31.1034768
    >>> round(parse("1.7241 uohm cm", "conductivity", "value").value, 3)
    58.001
    """
    dim = DIMENSIONS[dimension]
    text = " ".join((given if isinstance(given, str) else _written(given, dimension, path)).split())
    clean = text.translate(_SPELLINGS).replace("+/-", "+-")
    if dimension == "share" and (odds := _ONE_IN.fullmatch(clean)):
        x, of = (_read(odds[k], dim, path, given) for k in ("x", "of"))
        return Quantity(_checked(lambda n: n / of, x, dim, path, given), "", text)
    match = _ONE.fullmatch(clean) if len(clean) <= _LONGEST else None
    if match is None:
        raise InputError(path, _cut(given), dim.expected, _no_match_step(clean, dim))
    return _from_match(match, text, dim, path, given, carat)


def parse_many(given: Any, dimension: str, path: str, carat: bool = False) -> list[Quantity]:
    """One or several repeats, read from a list, an array, or text with the repeats separated by spaces,
    semicolons or "and".

    The last unit holds for every repeat without one. See `parse` for the parameters and errors;
    the path of item i of a list is ``path[i]``.

    >>> [q.value for q in parse_many("0.19 0.19 0.20 g", "mass", "displaced")]
    [0.19, 0.19, 0.2]
    """
    given = plain(given)
    if isinstance(given, list | tuple):
        there = [(i, item) for i, item in enumerate(given) if not is_missing(item)]
        if not there:
            raise InputError(path, None, DIMENSIONS[dimension].expected, "give at least one value")
        return [parse(item, dimension, f"{path}[{i}]", carat) for i, item in there]
    if not isinstance(given, str):
        return [parse(given, dimension, path, carat)]
    text = " ".join(re.sub(r";|\sand\s", " ", given).split())
    one_in = dimension == "share" and " in " in text
    if "+" in text or "±" in text or one_in or len(text) > _LONGEST:
        return [parse(text, dimension, path, carat)]
    if re.search(r",\s", text):
        raise InputError(
            path,
            _cut(given),
            "repeats separated by spaces or a list, never by commas",
            'write for example "3.64 3.63 g"',
        )
    if _SPACE_THOUSANDS.match(text):
        raise InputError(
            path, _cut(given), "a number without a thousands mark", "write 1234.5, or give repeats as a list"
        )
    items = _split_repeats(text)
    if len(items) < 2:
        return [parse(text, dimension, path, carat)]
    last = items[-1][1]
    return [parse(f"{x} {unit or last}".strip(), dimension, path, carat) for x, unit in items]


def _split_repeats(text: str) -> list[tuple[str, str]]:
    """``"0.19 0.20 g"`` as (number, unit) pairs; empty if the text is not a row of repeats."""
    items, at = [], 0
    while at < len(text):
        match = _REPEAT.match(text, at)
        if match is None or (at > 0 and text[at - 1] != " "):
            return []
        items.append((match["x"], match["unit"] or ""))
        at = match.end()
    return items


def _from_match(match: re.Match[str], text: str, dim: _Dimension, path: str, given: object, carat: bool) -> Quantity:
    x = _read(match["x"], dim, path, given)
    word, u_word = (match["unit"] or "").strip(), (match["u_unit"] or "").strip()
    relative = u_word.startswith("%") and dim.base != "" and not _knows(dim, u_word)
    if relative and u_word != "%":  # "8.5 +- 1 % g/cm3" is 1 % of the value, like "8.5 g/cm3 +- 1 %"
        word = word or u_word[1:].strip()
    unit = _find_unit(word or ("" if relative else u_word), dim, path, given, carat)
    value = _checked(unit.convert, x, dim, path, given)
    u = None
    if match["u"] is not None:
        y = _read(match["u"], dim, path, given)
        u_unit = _find_unit(u_word, dim, path, given, carat) if u_word and not relative else unit
        u = abs(value) * y / 100 if relative else u_unit.convert_u(x, y)
        if not (0 < u < math.inf):
            raise InputError(path, _cut(given), "an uncertainty above zero", "leave it out if it is not known")
    if dim.base and not word and not u_word:
        text = f"{text} {dim.default}"
    elif relative and not word:
        text = f"{match['x']} {dim.default} +- {match['u']} %"
    return Quantity(value, dim.base, text, u)


def in_base_unit(given: Any, dimension: str, path: str) -> Array:
    """The numbers of an array that has a unit, as those of pint or astropy, in the base unit of the dimension."""
    dim = DIMENSIONS[dimension]
    numbers, unit = converted(given, dimension, path, dim.expected)
    return np.asarray(_find_unit(unit, dim, path, given, carat=False).convert(numbers))


def _written(given: Any, dimension: str, path: str) -> str:
    """A number as text, in the default unit if it has none, with all digits, so that it gives the same number again."""
    dim = DIMENSIONS[dimension]
    if has_unit(given) and not is_array(given):
        number, unit = converted(given, dimension, path, dim.expected)
        return f"{float(number):.12g} {unit}"  # conversion leaves dust behind: 31.099999999999998
    number = plain(given)
    if isinstance(number, str):  # of a type that keeps its digits
        return f"{number} {dim.default}" if dim.base else number
    if isinstance(number, bool) or not isinstance(number, Real):
        raise InputError(path, _cut(given), dim.expected, _example(dim))
    try:
        text = repr(float(number)).removesuffix(".0")
    except (OverflowError, ValueError) as e:
        raise InputError(path, _cut(given), f"{dim.expected}, a finite number", _example(dim)) from e
    if not math.isfinite(float(number)):
        raise InputError(path, _cut(given), f"{dim.expected}, a finite number", _example(dim))
    return f"{text} {dim.default}" if dim.base else text


def _read(number: str, dim: _Dimension, path: str, given: object) -> float:
    """The value of one written number; a comma is a decimal comma only where it cannot be a thousands mark."""
    if _COMMA_THOUSANDS.fullmatch(number):
        plain = number.replace(",", "")
        raise InputError(
            path,
            _cut(given),
            "a number whose comma cannot be a thousands mark",
            f"write {number.replace(',', '.')} or {plain}",
        )
    if number.count(",") + number.count(".") > 1 or not _PLAIN.fullmatch(number.replace(",", ".")):
        raise InputError(
            path,
            _cut(given),
            "one number with at most one decimal mark and no thousands mark",
            f"{_example(dim)}; separate repeats by spaces",
        )
    return float(number.replace(",", "."))


def _knows(dim: _Dimension, word: str) -> bool:
    """Whether a word is a unit of a dimension."""
    key = word.translate(_DROPPED)
    return (key.casefold() if dim.fold_case else key) in dim.units


def _find_unit(word: str, dim: _Dimension, path: str, given: object, carat: bool) -> _Unit:
    key = (word or dim.default).translate(_DROPPED)
    if dim.fold_case:
        key = key.casefold()
    if key in dim.units:
        return dim.units[key]
    if dim.base == "g" and key in _TWO_MEANINGS:
        if carat and key in ("carat", "carats", "ct", "cts"):
            return _Unit(CARAT_G)
        raise InputError(path, _cut(given), *_TWO_MEANINGS[key])
    raise InputError(path, _cut(given), dim.expected, _example(dim))


def _checked(convert: Any, x: float, dim: _Dimension, path: str, given: object) -> float:
    try:
        value = float(convert(x)) if math.isfinite(x) else math.nan
    except (ZeroDivisionError, OverflowError):
        value = math.nan
    if not math.isfinite(value):
        raise InputError(path, _cut(given), f"{dim.expected}, a finite number", _example(dim))
    low_enough = value >= dim.lowest if dim.lowest_allowed else value > dim.lowest
    if not low_enough or value > dim.highest:
        limit = "" if dim.lowest_allowed else f", above {dim.lowest:g}"
        raise InputError(path, _cut(given), dim.expected + limit, _example(dim))
    return value


def _no_match_step(clean: str, dim: _Dimension) -> str:
    if re.match(rf"{_NUMBER}[^\d]*\s+{_NUMBER}", clean[:_LONGEST], re.ASCII):
        return "give one value; repeats, where they are taken, are separated by spaces"
    return _example(dim)


def _example(dim: _Dimension) -> str:
    return f'write for example "{dim.example}"'


def _cut(given: object) -> object:
    """A value with its text cut short enough to be shown."""
    if isinstance(given, str):
        return given if len(given) <= 60 else given[:57] + "..."
    if isinstance(given, int) and given.bit_length() > 200:
        return "a very large number"
    if has_unit(given):
        return str(given)[:60]
    shown = repr(given)
    return given if len(shown) <= 60 else shown[:57] + "..."
