"""Records of pieces: a folder with one numbered JSON file per piece."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal
from uuid import uuid4

from ..entry import shown
from ..errors import InputError
from ..inference.decision import CONTRADICTED, NOT_CONTRADICTED, UNDECIDED
from ..inputs.files import read_document
from ..inputs.settings import now
from ..places import user_folder
from ..plain import MisfitError, from_plain
from .document import NO_CLAIM, Document

if TYPE_CHECKING:
    from ..inputs.settings import Settings
    from .solution import Solution

SCHEMA = "alloysolve.record/1"
SOMETHING_ELSE = "something else"
DECISIONS = (CONTRADICTED, UNDECIDED, NOT_CONTRADICTED, NO_CLAIM)
MEND = "restore it from a copy, or move it out of the folder"


@dataclass(frozen=True, slots=True)
class Record:
    """One stored answer: `solution` is the document of `Solution.to_json` as it stood, `page` that of its page."""

    number: int
    made: datetime
    solution: Document
    file: Path
    page: Mapping[str, Any] | None = None

    @property
    def summary(self) -> Summary:
        """The part of it that a list of records shows."""
        d = self.solution
        one = d.first_system
        first = None if d.nothing_known else one or d.systems[0]
        return Summary(
            self.number,
            self.made,
            str(d.inputs.get("name") or ""),
            str(d.inputs.get("note") or ""),
            d.claim.text if d.claim else "",
            d.density.mass_g if d.density else None,
            d.code,
            first.metals if first else (),
            (one.share if one else d.systems[0].probability) if first else d.something_else,
            d.version,
            self.file,
            d.cautions,
        )


@dataclass(frozen=True, slots=True)
class Stored:
    """The file of a record."""

    schema: Literal["alloysolve.record/1"]
    made: str
    number: int
    solution: Document
    page: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class Summary:
    """One record in a list.

    Attributes
    ----------
    made : UTC. claim : "" without one. mass_g : None where it was not weighed. decision : one of `DECISIONS`.
    metals : the likeliest system, main metal first; empty if something else is likelier. probability : of that.
    version : of the program that made it. cautions : their codes.
    """

    number: int
    made: datetime
    name: str
    note: str
    claim: str
    mass_g: float | None
    decision: str
    metals: tuple[str, ...]
    probability: float
    version: str
    file: Path
    cautions: tuple[str, ...] = ()

    @property
    def system(self) -> str:
        """The likeliest system as one word, with its metals in alphabetical order: "Cu Zn"."""
        return " ".join(sorted(self.metals)) or SOMETHING_ELSE

    @property
    def day(self) -> str:
        """The day it was made, by the clock of this machine: "2026-11-25"."""
        return self.made.astimezone().date().isoformat()

    @property
    def month(self) -> str:
        """The month it was made, by the clock of this machine: "2026-11"."""
        return self.day[:7]


def records_folder(settings: Settings) -> Path:
    """Folder of the records of this shop: from the settings, otherwise in the user's data folder."""
    if settings.records.folder:
        return settings.resolve(os.path.expanduser(settings.records.folder))
    folder = user_folder("data")
    if folder is None:
        raise InputError("records", "a user without a home", "a folder for records", "set folder in [records]")
    return folder / "records"


def record_file(folder: str | Path, number: int) -> Path:
    """The file of a record, whether or not it exists."""
    return Path(folder) / f"{number:06d}.json"


def save_record(
    solution: Solution | Mapping[str, Any],
    folder: str | Path,
    made: datetime | None = None,
    page: Mapping[str, Any] | None = None,
) -> Path:
    """Keeps an answer under the next free number and returns its file, which appears whole or not at all.

    Any number of programs may save into one folder at once: a number is taken by making the file, which only
    one of them can.

    Parameters
    ----------
    solution : the answer, or its document.
    made : the moment it was made; now, if not given.
    page : the page that explains it, as `Page.to_dict` gives it, to be printed later without solving again.

    Raises
    ------
    InputError
        For a folder that cannot be made or written.
    """
    found = solution if isinstance(solution, Mapping) else solution.document.to_dict()
    moment = (made or now()).astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    beside = Path(folder) / f".{uuid4().hex}.tmp"
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
        number = last_number(Path(folder)) + 1
        while True:
            kept = {"schema": SCHEMA, "made": moment, "number": number, "solution": found}
            _write(beside, kept if page is None else {**kept, "page": page})
            if _taken(beside, record_file(folder, number)):
                return record_file(folder, number)
            number += 1
    except (OSError, ValueError) as e:
        raise InputError(
            str(folder),
            getattr(e, "strerror", None) or str(e),
            "a folder that can be written",
            "choose another for records, with folder in [records] of the settings",
        ) from e
    finally:
        with suppress(OSError, ValueError):
            beside.unlink(missing_ok=True)


def last_number(folder: Path) -> int:
    """The highest number in use, also by damaged records."""
    stems = (name[: -len(".json")] for name in os.listdir(folder) if name.endswith(".json"))
    return max((int(s) for s in stems if re.fullmatch(r"\d{1,18}", s, re.ASCII)), default=0)


def _write(file: Path, record: Mapping[str, Any]) -> None:
    text = json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    with open(file, "wb") as stream:
        stream.write(text.encode("utf-8", "backslashreplace"))  # a lone surrogate as the escape JSON has for it
        stream.flush()
        os.fsync(stream.fileno())


def _taken(beside: Path, file: Path) -> bool:
    """Whether `beside` became `file`; it does not if another run was first.

    On a drive without hard links an empty file is made first, which holds the number until the record replaces it.
    """
    try:
        os.link(beside, file)
        return True
    except FileExistsError:
        return False
    except OSError:
        pass
    try:
        os.close(os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
    except FileExistsError:
        return False
    try:
        os.replace(beside, file)
    except OSError:
        file.unlink()
        raise
    return True


def read_record(path: str | Path) -> Record:
    """One record of a folder.

    Raises
    ------
    InputError
        For a file that cannot be read, is not a record, is damaged, or does not carry its own number as its name.
    """
    file, name = Path(path), str(path)
    given = read_document(file)
    if given.get("schema") != SCHEMA:
        raise InputError(
            name,
            shown(given.get("schema")),
            f"a record of the schema {SCHEMA}",
            "read it with the version that made it",
        )
    try:
        kept: Stored = from_plain(Stored, given)
    except MisfitError as e:
        raise InputError(name, e.place, "a record with all its parts", MEND) from e
    texts = ("name", "note")
    if wrong := [key for key in texts if not isinstance(kept.solution.inputs.get(key, ""), str)]:
        raise InputError(name, f"solution.inputs.{wrong[0]}", "a record with all its parts", MEND)
    if file.name != record_file("", kept.number).name:
        raise InputError(
            name, kept.number, "a record whose file is named by its number", "move the copy out of the folder"
        )
    return Record(kept.number, _moment(kept.made, name), kept.solution, file, kept.page)


def _moment(text: str, name: str) -> datetime:
    """A time in UTC that a clock of any zone can show."""
    try:
        made = datetime.fromisoformat(text)
        if made.tzinfo is not None and 1970 <= made.year < 9999:
            return made.astimezone(UTC)
    except ValueError:
        pass
    raise InputError(name, shown(text), "a time such as 2026-11-25T15:40:03Z", MEND)
