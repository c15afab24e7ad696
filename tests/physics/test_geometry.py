import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from alloysolve.physics import geometry as g

LENGTH = st.floats(0.1, 100)


@pytest.mark.parametrize("shape", list(g.SHAPES))
def test_surface_is_what_a_thin_layer_adds(shape: str) -> None:
    """Area = (V(with a layer) - V) / thickness; a layer narrows a bore."""
    function, names = g.SHAPES[shape]
    lengths = [20.0, 12.0, 7.0][: len(names)]
    d = 1e-5
    grown = [x - 2 * d if "inner" in n else x + 2 * d for x, n in zip(lengths, names, strict=True)]
    V, A = function(*lengths)
    assert float((function(*grown)[0] - V) / d) == pytest.approx(float(A), rel=1e-4)


@given(LENGTH, LENGTH, st.floats(0.01, 0.99))
def test_a_bored_rod_is_a_tube(D: float, length: float, share: float) -> None:
    bore = share * D
    V, A = g.tube(D, bore, length)
    assert float(V) == pytest.approx(float(g.rod(D, length)[0] - g.rod(bore, length)[0]), rel=1e-9)
    walls = np.pi * (D + bore) * length
    ends = 2 * np.pi / 4 * (D**2 - bore**2)
    assert float(A) == pytest.approx(walls + ends, rel=1e-9)


def test_bar() -> None:
    V, A = g.bar(50.0, 28.0, 2.6)
    assert (float(V), float(A)) == (pytest.approx(3640.0), pytest.approx(2 * (1400 + 130 + 72.8)))


def test_ball() -> None:
    assert float(g.sphere(20.0)[0]) == pytest.approx(4188.79, abs=0.01)  # 4/3 pi 10^3
    assert float(g.sphere_diameter(g.sphere(20.0)[0])) == pytest.approx(20.0)


@given(st.floats(1, 1e5), st.floats(2, 40))
def test_disc_of_proportion_has_the_volume_and_the_proportion(V: float, ratio: float) -> None:
    d, A = g.disc_of_proportion(V, ratio)
    plain = g.disc(d, d / ratio)
    assert float(plain[0]) == pytest.approx(V, rel=1e-9)
    assert float(plain[1]) == pytest.approx(float(A), rel=1e-12)
