"""Dataclasses as the plain types of JSON: written, read back, and described by a JSON Schema.

The types of the fields are the only description of a document. What is written, what is accepted when it is read, and
what its schema says all follow from them. A trailing underscore of a field is left out of the key ("class_").
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import lru_cache
from json.encoder import encode_basestring
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from .entry import join

MOST = 1e300  # no number of a document is as large; refuses infinities, and NaN with them
SIMPLE: Mapping[Any, dict[str, Any]] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    NoneType: {"type": "null"},
    Any: {},
}


class MisfitError(ValueError):
    """A value that is not of its type; `place` is its place in the document."""

    def __init__(self, place: str) -> None:
        super().__init__(place or "it")
        self.place = place or "it"


def key_of(name: str) -> str:
    """The key of a field in JSON."""
    return name.rstrip("_")


@lru_cache(maxsize=256)
def types_of(kind: type) -> Mapping[str, Any]:
    """Types of the fields of a dataclass, by their names."""
    hints = get_type_hints(kind)
    return {f.name: hints[f.name] for f in fields(kind)}


@lru_cache(maxsize=256)
def parts_of(kind: type) -> tuple[tuple[str, str], ...] | None:
    """Names and keys of the fields of a dataclass; None for other types."""
    return tuple((f.name, key_of(f.name)) for f in fields(kind)) if is_dataclass(kind) else None


def to_plain(value: Any) -> Any:
    """A value with its dataclasses as tables and its tuples as lists."""
    if type(value) in SIMPLE:
        return value
    if isinstance(value, list | tuple):
        return [to_plain(v) for v in value]
    kind: Any = type(value)
    parts = parts_of(kind)
    if parts is not None:
        return {key: to_plain(getattr(value, name)) for name, key in parts}
    return {str(k): to_plain(v) for k, v in value.items()} if isinstance(value, Mapping) else value


def to_text(value: Any, indent: int | None) -> str:
    """JSON text of what `to_plain` gives, as `json.dumps` writes it, in a third of the time."""
    if indent is None:
        return json.dumps(to_plain(value), ensure_ascii=False, allow_nan=False)
    return _text(to_plain(value), " " * indent, "\n")


def _text(value: Any, step: str, newline: str) -> str:
    """Text of a plain value; `newline` : a line break with the spaces that stand before the value."""
    if isinstance(value, str):
        return encode_basestring(value)
    if isinstance(value, dict | list) and value:
        inner = newline + step
        if isinstance(value, list):
            return f"[{inner}{f',{inner}'.join([_text(v, step, inner) for v in value])}{newline}]"
        each = [f"{encode_basestring(k)}: {_text(v, step, inner)}" for k, v in value.items()]
        return f"{{{inner}{f',{inner}'.join(each)}{newline}}}"
    if type(value) is float and -MOST < value < MOST:
        return repr(value)
    return json.dumps(value, allow_nan=False)


def from_plain(kind: Any, value: Any, place: str = "") -> Any:
    """A value of a type, from the types of JSON; keys that the type does not have are ignored.

    Raises
    ------
    MisfitError
        With the first place where the value is not of its type.
    """
    origin, args = get_origin(kind), get_args(kind)
    if kind is Any:
        return value
    if origin in (Union, UnionType):
        return _any_of(args, value, place)
    if origin is Literal:
        if isinstance(value, str) and value in args:
            return value
    elif origin is tuple:
        return _tuple(args, value, place)
    elif isinstance(origin, type) and issubclass(origin, Mapping):
        if isinstance(value, Mapping):
            return {str(k): from_plain(args[1], v, join(place, str(k))) for k, v in value.items()}
    elif is_dataclass(kind):
        if isinstance(value, Mapping):
            assert isinstance(kind, type)
            parts = types_of(kind).items()
            return kind(**{n: from_plain(t, value.get(key_of(n)), join(place, key_of(n))) for n, t in parts})
    elif _is(value, kind):
        return value
    raise MisfitError(place)


def _any_of(kinds: tuple[Any, ...], value: Any, place: str) -> Any:
    """The value as the first of the types that it fits; otherwise the misfit that lies deepest."""
    if value is None and NoneType in kinds:
        return None
    found = []
    for kind in kinds:
        try:
            return from_plain(kind, value, place)
        except MisfitError as e:
            found.append(e)
    raise max(found, key=lambda e: len(e.place))


def _tuple(kinds: tuple[Any, ...], value: Any, place: str) -> tuple[Any, ...]:
    if not isinstance(value, list | tuple):
        raise MisfitError(place)
    each = [kinds[0]] * len(value) if kinds[-1] is Ellipsis else list(kinds)
    if len(each) != len(value):
        raise MisfitError(place)
    return tuple(from_plain(k, v, f"{place}[{i}]") for i, (k, v) in enumerate(zip(each, value, strict=True)))


def _is(value: Any, kind: Any) -> bool:
    if kind in (int, float):
        whole = isinstance(value, int) and not isinstance(value, bool)
        return (whole or (kind is float and isinstance(value, float))) and -MOST < value < MOST
    return isinstance(value, kind)


def schema_of(kind: type, title: str) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a dataclass; every key is required, and no other is known."""
    known: dict[str, Any] = {}
    top = _schema(kind, known)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": title, **top, "$defs": known}


def _schema(kind: Any, known: dict[str, Any]) -> dict[str, Any]:
    origin, args = get_origin(kind), get_args(kind)
    if kind in SIMPLE:
        return dict(SIMPLE[kind])
    if origin in (Union, UnionType):
        return {"anyOf": [_schema(a, known) for a in args]}
    if origin is Literal:
        return {"enum": list(args)}
    if origin is tuple:
        if args[-1] is Ellipsis:
            return {"type": "array", "items": _schema(args[0], known)}
        size = {"minItems": len(args), "maxItems": len(args)}
        return {"type": "array", "prefixItems": [_schema(a, known) for a in args], **size}
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _schema(args[1], known)}
    if kind.__name__ not in known:
        known[kind.__name__] = {}  # a place for a type that holds itself
        parts = {key_of(n): _schema(t, known) for n, t in types_of(kind).items()}
        known[kind.__name__] = {
            "type": "object",
            "properties": parts,
            "required": list(parts),
            "additionalProperties": False,
        }
    return {"$ref": f"#/$defs/{kind.__name__}"}
