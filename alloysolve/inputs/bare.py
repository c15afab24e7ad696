"""Bare numbers of a meter whose unit the settings name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..entry import is_absent
from .settings import Settings

METER = "conductivity"  # the one instrument of a shop whose two usual units nobody can tell from the number


def with_units(given: Mapping[str, Any], settings: Settings) -> dict[str, Any]:
    """The values of a piece as they were given, with the unit of the shop's meter for its bare numbers.

    A number that has a unit keeps it. Without a unit in the settings, a bare number stays one and is queried.
    """
    out, unit = dict(given), settings.readings.conductivity.unit
    if not unit:
        return out
    for key, value in given.items():
        name, _, rest = key.replace("-", "_").partition(".")
        if is_absent(value):
            continue
        if name == METER and rest in ("", "value"):
            out |= {key: _with_unit(value, unit)} if not rest else {f"{key.removesuffix('value')}unit": unit} | out
        elif name in ("reading", "readings") and not rest and isinstance(value, list | tuple):
            out[key] = [_with_unit(r, unit) if isinstance(r, Mapping) and r.get("kind") == METER else r for r in value]
        elif name in ("reading", "readings") and rest.endswith(".kind") and value == METER:
            out = {f"{key.removesuffix('kind')}unit": unit} | out
    return out


def _with_unit(value: Any, unit: str) -> Any:
    """The table of a reading, from a table, from a bare value or from text; a reading that was read stays as it is."""
    if isinstance(value, Mapping):
        return {"unit": unit} | dict(value)
    return {"value": value, "unit": unit} if isinstance(value, str | int | float) else value
