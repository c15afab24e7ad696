"""What people are told of a metal system and of each construction of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..pieces.constructions import BY_NAME, Construction


@dataclass(frozen=True)
class ConstructionFound:
    """A construction of one system, with its free parameters.

    Attributes
    ----------
    metals : the system, base metal first. construction : name of one of `constructions.CONSTRUCTIONS`.
    skin : symbol, or name in skins.csv, of what covers, fills or is joined to it, or "". strike : symbol of what lies
        under the skin, or "". family : the likeliest family of its body.
    probability : of this construction. evidence : mean likelihood over its own prior (for Bayes factors).
    ranges : symbol -> (low, likely, high) mass percent of the body.
    skin_um, void_percent, part_percent : (low, likely, high) or None; the last is the share by volume of faces, slug
        or joined part. grades : nearest published grades.
    """

    metals: tuple[str, ...]
    construction: str
    skin: str
    strike: str
    family: str
    probability: float
    evidence: float
    ranges: Mapping[str, tuple[float, float, float]]
    skin_um: tuple[float, float, float] | None
    void_percent: tuple[float, float, float] | None
    part_percent: tuple[float, float, float] | None
    grades: tuple[str, ...]

    @property
    def built(self) -> Construction:
        """The construction as a record."""
        return BY_NAME[self.construction]


@dataclass(frozen=True)
class System:
    """A metal system, with all its candidates together."""

    metals: tuple[str, ...]
    probability: float
    evidence: float
    bayes_factor_against_next: float
    alike: bool  # whether these readings cannot tell it from the first
    ranges: Mapping[str, tuple[float, float, float]]
    grades: tuple[str, ...]
    constructions: tuple[ConstructionFound, ...]
