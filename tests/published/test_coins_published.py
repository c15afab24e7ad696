"""Coin types as laws and mints publish them: values typed from the sources by hand, and whether all rows hang together.

A value that a source states in grains is turned into grams here (1 grain = 64.79891 mg).
"""

import math
import re

import pytest

from alloysolve.alloys.law import mixing_law
from alloysolve.inputs.coin_money import sums_of
from alloysolve.inputs.coin_search import listed, metals_of, nearest
from alloysolve.published.load import default_tables
from tests.rows import every

TABLES = default_tables()
COINS = TABLES.rows("coins")
LAW = mixing_law(TABLES)
GRAIN, OUNCE = 0.06479891, 31.1034768  # g
FILLED = (0.62, 0.97)  # share of the cylinder over the rim that a struck coin takes up (pieces/shape.py)
THINNEST, THICKEST = 70.0, 5.0  # diameter over mean thickness: four ducats are 0.75 mm thick, five ounces 10 mm

BY_HAND = {  # id: mass [g], diameter [mm], (metal, percent); None where the source does not say
    # 31 USC 5112(a)(7) to (10): one troy ounce of fine gold in 33.931 g and 32.7 mm, and its parts
    "US-50d-Au-1oz": (33.931, 32.7, ("Au", 91.67)),
    "US-25d-Au": (16.966, 27.0, None),
    "US-10d-Au-1/4oz": (8.483, 22.0, None),
    "US-5d-Au-1/10oz": (3.393, 16.5, None),
    "US-10c-clad": (2.268, 0.705 * 25.4, None),  # (a)(4): 0.705 inch
    # Coinage Act of 1873, section 14: the dollar of gold weighs 25.8 grains; section 15: half dollar 12.5 g
    "US-20d-Au": (20 * 25.8 * GRAIN, None, ("Au", 90)),
    "US-5d-Au": (5 * 25.8 * GRAIN, None, ("Au", 90)),
    "US-50c-Ag": (12.5, None, ("Ag", 90)),
    "US-25c-Ag": (12.5 / 2, None, ("Ag", 90)),
    "US-10c-Ag": (12.5 / 5, None, ("Ag", 90)),
    # Coinage Act 1870, first schedule: grains of the imperial weight, millesimal fineness 916.66 and 925
    "UK-sov": (123.27447 * GRAIN, None, ("Au", 91.666)),
    "UK-sov-half": (61.63723 * GRAIN, None, ("Au", 91.666)),
    "UK-5L-Au": (616.37239 * GRAIN, None, ("Au", 91.666)),
    "UK-5s-Ag925": (436.36363 * GRAIN, None, ("Ag", 92.5)),
    "UK-2s6-Ag925": (218.18181 * GRAIN, None, ("Ag", 92.5)),
    "UK-2s-Ag925": (174.54545 * GRAIN, None, ("Ag", 92.5)),
    "UK-1s-Ag925": (87.27272 * GRAIN, None, ("Ag", 92.5)),
    "UK-6p-Ag925": (43.63636 * GRAIN, None, ("Ag", 92.5)),
    "UK-1d-old": (145.83333 * GRAIN, None, None),
    # New Zealand, Coinage Act 1933: half crown of 1.272 inches and 218.18181 grains, 500 fine
    "NZ-2s6-Ag500": (218.18181 * GRAIN, 1.272 * 25.4, ("Ag", 50)),
    # India, Act 17 of 1835: 180 grains, of which 165 are silver
    "IN-1R-Ag": (180 * GRAIN, None, ("Ag", 100 * 165 / 180)),
    # Convention of 23 December 1865, articles 2 to 4
    "FR-100-Au": (32.25806, 35.0, ("Au", 90)),
    "FR-50-Au": (16.12903, None, ("Au", 90)),
    "FR-20F": (6.45161, None, ("Au", 90)),
    "BE-5-Ag": (25.0, None, ("Ag", 90)),
    "IT-2-Ag": (10.0, None, ("Ag", 83.5)),
    # Coinage Act of 9 July 1873, article 3: 90 marks of silver coin weigh a pound (500 g)
    "DE-1M-Ag": (500 / 90, None, ("Ag", 90)),
    "DE-5M-Ag": (5 * 500 / 90, None, ("Ag", 90)),
    # Coinage Act of 1 June 1909, section 3: 279 ten-mark pieces from a kilogram of fine gold, 900 fine
    "DE-10M-Au": (1000 / 279 / 0.9, None, ("Au", 90)),
    "DE-20M-Au": (2000 / 279 / 0.9, None, ("Au", 90)),
    # notice of 16 March 1934
    "DE-2RM-Ag625": (8.0, 25.0, ("Ag", 62.5)),
    "DE-5RM-Ag900": (13.8888889, 29.0, ("Ag", 90)),
    # Deutsche Bundesbank, coins in deutsche mark
    "DE-50Pf": (3.5, 20.0, ("Ni", 25)),
    "DE-10Pf": (4.0, 21.5, None),
    # Meyers (1907) on the law of 2 August 1892: 2952 crowns from a kilogram of gold 900
    "AT-20K-Au": (20 * 1000 / 2952, None, ("Au", 90)),
    # Convention of 27 May 1873: 248 ten-crown pieces from a kilogram of fine gold, 900 fine
    "SE-10K-Au": (1000 / 248 / 0.9, None, ("Au", 90)),
    # Mexico, decrees of 1917, 1919, 1921 and 1925
    "MX-20P-Au": (50 / 3, 27.5, ("Au", 90)),
    "MX-1P-Ag720": (16.6666667, 34.0, ("Ag", 72)),
    "MX-50P-Au": (125 / 3, 37.0, ("Au", 90)),
    "MX-10c-Ag720": (1.6666667, 15.0, ("Ag", 72)),
    "MX-1P-Ag9027": (24.4388 / 0.9027, None, ("Ag", 90.27)),  # law of 1905: 24.4388 g of fine silver
    # Australia, Currency (Perth Mint) Determination 2000 (No. 4)
    "AU-100d-Au": (31.162, 32.1, ("Au", 99.99)),
    "AU-15d-Au": (3.133, 16.1, ("Au", 99.99)),
    # Netherlands, weights taught in 1900
    "NL-25c-Ag640": (3.575, None, ("Ag", 64)),
    "NL-10G-Au": (6.72, None, ("Au", 90)),
    "NO-20K": (9.9, 27.5, ("Zn", 10)),  # Norges Bank
}
REMEDIES = {  # id: greatest lawful deviation of the mass [g], whose rectangle has this deviation
    "UK-sov": 0.2 * GRAIN,  # Coinage Act 1891
    "UK-2s6-Ag925": 0.90909 * GRAIN,  # Coinage Act 1870
    "NZ-2s6-Ag500": 1.216 * GRAIN,
    "MX-50P-Au": 0.070,
    "AU-100d-Au": 0.055,
    "DE-5M-Ag": 0.010 * 5 * 500 / 90,
    "NL-10G-Ag720": 0.007 * 15,  # royal decree of 8 August 1994
}


def coin(id_):
    return next(c for c in COINS if c.id == id_)


def densities(c):
    """Density [g/cm3] of each metal that a type consists of."""
    parts = [c.composition] if c.composition else list(c.layers.values())
    return [1 / float(LAW.specific_volume(LAW.fractions([p]))[0]) for p in parts]


@every("id_", BY_HAND)
def test_a_coin_type_as_its_source_has_it(id_):
    mass, diameter, metal = BY_HAND[id_]
    c = coin(id_)
    assert c.mass_g == pytest.approx(mass, rel=3e-4)  # sources and rows round to four or five digits
    if diameter:
        assert c.diameter_mm == pytest.approx(diameter, abs=0.02)
    if metal:
        assert c.composition[metal[0]] == pytest.approx(metal[1], abs=0.01)


@pytest.mark.parametrize("id_", REMEDIES)
def test_a_remedy_is_a_rectangle(id_):
    assert coin(id_).u_mass_g == pytest.approx(REMEDIES[id_] / math.sqrt(3), rel=0.01)


def test_there_are_hundreds_from_dozens_of_issuers():
    assert len(COINS) >= 250
    assert len({c.issuer for c in COINS}) >= 30


def test_no_two_types_have_one_name_and_every_name_is_money_or_an_ounce():
    names = [f"{c.issuer} {c.coin}".lower() for c in COINS]
    assert len(set(names)) == len(names)
    for c in COINS:
        assert sums_of(c.issuer, c.coin, c.years, TABLES) or re.fullmatch(
            r"(?:gold|silver) (?:1/\d+|1) oz.*", c.coin
        ), c.id
        assert re.fullmatch(r"\d{4}(?:-(?:\d{4})?)?", c.years), c.id


@every("c", [c for c in COINS if c.mass_g and c.diameter_mm], called=lambda c: c.id)
def test_mass_size_and_metal_of_a_type_hang_together(c):
    """A misprint of a digit in mass, diameter, thickness or metal falls out of these wide bounds."""
    low, high = min(densities(c)), max(densities(c))
    face = math.pi / 4 * c.diameter_mm**2 * (0.95 if c.shape != "round" else 1.0) / 1000  # cm2 times mm in cm3
    if c.thickness_mm:
        filled = [c.mass_g / rho / (face * c.thickness_mm) for rho in (high, low)]
        assert filled[0] <= FILLED[1], filled
        assert filled[1] >= FILLED[0], filled
    mean = c.mass_g / ((low + high) / 2) / face  # mm
    assert THICKEST < c.diameter_mm / mean < THINNEST


@every("c", [c for c in COINS if " oz" in c.coin], called=lambda c: c.id)
def test_a_coin_of_an_ounce_holds_an_ounce(c):
    of = re.search(r"(?:(\d+)/)?(\d+) oz", c.coin)
    ounces = int(of[1]) / int(of[2]) if of[1] else float(of[2])
    fine = max(c.composition.get(m, 0.0) for m in ("Ag", "Au", "Pt", "Pd")) / 100 * c.mass_g
    assert 0.9985 < fine / (ounces * OUNCE) < 1.025  # silver 999 may weigh an ounce in all; Australia allows 1.6 % more


def test_the_fine_silver_of_the_dollar():
    """371.25 grains of fine silver (Coinage Act of 1792), which is 0.7734 troy ounces."""
    c = coin("US-1d-Ag")
    assert c.mass_g * c.composition["Ag"] / 100 / OUNCE == pytest.approx(371.25 / 480, rel=3e-4)


def test_rows_from_memory_say_so():
    """A row without a source that was read says that all its figures are from memory."""
    seen = {s.key: s.seen for s in TABLES.rows("SOURCES")}
    for c in COINS:
        read = [k for k in c.source.split(";") if seen[k] == "yes"]
        assert read or "all figures from memory" in c.caveat, c.id
        assert "memory" in c.caveat or len(read) == len(c.source.split(";")), c.id


def test_a_message_that_lists_types_is_short():
    assert len(listed(COINS)) < 150
    assert [c.id for c in nearest("hlf crown 1935", COINS, 1)] == ["UK-2s6-Ag500"]
    assert metals_of(coin("US-50c-clad"), TABLES) == "copper nickel"


@pytest.mark.parametrize(
    ("issuer", "coin", "years", "said", "is_worth"),
    [
        ("United Kingdom", "florin, silver 925", "1816-1919", (2.0, "shilling"), True),
        ("Austria", "8 florins, gold", "1870-1892", (16.0, "shilling"), False),
        # Decimal Currency Act 1969, section 1: "the new penny being one-hundredth part of a pound sterling"
        ("United Kingdom", "1 penny, decimal bronze", "1971-1992", (0.01, "pound"), True),
        ("United Kingdom", "penny, bronze", "1860-1967", (0.01, "pound"), False),
    ],
)
def test_what_a_florin_and_a_penny_are_worth(issuer, coin, years, said, is_worth):
    assert (said in sums_of(issuer, coin, years, TABLES)) is is_worth
