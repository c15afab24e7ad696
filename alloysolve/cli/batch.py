"""``alloysolve batch``: answers to all pieces of a file."""

from __future__ import annotations

import json
import os
import sys
from typing import Any

import click

from .app import emit, settings_from


@click.command()
@click.argument("source", help="pieces: a CSV, Excel (.xlsx), JSON lines (.jsonl) or Parquet file")
@click.option(
    "--out",
    "-o",
    help="Answers: .csv, .xlsx, .jsonl or .parquet; by default a new file beside the list.",
    metavar="FILE",
)
@click.option("--jobs", default=0, help="Processes; by default one per core.", metavar="NUMBER")
@click.option("--wide", is_flag=True, help="Add columns of codes and numbers.")
@click.option("--overwrite", is_flag=True, help="Replace an existing file of answers.")
@click.option("--resume", is_flag=True, help="Continue an interrupted run.")
@click.option("--quiet", is_flag=True, help="No progress bar.")
@click.option("--prior", help="default, flat or a file", metavar="NAME")
@click.option("--settings", help="Settings file.", metavar="FILE")
@click.option("--json", "json_", is_flag=True, help="Print the summary as JSON.")
def batch(
    source: str,
    out: str | None,
    jobs: int,
    wide: bool,
    overwrite: bool,
    resume: bool,
    quiet: bool,
    prior: str | None,
    settings: str | None,
    json_: bool,
) -> None:
    """Answers to all pieces of a file, row by row in the same order.

    The columns are the fields of a piece file: claim, mass, displaced, conductivity, conductivity.frequency, magnet.
    The settings can name yours under [columns]; all others are carried through. A row that cannot be used is given an
    error message; the other rows are processed.
    """
    from tqdm import tqdm

    from ..batch.files import open_source
    from ..batch.run import check_target, place_for_answers, solve_many
    from ..words.batch import heads_text, summary_text
    from ..words.language import language

    shop = settings_from(settings)
    out = out or str(place_for_answers(source, overwrite or resume))
    hidden = quiet or not sys.stderr.isatty()
    check_target(source, out, overwrite)
    listed = open_source(source, dict(shop.columns))
    click.echo(heads_text(listed, language(shop.answers.language)), err=True, nl=False)
    with tqdm(total=listed.count, unit=" rows", disable=hidden, file=sys.stderr) as bar:
        cores = jobs or os.cpu_count() or 1
        how: dict[str, Any] = {"wide": wide, "overwrite": overwrite, "resume": resume}
        found = solve_many(source, out, None, shop, prior, jobs=cores, told=bar.update, **how)
    told = found.to_dict() | {"answers": out}
    emit(json.dumps(told, indent=2) if json_ else summary_text(found, language(shop.answers.language), out))
