"""Asks the questions one after the other, with an answer after each reading.

A reply that cannot be used is asked for again; one that "back" took away can be kept.
"""

from __future__ import annotations

import os
import shlex
import sys
import textwrap
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import cached_property
from typing import TYPE_CHECKING

from ..errors import AlloysolveError, InputError, shown
from ..inputs.piece import Piece
from ..readings.registry import KINDS
from .app import emit
from .questions import WIDTH, Question, questions

if TYPE_CHECKING:
    from ..answer.solution import Solution
    from ..inputs.settings import Settings
    from ..published.load import Tables
    from ..words.language import Language

CLEAR = "-"  # leaves a question without an answer, also one that had an answer
NOTHING = ("no", "none")  # the same, said of anything but a reading
LIGHTEST = 2.0  # g/cm3; magnesium alloys, the lightest metals of medals, have 1.74 to 1.83: asked once more


class Stopped(Exception):  # noqa: N818  (no error: nothing more will be said)
    """Raised where the person stops, or the input ends."""


class Back(Exception):  # noqa: N818
    """Raised where the person wants the question before."""


class Asked:
    """What was said so far, and the last answer that came of it."""

    def __init__(self, piece: Piece, shop: Settings, prior: str | None) -> None:
        self.piece, self.shop, self.prior = piece, shop, prior
        self._questions = questions(shop)
        self._said: list[tuple[int, Piece, str]] = []  # number of a question, the piece before it, the reply
        self._undone: list[tuple[int, str]] = []  # replies that "back" took away: Enter keeps them
        self._solved: tuple[Piece, Solution] | None = None
        self._answered: Piece | None = None
        self._printed: set[str] = set()  # the sentences of the last answer
        self._doubted = ""
        self._unmeasured = False

    @property
    def solution(self) -> Solution | None:
        """The answer to all that was said; None if nothing was measured, or nothing that can be used together."""
        return self._solved[1] if self._solved and self._solved[0] == self.piece else None

    @cached_property
    def _tables(self) -> Tables:
        from ..inputs.settings import tables_of

        return tables_of(self.shop)

    @cached_property
    def say(self) -> Language:
        """The language of the screen."""
        from ..words.language import language

        return language(self.shop.answers.language)

    def all(self) -> None:
        """Asks one question after the other, from the weighing on again where nothing was measured."""
        weighing = next(k for k, question in enumerate(self._questions) if question.keys == ("mass",))
        with suppress(Stopped):
            self._from(0)
            while self._unmeasured:
                emit(textwrap.fill(self.say.say("ask", "unmeasured"), WIDTH))
                self._from(weighing)
        self.answer()

    def _from(self, at: int) -> None:
        """Asks from a question to the last one."""
        while at < len(self._questions):
            question = self._questions[at]
            if self._settled(question):
                at += 1
                continue
            if question.keys[0] in KINDS or question.again:
                self.answer()  # of all that was said before the first reading
            before = self.piece
            try:
                reply = self._asked(question, self._before(at))
            except Back:
                at = self._back(at)
                continue
            if self._undone and self._undone[-1][0] == at:
                self._undone.pop()
            self._said.append((at, before, reply))
            at += not (reply and question.again)
        self.answer()

    def _before(self, at: int) -> str:
        """The reply to a question that "back" took away; those to questions that were passed over are forgotten."""
        while self._undone and self._undone[-1][0] < at:
            self._undone.pop()
        return self._undone[-1][1] if self._undone and self._undone[-1][0] == at else ""

    def _back(self, at: int) -> int:
        """The question before, with the piece as it was then."""
        if not self._said:
            emit("  This is the first question.")
            return at
        at, self.piece, reply = self._said.pop()
        self._undone.append((at, reply))
        return at

    @contextmanager
    def resumable(self) -> Iterator[None]:
        """Where Ctrl-C ends the questions, says with which command they go on; nothing is written."""
        try:
            yield
        except KeyboardInterrupt:
            typed = [word for at, _, reply in self._said if reply for word in self._questions[at].options(reply)]
            if typed:
                sys.stderr.write(f"\n{self.say.say('ask', 'resume', command=command_line(sys.argv[1:] + typed))}\n")
            raise

    def _settled(self, question: Question) -> bool:
        """Whether there is nothing to ask: the file has it, or a reading needs dimensions that are not known."""
        p, kinds = self.piece, {r.kind for r in self.piece.readings}
        if question.again:
            return False
        if any(key in kinds or getattr(p, key, None) for key in question.keys):
            return True
        if question.keys[0] in ("displaced", "in_water"):
            return p.mass is None or p.density is not None
        of = KINDS.get(question.keys[0])
        return of is not None and of.sized and not (p.mass and (p.disc or p.bar or p.rod))

    def _asked(self, question: Question, before: str = "") -> str:
        """Asks until the reply can be used or the question is skipped; the reply, "" for none.

        `before` : the reply that Enter keeps.
        """
        if not question.again:
            self._caution(question.keys[0])
        prompt = f"{question.prompt} [{before}]" if before else question.prompt
        while True:
            reply = read(prompt) or before
            if reply == "?":
                emit(question.help(self.say))
                continue
            if reply.casefold() == "more":
                self._print(more=True)
                continue
            if reply in ("", CLEAR) or (reply.casefold() in NOTHING and question.keys[0] not in KINDS):
                return ""
            try:
                given = question.read(reply)
                if question.named and not any(given.values()):  # only the name: its own question
                    value = self._asked(Question(tuple(given)))
                    return value and f"{reply} {value}"
                self.piece = self._with(given)
            except AlloysolveError as e:
                say_wrong(e)
                continue
            return reply

    def _caution(self, key: str) -> None:
        from ..words.cautions import caution_words

        if key in KINDS and KINDS[key].caution:
            emit(textwrap.fill(caution_words([KINDS[key].caution], self.say), WIDTH))

    def _with(self, given: Mapping[str, str]) -> Piece:
        """The piece with a value added, which must agree with the tables and with what was weighed."""
        from ..inference.weigh_piece import density_of
        from ..inputs.bare import with_units
        from ..inputs.claim import parse_claim

        piece = self.piece.with_(**with_units(given, self.shop))
        if "claim" in given:
            parse_claim(piece.claim, self._tables)
        piece.inclusions(self._tables)
        weighed = density_of(piece, self.shop, self._tables)
        key, text = next(iter(given.items()))
        if key in ("displaced", "in_water") and weighed and weighed.density.value < LIGHTEST and self._doubted != text:
            self._doubted = text
            other = "in water" if key == "displaced" else "displaced"
            step = f"If it is the other number, write: {other} {text}. If it is right, type it again"
            raise InputError(key, text, f"a density of metal, not {weighed.density.value:.2f} g/cm3", step)
        if key in KINDS:
            self._solve(piece)
        return piece

    def _solve(self, piece: Piece) -> None:
        from ..answer.solution import solve

        if self._solved is None or self._solved[0] != piece:
            self._solved = piece, solve(piece, self.shop, prior=self.prior)

    def answer(self) -> None:
        """Prints the answer to all that was said, unless nothing was measured or it stands there already."""
        if self.piece == self._answered:
            return
        self._answered, self._unmeasured = self.piece, False
        try:
            self._solve(self.piece)
        except AlloysolveError as e:
            self._unmeasured = e.path == "piece"  # no single field is wrong: there is nothing yet to answer from
            if not self._unmeasured:
                say_wrong(e)
        self._print()

    def _print(self, more: bool = False) -> None:
        """Prints the short answer; of a later one only what it always says, as far as the last did not say it."""
        from ..words.short import short_sentences
        from ..words.terminal import SHORT, answer, short_lines

        if self.solution is None:
            return
        d = self.solution.document
        if more:
            emit(f"\n{answer(d, more)}")
            return
        sentences = short_sentences(d, self.say)
        if self._printed:
            new = [text for rank, text in sentences if rank == 0 and text not in self._printed]
            lines = [textwrap.fill(text, WIDTH, break_long_words=False, break_on_hyphens=False) for text in new]
        else:
            lines = short_lines(d, self.say, SHORT, self.say.say("short", "ask"))
        self._printed = {text for _, text in sentences}
        if lines:
            emit("\n" + "\n".join(lines))


def read(prompt: str) -> str:
    """A reply, without blanks around it; Ctrl-C leaves the command."""
    sys.stdout.flush()
    try:
        reply = " ".join(input(f"{prompt}: ").split())
    except EOFError:
        emit("")
        raise Stopped from None
    if reply.casefold() == "stop":
        raise Stopped
    if reply.casefold() == "back":
        raise Back
    return reply


def say_wrong(e: AlloysolveError) -> None:
    """Says in words why a reply cannot be used, before it is asked for again."""
    text = f"{shown(e.given)}: expected {e.expected}. {e.next_step[:1].upper()}{e.next_step[1:]}"
    text += "" if text.endswith((".", "?", "!")) else "."
    emit(textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="  ", break_long_words=False))


def command_line(words: list[str]) -> str:
    """The command of this program with some words, as it is typed."""
    if os.name == "nt":
        from subprocess import list2cmdline

        return list2cmdline(["alloysolve", *words])
    return shlex.join(["alloysolve", *words])


def ask(piece: Piece, shop: Settings, prior: str | None) -> Asked:
    """The piece with everything that was asked for and given, and its answer."""
    with suppress(ImportError):
        import readline  # noqa: F401  (arrow keys in the replies of a terminal)
    if hasattr(sys.stdin, "reconfigure"):
        sys.stdin.reconfigure(errors="replace")
    asked = Asked(piece, shop, prior)
    emit(asked.say.say("ask", "how"))
    with asked.resumable():
        asked.all()
    return asked
