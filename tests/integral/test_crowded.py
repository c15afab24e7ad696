"""Readings that contradict each other: too many cells are possible, and bounds do not tell which of them count."""

import numpy as np

from alloysolve.inference.commonness import DEFAULT
from alloysolve.inference.observe import evidence_of
from alloysolve.inference.prior import prior_of
from alloysolve.inference.weigh_piece import density_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral import solver as core
from alloysolve.integral.solver import Solver
from alloysolve.pieces.constructions import PLATED
from alloysolve.published.load import default_tables

CONTRADICTION = {  # the same at 60 and 480 kHz, and half as much again between them
    "density": "8.52 +- 0.04 g/cm3",
    "reading": [
        {"kind": "conductivity", "value": f"{percent} %IACS", "frequency": f"{kilohertz} kHz"}
        for percent, kilohertz in ((21, 60), (21, 480), (31, 240))
    ],
}


def test_cells_that_stand_for_others_are_chosen_by_what_they_find(monkeypatch):
    """One in twenty cells gives the share of each system within 0.01 of what all of them give."""
    piece, tables = Piece.from_dict(CONTRADICTION), default_tables()
    evidence = evidence_of(piece, Settings(), tables, density_of(piece, Settings(), tables), None)
    prior = prior_of(tables, None, True, DEFAULT)
    skin = evidence.layers.number("Ag")
    silver = [b for b in prior.levels[evidence.shows] if b.construction == PLATED and b.skin == skin]

    def shares(cells):
        monkeypatch.setattr(core, "CROWD", cells)
        rows = Solver(prior.bodies, evidence).rows(silver)
        weight = np.bincount(prior.bodies.system[rows.point], rows.weight, len(prior.bodies.systems))
        return weight / weight.sum()

    some, every = shares(3000), shares(10**9)
    assert np.abs(some - every).max() < 0.01
    assert (every > 0.05).sum() >= 3
