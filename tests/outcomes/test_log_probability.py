"""Log probabilities of ranges, far beyond where the plain difference of two cdfs is 0."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import expit, log_ndtr, ndtr

from model.graph import kernel_tail, normal_tail
from model.outcomes.log_probability import log1mexp, log_interval, log_sigmoid

ENDS = np.array([-40.0, -38.5, -20.0, -8.3, -3.0, -0.5, 0.0, 0.7, 2.5, 6.0, 9.0, 25.0, 40.0])
RANGES = [(a, a + width) for a in ENDS for width in (1e-3, 0.4, 3.0, 30.0)]
IMPLEMENTATIONS = {"arrays": log_interval, "kernel": kernel_tail.log_interval}


def _by_quadrature(a: float, b: float) -> float:
    """The same integral by Gauss-Kronrod, its largest value taken out first."""
    if a + b < 0:
        a, b = -b, -a
    if a < 0:  # holds the peak
        return float(np.log(quad(lambda t: np.exp(-t * t / 2), a, min(b, 40.0), epsabs=0,
                                 points=[0.0], limit=200)[0] / np.sqrt(2 * np.pi)))  # fmt: skip
    width = min(b - a, 60.0 / max(a, 1.0))  # beyond it less than exp(-60) of the rest
    area = quad(lambda t: np.exp(-a * t - t * t / 2), 0.0, width, epsabs=0, limit=200)[0]
    return float(-a * a / 2 - np.log(np.sqrt(2 * np.pi)) + np.log(area))


@pytest.mark.parametrize("name", IMPLEMENTATIONS)
def test_ranges_agree_with_an_integral_out_to_40_sd(name):
    compute = IMPLEMENTATIONS[name]
    found = np.array([float(compute(np.float64(a), np.float64(b))) for a, b in RANGES])
    truth = np.array([_by_quadrature(a, b) for a, b in RANGES])
    # A width of 1e-3 near the mean leaves 13 digits of the difference of the two cdfs.
    assert found == pytest.approx(truth, rel=1e-11, abs=1e-11)


@pytest.mark.parametrize("name", IMPLEMENTATIONS)
def test_open_ranges_are_the_cdf_of_scipy(name):
    compute = IMPLEMENTATIONS[name]
    for z in np.concatenate([ENDS, np.linspace(-40, 40, 321)]):
        assert float(compute(np.float64(-np.inf), z)) == pytest.approx(log_ndtr(z), rel=1e-13)
        assert float(compute(z, np.float64(np.inf))) == pytest.approx(log_ndtr(-z), rel=1e-13)
    assert float(compute(np.float64(-np.inf), np.float64(np.inf))) == 0.0


def test_the_kernels_cdf_is_that_of_scipy():
    z = np.concatenate([np.linspace(-45, 45, 1801), [-30.0, np.nextafter(-30, 0), -1000.0]])
    found = np.array([kernel_tail.log_ndtr(value) for value in z])
    assert found == pytest.approx(log_ndtr(z), rel=2e-13, abs=1e-300)


def test_the_plain_difference_of_two_cdfs_fails_where_ours_does_not():
    with np.errstate(divide="ignore"):
        plain = np.array([np.log(ndtr(b) - ndtr(a)) for a, b in RANGES])
    ours = log_interval(*np.array(RANGES).T)
    is_lost = ~np.isclose(plain, ours, rtol=1e-6)
    assert np.isfinite(ours).all()
    assert is_lost.sum() > 15
    assert np.isneginf(plain[[a >= 9 for a, _ in RANGES]]).all()  # 1 - 1


def test_the_kernels_plain_probability_keeps_its_digits_until_underflow():
    for a, b in RANGES:
        if max(-b, a) < 30:
            found = normal_tail.between(
                a, normal_tail.tail_and_density(a)[0], b, normal_tail.tail_and_density(b)[0]
            )
            assert np.log(found) == pytest.approx(_by_quadrature(a, b), rel=1e-10, abs=1e-10)
    assert normal_tail.between(-np.inf, 0.0, np.inf, 0.0) == 1.0


def test_an_empty_range_is_next_to_impossible_but_finite():
    assert -np.inf < float(log_interval(np.float64(2.0), np.float64(2.0))) < -600
    assert -np.inf < kernel_tail.log_interval(2.0, 2.0) < -600


def test_log1mexp_keeps_its_digits_at_both_ends():
    log_p = np.array([-1e-15, -1e-8, -0.1, np.log(0.5), -1.0, -30.0, -800.0])
    far = -np.exp(-30.0) - np.exp(-60.0) / 2
    near, middle = [np.log(1e-15), np.log(1e-8) - 5e-9], np.log(1 - np.exp([-0.1, -1.0]))
    exact = np.array([*near, middle[0], np.log(0.5), middle[1], far, 0.0])
    assert log1mexp(log_p) == pytest.approx(exact, rel=1e-14, abs=1e-300)
    assert [kernel_tail.log1mexp(p) for p in log_p] == pytest.approx(exact, rel=1e-14, abs=1e-300)
    with np.errstate(divide="ignore"):
        assert np.isneginf(np.log(1 - np.exp(-1e-17)))  # what the plain formula makes of it
    assert np.isfinite(log1mexp(np.array([-1e-17]))).all()


def test_log_sigmoid_does_not_overflow():
    logit = np.array([-800.0, -40.0, -1.0, 0.0, 1.0, 40.0, 800.0])
    near = slice(1, 6)
    for found in (log_sigmoid(logit), np.array([kernel_tail.log_sigmoid(x) for x in logit])):
        assert found[near] == pytest.approx(np.log(expit(logit[near])), rel=1e-13)
        assert (found[0], found[-1]) == (-800.0, 0.0)
    with pytest.raises(FloatingPointError), np.errstate(over="raise"):
        np.log(1 / (1 + np.exp(800.0 * np.ones(1))))
