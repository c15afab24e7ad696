"""The ways in which a piece can be built, one record each: all that other rooms ask about a construction.

To add one, add a record to `CONSTRUCTIONS`. Arrays of candidates hold numbers, which are positions in that tuple.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType

import numpy as np

from ..arrays import Mask


class Place(Enum):
    """Where the other material lies, or the empty space; the value is its word in drawings and sentences."""

    NOWHERE = ""
    OVER = "layer"  # all over the body
    FACES = "clad"  # on both faces, not on the edge
    INSIDE = "cored"  # in a shell
    BESIDE = "assembled"  # joined to the body
    VOID = "void"  # empty space


@dataclass(frozen=True, slots=True)
class Construction:
    """One way to build a piece.

    Attributes
    ----------
    name : as answers and spans.csv have it. key : the short name, of its column in claim_priors.csv and of its rows in
        inserts.csv.
    place : where the other material lies. The free parameter is a thickness [um] if it lies all over the body,
        otherwise a share of the volume.
    typical : values of the parameter with their shares, for pieces that stand for what is not the claim; empty if
        the construction leaves a sound piece as claimed, as a steel spring in a gold chain does.
    applied : whether a layer was put on, and may have a strike under it; an enriched surface is the body's own metal.
    blind_spot : the name of its class among what readings cannot show; empty if thickness or density separate it into
        several classes.
    """

    name: str
    key: str
    place: Place
    typical: tuple[tuple[float, float], ...] = ()
    applied: bool = False
    blind_spot: str = ""

    @property
    def by_thickness(self) -> bool:
        """Whether the parameter is the thickness of a layer all over [um]."""
        return self.place is Place.OVER

    @property
    def by_share(self) -> bool:
        """Whether the parameter is the share of the volume that another material takes."""
        return self.place in (Place.FACES, Place.INSIDE, Place.BESIDE)

    @property
    def inserted(self) -> bool:
        """Whether another material is in or on a body that may be as claimed; such a piece does not meet the claim."""
        return self.place in (Place.INSIDE, Place.BESIDE)

    @property
    def of_any_body(self) -> bool:
        """Whether any body may be built so; slugs, faces, joined parts and surfaces belong to some bodies only."""
        return self.applied or self.place in (Place.NOWHERE, Place.VOID)

    @property
    def hidden(self) -> bool:
        """Whether nobody knows where in the piece the other material lies."""
        return self.place in (Place.INSIDE, Place.VOID)


CONSTRUCTIONS: tuple[Construction, ...] = (
    Construction("homogeneous", "homogeneous", Place.NOWHERE, typical=((0.0, 1.0),)),
    Construction(
        "plated",
        "plated",
        Place.OVER,
        typical=((1.0, 0.35), (4.0, 0.2), (12.0, 0.15), (30.0, 0.1), (200.0, 0.2)),
        applied=True,
    ),
    Construction(
        "hollow or porous",
        "hollow",
        Place.VOID,
        typical=((0.02, 0.4), (0.1, 0.3), (0.4, 0.3)),
        blind_spot="empty space inside",
    ),
    Construction("clad", "clad", Place.FACES, typical=((1 / 3, 1.0),), blind_spot="clad faces"),
    Construction("cored", "cored", Place.INSIDE, typical=((0.1, 0.3), (0.4, 0.3), (0.8, 0.4))),
    Construction("assembled", "assembled", Place.BESIDE),
    Construction("enriched surface", "enriched", Place.OVER, typical=((2.0, 0.4), (8.0, 0.4), (25.0, 0.2))),
    Construction("weighted", "weighted", Place.INSIDE, typical=((0.6, 0.3), (0.8, 0.4), (0.92, 0.3))),
)
BY_NAME: Mapping[str, Construction] = MappingProxyType({c.name: c for c in CONSTRUCTIONS})
# for code about one of them
HOMOGENEOUS, PLATED, HOLLOW, CLAD, CORED, ASSEMBLED, ENRICHED, WEIGHTED = range(8)


def which(holds: Callable[[Construction], bool]) -> Mask:
    """Whether a condition holds for each construction, by its number."""
    return np.array([holds(c) for c in CONSTRUCTIONS])


AT: Mapping[Place, Mask] = MappingProxyType({p: which(lambda c, p=p: c.place is p) for p in Place})  # type: ignore[misc]
INSERTED = which(lambda c: c.inserted)
APPLIED = which(lambda c: c.applied)
