"""Rows looked up in tables: their weighings, kernels and answers against pieces solved one by one."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import gammaln

from alloysolve.answer.solution import Solution, solve
from alloysolve.batch import looked_up, run
from alloysolve.batch.files import Row
from alloysolve.batch.kernels import Weighed, ratio_kernel
from alloysolve.batch.run import answer_rows
from alloysolve.batch.table import RHO_AXIS
from alloysolve.errors import InputError
from alloysolve.inference.commonness import DEFAULT
from alloysolve.inference.weigh_piece import densities_of, density_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import default_tables
from alloysolve.words.amounts import amount_sentences
from alloysolve.words.batch import likely_words
from alloysolve.words.language import language
from tests.independent import batch_agreement

SHOP = Settings()
TRAY: list[dict[str, Any]] = [
    {"name": "1", "claim": "silver 999", "mass": "31.12 g", "displaced": "2.97 g", "magnet": "none"},
    {"name": "2", "claim": "silver 999", "mass": "31.20 g", "displaced": "3.64 g", "conductivity": "28.9 %IACS"},
    {"name": "3", "claim": "silver 925", "mass": "thirty", "displaced": "2.08 g"},
    {"name": "4", "claim": "gold 999", "mass": "31.1", "displaced": "31.2"},
    {"name": "5", "density": "8.5 +- 0.05 g/cm3", "resistivity": "6.4 uohm cm", "resistivity.u": "0.2"},
    {"name": "6", "claim": "copper 3", "density": "8.5"},
    {"name": "7", "claim": "silver plated", "mass": 62.15, "displaced": 7.31},
    {"name": "8", "claim": "silver 999", "mass": "31.1 g", "bar": "50 x 28 x 2.6 mm", "magnet": "none"},
    {"name": "9"},
]


def answered(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return answer_rows([Row(n, row, {}) for n, row in enumerate(rows, 1)], SHOP, "default")


def covered(rows: list[dict[str, Any]]) -> set[int]:
    """The lines of the rows that the tables answer."""
    pieces = {n: Piece.from_dict(row) for n, row in enumerate(rows, 1)}
    return set(looked_up.looked_up_answers(pieces, SHOP, default_tables(), DEFAULT))


@pytest.fixture(scope="module")
def tray() -> list[dict[str, Any]]:
    return answered(TRAY)


def test_a_bad_row_is_reported_and_the_rest_goes_on(tray: list[dict[str, Any]]) -> None:
    assert [str(a["error"]).split(":")[0] for a in tray if a["error"]] == ["mass", "displaced", "claim", "piece"]
    assert [a["line"] for a in tray if a["error"]] == [3, 4, 6, 9]
    assert "thirty" in tray[2]["error"]
    assert not tray[2]["systems"]


def test_only_what_the_tables_cover_is_looked_up() -> None:
    """Not a meter, which looks to a depth, not plated claims, and not a size."""
    rows = [row for row in TRAY if row["name"] in "12578"]
    assert covered(rows) == {1, 3}


@pytest.mark.parametrize("copies", [1, 2])
def test_a_long_list_has_the_answers_of_a_short_one(tray: list[dict[str, Any]], copies: int) -> None:
    answers = answered([*TRAY[:1], *TRAY[4:5] * 150 * copies, *TRAY[1:2]])
    for found, alone in ((answers[0], tray[0]), (answers[-2], tray[4]), (answers[-1], tray[1])):
        assert found | {"line": 0} == alone | {"line": 0}


def test_an_answer_does_not_depend_on_its_neighbours(tray: list[dict[str, Any]]) -> None:
    assert [answer_rows([Row(n, row, {})], SHOP, "default")[0] for n, row in enumerate(TRAY, 1)] == tray


def test_weighings_of_a_column_are_those_of_single_pieces() -> None:
    rng = np.random.default_rng(3)
    given = [
        {"mass": f"{m:.2f} g", "displaced": f"{m / 9 + rng.normal() * 0.02:.2f} g"} for m in rng.uniform(2, 90, 20)
    ]
    given += [
        {"mass": "20 g", "in_water": "18 g", "water": "25 degC"},
        {"mass": "20 g", "displaced": "2.1 g 2.2 g"},
        {"mass": "40 g", "displaced": "4.2 g", "count": 2},
    ]
    pieces = [Piece.from_dict(row) for row in given]
    for piece, found in zip(pieces, densities_of(pieces, SHOP, default_tables()), strict=True):
        w = density_of(piece, SHOP, default_tables())
        assert w is not None
        assert not isinstance(found, InputError)
        assert found is not None
        expected, actual = (
            [x.v, x.u_v, x.bubble_v, x.density.low, x.density.high, x.body_g, x.displaced_mm3] for x in (w, found)
        )
        assert actual == pytest.approx(expected, rel=1e-12)


def student(t: float, scale: float) -> float:
    """Density of Student's t with 4 degrees of freedom, of that scale."""
    z = t / scale
    return float(np.exp(gammaln(2.5) - gammaln(2.0)) / np.sqrt(4 * np.pi) / scale * (1 + z * z / 4) ** -2.5)


def test_kernel_of_a_conductivity_is_near_a_convolution() -> None:
    """By adaptive quadrature of Student's t and a normal; the widths are those of the error model of the likelihood."""
    from alloysolve.readings.error_model import scale_mixture

    scales, weights = scale_mixture()
    # the mixture of normals stands for t: its own scale is that of its centre
    own = float(weights @ (1 / scales)) / float(np.sqrt(2 * np.pi) * student(0.0, 1.0))
    read, band, level = np.log(6.4), 1, 4
    kernel, model = ratio_kernel(read, 0.02), RHO_AXIS.levels[band][level]
    first = RHO_AXIS.per_block * kernel.first[band]
    for node in range(first + 3, RHO_AXIS.per_block * kernel.last[band], 15):
        r = read - (RHO_AXIS.begin + node * RHO_AXIS.step[band])
        if abs(r) > 3 * model:
            continue

        def product(t: float, r: float = r) -> float:
            error = np.exp(-0.5 * ((r - t) / 0.02) ** 2) / 0.02 / np.sqrt(2 * np.pi)
            return float(student(t, model / own) * error)

        exact = quad(product, -1, 1, points=[0.0, r])[0]
        found = kernel.density[kernel.begin[band] + node * len(RHO_AXIS.levels[band]) + level]
        assert found == pytest.approx(exact, rel=0.05)


@pytest.mark.parametrize(("u", "bubble"), [(0.0015, 0.003), (0.01, 0.0), (0.0003, 0.004), (0.02, 0.01)])
def test_scores_of_weighings_are_those_of_the_error_model(u: float, bubble: float) -> None:
    from alloysolve.readings.error_model import mixture_score

    v = 0.1
    for model in (0.001, 0.004, 0.03):
        r = v * np.linspace(-4, 4, 41) * np.hypot(np.hypot(u, model), bubble)
        expected = mixture_score(r, u * v, np.asarray(model * v), bubble * v)
        reading = Weighed(v, u * v, bubble * v)
        assert reading.score(v - r, model * v / (v - r)) == pytest.approx(expected, abs=0.02)
        assert reading.score_away(r, model * v) == pytest.approx(expected, abs=0.02)


@pytest.fixture(scope="module", params=[12, pytest.param(70, marks=pytest.mark.slow)])
def both(request: pytest.FixtureRequest) -> list[tuple[dict[str, Any], Solution]]:
    """Answers of those rows of a list that are looked up, and of each piece by itself."""
    rows = [row for row in batch_agreement.rows(request.param) if "conductivity" not in row]
    those = covered(rows)
    # only rows that may be finer than claimed, or of which one reading may be wrong, are solved
    assert len(those) >= 7 / 8 * len(rows)
    rows = [row for n, row in enumerate(rows, 1) if n in those]
    return [(q, solve(Piece.from_dict(row), SHOP)) for q, row in zip(answered(rows), rows, strict=True)]


def test_probabilities_are_those_of_an_integral_that_leaves_nothing_out(
    both: list[tuple[dict[str, Any], Solution]],
) -> None:
    apart = [batch_agreement.apart(q, batch_agreement.truth(s)) for q, s in both]
    assert np.quantile(apart, 0.9) < 0.007
    assert max(apart) < 0.01, apart


def test_decisions_are_those_of_a_solve(both: list[tuple[dict[str, Any], Solution]]) -> None:
    judged = [(q, s.decision) for q, s in both if s.decision]
    limits = (1e-4, 0.05)
    close = [any(0.8 < v.p / x < 1.25 for x in limits) or abs((v.excluded or 0.0) - 0.9) < 0.03 for _, v in judged]
    assert sum(close) < len(both) / 7
    differ = [(q, v) for (q, v), near in zip(judged, close, strict=True) if q["decision"] != v.code and not near]
    # where one reading is overruled by the others, the share they exclude of what it points to has a limit too
    assert len([v for _, v in differ if v.code != "contradicted"]) == 0
    assert len(differ) <= 1
    assert [q["p"] for q, _ in judged] == pytest.approx([v.p for _, v in judged], rel=0.25, abs=1e-12)


def test_ranges_and_precious_content_are_those_of_a_solve(
    both: list[tuple[dict[str, Any], Solution]],
) -> None:
    content, ranges = [], []
    for q, s in both:
        whole = s.piece.mass.value if s.piece.mass else 100.0
        for symbol, m in s.precious.items():
            for part, value in (("low", m.low), ("likely", m.value), ("high", m.high)):
                content.append(abs(q["precious"].get(symbol, {}).get(part, 0.0) - value) / whole)
        first = s.found[0]
        one = next(x for x in q["systems"] if set(x["metals"]) == set(first.metals))
        for m in set(one["ranges"]) & set(first.ranges):
            ranges += [abs(a - b) for a, b in zip(one["ranges"][m], first.ranges[m], strict=True)]
    assert np.quantile(content, 0.9) < 0.01
    assert np.quantile(ranges, 0.9) < 2.0  # percent


def test_words_are_those_of_a_solve(both: list[tuple[dict[str, Any], Solution]]) -> None:
    """Names, and how sure the amounts are, but for what stands close to a limit of the words."""
    say, same, opens = language(), 0, 0
    for q, s in both:
        likely, holds = likely_words(s.document, say), " ".join(amount_sentences(s.document, say))
        same += re.sub(r"\d+", "", q["words"]["likely"]) == re.sub(r"\d+", "", likely)
        opens += q["words"]["holds"].split()[:2] == holds.split()[:2]
    assert same >= 0.9 * len(both)
    assert opens >= 0.9 * len(both)


def test_an_error_of_one_row_under_way_leaves_it_to_the_solve(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever a step of the look-up refuses is that row's own."""
    whole, solved = looked_up._answer, []

    def refuses(a: looked_up.Asked, *how: Any) -> Any:
        if a.mass_g and a.mass_g > 31.15:
            raise InputError("mass", "31.20 g", "another", "none")
        return whole(a, *how)

    def by_itself(piece: Piece, *how: Any, **more: Any) -> Solution:
        solved.append(piece.name)
        return solve(piece, *how, **more)

    monkeypatch.setattr(looked_up, "_answer", refuses)
    monkeypatch.setattr(run, "solve", by_itself)
    found = answered([TRAY[0], TRAY[0] | {"name": "2", "mass": "31.20 g"}])
    assert solved == ["2"]
    assert not any(a["error"] for a in found)
