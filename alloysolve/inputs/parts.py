"""Values of a piece that are more than one quantity: parts, and a measured density."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ..entry import Entry, is_absent, join, nearest, read_value, shown, unknown
from ..errors import InputError
from ..measured import K95, Measured
from ..published.wares import Inclusion
from ..units import CARAT_G, Quantity, parse

LIMITS = (0.5, 25.0)  # g/cm3; osmium, the densest metal, has 22.6 (from memory)
DENSITY = Entry("density", "density, where it was not weighed here", limits=LIMITS)


# Mass of a round brilliant of diamond: mean diameter^2 x depth x 0.0061 ct/mm3, for a girdle of medium thickness
# (gemgate.com, estimating mounted diamond weight; for ovals it has 0.0062). Other stones in proportion to density.
BRILLIANT_CT_MM3, OF_DIAMOND = 0.0061, 3.52
DEPTH = 0.6  # of the diameter, where the depth was not measured (common practice, no source)
U_BRILLIANT = 0.1  # relative: the same source corrects by up to 10 % for girdle and shape
LENGTHS = ("diameter, or length", "width", "depth")
EXPECTED = "a name and a mass with its unit, or lengths in mm"
EXAMPLES = 'write for example "diamond 0.25 ct", "3 x ruby 2.1 mm", "opal 5 x 4 mm" or "glass 0.4 g at 2.5"'
# a count without "x" before a mass leaves open whether that is the mass of each or of all together
_EACH_OR_ALL = re.compile(r"(?P<count>[1-9]\d{0,3})\s+(?P<name>[^\W\d]+(?:\s+[^\W\d]+)*)\s+(?P<amount>[.,]?\d.*)")
_WORD = r"[^\d\s.,+-]\S*"
_PART = re.compile(
    rf"(?:(?P<count>[1-9]\d{{0,3}})\s*[x\u00d7]\s*)?(?P<name>{_WORD}(?:\s+{_WORD})*?)\s+"
    r"(?P<amount>[+-]?[.,]?\d.*?)(?:\s+at\s+(?P<density>.+))?",
    re.DOTALL,
)
# a count is not allowed before a length here: "3 x 2 mm ruby" may be one oval stone
_AMOUNT_FIRST = re.compile(
    rf"(?:(?P<count>[1-9]\d{{0,3}})\s*[x\u00d7]\s*(?!\S+\s*mm))?(?P<amount>[.,]?\d[\d.,]*\s*(?:cts?|carats?|mg|g|grams?|mm))\s+"
    rf"(?:of\s+)?(?P<name>{_WORD}(?:\s+{_WORD})*?)(?:\s+at\s+(?P<density>.+))?",
    re.DOTALL,
)


@dataclass(frozen=True, slots=True)
class Part:
    """A named part that does not belong to the body: a stone, a spring.

    Parameters
    ----------
    name : as in the table of inclusions; further words are allowed ("steel spring").
    mass : of one such part. None where `sizes` are given.
    sizes : of a stone cut round or oval: its diameter, or length and width, and its depth if that was measured.
    density : of the part, where it is not that of the table. count : how many there are.
    """

    name: str
    mass: Quantity | None
    sizes: tuple[Quantity, ...] = ()
    density: Quantity | None = None
    count: int = 1

    @property
    def text(self) -> str:
        """The part as it was written."""
        many = f"{self.count} x " if self.count > 1 else ""
        amount = self.mass.text if self.mass else " x ".join(q.text for q in self.sizes)
        return f"{many}{self.name} {amount}" + (f" at {self.density.text}" if self.density else "")

    def inclusion(self, known: Mapping[str, Inclusion], path: str) -> Inclusion:
        """Row of the table of inclusions: the same name, otherwise the longest whose words all occur in the name.

        With a density of its own, any name will do.
        """
        words = set(self.name.casefold().split())
        words |= {re.sub(r"ies$", "y", word) for word in words} | {word.removesuffix("s") for word in words}
        found = [name for name in known if name.casefold() == self.name.casefold() or set(name.split()) <= words]
        best = max(found, key=lambda name: (name.casefold() == self.name.casefold(), len(name)), default="")
        if self.density:
            row = known[best] if best else Inclusion(self.name, 0.0, 0.0, False, "", "")
            u = self.density.last_digit / math.sqrt(12) if self.density.u is None else self.density.u
            return row._replace(density_g_cm3=self.density.value, u_density_g_cm3=u)
        if not best:
            near = next((name for name in known if words & set(name.split())), "") or nearest(self.name, known)
            step = f'the nearest known is "{near}"' if near else '"alloysolve tables inclusions" lists them'
            step += "; or write its density behind it: at 3.5"
            raise InputError(path, shown(self.name), "a part of the table of inclusions", step)
        return known[best]

    def total(self, density: float) -> Quantity:
        """Mass of all `count` of them, for the density of one [g/cm3]."""
        if self.mass:
            if self.count == 1:
                return self.mass
            u = None if self.mass.u is None else self.count * self.mass.u
            return Quantity(self.count * self.mass.value, "g", f"{self.count} x {self.mass.text}", u)
        across = [q.value for q in self.sizes[:2]]
        depth = self.sizes[2].value if len(self.sizes) > 2 else DEPTH * min(across)
        carat = BRILLIANT_CT_MM3 * density / OF_DIAMOND * (sum(across) / len(across)) ** 2 * depth
        grams = self.count * carat * CARAT_G
        return Quantity(grams, "g", f"{grams:.3g} g", U_BRILLIANT * grams)


def read_parts(given: Any, path: str) -> tuple[Part, ...]:
    """Parts from a list, or from one text in which ";" separates them."""
    items = given.split(";") if isinstance(given, str) else given
    if not isinstance(items, list | tuple):
        raise InputError(path, shown(given), "a list of parts", 'write for example ["diamond 0.25 ct"]')
    return tuple(_part(item, path) for item in items)  # an error shows the part, which says more than its number


def _part(given: Any, path: str) -> Part:
    if isinstance(given, Part):
        return given
    text = given.strip()[:200] if isinstance(given, str) else ""
    match = _PART.fullmatch(text) or _AMOUNT_FIRST.fullmatch(text)
    if match is None and (unclear := _EACH_OR_ALL.fullmatch(text)):
        count, name, amount = (unclear[key] for key in ("count", "name", "amount"))
        step = f'write "{count} x {name} {amount}" if each has it, or "{name} {amount}" if all together have it'
        raise InputError(path, shown(given), f"whether each or all together have {amount}", step)
    if match is None:
        raise InputError(path, shown(given), EXPECTED, EXAMPLES)
    name, amount = (" ".join(match[key].split()) for key in ("name", "amount"))
    density = read_value(DENSITY, match["density"], path) if match["density"] else None
    count = int(match["count"] or 1)
    if re.search(r"\d\s*(?:mm|cm)\b", amount):
        several = len(re.findall(r"[x\u00d7*]", amount)) + 1
        sizes = read_value(Entry("length", "", sizes=LENGTHS[:several]), amount, path)
        return Part(name, None, sizes, density, count)
    mass = parse(amount, "mass", path, carat=True)
    if mass.text != amount:  # the unit was left out: stones are weighed in carat or in g
        raise InputError(path, shown(given), EXPECTED, EXAMPLES)
    return Part(name, mass, (), density, count)


def read_density(given: Any, path: str) -> Quantity | Measured:
    """A density from text, a number, a `Measured`, or a table that describes one."""
    item = DENSITY
    if hasattr(given, "bubble_v"):  # its density alone would lose the effect of air bubbles
        raise InputError(path, "a weighing", "a density by itself", "give the piece its mass and displaced instead")
    if isinstance(given, Measured):
        given = write_measured(given)
    if not isinstance(given, Mapping):
        quantity: Quantity = read_value(item, given, path)
        _above_zero(quantity.value - K95 * (quantity.u or 0.0), quantity.text, path)
        return quantity
    known = ("value", "u", "unit", "low", "high", "dof")
    for key in given:
        if key not in known:
            raise unknown(join(path, str(key)), str(key), known, "a known key of a density")
    given = {key: value for key, value in given.items() if not is_absent(value)}
    if given.get("unit", "g/cm3") != "g/cm3":
        raise InputError(join(path, "unit"), shown(given["unit"]), '"g/cm3"', "turn the density into g/cm3")
    value = read_value(item, given.get("value"), join(path, "value")).value
    numbers = {key: _number(given[key], join(path, key)) for key in known[1:] if key in given and key != "unit"}
    if "u" not in numbers:
        raise InputError(join(path, "u"), "", "one standard uncertainty in g/cm3", "add it")
    density = Measured(value, unit="g/cm3", **numbers)
    _above_zero(density.low, str(density), path)
    if not density.low <= value <= density.high:
        raise InputError(path, shown(f"{density.low} to {density.high}"), f"a range around {value}", "mend it")
    return density


def _above_zero(low: float, text: str, path: str) -> None:
    """Refuses a density whose 95 % range holds zero: it says nothing, and its specific volume has no range."""
    if not low > 0:
        raise InputError(path, text, "a density whose 95 % range stays above zero", "check its uncertainty")


def _number(given: Any, path: str) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float) or not -math.inf < given < math.inf:
        raise InputError(path, shown(given), "a number", "write for example 0.02")
    return float(given)


def write_measured(density: Measured) -> dict[str, Any]:
    """A measured density as the table that `read_density` reads."""
    table = {name: getattr(density, name) for name in ("value", "u", "unit", "low", "high")}
    return table | ({"dof": density.dof} if density.dof != float("inf") else {})
