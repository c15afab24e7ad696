"""Pieces drawn at random for tests of what is said about them: what they are, what they are said to be, what was read.

The numbers are rounded from handbooks from memory; nothing depends on them, as any piece must be worded well.
"""

from __future__ import annotations

import random
from typing import Any

# metal: density [g/cm3], conductivity [%IACS], answer of a magnet, what an instrument prints
BODIES: dict[str, tuple[float, float, str, str]] = {
    "silver": (10.49, 105, "none", "Ag 99.9"),
    "silver 925": (10.36, 88, "none", "Ag 92.6 Cu 7.4"),
    "silver 800": (10.14, 80, "none", "Ag 80.2 Cu 19.8"),
    "gold": (19.30, 76, "none", "Au 99.9"),
    "gold 750": (15.5, 10, "none", "Au 75.1 Ag 12.4 Cu 12.5"),
    "gold 585": (13.3, 8, "none", "Au 58.4 Ag 12.2 Cu 29.4"),
    "gold 375": (11.3, 14, "none", "Au 37.4 Ag 10.1 Cu 52.5"),
    "platinum 950": (20.7, 7, "none", "Pt 95.2 Cu 4.8"),
    "copper": (8.93, 100, "none", "Cu 99.9"),
    "brass": (8.47, 28, "none", "Cu 63.1 Zn 36.9"),
    "bronze": (8.8, 14, "none", "Cu 94 Sn 6"),
    "nickel silver": (8.7, 6, "none", "Cu 64 Ni 18 Zn 18"),
    "cupronickel": (8.94, 5.5, "none", "Cu 75 Ni 25"),
    "nickel": (8.9, 20, "strong", "Ni 99.8"),
    "steel": (7.86, 12, "strong", "Fe 99.5"),
    "stainless steel": (7.95, 2.4, "none", "Fe 70 Cr 19 Ni 10"),
    "zinc": (7.13, 28, "none", "Zn 99.9"),
    "aluminium": (2.70, 60, "none", "Al 99.5"),
    "tin": (7.3, 14, "none", "Sn 99.8"),
    "lead": (11.34, 8, "none", "Pb 99.9"),
    "tungsten": (19.25, 31, "none", "W 99.9"),
    "molybdenum": (10.22, 33, "none", "Mo 99.9"),
    "tantalum": (16.65, 13, "none", "Ta 99.9"),
}
SKINS = {"silver": "Ag 99.9", "gold": "Au 99.8", "nickel": "Ni 99.9", "copper": "Cu 99.9"}
CLAIMS = (
    *("", "silver 999", "silver 925", "silver 900", "silver 800", "gold 999", "gold 916", "18k yellow", "18k", "14k"),
    *("9 ct", "platinum 950", "palladium 950", "brass", "copper", "nickel silver", "silver plated", "gold plated"),
    *("vermeil", "gold filled 1/20 14 ct", "US-25c-clad", "14 ct chain"),
)
COLOURS, STREAKS, ACIDS = ("white", "yellow", "red"), ("white", "yellow", "red"), ("as silver", "as neither")


def drawn(number: int, x_rays: bool = True) -> dict[str, Any]:
    """The piece of one number, as the fields of a piece file; the same number gives the same piece."""
    r = random.Random(number)
    claim = r.choice(CLAIMS)
    sound = [b for b in BODIES if b == claim.replace("sterling", "silver 925")]
    body = sound[0] if sound and r.random() < 0.5 else r.choice(list(BODIES))
    density, conductivity, magnet, printed = BODIES[body]
    built = r.choices(("solid", "plated", "cored", "hollow"), (6, 3, 2, 1))[0]
    skin = r.choice(list(SKINS))
    if built == "cored":  # a slug of any other metal, from 1 in 20 to 19 in 20 of the volume
        core, part = BODIES[r.choice(list(BODIES))], r.uniform(0.05, 0.95)
        density = (1 - part) * density + part * core[0]
        conductivity, magnet = r.choice((conductivity, core[1])), max(magnet, core[2])
    elif built == "hollow":
        density *= 1 - r.uniform(0.02, 0.5)
    mass = round(10 ** r.uniform(0.0, 2.7), 2)
    displaced = max(round(mass / density * (1 + r.gauss(0.002, 0.002)), 2), 0.01)
    fields: dict[str, Any] = {"mass": f"{mass} g"}
    if claim:
        fields["claim"] = claim
    way = r.choices(("displaced", "in_water", "density", "no water"), (7, 1, 1, 1))[0]
    if way == "displaced":
        again = [max(round(displaced + r.choice((-0.01, 0.0, 0.0, 0.01)), 2), 0.01) for _ in range(r.choice((0, 1, 2)))]
        fields["displaced"] = [f"{x} g" for x in (displaced, *again)]
    elif way == "in_water":
        fields["in_water"] = f"{mass - displaced:.2f} g"
    elif way == "density":
        fields["density"] = f"{density:.2f} g/cm3"
    if r.random() < 0.4:
        fields["magnet"] = magnet if r.random() < 0.9 else r.choice(("none", "weak", "strong"))
    if r.random() < 0.4 or way == "no water":
        fields["conductivity"] = f"{conductivity * (1 + r.gauss(0, 0.02)):.3g} %IACS"
    if x_rays and r.random() < 0.25:
        fields["surface_composition"] = SKINS[skin] if built == "plated" else printed
    if r.random() < 0.1:
        kind, answers = r.choice((("colour", COLOURS), ("streak", STREAKS), ("acid", ACIDS)))
        fields[kind] = r.choice(answers)
    return fields
