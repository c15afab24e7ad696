"""Layered intensities and what an instrument prints, by fisx, against `alloysolve.physics.fluorescence`.

    python tests/independent/fluorescence_layers.py          # needs fisx

fisx brings its own attenuation (EPDL97), line energies and integrals. Three comparisons:

1. primary intensities of a skin over a core, relative to the pure metals;
2. the thickness at which such a piece is printed as 50 to 99.99 % of its skin;
3. what leaving out the excitation by other metals costs: fisx makes the intensities of a piece with it, and prints
   the composition of the thick alloy that would give the same intensities, also with it (or, second figure, without,
   as an instrument that leaves it out). The thickness that `fluorescence` finds for the printed composition is
   compared with the one put in.
"""

from __future__ import annotations

import itertools

import numpy as np
from fisx import XRF, Elements, Material
from scipy.optimize import brentq

from alloysolve.physics import fluorescence as model
from alloysolve.published.load import default_tables

DENSITY = {"Ag": 10.49, "Au": 19.3, "Ni": 8.9, "Cu": 8.94}
BRASS, NICKEL_SILVER = {"Cu": 0.63, "Zn": 0.37}, {"Cu": 0.62, "Ni": 0.18, "Zn": 0.20}
CORES = {
    "Cu": {"Cu": 1.0},
    "brass": BRASS,
    "nickel silver": NICKEL_SILVER,
    "Pb": {"Pb": 1.0},
    "Sn": {"Sn": 1.0},
    "W": {"W": 1.0},
    "Ag": {"Ag": 1.0},
    "Ag 925": {"Ag": 0.925, "Cu": 0.075},
    "Fe": {"Fe": 1.0},
}
PIECES = [("Ag", core, beam) for core in ("Cu", "brass", "nickel silver", "Pb", "Fe") for beam in (28.0, 35.0, 40.0)]
PIECES += [("Ag", "Sn", beam) for beam in (32.0, 40.0)]
PIECES += [("Au", core, beam) for core in ("W", "Cu", "brass") for beam in (16.0, 20.2, 30.0)]
PIECES += [("Au", core, beam) for core in ("Ag", "Ag 925") for beam in (28.0, 35.0)]
SHARES = (0.5, 0.9, 0.925, 0.99, 0.999, 0.9999)


class Laboratory:
    """Intensities by fisx of the main line of each metal of one piece, relative to the thick pure metals."""

    def __init__(self, metals: list[str], beam: float) -> None:
        self.metals = metals
        self._elements = Elements()
        self._elements.initializeAsPyMca()
        self._families = [f"{m} {'L3' if _by_l(m) else 'K'}" for m in metals]
        self._names = itertools.count()
        self._xrf = XRF()
        self._xrf.setBeam(beam)
        self._xrf.setGeometry(model.ANGLE, model.ANGLE)
        self._pure = np.array([self._rates([({m: 1.0}, 1.0, 1.0)], 0)[i] for i, m in enumerate(metals)])

    def _rates(self, layers: list[tuple[dict[str, float], float, float]], order: int) -> np.ndarray:
        sample = []
        for composition, density, thickness_cm in layers:
            name = f"layer{next(self._names)}"
            material = Material(name, density, thickness_cm)
            material.setComposition(composition)
            self._elements.addMaterial(material)
            sample.append([name, density, thickness_cm])
        self._xrf.setSample(sample)
        present = {m for composition, _, _ in layers for m in composition}
        asked = [f for f, m in zip(self._families, self.metals, strict=True) if m in present]
        found = self._xrf.getMultilayerFluorescence(asked, self._elements, secondary=order, useMassFractions=1)
        return np.array([_main(found.get(f, {}), _by_l(m)) for f, m in zip(self._families, self.metals, strict=True)])

    def ratio(self, layers: list[tuple[dict[str, float], float, float]], order: int = 0) -> np.ndarray:
        """Relative intensities of layers given as composition, density [g/cm3], thickness [um], outermost first."""
        return self._rates([(c, d, 1e-4 * t) for c, d, t in layers], order) / self._pure

    def printed(self, ratio: np.ndarray, order: int = 0) -> np.ndarray:
        """Composition of the thick alloy with the same intensities, found by stepping."""
        w = ratio / ratio.sum()
        for _ in range(60):
            bulk = self.ratio([(_composition(self.metals, w), 8.0, 1e5)], order)
            with np.errstate(invalid="ignore", divide="ignore"):
                new = np.where(bulk > 0, w * ratio / bulk, 0.0)
            new = np.nan_to_num(new / new.sum())
            if np.abs(new - w).max() < 1e-9:
                break
            w = 0.3 * w + 0.7 * new
        return new


def _by_l(metal: str) -> bool:
    return {line.symbol: line.edge for line in default_tables().rows("lines")}[metal] == "L3"


def _main(by_layer: dict, by_l: bool) -> float:
    name = "L3M5" if by_l else "KL3"
    layers = by_layer if isinstance(by_layer, list) else by_layer.values()
    return sum(lines[name]["rate"] for lines in layers if name in lines)


def _composition(metals: list[str], w: np.ndarray) -> dict[str, float]:
    return {m: float(x) for m, x in zip(metals, w, strict=True) if x > 1e-12}


def absorption(metals: list[str], beam: float) -> np.ndarray:
    """Absorption by the shipped tables."""
    rows = default_tables().rows("attenuation")
    grids = [np.array([(r.energy_keV, r.attenuation_cm2_g) for r in rows if r.symbol == m]).T for m in metals]
    lines = {line.symbol: line for line in default_tables().rows("lines")}
    edge = np.array([lines[m].edge_keV for m in metals])
    energy = np.array([lines[m].energy_keV for m in metals])
    return model.absorption([(g[0], g[1]) for g in grids], energy, model.exciting_beam(beam, edge))


def intensities() -> None:
    """Primary intensities of fisx and of the model."""
    worst = 0.0
    for skin, core, beam in PIECES:
        metals, x, skin_w, core_w = _piece(skin, core, beam)
        laboratory = Laboratory(metals, beam)
        for t in (0.3, 1.0, 3.0, 5.0, 10.0):
            theirs = laboratory.ratio([({skin: 1.0}, DENSITY[skin], t), (CORES[core], 8.0, 1e5)])
            ours = model.layer_ratio(skin_w, DENSITY[skin], t, core_w, x)
            off = np.abs(ours / theirs - 1).max()
            worst = max(worst, off if theirs.min() > 1e-3 else 0.0)
            print(
                f"{skin} {t:4.1f} um on {core:13} {beam:4.1f} keV",
                *(f"{m} {a:.4f} ({b:.4f})" for m, a, b in zip(metals, ours, theirs, strict=True)),
            )
    print(f"largest difference, intensities above 0.001 of the pure metal: {100 * worst:.2f} %\n")


def thresholds() -> None:
    """Thicknesses printed as a share of the skin."""
    worst = 0.0
    for skin, core, beam in PIECES:
        metals, x, skin_w, core_w = _piece(skin, core, beam)
        laboratory = Laboratory(metals, beam)
        ours = [float(model.seen_depth(skin_w, DENSITY[skin], core_w, x, 1 - s)) for s in SHARES]

        def excess(t: float, share: float, laboratory=laboratory, skin=skin, core=core) -> float:
            ratio = laboratory.ratio([({skin: 1.0}, DENSITY[skin], t), (CORES[core], 8.0, 1e5)])
            return float(np.log((1 - laboratory.printed(ratio)[0]) / (1 - share)))

        theirs = [brentq(excess, 0.5 * t, 2 * t, args=(s,), rtol=1e-4) for t, s in zip(ours, SHARES, strict=True)]
        off = np.array(ours) / theirs - 1
        worst = max(worst, np.abs(off).max())
        found = [f"{a:7.2f} ({b:.2f})" for a, b in zip(ours, theirs, strict=True)]
        print(f"{skin} on {core:13} {beam:4.1f} keV", *found)
    print(f"largest difference in thickness: {100 * worst:.2f} %\n")


def excitation() -> None:
    """Thickness found from a reading of a piece whose metals excite each other."""
    for skin, core, beam in PIECES:
        metals, x, skin_w, core_w = _piece(skin, core, beam)
        laboratory = Laboratory(metals, beam)
        found = []
        for t in (2.0, 5.0, 10.0, 15.0):
            ratio = laboratory.ratio([({skin: 1.0}, DENSITY[skin], t), (CORES[core], 8.0, 1e5)], order=2)
            printed = np.array([laboratory.printed(ratio, order)[0] for order in (2, 0)])
            off = 100 * (model.seen_depth(skin_w, DENSITY[skin], core_w, x, 1 - printed) / t - 1)
            found.append(f"{t:4.1f} um: {off[0]:+5.1f} % {off[1]:+5.1f} %")
        print(f"{skin} on {core:13} {beam:4.1f} keV", *found)


def _piece(skin: str, core: str, beam: float) -> tuple[list[str], np.ndarray, np.ndarray, np.ndarray]:
    metals = [skin, *(m for m in CORES[core] if m != skin)]
    skin_w = np.array([1.0] + [0.0] * (len(metals) - 1))
    return metals, absorption(metals, beam), skin_w, np.array([CORES[core].get(m, 0.0) for m in metals])


if __name__ == "__main__":
    intensities()
    thresholds()
    excitation()
