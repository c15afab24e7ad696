"""Functions of probability agree with scipy, which computes them in other ways."""

import math

import numpy as np
import pytest
from scipy import special as scipy_special

from alloysolve import special

NORMAL = np.concatenate([np.linspace(-37, 37, 4001), [0.0, -1e-9, 1e-9, 8.3, -8.3]])
TAILS = np.concatenate([10.0 ** -np.arange(1, 300), np.linspace(0.001, 0.999, 999), 1 - 10.0 ** -np.arange(1, 15)])


def near(found, expected, relative):
    np.testing.assert_allclose(found, expected, rtol=relative, atol=0)


def test_erfcx():
    x = np.concatenate([np.linspace(-20, 30, 5001), 10.0 ** np.arange(2, 30)])
    near(special.erfcx(x), scipy_special.erfcx(x), 1e-13)


def test_normal_distribution_far_into_both_tails():
    near(special.ndtr(NORMAL), scipy_special.ndtr(NORMAL), 1e-12)
    assert special.ndtr([-np.inf, np.inf]).tolist() == [0.0, 1.0]


def test_normal_score():
    found = special.ndtri(TAILS)
    np.testing.assert_allclose(found, scipy_special.ndtri(TAILS), rtol=1e-12, atol=1e-15)
    assert special.ndtri([0.0, 0.5, 1.0]).tolist() == pytest.approx([-np.inf, 0.0, np.inf], abs=1e-15)


def test_logarithm_of_the_gamma_function():
    a = np.concatenate([np.linspace(0.05, 40, 800), 10.0 ** np.arange(2, 7)])
    np.testing.assert_allclose(special.gammaln(a), scipy_special.gammaln(a), rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("a", [0.5, 0.7, 1.0, 1.5, 2.0, 2.25, 3.5, 5.0, 7.5, 10.0, 15.0, 20.0])
def test_incomplete_gamma_function(a):
    x = np.concatenate([[0.0], np.linspace(1e-6, 60, 3001), np.linspace(60, 600, 100)])
    for some in (x, *np.array_split(x, 20)):  # the number of terms goes by the least of them
        for shape in (a, np.full(len(some), a)):  # a whole number of degrees of freedom has a sum of its own
            near(special.gammaincc(shape, some), scipy_special.gammaincc(shape, some), 1e-12)


def test_incomplete_gamma_function_of_many_shapes():
    a, x = np.array([[0.5], [1.75], [4.0]]), np.array([0.2, 5.0, 40.0])
    near(special.gammaincc(a, x), scipy_special.gammaincc(a, x), 1e-12)


@pytest.mark.parametrize("dof", [1.0, 1.37, 2.0, 3.0, 4.6, 9.0, 30.0, 250.0, 1e4, 9.9e5])
def test_student(dof):
    t = np.linspace(-12, 12, 999)
    np.testing.assert_allclose(special.stdtr(dof, t), scipy_special.stdtr(dof, t), rtol=0, atol=1e-10)
    for p in (0.6, 0.975):
        near(special.stdtrit(dof, p), scipy_special.stdtrit(dof, p), 1e-9)
    near(special.stdtrit(dof, 0.9995), scipy_special.stdtrit(dof, 0.9995), 1e-7)


def test_gauss_rule_of_gamma_is_that_of_scipy():
    n, order = 12, 1.0
    k = np.arange(n)
    node, weight = special.gauss_rule(2 * k + 1 + order, np.sqrt((k[1:]) * (k[1:] + order)))
    expected, share = scipy_special.roots_genlaguerre(n, order)
    near(node, expected, 1e-12)
    np.testing.assert_allclose(weight, share / math.gamma(1 + order), rtol=0, atol=1e-14)


@pytest.mark.parametrize("nodes", [5, 16, 48])
def test_legendre_rule_between_0_and_1(nodes):
    node, weight = special.legendre_rule(nodes)
    expected, share = scipy_special.roots_legendre(nodes)
    np.testing.assert_allclose(2 * node - 1, expected, rtol=0, atol=1e-14)
    np.testing.assert_allclose(2 * weight, share, rtol=0, atol=1e-14)
