"""Cited densities and resistivities of alloys against the law fitted WITHOUT the alloy in question."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import pytest

from alloysolve.alloys.law import MixingLaw, law_with
from alloysolve.physics.resistivity import iacs_from_resistivity
from alloysolve.published.load import default_tables, parse_composition
from alloysolve.published.metals import Composition
from tables.fit.pairs import pair_rows
from tables.fit.points import density_observations
from tests.rows import every


class Case(NamedTuple):
    """A published figure; `low` and `high` bound what the law may say, in the unit of the property."""

    composition: str
    quantity: str  # "density" g/cm3, "resistivity" uohm cm at 20 degC, "conductivity" %IACS
    low: float
    high: float
    source: str
    iron: str = ""


def _near(composition: str, density: float, percent: float, source: str, iron: str = "") -> Case:
    return Case(composition, "density", density * (1 - percent / 100), density * (1 + percent / 100), source, iron)


ASM = "ASM Metals Handbook vol. 1, 8th ed., p. 52"
SOLDERS = "compilation of producers' solder data sheets"

# Tolerance: 0.4 % is what two published sources of one alloy differ by; more where a note says why.
CASES = [
    _near("Cu:70;Zn:30", 8.53, 0.4, f"mill data page C26000; {ASM}"),
    _near("Cu:95;Zn:5", 8.86, 0.4, "Copper Development Association table (from memory)"),
    _near("Cu:85;Zn:15", 8.75, 0.4, "data sheet C23000"),
    _near("Cu:80;Zn:20", 8.66, 0.4, "mill data page C24000"),
    _near("Cu:61;Zn:39", 8.39, 0.4, "Copper Development Association, alloy page C28000"),
    # nothing with more zinc is left beside nickel once it is out: twice the usual tolerance and a little
    _near("Cu:55;Ni:18;Zn:27", 8.70, 0.9, f"mill data page C77000; {ASM}"),
    _near("Cu:70;Ni:30", 8.94, 0.4, "mill page C71500"),
    _near("Cu:90;Ni:10", 8.94, 0.4, "mill page C70600"),
    # specific gravity 17.48 times the density of water at 15 degC, 0.9991 g/cm3
    _near("Au:91.67;Cu:8.33", 17.48 * 0.9991, 0.4, "after Rose, The Metallurgy of Gold"),
    _near("Au:90;Cu:10", 17.16 * 0.9991, 0.4, "after Rose, The Metallurgy of Gold"),
    _near("Pt:90;Ir:10", 21.55, 0.1, "kilogram prototypes, 21.548 to 21.552"),
    _near("Pt:90;Rh:10", 19.97, 0.3, ASM),
    _near("Pb:96;Sb:4", 11.04, 0.3, ASM),
    _near("Pb:94;Sb:6", 10.88, 0.3, ASM),
    _near("Pb:92;Sb:8", 10.74, 0.3, ASM),
    _near("Pb:10;Sn:90", 7.55, 0.3, SOLDERS),
    _near("Pb:37;Sn:63", 8.40, 0.3, SOLDERS),
    _near("Pb:40;Sn:60", 8.50, 0.3, SOLDERS),
    _near("Pb:50;Sn:50", 8.87, 0.3, SOLDERS),
    _near("Pb:60;Sn:40", 9.28, 0.3, SOLDERS),
    # pairs that rest on cells of solid solutions or on one data sheet; the first five compositions are in no fit
    _near("Cu:96.3;Si:3.7", 8.50, 1.0, "cell 3.6149 + 0.0006 A per atomic percent of silicon (from memory)"),
    _near("Al:92.7;Si:7;Mg:0.3", 2.68, 1.0, "Aluminum Association, A356.0 (from memory)"),
    _near("Sn:60;Bi:40", 8.12, 0.6, f"{SOLDERS} (from memory)"),
    _near("Pt:95;Ru:5", 20.67, 0.5, "jewellery platinum with ruthenium (from memory)"),
    _near("Sn:91;Sb:7;Cu:2", 7.28, 0.6, "pewter, density tables (from memory)"),
    _near("Cu:84.2;Mn:12.1;Ni:3.7", 8.40, 1.6, "resistance alloy, encyclopedia and GOST 492 pages"),
    _near("Cu:94.5;Si:4;Mn:1.1;Fe:0.2;Zn:0.2", 8.359, 1.0, "data sheet C87300, 0.302 lb/in3"),
    _near("Cu:82;Zn:14;Si:4", 8.276, 1.5, "foundry page C87500, 0.299 lb/in3"),
    _near("Al:88;Si:12", 2.66, 0.8, "die casting 413, 0.096 lb/in3"),
    _near("Ag:56;Cu:22;Zn:17;Sn:5", 9.5, 2.0, "maker's table of brazing alloys, one decimal"),
    *(
        # silver: the two sources differ by up to 0.15 % from each other, and neither is smooth to 0.2 %
        _near(f"Ag:{silver};Cu:{100 - silver:g}", density, 0.35, source)
        for source, series in (
            (
                "Karmarsch, Dinglers Polytechnisches Journal 224 (1877) 565",
                [(95, 10.383), (90, 10.299), (80, 10.133), (75, 10.05), (60, 9.8), (50, 9.633)],
            ),
            (
                "table of practical silver alloys, metrology teaching pages",
                [
                    (98.6, 10.44),
                    (97.5, 10.42),
                    (93.5, 10.37),
                    (92.5, 10.35),
                    (83.5, 10.2),
                    (81.25, 10.17),
                    (80, 10.1),
                    (72, 9.98),
                ],
            ),
        )
        for silver, density in series
    ),
    Case("Ag:100", "resistivity", 1.58, 1.60, "CRC Handbook, wire tables: 1.587"),
    Case("Cu:100", "resistivity", 1.67, 1.69, "CRC Handbook, wire tables: 1.678"),
    # 6.08 by the CRC Handbook, 6.16 by the mill; 3 % for the fit without it
    Case("Cu:70;Zn:30", "resistivity", 6.08 * 0.97, 6.16 * 1.03, "CRC Handbook; mill data page C26000"),
    Case("Cu:70;Zn:30", "conductivity", 27.2, 29.2, "28 %IACS, mill data page C26000; 3 % and rounding"),
    Case("Cu:90;Zn:10", "conductivity", 42.2, 45.8, "44 %IACS, mill data page C22000; 4 %"),
    # two phases: sources print 80 to 96 %IACS; the mixture of the phases alone would conduct better
    Case("Ag:92.5;Cu:7.5", "conductivity", 80, 96, "sterling, 96 by a supplier"),
    Case("Ag:90;Cu:10", "conductivity", 80, 96, "ASTM B617 coin silver, 83 to 86"),
    Case("Ag:72;Cu:28", "conductivity", 80, 96, "ASTM B628 eutectic, 84"),
    Case("Pt:90;Ir:10", "resistivity", 25 * 0.9, 25 * 1.1, "encyclopedia 25; handbooks 24.5 to 25 (memory)"),
    Case("Pt:85;Ir:15", "conductivity", 5.6, 6.8, "6.2 %IACS annealed, open property site"),
]


# Pairs whose points are few. First what no fit has seen: nothing is left out, because nothing is there.
UNUSED = [
    _near("Cu:90;Zn:5.5;Si:4.5", 8.30, 0.7, "Copper Development Association, C87600, 0.300 lb/in3 (from memory)"),
    _near("Cu:97.8;Ni:1.8;Be:0.4", 8.83, 0.6, "producer's guide to copper beryllium, C17510 (from memory)"),
    _near("Pd:60;Cu:40", 10.5, 0.7, "open handbook of electrical contacts, one decimal"),
    _near("Au:95;Ni:5", 18.2, 0.6, "handbook of electrical contacts, one decimal (from memory)"),
    _near("Au:60;Pd:40", 15.63, 1.0, "GOST 6835; marked as computed by its source, so it teaches no fit"),
    _near("Pt:95;Ru:5", 20.67, 0.4, "platinum metals handbook (from memory)"),
    _near("Pt:90;Ru:10", 19.94, 0.4, "platinum metals handbook (from memory)"),
    _near("Ag:44;Cu:30;Zn:26", 9.1, 1.2, "brazing alloy Ag 244 of ISO 17672, one decimal (from memory)"),
    _near("Al:85;Si:12.2;Mg:1;Cu:0.9;Ni:0.9", 2.68, 0.7, "Aluminum Association, 4032 (from memory)"),
    # EN 10088-1 prints 7.90, a pipe maker's table of 310S 7.98
    Case("Fe:54;Cr:25;Ni:20;Mn:1", "density", 7.90, 7.98, "EN 10088-1 (from memory); pipe maker's table", "fcc"),
]

# Then figures that the fit uses; the composition is left out of it. The tolerance is what the other points of the
# pair say they know, about twice their uncertainty.
LEFT_OUT = [
    _near("Cu:96.08;Si:2.9;Mn:0.88;Fe:0.09;Ni:0.04;Pb:0.01", 8.53, 0.4, "CDA publication 144/8, C65500"),
    _near("Cu:92;Zn:4;Si:4", 8.359, 0.4, "foundry sheet, C87200"),
    _near("Cu:98.5;Si:1.5", 8.75, 0.4, "supplier's page of C65100, 0.316 lb/in3"),
    _near("Pt:95.55;Cu:4.45", 20.087, 1.0, "cell of Pt7Cu, American Mineralogist Crystal Structure Database 20481"),
    _near("Pt:76.8;Co:23.2", 15.956, 1.5, "powder pattern of PtCo (from memory)"),
    _near("Sn:49.37;Sb:50.63", 6.93, 1.0, "cells of SnSb, American Mineralogist Crystal Structure Database 11402"),
    _near("Sn:42;Bi:58", 8.56, 0.4, "producer's solder directory (from memory)"),
    _near("Bi:57;Sn:43", 8.54, 0.8, "J. Electron. Mater. 34 (2005) 1414, measured"),
    _near("Sn:91;Zn:9", 7.22, 1.0, "J. Electron. Mater. 34 (2005) 1414, measured"),
    _near("Fe:72;Cr:18;Ni:10", 7.971, 0.5, "Dyson and Holmes 1970, cell of austenite (from memory)", "fcc"),
    _near("Fe:55;Cr:25;Ni:20", 7.954, 0.5, "Dyson and Holmes 1970, cell of austenite (from memory)", "fcc"),
    # what the standard permits
    Case("W:90;Ni:7;Fe:3", "density", 16.85, 17.3, "ASTM B777 class 1"),
    Case("W:92.5;Ni:5.25;Fe:2.25", "density", 17.15, 17.85, "ASTM B777 class 2"),
    Case("W:95;Ni:3.5;Fe:1.5", "density", 17.75, 18.35, "ASTM B777 class 3"),
    Case("W:97;Ni:2.1;Fe:0.9", "density", 18.25, 18.85, "ASTM B777 class 4"),
]


@cache
def _law_without(text: str) -> MixingLaw:
    """Pure metals belong to the law; of alloys every figure of the composition is left out."""
    composition = parse_composition(text)
    left_out: list[Composition] = [composition] if len(composition) > 1 else []
    return law_with(default_tables(), pair_rows(default_tables(), left_out))


@pytest.mark.parametrize("case", [*UNUSED, *LEFT_OUT], ids=lambda c: c.composition)
def test_unused_figures_are_in_no_fit_and_the_others_in_it(case: Case) -> None:
    every = len(density_observations(default_tables()))
    left = len(density_observations(default_tables(), [parse_composition(case.composition)]))
    assert (left == every) == (case in UNUSED)


ALL = [*CASES, *UNUSED, *LEFT_OUT]


@every("case", ALL, called=lambda c: f"{c.composition} {c.quantity}")
def test_published_figure(case: Case) -> None:
    law = _law_without(case.composition)
    w = law.fractions([parse_composition(case.composition)], case.iron)
    rho = law.resistivity_of(w)[0]
    found = {
        "density": 1 / law.specific_volume(w)[0],
        "resistivity": rho[0],
        "conductivity": iacs_from_resistivity(rho)[0],
    }[case.quantity]
    assert case.low <= found <= case.high, case.source


@pytest.mark.parametrize(
    ("composition", "published", "missed_by_percent"),
    [
        ("Cu:70;Zn:30", 8.53, 2.0),  # mill data page; the ideal rule says 8.31
        ("Cu:55;Ni:18;Zn:27", 8.70, 2.0),  # mill data page; the ideal rule says 8.37
    ],
)
def test_ideal_rule_is_not_good_enough(composition: str, published: float, missed_by_percent: float) -> None:
    law = _law_without(composition)
    w = law.fractions([parse_composition(composition)])
    some = w[0] > 0
    own_density = law.molar_mass[some] / law.molar_volume[some]
    ideal = float(1 / (w[0, some] / own_density).sum())
    assert 100 * (1 - ideal / published) > missed_by_percent


def test_shipped_law_meets_the_two_alloys_the_ideal_rule_misses() -> None:
    """With every published figure in the fit, within 0.4 %."""
    law = law_with(default_tables(), default_tables().rows("pairs"))
    w = law.fractions([{"Cu": 70, "Zn": 30}, {"Cu": 55, "Ni": 18, "Zn": 27}])
    assert 1 / law.specific_volume(w) == pytest.approx([8.53, 8.70], rel=0.004)  # mill data pages
