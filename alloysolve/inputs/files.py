"""TOML and JSON files: errors name the file and line, and a file is replaced in one step."""

from __future__ import annotations

import json
import os
import re
import shutil
import threading
import tomllib
from collections.abc import Callable, Collection, Iterator, Mapping, MutableMapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from ..entry import join, shown
from ..errors import InputError


@contextmanager
def in_file(name: str) -> Iterator[None]:
    """Names the file in the next step of an error; the path of the error stays the place inside the file."""
    try:
        yield
    except InputError as e:
        if e.path.startswith(name):
            raise
        raise InputError(e.path, e.given, e.expected, f"{e.next_step} (in {name})") from e


def read_document(path: str | Path) -> dict[str, Any]:
    """A TOML file as a dict, or a JSON file if its name ends in ``.json``.

    Raises
    ------
    InputError
        With the file as `path`, and the line if there is one: for a missing or unreadable
        file, a folder, text that is not UTF-8, or a document that is not TOML or JSON.
    """
    file, name = Path(path), str(path)
    try:
        if file.is_dir():
            raise InputError(name, "a folder", "a file", "name the file inside it")
        raw = file.read_bytes()
    except (OSError, ValueError) as e:
        reason = getattr(e, "strerror", None) or str(e)
        raise InputError(name, reason, "a file that can be read", "check the path") from e
    return parse_document(raw, name, json_text=file.suffix.lower() == ".json")


def parse_document(raw: bytes | str, name: str, json_text: bool) -> dict[str, Any]:
    """A TOML or JSON document as a dict; `name` stands for it in errors, which are as in `read_document`."""
    try:
        text = raw.decode("utf-8-sig") if isinstance(raw, bytes) else raw
    except UnicodeDecodeError as e:
        line = e.object.count(b"\n", 0, e.start) + 1
        byte = f"byte 0x{e.object[e.start]:02x}"
        raise InputError(f"{name}:{line}", byte, "text in UTF-8", "save the file as UTF-8") from e
    language = "JSON" if json_text else "TOML"
    try:
        document = json.loads(text) if json_text else tomllib.loads(text)
    except (ValueError, RecursionError) as e:
        line = _line(e, text)
        at = shown(text.splitlines()[line - 1].strip() if text.strip() else "")
        reason = re.sub(r" \(at .*|: line \d+ .*", "", str(e), flags=re.DOTALL)
        raise InputError(f"{name}:{line}", at, f"a document in {language}", f"mend line {line}: {reason}") from e
    if not isinstance(document, dict):
        raise InputError(name, shown(document), f"a table in {language}", 'write for example {"mass": "31.18 g"}')
    return document


def _line(e: Exception, text: str) -> int:
    """The line that an error of the TOML or JSON parser names."""
    found = re.search(r"\bline (\d+)", str(e))
    last = max(1, len(text.splitlines()))
    return min(int(found[1]), last) if found else last


def write_document(
    path: str | Path,
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    fields: Collection[str] = (),
    notes: Mapping[str, str] | None = None,
) -> None:
    """Writes `new` to a TOML or JSON file in one step; unchanged lines of a TOML file stay as they are.

    Parameters
    ----------
    old : what the existing file says, in the form of `new`; only what differs is written.
    fields : names that may stay in the file although neither `old` nor `new` has them.
    notes : comments for values that are new in the file, by place (``"scale.step"``).
    """
    file = Path(os.path.realpath(path))
    if file.suffix.lower() == ".json":
        text = json.dumps(new, indent=2, ensure_ascii=False) + "\n"
    else:
        import tomlkit

        document = tomlkit.document()
        if file.exists():
            document = tomlkit.parse(file.read_bytes().decode("utf-8-sig"))
        _merge(document, old, new, fields, notes or {}, "")
        text = tomlkit.dumps(document)
    replace_file(file, text, str(path))


def _merge(
    table: MutableMapping[str, Any],
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    fields: Collection[str],
    notes: Mapping[str, str],
    path: str,
) -> None:
    import tomlkit

    for key in list(table):
        if key not in new and (key in old or (fields and key not in fields)):
            del table[key]
    for key, value in new.items():
        before, place = old.get(key), join(path, key)
        if key in table and before == value:
            continue
        if isinstance(value, dict):
            if not isinstance(table.get(key), MutableMapping):
                table[key] = tomlkit.table()
            _merge(table[key], before if isinstance(before, dict) else {}, value, (), notes, place)
        elif key in table and isinstance(before, list) and value[: len(before)] == before:
            for item in value[len(before) :]:
                table[key].append(item)
                if isinstance(table[key], tomlkit.items.AoT):
                    table[key][-1].trivia.indent = "\n"
        else:
            item = tomlkit.item(value)
            if place in notes and key not in table:
                item.comment(notes[place])
            table[key] = item


def spare_others(file: Path, ours: Callable[[str], bool]) -> None:
    """An error if there is a file that this program did not write; `ours` tells its files by their text."""
    if file.exists() and not ours(file.read_bytes().decode("utf-8", "replace") if file.is_file() else ""):
        raise InputError(
            str(file), "", "a new file, or one that this command wrote", "choose another name, or add --overwrite"
        )


def replace_file(file: Path, text: str, name: str) -> None:
    """Writes a file beside the old one and renames it, so that nobody ever reads half a file."""
    beside = file.with_name(f".{file.name}.{os.getpid()}.{threading.get_ident()}")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with open(beside, "xb") as stream:
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())
        if file.exists():
            shutil.copymode(file, beside)
        os.replace(beside, file)
    except OSError as e:
        with suppress(OSError):
            beside.unlink()
        raise InputError(name, e.strerror or str(e), "a place that can be written", "check the path") from e
