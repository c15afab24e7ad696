"""What a conductivity reading shows of candidates: an eddy-current meter sees layers to its depth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ..arrays import Array, Index
from ..measured import K95
from ..physics.eddy import ADJUSTED, Layer, depth_of_penetration, model_uncertainty, reading_of, resistivity_at
from ..physics.resistivity import IACS_UOHM_CM
from ..pieces.candidates import Along
from ..pieces.constructions import Place
from ..units import IACS_MS_M
from .base import ALL, BODY, CONDUCTIVITY, STRIKES
from .error_model import quadrature_sum, ratio_pdf, ratio_pdf_between
from .ratio import CLOSE, Ratio, bound_by_parts

if TYPE_CHECKING:
    from ..alloys.bodies import Bodies
    from ..pieces.candidates import Candidates

METERED = "conductivity"  # kind of what an eddy-current meter shows, in %IACS
SPAN_UOHM_CM = (1.5, 200.0)  # range of "something else", uniform in the logarithm
THICK = 3.0  # depths of penetration from which a bare piece reads like a thick one
UNSEEN = 0.01  # of a depth of penetration: a non-magnetic layer thinner than this is of no effect (second order)
# in depths of penetration, a layer with which the reading swings beyond that of a thicker and a thinner one, and by how
# much at most of the logarithm of the contrast (tested)
SWINGS, OVERSHOOT = (0.4, 5.0), 0.1
# relative permeability of bodies by magnetic class, and its scatter in the logarithm: worked austenite and alloys of 60
# to 75 % nickel have little, steel and nickel 50 to 1000 (tables of permeability; from memory)
BODY_MU_R, U_BODY_MU_R = np.array([1.0, 1.3, 150.0]), np.array([0.0, 0.3, 1.0])


@dataclass(frozen=True)
class ObservedConductivity(Ratio):
    """A conductivity reading [MS/m], ready to be compared with candidates.

    `frequencies` : [Hz] of the meter, equally likely; none: the current goes through the whole piece.
    `temperature` : [degC] or None. `slopes` : d rho / d t by host metal [uohm cm/K].
    """

    shares_model = "conductivity"
    measures = CONDUCTIVITY
    tells_bare = True
    frequencies: tuple[float, ...] = ()
    temperature: float | None = None
    slopes: Any = None

    @property
    def shows(self) -> int:  # type: ignore[override]
        """Which layers the reading can show: strikes too, if the depth to which the meter looks is known."""
        return STRIKES if len(self.frequencies) == 1 else BODY

    def body_conductivity(self, bodies: Bodies) -> Array:
        """Conductivity of each body at the temperature of the reading [MS/m]."""
        rho = bodies.resistivity
        if self.temperature is not None:
            host = bodies.main
            by_metal = np.array([self.slopes.get(s.removesuffix("-fcc"), 0.0) for s in bodies.law.symbols])
            rho = resistivity_at(rho, self.temperature, by_metal[host])
        return np.asarray(100 / np.maximum(rho, 0.5))

    def predictions(self, candidates: Candidates) -> list[tuple[Array, Array]]:
        """Conductivity [MS/m] and relative model uncertainty of each piece, one pair per possible frequency."""
        every = self.predictions_along(Along.of(candidates))
        return [(value[:, 0], model[:, 0]) for value, model in every]

    def predictions_along(self, a: Along) -> list[tuple[Array, Array]]:
        """The same of pairs at each of their steps, both (pairs, steps)."""
        bodies, layers = a.pairs.bodies, a.pairs.layers
        body, of_body = self.body_conductivity(bodies), bodies.u_resistivity[a.pairs.point, None]
        if not self.frequencies:
            part = np.where(a.pairs.at(Place.VOID)[:, None], 0.0, a.part)
            value = (1 - part) * body[a.pairs.point, None] + part * (100 / layers.resistivity)[a.pairs.skin, None]
            return [(value, np.broadcast_to(of_body, value.shape))]
        return [self._at(a, body[a.pairs.point, None], f) for f in self.frequencies]

    def _at(self, a: Along, body: Array, frequency: float) -> tuple[Array, Array]:
        """Prediction at one frequency; pieces that read like their thick bare body are not put through the layers."""
        pairs, thick = a.pairs, a.pairs.form.thickness_um
        magnetic, measured = pairs.bodies.magnetic[pairs.point, None], pairs.form.measured
        mu = BODY_MU_R[magnetic]
        of_body = quadrature_sum(pairs.bodies.u_resistivity[pairs.point, None], U_BODY_MU_R[magnetic])
        model = quadrature_sum(of_body, model_uncertainty(body[..., None], np.inf, mu[..., None], frequency))
        value, model = (np.repeat(x, a.parameter.shape[1], axis=1) for x in (body / mu, model))
        delta, strike = depth_of_penetration(body, frequency, mu), strike_um(pairs)[:, None]
        unseen = np.where(pairs.layers.mu_r[pairs.skin, None] > 1, 0.0, UNSEEN * delta)  # magnetic: of first order
        layered = ((pairs.skin[:, None] >= 0) & (a.depth_um > unseen)) | (strike > 0)
        layered &= ~(pairs.at(Place.INSIDE)[:, None] & (a.depth_um > THICK * delta))
        layered |= measured & (thick < THICK * delta)
        row = np.flatnonzero(layered.any(axis=1))
        if not len(row):
            return value, model
        found, u = reading_of(_layers_of(a.some(row), body[row], mu[row], measured), frequency)
        some = layered[row]
        value[row] = np.where(some, found, value[row])
        model[row] = np.where(some, quadrature_sum(of_body[row], u), model[row])
        return value, model

    @property
    def conditions(self) -> tuple[Any, ...]:
        """Frequencies and temperature."""
        return self.frequencies, self.temperature

    def predict(self, candidates: Candidates) -> tuple[Array, Array]:
        """Conductivity [MS/m] at the frequency at which each candidate agrees best, and its model uncertainty."""
        return self.best_of(*(np.array(x) for x in zip(*self.predictions(candidates), strict=True)))

    def predict_along(self, a: Along) -> tuple[Array, Array]:
        """The same of pairs at each of their steps."""
        return self.best_of(*(np.array(x) for x in zip(*self.predictions_along(a), strict=True)))

    def best_of(self, values: Array, models: Array) -> tuple[Array, Array]:
        """Of predictions (frequencies, ...), those at the frequency at which each candidate agrees best."""
        if len(values) == 1:
            return values[0], models[0]
        best = np.abs(np.log(self.read / values) / quadrature_sum(self.u, models)).argmin(axis=0)[None]
        value, model = (np.take_along_axis(x, best, axis=0)[0] for x in (values, models))
        return value, model

    def expected(self, candidates: Candidates) -> Array:
        """Conductivity [MS/m] at the middle one of the possible frequencies."""
        every = self.predictions(candidates)
        return every[len(every) // 2][0]

    @property
    def unit_shown(self) -> str:  # type: ignore[override]
        """The unit that people are shown: %IACS of a meter, uohm cm of the whole piece."""
        return "%IACS" if self.frequencies else "uohm cm"

    def shown(self, candidates: Candidates) -> Array:
        """Conductivity in %IACS, or resistivity in uohm cm."""
        value = self.expected(candidates)
        return value / (IACS_MS_M / 100) if self.frequencies else 100 / value

    def from_bare(self, resistivity: Array, u: Array, magnetic: Index) -> Array:
        """How far resistivities lie from the one that was read."""
        adjusted = ADJUSTED if self.frequencies else 0.0
        return np.asarray(np.log(resistivity * self.read / 100) / (K95 * np.sqrt(self.u**2 + adjusted**2 + u**2)))

    def plain(self, shown: Array) -> Array:
        """Conductivity in %IACS; a resistivity as a multiple of that of copper."""
        if self.kind == METERED:
            return shown
        return 100 / shown if self.frequencies else shown * 100 / IACS_UOHM_CM

    @property
    def coarse(self) -> str:  # type: ignore[override]
        """Whole %IACS; two digits of a multiple of copper."""
        return ".0f" if self.kind == METERED else ".2g"

    @property
    def plain_text(self) -> str:
        """Three digits."""
        iacs = self.read / (IACS_MS_M / 100)
        return f"{iacs if self.kind == METERED else 100 / iacs:.3g}"

    def pdf(self, candidates: Candidates) -> Array:
        """Density in ln(value), averaged over the possible frequencies."""
        return self.along(Along.of(candidates))[:, 0]

    def along(self, a: Along) -> Array:
        """`pdf` of pairs at each of their steps."""
        each = [ratio_pdf(np.log(self.read / value), self.u, model) for value, model in self.predictions_along(a)]
        return np.asarray(sum(each) / len(each))

    def most(self, a: Along) -> Array:
        """About the highest `pdf` between neighbouring steps, averaged over the possible frequencies.

        Layers need no closer steps, since how far they swing is known.
        """

        def bound(b: Along) -> Array:
            each = [
                ratio_pdf_between(np.log(self.read / value), self.u, model, self._overshoot(b, f))
                for (value, model), f in zip(self.predictions_along(b), self.frequencies or (0.0,), strict=True)
            ]
            return np.asarray(sum(each) / len(each))

        return bound_by_parts(a, bound, np.where(a.pairs.covered, np.inf, CLOSE))

    def beyond(self, a: Along) -> Array:
        """The largest overshoot at any of the frequencies."""
        return np.asarray(np.max([self._overshoot(a, f) for f in self.frequencies or (0.0,)], axis=0))

    def _overshoot(self, a: Along, frequency: float) -> Array:
        """How far ln(value) may go beyond its values at two steps, about a layer as thick as the current is deep."""
        if not frequency:
            return np.zeros((1, 1))
        pairs = a.pairs
        body = self.body_conductivity(pairs.bodies)[pairs.point, None]
        mu = BODY_MU_R[pairs.bodies.magnetic[pairs.point, None]]
        (outer, _, mu_outer), (_, strike, mu_strike), (inner, _, mu_inner) = _layers_of(a, body, mu, True)
        contrast = (
            np.abs(np.log(outer / inner)) + np.abs(np.log(mu_outer / mu_inner)) + (strike > 0) * np.log(mu_strike)
        )
        depth = a.depth_um / depth_of_penetration(outer, frequency, mu_outer)
        least, most = np.minimum(depth[:, :-1], depth[:, 1:]), np.maximum(depth[:, :-1], depth[:, 1:])
        swings = (most > SWINGS[0]) & (least < SWINGS[1])
        return np.where(swings, OVERSHOOT * contrast, 0.0)

    def sees(self, candidates: Candidates) -> Array:
        """Depth of penetration [um] in what lies outermost; NaN if the frequency is not known."""
        if not self.frequencies:
            return np.full(len(candidates), ALL)
        if len(self.frequencies) > 1:
            return np.full(len(candidates), np.nan)
        return depth_of_penetration(np.full(len(candidates), self.read), self.frequencies[0])


def strike_um(pairs: Candidates) -> Array:
    """Thickness [um] of the strike under a skin all over, (n,)."""
    return np.where(pairs.covered & (pairs.skin >= 0), pairs.layers.strike_um[pairs.skin], 0.0)


def _layers_of(a: Along, body: Array, mu: Array, measured: bool) -> list[Layer]:
    """Layers from the surface inwards: skin, face or wall, strike, and all below; without measured sizes it is thick.

    `body`, `mu` : conductivity and permeability of bodies, (pairs, 1).
    """
    pairs, layers, strike = a.pairs, a.pairs.layers, strike_um(a.pairs)[:, None]
    skin = pairs.skin[:, None]
    under = layers.strike[skin]
    outside = pairs.faced[:, None]
    inside = pairs.at(Place.INSIDE)[:, None] & (skin >= 0)
    sigma = 100 / layers.resistivity
    rest = np.full((1, 1), np.inf)
    if measured:  # otherwise nobody knows where the back is
        rest = np.maximum(pairs.form.thickness_um - a.depth_um - strike, 1.0)
    return [
        (np.where(outside, sigma[skin], body), a.depth_um, np.where(outside, layers.mu_r[skin], mu)),
        (np.where(strike > 0, sigma[under], body), strike, np.where(strike > 0, layers.mu_r[under], mu)),
        (np.where(inside, sigma[skin], body), rest, np.where(inside, layers.mu_r[skin], mu)),
    ]
