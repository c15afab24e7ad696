"""The schema of a piece for others: command options and JSON Schema."""

from __future__ import annotations

from itertools import combinations
from typing import Any

from ..entry import Entry, entries
from ..readings.registry import KINDS, Kind
from .piece import OF_WEIGHING, SCHEMA, SHAPES
from .settings import ORIGINS, Settings

# the fields that change what a command prints; of these it has options, and takes no others
SOLVED = tuple(name for name in SCHEMA if name != "reading")
WEIGHED = (
    "claim",
    "mass",
    "displaced",
    "in_water",
    "liquid_density",
    "water",
    "wetting",
    "scale_step",
    "count",
    "parts",
    *SHAPES,
)
SOUNDED = tuple(name for name in (*WEIGHED, "density", "hollow", *KINDS) if name != "resonance")
IN_ROUTINE = ("claim", "mass", "liquid_density", "wetting", "scale_step", "hollow", *SHAPES)
OPTIONS = {"solve": SOLVED, "weigh": WEIGHED, "resonance": SOUNDED, "routine": IN_ROUTINE}


def options() -> dict[str, Entry]:
    """Command options by name ("--in-water"), with dimension and help."""
    return {f"--{name.replace('_', '-')}": item for name, item in SCHEMA.items()}


def schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a piece as JSON, made from the one schema of its fields."""
    together = [SHAPES, ("displaced", "in_water"), ("water", "liquid_density")]
    together += [("density", name) for name in OF_WEIGHING]
    pairs = [list(pair) for names in together for pair in combinations(names, 2)]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "piece",
        "type": "object",
        "properties": {name: _json_schema(name, item) for name, item in SCHEMA.items()},
        "additionalProperties": False,
        "dependentRequired": {"displaced": ["mass"], "in_water": ["mass"]},
        "allOf": [{"not": {"required": pair}} for pair in pairs],
    }


def settings_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of the settings of a shop as JSON, made from their dataclasses."""
    table = _table_schema(Settings)
    origin = {"description": "where an answer had them from", "enum": list(ORIGINS)}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "settings",
        **table,
        "properties": table["properties"] | {"origin": origin},
    }


def _table_schema(record: type) -> dict[str, Any]:
    """The table of a dataclass whose fields have entries."""
    known = entries(record)
    out: dict[str, Any] = {
        "type": "object",
        "properties": {name: {"description": item.help} | _value_schema(item) for name, item in known.items()},
        "additionalProperties": False,
    }
    needed = [name for name, item in known.items() if item.required]
    return out | {"required": needed} if needed else out


def _value_schema(item: Entry) -> dict[str, Any]:
    if item.table:
        return _table_schema(item.table)
    one = _one(item)
    return {"anyOf": [one, {"type": "array", "items": one}]} if item.many else one


def _json_schema(name: str, item: Entry) -> dict[str, Any]:
    tables = {kind: _reading_schema(of) for kind, of in KINDS.items()}
    if name in KINDS:
        return {"description": item.help, "anyOf": [_one(KINDS[name].entries["value"]), tables[name]]}
    if name == "reading":
        listed = [_reading_schema(of, kind) for kind, of in KINDS.items()]
        return {"description": item.help, "type": "array", "items": {"anyOf": listed}}
    one = _one(item)
    if name == "density":
        numbers = {key: {"type": "number"} for key in ("value", "u", "low", "high", "dof")}
        table = {"type": "object", "properties": numbers | {"unit": {"const": "g/cm3"}}}
        one = {"anyOf": [one, table | {"required": ["value", "u"], "additionalProperties": False}]}
    if item.many or item.sizes:
        size = {"minItems": len(item.sizes), "maxItems": len(item.sizes)} if item.sizes else {"minItems": 1}
        one = {"anyOf": [one, {"type": "array", "items": one} | size]}
    return {"description": item.help} | one


def _one(item: Entry) -> dict[str, Any]:
    if item.words:
        return {"enum": [*item.words, *(said for said, _ in item.also)]}
    types: dict[str, dict[str, Any]] = {
        "flag": {"type": "boolean"},
        "count": {"type": "integer", "minimum": 1},
        "part": {"type": "string"},
        "text": {"type": "string"},
        "names": {"type": "object", "additionalProperties": {"type": "string"}},
    }
    return types.get(item.dimension, {"type": ["string", "number"]})


def _reading_schema(of: Kind, kind: str = "") -> dict[str, Any]:
    """Schema of one kind of reading, with or without the key "kind"; a key of `Kind.instead` may replace "value"."""
    named = {"kind": {"const": kind}} if kind else {}
    properties = {**named, **{key: {"description": item.help} | _one(item) for key, item in of.entries.items()}}
    out = {"type": "object", "properties": properties, "required": [*named], "additionalProperties": False}
    if not of.instead:
        return out | {"required": [*named, "value"]}
    return out | {"anyOf": [{"required": [key]} for key in ("value", *sorted(of.instead))]}
