"""Values of a piece that are more than one quantity: parts, and a measured density."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from ..entry import Entry, join, read_value, shown, unknown
from ..errors import InputError
from ..measured import Measured
from ..units import Quantity, parse

LIMITS = (0.5, 25.0)  # g/cm3; osmium, the densest metal, has 22.6 (from memory)
DENSITY = Entry("density", "density, where it was not weighed here", limits=LIMITS)


@dataclass(frozen=True, slots=True)
class Part:
    """A named part that does not belong to the body: a stone, a spring.

    Parameters
    ----------
    name : as in the table of inclusions; further words are allowed ("steel spring").
    mass : of the part.
    """

    name: str
    mass: Quantity

    @property
    def text(self) -> str:
        """The part as it was written."""
        return f"{self.name} {self.mass.text}"


def read_parts(given: Any, path: str) -> tuple[Part, ...]:
    """Parts from a list, or from one text in which ";" separates them."""
    items = given.split(";") if isinstance(given, str) else given
    if not isinstance(items, list | tuple):
        raise InputError(path, shown(given), "a list of parts", 'write for example ["diamond 0.25 carat"]')
    return tuple(_part(item, f"{path}[{i}]") for i, item in enumerate(items))


def _part(given: Any, path: str) -> Part:
    if isinstance(given, Part):
        return given
    expected, step = "a name and a mass with its unit", 'write for example "diamond 0.25 carat"'
    word = r"[^\d\s.,+-]\S*"
    match = re.fullmatch(rf"({word}(?:\s+{word})*)\s+([+-]?[.,]?\d.*)", str(given).strip()[:200], re.DOTALL)
    if not isinstance(given, str) or match is None:
        raise InputError(path, shown(given), expected, step)
    mass = parse(match[2], "mass", path, carat=True)
    if mass.text != " ".join(match[2].split()):  # the unit was left out: stones are weighed in carat or in g
        raise InputError(path, shown(given), expected, step)
    return Part(" ".join(match[1].split()), mass)


def inclusion_name(part: Part, known: Iterable[str], path: str) -> str:
    """Name in the table: the same name, otherwise the longest one whose words all occur in the name of the part."""
    folded = {name.casefold(): name for name in known}
    words = set(part.name.casefold().split())
    found = [name for name in folded if name == part.name.casefold() or set(name.split()) <= words]
    if not found:
        raise unknown(path, part.name, folded.values(), "a part of the table of inclusions")
    return folded[max(found, key=lambda name: (name == part.name.casefold(), len(name)))]


def read_density(given: Any, path: str) -> Quantity | Measured:
    """A density from text, a number, a `Measured`, or a table that describes one."""
    item = DENSITY
    if hasattr(given, "bubble_v"):  # its density alone would lose the effect of air bubbles
        raise InputError(path, "a weighing", "a density by itself", "give the piece its mass and displaced instead")
    if isinstance(given, Measured):
        given = write_measured(given)
    if not isinstance(given, Mapping):
        quantity: Quantity = read_value(item, given, path)
        return quantity
    known = ("value", "u", "unit", "low", "high", "dof")
    for key in given:
        if key not in known:
            raise unknown(join(path, str(key)), str(key), known, "a known key of a density")
    if given.get("unit", "g/cm3") != "g/cm3":
        raise InputError(join(path, "unit"), shown(given["unit"]), '"g/cm3"', "turn the density into g/cm3")
    value = read_value(item, given.get("value"), join(path, "value")).value
    numbers = {key: _number(given[key], join(path, key)) for key in known[1:] if key in given and key != "unit"}
    if "u" not in numbers:
        raise InputError(join(path, "u"), "", "one standard uncertainty in g/cm3", "add it")
    density = Measured(value, unit="g/cm3", **numbers)
    if not density.low <= value <= density.high:
        raise InputError(path, shown(f"{density.low} to {density.high}"), f"a range around {value}", "mend it")
    return density


def _number(given: Any, path: str) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float) or not 0 <= given < float("inf"):
        raise InputError(path, shown(given), "a number from 0", "write for example 0.02")
    return float(given)


def write_measured(density: Measured) -> dict[str, Any]:
    """A measured density as the table that `read_density` reads."""
    table = {name: getattr(density, name) for name in ("value", "u", "unit", "low", "high")}
    return table | ({"dof": density.dof} if density.dof != float("inf") else {})
