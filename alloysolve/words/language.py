"""The sentences of one language, from one file.

English is whole. The file of another language holds what the sheet for a seller needs, under the same keys; besides, it
says how numbers and days are written, what things in the tables are called, and how words that people type read.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from ..errors import InputError

ENGLISH = "en"
AS_TYPED = ("name", "note", "day", "version", "current")  # values in which no point is a decimal mark of ours
POINT = re.compile(r"(?<=\d)\.(?=\d)")


class Language:
    """Templates by section and key; `say` fills them in."""

    def __init__(self, templates: Mapping[str, Mapping[str, str]], code: str) -> None:
        self._templates = templates
        self.code = code

    def say(self, section: str, key: str, /, **values: Any) -> str:
        """The sentence of a key with its values filled in."""
        if self.decimal_mark != ".":
            values = {k: v if k in AS_TYPED or not isinstance(v, str) else self.number(v) for k, v in values.items()}
        text = self._templates[section][key].format(**values)
        for pattern, instead in self._meeting:
            text = pattern.sub(instead, text)
        return text

    def has(self, section: str, key: str) -> bool:
        """Whether there is a sentence for a key."""
        return key in self._templates.get(section, {})

    def metal(self, symbol: str) -> str:
        """Name of a metal."""
        return self._templates["metal"].get(symbol, symbol)

    def called(self, words: str) -> str:
        """The name of a family or part of the tables, which have it in English."""
        return self._templates.get("called", {}).get(words, words)

    def typed(self, text: str) -> str:
        """What people type in English, such as a claim or a place, as far as the language has the words."""
        for pattern, instead in self._typed:
            text = pattern.sub(instead, text)
        return self.number(text)

    def number(self, text: str) -> str:
        """A text with its numbers as the language writes them."""
        return text if self.decimal_mark == "." else POINT.sub(self.decimal_mark, text)

    def day(self, iso: Any) -> str:
        """A day of the form 2026-03-12 as the language writes it."""
        year, _, rest = str(iso).partition("-")
        month, _, day = rest.partition("-")
        return self._templates["form"]["day"].format(year=year, month=month, day=day) if day else str(iso)

    def within(self, noun: str) -> str:
        """A noun that began a line, as it is written within a sentence."""
        return noun if self._templates["form"]["nouns"] == "capital" else noun[:1].lower() + noun[1:]

    @cached_property
    def decimal_mark(self) -> str:
        """The decimal mark."""
        return self._templates["form"]["decimal_mark"]

    @cached_property
    def _meeting(self) -> list[tuple[re.Pattern[str], str]]:
        """What becomes of words where they meet: "de argent" is "d'argent"."""
        return [(re.compile(pattern), instead) for pattern, instead in self._templates.get("meeting", {}).items()]

    @cached_property
    def _typed(self) -> list[tuple[re.Pattern[str], str]]:
        found = self._templates.get("typed", {}).items()
        return [(re.compile(rf"(?<![\w-])(?:{a})(?![\w-])", re.IGNORECASE), b) for a, b in found]


def language(code: str = ENGLISH) -> Language:
    """The language of the screen for those who chose a language: English, until another one is whole.

    Raises
    ------
    InputError
        For a language that is not available, naming those that are.
    """
    page_language(code)
    return page_language(ENGLISH)


@lru_cache(maxsize=8)
def page_language(code: str, path: str = "settings.answers.language") -> Language:
    """The language of the sheet for a seller; what its file does not have is English.

    Raises
    ------
    InputError
        For a language that is not available, naming those that are.
    """
    if code not in (known := languages()):
        raise InputError(path, code, f"one of {', '.join(known)}", "choose one of them")
    english, own = _file(ENGLISH), _file(code)
    return Language({section: english.get(section, {}) | own.get(section, {}) for section in [*english, *own]}, code)


def languages() -> list[str]:
    """Codes of the languages of the sheet for a seller."""
    return sorted(p.stem for p in Path(__file__).parent.glob("*.toml"))


@lru_cache(maxsize=8)
def _file(code: str) -> dict[str, dict[str, str]]:
    return tomllib.loads((Path(__file__).parent / f"{code}.toml").read_text(encoding="utf-8"))
