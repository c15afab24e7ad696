"""The desk behind the page: answers what was typed, one piece at a time, and keeps records where asked to.

The engine is imported by the functions that need it, so that the first page is there while `Desk.warm` loads it.
"""

from __future__ import annotations

import json
import os
import re
from collections import OrderedDict
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from itertools import takewhile
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, TypeVar

from ..answer.records import Summary, read_record, record_file, records_folder
from ..errors import AlloysolveError, InputError
from ..inputs.piece import Piece
from ..inputs.settings import Settings, find_settings, now, today
from .form import field_of, read

if TYPE_CHECKING:
    from ..answer.document import Document

T = TypeVar("T")
REMEMBERED = 50  # forms, and answers of them, that are remembered while the program runs
WARM = {"claim": "silver 999", "mass": "31.10 g", "displaced": "2.97 g", "magnet": "none"}  # any usual piece


@dataclass(frozen=True, slots=True)
class Answered:
    """What became of what was typed.

    Attributes
    ----------
    document : the answer; None if something is wrong, or if nothing has been read yet. wrong : errors by field, "" for
        one that belongs to none.
    """

    document: Document | None = None
    wrong: Mapping[str, str] = field(default_factory=dict)


class Desk:
    """Answers pieces for any number of pages at once; one is worked on at a time.

    Settings are read again for each piece, so that a scale that was checked meanwhile counts.
    """

    def __init__(self, settings: str | None = None) -> None:
        self._settings = settings
        self._at_work = Lock()  # two answers at once take twice as long, and matplotlib draws in one thread
        self._noting = Lock()  # for what is only looked up, so that a list of records never waits for an answer
        self._latest: OrderedDict[str, int] = OrderedDict()
        self._known: OrderedDict[str, Document] = OrderedDict()
        self._kept: OrderedDict[str, tuple[Document, int]] = OrderedDict()
        self._warned: OrderedDict[str, Document] = OrderedDict()
        self._read: dict[Path, tuple[float, Summary]] = {}

    def shop(self) -> Settings:
        """The settings of the shop as they stand now."""
        return find_settings(self._settings)

    def warm(self) -> None:
        """Loads the tables and whatever else a first answer and a first page need."""
        from ..answer.solution import solve
        from ..page.build import page_html, page_of

        # an error in tables or settings is told to whoever types the first piece
        with self._at_work, suppress(AlloysolveError):
            page_html(page_of(solve(Piece(**WARM), self.shop()).document))

    def answer(self, given: Mapping[str, str], shop: Settings, form: str = "", turn: int = 0) -> Answered | None:
        """The answer to what was typed; None if the same form has sent something later meanwhile.

        Parameters
        ----------
        form, turn : which form sent it, and a number that rises with each time it does; "" if it must be answered.
        """
        from ..answer.solution import solve

        if form:
            with self._noting:
                _remember(self._latest, form, max(turn, self._latest.get(form, 0)))
        piece, wrong = read(given, shop)
        if piece is None:
            return Answered(wrong=wrong)
        key = json.dumps([piece.to_dict(), shop.to_dict(), today().isoformat()], sort_keys=True)
        with self._at_work:
            if self._latest.get(form, 0) > turn:
                return None
            if key not in self._known:
                try:
                    _remember(self._known, key, solve(piece, shop).document)
                except AlloysolveError as e:
                    nothing_read = e.path == "piece"
                    return Answered(wrong={} if nothing_read else {field_of(e.path, given): str(e)})
            return Answered(self._known[key])

    def keep(self, document: Document, shop: Settings, form: str) -> tuple[Path, bool]:
        """The record of an answer, and whether it was made now: a form that asks twice gets the record it has."""
        from ..page.build import keep_answer

        with self._at_work:
            before = self._kept.get(form)
            if before and before[0] == document:
                return record_file(records_folder(shop), before[1]), False
            file = keep_answer(document, shop, now())
            _remember(self._kept, form, (document, int(file.stem)))
            return file, True

    def may_go(self, document: Document | None, form: str) -> bool:
        """Whether a form may be emptied: its answer is kept, or it was asked for a second time, after a warning."""
        with self._noting:
            kept = self._kept.get(form)
            if document is None or (kept and kept[0] == document) or self._warned.get(form) == document:
                return True
            _remember(self._warned, form, document)
            return False

    def sheet(self, document: Document, shop: Settings, code: str) -> str:
        """The page for the seller in the language of a code, as HTML."""
        from ..page.build import day_of, page_html, page_of, with_shop

        with self._at_work:
            return page_html(with_shop(page_of(document, day_of(now()), code), shop, document.code))

    def sheet_of_record(self, number: int, shop: Settings) -> str:
        """The page of a record as it stood, as HTML; an `InputError` if there is none."""
        from ..page.build import page_html, recorded_page, with_shop

        file = record_file(records_folder(shop), number)
        if not file.exists():
            raise InputError("page", number, "the number of a record", "list them: alloysolve records")
        with self._at_work:
            record = read_record(file)
            return page_html(with_shop(recorded_page(record), shop, record.summary.decision))

    def kept_today(self, shop: Settings) -> list[Summary]:
        """The records that were made today, the latest first; each file is read once."""
        day = today()
        midnight = datetime(day.year, day.month, day.day).timestamp()
        try:
            numbered = [f for f in os.scandir(records_folder(shop)) if re.fullmatch(r"\d{1,18}\.json", f.name)]
            numbered.sort(key=lambda f: int(f.name[:-5]), reverse=True)
            # of many years' records only the last are looked at
            latest = takewhile(lambda f: f.stat().st_mtime >= midnight, numbered)
            recent = {Path(f.path): f.stat().st_mtime for f in latest}
        except OSError:  # no folder yet, or one that cannot be read: keeping says so
            return []
        with self._noting:
            self._read = {file: read for file, read in self._read.items() if recent.get(file) == read[0]}
            for file in recent.keys() - self._read.keys():
                with suppress(InputError):  # `alloysolve records` names those that cannot be read
                    self._read[file] = recent[file], read_record(file).summary
            found = [summary for _, summary in self._read.values() if summary.day == day.isoformat()]
        return sorted(found, key=lambda s: -s.number)


def _remember(where: OrderedDict[str, T], key: str, value: T) -> None:
    where[key] = value
    where.move_to_end(key)
    while len(where) > REMEMBERED:
        where.popitem(last=False)
