"""From the density of a coin, bar, medal or jewel, and other readings, to what the piece probably is."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from . import figures
    from .advice.routine import Routine, routine
    from .answer.answer import Answer
    from .answer.solution import Solution, solve
    from .answer.sources import sources
    from .batch.run import Summary, solve_many
    from .documents import schema
    from .errors import AlloysolveError, InputError, SolverError, TableError
    from .exact.constructions import constructions
    from .exact.listing import mixtures
    from .exact.ranges import bounds, nearest
    from .inputs.piece import Piece, read_piece
    from .inputs.settings import Settings, find_settings
    from .measured import Measured
    from .published.load import Tables
    from .readings.registry import (
        Conductivity,
        Magnet,
        Resonance,
        SkinAnswer,
        SlidingMagnet,
        SoundSpeed,
        SurfaceComposition,
    )
    from .weighing.weigh import Weighing, weigh

# where each public name lives; imported on first use, so that `import alloysolve` stays light
_HOME = {
    "AlloysolveError": "errors",
    "InputError": "errors",
    "SolverError": "errors",
    "TableError": "errors",
    "Measured": "measured",
    "Tables": "published.load",
    "Piece": "inputs.piece",
    "read_piece": "inputs.piece",
    "Conductivity": "readings.registry",
    "Magnet": "readings.registry",
    "Resonance": "readings.registry",
    "SkinAnswer": "readings.registry",
    "SlidingMagnet": "readings.registry",
    "SoundSpeed": "readings.registry",
    "SurfaceComposition": "readings.registry",
    "Settings": "inputs.settings",
    "find_settings": "inputs.settings",
    "Weighing": "weighing.weigh",
    "weigh": "weighing.weigh",
    "Answer": "answer.answer",
    "Solution": "answer.solution",
    "solve": "answer.solution",
    "sources": "answer.sources",
    "Summary": "batch.run",
    "solve_many": "batch.run",
    "schema": "documents",
    "Routine": "advice.routine",
    "routine": "advice.routine",
    "mixtures": "exact.listing",
    "constructions": "exact.constructions",
    "bounds": "exact.ranges",
    "nearest": "exact.ranges",
}

__all__ = [
    "AlloysolveError",
    "Answer",
    "Conductivity",
    "InputError",
    "Magnet",
    "Measured",
    "Piece",
    "Resonance",
    "Routine",
    "Settings",
    "SkinAnswer",
    "SlidingMagnet",
    "Solution",
    "SolverError",
    "SoundSpeed",
    "Summary",
    "SurfaceComposition",
    "TableError",
    "Tables",
    "Weighing",
    "bounds",
    "constructions",
    "figures",
    "find_settings",
    "mixtures",
    "nearest",
    "read_piece",
    "routine",
    "schema",
    "solve",
    "solve_many",
    "sources",
    "weigh",
]


def __getattr__(name: str) -> Any:
    if name == "figures":
        return import_module(f"{__name__}.figures")
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
