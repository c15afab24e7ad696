"""Shop settings from one TOML file.

They are looked for in this order: the path given, the environment variable `VARIABLE`,
``alloysolve/settings.toml`` in the user's configuration folder, the defaults below.
"""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any

from ..entry import Entry, entries, join, read_table, read_value, shown, write_table
from ..errors import InputError
from ..places import user_folder
from ..published.load import Tables, default_tables, tables_in_use
from ..readings.conductivity import HERTZ, UNITS
from ..readings.reading import U_METER
from ..readings.registry import KINDS
from ..readings.x_rays.surface import USUALLY_LISTED, listed_metals
from ..units import Quantity
from .files import in_file, read_document, write_document

ORIGINS = ("option", "environment", "user folder", "defaults")
VARIABLE = "ALLOYSOLVE_SETTINGS"
SET_UPS = ("tared beaker", "below the balance")
WETTING = ("brushed", "as usual", "dry dip")
LISTED = "readings.surface_composition.listed"
ASSUMED = ("weighing", "magnet", "colour")  # every shop has a scale, a magnet and a loupe
OWNABLE = tuple(kind.replace("_", " ") for kind in KINDS)


# Common practice, no source, except the air: CIPM-2007 gives 0.0012 g/cm3 near sea level.
STEP = Quantity(0.01, "g", "0.01 g")
WATER = Quantity(20.0, "degC", "20 +- 1 degC", 1.0)
AIR = Quantity(0.0012, "g/cm3", "0.0012 g/cm3")
METER_U = Quantity(U_METER, "", "1 %")
FALSE_ALARM = Quantity(1e-4, "", "1 in 10000")


@dataclass(frozen=True, slots=True)
class KnownGood:
    """A known-good piece weighed in the same way: its reading removes the errors that both weighings share."""

    claim: Annotated[str, Entry("text", "what the known good piece is, e.g. silver 999", required=True)]
    mass: Annotated[Quantity, Entry("mass", "its mass in air", required=True)]
    displaced: Annotated[tuple[Quantity, ...], Entry("mass", "the water it pushed aside", many=True, required=True)]
    on: Annotated[date | None, Entry("date", "the day it was weighed")] = None


@dataclass(frozen=True, slots=True)
class Scale:
    """The scale, the water, and the habits of weighing."""

    step: Annotated[Quantity, Entry("mass", "smallest step the scale shows")] = STEP
    set_up: Annotated[
        str,
        Entry("word", "how the piece hangs in the water: which number `weigh` and `solve --ask` take", words=SET_UPS),
    ] = SET_UPS[0]
    thread: Annotated[Quantity | None, Entry("length", "diameter of the thread or wire")] = None
    water: Annotated[Quantity, Entry("temperature", "temperature of the water")] = WATER
    air: Annotated[Quantity, Entry("density", "density of the air", limits=(0.0005, 0.002))] = AIR
    check_days: Annotated[int, Entry("count", "days after which the known good piece is to be weighed again")] = 31
    wetting: Annotated[
        str | None,
        Entry("word", "how the piece is wetted; unsaid: as usual", words=WETTING),
    ] = None
    known_good: Annotated[
        KnownGood | None, Entry("table", "a piece known to be good, and its weighing", table=KnownGood)
    ] = None

    @property
    def read_in_water(self) -> str:
        """The field of a piece that the scale shows when it hangs in water."""
        return "displaced" if self.set_up == SET_UPS[0] else "in_water"


@dataclass(frozen=True, slots=True)
class Meter:
    """The conductivity meter; if no frequency is given, it is unknown."""

    frequency: Annotated[Quantity | None, Entry("frequency", "of the meter", ask=HERTZ)] = None
    unit: Annotated[str, Entry("word", "unit that the meter shows; unsaid, a bare number is queried", words=UNITS)] = ""
    u: Annotated[Quantity, Entry("share", "one standard uncertainty of a reading", limits=(1e-6, 0.5))] = METER_U


@dataclass(frozen=True, slots=True)
class XRayInstrument:
    """The X-ray instrument: a metal that it lists and does not print is taken as absent."""

    listed: Annotated[
        str,
        Entry("text", "metals it lists, by its manual; none: not known, so that no metal is taken as absent"),
    ] = USUALLY_LISTED


@dataclass(frozen=True, slots=True)
class ShopReadings:
    """The readings that the shop can take beside scale, magnet and loupe, in the order it likes."""

    own: Annotated[tuple[str, ...], Entry("word", "readings the shop owns", many=True, words=OWNABLE)] = ("magnet",)
    conductivity: Annotated[Meter, Entry("table", "the conductivity meter", table=Meter)] = Meter()
    surface_composition: Annotated[XRayInstrument, Entry("table", "the X-ray instrument", table=XRayInstrument)] = (
        XRayInstrument()
    )


def owns(own: Collection[str], kind: str) -> bool:
    """Whether a shop that owns these readings can take one of a kind."""
    return kind in ASSUMED or kind.replace("_", " ") in own


@dataclass(frozen=True, slots=True)
class Answers:
    """How answers are given; a claim is contradicted if its p is below `false_alarm`."""

    false_alarm: Annotated[
        Quantity, Entry("share", "how often a true claim may be contradicted", limits=(1e-9, 0.05))
    ] = FALSE_ALARM
    language: Annotated[str, Entry("text", "language of the seller's sheet: en, de, es or fr")] = "en"
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
class RecordFiles:
    """Where records of pieces are kept."""

    folder: Annotated[str, Entry("text", "folder of the records; empty: in the user's data folder")] = ""


@dataclass(frozen=True, slots=True)
class Settings:
    """All settings of a shop; ``Settings()`` are the defaults. Tables are also given as mappings of their values.

    Attributes
    ----------
    origin : "option", "environment", "user folder" or "defaults".
    file : the file from which they were read, or "".

    >>> Settings().answers.false_alarm.value
    0.0001
    """

    scale: Annotated[Scale, Entry("table", "the scale", table=Scale)] = Scale()
    readings: Annotated[ShopReadings, Entry("table", "what is measured", table=ShopReadings)] = ShopReadings()
    answers: Annotated[Answers, Entry("table", "how answers are given", table=Answers)] = Answers()
    page: Annotated[Page, Entry("table", "printed pages", table=Page)] = Page()
    tables: Annotated[TableFiles, Entry("table", "tables of the shop", table=TableFiles)] = TableFiles()
    columns: Annotated[
        tuple[tuple[str, str], ...],
        Entry("names", 'what the shop calls the columns of its lists, e.g. mass = "Gewicht (g)"'),
    ] = ()
    records: Annotated[RecordFiles, Entry("table", "records of pieces", table=RecordFiles)] = RecordFiles()
    origin: str = field(default="defaults", compare=False)
    file: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        for name, item in entries(Settings).items():
            value = getattr(self, name)
            if item.table is not None and not isinstance(value, item.table):
                object.__setattr__(self, name, read_table(item.table, value, join("settings", name)))
            elif item.dimension == "names" and isinstance(value, Mapping):
                object.__setattr__(self, name, read_value(item, value, join("settings", name)))

    @classmethod
    def from_dict(cls, given: Mapping[str, Any], path: str = "settings") -> Settings:
        """Settings from the tables of a document, or as an answer states them: ``to_dict()["settings"]``.

        Raises
        ------
        InputError
            For an unknown key or a bad value, with its place, e.g. ``settings.scale.step``.
        """
        origin = given.get("origin") if isinstance(given, Mapping) else None  # an answer says where they came from
        tables = {k: v for k, v in given.items() if k != "origin"} if origin in ORIGINS else given
        settings: Settings = replace(read_table(cls, tables, path), origin=origin if origin in ORIGINS else ORIGINS[-1])
        language = settings.answers.language
        if not re.fullmatch(r"[a-z]{2,3}(-[A-Za-z0-9]+)*", language):
            raise InputError(
                join(path, "answers.language"), shown(language), "a code of ISO 639", 'write for example "en"'
            )
        listed_metals(settings.readings.surface_composition.listed, join(path, LISTED))
        return settings

    def to_dict(self) -> dict[str, Any]:
        """The values in use, as they were written, in the types of JSON; `from_dict` reads them back."""
        return {name: table for name, table in write_table(self).items() if table}

    def with_known_good(self, claim: str, mass: str | float, displaced: Any, on: date | str | None = None) -> Settings:
        """These settings with another known-good piece; parameters as in `KnownGood`."""
        table = {"claim": claim, "mass": mass, "displaced": displaced, "on": on}
        known_good = read_table(KnownGood, table, "settings.scale.known_good")
        return replace(self, scale=replace(self.scale, known_good=known_good))

    def resolve(self, name: str) -> Path:
        """A path from these settings, relative to the folder of their file."""
        return Path(self.file).parent / name if self.file else Path(name)


def settings_in_use(given: Any) -> Settings:
    """Settings as they are, from a mapping of their values, or the defaults."""
    if isinstance(given, Settings):
        return given
    if given is not None and not isinstance(given, Mapping):
        step = "find_settings(path) reads those of a file, Settings.from_dict those of a mapping"
        raise InputError("settings", shown(given), "Settings", step)
    return Settings.from_dict(given) if given else Settings()


def in_use(settings: Any, tables: Any) -> tuple[Settings, Tables]:
    """The settings and the tables of a call: those that were given, or the defaults."""
    found = settings_in_use(settings)
    return found, tables_of(found) if tables is None else tables_in_use(tables)


def tables_of(settings: Settings) -> Tables:
    """The shipped tables together with those that the settings add."""
    extra = [settings.resolve(name) for name in settings.tables.extra]
    return _first_such(Tables(extra)) if extra else default_tables()


@lru_cache(maxsize=8)
def _first_such(tables: Tables) -> Tables:
    """The first tables of these contents, whose rows are read already."""
    return tables


def now() -> datetime:
    """The moment by the clock, or by SOURCE_DATE_EPOCH (reproducible-builds.org) for what shall be repeatable."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    try:
        return datetime.fromtimestamp(int(epoch), UTC) if epoch.isdecimal() else datetime.now().astimezone()
    except (OverflowError, ValueError) as e:
        raise InputError("SOURCE_DATE_EPOCH", epoch, "seconds since 1970, before the year 10000", "unset it") from e


def today() -> date:
    """The day of `now`."""
    return now().date()


def find_settings(option: str | Path | None = None) -> Settings:
    """The settings in force: those of `option`, of the environment, of the user's folder, or the defaults.

    Raises
    ------
    InputError
        For a named file that cannot be read, an unknown key (naming the nearest), or a bad value.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder, "shop.toml")
    ...     _ = file.write_text('scale.step = "0.1 g"')
    ...     find_settings(file).scale.step.value
    0.1
    """
    if option is not None:
        return _load(Path(option), "option", str(option))
    if named := os.environ.get(VARIABLE):
        return _load(Path(named), "environment", f"{named}, named by {VARIABLE}")
    if user_folder("config") is None:
        return Settings()
    file = user_settings_file()
    return _load(file, "user folder", str(file)) if os.path.exists(file) else Settings()


def user_settings_file() -> Path:
    """Place of the settings file of this user, whether or not the file exists; an `InputError` if there is no home."""
    folder = user_folder("config")
    if folder is None:
        step = f"set HOME, or name a file with --settings or {VARIABLE}"
        raise InputError("settings", "a user without a home", "a folder for settings", step)
    return folder / "settings.toml"


def write_settings(settings: Settings, path: str | Path) -> None:
    """Writes a settings file in one step; a new one states every default, as a form to change.

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


def _worth_writing(new: Mapping[str, Any], default: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    """The values of `new`, except those that are defaults and that the file does not state."""
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
