"""Draws from the posterior: they repeat, and they are as often so as the answer says."""

import numpy as np
import pytest

from alloysolve import InputError, solve
from alloysolve.answer.rows import SOMETHING_ELSE

N = 20_000
PIECES = {
    "brass": {"mass": "31.18 g", "displaced": "3.64 g", "magnet": "none"},
    "plated": {"claim": "silver plated", "mass": "31.18 g", "displaced": "3.64 g", "conductivity": "27 %IACS"},
    "hollow": {"claim": "9 ct rose gold chain", "mass": "6.00 g", "displaced": "0.75 g"},
    "steel": {"magnet": "strong", "density": "7.9 +- 0.1 g/cm3"},
}


@pytest.fixture(scope="module", params=PIECES)
def solved(request):
    return solve(PIECES[request.param])


def agrees(seen, expected, n):
    """Whether a share drawn n times lies within five standard errors of a binomial, and of what is cut in an answer."""
    return abs(seen - expected) < 5 * np.sqrt(expected * (1 - expected) / n) + 2e-3


def lies_at(x, span):
    """Whether the quantiles of draws are those of a range; many draws may lie at one value."""
    for q, value in zip((0.025, 0.5, 0.975), span, strict=True):
        off = 5 * np.sqrt(q * (1 - q) / len(x)) + 2e-3
        if (x < value - 1e-6).mean() > q + off or (x <= value + 1e-6).mean() < q - off:
            return False
    return True


def test_each_is_drawn_as_often_as_it_is_probable(solved):
    drawn = solved.samples(N, seed=1)
    for x in solved.found:
        of_system = drawn.metals == " ".join(x.metals)
        assert agrees(of_system.mean(), x.probability, N)
        for c in x.constructions:
            mine = of_system & (drawn.construction == c.construction) & (drawn.skin == c.skin)
            assert agrees((mine & (drawn.strike == c.strike)).mean(), c.probability, N)
    assert agrees((drawn.construction == SOMETHING_ELSE).mean(), solved.other, N)


def test_their_quantiles_are_the_ranges_of_the_answer(solved):
    drawn, first = solved.samples(N, seed=2), solved.found[0]
    mine = drawn[drawn.metals == " ".join(first.metals)]
    assert len(mine) > 1000
    for metal, span in first.ranges.items():
        assert lies_at(mine[f"{metal}_percent"], span)
    for c in [c for c in first.constructions if c.skin_um and c.probability > 0.1]:
        assert lies_at(mine[(mine.construction == c.construction) & (mine.skin == c.skin)].skin_um, c.skin_um)


def test_a_whole_piece_holds_what_lies_on_and_in_it(solved):
    """The mean content of each precious metal is that of the integral, in grams of the mass that was weighed."""
    p = solved.posterior
    share = p.share / p.share.sum()
    pieces = p.rows.candidates(p.bodies, solved.evidence)
    drawn = solved.samples(N, seed=3, of="piece")
    drawn = drawn[drawn.construction != SOMETHING_ELSE]
    for metal in ("Ag", "Au"):
        k = p.bodies.law.index[metal]
        skin = np.where(pieces.skin >= 0, p.layers.w[pieces.skin, k], 0.0)
        held = 100 * (p.bodies.w[pieces.point, k] * (1 - pieces.mass_part) + skin * pieces.mass_part)
        mean = float(share @ held)
        sd = np.sqrt(share @ (held - mean) ** 2)
        assert abs(drawn[f"{metal}_percent"].mean() - mean) <= 5 * sd / np.sqrt(len(drawn)) + 1e-9


def test_every_composition_is_whole(solved):
    for of in ("body", "piece"):
        drawn = solved.samples(500, of=of)
        known = drawn.construction != SOMETHING_ELSE
        metals = drawn.filter(regex=r"^[A-Z][a-z]?_percent$")
        assert len(metals.columns) > 30
        assert metals[known].sum(axis=1).to_numpy() == pytest.approx(100, abs=0.5)
        assert metals[~known].isna().all(axis=None)
        assert (drawn[known & (drawn.construction == "homogeneous")][["skin_um", "part_percent"]].isna()).all(axis=None)


def test_the_same_seed_gives_the_same_frame(solved):
    one, other = solved.samples(300, seed=4), solved.samples(300, seed=5)
    assert one.equals(solved.samples(300, seed=4))
    assert not one.equals(other)
    assert list(one.columns) == list(solve(PIECES["steel"]).samples(1).columns)


@pytest.mark.parametrize("given", [{"n": 0}, {"n": 1.5}, {"n": True}, {"n": 5, "seed": -1}, {"n": 5, "of": "core"}])
def test_what_cannot_be_drawn_is_an_error(solved, given):
    with pytest.raises(InputError):
        solved.samples(**given)
