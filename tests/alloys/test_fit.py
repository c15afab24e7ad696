"""Fits of the pair terms: recovery of known terms, defaults, stray points, what is left out."""

from __future__ import annotations

import re
import runpy
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import alloysolve
from alloysolve.published.load import Tables, default_tables, folder
from alloysolve.published.metals import (
    Composition,
    DensityPoint,
    EffectiveTerm,
    Mark,
    PairClass,
    PairDefault,
    ResistivityPoint,
)
from tables.fit.pairs import default_of, fit_excess, fit_resistivity, pair_rows, two_phase_share
from tables.fit.points import density_observations, resistivity_observations, same

METALS = ("Ag", "Cu", "Zn", "Ni")
READ: Mark = "three digits"


class Small(Tables):
    """Four metals of the shipped tables with made-up points."""

    def __init__(self, **tables: list[Any]) -> None:
        super().__init__()
        shipped = {m.symbol: m for m in super().rows("metals")}
        self._own: dict[str, list[Any]] = {
            "metals": [shipped[s] for s in METALS],
            "grades": [],
            "families": [],
            "density_points": [],
            "resistivity_points": [],
            "effective_terms": [],
            "pair_classes": [],
            "pair_defaults": [PairDefault("unknown", "", "", 2.0, 50.0, 30.0, 3000.0, "")],
            **tables,
        }

    def rows(self, name: str) -> list[Any]:
        """The records given, else the shipped ones."""
        return self._own[name] if name in self._own else super().rows(name)


def _moles(composition: Composition) -> tuple[float, dict[str, float]]:
    metals = default_tables().metals
    n = {s: w / 100 / metals[s].molar_mass_g_mol for s, w in composition.items()}
    total = sum(n.values())
    return total, {s: v / total for s, v in n.items()}


def _density(composition: Composition, first: str, second: str, k0: float, k1: float = 0.0) -> float:
    """Density with one excess term, the formula written out."""
    total, x = _moles(composition)
    v = sum(w / 100 / default_tables().metals[s].density_g_cm3 for s, w in composition.items())
    a, b = x.get(first, 0.0), x.get(second, 0.0)
    return 1 / (v + total * a * b * (k0 + k1 * (a - b)))


def _points(compositions: Iterable[Composition], first: str, second: str, k0: float, k1: float) -> list[DensityPoint]:
    return [DensityPoint(c, _density(c, first, second, k0, k1), 0.005, "", READ, "", "") for c in compositions]


BINARY = [{"Cu": 100.0 - z, "Zn": float(z)} for z in range(5, 100, 10)]


def test_known_excess_terms_come_back() -> None:
    fit = fit_excess(Small(density_points=_points(BINARY, "Cu", "Zn", -0.9, 0.3)))
    k0, k1, _ = fit.terms["Cu", "Zn"]
    assert k0 == pytest.approx(-0.9, abs=0.003)
    assert k1 == pytest.approx(0.3, abs=0.01)  # the prior of 0 +- 0.4 pulls a little
    assert fit.points["Cu", "Zn"] == 10
    assert fit.span["Cu", "Zn"] == pytest.approx((5, 95))
    assert fit.rms_percent["Cu", "Zn"] < 0.02


def test_few_points_give_no_lopsided_term() -> None:
    fit = fit_excess(Small(density_points=_points(BINARY[:5], "Cu", "Zn", -0.9, 0.3)))
    assert fit.terms["Cu", "Zn"][1] == 0


def test_terms_of_a_triple_are_shared_by_its_pairs() -> None:
    ternary: list[Composition] = [{"Cu": c, "Zn": z, "Ni": 100.0 - c - z} for c in (40.0, 55.0) for z in (10.0, 30.0)]
    fit = fit_excess(Small(density_points=_points([*BINARY, *ternary], "Cu", "Zn", -0.9, 0.3)))
    assert fit.terms["Cu", "Zn"][0] == pytest.approx(-0.9, abs=0.005)
    assert fit.terms["Cu", "Ni"][0] == pytest.approx(0.0, abs=0.06)
    assert fit.points["Cu", "Ni"] == 0  # no observation of these two alone


def test_a_stray_point_is_weighted_down() -> None:
    points = _points(BINARY, "Cu", "Zn", -0.9, 0.0)
    stray = DensityPoint({"Cu": 60.0, "Zn": 40.0}, 9.2, 0.005, "", READ, "", "")  # 10 % too dense
    k0 = fit_excess(Small(density_points=[*points, stray])).terms["Cu", "Zn"][0]
    assert k0 == pytest.approx(-0.9, abs=0.04)  # least squares would move it by 0.3


def test_a_pair_nobody_measured_keeps_its_default() -> None:
    """2 % denser at equal atomic shares: K0 = -4 x 0.02 x mean molar volume."""
    fit = fit_excess(Small(density_points=_points(BINARY, "Cu", "Zn", -0.9, 0.0)))
    metals = default_tables().metals
    mean = sum(metals[s].molar_mass_g_mol / metals[s].density_g_cm3 for s in ("Ag", "Ni")) / 2
    assert fit.terms["Ag", "Ni"][0] == pytest.approx(-4 * 0.02 * mean)
    assert fit.scatter["Ag", "Ni"] == pytest.approx(4 * 0.50 * mean)
    assert fit.points["Ag", "Ni"] == 0
    assert fit.scatter["Cu", "Zn"] < 0.05 * fit.scatter["Ag", "Ni"]


def test_good_points_move_a_term_far_from_the_default_of_its_class() -> None:
    narrow = [PairDefault("unknown", "", "", 0.0, 0.5, 30.0, 3000.0, "")]
    points = _points(BINARY[3:6], "Cu", "Zn", -1.0, 0.0)  # 20 times the default's scatter
    k0 = fit_excess(Small(density_points=points, pair_defaults=narrow)).terms["Cu", "Zn"][0]
    assert k0 == pytest.approx(-1.0, abs=0.1)


def test_effective_term_only_beside_its_metal() -> None:
    rich = [{"Cu": 60.0, "Ni": n, "Zn": 40.0 - n} for n in (8.0, 15.0, 22.0)]
    poor = [{"Cu": 10.0, "Ni": n, "Zn": 90.0 - n} for n in (25.0, 45.0, 65.0)]
    points = _points(rich, "Ni", "Zn", -3.0, 0.0) + _points(poor, "Ni", "Zn", -1.0, 0.0)
    fit = fit_excess(Small(density_points=points, effective_terms=[EffectiveTerm("Ni", "Zn", "Cu", 40.0, "", "")]))
    pair = ("Ni", "Zn") if ("Ni", "Zn") in fit.terms else ("Zn", "Ni")
    assert fit.terms[(*pair, "Cu")][0] == pytest.approx(-3.0, abs=0.15)
    assert fit.terms[pair][0] == pytest.approx(-1.0, abs=0.15)


def _resistivity(composition: Composition, c: tuple[float, float, float], factor: float = 1.0) -> float:
    """Nordheim's rule with three orders for the first two metals of the composition."""
    _, x = _moles(composition)
    linear = sum(v * (default_tables().metals[s].resistivity_uohm_cm or 0) for s, v in x.items())
    a, b = list(x.values())[:2]
    return factor * (linear + a * b * (c[0] + c[1] * (a - b) + c[2] * (a - b) ** 2))


def test_known_resistivity_terms_come_back() -> None:
    c = (40.0, -15.0, 20.0)
    points = [ResistivityPoint(p, _resistivity(p, c), 0.05, READ, "", "") for p in BINARY]
    fit = fit_resistivity(Small(resistivity_points=points))
    assert fit.terms["Cu", "Zn"] == pytest.approx(c, abs=0.3)
    assert fit.rms_percent["Cu", "Zn"] < 0.1


def test_rms_of_the_resistivity_is_relative_to_the_published_value() -> None:
    """All points 10 % above a rule that cannot move: off by 1 - 1/1.1 of each."""
    fixed = [PairDefault("unknown", "", "", 0.0, 1.0, 30.0, 1e-9, "")]
    points = [ResistivityPoint(p, 1.1 * _resistivity(p, (30.0, 0.0, 0.0)), 0.05, READ, "", "") for p in BINARY]
    fit = fit_resistivity(Small(resistivity_points=points, pair_defaults=fixed))
    assert fit.rms_percent["Cu", "Zn"] == pytest.approx(100 * (1 - 1 / 1.1), rel=1e-4)


def _silver_copper(share: float) -> list[ResistivityPoint]:
    """Two-phase alloys: `share` above the linear rule but for the dilute ends."""
    out = []
    for silver in (95.0, 90.0, 72.0, 50.0, 20.0):
        composition = {"Ag": silver, "Cu": 100 - silver}
        factor = 1 + share * (1 - np.exp(-min(composition.values()) / 100 / 0.01))
        out.append(ResistivityPoint(composition, _resistivity(composition, (0, 0, 0), factor), 0.01, READ, "", ""))
    return out


def test_two_phase_share_comes_back() -> None:
    tables = Small(resistivity_points=_silver_copper(0.31))
    assert two_phase_share(tables, "Ag", "Cu", 0.01) == pytest.approx(0.31, abs=1e-6)
    assert two_phase_share(tables, "Ag", "Zn", 0.01) == 0  # no points
    assert fit_resistivity(tables).terms["Ag", "Cu"][0] == pytest.approx(0, abs=0.02)


def test_two_phase_share_forgets_what_is_left_out() -> None:
    odd = ResistivityPoint({"Ag": 80.0, "Cu": 20.0}, 4.0, 0.01, READ, "", "")
    tables = Small(resistivity_points=[*_silver_copper(0.31), odd])
    assert two_phase_share(tables, "Ag", "Cu", 0.01) > 0.35
    assert two_phase_share(tables, "Ag", "Cu", 0.01, [odd.composition]) == pytest.approx(0.31, abs=1e-6)


@pytest.mark.parametrize("pair", [("Cu", "Zn"), ("Cu", "Sn"), ("Au", "Cu"), ("Fe-fcc", "Cr"), ("W", "C")])
def test_default_does_not_depend_on_the_order(pair: tuple[str, str]) -> None:
    assert default_of(default_tables(), *pair) == default_of(default_tables(), *pair[::-1])


def test_default_of_austenite_is_that_of_iron() -> None:
    assert default_of(default_tables(), "Fe-fcc", "Ni") == default_of(default_tables(), "Fe", "Ni")


def test_default_goes_by_class_and_group() -> None:
    classes = [PairClass("Cu", "Zn", "intermetallic", "", ""), PairClass("Ag", "Zn", "intermetallic", "", "")]
    defaults = [
        PairDefault("intermetallic", "Ag Au", "Zn", 7.0, 1.0, 1, 1, ""),
        PairDefault("intermetallic", "", "", 3.0, 1.0, 1, 1, ""),
        PairDefault("unknown", "", "", 0.0, 1.0, 1, 1, ""),
    ]
    tables = Small(pair_classes=classes, pair_defaults=defaults)
    assert default_of(tables, "Zn", "Ag")[1].denser_percent == 7.0
    assert default_of(tables, "Cu", "Zn")[1].denser_percent == 3.0
    assert default_of(tables, "Cu", "Ni")[0] == "unknown"


def test_same_alloy() -> None:
    assert same({"Cu": 70, "Zn": 30}, {"Cu": 70.2, "Zn": 29.8})
    assert not same({"Cu": 70, "Zn": 30}, {"Cu": 70.4, "Zn": 29.6})
    assert not same({"Cu": 70, "Zn": 30}, {"Cu": 69, "Zn": 30, "Pb": 1})


@pytest.mark.parametrize("observations", [density_observations, resistivity_observations])
def test_left_out_compositions_are_gone(observations: Any) -> None:
    brass = {"Cu": 70.0, "Zn": 30.0}
    everything, rest = observations(default_tables()), observations(default_tables(), [brass])
    gone = [o for o in everything if same(o.composition, brass)]
    assert gone
    assert len(rest) == len(everything) - len(gone)
    assert not any(same(o.composition, brass) for o in rest)


def test_probably_computed_grades_do_not_teach() -> None:
    computed = next(g for g in default_tables().grades.values() if g.mark == "computed" and "gold" in g.name)
    found = [o for o in density_observations(default_tables()) if o.composition == computed.composition]
    assert not any(o.value == computed.density_g_cm3 for o in found)


def test_a_point_that_repeats_a_grade_counts_once() -> None:
    grade = next(g for g in default_tables().grades.values() if g.name == "cartridge brass 70/30")
    values = [o.value for o in density_observations(default_tables()) if o.composition == grade.composition]
    assert values.count(grade.density_g_cm3) == 1


def test_iron_of_observations_is_that_of_their_family() -> None:
    for observations in (density_observations, resistivity_observations):
        iron = {o.iron for o in observations(default_tables()) if o.composition == {"Fe": 64.0, "Ni": 36.0}}
        assert iron == {"fcc"}
    assert {o.iron for o in resistivity_observations(default_tables()) if set(o.composition) == {"Fe", "Cr"}} == {""}


def test_one_row_per_pair_and_effective_term() -> None:
    tables = Small(
        density_points=_points(BINARY, "Cu", "Zn", -0.9, 0.3),
        effective_terms=[EffectiveTerm("Ni", "Zn", "Cu", 40.0, "", "")],
    )
    rows = pair_rows(tables)
    assert len({(r.first, r.second, r.beside) for r in rows}) == len(rows) == 6 + 1
    (beside,) = [r for r in rows if r.beside]
    assert ({beside.first, beside.second}, beside.beside, beside.beside_percent) == ({"Ni", "Zn"}, "Cu", 40.0)
    brass = next(r for r in rows if {r.first, r.second} == {"Cu", "Zn"})
    assert (brass.excess_points, brass.source) == (10, "fit-points")
    assert all(r.source == "fit-defaults" for r in rows if r is not brass)


def test_script_regenerates_the_shipped_table(tmp_path: Path) -> None:
    script = folder() / "make_pairs.py"
    runpy.run_path(str(script))["main"](tmp_path)
    assert (tmp_path / "pairs.csv").read_bytes() == (folder() / "pairs.csv").read_bytes()


def test_the_package_does_without_the_fits() -> None:
    """tables/fit stays out of the wheel, so nothing in the package may import it."""
    for path in Path(alloysolve.__file__).parent.rglob("*.py"):
        assert not re.search(r"^\s*(from|import) +tables\b", path.read_text(encoding="utf-8"), re.MULTILINE), path
