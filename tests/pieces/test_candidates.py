"""What each construction is made of: volume, mass and layers, worked out by hand for pieces of plain shapes."""

import math
from dataclasses import replace

import numpy as np
import pytest

from alloysolve.pieces.candidates import Candidates, joined_candidates
from alloysolve.pieces.constructions import (
    ASSEMBLED,
    CLAD,
    CONSTRUCTIONS,
    CORED,
    ENRICHED,
    HOLLOW,
    HOMOGENEOUS,
    PLATED,
    Place,
)
from alloysolve.pieces.shape import Form
from tests.bodies_of import ALL, LAYERS, density_of, some

BAR = (50.0, 28.0, 2.6)  # mm
COIN = (24.26, 1.75)  # of a quarter dollar
FORM, DISC = Form("bar", BAR), Form("disc", COIN)
NAMES = ("cartridge brass 70/30", "silver 925", "fine gold", "oxygen-free copper")
BODIES = some(np.array([np.flatnonzero(ALL.grade == ALL.grades.index(name))[0] for name in NAMES]))
BRASS, STERLING, GOLD, COPPER = range(4)
NONE = -1


def candidates(*rows, form=FORM):
    """Rows of (construction, body, material by its name or number, parameter)."""
    construction, point, skin, parameter = zip(*rows, strict=True)
    skin = [LAYERS.number(s) if isinstance(s, str) else s for s in skin]
    return Candidates(
        BODIES, LAYERS, form, np.array(construction), np.array(point), np.array(skin), np.array(parameter)
    )


def box(um):
    """Volumes [mm3] of a bar and of what is left of it under a layer of `um`."""
    t = 2 * um / 1000
    return math.prod(BAR), math.prod(x - t for x in BAR)


def wall_of(core_share):
    """Thickness [um] of the wall of the bar around a core of that share of the volume, by halving."""
    low, high = 0.0, 500 * BAR[2]
    for _ in range(60):
        middle = (low + high) / 2
        whole, core = box(middle)
        low, high = (middle, high) if core / whole > core_share else (low, middle)
    return low


def density(i):
    return 1 / BODIES.v[i]


def test_every_construction_has_a_word_of_its_own():
    numbers = (HOMOGENEOUS, PLATED, HOLLOW, CLAD, CORED, ASSEMBLED, ENRICHED)
    words = ("homogeneous", "plated", "hollow or porous", "clad", "cored", "assembled", "enriched surface")
    assert tuple(CONSTRUCTIONS[n].name for n in numbers) == words
    for names in ({c.name for c in CONSTRUCTIONS}, {c.key for c in CONSTRUCTIONS}):
        assert len(names) == len(CONSTRUCTIONS)


@pytest.mark.parametrize("of", CONSTRUCTIONS, ids=lambda of: of.key)
def test_the_parameter_of_a_construction_is_one_thing(of):
    assert of.by_thickness + of.by_share + (of.place in (Place.NOWHERE, Place.VOID)) == 1
    assert sum(share for _, share in of.typical) in (0, pytest.approx(1.0))
    assert not of.applied or of.by_thickness  # only a layer has a strike under it


def test_a_bare_body_is_all_body():
    p = Candidates.bare(BODIES, LAYERS, FORM)
    assert p.v == pytest.approx(BODIES.v)
    assert (p.part == 0).all()
    assert (p.mass_part == 0).all()
    assert (p.depth_um == 0).all()
    assert p.thickness_um == pytest.approx(np.tile([0.0, 0.0, 2600.0], (len(p), 1)))
    assert p.beside(np.arange(4.0), np.full(len(LAYERS.v), 99.0)) == pytest.approx(np.arange(4.0)[p.point])
    assert list(Candidates.bare(BODIES, LAYERS, FORM, np.array([2, 0])).point) == [2, 0]


@pytest.mark.parametrize("um", [0.5, 10.0, 200.0])
def test_a_plated_bar_by_hand(um):
    p = candidates((PLATED, BRASS, "Ag", um))
    whole, core = box(um)
    skin_g, core_g = (whole - core) / 1000 * density_of("Ag"), core / 1000 * density(BRASS)
    assert p.part == pytest.approx([(whole - core) / whole], rel=1e-9)
    assert p.v == pytest.approx([whole / 1000 / (skin_g + core_g)], rel=1e-9)
    assert p.mass_part == pytest.approx([skin_g / (skin_g + core_g)], rel=1e-9)
    assert p.thickness_um.tolist() == [pytest.approx([um, 0.0, 2600 - um])]
    assert p.through_um.tolist() == [pytest.approx([um, 0.0, 2600 - 2 * um, 0.0, um])]


def test_an_enriched_surface_is_a_layer_all_over():
    p = candidates((ENRICHED, STERLING, "Ag", 25.0))
    whole, core = box(25.0)
    grams = (whole - core) * density_of("Ag") + core * density(STERLING)
    assert p.v == pytest.approx([whole / grams], rel=1e-9)
    assert p.thickness_um.tolist() == [pytest.approx([25.0, 0.0, 2575.0])]
    assert p.depth_um == pytest.approx([25.0])


@pytest.mark.parametrize("void", [0.01, 0.4])
def test_a_hollow_piece_is_lighter_by_its_empty_space(void):
    p = candidates((HOLLOW, GOLD, NONE, void))
    assert 1 / p.v[0] == pytest.approx((1 - void) * density(GOLD), rel=1e-12)
    assert p.mass_part.tolist() == [0.0]  # nothing weighs nothing
    assert p.thickness_um.tolist() == [pytest.approx([0.0, 0.0, 2600.0])]
    of_body = np.arange(10.0, 14.0)
    assert p.beside(of_body, np.full(len(LAYERS.v), 99.0)) == pytest.approx([of_body[GOLD]])  # of the metal in it


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_cored_bar_has_a_wall_of_its_shell(share):
    p = candidates((CORED, GOLD, "W", share))
    slug, shell = share * density_of("W"), (1 - share) * density(GOLD)
    assert p.v == pytest.approx([1 / (slug + shell)], rel=1e-9)
    assert p.mass_part == pytest.approx([slug / (slug + shell)], rel=1e-9)
    wall = wall_of(share)
    assert p.depth_um == pytest.approx([wall], rel=2e-3)  # read from a table of thicknesses 3 % apart
    assert p.thickness_um.tolist() == [pytest.approx([wall, 0.0, 2600 - wall], rel=2e-3)]
    whole, core = box(wall)
    assert core / whole == pytest.approx(share)


@pytest.mark.parametrize("share", [1 / 3, 0.5])
def test_a_clad_coin_has_two_faces(share):
    p = candidates((CLAD, COPPER, "copper-nickel", share), form=DISC)
    faces, core = share / LAYERS.v[LAYERS.number("copper-nickel")], (1 - share) * density(COPPER)
    assert p.v == pytest.approx([1 / (faces + core)], rel=1e-12)
    assert p.mass_part == pytest.approx([faces / (faces + core)], rel=1e-12)
    each = share * 1750 / 2  # um: half of it on each side
    assert p.thickness_um.tolist() == [pytest.approx([each, 0.0, 1750 - each])]
    assert p.through_um.tolist() == [pytest.approx([each, 0.0, 1750 - 2 * each, 0.0, each])]


def test_a_joined_part_adds_its_mass_and_covers_nothing():
    p = candidates((ASSEMBLED, STERLING, "Fe", 0.05))
    part, rest = 0.05 * density_of("Fe"), 0.95 * density(STERLING)
    assert p.v == pytest.approx([1 / (part + rest)], rel=1e-9)
    assert p.mass_part == pytest.approx([part / (part + rest)], rel=1e-9)
    assert p.thickness_um.tolist() == [pytest.approx([0.0, 0.0, 2600.0])]


def test_a_strike_lies_between_skin_and_body():
    strike = LAYERS.number("Au/Ni")
    um = LAYERS.strike_um[strike]
    p = candidates((PLATED, BRASS, "Au/Ni", 0.5), (PLATED, BRASS, "Au", 0.5))
    assert p.thickness_um[0] == pytest.approx([0.5, um, 2600 - 0.5 - um])
    assert p.through_um[0] == pytest.approx([0.5, um, 2600 - 2 * (0.5 + um), um, 0.5])
    assert p.through_um.sum(axis=1) == pytest.approx([2600, 2600])
    assert p.v[0] == p.v[1]  # too thin to be weighed


def layer_names(p, row):
    """What each layer is made of, by marking bodies 0, 1, ... and materials 100, 101, ..."""
    marks = p.stack(np.arange(4.0), 100.0 + np.arange(len(LAYERS.v)))[row]
    return [LAYERS.names[int(m) - 100] if m >= 100 else int(m) for m in marks]


def test_each_layer_is_made_of_the_right_thing():
    p = candidates(
        (HOMOGENEOUS, BRASS, NONE, 0.0),
        (PLATED, BRASS, "Ag", 5.0),
        (PLATED, BRASS, "Au/Ni", 1.0),
        (ENRICHED, STERLING, "Ag", 10.0),
        (CLAD, COPPER, "copper-nickel", 1 / 3),
        (CORED, GOLD, "W", 0.5),
        (ASSEMBLED, STERLING, "Fe", 0.05),
        (HOLLOW, GOLD, NONE, 0.1),
    )
    um = p.thickness_um
    expected = [
        [BRASS],
        ["Ag", BRASS],
        ["Au", "Ni", BRASS],
        ["Ag", STERLING],
        ["copper-nickel", COPPER],
        [GOLD, "W"],
        [STERLING],
        [GOLD],
    ]
    for row, layers in enumerate(expected):
        there = [
            n.partition("/")[0] if isinstance(n, str) else n
            for n, t in zip(layer_names(p, row), um[row], strict=True)
            if t > 0
        ]
        assert there == layers, CONSTRUCTIONS[p.construction[row]]
    both = p.through(np.arange(4.0), 100.0 + np.arange(len(LAYERS.v)))
    assert np.array_equal(both, both[:, ::-1])  # the same from either face


def test_body_and_skin_conduct_side_by_side_by_volume():
    p = candidates((PLATED, BRASS, "Ag", 100.0), (CORED, GOLD, "W", 0.3), (ASSEMBLED, STERLING, "Fe", 0.05))
    body, other = np.full(4, 20.0), np.full(len(LAYERS.v), 60.0)
    whole, core = box(100.0)
    skin = (whole - core) / whole
    assert p.beside(body, other) == pytest.approx([20 + 40 * skin, 20 + 40 * 0.3, 20 + 40 * 0.05], rel=1e-9)


def test_no_layer_is_thicker_than_the_piece():
    thick = candidates((PLATED, BRASS, "Ag", 1250.0), (CLAD, COPPER, "copper-nickel", 0.99), (CORED, GOLD, "W", 0.02))
    assert (thick.thickness_um >= 0).all()
    assert (thick.through_um >= 0).all()
    assert (thick.thickness_um[:, 2] >= 1).all()


def test_some_and_joined_keep_their_rows():
    p = candidates((HOMOGENEOUS, BRASS, NONE, 0.0), (PLATED, BRASS, "Ag", 5.0), (CORED, GOLD, "W", 0.5))
    assert p.some(np.array([2, 1])).v == pytest.approx(p.v[[2, 1]])
    assert len(p.some(p.of(CORED))) == 1
    both = joined_candidates([p, p.some(np.array([1]))])
    assert both.v == pytest.approx([*p.v, p.v[1]])
    assert replace(both, form=DISC).form is DISC
