"""The sentences of one language, from one file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from ..errors import InputError


class Language:
    """Templates by section and key; `say` fills them in."""

    def __init__(self, templates: Mapping[str, Mapping[str, str]], code: str) -> None:
        self._templates = templates
        self.code = code

    def say(self, section: str, key: str, /, **values: Any) -> str:
        """The sentence of a key with its values filled in."""
        return self._templates[section][key].format(**values)

    def has(self, section: str, key: str) -> bool:
        """Whether there is a sentence for a key."""
        return key in self._templates.get(section, {})

    def metal(self, symbol: str) -> str:
        """Name of a metal."""
        return self._templates["metal"].get(symbol, symbol)


@lru_cache(maxsize=8)
def language(code: str = "en", file: str = "") -> Language:
    """A language by its code, or from a file of the same form.

    Raises
    ------
    InputError
        For a language that is not available, naming those that are.
    """
    path = Path(file) if file else Path(__file__).parent / f"{code}.toml"
    if not path.is_file():
        known = sorted(p.stem for p in Path(__file__).parent.glob("*.toml"))
        raise InputError("settings.answers.language", code, f"one of {', '.join(known)}", "choose one of them")
    return Language(tomllib.loads(path.read_text(encoding="utf-8")), code)
