"""``alloysolve records``: answers that were kept, listed, searched, counted and shown."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from ..errors import InputError
from .app import emit, settings_from

SPOKEN = ("today", "week", "month", "undecided")  # these options are understood without their dashes as well
MONTH: dict[str, Any] = {"is_flag": False, "flag_value": "", "metavar": "[MONTH]"}


@click.command()
@click.argument("what", nargs=-1, metavar="[NUMBER | find WORDS | export FILE]")
@click.option("--today", is_flag=True, help="Only those of today.")
@click.option("--week", is_flag=True, help="Only those of this week, from Monday on.")
@click.option("--month", help="Only those of a month, 2026-11; without one, of this month.", **MONTH)
@click.option("--undecided", is_flag=True, help="Only those to look at again: undecided, and not decided since.")
@click.option("--decision", default="", help="contradicted, undecided, not contradicted or none", metavar="WORD")
@click.option("--system", default="", help='metals of what fits first, e.g. "Cu Zn"', metavar="METALS")
@click.option("--count", default="", help="Count them by decision, system, day or month.", metavar="BY")
@click.option("--more", is_flag=True, help="Of one record: the whole answer with its tables.")
@click.option("--csv", is_flag=True, help="Print all of them as CSV.")
@click.option("--json", "json_", is_flag=True, help="Print JSON; of one record, all of it, which `solve -` reads.")
@click.option("--overwrite", is_flag=True, help="Let export replace a file that it did not write.")
@click.option("--folder", default="", help="Folder of the records.", metavar="FOLDER")
@click.option("--settings", help="Settings file.", metavar="FILE")
def records(
    what: tuple[str, ...],
    today: bool,
    week: bool,
    month: str | None,
    undecided: bool,
    decision: str,
    system: str,
    count: str,
    more: bool,
    csv: bool,
    json_: bool,
    overwrite: bool,
    folder: str,
    settings: str | None,
) -> None:
    """Answers kept by `solve --record`, the latest first.

    With a number, that answer as it stood, without solving again. `find` searches names, notes and claims for words.
    `export` writes all that is found to a CSV file for people; --csv prints one for programs.
    """
    from ..answer import search
    from ..words.language import language

    if csv and json_:
        raise InputError("--csv", "", "one of --csv and --json", "leave one out")
    said = what[0] if len(what) == 1 and what[0] in SPOKEN else ""
    today, week, undecided = today or said == "today", week or said == "week", undecided or said == "undecided"
    month, what = "" if said == "month" and month is None else month, () if said else what
    shop = settings_from(settings)
    place, say = _folder(folder, shop), language(shop.answers.language)
    days = _days(today, week, month)
    number, words, file = _what(what)
    conditions = {"--today, --week or --month": days, "--undecided": undecided, "--decision": decision}
    conditions |= {"--system": system, "--count": count, "--csv": csv}
    _refuse_idle(conditions if number else {"--more": more}, number or "a list")
    _refuse_idle({"--count": count, "--csv": csv, "--json": json_} if file else {"--overwrite": overwrite}, file)
    if number:
        _show(_one(number, place), json_, more, say)
        return
    found = search.records(place, words, decision, system, days, undecided)
    if file:
        _export(found, file, overwrite, shop, say)
    else:
        _print(found, count, place, say, "csv" if csv else "json" if json_ else "text")


def _what(given: tuple[str, ...]) -> tuple[str, str, str]:
    """Number of a record, words to find and file to write; those that were not asked for are empty."""
    if not given:
        return "", "", ""
    first, *others = given
    if first == "find" and others:
        return "", " ".join(others), ""
    if first == "export" and len(others) == 1:
        return "", "", others[0]
    if not others and re.fullmatch(r"[0-9]{1,18}", first, re.ASCII):
        return first, "", ""
    asked = " ".join(given)
    expected, step = "the number of a record, find with words, or export with a file", f"try records find {asked}"
    raise InputError("records", asked, expected, step)


def _days(today: bool, week: bool, month: str | None) -> Any:
    """The first and the last day asked for; None for all days."""
    from ..answer.search import days_of, this_day, this_week

    if today + week + (month is not None) > 1:
        raise InputError("--month" if month else "--week", "", "one of --today, --week and --month", "leave one out")
    if today:
        return this_day()
    return this_week() if week else None if month is None else days_of(month or this_day()[0].isoformat()[:7])


def _refuse_idle(options: Mapping[str, Any], beside: str) -> None:
    """An error for options that would change nothing."""
    for name, given in options.items():
        if given:
            raise InputError(name, "", f"no {name} beside {beside or 'a list'}", "leave it out")


def _folder(option: str, shop: Any) -> Path:
    from ..answer.records import records_folder

    if option and not Path(option).is_dir():
        raise InputError("--folder", option, "a folder of records", "check the path")
    return Path(option) if option else records_folder(shop)


def _one(number: str, folder: Path) -> Path:
    """File of the record with a number."""
    from ..answer.records import last_number, record_file

    file = record_file(folder, int(number))
    if not file.exists():
        last = last_number(folder)
        kept = f"a number from 1 to {last}" if last else f"a record in {folder}, which holds none"
        raise InputError("records", number, kept, f"there is no record {int(number)}; list them: alloysolve records")
    return file


def _show(file: Path, json_: bool, more: bool, say: Any) -> None:
    from ..answer.records import read_record
    from ..words.records import record_text

    record = read_record(file)
    whole = json.dumps(json.loads(file.read_bytes()), indent=2, ensure_ascii=False) if json_ else ""
    emit(whole or record_text(record, say, more))


def _export(found: Any, file: str, overwrite: bool, shop: Any, say: Any) -> None:
    from ..inputs.files import replace_file, spare_others
    from ..words import records as words
    from ..words.language import page_language

    if not file.lower().endswith(".csv"):
        raise InputError("export", file, "a file that ends in .csv", "rename it")
    here = page_language(shop.answers.language)
    if not overwrite:
        spare_others(Path(file), lambda text: text.startswith(words.export_csv((), say, here).strip()))
    replace_file(Path(file), words.export_csv(found, say, here), file)
    key = "exported_one" if found.total == 1 else "exported"
    emit(say.say("records", key, count=len(found), total=found.total, file=file))
    for line in words.skipped_lines(found, say):
        sys.stderr.write(line + "\n")


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
    from ..inputs.settings import now
    from ..page.build import keep_answer
    from ..words.language import language

    shop = solution.settings
    file = keep_answer(solution.document, shop, now())
    say = language(shop.answers.language)
    number = int(file.stem)
    sys.stderr.write(say.say("records", "saved", number=number, file=file) + "\n")
    return number
