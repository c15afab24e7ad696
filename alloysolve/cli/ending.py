"""What is kept at the end of `solve --ask`: the piece file, a record, the page for the seller."""

from __future__ import annotations

import re
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import InputError
from .app import emit
from .ask import Asked, Back, Stopped, read, say_wrong
from .questions import WIDTH

if TYPE_CHECKING:
    from ..answer.solution import Solution
    from ..words.language import Language

YES, NO = ("yes", "y"), ("no", "n", "-", "")


def end(asked: Asked, file: str | None, save: bool, record: bool) -> None:
    """Asks what is to be kept, unless the options say it, and then writes it; nothing is written before the last reply.

    Parameters
    ----------
    file : the piece file that was read, if there was one. save, record : the options of these names.
    """
    if asked.solution is None:
        emit(asked.say.say("ask", "no_answer"))
        if save and file:
            save_to(asked.piece, file)
        return
    say = asked.say
    with asked.resumable():
        target = file if save else _file(asked.piece, file, say)
        record = record or _yes("keep a record of this answer", say.say("ask", "record"))
        page = _free(asked.piece, ".html") if _yes("write the page for the seller", say.say("ask", "page")) else ""
    if target:
        save_to(asked.piece, target)
    if record:
        from .records import keep

        keep(asked.solution)
    if page:
        _write_page(asked.solution, page)
        emit(say.say("ask", "page_written", file=page))


def save_to(piece: Any, file: str) -> None:
    """Writes the piece file, and says so on stderr."""
    from ..inputs.piece import save_piece

    save_piece(piece, file)
    sys.stderr.write(f"saved: {file}\n")


def _reply(prompt: str, about: str) -> str:
    """The reply to a question after the last reading; the end of the input is an empty one. `about` explains it."""
    while True:
        try:
            if (reply := read(prompt)) != "?":
                return reply
            emit(textwrap.fill(about, WIDTH, initial_indent="  ", subsequent_indent="  "))
        except Stopped:
            return ""
        except Back:
            emit("  The readings are complete. Enter means no.")


def _yes(what: str, about: str) -> bool:
    while (reply := _reply(f"{what}: yes or no", about).casefold()) not in (*YES, *NO):
        emit(f"  {reply!r}: expected yes or no. Enter means no.")
    return reply in YES


def _file(piece: Any, file: str | None, say: Language) -> str:
    """The piece file to write; "" for none. One that is there already is only written if it was read.

    A reply without the ending of a piece file may have been meant otherwise, so it is asked about.
    """
    about = say.say("ask", "file")
    if file and file != "-":
        return file if _yes(f"write these readings into {file}", about) else ""
    while True:
        reply = _reply("save as a piece file: yes, or the name of a file", about)
        if reply.casefold() in (*YES, *NO):
            return _free(piece, ".toml") if reply.casefold() in YES else ""
        whole = Path(reply).suffix.lower() in (".toml", ".json")
        name = reply if whole else f"{reply}.toml"
        if " " in name or Path(name).exists():
            say_wrong(InputError("", name, "a name without blanks that no file has yet", "Choose another name"))
        elif whole or _yes(f"write a new file {name}", about):
            return name


def _free(piece: Any, ending: str) -> str:
    """The name of a file that is not there yet, after the name of the piece."""
    stem = re.sub(r"[^\w.-]+", "-", piece.name)[:60].strip("-.") or "piece"
    names = (f"{stem}{number}{ending}" for number in ("", *(f"-{n}" for n in range(2, 10_000))))
    return next(name for name in names if not Path(name).exists())


def _write_page(solution: Solution, target: str) -> None:
    from ..inputs.files import replace_file
    from ..inputs.settings import now
    from ..page.build import day_of, page_html, page_of, with_shop

    made = page_of(solution.document, day_of(now()))
    replace_file(Path(target), page_html(with_shop(made, solution.settings, solution.document.code)), target)
