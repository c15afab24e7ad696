"""The pages that a browser asks for, all of them below an address that nobody can guess."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from flask import Flask, Response, redirect, render_template, request
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as AnyResponse

from ..errors import AlloysolveError
from ..inputs.settings import Settings
from ..words.language import Language, language, languages, page_language
from . import form
from .desk import Answered, Desk
from .guard import SHEET_POLICY, guard

if TYPE_CHECKING:
    from ..answer.document import Document

KEYS = {"keep": "k", "page": "p", "next": "n"}  # access keys of the buttons
REFUSED = {403: "refused", 404: "elsewhere", 405: "method", 413: "large", 500: "failed"}


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the template shows: the form as it was filled in, what became of it, and a word on what was kept."""

    given: dict[str, str]
    form: str
    turn: int
    answered: Answered
    said: str = ""


def counter_app(desk: Desk, token: str, port: int, start: str = "") -> Flask:
    """The app that answers on 127.0.0.1 and one port, below ``/token/``.

    `start` is another address that works once and leads there: a browser is started with it, because every user of a
    machine can read with which address a program was started.
    """
    app = Flask(__name__, static_url_path=f"/{token}/static")
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True}
    guard(app, port)
    unused = [start] if start else []

    @app.get(f"/start/{start}")
    def started() -> AnyResponse:
        if not unused:
            return _refusal(404)
        unused.clear()
        return redirect(f"/{token}/")

    @app.get(f"/{token}/")
    def blank() -> str:
        shop = desk.shop()
        return _page(desk, shop, form.form(shop, _say(shop)), Sheet({}, secrets.token_urlsafe(9), 0, Answered()))

    @app.post(f"/{token}/")
    def filled() -> AnyResponse | str:
        return _filled(desk)

    @app.get(f"/{token}/record/<int:number>")
    def record(number: int) -> Response:
        return _sheet(desk.sheet_of_record(number, desk.shop()))

    @app.errorhandler(AlloysolveError)
    def unusable(e: AlloysolveError) -> Response:
        """Settings or tables that cannot be read, or a folder that cannot be written."""
        return Response(f"{e}\n", 422, mimetype="text/plain")

    @app.errorhandler(HTTPException)
    def refused(e: HTTPException) -> Response:
        return _refusal(e.code or 500, str(e.description))

    return app


def _filled(desk: Desk) -> AnyResponse | str:
    """The page after a button or Enter; the page for the seller, if that was asked for; nothing if it is outdated."""
    shop, do = desk.shop(), request.form.get("do", "answer")
    say = _say(shop)
    groups = form.form(shop, say)
    given = form.typed(request.form, form.names(groups))
    own, turn = request.form.get("form", "")[:40], request.form.get("turn", 0, type=int)
    answered = desk.answer(given, shop, own if do == "answer" else "", turn)
    if answered is None:
        return Response(status=204)
    said, d = "", answered.document
    if d and do == "page":
        return _sheet(desk.sheet(d, shop, request.form.get("language", "")))
    if do == "next":
        if desk.may_go(d, own):
            return redirect(request.path, 303)
        said = say.say("counter", "unkept")
    if do == "keep":
        said = say.say("counter", "not_kept")
        if d:
            file, new = desk.keep(d, shop, own)
            said = say.say("counter", "kept" if new else "again", record=int(file.stem))
    return _page(desk, shop, groups, Sheet(given, own, turn, answered, said))


def _say(shop: Settings) -> Language:
    return language(shop.answers.language)


def _page(desk: Desk, shop: Settings, groups: Sequence[form.Group], sheet: Sheet) -> str:
    say = _say(shop)
    return render_template(
        "counter.html",
        say=say,
        shop=shop,
        groups=groups,
        labels=[field.label for group in groups for field in group.fields if field.name in sheet.answered.wrong],
        sheet=sheet,
        answer=_words(sheet.answered.document, say),
        kept=desk.kept_today(shop),
        keys=KEYS,
        languages={code: page_language(code).say("form", "name") for code in languages()},
        printed_in=request.form.get("language", "") or shop.answers.language,
    )


def _words(d: Document | None, say: Language) -> dict[str, Any]:
    """The answer in the words of the terminal, short and in full."""
    from ..words.terminal import answer, short_paragraphs

    return {"short": short_paragraphs(d, say), "full": answer(d, more=True)} if d else {}


def _sheet(html: str) -> Response:
    return Response(html, mimetype="text/html", headers={"Content-Security-Policy": SHEET_POLICY})


def _refusal(code: int, why: str = "") -> Response:
    """Why a request is not answered, in words."""
    say = language()
    reason = say.say("counter", why if say.has("counter", why) else "other")
    text = say.say("counter", REFUSED.get(code, "refused"), reason=reason)
    return Response(f"{text}\n", code, mimetype="text/plain")
