"""Moduli of bodies, materials and whole pieces: published ones first, layers as laminated plates."""

from __future__ import annotations

import numpy as np
import pytest

from alloysolve.alloys import elastic as elasticity
from alloysolve.alloys.claimed_regions import Region, region_bodies
from alloysolve.alloys.elastic import elasticity_of_bodies, elasticity_of_layers
from alloysolve.inference.claimed import claim_bodies
from alloysolve.inputs.claim import parse_claim
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import CLAD, CORED, HOLLOW, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.pieces.stiffness import elasticity_of_pieces
from tests.bodies_of import ALL, LAYERS, TABLES, published, some

FORM = Form("disc", (38.6, 2.5), True, 31.1)
ELASTIC = {(r.of, r.name): r for r in TABLES.rows("elastic")}


def pieces_of(body, construction, skin, parameter, form=FORM):
    n = len(body.v)
    return Candidates(
        body,
        LAYERS,
        form,
        np.full(n, construction),
        np.arange(n),
        np.full(n, LAYERS.number(skin)),
        np.full(n, parameter),
    )


def at(e, k=0):
    return float(e.modulus[k])


def test_a_published_grade_comes_before_its_family() -> None:
    of_all = elasticity_of_bodies(TABLES, ALL)
    for name in ("free-cutting brass", "cupronickel 70/30", "silver 720 eutectic"):  # each unlike its family
        row, point = ELASTIC["grade", name], ALL.grade == ALL.grades.index(name)
        assert of_all.modulus[point] == pytest.approx(row.youngs_modulus_gpa)
        assert of_all.u[point] == pytest.approx(row.u_youngs_modulus_gpa / row.youngs_modulus_gpa)
    plain = (ALL.family == ALL.names.index("leaded brass")) & (ALL.grade < 0)
    assert of_all.modulus[plain] == pytest.approx(ELASTIC["family", "leaded brass"].youngs_modulus_gpa)


def test_a_grade_without_a_ratio_of_poisson_has_that_of_its_family() -> None:
    point = ALL.grade == ALL.grades.index("zirconium copper")
    family = ALL.names[int(ALL.family[point][0])]
    assert elasticity_of_bodies(TABLES, ALL).poisson[point] == pytest.approx(ELASTIC["family", family].poisson)


# Sterling 75 to 83 GPa, fine silver 71 to 83, 18 ct 80 to 110, platinum 950 150 to 220: ranges of data sheets, from
# memory; a claim's region is no family of the table and is found by its metals.
@pytest.mark.parametrize(
    ("claim", "low", "high"),
    [("silver 925", 75, 83), ("silver 999", 71, 83), ("18 ct yellow", 80, 110), ("brass", 97, 117)],
)
def test_regions_of_claims_have_the_moduli_of_their_metals(claim, low, high) -> None:
    bodies = claim_bodies(TABLES, parse_claim(claim, TABLES))
    found = elasticity_of_bodies(TABLES, bodies)
    assert len(found.modulus) == len(bodies.v)
    assert found.modulus.min() >= low
    assert found.modulus.max() <= high


@pytest.mark.parametrize(
    ("metal", "family"),
    [("Cu", "copper"), ("Ag", "silver"), ("Au", "gold"), ("Pb", "lead"), ("Sn", "tin"), ("Zn", "zinc")],
)
def test_a_pure_metal_is_its_own_family_and_not_that_of_its_alloys(metal, family) -> None:
    """Copper of 99.9 % also lies in the region of the high-copper alloys, which is wider."""
    found = elasticity_of_layers(TABLES)
    assert at(found, LAYERS.number(metal)) == ELASTIC["family", family].youngs_modulus_gpa


def test_austenite_is_found_by_its_iron_in_either_form() -> None:
    limits = TABLES.families["austenitic stainless steel"].limits
    for iron in ("fcc", ""):
        found = elasticity_of_bodies(
            TABLES, region_bodies(TABLES, [Region("another name", limits, 1.0, iron=iron)], 20)
        )
        row = ELASTIC["family", "austenitic stainless steel"]
        assert np.mean(found.modulus == row.youngs_modulus_gpa) > 0.9  # corners lie in other families too


def test_arbitrary_pairs_in_the_region_of_a_family_are_that_family() -> None:
    law, found = ALL.law, elasticity_of_bodies(TABLES, ALL)
    pair = (ALL.family == ALL.names.index("pair")) & (np.abs(ALL.w[:, law.index["Cu"]] - 0.725) < 0.001)
    zinc = pair & (ALL.w[:, law.index["Zn"]] > 0.2)
    assert zinc.sum() == 1
    assert found.modulus[zinc] == pytest.approx(ELASTIC["family", "brass"].youngs_modulus_gpa)


def test_mixed_moduli_are_right_on_average_and_within_what_they_say() -> None:
    """Against every published grade of at least two metals, none of which mixing is told."""
    rows = [r for r in TABLES.rows("elastic") if r.of == "grade" and len(TABLES.grades[r.name].composition) > 1]
    w = ALL.law.fractions([TABLES.grades[r.name].composition for r in rows])
    found = elasticity._mixed(TABLES, ALL.law, w)
    away = np.log(found.modulus / np.array([r.youngs_modulus_gpa for r in rows]))
    assert abs(away.mean()) < 0.03  # 60 grades that scatter by 0.08 leave 0.01
    assert np.mean(np.abs(away) < found.u) > 0.8  # 68 % and more: industrial alloys are milder than any pair
    assert np.mean(np.abs(away) < 0.5 * found.u) < 0.7  # and it does not say far too much


def test_nothing_is_missing_or_absurd() -> None:
    for found in (elasticity_of_bodies(TABLES, ALL), elasticity_of_layers(TABLES)):
        assert ((found.modulus > 4) & (found.modulus < 600)).all()
        assert ((found.poisson > 0) & (found.poisson < 0.5)).all()
        assert ((found.u > 0.01) & (found.u < 0.6)).all()


def test_the_same_bodies_are_not_looked_up_twice_and_others_are() -> None:
    one, other = published("cartridge brass 70/30"), published("silver 900")
    assert elasticity_of_bodies(TABLES, one) is elasticity_of_bodies(TABLES, one)
    assert at(elasticity_of_bodies(TABLES, one)) != at(elasticity_of_bodies(TABLES, other))


def test_a_plain_skin_of_ten_micrometres_hardly_changes_the_stiffness() -> None:
    body = published("cartridge brass 70/30")
    plated = elasticity_of_pieces(TABLES, pieces_of(body, PLATED, "Ag", 10.0), np.array([2500.0]))
    assert at(plated) == pytest.approx(at(elasticity_of_bodies(TABLES, body)), rel=0.01)


# Laminated plate, faces of a share s: E = core + (faces - core) (1 - (1 - s)^3), with one Poisson's ratio.
@pytest.mark.parametrize("share", [0.1, 1 / 3, 0.6])
def test_clad_faces_count_by_the_cube_of_their_depth(share) -> None:
    core = some(np.flatnonzero((ALL.family == ALL.names.index("copper")) & (ALL.grade < 0))[:1])
    found = elasticity_of_pieces(TABLES, pieces_of(core, CLAD, "copper-nickel", share), np.array([1700.0]))
    face = at(elasticity_of_layers(TABLES), LAYERS.number("copper-nickel"))
    inner = at(elasticity_of_bodies(TABLES, core))
    assert at(found) == pytest.approx(inner + (face - inner) * (1 - (1 - share) ** 3), rel=2e-3)


def test_a_slug_counts_little_where_the_wall_is_thick_and_much_where_it_is_thin() -> None:
    gold = published("coin gold 900")
    found = [elasticity_of_pieces(TABLES, pieces_of(gold, CORED, "W", part), np.array([2500.0])) for part in (0.2, 0.9)]
    wolfram = at(elasticity_of_layers(TABLES), LAYERS.number("W"))
    assert at(elasticity_of_bodies(TABLES, gold)) < at(found[0]) < at(found[1]) < wolfram
    assert at(found[0]) < 1.5 * at(elasticity_of_bodies(TABLES, gold))
    assert found[0].u[0] > elasticity_of_bodies(TABLES, gold).u[0]  # how it is held is not known


def test_empty_space_makes_softer_and_much_less_sure() -> None:
    body = published("cartridge brass 70/30")
    hollow = Candidates(body, LAYERS, FORM, np.full(1, HOLLOW), np.zeros(1, dtype=int), np.full(1, -1), np.full(1, 0.3))
    found, solid = elasticity_of_pieces(TABLES, hollow, np.array([2500.0])), elasticity_of_bodies(TABLES, body)
    # between (1 - p)^2 (foam) and nearly all of it (shell)
    assert 0.49 * at(solid) < at(found) < at(solid)
    assert at(found) * np.exp(1.8 * found.u[0]) > at(solid) > at(found) > at(solid) * 0.49
    assert found.u[0] > 2 * solid.u[0]
