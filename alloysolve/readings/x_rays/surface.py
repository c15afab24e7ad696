"""Surface composition by X-ray fluorescence: what an instrument prints of skin and core, in mass percent."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ...alloys.xray import lines_of
from ...entry import Entry, is_absent, join, shown
from ...errors import InputError
from ..reading import Circumstances, Kind, Reading, fields_of
from .forecast import Forecast
from .intensities import WHOLE_FROM
from .printed import ObservedSurface

NOT_DETECTED = 0.2  # percent below which a metal is not detected (common practice, no source)
MOST_SUM = 102.0  # percent
NOTHING_LISTED = "none"  # said of an instrument of which only the printed metals are known
# what handheld instruments list of precious metals and of what they are alloyed with or replaced by (common practice,
# no source); each line passes air
USUALLY_LISTED = "Ag Au Pt Pd Rh Ru Ir Cu Zn Ni Sn Sb Pb Bi Hg Cd In Fe Co Cr Mn Ti W Mo"
MISSING_FROM = 1.0  # percent that may be missing from the sum without being named
ENTRIES = fields_of(
    value=Entry("text", "mass percent as printed: Ag 99.4 Cu 0.4 Zn <0.2 Ni ND"),
    u=Entry("text", "one standard uncertainty of every metal, in percentage points"),
    listed=Entry("text", "metals the instrument lists, beside those printed: Ag Cu Zn Ni Sn; none: not known"),
)
EXAMPLE = 'write for example "Ag 92.4 Cu 7.3 Zn <0.2"'


@dataclass(frozen=True, slots=True, init=False)
class SurfaceComposition(Reading):
    """What an X-ray fluorescence instrument prints, in mass percent.

    Parameters
    ----------
    value : text such as ``"Ag 99.4 Cu 0.4 Zn <0.2 Ni ND"``, or a mapping ``{"Ag": 99.4, "Zn": "<0.2"}``.
    u : one standard uncertainty of every metal, in percentage points; by default that of such instruments.
    listed : metals that the instrument lists besides those printed; one that it does not list is not taken as absent.
        "none" or an empty list: not known. None: as the settings of the shop say.
    place : where on the piece.
    path : where the value stands in a document, for errors.

    Attributes
    ----------
    shares : symbol -> mass percent as printed. below : symbol -> percent it was said to be below.

    Raises
    ------
    InputError
        For symbols that are not metals, shares that are not numbers, and a sum above 102 %.

    >>> SurfaceComposition("Ag 99.4 Cu 0.4 Zn <0.2").shares
    {'Ag': 99.4, 'Cu': 0.4}
    """

    shares: Mapping[str, float] = field(hash=False)  # `text` tells them apart
    below: Mapping[str, float] = field(hash=False)
    u: float | None
    listed: tuple[str, ...] | None
    place: str
    kind: str = field(init=False)
    text: str = field(init=False)

    def __init__(
        self,
        value: str | Mapping[str, Any],
        u: str | float | None = None,
        listed: str | tuple[str, ...] | list[str] | None = None,
        place: str = "",
        *,
        path: str = "surface_composition",
    ) -> None:
        table = path.removesuffix(".value")
        if isinstance(value, Mapping):
            value = " ".join(f"{symbol} {share}" for symbol, share in value.items() if not is_absent(share))
        text = " ".join(str(value).split())
        shares, below = _parsed(text, path)
        self._set(
            shares=shares,
            below=below,
            u=_points(u, join(table, "u")),
            listed=None if listed is None else listed_metals(listed, join(table, "listed")),
            place=place,
            kind="surface_composition",
            text=text,
        )

    @property
    def total(self) -> float:
        """Sum of what was printed [percent]."""
        return sum(self.shares.values())

    @property
    def findings(self) -> tuple[tuple[str, Mapping[str, Any]], ...]:
        """A sum short of 100 % is metal or light stuff that the instrument does not list."""
        missing = 100 - self.total
        return (("missing part", {"percent": missing}),) if missing > MISSING_FROM else ()

    def to_dict(self) -> dict[str, Any]:
        """The table of a piece file that gives this reading."""
        table = {
            "kind": self.kind,
            "value": self.text,
            "u": "" if self.u is None else f"{self.u:g}",
            "listed": "" if self.listed is None else " ".join(self.listed) or NOTHING_LISTED,
            "place": self.place,
        }
        return {key: text for key, text in table.items() if text}

    def observed(self, name: str, about: Circumstances) -> ObservedSurface:
        """This reading with the lines and attenuations of the tables."""
        lines = lines_of(about.tables)
        listed = about.listed if self.listed is None else self.listed
        unknown = [s for s in (*self.shares, *self.below, *listed) if s not in lines.symbols]
        if unknown:
            raise InputError(
                name,
                unknown[0],
                "metals of the tables: " + " ".join(lines.symbols),
                "leave it out, or name the metal that is meant",
            )
        below = {s: NOT_DETECTED for s in listed if s not in self.shares} | dict(self.below)
        known = (*self.shares, *(s for s in below if s not in self.shares))
        scale = 100 / self.total if self.total >= WHOLE_FROM else 1.0
        read = np.array([self.shares.get(s, np.nan) for s in known]) * scale
        limit = np.array([below.get(s, np.nan) for s in known])
        return ObservedSurface(
            name,
            self.kind,
            self.place,
            self.text,
            known,
            read,
            limit,
            self.u,
            self.total,
            lines,
            uneven=about.taken.get(self.kind, 0) > 1,
        )


def listed_metals(given: str | tuple[str, ...] | list[str], path: str) -> tuple[str, ...]:
    """Symbols of the metals that an instrument lists; empty if that is not known."""
    names = given.replace(",", " ").split() if isinstance(given, str) else list(given)
    if [name.lower() for name in names] == [NOTHING_LISTED]:
        return ()
    for symbol in names:
        if not re.fullmatch(r"[A-Z][a-z]?", symbol):
            raise InputError(path, shown(symbol), "symbols of metals, or none", 'write "Ag Cu Zn"')
    return tuple(names)


def _parsed(text: str, path: str) -> tuple[dict[str, float], dict[str, float]]:
    """Printed shares and limits, by symbol."""
    plain = re.sub(r"(\d),(\d)", r"\1.\2", text.replace("%", " ")).replace(",", " ").replace(";", " ")
    plain = re.sub(r"[:=]", " ", plain)
    part = r"([A-Z][a-z]?)\s+(<\s*\d+(?:\.\d+)?|\d+(?:\.\d+)?|ND|nd|<\s*LOD|<\s*lod)"
    if not re.fullmatch(rf"\s*(?:{part}\s*)+", plain):
        raise InputError(path, shown(text), "metals with mass percent, each a number, <number or ND", EXAMPLE)
    shares: dict[str, float] = {}
    below: dict[str, float] = {}
    for symbol, value in re.findall(part, plain):
        if symbol in shares or symbol in below:
            raise InputError(path, shown(text), "every metal once", f"take one {symbol} out")
        number = re.search(r"\d+(?:\.\d+)?", value)
        if value.startswith("<") and number:
            below[symbol] = float(number[0])
        elif number:
            shares[symbol] = float(number[0])
        else:
            below[symbol] = NOT_DETECTED
    total = sum(shares.values())
    if not 0 < total <= MOST_SUM:
        raise InputError(
            path,
            shown(text),
            f"a sum above 0 and up to {MOST_SUM:g} %, not {total:g} %",
            "check each share against the print",
        )
    return shares, below


def _points(u: Any, path: str) -> float | None:
    if is_absent(u):
        return None
    try:
        value = float(str(u).replace("%", "").replace(",", "."))
    except ValueError:
        value = -1.0
    if not 0 < value <= 20:
        raise InputError(path, shown(u), "percentage points above 0 and up to 20", 'write for example "0.3"')
    return value


def _build(table: dict[str, Any], path: str) -> Reading:
    return SurfaceComposition(**table, path=path)


def _trial(about: Circumstances) -> ObservedSurface:
    metal = about.surface_metal
    listed = about.listed or listed_metals(USUALLY_LISTED, "")  # who knows no list asks what the usual one would show
    return Forecast.of(SurfaceComposition({metal: 99.0}, listed=listed).observed("surface_composition", about))


KIND = Kind(
    _build,
    ENTRIES,
    "surface composition by X-rays, Ag 99.4 Cu 0.4 Zn <0.2",
    _trial,
    spot=True,
    caution="x-rays",
    tables=("attenuation", "lines"),
)
