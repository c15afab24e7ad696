"""Plain listings of everything that fits a density."""

import re

import numpy as np
import pandas as pd
import pytest

from alloysolve import Conductivity, Magnet, Solution, bounds, nearest, solve
from alloysolve.alloys.law import mixing_law
from alloysolve.errors import InputError
from alloysolve.exact.constructions import constructions
from alloysolve.exact.density import SCATTER, usable_metals
from alloysolve.exact.listing import mixtures
from alloysolve.inference.observe import evidence_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.measured import Measured
from alloysolve.published.load import default_tables
from alloysolve.weighing.result import Weighings
from alloysolve.weighing.weigh import weigh

TABLES = default_tables()
LAW = mixing_law(TABLES)
NICKEL_SILVER = Measured(8.70, 0.01, "g/cm3")  # 55/18/27, handbook density 8.70 g/cm3


def share(row, metal):
    """(low, high) of a metal in a row of the listing."""
    n = next(n for n in (1, 2, 3) if row[f"metal_{n}"] == metal)
    return row[f"metal_{n}_low_percent"], row[f"metal_{n}_high_percent"]


def row_of(frame, *metals):
    found = frame[[set(m.split()) == set(metals) for m in frame.metals]]
    return found.iloc[0] if len(found) else None


def test_copper_nickel_zinc_at_8_70_contains_nickel_silver():
    frame = mixtures(NICKEL_SILVER, ["Cu", "Ni", "Zn"], sizes=["triple"])
    row = row_of(frame, "Cu", "Ni", "Zn")
    for metal, percent in (("Cu", 55), ("Ni", 18), ("Zn", 27)):
        low, high = share(row, metal)
        assert low <= percent <= high


def test_brass_at_8_53_is_cartridge_brass():
    row = row_of(mixtures(Measured(8.53, 0.01, "g/cm3"), ["Cu", "Zn"]), "Cu", "Zn")  # 70/30, ASTM B36
    low, high = share(row, "Zn")
    assert low <= 30 <= high
    assert high - low < 10  # 1.96 x 0.35 % over 0.7 % of density per 2 points of zinc
    assert share(row, "Cu") == pytest.approx((100 - high, 100 - low))


@pytest.mark.parametrize("density", [8.53, 10.31, 17.46])
def test_every_end_of_a_pair_has_the_limiting_density(density):
    """The ends lie within the limits of reading and model, the model's scatter taken at the end itself."""
    u = 0.002 * density
    frame = mixtures(Measured(density, u, "g/cm3"), sizes=["pair"])
    assert len(frame) > 20
    for _, row in frame.iloc[::7].iterrows():
        a, b = row["metal_1"], row["metal_2"]
        low, high = row["metal_1_low_percent"] / 100, row["metal_1_high_percent"] / 100
        w = np.zeros((2, len(LAW.symbols)))
        w[:, LAW.index[a]] = (low, high)
        w[:, LAW.index[b]] = (1 - low, 1 - high)
        v = LAW.specific_volume(w)
        model = np.hypot(LAW.u_pairs(w), SCATTER)  # at each end itself: gone at a pure metal but for SCATTER
        half = 1.96 * np.hypot(u / density**2, model / density)  # in v, 95 %
        assert (abs(v - 1 / density) <= half * 1.001).all(), (a, b)


def test_a_listing_misses_no_pair_of_a_fine_grid():
    """Every pair one of whose compositions on a 0.1 % grid has the density is listed, and no other."""
    rho, u = 8.31, 0.03
    metals = ["Cu", "Zn", "Ni", "Sn", "Pb", "Ag", "Fe", "Al", "Au", "Bi"]
    frame = mixtures(Measured(rho, u, "g/cm3"), metals, sizes=["pair"])
    part = np.linspace(0, 1, 1001)
    for i, a in enumerate(metals):
        for b in metals[i + 1 :]:
            w = np.zeros((1001, len(LAW.symbols)))
            w[:, LAW.index[a]], w[:, LAW.index[b]] = part, 1 - part
            model = np.hypot(LAW.u_pairs(w), 0.003)
            near = np.abs(1 / LAW.specific_volume(w) - rho) <= 1.9 * np.hypot(u, model * rho)
            far = np.abs(1 / LAW.specific_volume(w) - rho) >= 2.1 * np.hypot(u, model.max() * rho)
            listed = row_of(frame, a, b) is not None
            assert listed or not near.any(), (a, b)
            assert not (listed and far.all()), (a, b)


def test_two_uncertainties_stand_apart():
    fine, coarse = (mixtures(Measured(8.53, u, "g/cm3"), ["Cu", "Zn"]).iloc[0] for u in (0.001, 0.05))
    assert (fine.u_reading_g_cm3, coarse.u_reading_g_cm3) == pytest.approx((0.001, 0.05), rel=1e-6)
    assert fine.u_model_g_cm3 == pytest.approx(coarse.u_model_g_cm3, rel=0.1)  # the second does not shrink
    assert fine.u_model_g_cm3 > 0.003 * 8.53 * 0.9


def test_one_sided_error_of_a_weighing_reaches_the_lighter_side_only():
    bubbly, clean = weigh("31.18 g", "3.64 g", wetting="dry dip"), weigh("31.18 g", "3.64 g", wetting=0.0)
    low_b, high_b = share(row_of(mixtures(bubbly, ["Cu", "Zn"]), "Cu", "Zn"), "Cu")
    low_c, high_c = share(row_of(mixtures(clean, ["Cu", "Zn"]), "Cu", "Zn"), "Cu")
    assert high_b > high_c + 5  # bubbles make a denser brass read as this
    assert low_b == pytest.approx(low_c, abs=0.2)  # the model scatter is taken where the interval lies


def test_other_readings_narrow_the_listing():
    piece = Piece(density=NICKEL_SILVER, conductivity="6 %IACS", magnet="none")  # 55/18/27: 5.5 %IACS (handbook)
    e = evidence_of(piece, Settings(), TABLES, None)
    every, narrowed = mixtures(NICKEL_SILVER), mixtures(NICKEL_SILVER, evidence=e)
    assert len(narrowed) < 0.9 * len(every)
    assert row_of(narrowed, "Cu", "Ni", "Zn") is not None
    assert row_of(every, "Ag", "Al") is not None
    magnet = evidence_of(Piece(magnet="strong"), Settings(), TABLES, None)
    drawn = mixtures(NICKEL_SILVER, evidence=magnet, sizes=["pair"])
    assert all(set(m.split()) & {"Fe", "Ni", "Co"} for m in drawn.metals)


def test_usable_metals_leave_out_what_makes_no_body():
    metals = usable_metals(TABLES)
    assert {"Cu", "Zn", "Ag", "Au", "W", "Pb"} <= set(metals)
    assert not set(metals) & {"C", "N", "O", "H", "Hg", "Fe-fcc"}
    assert len(metals) >= 30


def test_a_column_of_weighings_keeps_every_row():
    index = ["a", "b", "c", "d"]
    mass = pd.Series([31.18, np.nan, 26.9, 31.1], index=index)
    gain = pd.Series([3.64, 3.0, np.nan, 2.975], index=index)
    frame = mixtures(weigh(mass, gain), ["Cu", "Zn"])
    assert list(frame.index) == index
    assert list(frame.reaches) == [True, False, False, False]  # no brass is as dense as silver
    one = row_of(mixtures(weigh(31.18, 3.64), ["Cu", "Zn"]), "Cu", "Zn")
    assert (frame.loc["a", "Zn_low_percent"], frame.loc["a", "Zn_high_percent"]) == pytest.approx(
        share(one, "Zn"), abs=0.5
    )
    assert frame.loc["a", "Zn_percent"] + frame.loc["a", "Cu_percent"] == pytest.approx(100)
    assert frame.loc[["b", "c", "d"], "Zn_percent"].isna().all()
    assert frame.loc["a", "u_reading_g_cm3"] > 0


def test_a_column_needs_two_metals():
    with pytest.raises(InputError, match="two metals"):
        mixtures(weigh(np.array([31.18]), np.array([3.64])), ["Cu", "Zn", "Ni"])


@pytest.mark.parametrize(
    ("metals", "words"),
    [(["Cu", "Xx"], "known are Ag, Au"), (["Cu"], "two different"), (["Cu", "Cu"], "each of them once")],
)
def test_metals_that_cannot_be(metals, words):
    with pytest.raises(InputError, match=words) as e:
        mixtures(8.5, metals)
    assert e.value.path == "metals"


@pytest.mark.parametrize("density", [None, [8.5], {"density": 8.5}])
def test_densities_that_cannot_be(density):
    with pytest.raises(InputError, match="density"):
        mixtures(density, ["Cu", "Zn"])


def test_no_mixture_is_an_empty_frame_with_its_columns():
    frame = mixtures(Measured(8.5, 0.01, "g/cm3"), ["Al", "Mg"])
    assert len(frame) == 0
    assert "metal_1_low_percent" in frame.columns


def constructions_of(**given):
    return constructions(given.pop("density", "8.54 +- 0.02 g/cm3"), **given)


def test_constructions_go_by_misfit_alone():
    frame = constructions_of(claim="silver 999")
    assert set(frame.construction) == {"homogeneous", "plated", "hollow or porous", "cored"}
    bare = frame[frame.construction == "homogeneous"]
    assert set(bare.family) >= {"brass", "nickel silver"}
    assert not set(bare.family) & {"silver", "zinc", "gold", "tungsten"}
    assert (frame.skin[frame.construction == "plated"] != "").all()
    skins = frame.skin[frame.construction == "plated"]
    # what is put under a claim of silver; silver gilt is sold as silver
    assert set(skins) <= {"Ag", "silver 925", "Rh", "Au", "fire gilding", "lacquer"}
    assert "probability" not in frame.columns


def test_constructions_that_reach_the_density_are_all_there():
    frame = constructions_of(claim="silver 999")
    plated, hollow = (frame[frame.construction == c] for c in ("plated", "hollow or porous"))
    zinc = plated[(plated.family == "zinc") & (plated.skin == "Ag")].iloc[0]
    # zinc 7.13, silver 10.5: (8.54 - 7.13) / (10.5 - 7.13) = 42 % of the volume is silver
    silver_share = (8.54 - 7.13) / (10.5 - 7.13)
    thickest = float(solve_share(silver_share))
    assert zinc.skin_low_um < thickest < zinc.skin_high_um
    silver = hollow[hollow.family == "silver"].iloc[0]
    assert silver.void_low_percent < 100 * (1 - 8.54 / 10.49) < silver.void_high_percent
    assert "aluminium" not in set(hollow.family)  # lighter than the piece
    assert "lead" in set(hollow.family)


def test_a_surface_reading_is_looked_up_through_each_skin():
    """A reading of silver fits brass under silver that hides it, and no bare brass."""
    frame = constructions_of(claim="silver 999", surface_composition="Ag 99.4 Cu 0.4 Zn <0.2")
    brass = frame[frame.family.isin(["brass", "leaded brass"])]
    assert "homogeneous" not in set(brass.construction)
    under = brass[(brass.construction == "plated") & (brass.skin == "Ag")]
    # silver on brass prints 99 % from 17 to 20 um (fisx, 28 and 35 keV), 18 % less sure of by one sigma, and 50 % at 6
    assert 6.5 < under.skin_low_um.min() < 20
    assert (under.skin_high_um > 40).any()


def test_slugs_and_faces_are_listed_with_their_share():
    gold = constructions_of(density="19.28 +- 0.05 g/cm3", claim="gold 999")
    slug = gold[(gold.construction == "cored") & (gold.skin == "W")].iloc[0]
    assert slug.part_low_percent < 5
    assert slug.part_high_percent > 90  # tungsten weighs like gold: density never limits its share
    faces = constructions_of(density="8.92 +- 0.02 g/cm3", claim="US-25c-clad")
    assert "copper-nickel" in set(faces.skin[faces.construction == "clad"])


def solve_share(share):
    """Thickness [um] of a skin with this share of the volume, on the shape assumed without dimensions."""
    e = evidence_of(Piece(magnet="none"), Settings(), TABLES, None)
    um = np.geomspace(1, 2000, 4000)
    return np.interp(share, e.form.skin_share(um), um)


@pytest.mark.parametrize("kind", ["homogeneous", "plated", "hollow or porous"])
def test_constructions_of_one_kind(kind):
    every = constructions_of(claim="silver 999")
    only = constructions_of(claim="silver 999", only=[kind])
    assert set(only.construction) == {kind}
    assert len(only) == (every.construction == kind).sum()


def test_further_readings_narrow_the_constructions():
    every, drawn, conducts = (
        constructions_of(claim="silver 999", **more)
        for more in ({}, {"magnet": "strong"}, {"conductivity": "28 %IACS"})
    )
    assert {"steel", "nickel"} & set(drawn.family)
    assert len(conducts) < len(every)
    assert "brass" in set(conducts.family[conducts.construction == "homogeneous"])
    assert "nickel silver" not in set(conducts.family[conducts.construction == "homogeneous"])  # 5 to 9 %IACS


def test_readings_narrow_the_listing_as_their_evidence_does():
    piece = Piece(density=NICKEL_SILVER, conductivity="6 %IACS", magnet="none")
    e = evidence_of(piece, Settings(), TABLES, None)
    plain = mixtures(NICKEL_SILVER, evidence=[Conductivity("6 %IACS"), Magnet("none")], sizes=["pair"])
    assert plain.equals(mixtures(NICKEL_SILVER, evidence=e, sizes=["pair"]))
    assert mixtures(NICKEL_SILVER, ["Cu", "Zn"], evidence=[]).equals(mixtures(NICKEL_SILVER, ["Cu", "Zn"]))


def test_a_column_says_why_a_row_has_no_values():
    frame = mixtures(weigh(np.array([31.18, np.nan, 31.1]), np.array([3.64, 3.0, 2.975])), ["Cu", "Zn"])
    assert list(frame.reason) == ["", "missing", "out_of_reach"]
    assert frame.loc[frame.reason == "missing", "u_model_g_cm3"].isna().all()


def test_both_uncertainties_of_a_share_are_those_of_the_density_over_its_slope():
    """Silver-copper nearly mixes ideally: v = 1/10.50 + c (1/8.935 - 1/10.50), lattice densities."""
    frame = mixtures(weigh(np.array([24.90]), np.array([2.45]), scale_step=0.001), ["Ag", "Cu"])
    slope = (1 / 8.935 - 1 / 10.50) * (100 / 100)
    v = 2.45 / 24.90 / 0.9982  # cm3/g, water at 20 degC
    assert frame.u_model_percent[0] == pytest.approx(100 * frame.u_model_g_cm3[0] * v**2 / slope, rel=0.1)
    assert frame.u_reading_percent[0] == pytest.approx(100 * frame.u_reading_g_cm3[0] * v**2 / slope, rel=0.1)
    assert frame.u_model_percent[0] == pytest.approx(100 * 0.003 * v / slope, rel=0.2)  # 0.3 % of v


UNITS = ("_percent", "_um", "_g_cm3")
NO_UNIT = {
    "system",
    "candidate",
    "kind",
    "metals",
    "metal",
    "construction",
    "family",
    "skin",
    "strike",
    "reaches",
    "reason",
    "probability",
    "bayes_factor_against_next",
    "alike_the_first",
    "nearest_grades",
    "evidence",
    "dof",
}


def columns_told_by(function):
    """Names between back-quotes in a docstring, with X for a metal and n for a number."""
    return set(re.findall(r"`(\w+)`", function.__doc__))


@pytest.mark.parametrize(
    ("function", "frame"),
    [
        (mixtures, lambda: mixtures(NICKEL_SILVER, ["Cu", "Ni", "Zn"])),
        (mixtures, lambda: mixtures(weigh(np.array([31.18]), np.array([3.64])), ["Cu", "Zn"])),
        (constructions, lambda: constructions("8.54 +- 0.02 g/cm3", claim="silver 999")),
        (bounds, lambda: bounds(NICKEL_SILVER, ["Cu", "Ni", "Zn"])),
        (nearest, lambda: nearest("brass", "8.3 g/cm3", ["Cu", "Zn"])),
        (Solution.systems.fget, lambda: solve(Piece(density="8.54 g/cm3"), Settings()).systems),
        (Solution.candidates.fget, lambda: solve(Piece(density="8.54 g/cm3"), Settings()).candidates),
        (Weighings.frame, lambda: weigh(np.array([31.18]), np.array([3.64])).frame()),
    ],
    ids=["mixtures", "column", "constructions", "bounds", "nearest", "systems", "candidates", "weighings"],
)
def test_every_column_of_a_frame_has_its_unit_in_its_name_and_is_told_in_the_docstring(function, frame):
    told = columns_told_by(function)
    for column in frame().columns:
        general = re.sub(r"^(metal)_\d", r"\1_n", re.sub(rf"^({'|'.join(TABLES.metals)})_", "X_", column))
        assert general in told, column
        assert (
            column in NO_UNIT
            or re.fullmatch(r"metal_\d", column)
            or re.search(r"_(g|mm3|cm3_g)$", column)
            or (column.endswith(UNITS))
        ), column
