"""X-ray fluorescence of layered metals: the composition that an instrument prints for a skin over a core.

Arrays over the elements of one piece share one order. `w` (..., k) are mass fractions. ``absorption[a, e]`` [cm2/g]
is what element `a` takes from the beam on its way in and from the line of element `e` on its way out. An element whose
line is not seen has a column of `nan`: it absorbs, and its intensity is zero. All intensities are primary fluorescence
relative to the pure, thick element, so that yields, jump ratios and the efficiency of the detector cancel. One energy
stands for the beam. Excitation by the fluorescence of other metals of the piece is left out; `layer_ratio` says what
that costs.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array, Mask

ANGLE = 45.0  # degrees between surface and beam, and between surface and detector; common practice, no source
BEAM_KEV = (28.0, 40.0)  # one energy that stands for tubes of 40 to 50 kV; from memory
ABOVE_EDGE = 1.095  # least beam over edge; judgement: what excites a line lies above its edge on average
SEEN = 0.001  # a core counts as seen while it moves the reading by 0.1 % of mass

_STEP = 0.85  # of each step of the iteration: the plain one overshoots, with a ratio near -0.3
_STEPS, _EXACT = 200, 1e-8
_PARTS, _TIMES = 32, 7  # into which the interval of a thickness is divided, and how often


def attenuation(energy: ArrayLike, grid_energy: Array, grid_attenuation: Array) -> Array:
    """Mass attenuation [cm2/g] at an energy, by log-log interpolation; `nan` outside the grid.

    Parameters
    ----------
    energy : [keV], any shape.
    grid_energy : energies of the rows of one element, rising, two rows at each absorption edge [keV], (n,).
    grid_attenuation : mass attenuation in these rows [cm2/g], (n,).

    Notes
    -----
    The result is within 0.1 % of the compilation from which the rows were taken (source: tables/attenuation.csv).
    Another compilation gives the same thicknesses of skins within 0.5 %, or 1.3 % where the beam lies just above an
    edge.

    >>> attenuation([2.0, 4.0], np.array([1.0, 4.0]), np.array([800.0, 12.5])).round(1)
    array([100. ,  12.5])
    """
    x = np.log(np.asarray(energy, dtype=float))
    return np.asarray(np.exp(np.interp(x, np.log(grid_energy), np.log(grid_attenuation), left=np.nan, right=np.nan)))


def exciting_beam(beam: ArrayLike, edge: Array) -> Array:
    """One energy [keV] per line that stands for the part of the beam that can excite the line.

    It is ``max(beam, 1.095 edge)``: a tube that reads tin (edge 29.2 keV) does so with its harder part. The factor is a
    judgement, no source.

    Parameters
    ----------
    beam : energy that stands for the whole beam [keV]. edge : of the shell behind each line [keV], (k,).
    """
    return np.maximum(beam, ABOVE_EDGE * np.asarray(edge, dtype=float))


def absorption(
    grids: Sequence[tuple[Array, Array]],
    line: Array,
    beam: ArrayLike,
    angle_in: float = ANGLE,
    angle_out: float = ANGLE,
) -> Array:
    """Absorption of each element on the way in and out [cm2/g], (k, k): rows are absorbers, columns lines.

    X_ae = mu_a(E0_e) / sin(angle_in) + mu_a(E_e) / sin(angle_out)

    Parameters
    ----------
    grids : energies [keV] and mass attenuation [cm2/g] of each element, as in `attenuation`.
    line : energy of the line of each element (k,) [keV]; `nan` where none is seen.
    beam : energy of the beam [keV], one for all lines or one per line (k,), each above the edge of its line.
    angle_in, angle_out : angle of the beam and of the detector to the surface [degrees].

    Source: law of Lambert and Beer along both paths, as in Sherman, Spectrochim. Acta 7 (1955) 283, from memory.
    """
    out = np.asarray(line, dtype=float)
    into = np.broadcast_to(np.asarray(beam, dtype=float), out.shape)
    s_in, s_out = np.sin(np.radians([angle_in, angle_out]))
    return np.array([attenuation(into, *grid) / s_in + attenuation(out, *grid) / s_out for grid in grids])


def bulk_ratio(w: Array, absorption: Array) -> Array:
    """Intensity of each line of a thick homogeneous alloy over that of the pure metal, (..., k), dimensionless.

    R_e = w_e X_ee / sum_a w_a X_ae

    Parameters
    ----------
    w : mass fractions (..., k); they need not sum to one. absorption : from `absorption` [cm2/g], (k, k).

    Thick means several times 1 / (density X): 0.1 mm for most metals, 0.5 mm for tin and silver. Source: primary
    fluorescence, Sherman, Spectrochim. Acta 7 (1955) 283, from memory.

    >>> bulk_ratio(np.array([0.5, 0.5]), np.array([[100.0, 50.0], [300.0, 50.0]]))  # the second metal absorbs line one
    array([0.25, 0.5 ])
    """
    return np.nan_to_num(w * np.diagonal(absorption) / (w @ absorption), nan=0.0)


def layered_ratio(layers: Sequence[tuple[Array, ArrayLike]], core_w: Array, absorption: Array) -> Array:
    """Intensity of each line of layers over a thick core, relative to the pure thick metal, (..., k), dimensionless.

    R_e = X_ee [sum_l T_l w_le (1 - exp(-X_le m_l)) / X_le + T_core w_core,e / X_core,e], with X_le = sum_a w_la X_ae
    and T_l = exp(-sum X m over the layers above).

    Parameters
    ----------
    layers : outermost first: mass fractions (..., k) and mass per area [g/cm2], shaped (...).
    core_w : mass fractions of the core (..., k).
    absorption : from `absorption` [cm2/g], (k, k).

    Source: primary fluorescence of thin films, Shiraiwa and Fujino, Jpn. J. Appl. Phys. 5 (1966) 886, from memory.
    """
    passed: Array | float = 1.0
    total: Array | float = 0.0
    for w, mass_per_area in layers:
        taken = w @ absorption
        left = np.exp(-taken * np.asarray(mass_per_area, dtype=float)[..., None])
        total = total + passed * w * (1.0 - left) / taken
        passed = passed * left
    total = total + passed * core_w / (core_w @ absorption)
    return np.nan_to_num(total * np.diagonal(absorption), nan=0.0)


def layer_ratio(
    skin_w: Array, skin_density: ArrayLike, thickness_um: ArrayLike, core_w: Array, absorption: Array
) -> Array:
    """Intensity of each line of one skin over a thick core, relative to the pure thick metal, (..., k), dimensionless.

    Parameters
    ----------
    skin_w, core_w : mass fractions (..., k). skin_density [g/cm3] and thickness_um [um] broadcast against each other.
    absorption : from `absorption` [cm2/g], (k, k).

    Notes
    -----
    The density of electroplate is 0 to 5 % below that of the metal; the true thickness is larger by as much.
    Fluorescence of one metal that excites another is left out. Where a piece has it, and the instrument corrects for it
    as in a thick alloy, the thickness that gives the printed composition comes out 0 to 15 % too large for silver over
    copper, brass, iron or lead and for gold over copper, 3 to 11 % too small for silver over tin, and within 5 % for
    gold over tungsten or silver. With an instrument that does not correct, it comes out 2 to 15 % too small, but for
    gold over silver too large by 20 to 50 % at 2 um and 10 to 20 % at 5 um. Source:
    tests/independent/fluorescence_layers.py.
    """
    mass_per_area = np.asarray(skin_density, dtype=float) * np.asarray(thickness_um, dtype=float) * 1e-4
    return layered_ratio([(skin_w, mass_per_area)], core_w, absorption)


def apparent_composition(ratio: Array, absorption: Array, listed: Mask | None = None) -> Array:
    """Mass fractions, summing to one, that an instrument prints from the intensities of a piece, (..., k).

    The instrument takes the piece for a thick homogeneous alloy of the metals it lists: w_e = c R_e (sum_a w_a X_ae) /
    X_ee with one c for all, solved by damped iteration from w = R. For a bare alloy this is the inverse of
    `bulk_ratio`.

    Parameters
    ----------
    ratio : intensities relative to the pure metals (..., k), dimensionless, as from `layer_ratio`.
    absorption : from `absorption` [cm2/g], (k, k).
    listed : which metals the instrument knows (k,); if left out, all whose line is seen. Others are printed as zero.

    Notes
    -----
    Instruments without standards work this way and print 100 %; others leave c at one and print sums off 100 % (common
    practice, no source). The result is exact to 1e-8, and `nan` where no listed metal is seen.
    """
    pure = np.diagonal(absorption)
    known = np.isfinite(pure) if listed is None else np.isfinite(pure) & listed
    scaled = np.asarray(ratio)[..., known] / pure[known]
    taken = np.ascontiguousarray(absorption[np.ix_(known, known)])
    w = _unit_sum(np.ascontiguousarray(scaled * pure[known]))
    for _ in range(_STEPS):
        new = _unit_sum(scaled * (w @ taken))
        new = w + _STEP * (new - w)
        moved = float(np.abs(new - w).max(initial=0.0, where=~np.isnan(new)))
        w = new
        if moved < _EXACT:
            break
    full = np.zeros(np.shape(ratio))
    full[..., known] = w
    return full


def seen_depth(
    skin_w: Array,
    skin_density: ArrayLike,
    core_w: Array,
    absorption: Array,
    departure: ArrayLike = SEEN,
    listed: Mask | None = None,
) -> Array:
    """Greatest thickness [um] of a skin at which the core still moves the printed composition by more than `departure`.

    The movement is half the sum of the absolute differences, in mass fractions, between what is printed and what is
    printed for a thick skin. If skin and core have no metal in common, it is the share of the core's metals. With
    ``departure=0.075`` the result is the thickness of fine silver that is printed as 92.5 %.

    Parameters
    ----------
    skin_w, core_w : mass fractions (..., k), broadcast with `skin_density` [g/cm3] and `departure`.
    absorption : from `absorption` [cm2/g], (k, k). listed : as for `apparent_composition`.

    Returns
    -------
    Array
        0 where even the bare core moves the printed composition less, because its metals are not listed, not seen, or
        those of the skin.
    """
    limit = np.asarray(departure, dtype=float)
    thick = apparent_composition(bulk_ratio(skin_w, absorption), absorption, listed)
    shape = np.broadcast_shapes(np.shape(skin_w)[:-1], np.shape(core_w)[:-1], np.shape(skin_density), limit.shape)
    # beyond this the most penetrating line is down to 1e-6 of the limit
    least = np.nanmin(skin_w @ absorption, axis=-1)
    high = np.broadcast_to(np.log(1e6 / limit) / (np.asarray(skin_density) * least) * 1e4, shape).copy()
    low = np.zeros(shape)
    part = np.arange(1, _PARTS).reshape(-1, *(1,) * len(shape)) / _PARTS
    for _ in range(_TIMES):
        ratio = layer_ratio(skin_w, skin_density, low + (high - low) * part, core_w, absorption)
        moved = np.abs(apparent_composition(ratio, absorption, listed) - thick).sum(axis=-1) / 2
        last = np.where(moved > limit, part, 0.0).max(axis=0)  # part of the interval up to which the core is seen
        low, high = low + (high - low) * last, low + (high - low) * (last + 1 / _PARTS)
    return np.asarray(high)


def _unit_sum(w: Array) -> Array:
    """Mass fractions scaled so that they sum to one."""
    with np.errstate(invalid="ignore"):
        return np.asarray(w / w.sum(axis=-1, keepdims=True))
