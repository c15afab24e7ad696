"""Readings asked along the free parameter: against the direct formula, and bounds between steps against fine steps."""

from dataclasses import replace
from functools import partial
from types import SimpleNamespace

import numpy as np
import pytest

from alloysolve.inference.observe import circumstances_of
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.integral.evidence import Evidence
from alloysolve.physics.eddy import apparent_conductivity, depth_of_penetration, model_uncertainty
from alloysolve.physics.fluorescence import layered_ratio
from alloysolve.pieces.candidates import Along, Candidates
from alloysolve.pieces.constructions import CLAD, CORED, ENRICHED, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.readings.layers_metered import BODY_MU_R, THICK, U_BODY_MU_R, UNSEEN
from alloysolve.readings.registry import Conductivity, Magnet, Resonance, SlidingMagnet, SoundSpeed, SurfaceComposition
from alloysolve.readings.x_rays.along_skins import LOCAL_STEP, LOCAL_STEPS
from tests.bodies_of import ALL, LAYERS, TABLES

FORM = Form("disc", (38.0, 2.5), True, 26.9)
SKINS = [
    LAYERS.number(s) for s in ("Ag", "Au", "Ni", "Sn", "silver 925", "brass", "gold 585", "Ag/Ni", "Au/Cu", "Rh/Ni")
]
LOW, HIGH = np.log(0.05), np.log(2000.0)
MISSED = 1e-3  # share of windows that may be bounded too low
COUNTS = 1e-6  # of the largest density, above which a bound that is too low counts


def observed(reading):
    return reading.observed("reading", circumstances_of(Piece(magnet="none"), Settings(), TABLES, FORM))


def pairs_of(n, seed, construction=PLATED):
    rng = np.random.default_rng(seed)
    skin = np.sort(rng.choice(SKINS, n))
    return Candidates(ALL, LAYERS, FORM, np.full(n, construction), rng.integers(0, len(ALL.v), n), skin, np.ones(n))


def windows(n, seed, low=LOW, high=HIGH):
    """Three rising values of the parameter: windows from 2 % wide to all that there is."""
    rng = np.random.default_rng(seed)
    middle, half = rng.uniform(low, high, n), np.exp(rng.uniform(np.log(0.01), np.log((high - low) / 2), n))
    start = np.clip(middle - half, low, high - 0.01)
    stop = np.maximum(np.minimum(middle + half, high), start + 0.01)
    return np.exp(start[:, None] + (stop - start)[:, None] * np.array([0.0, 0.5, 1.0]))


def missed(o, pairs, parameter, fine=33):
    """Of the windows in which the density counts, the share in which it rises more than 5 % above its bound."""
    bound, log = o.most(Along(pairs, parameter)), np.log(parameter)
    inner = np.exp(log[:, :-1, None] + np.diff(log)[:, :, None] * np.linspace(0, 1, fine))
    found = o.along(Along(pairs, inner.reshape(len(pairs), -1))).reshape(*bound.shape, fine).max(axis=2)
    counts = found > COUNTS * found.max()
    assert counts.sum() > 100
    return (found > 1.05 * bound)[counts].mean()


XRAY = observed(SurfaceComposition("Ag 96.2 Cu 2.6 Zn 1.2"))
UNEVEN = replace(XRAY, uneven=True, _bulk={}, _materials={}, _shares={})
ON_GOLD = observed(SurfaceComposition("Au 99.8 Ag 0.1 Cu 0.1"))


@pytest.mark.parametrize("construction", [PLATED, CLAD, ENRICHED])
def test_shares_printed_through_a_skin_are_those_of_the_layers(construction):
    n, lines = 300, XRAY.lines
    pairs = pairs_of(n, 1, construction)
    parameter = windows(n, 2) if construction != CLAD else windows(n, 2, np.log(0.001), np.log(0.9))
    um = Along(pairs, parameter).depth_um
    through = XRAY._through(pairs, um, XRAY.correction)
    square = np.full((len(ALL.law.symbols), len(lines.symbols)), np.nan)
    square[:] = lines.into
    full = np.full((len(ALL.law.symbols),) * 2, np.nan)
    full[:, lines.own] = square
    for step in range(3):
        layers = [(LAYERS.w[pairs.skin], um[:, step] * 1e-4 / LAYERS.v[pairs.skin])]
        strike = LAYERS.strike[pairs.skin]
        thick = np.where((strike >= 0) & pairs.covered, LAYERS.strike_um[pairs.skin], 0.0)
        layers.append((LAYERS.w[strike], thick * 1e-4 / LAYERS.v[strike]))
        iron, fcc = lines.iron
        core = ALL.w[pairs.point].copy()
        core[:, iron] += core[:, fcc]
        core[:, fcc] = 0.0
        counted = layered_ratio(layers, core, full)[:, lines.own[XRAY.columns]] * XRAY.correction
        expected = 100 * counted / counted.sum(axis=1, keepdims=True)
        for k in range(len(XRAY.known)):
            found = through.printed(k, np.arange(n))[0][:, step]
            assert found == pytest.approx(expected[:, k], abs=1e-6)


def test_the_change_of_a_share_is_its_slope():
    pairs, step = pairs_of(200, 3), 1e-4
    um = np.exp(np.random.default_rng(4).uniform(LOW, HIGH, (200, 1))) * np.exp(step * np.array([-1.0, 0.0, 1.0]))
    through = XRAY._through(pairs, um, XRAY.correction)
    for k in (0, 1, 2):
        p, slope = through.printed(k, np.arange(200))
        assert slope[:, 1] == pytest.approx((p[:, 2] - p[:, 0]) / (2 * step), abs=1e-3)


def test_several_steps_of_a_pair_are_as_many_candidates():
    for o in (XRAY, UNEVEN, ON_GOLD):
        a = Along(pairs_of(400, 5), windows(400, 6))
        assert o.along(a).ravel() == pytest.approx(o.pdf(a.candidates), rel=1e-6, abs=1e-12 * o.peak)


def test_a_place_on_an_uneven_skin_is_a_mean_over_thicknesses():
    """Looked up in steps of a third, one pair may be off by a factor of two, all together are not."""
    pairs = pairs_of(1500, 7)
    um = np.exp(np.random.default_rng(8).uniform(np.log(3.0), np.log(100.0), 1500))
    found = UNEVEN.along(Along(pairs, um[:, None]))[:, 0]
    half = LOCAL_STEP * (LOCAL_STEPS + 0.5)
    local = um[:, None] * np.exp(half * (2 * (np.arange(520) + 0.5) / 520 - 1))
    expected = UNEVEN._density(pairs, local).mean(axis=1)
    counts = expected > 1e-3 * expected.max()
    assert counts.sum() > 30
    assert found[counts] == pytest.approx(expected[counts], rel=1.2)
    assert np.log(found[counts] / expected[counts]).mean() == pytest.approx(0, abs=0.1)


@pytest.mark.parametrize("o", [XRAY, UNEVEN, ON_GOLD], ids=["silver", "uneven", "gold"])
@pytest.mark.parametrize("construction", [PLATED, CLAD])
def test_x_rays_are_bounded_between_steps(o, construction):
    ends = (LOW, HIGH) if construction == PLATED else (np.log(0.001), np.log(0.9))
    assert missed(o, pairs_of(6000, 9, construction), windows(6000, 10, *ends)) <= MISSED


def test_gold_rules_out_a_print_without_gold_whatever_is_below():
    """At 20 um, gold is 95 % of what is printed and more; a limit of 0.1 % forbids it."""
    brass = np.flatnonzero(ALL.w[:, [ALL.law.index[s] for s in ("Cu", "Zn")]].min(axis=1) > 0)[:1]
    gold = replace(pairs_of(1, 0), skin=np.array([LAYERS.number("Au")]), point=brass)
    assert XRAY._by_skin(Along(gold, np.array([[20.0, 30.0]])))[0, 0] < 1e-4 * XRAY.peak
    assert XRAY._by_skin(Along(gold, np.array([[0.1, 30.0]])))[0, 0] > 0.1 * XRAY.peak


def meter(frequency="", form=FORM, text="29.3 %IACS"):
    about = circumstances_of(Piece(magnet="none"), Settings(), TABLES, form)
    return Conductivity(text, frequency=frequency or None).observed("reading", about)


ENDS = {PLATED: (LOW, HIGH), CLAD: (np.log(0.001), np.log(0.9)), CORED: (np.log(0.01), np.log(0.9))}


@pytest.mark.parametrize("construction", ENDS)
@pytest.mark.parametrize("frequency", ["60 kHz", "480 kHz"])
def test_a_meter_reads_pairs_as_their_layers(construction, frequency):
    """Each step by itself, from the layers of `Candidates`, as they are written for one piece."""
    o = meter(frequency)
    a = Along(pairs_of(300, 11, construction), windows(300, 12, *ENDS[construction]))
    one, body = a.candidates, o.body_conductivity(ALL)
    mu, of_mu = BODY_MU_R[ALL.magnetic], U_BODY_MU_R[ALL.magnetic]
    layers = one.stack(body, 100 / LAYERS.resistivity), one.thickness_um, one.stack(mu, LAYERS.mu_r)
    plain = body[one.point, None], np.inf, mu[one.point, None]
    model = np.hypot(ALL.u_resistivity, of_mu)[one.point]
    value, u = apparent_conductivity(*layers, o.frequencies[0]), model_uncertainty(*layers, o.frequencies[0])
    delta = depth_of_penetration(body[one.point], o.frequencies[0], mu[one.point])
    thin = (one.depth_um <= UNSEEN * delta) & (one.thickness_um[:, 1] == 0) & (LAYERS.mu_r[one.skin] == 1)
    hidden = (construction == CORED) & (one.depth_um > THICK * delta)
    bare = (thin | hidden) & (FORM.thickness_um >= THICK * delta)
    found, scatter = (x.ravel() for x in o.predictions_along(a)[0])
    assert found == pytest.approx(np.where(bare, (body / mu)[one.point], value), rel=1e-9)
    thick = np.hypot(model, model_uncertainty(*plain, o.frequencies[0]))
    assert scatter == pytest.approx(np.where(bare, thick, np.hypot(model, u)), rel=1e-9)


@pytest.mark.parametrize("measured", [True, False])
@pytest.mark.parametrize("construction", ENDS)
@pytest.mark.parametrize("frequency", ["60 kHz", "480 kHz", ""])
def test_conductivities_are_bounded_between_steps(construction, frequency, measured):
    o = meter(frequency, replace(FORM, measured=measured))
    pairs = replace(pairs_of(4000, 13, construction), form=replace(FORM, measured=measured))
    assert missed(o, pairs, windows(4000, 14, *ENDS[construction])) <= MISSED


def test_readings_that_err_together_are_bounded_together():
    deep, shallow = replace(meter("60 kHz"), name="a"), replace(meter("480 kHz", text="33 %IACS"), name="b")
    evidence = Evidence(None, (deep, shallow), FORM, LAYERS)
    (group,) = evidence.groups
    both = SimpleNamespace(along=partial(evidence.along_of, group), most=partial(evidence.most_of, group))
    assert missed(both, pairs_of(4000, 15), windows(4000, 16)) <= MISSED
    a = Along(pairs_of(200, 17), windows(200, 18))
    assert both.along(a).ravel() == pytest.approx(evidence.pdf(a.candidates), rel=1e-9)


def tones(text="4730 Hz 7.9 kHz"):
    return Resonance(text).observed("reading", circumstances_of(Piece(magnet="none"), Settings(), TABLES, FORM))


OTHERS = {
    "tone": lambda: tones("4730 Hz"),
    "tones": tones,
    "sound": lambda: observed(SoundSpeed("3650 m/s")),
    "sliding": lambda: SlidingMagnet(0.4, known_good="silver 925").observed(
        "reading", circumstances_of(Piece(claim="silver 925"), Settings(), TABLES, FORM)
    ),
    "magnet": lambda: observed(Magnet("weak")),
    "whole": lambda: meter(text="5.9 uohm cm"),
}


@pytest.mark.parametrize("construction", ENDS)
@pytest.mark.parametrize("name", OTHERS)
def test_other_readings_are_bounded_between_steps(name, construction):
    o, pairs = OTHERS[name](), pairs_of(3000, 19, construction)
    a = Along(pairs, windows(3000, 20, *ENDS[construction]))
    assert o.along(a).ravel() == pytest.approx(o.pdf(a.candidates), rel=1e-9)
    assert missed(o, a.pairs, a.parameter, fine=17) <= MISSED
