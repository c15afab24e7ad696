"""``alloysolve batch``: answers to all pieces of a file."""

from __future__ import annotations

import json
import os
import sys
from typing import Annotated

import typer

from .app import app, emit, settings_from


@app.command()
def batch(
    source: Annotated[str, typer.Argument(help="pieces: a CSV, JSON lines (.jsonl) or Parquet file")],
    out: Annotated[str, typer.Option("--out", "-o", help="Answers: .csv, .jsonl or .parquet.", metavar="FILE")],
    jobs: Annotated[int, typer.Option("--jobs", help="Processes; by default one per core.", metavar="NUMBER")] = 0,
    full: Annotated[
        bool | None,
        typer.Option(
            "--full/--quick",
            help="Solve every row by itself, or faster with probabilities within 0.07; "
            "by default faster from 200 rows on.",
        ),
    ] = None,
    resume: Annotated[bool, typer.Option("--resume", help="Continue an interrupted run.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress bar.")] = False,
    prior: Annotated[str | None, typer.Option("--prior", help="default, flat or a file", metavar="NAME")] = None,
    settings: Annotated[str | None, typer.Option("--settings", help="Settings file.", metavar="FILE")] = None,
    json_: Annotated[bool, typer.Option("--json", help="Print the summary as JSON.")] = False,
) -> None:
    """Answers to all pieces of a file, row by row in the same order.

    The columns are the fields of a piece file: claim, mass, displaced, conductivity, conductivity.frequency, magnet. A
    row that cannot be used is given an error message; the other rows are processed.
    """
    from tqdm import tqdm

    from ..batch.files import count_rows
    from ..batch.run import solve_many
    from ..words.batch import summary_text
    from ..words.language import language

    shop = settings_from(settings)
    hidden = quiet or not sys.stderr.isatty()
    total = None if hidden else count_rows(source)
    with tqdm(total=total, unit=" rows", disable=hidden, file=sys.stderr) as bar:
        cores = jobs or os.cpu_count() or 1
        found = solve_many(source, out, None, shop, prior, full=full, jobs=cores, resume=resume, told=bar.update)
    emit(json.dumps(found.to_dict(), indent=2) if json_ else summary_text(found, language(shop.answers.language)))
