"""What a row of an own table must hold: numbers in their range, known symbols and names, compositions that add up."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping
from types import MappingProxyType
from typing import Any

SUM = (98.0, 102.0)  # percent, of a composition: rounding, and interstitials that are left out
EVERY_SYMBOL = ("composition", "limits", "holds", "layers")
WHOLE = ("grades", "density_points", "resistivity_points", "coins", "skins")  # tables whose compositions add up to 100
SHARES = ("claim_priors", "strikes", "magnet")  # tables whose numbers are shares, but for thicknesses
SIGNED = ("denser_percent",)  # percent that may lie below zero
NOT_ALL = (("claim_priors", "claim"), ("claim_priors", "other"))  # shares that must leave some to the others
# least and greatest value of a column, by name; the unit stands in the name
RANGES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "density_g_cm3": (0.1, 25.0),  # osmium, the densest metal, has 22.6 (from memory)
        "molar_mass_g_mol": (1.0, 300.0),
        "resistivity_uohm_cm": (1.0, 1e9),
        "conductivity_iacs": (0.01, 112.0),
        "youngs_modulus_gpa": (0.1, 2000.0),
        "poisson": (-1.0, 0.5),
        "speed_m_s": (100.0, 20_000.0),
        "share": (0.0, 1.0),
        "u_share": (0.0, 1.0),
        "minutes": (0.0, 1e4),
        "weight": (0.0, 1e9),
        "mass_g": (1e-3, 1e6),
        "diameter_mm": (0.1, 1e4),
        "thickness_mm": (1e-3, 1e4),
    }
)
# columns that name rows of other tables
NAMES: Mapping[tuple[str, str], tuple[str, ...]] = MappingProxyType(
    {
        ("grades", "family"): ("families",),
        ("claim_priors", "skins"): ("skins", "metals"),
        ("clad", "faces"): ("skins", "metals"),
        ("clad", "core"): ("families", "skins"),
        ("inserts", "part"): ("skins", "metals"),
        ("spans", "kind"): ("claim_priors",),
        ("temperature", "metal"): ("metals",),
        ("strikes", "metal"): ("metals",),
        ("lines", "symbol"): ("metals",),
        ("attenuation", "symbol"): ("metals",),
        ("claims", "metal"): ("metals",),
        ("pairs", "first"): ("metals",),
        ("pairs", "second"): ("metals",),
        **{("families", kind): ("commonness",) for kind in ("none", "silver", "gold", "platinum", "palladium", "base")},
    }
)
Fault = tuple[str, object, str]  # column, value, what was expected
KeysOf = Callable[[str], Collection[str]]  # the first keys of the rows of a table


def fault(table: str, row: Any, keys_of: KeysOf) -> Fault | None:
    """The first fault of a row; None if it has none."""
    return next(_faults(table, row, keys_of), None)


def _faults(table: str, row: Any, keys_of: KeysOf) -> Iterator[Fault]:
    for column, value in row._asdict().items():
        if isinstance(value, float):
            yield from _number(table, column, value)
        elif column.startswith("source") and table != "SOURCES":
            unknown = [key for key in str(value).split(";") if key and key not in keys_of("SOURCES")]
            if unknown:
                yield column, unknown[0], "a key of SOURCES.csv, which may stand beside it"
        elif column in EVERY_SYMBOL:
            parts = value.values() if column == "layers" else [value]
            yield from (found for part in parts for found in _composition(table, column, part, keys_of))
        if (table, column) in NAMES:
            known = {name for of in NAMES[table, column] for name in keys_of(of)}
            named = list(value) if isinstance(value, Mapping) else [value]
            unknown = [name for name in named if name and name.removesuffix("-fcc") not in known]
            if unknown:
                yield column, unknown[0], "a name of " + " or ".join(f"{of}.csv" for of in NAMES[table, column])


def _number(table: str, column: str, value: float) -> Iterator[Fault]:
    from_zero = column.startswith("u_") or (column.endswith("_percent") and column not in SIGNED)
    low, high = RANGES.get(column, (0.0 if from_zero else -math.inf, math.inf))
    if table in SHARES and column != "um":
        low, high = 0.0, 0.99 if (table, column) in NOT_ALL else 1.0
    if not (low <= value <= high and math.isfinite(value)):
        ends = f" from {low:g} to {high:g}" if math.isfinite(low) and math.isfinite(high) else ""
        yield column, value, f"a number{ends}" if ends or not math.isfinite(value) else f"a number, {low:g} or more"


def _composition(table: str, column: str, value: Mapping[str, Any], keys_of: KeysOf) -> Iterator[Fault]:
    metals = keys_of("metals")
    for symbol, percent in value.items():
        if any(s.removesuffix("-fcc") not in metals for s in symbol.split("+")):
            yield column, symbol, "symbols of metals.csv"
        ends = percent if isinstance(percent, tuple) else (percent,)
        if not all(0 <= x <= 100 for x in ends):
            yield column, f"{symbol}:{percent}", "mass percent from 0 to 100"
    if column != "limits" and column != "holds" and table in WHOLE and value:
        total = sum(value.values())
        if not SUM[0] <= total <= SUM[1]:
            yield column, f"{total:g} % in all", "a composition of 100 % in all"
