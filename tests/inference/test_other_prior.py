"""Where another belief would put another system first, the answer says so."""

from alloysolve.answer.solution import solve
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.words.terminal import answer as text


def test_a_first_answer_that_rests_on_belief_names_the_other():
    piece = Piece(density="8.85 +- 0.03 g/cm3")  # tin bronze, copper alloys, nickel silver and others alike
    s, flat = (solve(piece, Settings(), prior=name) for name in ("default", "flat"))
    assert s.first_under_other_prior.metals == flat.found[0].metals
    assert flat.first_under_other_prior.metals == s.found[0].metals
    assert "If every family were equally common, " in " ".join(text(s.document).split())


def test_a_first_answer_that_no_belief_changes_says_nothing():
    piece = Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g", conductivity="28 %IACS", magnet="none")
    s = solve(piece, Settings())
    assert s.first_under_other_prior is None
    assert "would come first" not in " ".join(text(s.document).split())
