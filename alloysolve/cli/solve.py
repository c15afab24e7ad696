"""``alloysolve solve``: from readings to what the piece probably is."""

from __future__ import annotations

import json
import textwrap
from pathlib import Path
from typing import Any

import click

from ..errors import InputError
from .app import emit, read_standard_input, settings_from
from .options import PieceCommand, given_values


@click.command(cls=PieceCommand)
@click.argument("files", nargs=-1, metavar="[FILE]", help="piece file (TOML or JSON); - reads JSON")
@click.option("--ask", is_flag=True, help="Ask for one reading after the other.")
@click.option("--save", is_flag=True, help="Write readings given as options into the piece file.")
@click.option("--record", is_flag=True, help="Keep the answer; `records` lists what was kept.")
@click.option("--more", is_flag=True, help="Print the whole answer with its tables.")
@click.option("--list", "list_", is_flag=True, help="List every pair, triple and construction that fits.")
@click.option("--csv", is_flag=True, help="With --list: as CSV.")
@click.option("--json", "json_", is_flag=True, help="Print the whole answer as JSON.")
@click.option("--prior", help="default, flat or a file", metavar="NAME")
@click.option("--tables", multiple=True, help="CSV file or folder added to the tables.", metavar="PATH")
@click.option("--settings", help="Settings file.", metavar="FILE")
def solve(
    files: tuple[str, ...],
    ask: bool,
    save: bool,
    record: bool,
    more: bool,
    list_: bool,
    csv: bool,
    json_: bool,
    prior: str | None,
    tables: tuple[str, ...],
    settings: str | None,
    **piece: Any,
) -> None:
    """What a piece probably is.

    The piece comes from a file, from options, or from both: an option beside a file adds a reading.
    """
    from ..inputs.bare import with_units

    _refuse_idle(ask, more, list_, csv, json_)
    file, given = _one_file(files), given_values(piece)
    if not (file or given or ask):
        step = (
            'write for example --claim "silver 999" --mass 31.18 --displaced 3.64, or be asked: alloysolve solve --ask'
        )
        raise InputError("piece", None, "a piece file or what was read", step)
    if save and (not file or file == "-"):
        raise InputError("--save", file or "", "a piece file to write to", "name the file before the options")
    shop = settings_from(settings, tables)
    the_piece = _piece(file, with_units(given, shop), save, shop)
    if ask:
        from .ask import ask as ask_all
        from .ending import end

        end(ask_all(the_piece, shop, prior), file, save, record)
        return
    solution, number = _solved(the_piece, shop, prior, record)
    _answer(solution, more, str(number or (file if file and file != "-" else "")), list_, csv, json_)
    if save and file:
        from .ending import save_to

        save_to(the_piece, file)


def _refuse_idle(ask: bool, more: bool, list_: bool, csv: bool, json_: bool) -> None:
    """An error for options that would change nothing."""
    if more and (list_ or json_):
        raise InputError("--more", "", "no --list and no --json, which print all there is", "leave one out")
    if csv and not list_:
        raise InputError("--csv", "", "--list beside it", "add --list")
    if csv and json_:
        raise InputError("--csv", "", "one of --csv and --json", "leave one out")
    for name, given in (("--list", list_), ("--json", json_), ("--more", more)):
        if ask and given:
            raise InputError(name, "", "no --ask, which prints an answer after each reading", "leave one out")


def _one_file(files: tuple[str, ...]) -> str | None:
    """The piece file, if there is one; an error for words that were meant as a claim or a weight."""
    if len(files) < 2:
        return files[0] if files else None
    step = 'write for example --claim "silver 999" --mass 31.18 --displaced 3.64'
    raise InputError("solve", " ".join(files), "one piece file, or what is known of the piece as options", step)


def _piece(file: str | None, given: dict[str, Any], save: bool, shop: Any) -> Any:
    """The piece of a file with the options added."""
    from ..inputs.bare import with_units
    from ..inputs.piece import Piece, read_piece

    if file is None or (save and not Path(file).exists() and file != "-"):
        return Piece.from_dict(given)
    if file == "-":
        return Piece.from_dict(with_units(read_standard_input(), shop)).with_(**given)
    return _added(read_piece(file, shop), given)


def _added(piece: Any, given: dict[str, Any]) -> Any:
    """A piece with options added: repeats of its weighing are appended, a reading it has is not added again."""
    from ..readings.registry import KINDS

    given = dict(given)
    for name in ("displaced", "in_water"):
        if name in given and getattr(piece, name):
            new = given[name] if isinstance(given[name], list) else [given[name]]
            given[name] = [*(q.text for q in getattr(piece, name)), *new]
    known = {(r.kind, r.text) for r in piece.readings}
    added = type(piece).from_dict({k: v for k, v in given.items() if k in KINDS})
    for reading in added.readings:
        if (reading.kind, reading.text) in known:
            given.pop(reading.kind)
    return piece.with_(**given)


def _solved(piece: Any, shop: Any, prior: str | None, record: bool) -> tuple[Any, int]:
    """The answer and the number of its record, or 0.

    It is kept before it is printed, so that one that cannot be kept is an error and prints nothing.
    """
    from ..answer.solution import solve as solve_piece

    solution = solve_piece(piece, shop, prior=prior)
    if not record:
        return solution, 0
    from .records import keep

    return solution, keep(solution)


def _answer(solution: Any, more: bool, page: str, list_: bool, csv: bool, json_: bool) -> None:
    if list_:
        _print_list(solution, csv, json_)
    elif json_:
        emit(solution.to_json())
    else:
        from ..words.terminal import answer

        emit(answer(solution.document, more, page))


def _print_list(solution: Any, csv: bool, json_: bool) -> None:
    """Prints every mixture and every construction that fits, as text, CSV or JSON."""
    from ..exact.constructions import all_that_fits
    from ..exact.listing import mixtures
    from ..words.cautions import caution_words
    from ..words.language import language
    from ..words.listing import constructions_text, harmful, mixtures_text

    if solution.weighing is None:
        raise InputError("density", "", "a density reading for a listing", "give mass and displaced, or density")
    mixed = mixtures(solution.weighing, tables=solution.tables, evidence=solution.evidence)
    built = all_that_fits(solution, set())
    say = language(solution.settings.answers.language)
    codes = [*harmful((mixed, built), solution.tables), *solution.advice.cautions]
    if json_:
        rows = {"mixtures": mixed, "constructions": built}
        listed = ", ".join(f'"{name}": {frame.to_json(orient="records")}' for name, frame in rows.items())
        emit(f'{{{listed}, "cautions": {json.dumps(list(dict.fromkeys(codes)))}}}')
    elif csv:
        emit(mixed.to_csv(index=False) + "\n" + built.to_csv(index=False))
    else:
        emit(constructions_text(built, solution, say) + mixtures_text(mixed))
        emit(textwrap.fill(" ".join([say.say("caution", "fixed"), caution_words(codes, say)]), 80))
