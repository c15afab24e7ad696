"""Metals and alloys that few people meet: each names its own system, and cadmium its caution, without any claim.

Densities and resistivities as published; the composition is left out of grades, points, fits and standard finenesses.
"""

from __future__ import annotations

from typing import NamedTuple

import pytest

from alloysolve.answer.solution import Solution, solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.physics.resistivity import IACS_UOHM_CM
from alloysolve.published.load import default_tables, parse_composition

from ..independent.accuracy import LeftOut

HO = "Ho et al., J. Phys. Chem. Ref. Data 12 (1983) 183 (from memory)"


class Published(NamedTuple):
    composition: str
    density: float  # g/cm3
    resistivity: float  # uohm cm at 20 degC
    system: str
    source: str


BODIES = [
    Published("Cd:100", 8.65, 7.27, "Cd", "CRC Handbook"),
    Published("In:100", 7.31, 8.37, "In", "CRC Handbook"),
    # gamma brass: 20 copper and 32 zinc in a cubic cell of 8.866 A; resistivity near that of other brasses, judgement
    Published("Cu:37.8;Zn:62.2", 8.01, 6.5, "Cu Zn", "Wyckoff, Crystal Structures (from memory)"),
    # the silver end of an old series of specific gravities
    Published("Au:25;Ag:75", 11.83, 6.59, "Ag Au", f"Rose, The Metallurgy of Gold, table XIV; {HO}"),
    # disordered cell of Au-Cu at half and half by mass: 3.751 A
    Published("Au:50;Cu:50", 12.10, 11.2, "Au Cu", f"university page on gold-copper cells; {HO}"),
    Published("Cu:96.08;Si:2.9;Mn:0.88;Fe:0.09;Ni:0.05", 8.53, 24.6, "Cu Si", "CDA publication 144/8, C65500: 7 %IACS"),
    Published("Sn:97;Cu:3", 7.33, 11.7, "Cu Sn", "plumbing solder (density from memory), conductivity near tin's"),
    Published("Mg:95.8;Al:3;Zn:1;Mn:0.2", 1.77, 9.2, "Mg", "data sheet AZ31B: 18.7 %IACS"),
]


def solved(p: Published) -> Solution:
    piece = Piece(
        density=f"{p.density} +- {0.002 * p.density:.4f} g/cm3",
        conductivity=f"{IACS_UOHM_CM / p.resistivity:.2f} %IACS +- 3 %",
    )
    return solve(piece, Settings(), LeftOut(parse_composition(p.composition)))


@pytest.mark.parametrize("p", BODIES, ids=lambda p: p.composition)
def test_a_rare_body_names_its_system(p: Published) -> None:
    found = [" ".join(sorted(f.metals)) for f in solved(p).found]
    assert p.system in found[:3], (found[:5], p.source)


def test_cadmium_carries_its_caution_and_does_not_read_as_brass() -> None:
    s = solved(BODIES[0])
    assert "cadmium" in s.advice.cautions
    assert s.found[0].metals == ("Cd",)
    by_density = solve(Piece(density="8.65 +- 0.02 g/cm3"), Settings(), default_tables())
    assert "cadmium" in by_density.advice.cautions


def test_cast_brass_with_pores_is_brass() -> None:
    """A sand casting of C85700: 8.41 g/cm3 sound (foundry sheets), here with 1 % of pores; 22 %IACS."""
    s = solve(Piece(density="8.33 +- 0.02 g/cm3", conductivity="22 %IACS +- 3 %"))
    assert sorted(s.found[0].metals) == ["Cu", "Zn"]


def test_a_half_dollar_of_silver_clad_silver_copper() -> None:
    """Coinage Act of 1965: 11.5 g, 400 silver on the whole, faces of 800 silver. Ideal rule: 9.53 g/cm3."""
    s = solve(Piece(claim="US-50c-Ag400", density="9.53 +- 0.02 g/cm3"))
    assert s.decision is not None
    assert s.decision.code != "contradicted"
    assert s.precious["Ag"].low <= 40 <= s.precious["Ag"].high


@pytest.mark.parametrize(
    ("coin", "stock"),
    [
        ("US-25c-clad", "copper-nickel on copper"),  # 8.33 % of nickel: a third of it faces of 75/25
        ("US-1d-CuNi", "copper-nickel on copper, half"),  # 12.5 % of nickel
        ("US-50c-Ag400", "silver 800 on silver 209"),
    ],
)
def test_a_clad_coin_finds_the_stock_of_its_share(coin: str, stock: str) -> None:
    from alloysolve.inputs.claim import parse_claim

    assert parse_claim(coin, default_tables()).clad == stock
