"""From the density of a coin, bar, medal or jewel, and other readings, to what it probably is."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from . import figures
    from .access import Tables
    from .errors import AlloysolveError, InputError, SolverError, TableError
    from .inverse.batch import Summary, solve_many
    from .inverse.coverage import Coverage, coverage
    from .inverse.listing import constructions, mixtures
    from .inverse.piece import Piece, read_piece
    from .inverse.ranges import bounds, nearest
    from .inverse.readings import (
        Conductivity,
        Magnet,
        Resonance,
        SkinAnswer,
        SlidingMagnet,
        SoundSpeed,
        SurfaceComposition,
    )
    from .inverse.settings import Settings, find_settings
    from .inverse.solve import Solution, solve
    from .inverse.weighing import Weighing, weigh
    from .measured import Measured

# where each public name lives; imported on first use, so that `import alloysolve` stays light
_HOME = {
    "AlloysolveError": "errors", "InputError": "errors", "SolverError": "errors", "TableError": "errors",
    "Measured": "measured", "Tables": "access",
    "Piece": "inverse.piece", "read_piece": "inverse.piece",
    "Conductivity": "inverse.readings", "Magnet": "inverse.readings", "Resonance": "inverse.readings",
    "SkinAnswer": "inverse.readings", "SlidingMagnet": "inverse.readings", "SoundSpeed": "inverse.readings",
    "SurfaceComposition": "inverse.readings",
    "Settings": "inverse.settings", "find_settings": "inverse.settings",
    "Weighing": "inverse.weighing", "weigh": "inverse.weighing",
    "Solution": "inverse.solve", "solve": "inverse.solve",
    "Summary": "inverse.batch", "solve_many": "inverse.batch",
    "Coverage": "inverse.coverage", "coverage": "inverse.coverage",
    "mixtures": "inverse.listing", "constructions": "inverse.listing",
    "bounds": "inverse.ranges", "nearest": "inverse.ranges",
}  # fmt: skip

__all__ = [
    "AlloysolveError", "Conductivity", "Coverage", "InputError", "Magnet", "Measured", "Piece", "Resonance", "Settings",
    "SkinAnswer", "SlidingMagnet", "Solution", "SolverError", "SoundSpeed", "Summary", "SurfaceComposition",
    "TableError", "Tables", "Weighing", "bounds", "constructions", "coverage", "figures", "find_settings", "mixtures",
    "nearest", "read_piece", "solve", "solve_many", "weigh",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name == "figures":
        return import_module(f"{__name__}.figures")
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
