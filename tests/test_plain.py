"""Dataclasses to the types of JSON, back, and their schema."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import pytest

from alloysolve.plain import MisfitError, from_plain, schema_of, to_plain, to_text


@dataclass(frozen=True)
class Inner:
    class_: Literal["a", "b"]
    span: tuple[float, float | None] | None


@dataclass(frozen=True)
class Outer:
    name: str
    inner: tuple[Inner, ...]
    by_metal: Mapping[str, int]
    other: Inner | str | None
    anything: Any


WHOLE = Outer("x", (Inner("a", (1.0, None)), Inner("b", None)), {"Ag": 3}, "word", {"deep": [1]})
PLAIN = {
    "name": "x",
    "inner": [{"class": "a", "span": [1.0, None]}, {"class": "b", "span": None}],
    "by_metal": {"Ag": 3},
    "other": "word",
    "anything": {"deep": [1]},
}


def test_there_and_back() -> None:
    assert to_plain(WHOLE) == PLAIN
    assert from_plain(Outer, PLAIN) == WHOLE
    assert from_plain(Outer, {**PLAIN, "unknown": 1}) == WHOLE  # of a later version


@pytest.mark.parametrize("indent", [None, 0, 2])
def test_text_is_that_of_the_standard_library(indent: int | None) -> None:
    hard = {
        "none": [],
        "empty": {},
        'a "quoted"\n key': "g/cm³ \t",
        "bool": [True, None, 3, -1e-7, 1e16, 0.1, "", np.float64(2.5)],
    }
    whole = Outer("x", (Inner("a", (1.0, None)),), {"Ag": 3}, None, hard)
    assert to_text(whole, indent) == json.dumps(to_plain(whole), indent=indent, ensure_ascii=False)


@pytest.mark.parametrize("indent", [None, 2])
@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_json_does_not_have_is_not_written(value: float, indent: int | None) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        to_text([value], indent)


@pytest.mark.parametrize(
    ("changed", "place"),
    [
        ({"name": 5}, "name"),
        ({"inner": [{"class": "c", "span": None}]}, "inner[0].class"),
        ({"inner": [{"class": "a", "span": [1.0]}]}, "inner[0].span"),
        ({"inner": [{"class": "a", "span": [True, None]}]}, "inner[0].span[0]"),
        ({"inner": [{"class": "a", "span": [float("nan"), None]}]}, "inner[0].span[0]"),
        ({"inner": [{"class": "a", "span": [1e301, None]}]}, "inner[0].span[0]"),
        ({"inner": {"class": "a"}}, "inner"),
        ({"by_metal": {"Ag": 1.5}}, "by_metal.Ag"),
        ({"by_metal": ["Ag"]}, "by_metal"),
        ({"other": {"class": "a", "span": "wide"}}, "other.span"),
    ],
)
def test_what_does_not_fit_is_named_by_its_place(changed: dict[str, Any], place: str) -> None:
    with pytest.raises(MisfitError) as e:
        from_plain(Outer, {**PLAIN, **changed})
    assert e.value.place == place


def test_a_key_that_is_missing_is_named_unless_it_may_be_null() -> None:
    with pytest.raises(MisfitError, match=r"^name$"):
        from_plain(Outer, {k: v for k, v in PLAIN.items() if k != "name"})
    assert from_plain(Outer, {k: v for k, v in PLAIN.items() if k != "other"}).other is None


def test_the_schema_says_each_type_once() -> None:
    schema = schema_of(Outer, "outer")
    assert (schema["title"], schema["$ref"]) == ("outer", "#/$defs/Outer")
    inner = schema["$defs"]["Inner"]
    assert inner["required"] == ["class", "span"]
    assert inner["additionalProperties"] is False
    assert inner["properties"]["class"] == {"enum": ["a", "b"]}
    assert schema["$defs"]["Outer"]["properties"]["by_metal"] == {
        "type": "object",
        "additionalProperties": {"type": "integer"},
    }
