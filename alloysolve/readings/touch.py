"""The touchstone as the trade says it: "14 ct acid: faded" of a streak, "paler than 18 ct" of one beside a needle."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from ..entry import shown
from ..errors import InputError

if TYPE_CHECKING:
    from ..published.metals import Limits
    from ..published.wares import TouchClass

# what is said, and other ways to say it
ANSWERS: Mapping[str, Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "acid": {
            "stayed": ("stays", "holds", "held", "stands", "stood", "unchanged", "no change", "no reaction"),
            "faded": ("fades", "fading", "fainter", "partly gone", "slowly gone", "fades slowly"),
            "gone": ("dissolved", "dissolves", "disappeared", "disappears", "vanished"),
        },
        "needle": {
            "matches": ("match", "like", "same", "equal"),
            "paler": ("lighter", "whiter", "greener"),
            "deeper": ("redder", "yellower", "darker"),
        },
    }
)
SAID: Mapping[str, str] = MappingProxyType({"acid": "{mark} acid: {word}", "needle": "{word} {than}{mark} needle"})
FORMS: Mapping[str, str] = MappingProxyType(
    {
        "acid": '"14 ct acid: stayed", "14 ct acid: faded", "14 ct acid: gone"',
        "needle": '"matches 14 ct needle", "paler than 14 ct needle", "deeper than 14 ct needle"',
    }
)
OTHERS: Mapping[str, tuple[float, ...]] = MappingProxyType(  # how often "something else" gives each answer (judgement)
    {"acid": (0.15, 0.2, 0.65), "needle": (0.1, 0.75, 0.15)}
)
FINENESS = re.compile(r"\b(?P<x>\d{1,4}(?:[.,]\d+)?)\s*(?P<carat>ct|cts|carats?|kt|k|karats?)?\b")
LITTLE = frozenset("acid needle touch streak gold the a it is was with in on by to than as of test".split())  # noqa: SIM905
CARATS, FINENESSES = (8.0, 24.0), (333.0, 1000.0)  # of gold that acids and needles are made for


@dataclass(frozen=True, slots=True)
class Touch:
    """What an acid of some carat did to a streak, or how the streak looks beside a touch needle.

    `by` : "acid" or "needle". `carat` : of the acid or needle. `mark` : the same as written. `word` : the answer.
    """

    by: str
    carat: float
    mark: str
    word: str

    @property
    def text(self) -> str:
        """The answer in the words of the trade."""
        than = "" if self.word == "matches" else "than "
        return SAID[self.by].format(mark=self.mark, word=self.word, than=than)

    @property
    def words(self) -> tuple[str, ...]:
        """All answers that there could have been."""
        return tuple(ANSWERS[self.by])

    def classes(self, rows: Sequence[TouchClass]) -> tuple[StreakClass, ...]:
        """Classes of streaks for the carat of this acid or needle, each with its limits on the composition."""
        return tuple(StreakClass(r.surface, self._limits(r), r.copper_over) for r in rows if r.reading == self.by)

    def shares(self, rows: Sequence[TouchClass]) -> list[list[float]]:
        """How often each class gives each answer."""
        return [[r.answers[word] / 100 for word in self.words] for r in rows if r.reading == self.by]

    def _limits(self, row: TouchClass) -> Limits:
        if row.from_ct is None or row.to_ct is None:
            return row.holds
        low, high = ((self.carat + ct) / 24 * 100 for ct in (row.from_ct, row.to_ct))
        least, most = row.holds["Au"]
        return {**row.holds, "Au": (max(low, least), min(high, most))}


class StreakClass(NamedTuple):
    """A class of what lies outermost, with limits in mass percent, and the least copper over silver and zinc."""

    surface: str
    holds: Limits
    copper_over: float | None


def read_touch(by: str, given: str, path: str) -> Touch | None:
    """What a person said of an acid or a needle; None if no carat is named.

    Raises
    ------
    InputError
        If a carat is named, but it is not clear what was seen; the error lists what may be said.

    >>> read_touch("acid", "18k acid: dissolved", "acid").text
    '18 ct acid: gone'
    """
    text = " ".join(given.casefold().split())
    fine = FINENESS.search(text)
    if fine is None:
        return None
    x = float(fine["x"].replace(",", "."))
    low, high = CARATS if fine["carat"] else FINENESSES
    if not low <= x <= high:
        expected = "an acid or needle of 8 to 24 ct, or of a fineness from 333 to 1000"
        raise InputError(path, shown(given), expected, f"write for example {FORMS[by]}")
    rest = re.findall(r"[a-z]+", text[: fine.start()] + " " + text[fine.end() :])
    said = " ".join(word for word in rest if word not in LITTLE)
    word = next((word for word, also in ANSWERS[by].items() if said == word or said in also), "")
    if not word:
        raise InputError(path, shown(given), f"what was seen: {', '.join(ANSWERS[by])}", f"write {FORMS[by]}")
    return Touch(by, x if fine["carat"] else x / 1000 * 24, f"{fine['x']} ct" if fine["carat"] else fine["x"], word)
