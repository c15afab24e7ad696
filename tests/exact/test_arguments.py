"""Arguments of the public lists: each is used, or refused with its name, the value and the next step."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from alloysolve import (
    AlloysolveError,
    Conductivity,
    Magnet,
    Resonance,
    SurfaceComposition,
    bounds,
    constructions,
    mixtures,
    nearest,
    routine,
    weigh,
)

COLUMN = weigh(np.array([31.18, 30.0]), np.array([3.64, 3.0]))
PAIR = ["Cu", "Zn"]
REFUSED: list[tuple[str, Callable[[], Any]]] = [
    ("evidence", lambda: mixtures(COLUMN, ["Ag", "Cu"], evidence="nonsense")),
    ("evidence", lambda: mixtures(COLUMN, ["Ag", "Cu"], evidence=[Magnet("none")])),
    ("evidence", lambda: mixtures(8.5, PAIR, evidence="nonsense")),
    ("evidence", lambda: mixtures(8.5, PAIR, evidence=Magnet("none"))),
    ("evidence[0]", lambda: mixtures(8.5, PAIR, evidence=[3])),
    ("evidence", lambda: mixtures(8.5, PAIR, evidence=[SurfaceComposition("Cu 60 Zn 40")])),
    ("disc", lambda: mixtures(8.5, PAIR, evidence=[Resonance("4730 Hz")])),
    ("sizes", lambda: mixtures(8.5, PAIR, sizes="quad")),
    ("sizes", lambda: mixtures(8.5, PAIR, sizes=["pair", "quad"])),
    ("sizes", lambda: mixtures(COLUMN, PAIR, sizes=["quad"])),
    ("sizes", lambda: mixtures(8.5, PAIR, sizes=[])),
    ("sizes", lambda: mixtures(8.5, PAIR, sizes=3)),
    ("metals", lambda: mixtures(8.5, "AgCu")),
    ("metals", lambda: mixtures(8.5, ["Cu", "Zn", "Cu"])),
    ("metals", lambda: mixtures(8.5, ["Fe", "C"])),
    ("metals", lambda: mixtures(8.5, ["Cu", "Xx"])),
    ("metals", lambda: mixtures(8.5, ["Cu", 3])),
    ("metals", lambda: mixtures(8.5, ["Cu"])),
    ("density", lambda: mixtures([8.5, 8.6], PAIR)),
    ("density", lambda: mixtures(float("nan"), PAIR)),
    ("tables", lambda: mixtures(8.5, PAIR, tables="x.csv")),
    ("only", lambda: constructions(8.5, only="plaited")),
    ("only", lambda: constructions(8.5, only=["plaited"])),
    ("kinds", lambda: constructions(8.5, kinds="plaited")),
    ("tables", lambda: constructions(8.5, tables="x.csv")),
    ("metals", lambda: bounds(8.5, ["Fe", "C"])),
    ("metals", lambda: bounds(8.5, ["Fe", "N", "Cu"])),
    ("metals", lambda: bounds(8.5, ["Fe", "Xx"])),
    ("metals", lambda: nearest("silver 925", 10.1, ["Ag", "C"])),
    ("at_least.Zn", lambda: bounds(8.5, PAIR, at_least={"Zn": "3 %"})),
    ("at_least.Zn", lambda: bounds(8.5, PAIR, at_least={"Zn": float("nan")})),
    ("ratios", lambda: bounds(8.5, PAIR, ratios={"CuZn": (1, 2)})),
    ("ratios", lambda: bounds(8.5, PAIR, ratios={("Cu", "Zn"): 1})),
    ("ratios", lambda: bounds(8.5, PAIR, ratios={("Cu", "Zn"): (2, 1)})),
    ("without", lambda: bounds(8.5, PAIR, without="Sn")),
    ("tables", lambda: bounds(8.5, PAIR, tables="x.csv")),
    ("readings", lambda: routine({"claim": "silver 999", "mass": 31.1}, ["thermal"])),
    ("readings", lambda: routine({"claim": "silver 999", "mass": 31.1}, "thermal")),
    ("piece", lambda: routine("silver 999")),
]


@pytest.mark.parametrize(("path", "call"), REFUSED, ids=[f"{n}-{path}" for n, (path, _) in enumerate(REFUSED)])
def test_what_cannot_be_used_is_an_error_that_names_it(path: str, call: Callable[[], Any]) -> None:
    with pytest.raises(AlloysolveError) as error:
        call()
    assert error.value.path == path
    assert error.value.expected
    assert error.value.next_step
    assert len(str(error.value)) < 300


def test_symbols_and_words_may_be_written_as_text() -> None:
    assert mixtures(8.5, "Cu Zn", sizes="pair").equals(mixtures(8.5, PAIR, sizes=["pair"]))
    assert bounds(8.5, "Cu,Zn,Sn", without="Sn").equals(bounds(8.5, ["Cu", "Zn", "Sn"], without=["Sn"]))


def test_readings_of_bare_bodies_narrow_a_mixture() -> None:
    free = mixtures("8.7 +- 0.2 g/cm3", PAIR)
    held = mixtures("8.7 +- 0.2 g/cm3", PAIR, evidence=[Conductivity("28 %IACS"), Magnet("none")])
    width = [float(f.metal_1_high_percent[0] - f.metal_1_low_percent[0]) for f in (held, free)]
    assert width[0] < width[1]
