"""Values as other libraries hold them: missing everywhere, aligned by index, converted by their unit or refused."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import numpy as np
import pandas as pd
import pint
import pytest

from alloysolve import (
    Conductivity,
    InputError,
    Measured,
    Piece,
    Resonance,
    Settings,
    SoundSpeed,
    SurfaceComposition,
    mixtures,
    weigh,
)

Q = pint.UnitRegistry().Quantity
NOTHING = [None, float("nan"), np.float32("nan"), np.ma.masked, pd.NA, pd.NaT, Decimal("NaN"), np.array(np.nan)]


class WithUnit(np.ndarray):
    """An array that carries its unit as astropy's do: `.unit` and `.to`, and `.value` of what comes out."""

    GRAMS = {"kg": 1000.0, "g": 1.0}  # noqa: RUF012

    def __new__(cls, numbers: Any, unit: str) -> WithUnit:
        out = np.asarray(numbers, dtype=float).view(cls)
        out.unit = unit
        return out

    def __array_finalize__(self, of: Any) -> None:
        self.unit = getattr(of, "unit", None)

    def to(self, unit: str) -> WithUnit:
        return WithUnit(np.asarray(self) * self.GRAMS[self.unit] / self.GRAMS[unit], unit)


@pytest.mark.parametrize("nothing", NOTHING, ids=repr)
def test_what_is_missing_is_left_out_of_a_piece(nothing: Any) -> None:
    assert Piece(mass=31.1, claim=nothing, magnet=nothing, disc=nothing, count=nothing, name=nothing) == Piece(
        mass=31.1
    )
    assert Piece(mass=31.1, displaced=[3.0, nothing, 3.1]) == Piece(mass=31.1, displaced=[3.0, 3.1])
    assert Piece(mass=31.1, displaced=[nothing, nothing]) == Piece(mass=31.1)
    assert SurfaceComposition({"Ag": 92.5, "Cu": nothing}).shares == {"Ag": 92.5}
    assert Conductivity("29 %IACS", frequency=nothing, place=nothing) == Conductivity("29 %IACS")


def test_a_row_of_a_frame_is_a_piece() -> None:
    frame = pd.DataFrame({"claim": ["silver 999", None], "mass": [31.1, 20.0], "displaced": [2.97, np.nan]})
    rows = [Piece.from_dict(row) for _, row in frame.iterrows()]
    assert rows == [Piece(claim="silver 999", mass=31.1, displaced=2.97), Piece(mass=20.0)]


@pytest.mark.parametrize(
    "column",
    [
        np.ma.masked_invalid([31.1, np.nan]),
        np.ma.array([31, 20], mask=[False, True]),
        pd.Series([31.1, None], dtype=object),
        pd.Series([31.1, pd.NA], dtype="Float64"),
        np.array([31.1, np.nan], dtype=np.float32),
        Q(np.array([31.1, np.nan]), "g"),
        ["31.1 g", ""],
    ],
    ids=lambda x: type(x).__name__,
)
def test_what_is_missing_in_a_column_is_missing_in_that_row_only(column: Any) -> None:
    found = weigh(np.array(column, dtype=object) if isinstance(column, list) else column, np.array([3.0, 2.0])).frame()
    assert found.density_g_cm3.isna().tolist() == [False, True]
    assert found.reason.tolist() == ["", "missing"]


def test_masked_repeats_are_left_out() -> None:
    repeats = np.ma.array([[3.0, 9.0], [3.0, 3.0]], mask=[[False, True], [False, False]])
    assert weigh(np.array([31.1, 31.1]), repeats).frame().displaced_g.tolist() == [3.0, 3.0]


def test_columns_of_pandas_are_paired_by_their_labels() -> None:
    mass, displaced = pd.Series([31.1, 20.0], index=["a", "b"]), pd.Series([2.0, 3.0], index=["b", "a"])
    found = weigh(mass, displaced).frame()
    assert found.displaced_g.to_dict() == {"a": 3.0, "b": 2.0}
    assert weigh(mass, displaced.rename({"b": "c"})).frame().reason.to_dict() == {
        "a": "",
        "b": "missing",
        "c": "missing",
    }
    assert weigh(mass, np.array([3.0, 2.0])).frame().displaced_g.to_dict() == {"a": 3.0, "b": 2.0}
    assert weigh(mass, displaced, count=pd.Series([1, 2], index=["b", "a"])).frame().index.tolist() == ["a", "b"]


def test_labels_that_stand_twice_cannot_be_paired() -> None:
    twice = pd.Series([31.1, 20.0], index=[1, 1])
    assert weigh(twice, pd.Series([3.0, 2.0], index=[1, 1])).frame().displaced_g.tolist() == [3.0, 2.0]  # one frame
    with pytest.raises(InputError, match="labels that stand once"):
        weigh(twice, pd.Series([3.0, 2.0], index=[1, 2]))


@pytest.mark.parametrize("column", [np.array([True]), np.array([31 + 1j]), pd.Series(pd.to_datetime(["2026-01-01"]))])
def test_a_column_that_holds_no_numbers_is_an_error_not_a_row_of_nothing(column: Any) -> None:
    with pytest.raises(InputError, match="a column of"):
        weigh(column, np.array([3.0]))


CONVERTED = [
    ({"mass": Q(0.0311, "kg")}, {"mass": "31.1 g"}),
    ({"mass": Q(1, "troy_ounce")}, {"mass": "1 ozt"}),
    ({"mass": WithUnit(0.0311, "kg")}, {"mass": "31.1 g"}),
    ({"mass": 31.1, "displaced": Q([0.003, 0.0031], "kg")}, {"mass": 31.1, "displaced": "3 3.1 g"}),
    ({"mass": 31.1, "displaced": WithUnit([0.003, 0.0031], "kg")}, {"mass": 31.1, "displaced": "3 3.1 g"}),
    ({"disc": Q([3.86, 0.29], "cm")}, {"disc": "38.6x2.9 mm"}),
    ({"disc": [Q(3.86, "cm"), 2.9]}, {"disc": "38.6x2.9 mm"}),
    ({"density": Q(8540, "kg/m**3")}, {"density": "8.54 g/cm3"}),
    ({"mass": 31, "displaced": 3, "water": Q(70, "degF")}, {"mass": 31, "displaced": 3, "water": "70 degF"}),
    ({"conductivity": Q(17, "MS/m")}, {"conductivity": "17 MS/m"}),
    ({"resistivity": Q(62, "nohm*m")}, {"resistivity": "6.2 uohm cm"}),
    ({"sound_speed": Q(3.65, "km/s")}, {"sound_speed": "3650 m/s"}),
    ({"mass": Decimal("31.10")}, {"mass": "31.10 g"}),
    ({"mass": np.float32(31.1)}, {"mass": "31.1 g"}),
    ({"sphere": np.float64(20)}, {"sphere": "20 mm"}),
    ({"mass": np.array(31.1)}, {"mass": "31.1 g"}),
    ({"proof": np.bool_(True), "mass": 1}, {"proof": True, "mass": 1}),
]


@pytest.mark.parametrize(("given", "same"), CONVERTED, ids=lambda x: str(x)[:40])
def test_numbers_of_other_libraries_are_what_they_say(given: dict[str, Any], same: dict[str, Any]) -> None:
    one, other = Piece(**given), Piece(**same)
    for name in ("mass", "density", "water"):
        a, b = getattr(one, name), getattr(other, name)
        assert (a.value if a else 0.0) == pytest.approx(b.value if b else 0.0, rel=1e-11)
    assert [q.value for q in one.displaced] == [q.value for q in other.displaced]
    assert one.shape == other.shape
    assert one.reading == other.reading
    assert Piece.from_dict(one.to_dict()) == one


@pytest.mark.parametrize(
    "given",
    [
        {"mass": Q(1, "mm")},
        {"disc": Q([38.6, 2.9], "g")},
        {"conductivity": Q(17, "g")},
        {"count": Q(3, "g")},
        {"mass": WithUnit(1.0, "stone")},
        {"density": Q(8.5, "g")},
    ],
    ids=str,
)
def test_a_unit_of_another_dimension_is_refused_with_the_value(given: dict[str, Any]) -> None:
    with pytest.raises(InputError) as error:
        Piece(**given)
    assert error.value.path.startswith(next(iter(given)))
    assert len(str(error.value)) < 300


def test_tones_and_frequencies_carry_their_unit() -> None:
    assert Resonance(Q([4.7, 7.9], "kHz")).peaks == (4700.0, 7900.0)
    assert Conductivity("29 %IACS", frequency=Q(60, "kHz")).frequency == 60e3
    with pytest.raises(InputError):
        SoundSpeed("3650 m/s", u=Q(0.03, "km/s"))  # as text, or in the unit of the value


def test_every_condition_of_a_weighing_carries_its_unit() -> None:
    plain = weigh(31.18, 3.64, scale_step=0.01, area=2000.0, water="20 degC", parts=[(0.1, 3.5, 0.1, None)])
    units = weigh(
        Q(0.03118, "kg"),
        Q(3640, "mg"),
        scale_step=Q(10, "mg"),
        area=Q(20, "cm**2"),
        water=Q(293.15, "K"),
        parts=[(Q(100, "mg"), Q(3500, "kg/m**3"), 0.1, None)],
    )
    assert units.density.value == pytest.approx(plain.density.value, rel=1e-9)
    assert units.density.high == pytest.approx(plain.density.high, rel=1e-9)
    column = weigh(Q(np.array([0.03118]), "kg"), WithUnit([0.00364], "kg"), water=Q(np.array([293.15]), "K"))
    assert column.density == pytest.approx(weigh(31.18, 3.64, water="20 degC").density.value, rel=1e-9)
    with pytest.raises(InputError):
        weigh(31.18, 3.64, wetting=Q(1, "mm"))
    with pytest.raises(InputError):
        weigh(WithUnit([31.18], "stone"), np.array([3.64]))


def test_settings_and_lists_take_them_too() -> None:
    assert Settings.from_dict({"scale": {"step": Q(10, "mg")}}).scale.step.value == 0.01
    frames = [mixtures(x, ["Cu", "Zn"]) for x in (8.53, Q(8530, "kg/m**3"), np.float32(8.53))]
    assert frames[0].equals(frames[1])
    assert frames[0].equals(frames[2])


@pytest.mark.parametrize(
    "given",
    [
        (8, -1, "g/cm3"),
        (8, np.inf, "g/cm3"),
        ("8", 1, "g/cm3"),
        (True, 1, "g/cm3"),
        (8, 1, 3),
        (8, 0.1, "g/cm3", 9, 7),
        (8, 0.1, "g/cm3", 7, 9, -1),
        (Q(8540, "kg/m**3"), 1, "g/cm3"),
    ],
    ids=str,
)
def test_a_measured_value_must_be_one(given: tuple[Any, ...]) -> None:
    with pytest.raises(InputError):
        Measured(*given)


def test_a_measured_value_holds_plain_numbers() -> None:
    assert repr(Measured(np.float64(8), np.float64(0.5), "g/cm3", 7, 9)) == (
        "Measured(value=8.0, u=0.5, unit='g/cm3', low=7.0, high=9.0, dof=inf)"
    )


@pytest.mark.parametrize("density", [Measured(8, 5, "g/cm3"), "8 +- 5 g/cm3", Measured(8500, 1, "kg/m3")])
def test_a_density_that_may_be_below_zero_or_in_another_unit_is_refused(density: Any) -> None:
    with pytest.raises(InputError):
        Piece(density=density)
    if not isinstance(density, str):
        with pytest.raises(InputError):
            mixtures(density if density.unit != "g/cm3" else Measured(8, 5, "mm"), ["Cu", "Zn"])
