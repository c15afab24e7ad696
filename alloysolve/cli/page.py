"""``alloysolve page``: the explanation of a test, for the person who brought the piece."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from ..errors import InputError
from .app import app, emit, read_standard_input, settings_from

FORMS = {".html": "html", ".htm": "html", ".md": "text", ".txt": "text", ".json": "json"}


@app.command()
def page(
    file: Annotated[str, typer.Argument(help="piece file (TOML or JSON); - reads JSON")],
    out: Annotated[
        str, typer.Option("--out", "-o", help="File to write; its ending (.html, .md, .txt, .json) says what.",
                          metavar="FILE")
    ] = "",
    logo_anyway: Annotated[
        bool, typer.Option("--logo-anyway", help="Show the logo also where nothing speaks against the claim.")
    ] = False,
    prior: Annotated[str | None, typer.Option("--prior", help="default or flat", metavar="NAME")] = None,
    tables: Annotated[
        list[str] | None,
        typer.Option("--tables", help="CSV file or folder added to the tables.", metavar="PATH"),
    ] = None,
    settings: Annotated[str | None, typer.Option("--settings", help="Settings file.", metavar="FILE")] = None,
) -> None:  # fmt: skip
    """A page that explains the answer to a seller; from its second sheet all that an expert needs to check it.

    Without --out it stands beside the piece file, and ends in .html.
    """
    from ..explain.page import page_of
    from ..inverse.files import replace_file
    from ..inverse.piece import Piece, read_piece
    from ..inverse.solve import solve

    target = _target(file, out)
    shop = settings_from(settings, tables)
    piece = Piece.from_dict(read_standard_input()) if file == "-" else read_piece(file)
    solution = solve(piece, shop, prior=prior)
    made = page_of(solution, logo_anyway=logo_anyway)
    replace_file(target, _text(solution, made, FORMS[target.suffix.lower()]), str(target))
    emit(str(target))


def _target(file: str, out: str) -> Path:
    """Where the page goes: never over the piece file."""
    target = Path(out) if out else Path("page.html" if file == "-" else file).with_suffix(".html")
    if target.suffix.lower() not in FORMS:
        raise InputError("--out", out, f"a file that ends in {', '.join(FORMS)}", "rename it")
    if file != "-" and target.exists() and Path(file).exists() and target.samefile(file):
        raise InputError("--out", str(target), "another file than the piece file", "choose another name")
    return target


def _text(solution: Any, made: Any, form: str) -> str:
    from ..explain.page import page_html, page_json, page_text

    if form == "json":
        return page_json(solution, made)
    return page_html(made) if form == "html" else page_text(made)
