"""What a stored record must hold to be listed and shown, and the first place where one does not."""

from __future__ import annotations

from typing import Any

from ..entry import join
from ..inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED
from .document import SCHEMA as SOLUTION

MOST = 1e300  # no number of a record is as large; refuses infinities, and NaN with them


class Maybe:
    """A shape, or null, or nothing at all."""

    def __init__(self, shape: Any) -> None:
        self.shape = shape


WORD = Maybe(str)
SPAN = Maybe([Maybe(float), Maybe(float), Maybe(float)])
AGREES = Maybe({"agrees", "strained", "no"})
READING = {
    "kind": str,
    "place": WORD,
    "text": str,
    "sees": {"all of it", "the body", "a depth"},
    "sees_um": Maybe(float),
    "agrees": AGREES,
    "claim_agrees": AGREES,
}
CONSTRUCTION = {
    "construction": str,
    "skin": WORD,
    "strike": WORD,
    "family": str,
    "probability": float,
    "skin_um": SPAN,
    "void_percent": SPAN,
    "part_percent": SPAN,
}
SYSTEM = {
    "metals": [str],
    "probability": float,
    "alike_the_first": Maybe(bool),
    "ranges": {...: [float, float]},
    "constructions": [CONSTRUCTION],
}
RECORD = {
    "number": int,
    "made": str,
    "page": Maybe(dict),
    "solution": {
        "schema": {SOLUTION},
        "version": str,
        "inputs": {"name": WORD, "note": WORD},
        "claim": Maybe({"text": str, "decision": Maybe({CONTRADICTED, UNDECIDED, NOT_CONTRADICTED})}),
        "readings": [READING],
        "systems": [SYSTEM],
        "something_else": float,
        "precious": {...: {"low": float, "high": float, "unit": str}},
    },
}


def misfit(value: Any, shape: Any, place: str = "") -> str:
    """The first place where a value is not of its shape, or "".

    A shape is a type; a set of the values allowed; ``[shape]`` for a list of any length, ``[shape, shape]`` for one
    of that length; a table by its keys, of which ``...`` stands for every key; `Maybe`.
    """
    here = place or "it"
    if isinstance(shape, Maybe):
        return "" if value is None else misfit(value, shape.shape, place)
    if isinstance(shape, dict):
        if not isinstance(value, dict):
            return here
        parts = (
            [(v, shape[...], join(place, k)) for k, v in value.items()]
            if ... in shape
            else [(value.get(k), s, join(place, k)) for k, s in shape.items()]
        )
        return next((m for part in parts if (m := misfit(*part))), "")
    if isinstance(shape, list):
        if not isinstance(value, list) or (len(shape) > 1 and len(value) != len(shape)):
            return here
        items = shape if len(shape) > 1 else shape * len(value)
        found = (misfit(v, s, f"{place}[{i}]") for i, (v, s) in enumerate(zip(value, items, strict=True)))
        return next((m for m in found if m), "")
    return "" if _is(value, shape) else here


def _is(value: Any, shape: Any) -> bool:
    if isinstance(shape, set):
        return isinstance(value, str) and value in shape
    if shape in (int, float):
        whole = isinstance(value, int) and not isinstance(value, bool)
        return (whole or (shape is float and isinstance(value, float))) and -MOST < value < MOST
    return isinstance(value, shape)
