"""``alloysolve schema``: the JSON Schema of each document that the program reads or writes."""

from __future__ import annotations

import json
from typing import Any

import click

from .app import emit

DOCUMENTS = ("piece", "settings", "answer", "record", "page", "routine", "batch")


@click.command()
@click.argument("document", default="piece", help=f"one of {', '.join(DOCUMENTS)}", metavar="DOCUMENT")
def schema(
    document: str,
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
    from ..batch.answers import BatchRow
    from ..entry import unknown
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
        raise unknown("document", document, DOCUMENTS, "the name of a document")
    return schema_of(types[document], document)
