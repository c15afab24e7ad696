"""Records searched and counted: by words, by what was decided, by what fits, by the day."""

from __future__ import annotations

import os
import re
import unicodedata
from calendar import monthrange
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from ..entry import shown, unknown
from ..errors import InputError
from ..inference.decision import UNDECIDED
from ..inputs.settings import now
from .records import DECISIONS, SOMETHING_ELSE, Summary, read_record

COUNTED = ("decision", "system", "day", "month")
Days = tuple[date, date]  # the first and the last of some days, by the clock of this machine


@dataclass(frozen=True, slots=True)
class Records:
    """Records found, by their numbers, and one error for each file that could not be read.

    Attributes
    ----------
    total : readable records in the folder, found or not.
    """

    found: tuple[Summary, ...]
    skipped: tuple[InputError, ...]
    total: int

    def __iter__(self) -> Iterator[Summary]:
        return iter(self.found)

    def __len__(self) -> int:
        return len(self.found)

    def count(self, by: str = "decision") -> dict[str, int]:
        """Number of records by decision or system, the most frequent first, or by day or month, the latest first."""
        if by not in COUNTED:
            raise unknown("count", by, COUNTED, "what to count by")
        counted = Counter(str(getattr(s, by)) for s in self.found)
        if by in ("day", "month"):
            return dict(sorted(counted.items(), reverse=True))
        return dict(sorted(counted.items(), key=lambda item: (-item[1], item[0])))


def records(
    folder: str | Path,
    text: str = "",
    decision: str = "",
    system: str = "",
    days: Days | None = None,
    open_: bool = False,
) -> Records:
    """Records of a folder that meet every condition given; none if there is no folder.

    Parameters
    ----------
    text : words that all occur in its number, name, note or claim, in any letter case.
    decision : one of `DECISIONS`.
    system : symbols of the metals of the likeliest system in any order, "Cu Zn"; or "something else".
    days : the first and the last day on which they were made.
    open_ : only the undecided ones, without those of which a later record of the same piece is decided.

    Raises
    ------
    InputError
        For a condition that no record could meet, or a folder that cannot be read. A damaged file is no error: it is
        named in `Records.skipped`.
    """
    wanted = (_folded(text).split(), _decision(decision), _system(system), days)
    found: list[Summary] = []
    skipped: list[InputError] = []
    for file in _files(Path(folder)):
        try:
            found.append(read_record(file).summary)
        except InputError as e:
            skipped.append(e)
    found.sort(key=lambda s: s.number)
    last = {_same(s): s.decision for s in found}  # the latest decision on each piece
    kept = [s for s in found if _meets(s, *wanted) and (not open_ or UNDECIDED == s.decision == last[_same(s)])]
    return Records(tuple(kept), tuple(skipped), len(found))


def _same(s: Summary) -> tuple[object, ...]:
    """Equal for records of one piece: same name, claim and mass; a piece without a name is like no other."""
    return (s.name, s.claim, s.mass_g) if s.name else (s.number,)


def counts(folder: str | Path, by: str = "decision") -> dict[str, int]:
    """Number of records in a folder by "decision", "system", "day" or "month", as in `Records.count`."""
    return records(folder).count(by)


def _files(folder: Path) -> list[Path]:
    try:
        names = sorted(n for n in os.listdir(folder) if n.endswith(".json") and not n.startswith("."))
    except FileNotFoundError:
        return []
    except (OSError, ValueError) as e:
        raise InputError(
            str(folder),
            getattr(e, "strerror", None) or str(e),
            "a folder of records that can be read",
            "check the path",
        ) from e
    return [folder / n for n in names]


def _meets(s: Summary, words: list[str], decision: str, system: str, days: Days | None) -> bool:
    said = _folded(f"{s.number:06d}\n{s.name}\n{s.note}\n{s.claim}")
    return (
        decision in ("", s.decision)
        and system in ("", s.system)
        and (days is None or days[0].isoformat() <= s.day <= days[1].isoformat())
        and all(w in said for w in words)
    )


def _folded(text: str) -> str:
    """Text without differences of case and form: full-width and narrow letters are the same."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())


def _decision(given: str) -> str:
    word = " ".join(given.casefold().replace("-", " ").split())
    if word and word not in DECISIONS:
        raise unknown("decision", given, DECISIONS, "a decision")
    return word


def _system(given: str) -> str:
    if " ".join(given.casefold().split()) == SOMETHING_ELSE:
        return SOMETHING_ELSE
    symbols = [s for s in re.split(r"[\s,;+-]+", given) if s]
    if any(not re.fullmatch(r"[A-Za-z]{1,2}", s) for s in symbols):
        raise InputError("system", shown(given), "symbols of metals", 'write for example "Cu Zn"')
    return " ".join(sorted({s.capitalize() for s in symbols}))


def this_day() -> Days:
    """Today."""
    day = now().astimezone().date()
    return day, day


def this_week() -> Days:
    """The days of this week so far, from Monday on (ISO 8601)."""
    day, _ = this_day()
    return day - timedelta(days=day.weekday()), day


def days_of(month: str) -> Days:
    """The days of a month such as "2026-11"."""
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", month.strip(), re.ASCII) or month.strip() < "0001":
        raise InputError("month", shown(month), "a year and a month", "write for example 2026-11")
    first = date.fromisoformat(f"{month.strip()}-01")
    return first, first.replace(day=monthrange(first.year, first.month)[1])
