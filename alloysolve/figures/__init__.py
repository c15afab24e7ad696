"""Figures of answers, in greys, for papers and notebooks.

Each function draws into `ax`, or into a figure of its own, and returns the Axes. They need matplotlib and mpltern: the
extra `figures`.
"""

from __future__ import annotations

from collections.abc import Sequence
from os import PathLike
from typing import TYPE_CHECKING

from ..words.language import language

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ..advice.routine import Routine
    from ..answer.solution import Solution
    from ..inputs.piece import Piece
    from ..inputs.settings import Settings

__all__ = ["candidates", "density_map", "routine", "section", "skin_and_core", "spectrum", "ternary", "water"]


def candidates(solution: Solution, ax: Axes | None = None) -> Axes:
    """Axes with one row per candidate and one for the claim: a dot with a 95 % bar, the reading as a line."""
    from .candidate_bars import candidates

    return candidates(solution, language(solution.settings.answers.language), ax)


def density_map(solution: Solution, ax: Axes | None = None) -> Axes:
    """Axes of density against conductivity: the ellipse of the readings, and what candidates and claim would read."""
    from .density_plane import density_map

    return density_map(solution, language(solution.settings.answers.language), ax)


def ternary(solution: Solution, metals: Sequence[str] = (), ax: Axes | None = None) -> Axes:
    """Axes of three metals in a triangle, with the strip of alloys that have the density that was read.

    Parameters
    ----------
    metals : three symbols; if left out, those of what fits best.
    ax : Axes of the projection "ternary", which mpltern registers when it is imported.
    """
    from .triangle import ternary

    return ternary(solution, language(solution.settings.answers.language), ax, tuple(metals))


def skin_and_core(solution: Solution, ax: Axes | None = None) -> Axes:
    """Axes of skin thickness against density of the core: a dot with 95 % bars for each plated candidate."""
    from .skin_bars import skin_and_core

    return skin_and_core(solution, language(solution.settings.answers.language), ax)


def section(solution: Solution, ax: Axes | None = None) -> Axes:
    """Axes with a cut through the likeliest construction: outline to scale, a layer magnified so that it is seen."""
    from .cross_section import section

    return section(solution, language(solution.settings.answers.language), ax)


def water(solution: Solution, ax: Axes | None = None) -> Axes:
    """Axes with the water that a piece as claimed would displace, and that this one did, as bars with ranges."""
    from .water_bars import water

    return water(solution, language(solution.settings.answers.language), ax)


def spectrum(
    recording: str | PathLike[str], piece: Piece, settings: Settings | None = None, ax: Axes | None = None
) -> Axes:
    """Axes with the spectrum of a recording of taps, its tones, and the tones of what the piece may be."""
    from ..answer.sounding import sounding
    from ..inputs.settings import settings_in_use
    from ..readings.recording import mean_spectrum
    from .tone_spectrum import spectrum

    shop = settings_in_use(settings)
    heard = sounding(str(recording), piece, shop)
    return spectrum(*mean_spectrum(str(recording)), heard, language(shop.answers.language), ax)


def routine(found: Routine, ax: Axes | None = None) -> Axes:
    """Axes with one bar for each class of construction: the share of it that a set of readings would show."""
    from .routine_bars import routine

    return routine(found, language(), ax)
