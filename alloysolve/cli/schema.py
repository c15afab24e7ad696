"""``alloysolve schema``: the JSON Schema of each document that the program reads or writes."""

from __future__ import annotations

import json
from typing import Annotated, Any

import typer

from ..entry import unknown
from .app import app, emit

DOCUMENTS = ("piece", "settings", "answer", "record", "page", "routine", "batch")


@app.command()
def schema(
    document: Annotated[str, typer.Argument(help=f"one of {', '.join(DOCUMENTS)}", metavar="DOCUMENT")] = "piece",
) -> None:
    """JSON Schema of a document, to check one before it is sent or after it is received.

    A piece and the settings are what the program reads; the others are what it writes. A batch is one row of it.
    """
    emit(json.dumps(schema_named(document), indent=2))


def schema_named(document: str) -> dict[str, Any]:
    """The JSON Schema of a document, made from the types that it is read into or written from."""
    from ..inputs.schema import schema as piece_schema
    from ..inputs.schema import settings_schema

    made = {"piece": piece_schema, "settings": settings_schema}
    if document in made:
        return made[document]()
    from ..advice.routine import RoutineData
    from ..answer.document import Document
    from ..answer.records import Stored
    from ..batch.files import BatchRow
    from ..page.parts import Page
    from ..plain import schema_of

    types: dict[str, type] = {
        "answer": Document,
        "record": Stored,
        "page": Page,
        "routine": RoutineData,
        "batch": BatchRow,
    }
    if document not in types:
        raise unknown("document", document, DOCUMENTS, f"one of {', '.join(DOCUMENTS)}")
    return schema_of(types[document], document)
