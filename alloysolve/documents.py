"""The documents that the program reads or writes, each with its JSON Schema."""

from __future__ import annotations

from typing import Any

# the name of each document, and its version as the document itself states it, if it does
DOCUMENTS = {
    "piece": "alloysolve.piece/1",
    "settings": "alloysolve.settings/1",
    "answer": "alloysolve.solution/1",
    "record": "alloysolve.record/1",
    "page": "alloysolve.page/1",
    "routine": "alloysolve.routine/1",
    "batch": "alloysolve.batch/1",
}


def schema(document: str = "piece") -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a document, to check one before it is sent or after it is received.

    Parameters
    ----------
    document : "piece" or "settings", which the program reads; "answer", "record", "page", "routine" or "batch" (one row
        of it), which it writes.

    Returns
    -------
    dict
        The schema. Its ``$id`` ends in the version of the document, which rises when a key changes its meaning or is
        removed.

    Raises
    ------
    InputError
        For a name that no document has.

    >>> schema("answer")["$id"]
    'urn:alloysolve:solution:1'
    """
    from .entry import unknown

    if document not in DOCUMENTS:
        raise unknown("document", document, list(DOCUMENTS), "the name of a document")
    made = {"$id": "urn:" + DOCUMENTS[document].translate(str.maketrans("./", "::"))}
    return made | _made(document)


def _made(document: str) -> dict[str, Any]:
    """The schema, made from the types that the document is read into or written from."""
    from .inputs.schema import schema as piece_schema
    from .inputs.schema import settings_schema

    if document == "piece":
        return piece_schema()
    if document == "settings":
        return settings_schema()
    from .advice.routine import RoutineData
    from .answer.document import Document
    from .answer.records import Stored
    from .batch.answers import BatchRow
    from .page.parts import Page
    from .plain import schema_of

    types: dict[str, type] = {
        "answer": Document,
        "record": Stored,
        "page": Page,
        "routine": RoutineData,
        "batch": BatchRow,
    }
    return schema_of(types[document], document)
