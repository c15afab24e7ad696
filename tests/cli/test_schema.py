"""Every document is as its JSON Schema says, which is made from the types of the documents."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema  # a second reader of schemas, which shares nothing with what made them
import pytest

from alloysolve.advice.routine import routine
from alloysolve.answer.document import Document
from alloysolve.answer.records import Stored, save_record
from alloysolve.batch import run as run_of_batch
from alloysolve.batch.answers import flat, wide_columns
from alloysolve.batch.files import Row
from alloysolve.batch.run import answer_rows
from alloysolve.documents import DOCUMENTS, schema
from alloysolve.inputs.files import read_document
from alloysolve.inputs.settings import Settings, find_settings
from alloysolve.page.parts import Page
from alloysolve.plain import MisfitError, from_plain, to_plain
from tests.batch.test_looked_up import TRAY
from tests.conftest import Run
from tests.solved import EVERY, EXAMPLES, page, piece_of, solved

COUNTER = EXAMPLES / "counter.toml"


def plainly(document: Any) -> Any:
    """As JSON writes and reads it."""
    return json.loads(json.dumps(document, allow_nan=False, default=str))


@cache
def validator(name: str) -> jsonschema.Draft202012Validator:
    made = schema(name)
    jsonschema.Draft202012Validator.check_schema(made)
    return jsonschema.Draft202012Validator(made)


def valid(name: str, document: Any) -> None:
    validator(name).validate(plainly(document))


@pytest.mark.parametrize("example", EVERY)
def test_documents_of_every_example_are_as_their_schemas_say(example: str, tmp_path: Path) -> None:
    s = solved(example)
    valid("piece", read_document(EXAMPLES / f"{example}.toml"))
    valid("piece", piece_of(example).to_dict())
    valid("answer", s.document.to_dict())
    valid("page", page(example).to_dict())
    record = json.loads(save_record(s, tmp_path, page=page(example).to_dict()).read_text(encoding="utf-8"))
    valid("record", record)


def test_settings_are_as_their_schema_says() -> None:
    valid("settings", read_document(COUNTER))
    valid("settings", find_settings(COUNTER).to_dict())
    valid("settings", Settings().to_dict())
    with pytest.raises(jsonschema.ValidationError):
        valid("settings", {"scale": {"setp": "0.01 g"}})


def test_a_routine_is_as_its_schema_says() -> None:
    valid("routine", routine({"claim": "silver 925", "mass": "20 g"}, ("magnet",)).to_dict())


PIECES = (
    {"claim": "silver 999", "density": "8.54 +- 0.03 g/cm3"},
    TRAY[1] | {"magnet": "none"},  # with a meter, so that it is solved in any case
    {"density": "11.2 +- 0.1 g/cm3"},
    {"claim": "silver 900", "mass": "25 g", "displaced": "2.7 g", "note": "opal"},
    {"density": "heavy"},
)


@pytest.fixture(scope="module")
def batch() -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Each piece by the tables of a batch, and by itself."""
    rows = list(enumerate(PIECES, start=2))
    given = [Row(n, dict(p), {}) for n, p in rows]
    looked_up = answer_rows(given, Settings(), "default")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(run_of_batch, "looked_up_answers", lambda *how: {})
        return list(zip(looked_up, answer_rows(given, Settings(), "default"), strict=True))


def test_rows_of_a_batch_are_as_their_schema_says(batch: list[tuple[dict[str, Any], dict[str, Any]]]) -> None:
    for way in batch:
        for row in way:
            valid("batch", row)


def test_rows_of_a_batch_carry_cautions_looked_up_or_solved(
    batch: list[tuple[dict[str, Any], dict[str, Any]]],
) -> None:
    for looked_up, solved_alone in batch:
        assert looked_up["cautions"] == solved_alone["cautions"]
    assert batch[2][0]["cautions"][0] == "lead"  # 11.2 g/cm3 is lead before all
    assert batch[3][0]["cautions"][-1] == "do not wet"  # an opal
    assert batch[4][0]["cautions"] == []
    cells = flat(batch[3][0])
    assert cells["caution_codes"].endswith(" do_not_wet")
    assert [c for c in wide_columns() if c.startswith("system_")] == ["system_1", "system_2", "system_3"]
    silver = batch[3][0]["precious"]["Ag"]
    assert f"Ag {silver['low']:g}..{silver['likely']:g}..{silver['high']:g} g" in cells["precious"]
    assert "-" not in cells["precious"] + cells["ranges_1"]


@pytest.mark.parametrize(("kind", "name"), [(Document, "answer"), (Stored, "record"), (Page, "page")])
def test_a_schema_refuses_what_is_not_read(kind: type, name: str) -> None:
    """What reads documents and what validates them are two programs over the same types."""
    example = EVERY[0]
    whole = {
        "answer": solved(example).document.to_dict(),
        "page": page(example).to_dict(),
    }
    document = whole.get(name) or {
        "schema": "alloysolve.record/1",
        "made": "2026-11-25T15:40:03Z",
        "number": 1,
        "solution": whole["answer"],
        "page": None,
    }
    assert to_plain(from_plain(kind, document)) == plainly(document)
    for key in document:
        lacking = {k: v for k, v in document.items() if k != key}
        with pytest.raises(jsonschema.ValidationError):
            valid(name, lacking)
        wrong = {**document, key: 5 if not isinstance(document[key], int | float) else "five"}
        with pytest.raises(jsonschema.ValidationError):
            valid(name, wrong)
        with pytest.raises(MisfitError):
            from_plain(kind, wrong)


@pytest.mark.parametrize("name", DOCUMENTS)
def test_a_schema_has_the_version_that_its_documents_state(name: str) -> None:
    made = schema(name)
    kind, version = DOCUMENTS[name].split(".")[1].split("/")
    assert made["$id"] == f"urn:alloysolve:{kind}:{version}"
    top = made["$defs"][made["$ref"].removeprefix("#/$defs/")] if "$ref" in made else made
    stated = top["properties"].get("schema")
    assert stated is None or stated == {"enum": [DOCUMENTS[name]]}
    assert (stated is None) == (name in ("piece", "settings", "batch"))


def test_the_command_prints_every_schema(run: Callable[..., Run]) -> None:
    for name in DOCUMENTS:
        assert json.loads(run("schema", name).out) == schema(name)
    done = run("schema", "answr")
    assert done.code == 2
    assert 'the nearest known is "answer"' in done.err
    unlike = run("schema", "nonsense").err  # no name is like it, so that all are listed
    assert "nearest" not in unlike
    assert "settings" in unlike
