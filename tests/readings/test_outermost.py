"""Colour, streak and acid: classes of what lies outermost, and nothing of what lies below."""

from __future__ import annotations

import numpy as np
import pytest

from alloysolve.advice.trials import trials
from alloysolve.answer.solution import Solution, solve
from alloysolve.errors import InputError
from alloysolve.inference.observe import circumstances_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral import solver as core
from alloysolve.pieces.candidates import Candidates
from alloysolve.pieces.constructions import CLAD, CORED, ENRICHED, HOMOGENEOUS, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.published.load import Tables
from alloysolve.readings.outermost import OTHERS, WORDS, ObservedSkin, SkinAnswer, classes_of
from alloysolve.readings.registry import KINDS, read_reading
from alloysolve.words.terminal import answer
from tests.bodies_of import LAYERS, TABLES, published
from tests.rows import every

BAR = Form("bar", (50.0, 28.0, 3.0))
ABOUT = circumstances_of(Piece(), Settings(), TABLES, BAR)
ROWS = TABLES.rows("surface_classes")
EVERY = [(kind, word) for kind, words in WORDS.items() for word in words]


def read(kind: str, word: str) -> ObservedSkin:
    return SkinAnswer(kind, word).observed(kind, ABOUT)


def piece(grade: str, construction: int = HOMOGENEOUS, skin: str = "", parameter: float = 0.0) -> Candidates:
    number = np.array([LAYERS.number(skin) if skin else -1])
    return Candidates(
        published(grade), LAYERS, BAR, np.array([construction]), np.array([0]), number, np.array([parameter])
    )


def usual(kind: str, *of) -> str:
    """The answer that is likeliest on a piece."""
    return WORDS[kind][int(read(kind, WORDS[kind][0]).expected(piece(*of))[0])]


@every(
    "grade, colour",  # colours as trade and standards name them
    [
        ("fine silver", "white"),
        ("silver 925", "white"),
        ("fine gold", "yellow"),
        ("gold 750 yellow", "yellow"),
        ("gold 375 yellow", "yellow"),
        ("gold 18 ct red", "red"),
        ("gold 375 red", "red"),
        ("gold 585 white palladium", "white"),
        ("fine platinum", "white"),
        ("fine palladium", "white"),
        ("rhodium metal", "white"),
        ("nickel 99", "white"),
        ("electrolytic tough pitch copper", "red"),
        ("cartridge brass 70/30", "yellow"),
        ("aluminium coin bronze CuAl5Zn5Sn1", "yellow"),  # a gold-coloured coin alloy
        ("cupronickel 75/25", "white"),
        ("nickel silver 65-18", "white"),
        ("lead 99.9", "grey"),
        ("tungsten metal", "grey"),
        ("carbon steel 0.1 %", "grey"),
    ],
)
def test_metals_have_their_colour_and_streak(grade: str, colour: str) -> None:
    assert usual("colour", grade) == colour
    assert usual("streak", grade) == colour


@pytest.mark.parametrize(
    ("grade", "acid"),  # common practice with touchstone and acid
    [
        ("fine gold", "as gold"),
        ("gold 750 yellow", "as gold"),
        ("silver 925", "as silver"),
        ("fine silver", "as silver"),
        ("cartridge brass 70/30", "as neither"),
        ("nickel silver 65-18", "as neither"),
        ("electrolytic tough pitch copper", "as neither"),
        ("tungsten metal", "as neither"),
    ],
)
def test_acid_tells_gold_silver_and_base_metal_apart(grade: str, acid: str) -> None:
    assert usual("acid", grade) == acid


@every("claim", TABLES.rows("claims"), called=lambda c: c.claim)
def test_every_claim_has_the_colour_of_its_name(claim) -> None:
    """At the middle of its limits; red golds of 21 ct and more hold so little copper that most people say yellow."""
    middle = {s: (low + high) / 2 for s, (low, high) in claim.limits.items() if "+" not in s}
    law = LAYERS.law
    surface = ROWS[int(classes_of(ROWS, law, law.fractions([middle]))[0])]
    said = claim.colour.split()[0] if claim.colour else "yellow" if claim.metal == "Au" else "white"
    expected = {"green": "yellow"}.get(said, said)
    if said == "red" and claim.limits["Au"][0] > 85:
        expected = "yellow"
    assert max(surface.colour, key=lambda word: surface.colour[word]) == expected


@pytest.mark.parametrize(("kind", "word"), EVERY)
def test_a_silver_plated_brass_bar_and_a_silver_bar_answer_alike(kind: str, word: str) -> None:
    observed = read(kind, word)
    silver = observed.pdf(piece("fine silver"))
    for of in (
        ("cartridge brass 70/30", PLATED, "Ag", 5.0),
        ("cartridge brass 70/30", PLATED, "Ag/Ni 12", 5.0),
        ("silver 500", ENRICHED, "Ag", 8.0),
        ("fine silver", CORED, "Pb", 0.5),
    ):
        assert observed.pdf(piece(*of)) == silver, of
        assert observed.score(piece(*of)) == observed.score(piece("fine silver")), of
        assert observed.between(piece(*of), piece("fine silver")) == observed.between(
            piece("fine silver"), piece("fine silver")
        )


def test_the_skin_answers_and_not_the_body() -> None:
    assert usual("colour", "tungsten metal", PLATED, "Au", 3.0) == "yellow"
    assert usual("colour", "cartridge brass 70/30", PLATED, "Ni", 3.0) == "white"
    assert usual("colour", "electrolytic tough pitch copper", CLAD, "copper-nickel", 1 / 3) == "white"
    assert usual("colour", "fine gold", CORED, "W", 0.5) == "yellow"


def odds_of_plated_over_bare(s: Solution) -> float:
    """Belief in nickel silver under silver, over that in bare silver alloys."""
    rows, bodies = s.posterior.rows, s.posterior.bodies
    group = LAYERS.group[rows.skin]
    of_silver = np.array([LAYERS.skin_name(int(k)) == "Ag" for k in group])
    core = bodies.family[rows.point] == bodies.names.index("nickel silver")
    plated = core & of_silver & (rows.construction == PLATED)
    bare = (bodies.w[rows.point, bodies.law.index["Ag"]] > 0.5) & (rows.construction == HOMOGENEOUS)
    return float(s.posterior.share[plated].sum() / s.posterior.share[bare].sum())


def test_odds_between_a_body_and_one_under_a_skin_of_its_class_do_not_move(monkeypatch: pytest.MonkeyPatch) -> None:
    """At 9.6 g/cm3, where a thick skin on nickel silver and a debased silver both fit."""
    monkeypatch.setattr(core, "HINTED", 0.0)
    monkeypatch.setattr(core, "FEW", 0.0)  # otherwise few candidates stand for many, others in each answer
    monkeypatch.setattr(core, "CROWD", 10**9)
    given = {"claim": "silver 999", "density": "9.6 g/cm3", "colour": "white"}
    alike = [{"kind": "streak", "value": "white"}, {"kind": "acid", "value": "as silver"}]
    once, more = (solve(Piece(**given, reading=r), Settings()) for r in ([], alike))
    assert odds_of_plated_over_bare(once) > 0.01
    assert odds_of_plated_over_bare(more) == pytest.approx(odds_of_plated_over_bare(once), rel=1e-3)


def test_it_sees_about_a_micrometre_and_never_overrules() -> None:
    for kind, word in EVERY:
        observed = read(kind, word)
        assert observed.sees(piece("fine silver"))[0] == 1.0
        assert observed.surface


def test_answers_of_one_kind_count_as_one() -> None:
    """Old acid misleads at every spot: two drops are no more than one, a drop and a streak are two readings."""
    given = {"claim": "18k yellow", "mass": "4.1 g", "displaced": "0.27 g"}
    drops = [{"kind": "acid", "value": "as neither", "place": place} for place in ("rim", "back")]
    streak = {"kind": "streak", "value": "none"}
    one, two, both = (solve(Piece(**given, reading=r), Settings()) for r in (drops[:1], drops, [*drops, streak]))
    assert one.decision.code == two.decision.code == "undecided"
    assert two.decision.p == pytest.approx(one.decision.p)
    assert both.decision.code == "contradicted"
    shares = [s.share_as_claimed for s in (one, two)]
    assert shares[1] == pytest.approx(shares[0], abs=1e-9)


def test_shares_of_answers_add_up_and_none_is_impossible() -> None:
    for row in ROWS:
        for kind, words in WORDS.items():
            shares = getattr(row, kind)
            assert set(shares) == set(words), (row.surface, kind)
            assert sum(shares.values()) == pytest.approx(100), (row.surface, kind)
            assert min(shares.values()) >= 0.2, (row.surface, kind)  # a wrong bottle, a slip of the pen (judgement)
    for kind, words in WORDS.items():
        assert len(OTHERS[kind]) == len(words)
        assert sum(OTHERS[kind]) == pytest.approx(1)


def test_limits_are_of_metals_and_one_class_stands_for_all_else() -> None:
    named = {m for row in ROWS for metals in row.holds for m in metals.split("+")}
    assert named <= set(TABLES.metals)
    assert [row.surface for row in ROWS if not row.holds] == [ROWS[-1].surface]


def test_a_shop_may_add_a_class(tmp_path) -> None:
    """It goes before the one for all else, though it stands behind it."""
    file = tmp_path / "surface_classes.csv"
    shares = [
        "yellow:1;red:1;white:1;grey:97",
        "yellow:1;red:1;white:1;grey:96;none:1",
        "as gold:1;as silver:1;as neither:97;not clear:1",
    ]
    file.write_text(
        "surface,holds,copper_over,colour,streak,acid,source,caveat\n"
        f"soft white metal,Sn:50-100,,{','.join(shares)},judgement-surface,\n"
    )
    rows = Tables([file]).rows("surface_classes")
    law = LAYERS.law
    found = classes_of(rows, law, law.fractions([{"Sn": 98, "Cu": 2}, {"W": 100}]))
    assert [rows[k].surface for k in found] == ["soft white metal", "grey metal"]


def test_acid_brings_its_caution_and_is_never_proposed() -> None:
    given = {"claim": "silver 999", "density": "10.4 g/cm3"}
    without, with_acid = (solve(Piece(**given, **more), Settings()) for more in ({}, {"acid": "as silver"}))
    assert "acid" not in without.advice.cautions
    assert "acid" in with_acid.advice.cautions
    assert "Acids burn: wear gloves and glasses" in " ".join(answer(with_acid.document).split())
    assert "Acids burn" not in answer(without.document)
    assert not set(trials(without)) & {"acid", "streak", "colour"}
    assert not {r["kind"] for r in without.next_readings} & {"acid", "streak"}


def test_a_surface_that_differs_from_its_body_is_looked_for() -> None:
    """Billon pickled white answers as silver."""
    given = {"density": "9.6 g/cm3", "claim": "silver 925"}
    s = solve(Piece(**given, acid="as silver"), Settings())
    assert s.posterior.share[s.posterior.rows.construction == ENRICHED].sum() > 0


def test_a_red_surface_is_not_silver() -> None:
    """Without density: a red streak is copper, a white one may well be silver."""
    white, red = (
        solve(Piece(claim="silver 925", colour=c, streak=c, acid=a), Settings())
        for c, a in (("white", "as silver"), ("red", "as neither"))
    )
    assert white.share_meeting_claim > 0.3
    assert red.share_meeting_claim < 0.01
    assert red.decision.p < 0.05  # speaks against
    assert white.decision.p > 0.05
    assert white.decision.code == "undecided"  # the same under any skin of silver


@pytest.mark.parametrize(
    "table",
    [
        {"kind": "streak", "value": "white"},
        {"kind": "acid", "value": "as gold", "place": "rim"},
        {"kind": "colour", "value": "red"},
    ],
)
def test_a_table_gives_the_same_reading_again(table: dict) -> None:
    reading = read_reading(table, "reading[0]")
    assert reading.to_dict() == table
    held = Piece(reading=[reading])
    assert Piece.from_dict(held.to_dict()) == held


@pytest.mark.parametrize(
    ("table", "message"),
    [
        (
            {"kind": "streak", "value": "blue"},
            'reading[0].value: \'blue\': expected one of "yellow", "red", "white", "grey", "none", or "matches 14 ct '
            'needle", "paler than 14 ct needle", "deeper than 14 ct needle"; use one of these words',
        ),
        (
            {"kind": "acid", "value": "as glod"},
            'reading[0].value: \'as glod\': expected one of "as gold", "as silver", "as neither", "not clear", or '
            '"14 ct acid: stayed", "14 ct acid: faded", "14 ct acid: gone"; the nearest is "as gold"',
        ),
        (
            {"kind": "colour", "value": 3},
            'reading[0].value: \'3\': expected one of "yellow", "red", "white", "grey"; use one of these words',
        ),
        (
            {"kind": "colour"},
            "reading[0].value: '': expected colour of the clean surface: yellow, red, white, grey; give the value that "
            "was read",
        ),
        (
            {"kind": "streak", "value": "white", "plase": "rim"},
            "reading[0].plase: 'plase': expected a known key of this reading; the nearest known is \"place\"",
        ),
    ],
)
def test_bad_readings_name_place_value_and_next_step(table: dict, message: str) -> None:
    with pytest.raises(InputError) as error:
        read_reading(table, "reading[0]")
    assert str(error.value) == message


def test_every_kind_is_in_the_registry() -> None:
    for kind in WORDS:
        assert KINDS[kind].trial is None
        assert all(word in KINDS[kind].help for word in WORDS[kind])
