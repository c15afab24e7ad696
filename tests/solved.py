"""Examples solved once for all tests of a process: a solve is a second of work, and many tests read the same answer.

Only tests that read an answer take it from here. What `solve` itself does (threads, tables, repeated bytes) is tested
on `alloysolve.answer.solution.solve`, which nothing replaces outside the fixture `solved_once`.
"""

from __future__ import annotations

import pickle
from collections import OrderedDict
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from alloysolve.answer.solution import Solution, solve
from alloysolve.inputs.piece import Piece, read_piece
from alloysolve.inputs.settings import Settings, find_settings
from alloysolve.page.build import Page, page_html, page_of
from alloysolve.published.load import Tables

EXAMPLES = Path(__file__).parent.parent / "examples"
EVERY = [p.stem for p in sorted(EXAMPLES.glob("01*.toml"))]
KEPT = 4  # an answer holds up to 100 MB; tests of one example follow each other

_answers: OrderedDict[bytes, Solution] = OrderedDict()


def once(
    piece: Piece | Mapping[str, Any],
    settings: Settings | None = None,
    tables: Tables | None = None,
    prior: str | None = None,
) -> Solution:
    """The answer of `solve`; the last few are kept by the contents of piece, settings and prior."""
    if tables is not None or settings is None or settings.tables.extra:
        return solve(piece, settings, tables, prior)
    key = pickle.dumps((piece, settings, prior))
    if key not in _answers:
        _answers[key] = solve(piece, settings, tables, prior)
        if len(_answers) > KEPT:
            _answers.popitem(last=False)
    _answers.move_to_end(key)
    return _answers[key]


def piece_of(example: str) -> Piece:
    """The piece of an example."""
    return read_piece(EXAMPLES / f"{example}.toml")


def solved(example: str) -> Solution:
    """The answer of an example with the settings of the example shop."""
    return once(piece_of(example), find_settings(EXAMPLES / "counter.toml"))


@lru_cache(KEPT)
def page(example: str) -> Page:
    """The page of an example with the settings of the example shop."""
    return page_of(solved(example).document)


@lru_cache(KEPT)
def html(example: str) -> str:
    """That page as a browser gets it."""
    return page_html(page(example))
