"""``alloysolve schema``: the JSON Schema of each document that the program reads or writes."""

from __future__ import annotations

import json

import click

from ..documents import DOCUMENTS
from ..documents import schema as schema_of
from .app import emit


@click.command()
@click.argument("document", default="piece", help=f"one of {', '.join(DOCUMENTS)}", metavar="DOCUMENT")
def schema(
    document: str,
) -> None:
    """JSON Schema of a document, to check one before it is sent or after it is received.

    A piece and the settings are what the program reads; the others are what it writes. A batch is one row of it.
    """
    emit(json.dumps(schema_of(document), indent=2))
