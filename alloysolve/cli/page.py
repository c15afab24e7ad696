"""``alloysolve page``: the explanation of a test, for the person who brought the piece."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import InputError
from .app import emit, read_standard_input, settings_from

if TYPE_CHECKING:
    from ..answer.records import Record
    from ..answer.solution import Solution

FORMS = {".html": "html", ".htm": "html", ".md": "text", ".txt": "text", ".json": "json"}


# how a page of this program is told from a file of somebody else, by what stands in it
OURS = {
    "html": lambda text: "alloysolve" in text,
    "text": lambda text: "alloysolve" in text,
    "json": lambda text: '"alloysolve.page/' in text,
}


@click.command()
@click.argument(
    "what",
    help="piece file (TOML or JSON), record file or number of a record; - reads JSON",
    metavar="FILE | NUMBER",
)
@click.option(
    "--out", "-o", default="", help="File to write; its ending (.html, .md, .txt, .json) says what.", metavar="FILE"
)
@click.option("--overwrite", is_flag=True, help="Replace a file of that name that is no page of this program.")
@click.option("--anew", is_flag=True, help="Of a record: also solve it again; both are shown.")
@click.option("--logo-anyway", is_flag=True, help="Show the logo also where nothing speaks against the claim.")
@click.option("--language", default="", help="Language of the seller's sheet: en, de, es or fr.", metavar="CODE")
@click.option("--open", "open_", is_flag=True, help="Show it in the browser.")
@click.option("--prior", help="default, flat or a file", metavar="NAME")
@click.option("--tables", multiple=True, help="CSV file or folder added to the tables.", metavar="PATH")
@click.option("--settings", help="Settings file.", metavar="FILE")
def page(
    what: str,
    out: str,
    overwrite: bool,
    anew: bool,
    logo_anyway: bool,
    language: str,
    open_: bool,
    prior: str | None,
    tables: tuple[str, ...],
    settings: str | None,
) -> None:
    """A page that explains the answer to a seller; from its second sheet on, all that an expert needs to check it.

    Without --out, the page of a piece file is written beside it, and that of a record into the current folder; its name
    ends in .html. The page of a record is printed as it stood, without solving again.
    """
    from ..inputs.files import replace_file, spare_others
    from ..words.language import page_language

    shop = settings_from(settings, tables)
    page_language(language or shop.answers.language, "--language" if language else "settings.answers.language")
    record = _record(what, shop)
    if record and (prior or tables):
        raise InputError("--prior" if prior else "--tables", "", "a piece file", "a record is printed as it was found")
    if anew and not record:
        raise InputError("--anew", what, "a record", "leave it out: a piece file is solved in any case")
    target = _target(f"record-{record.number}" if record else "page" if what == "-" else what, out)
    if what != "-" and target.exists() and Path(what).exists() and target.samefile(what):
        raise InputError("--out", str(target), "another file than the one that is read", "choose another name")
    form = FORMS[target.suffix.lower()]
    if not overwrite:
        spare_others(target, OURS[form])
    how = (shop, logo_anyway, language, form)
    replace_file(target, _recorded(record, anew, *how) if record else _solved(what, prior, *how), str(target))
    emit(str(target))
    if open_:
        import webbrowser

        webbrowser.open(target.resolve().as_uri())


def _record(what: str, shop: Any) -> Record | None:
    """The record that is asked for, by its number or its file; None for a piece."""
    from ..answer.records import SCHEMA, read_record, record_file, records_folder
    from ..inputs.files import read_document

    if what.isascii() and what.isdigit() and not Path(what).exists():
        file = record_file(records_folder(shop), int(what))
        if not file.exists():
            raise InputError("page", what, f"the number of a record in {file.parent}", "list them: alloysolve records")
        return read_record(file)
    is_record = what.lower().endswith(".json") and read_document(Path(what)).get("schema") == SCHEMA
    return read_record(what) if is_record else None


def _target(stem: str, out: str) -> Path:
    """The file to which the page is written."""
    target = Path(out) if out else Path(stem).with_suffix(".html")
    if target.suffix.lower() not in FORMS:
        raise InputError("--out", out, f"a file that ends in {', '.join(FORMS)}", "rename it")
    return target


def _solved(what: str, prior: str | None, shop: Any, logo_anyway: bool, language: str, form: str) -> str:
    from ..answer.solution import solve
    from ..inputs.bare import with_units
    from ..inputs.piece import Piece, read_piece
    from ..page.build import page_of, with_shop

    given = with_units(read_standard_input(), shop) if what == "-" else {}
    piece = Piece.from_dict(given) if what == "-" else read_piece(what, shop)
    solution: Solution = solve(piece, shop, prior=prior)
    made = with_shop(page_of(solution.document, code=language), shop, solution.document.code, logo_anyway)
    return _text(solution.document, made, form)


def _recorded(record: Record, anew: bool, shop: Any, logo_anyway: bool, language: str, form: str) -> str:
    from ..page.build import recorded_page, with_shop

    made = recorded_page(record, _again(record).document if anew else None, language)
    return _text(record.solution, with_shop(made, shop, record.summary.decision, logo_anyway), form)


def _again(record: Record) -> Solution:
    """The piece of a record solved by this version, with the settings and the prior it was solved with."""
    from ..answer.solution import solve
    from ..inputs.piece import Piece
    from ..inputs.settings import Settings

    kept = record.solution
    then = Settings.from_dict(kept.settings)
    return solve(Piece.from_dict(kept.inputs), then, prior=kept.prior.name)


def _text(solution: Any, made: Any, form: str) -> str:
    from ..page.build import page_html, page_json, page_text

    if form == "json":
        return page_json(solution, made)
    return page_html(made) if form == "html" else page_text(made)
