"""The normal tail from one exponential, against SciPy's own."""

import numpy as np
import pytest
from scipy.special import log_ndtr, ndtr
from scipy.stats import norm

from model.graph.normal_tail import between, tail_and_density

ENDS = np.concatenate([np.linspace(-37, 37, 2961), [0.0, 0.66, 0.67, -5.65, 5.66]])
RELATIVE = 5e-13
"""The exponential of z^2/2 loses that many digits 37 standard deviations out."""


def test_tail_and_density_agree_with_scipy():
    """SciPy 1: ``scipy.special.log_ndtr``, ``scipy.stats.norm.pdf``."""
    found = np.array([tail_and_density(z) for z in ENDS])
    np.testing.assert_allclose(found[:, 0], np.exp(log_ndtr(-np.abs(ENDS))), rtol=RELATIVE)
    np.testing.assert_allclose(found[:, 1], norm.pdf(ENDS), rtol=RELATIVE)


@pytest.mark.parametrize("z", [np.inf, -np.inf])
def test_nothing_is_left_beyond_an_infinite_end(z):
    assert tail_and_density(z) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("a", "b"),
    [(-np.inf, -3.0), (-2.0, 1.5), (0.0, 0.3), (4.0, 4.01), (20.0, 21.0), (30.0, np.inf)],
)
def test_a_range_keeps_its_digits(a, b):
    """Against SciPy's ``ndtr`` on the side of 0 where it is small."""
    low, high = (-b, -a) if a >= 0 else (a, b)
    expected = ndtr(high) - ndtr(low)
    found = between(a, tail_and_density(a)[0], b, tail_and_density(b)[0])
    assert found == pytest.approx(expected, rel=1e-12)
