"""Shop settings from one TOML file, and the reading and writing of such files.

Settings are looked for in this order: the path given, the environment variable `VARIABLE`,
``alloysolve/settings.toml`` in the user's configuration folder, the defaults below.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import threading
import tomllib
from collections.abc import Collection, Iterator, Mapping, MutableMapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Annotated, Any

from ..errors import InputError
from ..units import Quantity
from .readings import KINDS, Entry, entries, join, read_table, shown, write_table

VARIABLE = "ALLOYSOLVE_SETTINGS"
SET_UPS = ("tared beaker", "below the balance")
WETTING = ("brushed", "as usual", "dry dip")
OWNABLE = (*KINDS, "surface composition", "streak", "resonance", "sound speed", "calliper")


# Common practice, no source, except the air: CIPM-2007 gives 0.0012 g/cm3 near sea level.
STEP = Quantity(0.01, "g", "0.01 g")
WATER = Quantity(20.0, "degC", "20 +- 1 degC", 1.0)
AIR = Quantity(0.0012, "g/cm3", "0.0012 g/cm3")
METER_U = Quantity(0.01, "", "1 %")
FALSE_ALARM = Quantity(1e-4, "", "1 in 10000")


@dataclass(frozen=True, slots=True)
class KnownGood:
    """A piece known to be good, weighed the same way: its reading removes what is common to both."""

    claim: Annotated[str, Entry("text", "what the known good piece is, e.g. silver 999", required=True)]
    mass: Annotated[Quantity, Entry("mass", "its mass in air", required=True)]
    displaced: Annotated[
        tuple[Quantity, ...], Entry("mass", "the water it pushed aside", many=True, required=True)
    ]
    on: Annotated[date | None, Entry("date", "the day it was weighed")] = None


@dataclass(frozen=True, slots=True)
class Scale:
    """Scale, water and habits."""

    step: Annotated[Quantity, Entry("mass", "smallest step the scale shows")] = STEP
    set_up: Annotated[str, Entry("word", "how the piece hangs in the water", words=SET_UPS)] = SET_UPS[0]
    thread: Annotated[Quantity | None, Entry("length", "diameter of the thread or wire")] = None
    water: Annotated[Quantity, Entry("temperature", "temperature of the water")] = WATER
    air: Annotated[Quantity, Entry("density", "density of the air", limits=(0.0005, 0.002))] = AIR
    wetting: Annotated[str, Entry("word", "how the piece is wetted", words=WETTING)] = "as usual"
    known_good: Annotated[
        KnownGood | None, Entry("table", "a piece known to be good, and its weighing", table=KnownGood)
    ] = None


@dataclass(frozen=True, slots=True)
class Meter:
    """The conductivity meter; without a frequency it is unknown."""

    frequency: Annotated[Quantity | None, Entry("frequency", "of the meter")] = None
    u: Annotated[Quantity, Entry("share", "one standard uncertainty of a reading", limits=(1e-6, 0.5))] = (
        METER_U
    )


@dataclass(frozen=True, slots=True)
class ShopReadings:
    """What the shop can measure, in the order it likes; by default a magnet."""

    own: Annotated[tuple[str, ...], Entry("word", "readings the shop owns", many=True, words=OWNABLE)] = (
        "magnet",
    )
    conductivity: Annotated[Meter, Entry("table", "the conductivity meter", table=Meter)] = Meter()


@dataclass(frozen=True, slots=True)
class Answers:
    """How answers are given; a claim is contradicted where its p is below `false_alarm`."""

    false_alarm: Annotated[
        Quantity, Entry("share", "how often a true claim may be contradicted", limits=(1e-9, 0.05))
    ] = FALSE_ALARM
    language: Annotated[str, Entry("text", "language of the answers, a code of ISO 639")] = "en"
    paper: Annotated[str, Entry("word", "paper of printed pages", words=("A4", "A5", "Letter"))] = "A4"
    prior: Annotated[str, Entry("text", "name or file of the prior")] = "default"


@dataclass(frozen=True, slots=True)
class Page:
    """What stands at the top of a printed page."""

    header: Annotated[str, Entry("text", "name of the shop")] = ""
    logo: Annotated[str, Entry("text", "path of a picture")] = ""


@dataclass(frozen=True, slots=True)
class TableFiles:
    """Tables of the shop."""

    extra: Annotated[
        tuple[str, ...], Entry("text", "CSV files, or folders of them, added to the tables", many=True)
    ] = ()


@dataclass(frozen=True, slots=True)
class Settings:
    """All settings of a shop; ``Settings()`` are the defaults.

    Attributes
    ----------
    origin : "option", "environment", "user folder" or "defaults".
    file : the file they were read from, or "".
    """

    scale: Annotated[Scale, Entry("table", "the scale", table=Scale)] = Scale()
    readings: Annotated[ShopReadings, Entry("table", "what is measured", table=ShopReadings)] = ShopReadings()
    answers: Annotated[Answers, Entry("table", "how answers are given", table=Answers)] = Answers()
    page: Annotated[Page, Entry("table", "printed pages", table=Page)] = Page()
    tables: Annotated[TableFiles, Entry("table", "tables of the shop", table=TableFiles)] = TableFiles()
    origin: str = field(default="defaults", compare=False)
    file: str = field(default="", compare=False)

    @classmethod
    def from_dict(cls, given: Mapping[str, Any], path: str = "settings") -> Settings:
        """Settings from the tables of a document; raises `InputError` with e.g. ``settings.scale.step``."""
        settings: Settings = read_table(cls, given, path)
        language = settings.answers.language
        if not re.fullmatch(r"[a-z]{2,3}(-[A-Za-z0-9]+)*", language):
            raise InputError(join(path, "answers.language"), shown(language), "a code of ISO 639",
                             'write for example "en"')  # fmt: skip
        return settings

    def to_dict(self) -> dict[str, Any]:
        """The values used, as they were read, in the types of JSON; `from_dict` reads them back."""
        return {name: table for name, table in write_table(self).items() if table}

    def with_known_good(
        self, claim: str, mass: str | float, displaced: Any, on: date | str | None = None
    ) -> Settings:
        """These settings with another known good piece; parameters as in `KnownGood`."""
        table = {"claim": claim, "mass": mass, "displaced": displaced, "on": on}
        known_good = read_table(KnownGood, table, "settings.scale.known_good")
        return replace(self, scale=replace(self.scale, known_good=known_good))

    def resolve(self, name: str) -> Path:
        """A path of these settings, seen from the folder of their file."""
        return Path(self.file).parent / name if self.file else Path(name)


def find_settings(option: str | Path | None = None) -> Settings:
    """The settings in force: of `option`, the environment, the user's folder, else the defaults.

    Raises
    ------
    InputError
        For a named file that cannot be read, an unknown key (naming the nearest), a bad value.
    """
    if option is not None:
        return _load(Path(option), "option", str(option))
    if named := os.environ.get(VARIABLE):
        return _load(Path(named), "environment", f"{named}, named by {VARIABLE}")
    file = user_settings_file()
    return _load(file, "user folder", str(file)) if os.path.exists(file) else Settings()


def user_settings_file() -> Path:
    """Where the settings of this user stand, whether or not the file exists."""
    from platformdirs import user_config_path

    return user_config_path("alloysolve", appauthor=False) / "settings.toml"


def write_settings(settings: Settings, path: str | Path) -> None:
    """Write a settings file in one step: a new one with every default, as a form to change.

    An existing file keeps its comments and gains only what differs from the defaults.

    Raises
    ------
    InputError
        For an existing file that cannot be read, or a place that cannot be written.
    """
    new, old = settings.to_dict(), {}
    if os.path.exists(path):
        given = read_document(path)
        old = Settings.from_dict(given).to_dict()
        new = _worth_writing(new, Settings().to_dict(), given)
    write_document(path, old, new, notes=_notes(Settings, ""))


def _load(file: Path, origin: str, name: str) -> Settings:
    with in_file(name):
        return replace(Settings.from_dict(read_document(file)), origin=origin, file=str(file))


def _worth_writing(
    new: Mapping[str, Any], default: Mapping[str, Any], given: Mapping[str, Any]
) -> dict[str, Any]:
    """`new` without the values that are the defaults and that the file does not state."""
    out = {}
    for key, value in new.items():
        if isinstance(value, dict):
            value = _worth_writing(value, default.get(key, {}), given.get(key, {}))
        if key in given or (value != default.get(key) and value != {}):
            out[key] = value
    return out


def _notes(record: type, path: str) -> dict[str, str]:
    """The help text of every value, by its place: the comments of a new file."""
    out = {}
    for name, item in entries(record).items():
        out.update(_notes(item.table, join(path, name)) if item.table else {join(path, name): item.help})
    return out


@contextmanager
def in_file(name: str) -> Iterator[None]:
    """Name the file in the next step of an error; the path of the error stays the place inside it."""
    try:
        yield
    except InputError as e:
        if e.path.startswith(name):
            raise
        raise InputError(e.path, e.given, e.expected, f"{e.next_step} (in {name})") from e


def read_document(path: str | Path) -> dict[str, Any]:
    """A TOML file, or a JSON file where its name ends in ``.json``, as a dict.

    Raises
    ------
    InputError
        With the file, and the line where there is one, as `path`: for a missing or unreadable
        file, a folder, text that is not UTF-8, a document that is not TOML or JSON.
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
        raise InputError(f"{name}:{line}", at, f"a document in {language}",
                         f"mend line {line}: {reason}") from e  # fmt: skip
    if not isinstance(document, dict):
        raise InputError(
            name, shown(document), f"a table in {language}", 'write for example {"mass": "31.18 g"}'
        )
    return document


def _line(e: Exception, text: str) -> int:
    """The line an error of the parser of TOML or JSON speaks of."""
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
    """Write `new` to a TOML or JSON file in one step; unchanged lines of a TOML file stay as they are.

    Parameters
    ----------
    old : what the existing file says, in the form of `new`; only what differs is written.
    fields : names that may stay in the file though neither `old` nor `new` has them.
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
    _replace_file(file, text, str(path))


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


def _replace_file(file: Path, text: str, name: str) -> None:
    """Write beside the file and rename, so that nobody ever reads half a file."""
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
        beside.unlink(missing_ok=True)
        raise InputError(name, e.strerror or str(e), "a place that can be written", "check the path") from e
