"""Pieces drawn at random, of every material, construction, claim and kind of reading, as the fields of a piece file.

Metals are the grades of the tables. Readings follow from short rules written here, with errors of usual instruments,
and are rounded as a person types them. One piece in eight has a reading of something else. Nothing depends on the rules
being exact, since any piece must be answered well. The same number gives the same piece everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import pi, sqrt
from typing import Any

import numpy as np

from alloysolve.physics.eddy import apparent_conductivity
from alloysolve.published.load import default_tables

IACS = 0.58  # MS/m in 1 %IACS
CLAIMS = (
    *("", "", "", "", "silver 999", "silver 925", "silver 900", "silver 800", "gold 999", "gold 916", "18 ct yellow"),
    *("18k", "14k", "14 ct white nickel", "9 ct", "platinum 950", "palladium 950", "brass", "copper", "nickel silver"),
    *("silver plated", "gold plated", "vermeil", "gold filled 1/20 14 ct", "14 ct chain", "copper clad", "coin"),
)
SKINS = ("Ag", "Au", "Ni", "Cu", "Rh", "Cr", "Sn", "Zn", "Pt", "gold 750", "gold 585", "silver 925", "fire gilding")
SLUGS = ("W", "Pb", "Cu", "Fe", "Mo", "Zn", "Ta")
SHAPES = ("bar", "disc", "ring", "rod", "sphere", "tube")
READINGS = {  # how often each kind is taken
    "conductivity": 5,
    "two frequencies": 1.5,
    "resistivity": 1,
    "surface_composition": 3,
    "two places": 1,
    "magnet": 4,
    "colour": 1,
    "streak": 1,
    "acid": 1,
    "resonance": 2,
    "sound_speed": 1,
    "sliding_magnet": 1,
}
X_RAYS = ("surface_composition", "two places")
X_RAY_UM = 10.0  # of a skin after which a third of the lines of the body is left


@dataclass(frozen=True)
class Metal:
    """What a drawn piece is made of: density [g/cm3], conductivity [MS/m], stiffness [GPa], mass percent by symbol."""

    density: float
    conductivity: float
    stiffness: float
    percent: dict[str, float]

    @property
    def permeability(self) -> float:
        """Relative, of a strongly magnetic metal or of none."""
        iron, nickel = (self.percent.get(s, 0.0) for s in ("Fe", "Ni"))
        return 100.0 if iron > 80 or nickel > 80 else 1.0


@dataclass(frozen=True)
class Built:
    """A drawn piece: its body, what covers it [um] with a strike under it [um], or what fills a share of it."""

    body: Metal
    skin: Metal | None = None
    um: float = 0.0
    strike: Metal | None = None
    strike_um: float = 0.0
    core: Metal | None = None
    part: float = 0.0

    @property
    def outermost(self) -> Metal:
        return self.skin or self.body

    def density(self, skin_share: float) -> float:
        """Of the whole [g/cm3]; a part without a core is empty."""
        if self.skin:
            return (1 - skin_share) * self.body.density + skin_share * self.skin.density
        return (1 - self.part) * self.body.density + self.part * (self.core.density if self.core else 0.0)


@cache
def metals() -> dict[str, Metal]:
    """Grades, materials of skins and pure metals of the tables, by name or symbol."""
    tables = default_tables()
    pure, out = tables.metals, {}

    def mean(percent: dict[str, float], of: str, usual: float) -> float:
        known = {s: p for s, p in percent.items() if s in pure}
        return sum(p * (getattr(pure[s], of) or usual) for s, p in known.items()) / max(sum(known.values()), 1e-9)

    def stiff(percent: dict[str, float]) -> float:
        return mean(percent, "youngs_modulus_gpa", 100.0)

    for symbol, row in pure.items():
        resistivity = row.resistivity_uohm_cm or 20.0
        out[symbol] = Metal(row.density_g_cm3, 100 / resistivity, stiff({symbol: 100.0}), {symbol: 100.0})
    for row in (*tables.rows("skins"), *tables.grades.values()):
        percent = dict(row.composition)
        density = row.density_g_cm3 or 100 / sum(p / pure[s].density_g_cm3 for s, p in percent.items() if s in pure)
        grade = getattr(row, "conductivity_iacs", None)
        rho = getattr(row, "resistivity_uohm_cm", None)
        conductivity = (
            grade * IACS if grade else 100 / rho if rho else 0.25 * 100 / mean(percent, "resistivity_uohm_cm", 10.0)
        )
        out[row.name] = Metal(density, conductivity, stiff(percent), percent)
    return out


def drawn(number: int, x_rays: bool = True) -> dict[str, Any]:
    """The piece of one number, without X-rays if these are not wanted."""
    return _Draw(np.random.default_rng([14, number])).piece(x_rays)


class _Draw:
    """One piece in the making."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng

    def one(self, of: Any, p: Any = None) -> Any:
        """One of several, with weights if these differ."""
        weight = None if p is None else np.asarray(p, dtype=float) / np.sum(p)
        return of[int(self.rng.choice(len(of), p=weight))]

    def chance(self, p: float) -> bool:
        return bool(self.rng.random() < p)

    def between(self, low: float, high: float) -> float:
        """Evenly in the logarithm."""
        return float(low * (high / low) ** self.rng.random())

    def off(self, u: float) -> float:
        """A factor with a relative error."""
        return float(1 + u * self.rng.standard_normal())

    def piece(self, x_rays: bool) -> dict[str, Any]:
        claim = self.one(CLAIMS)
        coin = self.one([c for c in default_tables().rows("coins") if c.composition]) if claim == "coin" else None
        claim = coin.id if coin else claim
        built = self.built(claim, dict(coin.composition) if coin else {})
        thick = self.between(0.5, 5.0)  # mm
        density = built.density(min(2.2 * built.um / 1000 / thick, 0.95))
        volume = coin.mass_g / 9.0 * 1000 if coin else self.between(60, 40_000)  # mm3
        mass = float(f"{density * volume / 1000:.4g}")
        shape, sizes = self.sizes(volume, coin)
        fields = {"claim": claim} if claim else {}
        fields |= self.weighing(mass, density)
        measured = self.chance(0.45)
        if measured or (coin and self.chance(0.5)):
            fields[shape] = [f"{x:.{self.one((1, 2, 2))}f} mm" for x in sizes]
        some = self.readings(built, fields, (shape, sizes), density, x_rays)
        if not some and not {"displaced", "in_water", "density"} & set(fields):
            some = [{"kind": "conductivity", **self.conductivity(built, sizes)}]
        return fields | ({"reading": some} if some else {})

    def metal_as(self, claim: str, composition: dict[str, float]) -> Metal:
        """A grade as claimed in four of ten pieces, precious in two, any in the others."""
        all_metals, grades = metals(), list(default_tables().grades)
        words = claim.replace(" ct", "").replace("k", "").split()
        near = [g for g in grades if words and all(w in g for w in words)]
        if composition:
            near = [
                g for g in grades if all(abs(metals()[g].percent.get(s, 0) - p) < 3 for s, p in composition.items())
            ]
        if near and self.chance(0.4):
            return all_metals[self.one(near)]
        precious = [
            g for g in grades if {"Ag", "Au", "Pt", "Pd"} & {s for s, p in metals()[g].percent.items() if p > 30}
        ]
        return all_metals[self.one(precious if self.chance(0.35) else grades)]

    def built(self, claim: str, composition: dict[str, float]) -> Built:
        body, all_metals = self.metal_as(claim, composition), metals()
        way = self.one(("solid", "plated", "clad", "cored", "hollow", "enriched"), (10, 9, 1, 3, 2, 1))
        if way == "plated":
            um = self.between(0.1, 40.0) if self.chance(0.75) else self.between(40.0, 600.0)
            struck = self.chance(0.3)
            strike = all_metals[self.one(("Ni", "Cu"))] if struck else None
            return Built(
                body, all_metals[self.one(SKINS)], um, strike, self.one((1.5, 2.0, 5.0, 12.0)) if struck else 0.0
            )
        if way == "enriched":
            return Built(body, all_metals[max(body.percent, key=lambda s: body.percent[s])], self.between(0.5, 30.0))
        if way == "clad":
            faces, core = self.one((("copper-nickel", "Cu"), ("manganese brass", "Cu"), ("silver 800", "silver 209")))
            return Built(all_metals[core], all_metals[faces], self.between(100.0, 400.0))
        if way == "cored":
            return Built(body, core=all_metals[self.one(SLUGS)], part=self.between(0.02, 0.95))
        return Built(body, part=self.between(0.005, 0.6) if way == "hollow" else 0.0)

    def sizes(self, volume: float, coin: Any) -> tuple[str, list[float]]:
        """Shape and lengths [mm] for a volume, as measured over a rim, a mount or rounded edges."""
        if coin:
            return "disc", [coin.diameter_mm * self.off(0.002), (coin.thickness_mm or 1.8) * self.off(0.01)]
        shape, slim = self.one(SHAPES, (3, 4, 1, 1, 0.5, 0.5)), self.between(5.0, 18.0)
        if shape == "bar":  # length, width, thickness
            t = (volume / 0.98 / slim / (0.6 * slim)) ** (1 / 3)
            return shape, [slim * t, 0.6 * slim * t, t]
        if shape == "disc":
            t = (4 * volume / 0.8 / pi) ** (1 / 3) * slim ** (-2 / 3)
            return shape, [slim * t, t]
        if shape == "rod":
            d = (4 * volume / pi / slim) ** (1 / 3)
            return shape, [d, slim * d]
        if shape == "sphere":
            return shape, [(6 * volume / pi / 0.99) ** (1 / 3)]
        d = (
            (16 * volume / 0.9 / pi / (1 - 0.85**2)) ** (1 / 3)
            if shape == "ring"
            else (volume * 4 / pi / 2 / 0.36) ** (1 / 3)
        )
        return shape, [d, 0.85 * d, d / 4] if shape == "ring" else [d, 0.8 * d, 2 * d]

    def weighing(self, mass: float, density: float) -> dict[str, Any]:
        step = self.one((0.1, 0.01, 0.001), (1, 6, 2))
        decimals = {0.1: 1, 0.01: 2, 0.001: 3}[step]
        way = self.one(("displaced", "in_water", "density", "dry", "none"), (8, 1.5, 1, 0.7, 0.5))
        if way == "none":
            return {}
        out: dict[str, Any] = {"mass": f"{mass:.{decimals}f} g"}
        if way == "density":
            u = self.one((0.002, 0.005, 0.02))
            out["density"] = f"{density * self.off(u):.3f} +- {u * density:.2g} g/cm3"
        elif way != "dry":
            water = mass / density * self.off(0.001) + 0.003 * self.rng.exponential()
            noise = [self.rng.normal() * 0.7 * step for _ in range(self.one((1, 2, 3)))]
            texts = [f"{np.clip(water + x, mass / 24 + step, 1.9 * mass):.{decimals}f} g" for x in noise]
            out |= {"displaced": texts} if way == "displaced" else {"in_water": f"{mass - water:.{decimals}f} g"}
            if self.chance(0.2):
                out["wetting"] = "brushed"
        return out

    def readings(
        self, built: Built, fields: dict[str, Any], form: tuple[str, list[float]], density: float, x_rays: bool
    ) -> list[dict[str, Any]]:
        """Up to five readings of different kinds, one of them of something else in one piece of eight."""
        kinds = [k for k in READINGS if x_rays or k not in X_RAYS]
        weight = np.array([READINGS[k] for k in kinds])
        count = self.one(range(6), (2, 4, 4, 2, 1, 0.7))
        chosen = [kinds[k] for k in self.rng.choice(len(kinds), size=count, replace=False, p=weight / weight.sum())]
        wrong = self.one(range(count)) if count and self.chance(0.125) else -1
        out: list[dict[str, Any]] = []
        for k, kind in enumerate(chosen):
            of = Built(self.metal_as("", {})) if k == wrong else built
            out += [{"kind": r.pop("kind", kind)} | r for r in self.reading(kind, of, fields, form, density)]
        return out

    def reading(
        self, kind: str, built: Built, fields: dict[str, Any], form: tuple[str, list[float]], density: float
    ) -> list[dict[str, Any]]:
        """One reading as tables of a piece file; none if it cannot be taken of such a piece."""
        shape, sizes = form
        top, claim = built.outermost, fields.get("claim", "")
        if kind == "conductivity":
            return [self.conductivity(built, sizes)]
        if kind == "two frequencies":
            return [{"kind": "conductivity", **self.conductivity(built, sizes, f)} for f in (60e3, 480e3)]
        if kind == "resistivity":
            mean = (1 - built.part) * built.body.conductivity + built.part * (built.core or built.body).conductivity
            return [{"value": f"{np.clip(100 / mean * self.off(0.02), 1.6, 200):.3g} uohm cm"}]
        if kind == "surface_composition":
            return [self.x_rays(built, 1.0)]
        if kind == "two places":
            two = zip((0.3, 1.5), ("edge", "middle"), strict=True)
            return [{"kind": "surface_composition", "place": place} | self.x_rays(built, f) for f, place in two]
        if kind == "magnet":
            strong = max(built.body.permeability, (built.core or top).permeability) > 1
            felt = built.strike is not None and built.strike.permeability > 1 and built.strike_um > 4
            return [{"value": "strong" if strong else "weak" if felt else "none"}]
        if kind == "colour":
            return [{"value": "yellow" if self.yellow(top) else "red" if top.percent.get("Cu", 0) > 90 else "white"}]
        if kind == "streak":
            return [{"value": "yellow" if self.yellow(top) else "white"}]
        if kind == "acid":
            as_gold = "as gold" if top.percent.get("Au", 0) > 35 else "as neither"
            return [{"value": "as silver" if top.percent.get("Ag", 0) > 50 else as_gold}]
        if kind == "resonance":
            return self.tones(built, fields, shape, sizes, density)
        if kind == "sound_speed":
            speed = sqrt(1.5 * built.body.stiffness * 1e9 / (1000 * built.body.density))
            return [{"value": f"{np.clip(speed * self.off(0.01), 1200, 7000):.0f} m/s"}]
        ratio = np.clip(built.body.conductivity / 58 * self.off(0.1), 0.03, 3.0)
        return [{"value": f"{ratio:.2g}", "known_good": "silver 999"}] if claim != "" or self.chance(0.5) else []

    @staticmethod
    def yellow(metal: Metal) -> bool:
        return metal.percent.get("Au", 0) > 35 or metal.percent.get("Zn", 0) > 15

    def conductivity(self, built: Built, sizes: list[float], hertz: float | None = None) -> dict[str, Any]:
        """Of an eddy-current meter, through the layers; its frequency is not always known."""
        known = hertz is not None or self.chance(0.65)
        hertz = hertz or self.one((60e3, 240e3, 480e3))
        layers = [(built.body, 1000 * min(sizes))]
        if built.strike:
            layers.insert(0, (built.strike, built.strike_um))
        if built.skin:
            layers.insert(0, (built.skin, built.um))
        sigma, mu = ([getattr(m, of) for m, _ in layers] for of in ("conductivity", "permeability"))
        seen = float(apparent_conductivity(sigma, [um for _, um in layers], mu, hertz))
        value = f"{np.clip(seen / IACS * self.off(0.015), 0.4, 109):.3g} %IACS"
        return {"value": value} | ({"frequency": f"{hertz / 1000:.0f} kHz"} if known else {})

    def x_rays(self, built: Built, factor: float) -> dict[str, Any]:
        """Shares that an instrument prints, skin and body mixed by how thick the skin is at one place."""
        through = float(np.exp(-built.um * factor / X_RAY_UM)) if built.skin else 1.0
        percent: dict[str, float] = {}
        for metal, share in ((built.body, through), (built.outermost, 1 - through)):
            for s, p in metal.percent.items():
                if s in METALS_PRINTED:
                    percent[s] = percent.get(s, 0.0) + share * p
        printed = {s: p + self.rng.normal() * (0.1 + 0.01 * p) for s, p in percent.items()}
        printed = {s: p for s, p in sorted(printed.items(), key=lambda x: -x[1]) if p > 0.3} or {"Cu": 99.0}
        scale = 100 / max(sum(printed.values()), 100.0)
        text = " ".join(f"{s} {p * scale:.1f}" for s, p in printed.items())
        way = self.rng.random()
        listed = {} if way < 0.5 else {"listed": "none"} if way < 0.7 else {"listed": "Ag Au Cu Zn Ni Sn Pb Pd Fe W"}
        return {"value": text} | listed

    def tones(
        self, built: Built, fields: dict[str, Any], shape: str, sizes: list[float], density: float
    ) -> list[dict[str, Any]]:
        """Lowest tone of a free disc or bar; other shapes, and pieces without lengths, are not struck."""
        if shape not in ("bar", "disc") or not {shape, "mass"} <= set(fields):
            return []
        speed = sqrt(built.body.stiffness * 1e9 / (1000 * density))  # m/s
        length, thick = sizes[0] / 1000, sizes[-1] / 1000
        hertz = (1.028 if shape == "bar" else 0.99) * thick / length**2 * speed * self.off(0.01)
        return [{"value": f"{hertz:.0f} Hz"}] if 200 < hertz < 30_000 else []


METALS_PRINTED = frozenset("Ag Au Pt Pd Rh Ru Ir Cu Zn Ni Sn Sb Pb Bi Hg Cd In Fe Co Cr Mn Ti W Mo Ta".split())  # noqa: SIM905
