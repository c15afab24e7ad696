"""Published alloys of each claimed fineness: a region holds them all, and reaches no farther than they do.

A composition that nobody publishes is not claimed: a corner of a region where metals that are never used together are
all at their limits would let a piece of less gold pass. A published alloy outside would accuse a sound piece.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
import pytest

from alloysolve.alloys.bodies import Bodies
from alloysolve.alloys.law import mixing_law
from alloysolve.alloys.regions import held
from alloysolve.inference.claimed import claim_bodies
from alloysolve.inputs.claim import parse_claim
from alloysolve.published.load import default_tables, parse_composition
from tests.rows import every

TABLES = default_tables()

FAHLMAN = "Fahlman, Materials Chemistry, 2nd ed. (2011), table 3.4"
GOST = "GOST 30649-99, tables 1 to 4, middle of each range"
GOST_OLD = "GOST 6835-80 as a jewellers' page explains its marks: ZlMNC 12.5-10-2.5"
BY_VOLUME = "24carat.co.uk, gold alloys by volume"
NINE = "Jewellers' catalogue, 9 carat series of silver and copper"
WOLDMAN = "Woldman and Gibbons, Engineering Alloys, 5th ed., as quoted"
WHITE_GOLDS = "palladium-white-golds of SOURCES.csv"
COLOURS = "qtena.com, carat golds by colour"
ISO_8654 = "ISO 8654, usual compositions of colours 2N to 5N (from memory)"
LAUDIS = "Table of practical silver alloys, metrology teaching pages"
PATENTS = "United States patents 4 973 446 (from memory) and 12 180 574: examples of sterling"
COINS = "Coinage acts of the United Kingdom, 1920 and 1927 (from memory), and coinage of silver 500 elsewhere"
PLATINUM = "Platinum jewellery alloys (platinum-alloys-page; with tungsten, rhodium or palladium from memory)"


class Published(NamedTuple):
    """A published composition; `scatter_only` for one whose minor metals the region does not list."""

    claim: str
    composition: str
    source: str
    scatter_only: bool = False
    density: float | None = None  # g/cm3, where the law is not to be relied on


PUBLISHED = [
    Published("gold 9 ct yellow", "Au:37.5;Ag:10;Cu:45;Zn:7.5", BY_VOLUME),
    Published("gold 9 ct yellow", "Au:37.5;Ag:12.1;Cu:44.4;Zn:6", NINE),
    Published("gold 9 ct yellow", "Au:37.5;Ag:25;Cu:37.5", GOST),
    Published("gold 9 ct yellow", "Au:37.5;Ag:42.5;Cu:20", NINE),
    Published("gold 9 ct yellow", "Au:37.5;Ag:55;Cu:7.5", NINE),
    Published("gold 9 ct red", "Au:37.5;Ag:2;Cu:60.5", GOST),
    Published("gold 9 ct red", "Au:37.5;Ag:20;Cu:42.5", NINE),
    Published("gold 9 ct white nickel", "Au:37.8;Cu:40;Ni:10.4;Zn:11.8", BY_VOLUME),
    Published("gold 9 ct white nickel", "Au:37.5;Cu:34;Ni:17.7;Zn:10.8", NINE),
    Published("gold 9 ct white palladium", "Au:37.5;Ag:62.5", NINE),
    Published("gold 9 ct white palladium", "Au:37.5;Ag:52;Cu:4.9;Zn:4.2;Ni:1.4", WHITE_GOLDS),
    Published("gold 10 ct yellow", "Au:41.7;Ag:11.7;Cu:40.8;Zn:5.8", FAHLMAN),
    Published("gold 10 ct yellow", "Au:41.7;Ag:5.5;Cu:43.8;Zn:9", FAHLMAN),
    Published("gold 10 ct red", "Au:41.7;Ag:2.8;Cu:55.5", FAHLMAN),
    Published("gold 10 ct white nickel", "Au:41.7;Cu:29.2;Zn:12.1;Ni:15.1;Co:1.9", FAHLMAN, True),
    Published("gold 10 ct white palladium", "Au:41.7;Ag:47.4;Cu:0.9;Pd:10", FAHLMAN),
    Published("gold 14 ct yellow", "Au:58.3;Ag:4;Cu:31.2;Zn:6.4", FAHLMAN),
    Published("gold 14 ct yellow", "Au:58.3;Ag:24.8;Cu:16.8;Zn:0.1", FAHLMAN),
    Published("gold 14 ct yellow", "Au:58.5;Ag:30;Cu:11.5", GOST),
    Published("gold 14 ct yellow", "Au:58.5;Ag:20;Cu:21.5", GOST),
    Published("gold 14 ct red", "Au:58.5;Ag:8;Cu:33.5", GOST),
    Published("gold 14 ct red", "Au:58.3;Ag:2.1;Cu:39.6", FAHLMAN),
    Published("gold 14 ct green", "Au:58.5;Ag:41.5", GOST),
    Published("gold 14 ct green", "Au:58.33;Ag:32.5;Cu:9;Zn:0.2", NINE),
    Published("gold 14 ct white nickel", "Au:58.3;Cu:28.3;Zn:4.8;Ni:8.6", FAHLMAN),
    Published("gold 14 ct white nickel", "Au:58.5;Ni:12.5;Zn:4;Cu:25", GOST),
    Published("gold 14 ct white nickel", "Au:58.5;Ag:8;Ni:8.2;Zn:2.5;Cu:22.8", GOST),
    Published("gold 14 ct white nickel", "Au:58.5;Ag:0.5;Cu:27;Zn:7;Ni:7", BY_VOLUME),
    Published("gold 14 ct white nickel", "Au:59;Cu:25.5;Ni:12.3;Zn:3.2", WOLDMAN),
    Published("gold 14 ct white palladium", "Au:58.5;Ag:25.5;Pd:16", GOST),
    Published("gold 14 ct white palladium", "Au:58.5;Ag:28.7;Pd:10;Zn:2.8", GOST),
    Published("gold 14 ct white palladium", "Au:58.5;Ag:28;Pd:10;Cd:3.5", GOST, True),
    Published("gold 14 ct white palladium", "Au:58.3;Ag:32.2;Pd:9.5", FAHLMAN),
    Published("gold 18 ct yellow", "Au:75;Ag:16;Cu:9", ISO_8654),
    Published("gold 18 ct yellow", "Au:75;Ag:12.5;Cu:12.5", ISO_8654),
    Published("gold 18 ct yellow", "Au:75;Ag:13;Cu:12", FAHLMAN),
    Published("gold 18 ct yellow", "Au:75;Ag:15;Cu:10", GOST),
    Published("gold 18 ct yellow", "Au:75;Ag:10;Cu:15", WOLDMAN),
    Published("gold 18 ct yellow", "Au:75;Ag:20;Cu:5", WOLDMAN),
    Published("gold 18 ct red", "Au:75;Cu:25", COLOURS),
    Published("gold 18 ct red", "Au:75;Ag:9;Cu:16", ISO_8654),
    Published("gold 18 ct red", "Au:75;Ag:5;Cu:20", FAHLMAN),
    Published("gold 18 ct green", "Au:75;Ag:25", GOST),
    Published("gold 18 ct green", "Au:75;Ag:15;Cu:6;Cd:4", COLOURS, True),
    Published("gold 18 ct white nickel", "Au:75;Cu:2.2;Ni:17.3;Zn:5.5", FAHLMAN),
    Published("gold 18 ct white nickel", "Au:75;Cu:4;Ni:17;Zn:4", BY_VOLUME),
    Published("gold 18 ct white nickel", "Au:75;Ni:7.5;Zn:2.5;Cu:15", GOST),
    Published("gold 18 ct white nickel", "Au:75;Ag:15;Ni:7.5;Zn:2.5", GOST),
    Published("gold 18 ct white nickel", "Au:75;Cu:12.5;Ni:10;Zn:2.5", GOST_OLD),
    Published("gold 18 ct white palladium", "Au:75;Pd:20;Ag:5", WHITE_GOLDS),
    Published("gold 18 ct white palladium", "Au:75;Pd:10;Ag:15", WHITE_GOLDS),
    Published("gold 18 ct white palladium", "Au:75;Pd:15;Cu:3;Ni:7", WHITE_GOLDS),
    Published("gold 18 ct white palladium", "Au:75;Pd:10;Ni:10;Zn:5", COLOURS),
    Published("gold 18 ct white palladium", "Au:75;Ag:9;Pd:14;Ni:2", GOST),
    Published("gold 18 ct white palladium", "Au:75;Ag:9;Pd:8.5;Ni:4;Cd:3.5", GOST, True),
    Published("gold 22 ct yellow", "Au:91.67;Ag:5;Cu:2;Zn:1.33", COLOURS),
    Published("gold 22 ct red", "Au:91.67;Cu:8.33", "United States, act of 1792; British crown gold"),
    Published("gold 900", "Au:90;Cu:10", "United States, act of 1837; Latin Monetary Union"),
    Published("silver 925", "Ag:92.5;Cu:7.5", LAUDIS),
    Published("silver 925", "Ag:93.5;Cu:6.5", LAUDIS),
    Published("silver 925", "Ag:92.5;Zn:4.25;Cu:2;Sn:0.5;In:0.75", PATENTS, True),
    Published("silver 925", "Ag:92.5;Cu:4.8;Zn:1.5;In:0.2;Pd:1", PATENTS, True),
    # germanium takes less room in silver than in its own lattice: the printed density, not that of the law
    Published("silver 900", "Ag:90;Cu:10", LAUDIS),
    Published("silver 835", "Ag:83.5;Cu:16.5", LAUDIS),
    Published("silver 835", "Ag:83.5;Cu:5.5;Cd:11", LAUDIS, True),
    Published("silver 800", "Ag:80;Cu:20", LAUDIS),
    Published("silver 800", "Ag:80;Cu:5;Cd:15", LAUDIS, True),
    Published("silver 750", "Ag:75;Cu:20;Zn:5", LAUDIS),
    Published("silver 750", "Ag:75;Cu:25", "Karmarsch, Dinglers Polytechnisches Journal 224 (1877) 565"),
    Published("silver 720", "Ag:72;Cu:28", LAUDIS),
    Published("silver 500", "Ag:50;Cu:50", COINS),
    Published("silver 500", "Ag:50;Cu:40;Ni:10", COINS),
    Published("silver 500", "Ag:50;Cu:40;Ni:5;Zn:5", COINS),
    Published("platinum 950", "Pt:95;Ru:5", PLATINUM),
    Published("platinum 950", "Pt:95;Ir:5", PLATINUM),
    Published("platinum 950", "Pt:95;Co:5", PLATINUM),
    Published("platinum 950", "Pt:95;Cu:5", PLATINUM),
    Published("platinum 950", "Pt:95;Pd:5", PLATINUM),
    Published("platinum 950", "Pt:95;W:5", PLATINUM, True),
    Published("platinum 950", "Pt:95;Rh:5", GOST, True),
    Published("platinum 900", "Pt:90;Ir:10", GOST),
    Published("platinum 900", "Pt:90;Pd:10", PLATINUM),
    Published("platinum 900", "Pt:91.5;Cu:8.5", "GOST 13498, PlM 8.5"),
    Published("platinum 850", "Pt:85;Ir:15", PLATINUM),
    Published("platinum 850", "Pt:85;Pd:15", GOST),
    Published("platinum 850", "Pt:85;Pd:10;Cu:5", PLATINUM),
]
FINENESS = {  # carats and finenesses as people claim them, without a colour
    **{f"{carat} ct": f"gold {carat} ct" for carat in (9, 10, 14, 18, 22)},
    **{f"silver {mark}": f"silver {mark}" for mark in (925, 900, 835, 800, 750, 720)},
    **{f"platinum {mark}": f"platinum {mark}" for mark in (950, 900, 850)},
}
# How much lighter than the lightest published alloy a region may reach, percent: its limits are published one by one
# and rounded. Silver 500 and palladium are left to their wide ranges.
REACH = 1.5


@cache
def bodies_of(claim: str) -> Bodies:
    bodies = claim_bodies(TABLES, parse_claim(claim, TABLES))
    assert bodies is not None
    return bodies


def density(composition: str) -> float:
    law = mixing_law(TABLES)
    return float(1 / law.specific_volume(law.fractions([parse_composition(composition)]))[0])


@every("p", PUBLISHED, called=lambda p: f"{p.claim}: {p.composition}")
def test_a_published_alloy_is_as_claimed(p: Published) -> None:
    """Its composition lies in the region, or at least its density, to one deviation, or two with other metals in it."""
    law = mixing_law(TABLES)
    w = law.fractions([parse_composition(p.composition)])
    region = next(r for r in TABLES.rows("claims") if r.claim == p.claim)
    assert p.scatter_only or held(law, 100 * w, region.limits)[0], p.source
    bodies, rho, away = bodies_of(p.claim), p.density or density(p.composition), 2 if p.scatter_only else 1
    lowest, highest = (np.asarray(1 / bodies.v * (1 + k * bodies.sigma)) for k in (-away, away))
    assert lowest.min() <= rho <= highest.max(), p.source


@pytest.mark.parametrize("claim", FINENESS)
def test_a_region_reaches_no_farther_than_published_alloys(claim: str) -> None:
    lightest = min(density(p.composition) for p in PUBLISHED if p.claim.startswith(FINENESS[claim]))
    assert 1 / bodies_of(claim).v.max() > lightest * (1 - REACH / 100)


@pytest.mark.parametrize("carat", [9, 10, 14, 18, 22])
def test_a_carat_without_colour_holds_every_colour(carat: int) -> None:
    rho = 1 / bodies_of(f"{carat} ct").v
    of_carat = [density(p.composition) for p in PUBLISHED if p.claim.startswith(f"gold {carat} ct")]
    assert rho.min() <= min(of_carat) * 1.003
    assert rho.max() >= max(of_carat) / 1.003


@pytest.mark.parametrize(
    ("claim", "low", "high"),
    [  # ranges that a metallurgist quotes from the World Gold Council and the trade, finishing.com letter 189/07
        ("9 ct", 10.9, 12.7),
        ("18 ct yellow", 15.2, 15.9),
        ("18 ct white", 14.7, 16.9),
        ("22 ct", 17.7, 17.8),
    ],
)
def test_a_claim_holds_the_range_that_the_trade_quotes_and_little_more(claim: str, low: float, high: float) -> None:
    rho = 1 / bodies_of(claim).v
    assert low * 0.98 <= rho.min() <= low * 1.003
    assert high * 0.997 <= rho.max() <= high * 1.035  # 9 ct with palladium, 22 ct with silver alone
