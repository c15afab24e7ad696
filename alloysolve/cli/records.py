"""``alloysolve records``: answers that were kept, listed, searched, counted and shown."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import Any

import click

from ..errors import InputError
from .app import emit, settings_from


@click.command()
@click.argument(
    "what",
    required=False,
    help="the number of a record to show, or words of its name, note or claim",
    metavar="[NUMBER | TEXT]",
)
@click.option("--decision", default="", help="contradicted, undecided, not contradicted or none", metavar="WORD")
@click.option("--system", default="", help='metals of what fits first, e.g. "Cu Zn"', metavar="METALS")
@click.option("--month", default="", help="only this month, e.g. 2026-11", metavar="MONTH")
@click.option("--count", default="", help="Count them by decision, system, day or month.", metavar="BY")
@click.option("--csv", is_flag=True, help="Print all of them as CSV.")
@click.option("--json", "json_", is_flag=True, help="Print JSON; of one record, all of it, which `solve -` reads.")
@click.option("--folder", default="", help="Folder of the records.", metavar="FOLDER")
@click.option("--settings", help="Settings file.", metavar="FILE")
def records(
    what: str | None,
    decision: str,
    system: str,
    month: str,
    count: str,
    csv: bool,
    json_: bool,
    folder: str,
    settings: str | None,
) -> None:
    """Answers kept by `solve --record`, the latest first.

    With a number, that answer as it stood, without solving again.
    """
    from ..answer import records as kept
    from ..words.language import language

    if csv and json_:
        raise InputError("--csv", "", "one of --csv and --json", "leave one out")
    shop = settings_from(settings)
    place, say = _folder(folder, shop), language(shop.answers.language)
    one = None if decision or system or month or count or csv else _one(what, place)
    if one is not None:
        _show(one, json_, say)
        return
    found = kept.records(place, what or "", decision, system, month)
    _print(found, count, place, say, "csv" if csv else "json" if json_ else "text")


def _folder(option: str, shop: Any) -> Path:
    from ..answer.records import records_folder

    if option and not Path(option).is_dir():
        raise InputError("--folder", option, "a folder of records", "check the path")
    return Path(option) if option else records_folder(shop)


def _one(what: str | None, folder: Path) -> Path | None:
    """File of the record with a number; a number that no record has is searched for as text."""
    from ..answer.records import record_file

    if what is None or not re.fullmatch(r"[1-9][0-9]{0,17}", what):
        return None
    file = record_file(folder, int(what))
    return file if file.exists() else None


def _show(file: Path, json_: bool, say: Any) -> None:
    from ..answer.records import read_record
    from ..words.records import record_text

    record = read_record(file)
    emit(json.dumps(json.loads(file.read_bytes()), indent=2, ensure_ascii=False) if json_ else record_text(record, say))


def _print(found: Any, count: str, folder: Path, say: Any, form: str) -> None:
    from ..words import records as words

    if form == "json":
        emit(words.records_json(found, count))
    elif form == "csv":
        emit(words.counts_csv(found, count) if count else words.records_csv(found))
    else:
        emit(words.counts_text(found, count, folder, say) if count else words.records_text(found, folder, say))
    for line in words.skipped_lines(found, say):
        sys.stderr.write(line + "\n")


def keep(solution: Any) -> int:
    """Keeps an answer and the page that explains it in the shop's folder, says so on stderr, and returns its number."""
    from datetime import UTC, datetime

    from ..page.build import keep_answer
    from ..words.language import language

    shop = solution.settings
    file = keep_answer(solution.document, shop, datetime.now(UTC))
    say = language(shop.answers.language)
    number = int(file.stem)
    sys.stderr.write(say.say("records", "saved", number=number, file=file) + "\n")
    return number
