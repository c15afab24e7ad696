"""One body, bare and under nickel, read by a meter of unknown frequency: the integral from published formulae alone.

Nothing of the package is used for what is expected but the numbers of the body, of nickel and of the prior.
"""

import numpy as np
import pytest
from scipy import stats

from alloysolve.integral.believed import Believed
from alloysolve.integral.evidence import Evidence
from alloysolve.integral.solver import Solver
from alloysolve.pieces.constructions import HOMOGENEOUS, PLATED
from alloysolve.pieces.shape import Form
from alloysolve.readings.error_model import VolumeLikelihood
from alloysolve.readings.reading import Circumstances
from alloysolve.readings.registry import Conductivity
from tests.bodies_of import LAYERS, SKIN_PARTS, TABLES, published

BODY, NICKEL = published("gilding metal 95/5"), LAYERS.number("Ni")
DIAMETER, HEIGHT = 25.5, 1.96  # mm
HERTZ = (10e3, 100e3, 1e6)  # of a meter of which nothing is known, equally likely
U = 0.01  # relative, of the meter
MU_0 = 4e-7 * np.pi
POINTS = 2000
ONE = np.array([1.0])


def read_by_meter(sigma, um, mu, hertz):
    """Conductivity [MS/m] that a meter shows on a plate on a thick body, from wave impedances.

    Z = sqrt(i omega mu / sigma) of each, transferred through the plate by tan of a line:
    Z_in = Z (Z_below + Z tanh(g d)) / (Z + Z_below tanh(g d)), g = sqrt(i omega mu sigma).
    """
    omega = 2 * np.pi * hertz
    of_skin, of_body = (np.sqrt(1j * omega * MU_0 * m / (1e6 * s)) for m, s in zip(mu, sigma, strict=True))
    tan = np.tanh(np.sqrt(1j * omega * MU_0 * mu[0] * 1e6 * sigma[0]) * um * 1e-6)
    whole = of_skin * (of_body + of_skin * tan) / (of_skin + of_body * tan)
    return omega * MU_0 / (2 * whole.real**2) / 1e6


def scatter_of_meter(sigma, um, mu, hertz):
    """2 % on anything thick, and 9 % for each 100 of (mu - 1) d [um] times the depth in the body [mm], at most 50 %."""
    deep = [1e3 / np.sqrt(np.pi * hertz * MU_0 * m * s) for m, s in ((mu[0], sigma[0]), (1.0, sigma[1]))]  # um
    drawn = 0.09 * (mu[0] - 1) * np.minimum(um, deep[0]) / 100 * deep[1] / 1000
    return np.hypot(0.02, np.minimum(drawn, 0.5))


def density_of_error(r, u, model):
    """Normal error of `u` and Student's t with 4 degrees of freedom and deviation `model`, by a plain sum over t."""
    e = np.linspace(-7, 7, 281)[:, None]
    normal = stats.norm.pdf(e) * (e[1] - e[0])
    return (normal * stats.t.pdf((r - u * e) * 2**0.5 / model, 4) * 2**0.5 / model).sum(axis=0)


def likelihood(um, evidence, read):
    """Density of both readings of the body under `um` of nickel."""
    v, sigma = BODY.v[0], (100 / LAYERS.resistivity[NICKEL], 100 / BODY.resistivity[0])
    mu, t = (LAYERS.mu_r[NICKEL], 1.0), 2 * um / 1000
    core = (DIAMETER - t) ** 2 * (HEIGHT - t) / (DIAMETER**2 * HEIGHT)
    whole = 1 / (core / v + (1 - core) / LAYERS.v[NICKEL])
    weighing, found = evidence.volume, 0.0
    for hertz in HERTZ:
        model = np.hypot(BODY.u_resistivity[0], scatter_of_meter(sigma, um, mu, hertz))
        found = found + density_of_error(np.log(read / read_by_meter(sigma, um, mu, hertz)), U, model) / len(HERTZ)
    return found * density_of_error(weighing.v - whole, weighing.u, BODY.sigma[0] * weighing.v)


def evidence_of(read):
    """A coarse weighing as dense as the body, and a meter."""
    form, v = Form("disc", (DIAMETER, HEIGHT), measured=False), BODY.v[0]
    meter = Conductivity(f"{read} MS/m", "1 %").observed("conductivity", Circumstances(TABLES, form))
    return Evidence(VolumeLikelihood(v, 0.01 * v, 0.0), (meter,), form, LAYERS)


@pytest.mark.parametrize("off", [1.0, 1.06, 0.9])  # read over expected
def test_a_bare_body_read_at_an_unknown_frequency(off):
    read = off * 100 / BODY.resistivity[0]
    evidence = evidence_of(read)
    rows = Solver(BODY, evidence).rows([Believed(HOMOGENEOUS, -1, ONE)])
    assert rows.weight.sum() == pytest.approx(float(likelihood(np.zeros(1), evidence, read)[0]), rel=0.015)


@pytest.mark.parametrize("um", [1.0, 8.0, 60.0])  # as read at 100 kHz
@pytest.mark.parametrize("off", [1.0, 1.06])  # read over expected
def test_nickel_on_a_body_read_at_an_unknown_frequency(um, off):
    sigma = (100 / LAYERS.resistivity[NICKEL], 100 / BODY.resistivity[0])
    read = off * float(read_by_meter(sigma, um, (LAYERS.mu_r[NICKEL], 1.0), 100e3))
    evidence = evidence_of(read)
    x = np.linspace(0, 1, 200_001)
    core = (1 - 2 * x / DIAMETER) ** 2 * (1 - 2 * x / HEIGHT)
    thickest = 1000 * float(np.interp(-0.1, -core, x))  # a tenth of the volume is left as a body
    even = (np.arange(POINTS) + 0.5) / POINTS
    parts = [(share, low, min(high, thickest)) for share, low, high in SKIN_PARTS]
    expected = sum(share * likelihood(low * (high / low) ** even, evidence, read).mean() for share, low, high in parts)
    rows = Solver(BODY, evidence).rows([Believed(PLATED, NICKEL, ONE, SKIN_PARTS)])
    assert rows.weight.sum() == pytest.approx(expected, rel=0.02)
